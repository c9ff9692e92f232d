"""A million things that nobody should send: nothing raises, nothing hangs, nothing of others is reached.

`pytest tests/fuzz -m fuzz -s -n 0` prints what was tried and how fast; `--fuzz-seed`, `--fuzz-inputs` and `--fuzz-seconds` say
which and how many. The usual run tries a few hundred of each from a fixed seed.
"""

import os
import random
import re
import resource
import signal
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from unittest import mock

import pytest
from pydantic import ValidationError

from bot.cli import main
from bot.pictures import PDF, PNG, draw
from bot.pictures.sheets import (
    Board,
    BoardItem,
    BoardRow,
    CardItem,
    CardLine,
    Chapter,
    CheckGroup,
    Mark,
    PocketCard,
    Section,
    ServiceRecord,
    TripSheet,
)
from bot.post import Post
from bot.render.markup import html, parts, plain
from bot.settings import Settings
from bot.understand.in_passing import understand_question
from bot.understand.intents import dump, load
from bot.understand.reader import understand
from store.engine import Store
from store.exchange import archive
from store.exchange.archive import ArchiveError
from store.exchange.logbook import LogFileError, read_log
from tests.understand.test_total import INTENTS, TODAY
from tests.wires.bot_api_html import parse_html

from . import inputs
from .world import World

ALARM_S = 20.0
"""An input that takes more processor time than this hangs, and is ended."""
MEMORY_MB = 400
"""By which the process may grow over all inputs of a kind."""


class HangsError(BaseException):
    """Not to be caught by what is tried."""


@dataclass(frozen=True)
class Target:
    """What is tried: one call makes an input of the dice and tries it, and returns it to be shown if it was the slowest."""

    name: str
    attempt: Callable[[random.Random], object]
    most_ms: float
    """Processor time that any single input may take."""
    inputs: int
    """In a run of a million."""
    few: int = 200
    """In the usual run."""


def _reader(dice: random.Random) -> str:
    said = inputs.message(dice)
    context = inputs.context(dice)
    assert type(understand(said, TODAY, context)) in INTENTS
    return said


def _question(dice: random.Random) -> str:
    said = inputs.message(dice)
    assert type(understand_question(said, TODAY)) in INTENTS
    return said


def _long(dice: random.Random) -> str:
    said = inputs.long(dice)
    assert type(understand(said, TODAY)) in INTENTS
    return said


def _button(dice: random.Random) -> object:
    row = inputs.button(dice)
    with suppress(ValueError):
        read = load(row)
        assert load(dump(read)) == read or "nan" in repr(row)
    return row


def _log(dice: random.Random) -> object:
    name, content = inputs.log(dice)
    with suppress(LogFileError):
        read_log(name, content)
    return content


def _archive(dice: random.Random) -> bytes:
    content = inputs.archive(dice)
    archive.is_archive(content)
    with suppress(ArchiveError):
        assert archive.load(archive.dump(archive.load(content)))
    return content


def _settings(dice: random.Random) -> object:
    told = inputs.surroundings(dice)
    with mock.patch.dict(os.environ, told), suppress(ValidationError):
        Settings()
    return told


def _markup(dice: random.Random) -> object:
    lines, cautions, most = inputs.lines(dice)
    for part in parts(Post(key="k", first=lines[0], lines=tuple(lines[1:]), cautions=cautions), most):
        read = parse_html(html(part))
        assert read.text == plain(part)
        assert {e["type"] for e in read.entities} <= {"bold", "italic"}
    return lines


def _picture(dice: random.Random) -> object:
    cell = lambda: inputs.cell(dice)  # noqa: E731
    some = lambda: range(dice.randint(0, 3))  # noqa: E731

    def row() -> BoardRow:
        return BoardRow(
            mark=dice.choice(list(Mark)),
            task=cell(),
            share=inputs.share(dice),
            share_with_trip=inputs.share(dice),
            counted=cell(),
            when=cell(),
            span=cell(),
        )

    def line() -> CardLine:
        return CardLine(
            part=cell()[:80],
            put=cell()[:80],
            bare=dice.random() < 0.5,
            how_much=cell()[:40],
            never=cell()[:80],
            gas=dice.random() < 0.5,
        )

    def items() -> tuple[BoardItem, ...]:
        return tuple(
            BoardItem(name=cell(), rows=tuple(row() for _ in some()), fine=dice.choice((0, -1, 10**30)))
            for _ in some()
        )

    number = dice.choice((1, 0, -3, 10**30))
    table = Section(
        title=cell(), columns=("Date", cell()), rows=tuple((cell(), cell()) for _ in some()), empty=cell()
    )
    chapter = Chapter(title=cell(), facts=((cell(), cell()),), sections=(table,))
    sheet = dice.choice(
        (
            lambda: Board(
                locker=cell(),
                on=cell(),
                first=cell(),
                trip=cell(),
                items=items(),
                notes=(cell(),),
                page=number,
                pages=number,
                dark=dice.random() < 0.5,
            ),
            lambda: PocketCard(
                locker=cell(),
                on=cell(),
                items=tuple(CardItem(name=cell()[:80], lines=tuple(line() for _ in some())) for _ in some()),
                cautions=(cell()[:80],),
            ),
            lambda: ServiceRecord(
                title=cell(), on=cell(), summary=((cell(), cell()),), chapters=(chapter,), notes=(cell(),)
            ),
            lambda: TripSheet(
                locker=cell(),
                on=cell(),
                trip=cell(),
                groups=(CheckGroup(title=cell(), boxes=tuple(cell() for _ in some()), empty=cell()),),
            ),
        )
    )()
    assert draw(sheet, dice.choice((PNG, PDF)))
    return sheet


