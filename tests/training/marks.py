"""Reads the corpora: messages as typed, with marks inline. `tests/corpora/writers/README.md` says what each mark means."""

import re
from dataclasses import dataclass
from pathlib import Path

from bot.reading.labels import FLAGS, IDS, KINDS, SLOTS

WRITERS = Path(__file__).parent.parent / "corpora" / "writers"
_CONTEXT = re.compile(r"^\{([^{}]*)\} ?")
_CLAUSE = re.compile(r"(?:^|(?<=\s))@([a-z_]+)((?:\.[a-z]+)*)(?: |$)")
_SPAN = re.compile(r"\[([^\[\]|]+)\|([a-z]+)(?:=([a-z_]+))?\]")


@dataclass(frozen=True, slots=True)
class Span:
    start: int
    end: int
    slot: str
    id: str | None


@dataclass(frozen=True, slots=True)
class Clause:
    start: int
    end: int
    kind: str
    flags: frozenset[str]


@dataclass(frozen=True, slots=True)
class Marked:
    """One message. Places are those of `text`."""

    text: str
    context: str
    clauses: tuple[Clause, ...]
    spans: tuple[Span, ...]
    writer: str = ""
    line: int = 0

    @property
    def kinds(self) -> tuple[str, ...]:
        """Return the kinds of its clauses in order, repeated ones once."""
        return tuple(dict.fromkeys(c.kind for c in self.clauses if c.kind != "chat")) or ("chat",)


class MarkError(ValueError):
    """A line whose marks cannot be read: says what is wrong with it."""


def read_line(line: str, writer: str = "", number: int = 0) -> Marked:
    """Read one marked line. MarkError if a mark is unknown or a bracket is left over."""
    context = _CONTEXT.match(line)
    body = line[context.end() :] if context else line
    text, clauses, spans = "", [], []
    for piece, clause in _pieces(body):
        if clause is not None:
            clauses.append((len(text), *clause))
        at = 0
        for found in _SPAN.finditer(piece):
            text += piece[at : found.start()]
            spans.append(Span(len(text), len(text) + len(found[1]), found[2], _checked(found[2], found[3])))
            text += found[1]
            at = found.end()
        text += piece[at:]
    if re.search(r"[\[\]{}|@]", text):
        raise MarkError("a bracket or @ is left over")
    ends = [start for start, _, _ in clauses[1:]] + [len(text)]
    return Marked(
        text,
        context[1] if context else "",
        tuple(Clause(s, e, k, f) for (s, k, f), e in zip(clauses, ends, strict=True)),
        tuple(spans),
        writer,
        number,
    )


def _pieces(body: str) -> list[tuple[str, tuple[str, frozenset[str]] | None]]:
    found = list(_CLAUSE.finditer(body))
    if not found:
        raise MarkError("no clause")
    out: list[tuple[str, tuple[str, frozenset[str]] | None]] = [(body[: found[0].start()], None)]
    for n, clause in enumerate(found):
        flags = frozenset(filter(None, clause[2].split(".")))
        if clause[1] not in KINDS or not flags <= set(FLAGS):
            raise MarkError(f"unknown kind or flag: {clause[1]}{clause[2]}")
        end = found[n + 1].start() if n + 1 < len(found) else len(body)
        out.append((body[clause.end() : end], (clause[1], flags)))
    return out


def _checked(slot: str, id_: str | None) -> str | None:
    if slot not in SLOTS:
        raise MarkError(f"unknown slot: {slot}")
    id_ = "zone" if (slot, id_) == ("val", "place") else id_  # two words for one thing
    ids = IDS.get("item" if slot == "left" else slot)
    if id_ is not None and (ids is None or id_ not in ids):
        raise MarkError(f"unknown id: {slot}={id_}")
    return id_


def read_writer(path: Path) -> list[Marked]:
    """Read one writer's file; MarkError names the line."""
    found = []
    for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
        if not line.strip() or line.startswith("#"):
            continue
        try:
            found.append(read_line(line, path.stem, number))
        except MarkError as error:
            raise MarkError(f"{path.name}:{number}: {error}: {line[:80]}") from error
    return found


def all_writers() -> dict[str, list[Marked]]:
    """Return each writer's messages by the name of the file."""
    return {path.stem: read_writer(path) for path in sorted(WRITERS.glob("*.txt"))}
