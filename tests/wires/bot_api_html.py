"""The HTML that the Bot API reads in a message: its tags, its entities, and its refusals, word for word."""

import re
from dataclasses import dataclass, field
from typing import Any

# Bot API, "HTML style": the tags, and the kind of entity each makes.
TAGS = {
    "b": "bold",
    "strong": "bold",
    "i": "italic",
    "em": "italic",
    "u": "underline",
    "ins": "underline",
    "s": "strikethrough",
    "strike": "strikethrough",
    "del": "strikethrough",
    "code": "code",
    "pre": "pre",
    "a": "text_link",
    "tg-spoiler": "spoiler",
    "span": "spoiler",
    "blockquote": "blockquote",
}
# Bot API, "HTML style": four named entities and all numerical ones; any other name stays as it is written.
NAMED = {"lt": "<", "gt": ">", "amp": "&", "quot": '"'}

CHARACTER = re.compile(r"&(?:#x([0-9a-fA-F]{1,7})|#([0-9]{1,8})|([A-Za-z]+));?")
TAG_NAME = re.compile(r"[^\s>]*")
ATTRIBUTE = re.compile(r"""([^\s=>]+)(?:\s*=\s*(?:"([^"]*)"|'([^']*)'|([A-Za-z0-9.-]+)(?=[\s>])))?\s*""")


class HtmlRefused(ValueError):
    """The markup cannot be read; the message is the reason as the Bot API words it."""


@dataclass(frozen=True)
class Parsed:
    """A text without its markup, and the entities that the markup made."""

    text: str
    entities: list[dict[str, Any]] = field(default_factory=list)


def units(text: str) -> int:
    """Count UTF-16 code units, as every length and offset of the Bot API is counted."""
    return len(text) + sum(1 for char in text if ord(char) > 0xFFFF)


def trimmed(parsed: Parsed) -> Parsed:
    """Drop white space at both ends, as the servers do before they keep a text."""
    text = parsed.text.strip()
    cut = units(parsed.text) - units(parsed.text.lstrip())
    end = units(text)
    entities = []
    for entity in parsed.entities:
        first = max(entity["offset"] - cut, 0)
        last = min(entity["offset"] + entity["length"] - cut, end)
        if last > first:
            entities.append({**entity, "offset": first, "length": last - first})
    return Parsed(text, entities)


def parse_html(markup: str) -> Parsed:
    """Read HTML as parse_mode=HTML does, or raise HtmlRefused."""
    return _Reader(markup).read()


@dataclass
class _Open:
    """A tag that waits for its end."""

    name: str
    offset: int
    more: dict[str, str]


def _character(match: re.Match[str]) -> str:
    """Return what one written entity stands for, or the entity itself where it is unknown."""
    hexadecimal, decimal, name = match.groups()
    if name:
        return NAMED.get(name, match[0])
    code = int(hexadecimal, 16) if hexadecimal else int(decimal)
    return chr(code) if 0 < code < 0x10FFFF else match[0]


class _Reader:
    """One pass over one markup."""

    def __init__(self, markup: str) -> None:
        self.markup, self.at = markup, 0
        self.text, self.length = "", 0
        self.open: list[_Open] = []
        self.entities: list[dict[str, Any]] = []

    def read(self) -> Parsed:
        """Read to the end and return the text with its entities."""
        while self.at < len(self.markup):
            if self.markup.startswith("</", self.at):
                self._end_tag()
            elif self.markup[self.at] == "<":
                self._start_tag()
            else:
                self._plain()
        if self.open:
            raise HtmlRefused(f'Can\'t find end tag corresponding to start tag "{self.open[-1].name}"')
        return Parsed(self.text, sorted(self.entities, key=lambda e: (e["offset"], -e["length"])))

    def _plain(self) -> None:
        match = CHARACTER.match(self.markup, self.at)
        read = _character(match) if match else self.markup[self.at]
        self.at = match.end() if match else self.at + 1
        self.text += read
        self.length += units(read)

    def _byte(self, at: int) -> int:
        """Return the offset in UTF-8, which is what the refusals name."""
        return len(self.markup[:at].encode())

    def _start_tag(self) -> None:
        begin = self.at
        name, self.at = self._name(begin + 1)
        if self.at >= len(self.markup):
            raise HtmlRefused(f"Unclosed start tag at byte offset {self._byte(begin)}")
        if name not in TAGS:
            raise HtmlRefused(f'Unsupported start tag "{name}" at byte offset {self._byte(begin)}')
        attributes = self._attributes(name, begin)
        if name == "span" and attributes.get("class") != "tg-spoiler":
            raise HtmlRefused(f'Tag "span" must have class "tg-spoiler" at byte offset {self._byte(begin)}')
        more = {"url": attributes["href"]} if name == "a" and attributes.get("href") else {}
        self.open.append(_Open(name, self.length, more))

    def _name(self, begin: int) -> tuple[str, int]:
        match = TAG_NAME.match(self.markup, begin)
        return (match[0].lower(), match.end()) if match else ("", begin)

    def _attributes(self, name: str, begin: int) -> dict[str, str]:
        """Read up to the closing bracket and step over it."""
        found: dict[str, str] = {}
        self._skip_space()
        while self.at < len(self.markup) and self.markup[self.at] != ">":
            match = ATTRIBUTE.match(self.markup, self.at)
            if match is None:
                raise HtmlRefused(
                    f'Empty attribute name in the tag "{name}" at byte offset {self._byte(begin)}'
                )
            self.at = match.end()
            if self.markup.startswith("=", self.at):  # a value that never ends
                raise HtmlRefused(f"Unclosed start tag at byte offset {self._byte(begin)}")
            value = next((part for part in match.groups()[1:] if part is not None), "")
            found[match[1].lower()] = CHARACTER.sub(_character, value)
        if self.at >= len(self.markup):
            raise HtmlRefused(f'Unclosed start tag "{name}" at byte offset {self._byte(begin)}')
        self.at += 1
        return found

    def _skip_space(self) -> None:
        while self.at < len(self.markup) and self.markup[self.at].isspace():
            self.at += 1

    def _end_tag(self) -> None:
        begin = self.at
        if not self.open:
            raise HtmlRefused(f"Unexpected end tag at byte offset {self._byte(begin)}")
        name, self.at = self._name(begin + 2)
        self._skip_space()
        if not self.markup.startswith(">", self.at):
            raise HtmlRefused(f"Unclosed end tag at byte offset {self._byte(begin)}")
        self.at += 1
        opened = self.open.pop()
        if name not in {"", opened.name}:
            raise HtmlRefused(
                f"Unmatched end tag at byte offset {self._byte(begin)}, "
                f'expected "</{opened.name}>", found "</{name}>"'
            )
        self._close(opened)

    def _close(self, opened: _Open) -> None:
        length, kind = self.length - opened.offset, TAGS[opened.name]
        if length and (kind != "text_link" or opened.more):
            self.entities.append({"type": kind, "offset": opened.offset, "length": length, **opened.more})
