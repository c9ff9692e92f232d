"""A message as a terminal shows it: buttons by number, pictures as lines, files by their path."""

from collections.abc import Iterable
from pathlib import Path

from bot.render.text import with_buttons
from bot.replies import Drawing, Reply

_MOST_LINES = 80
"""A longer paper is named and not shown."""


def for_terminal(reply: Reply, paths: Iterable[str | Path]) -> str:
    """Return a message whose files were put at `paths`."""
    drawn = dict.fromkeys(f.plain for f in reply.files if isinstance(f, Drawing))
    plain = ["\n".join(("", *lines, "")) for lines in drawn if 0 < len(lines) <= _MOST_LINES]
    return "\n".join((with_buttons(reply), *plain, *(f"[file] {path}" for path in paths)))
