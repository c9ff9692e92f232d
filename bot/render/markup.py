"""A message as HTML of the two wires, split where a wire's limit asks for it. What people wrote is always escaped.

Each line carries its own tags, so that no split can cut one.
"""

from collections.abc import Callable, Iterable, Iterator
from html import escape

from bot.post import Post

CAUTION = "⚠"


def lines_of(post: Post) -> Iterator[tuple[str, str]]:
    """Return each line of a message with the tag it stands in, "" for none."""
    yield post.first, "b"
    for line in post.lines:
        yield line, ""
    for caution in post.cautions:
        yield f"{CAUTION} {caution}", "i"


def utf16(text: str) -> int:
    """Return the length of a text as Telegram counts it."""
    return len(text.encode("utf-16-le")) // 2


def parts(post: Post, most: int, size: Callable[[str], int] = utf16) -> list[list[tuple[str, str]]]:
    """Split a message into parts of at most `most`, by lines, and a line that is longer alone by words."""
    found: list[list[tuple[str, str]]] = [[]]
    used = 0
    for text, tag in _short(lines_of(post), most, size):
        needed = size(text) + (1 if found[-1] else 0)
        if found[-1] and used + needed > most:
            found.append([])
            used, needed = 0, size(text)
        found[-1].append((text, tag))
        used += needed
    return found


def _short(
    lines: Iterable[tuple[str, str]], most: int, size: Callable[[str], int]
) -> Iterator[tuple[str, str]]:
    for text, tag in lines:
        rest = text
        while size(rest) > most:
            cut = _cut(rest, most, size)
            yield rest[:cut].rstrip() or rest[:cut], tag
            rest = rest[cut:].lstrip()
        yield rest, tag


def _cut(text: str, most: int, size: Callable[[str], int]) -> int:
    """Return where to cut a text that is too long: at the last space that fits, or else where it is full."""
    low, high = 1, len(text)
    while low < high:
        middle = (low + high + 1) // 2
        low, high = (middle, high) if size(text[:middle]) <= most else (low, middle - 1)
    space = text.rfind(" ", low // 2, low)
    return space if space > 0 else low


def html(lines: Iterable[tuple[str, str]], newline: str = "\n") -> str:
    """Return lines as HTML."""
    return newline.join(f"<{tag}>{escape(text)}</{tag}>" if tag else escape(text) for text, tag in lines)


def plain(lines: Iterable[tuple[str, str]]) -> str:
    """Return lines as text, for programs that show no HTML."""
    return "\n".join(text for text, _ in lines)
