"""From whatever a chat sends to one line that keeps its letters, so that what is read has its place in what was said."""

from bot.understand.text import LONGEST, fold, visible


def one_line(raw: str) -> str:
    """Return a text in one Unicode form without control marks; a line break becomes a semicolon, as in a list."""
    return visible(
        "; ".join(line.strip().rstrip(";,") for line in fold(raw[:LONGEST]).splitlines() if line.strip())
    )
