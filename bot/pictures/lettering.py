"""The letters of all pictures and papers: one family, which a package ships, and what to do with letters it lacks."""

import atexit
import shutil
import tempfile
import unicodedata
from functools import cache
from io import BytesIO
from pathlib import Path

import pymupdf_fonts
from anyascii import anyascii
from fontTools.ttLib import TTFont

_REGULAR, _BOLD = "figo", "figbo"
_AS_IS = ("LATIN", "GREEK", "CYRILLIC", "GEORGIAN")
"""Scripts whose letters stand side by side as written. Others are joined or turned by rules that a plain drawing lacks."""

_UNUSED = {"GDEF", "GPOS", "GSUB", "DSIG"}
"""Tables of ligatures and joined scripts: to write them into a paper takes as long as all the rest, and nothing uses them."""


def font_bytes(*, bold: bool) -> bytes:
    """Return the TrueType file."""
    return bytes(pymupdf_fonts.myfont(_BOLD if bold else _REGULAR))


@cache
def font_file(*, bold: bool) -> Path:
    """Return the letters as a path, for a library that reads nothing else; it is gone when the program ends."""
    path = _folder() / ("bold.ttf" if bold else "regular.ttf")
    with TTFont(BytesIO(font_bytes(bold=bold)), recalcTimestamp=False) as font:
        for table in _UNUSED & set(font.keys()):
            del font[table]
        font.save(path)
    return path


@cache
def _folder() -> Path:
    folder = tempfile.mkdtemp(prefix="rinsetank-letters-")
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return Path(folder)


@cache
def drawable() -> frozenset[str]:
    """Return the characters that both weights draw as they are."""
    covered = set.intersection(
        *(set(TTFont(BytesIO(font_bytes(bold=bold))).getBestCmap()) for bold in (False, True))
    )
    return frozenset(c for c in map(chr, covered) if _stands_alone(c))


def _stands_alone(char: str) -> bool:
    category = unicodedata.category(char)
    if category[0] in "NPS":
        return unicodedata.bidirectional(char) not in {"R", "AL", "AN"}
    return category[0] == "L" and unicodedata.name(char, "").startswith(_AS_IS)


def legible(text: str) -> str:
    """Return the text on one line in letters that can be drawn; others are spelled in Latin letters, or left out."""
    plain = unicodedata.normalize("NFC", text)
    known = drawable()
    return " ".join("".join(c if c in known else _spelled(c) for c in plain).split())


def _spelled(char: str) -> str:
    if char.isspace():
        return " "
    if unicodedata.category(char).startswith("C"):  # it controls others, or is none
        return ""
    return "".join(c for c in anyascii(char) if c in drawable())
