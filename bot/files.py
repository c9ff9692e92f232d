"""Files in and out of a conversation where the wire is this machine: read from a path, written to a folder."""

import tempfile
from pathlib import Path

from bot.replies import Drawing, File
from store.exchange.logbook import MOST_BYTES


class FileRefusedError(Exception):
    """A file cannot be read; the message is one line that says why."""


def read_file(path: Path) -> tuple[str, bytes]:
    """Return name and content; at most one byte more than may be sent, so that a huge file is not read whole."""
    try:
        with path.open("rb") as opened:
            return path.name, opened.read(MOST_BYTES + 1)
    except OSError as error:
        raise FileRefusedError(f"cannot read {path}: {error.strerror}") from error


class Folder:
    """Where sent files are put. None: a new temporary folder, made with the first file and left to its owner."""

    def __init__(self, path: Path | None, *, anew: bool = False) -> None:
        """Write below a path; `anew`: over files of the same name."""
        self.path, self._anew = path, anew

    def save(self, file: File | Drawing) -> Path:
        """Write a file, drawn if need be, and return where it is."""
        opened = file.opened()
        if self.path is None:
            self.path = Path(tempfile.mkdtemp(prefix="rinsetank-files-"))
        self.path.mkdir(parents=True, exist_ok=True)
        name = Path(opened.name.replace("\0", "")).name
        stem, dot, end = ("file" if name in {"", ".", ".."} else name).partition(".")
        path, n = self.path / f"{stem}{dot}{end}", 1
        while path.exists() and not self._anew:
            n += 1
            path = self.path / f"{stem}-{n}{dot}{end}"
        path.write_bytes(opened.content)
        return path
