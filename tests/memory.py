"""Where the tests keep their files: in memory where the machine has a folder for that, as a disk is what they would wait for."""

import os
import shutil
from pathlib import Path

_MEMORY = Path("/dev/shm")
_ENOUGH = 4 << 30


def folder() -> Path | None:
    """Return a folder in memory with room for a run; None: where the system keeps files that do not stay."""
    if not (_MEMORY.is_dir() and os.access(_MEMORY, os.W_OK | os.X_OK)):
        return None
    return _MEMORY if shutil.disk_usage(_MEMORY).free > _ENOUGH else None