TARGETS = (
    Target("messages", _reader, 1000, 30_000, 120),
    Target("questions", _question, 1000, 15_000, 60),
    Target("messages of full length", _long, 1000, 300, 4),
    Target("buttons", _button, 100, 600_000, 1000),
    Target("dive logs", _log, 500, 130_000, 500),
    Target("files of all data", _archive, 500, 40_000, 300),
    Target("settings", _settings, 500, 1_000, 25),
    Target("markup", _markup, 500, 183_640, 500),
    Target("pictures and papers", _picture, 8000, 60, 2),
)
IN_ALL = 1_000_000
"""The inputs of all targets, of which `--fuzz-inputs` takes a part or a multiple."""


def _on_alarm(*_: object) -> None:
    raise HangsError


@contextmanager
def _alarm() -> Iterator[None]:
    """Raise in whatever runs too long; the pattern engine looks for signals too."""
    before = signal.signal(signal.SIGPROF, _on_alarm)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)


def _memory_mb() -> float:
    """Return the most memory the process ever held."""
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most / (1e6 if sys.platform == "darwin" else 1e3)


@dataclass(frozen=True)
class Tried:
    """What was seen of one target; `slowest` shows the slowest input."""

    name: str
    inputs: int
    seconds: float
    """Of processor time."""
    worst_ms: float
    slowest: str

    def __str__(self) -> str:
        rate = self.inputs / max(self.seconds, 1e-9)
        return f"{self.name:24}{self.inputs:>10,} inputs{self.seconds:9.1f} s{rate:>9,.0f}/s   slowest {self.worst_ms:7.1f} ms  {self.slowest}"


def fuzz(target: Target, seed: int, most: int, seconds: float = 1e9) -> Tried:
    """Try `most` inputs, or as many as go into the seconds, and return what was seen."""
    target.attempt(random.Random("first"))  # what is loaded when it is first used is no part of an input
    began, worst_ms, slowest, held = time.process_time(), 0.0, "", _memory_mb()
    done = 0
    with _alarm():
        while done < most and (start := time.process_time()) - began < seconds:
            dice = random.Random(f"{seed} {target.name} {done}")
            signal.setitimer(signal.ITIMER_PROF, ALARM_S)
            try:
                seen = target.attempt(dice)
            except BaseException as error:
                error.add_note(f"input {done} of seed {seed}: {target.name}")
                raise
            took_ms = (time.process_time() - start) * 1000
            if took_ms > worst_ms:
                worst_ms, slowest = took_ms, ascii(seen)[:60]
            done += 1
    tried = Tried(target.name, done, time.process_time() - began, worst_ms, slowest)
    assert done > 0
    assert worst_ms <= target.most_ms, str(tried)
    assert _memory_mb() - held <= MEMORY_MB, str(tried)
    return tried


@pytest.fixture(scope="module")
def tally() -> Iterator[list[Tried]]:
    """Collect what was tried and print it, with the sum, at the end."""
    found: list[Tried] = []
    yield found
    if found:
        print("\n\n" + "\n".join(map(str, found)))
        print(
            Tried(
                "in all",
                sum(t.inputs for t in found),
                sum(t.seconds for t in found),
                max(t.worst_ms for t in found),
                "",
            )
        )


@pytest.mark.parametrize("target", TARGETS, ids=lambda t: t.name)
def test_a_few_of_each(target):
    fuzz(target, seed=1, most=target.few)


@pytest.mark.fuzz
@pytest.mark.long
@pytest.mark.parametrize("target", TARGETS, ids=lambda t: t.name)
def test_many_of_each(target, request, tally):
    told, share = request.config.getoption, target.inputs / IN_ALL
    seconds = told("--fuzz-seconds") * share or 1e9
    tally.append(fuzz(target, told("--fuzz-seed"), max(1, round(told("--fuzz-inputs") * share)), seconds))


# --- settings at the shell ------------------------------------------------------------------------------------------------


def test_settings_that_are_refused_are_one_line_at_the_shell(capsys, database, monkeypatch):
    dice, refused = random.Random(7), 0
    for _ in range(30):
        told = inputs.surroundings(dice)
        with mock.patch.dict(os.environ, told):
            try:
                Settings()
            except ValidationError:
                refused += 1
            else:
                continue
            with pytest.raises(SystemExit) as ended:
                main(["serve", "--db", database])
        out, err = capsys.readouterr()
        assert (ended.value.code, out) == (2, "")
        assert re.fullmatch(r"rinsetank: setting RINSETANK_[A-Z_]+: [^\n]*\n", err), told
    assert refused > 8


# --- a conversation, and the locker next to it ----------------------------------------------------------------------------


def meddle(store: Store, seed: int, times: int) -> int:
    """Let somebody send and tap what they should not; return how often the bot had something to say."""
    world, dice, answered = World(store), random.Random(seed), 0
    before = world.kept()
    with _alarm():
        for n in range(times):
            signal.setitimer(signal.ITIMER_PROF, ALARM_S)
            answered += world.meddles(dice, n)
            if n % 50 == 49:
                assert world.kept() == before, f"by input {n} of seed {seed}"
    assert world.kept() == before
    return answered


def test_who_meddles_a_little_reaches_nothing_of_others(store):
    assert meddle(store, seed=1, times=40) > 20


@pytest.mark.fuzz
@pytest.mark.long
def test_who_meddles_reaches_nothing_of_others(store, request, tally):
    told, began = request.config.getoption, time.process_time()
    times = max(50, told("--fuzz-inputs") // 1000)
    answered = meddle(store, told("--fuzz-seed"), times)
    tally.append(
        Tried("taps and forgeries", times, time.process_time() - began, 0.0, f"{answered:,} answered")
    )
