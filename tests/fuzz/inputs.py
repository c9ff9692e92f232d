"""What nobody should send, made at random from a seed: texts, taps, files, settings, sheets."""

import json
import random
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any, get_args

from pydantic import BaseModel

from bot.advice.question import PartRef
from bot.settings import Settings
from bot.understand.in_passing import understand_question
from bot.understand.intents import Ask, Undo, dump
from bot.understand.message import OwnMeaning
from bot.understand.reader import Context, Offer, understand
from bot.understand.text import LONGEST
from store.vocabulary import ItemKind, Substance
from tests.store.exchange.test_archive import good
from tests.understand.test_total import INTENTS, SIGNS, TALK, TODAY, TRADE

if TYPE_CHECKING:
    from collections.abc import Callable

Dice = random.Random
HERE = Path(__file__).parent.parent
SAID = [
    line.get("text") or line["question"]
    for path in sorted((HERE / "corpora").glob("*.jsonl"))
    for line in map(json.loads, path.read_text(encoding="utf-8").splitlines())
]
LOGS = [path.read_bytes() for path in sorted((HERE / "store" / "exchange" / "data").iterdir())]
GOOD = good()
HOSTILE = (
    "<b>",
    "</b>",
    "</i><a href='tg://user?id=1'>",
    "&lt;",
    "&#x3c;b&#x3e;",
    "<!--",
    "]]>",
    "<mx-reply>",
    "@room",
    "@mara:reef.example",
    "[x](javascript:1)",
    "`",
    "```",
    "=cmd|' /C calc'!A0",
    "\u202e",
    "\u200b",
    "\x00",
    "\x1b[31m",
    "\r\n",
    "\u2028",
    "\ufeff",
    "🤿",
    "\ud800",
    "e\u0301",
    "﷽",
    "%s",
    "{0.__class__}",
    "../../x",
    "'; DROP TABLE item; --",
    "null",
    "NaN",
    "1e999",
)
_WHOLE = "\\r\\n\\t ,.;:-/'\"()+&?!#"


def text(dice: Dice, most: int = 40) -> str:
    """Return signs up to some plane, lone surrogates and controls among them."""
    top = dice.choice((0x7F, 0x250, 0x2FFF, 0x10FFFF))
    return "".join(chr(int(dice.random() * top)) for _ in range(dice.randint(0, most)))


def phrase(dice: Dice, most: int = 10) -> str:
    """Return words of the trade in no order."""
    of = (TRADE, TALK, SIGNS)
    return " ".join(dice.choice(dice.choice(of)) for _ in range(dice.randint(1, most)))


def bent(dice: Dice, said: str) -> str:
    """Return a text with a few pieces gone, doubled, swapped or put in."""
    for _ in range(dice.randint(1, 4)):
        at, to = sorted((dice.randint(0, len(said)), dice.randint(0, len(said))))
        piece = said[at:to]
        put = dice.choice(
            ("", piece * 2, piece.upper(), text(dice, 4), phrase(dice, 2), dice.choice(HOSTILE))
        )
        said = said[:at] + put + said[to:]
    return said[: LONGEST + 10]


def long(dice: Dice) -> str:
    """Return as much as one message may hold, of one thing over and over: what a slow pattern dreads."""
    unit = dice.choice(
        (phrase(dice, 3), dice.choice(SIGNS), dice.choice(TRADE), dice.choice(_WHOLE), text(dice, 3))
    )
    unit += dice.choice((" ", " ", "", "-", ", ", " and "))
    return (unit * LONGEST)[: LONGEST - dice.randint(0, 3)] + dice.choice(("", "!", "?", "x"))


def message(dice: Dice) -> str:
    """Return what somebody might write, and what nobody would."""
    roll = dice.random()
    if roll < 0.002:
        return long(dice)
    if roll < 0.4:
        return phrase(dice)
    return bent(dice, dice.choice(SAID)) if roll < 0.75 else text(dice)


_LAST = [dump(understand_question(said, TODAY)) for said in SAID[:40]]


def context(dice: Dice) -> Context:
    """Return names, own words and buttons as a diver may have them."""
    if dice.random() < 0.3:
        return Context()
    names = [dice.choice((text, phrase))(dice, 3) for _ in range(dice.randint(0, 4))]
    names += ["cylinder", "cylinder 2", "cylinder 3"][: dice.randint(0, 3)]
    own = (
        OwnMeaning(dice.choice((phrase(dice, 2), text(dice, 5))), substance=dice.choice(list(Substance))),
        OwnMeaning(phrase(dice, 2), part=PartRef(item=ItemKind.SCOOTER, part="hull_rings")),
    )
    offers = [
        Offer(dice.choice((dice.choice(names or ["x"]), phrase(dice, 4), text(dice, 6))), Undo())
        for _ in range(dice.randint(0, 3))
    ]
    last = understand_question(dice.choice(SAID), TODAY) if dice.random() < 0.1 else None
    return Context(tuple(offers), tuple(names), own[: dice.randint(0, 2)], last)


def value(dice: Dice, deep: int = 2) -> Any:
    """Return some JSON value."""
    kinds: list[Callable[[], Any]] = [
        lambda: None,
        lambda: dice.choice((True, False)),
        lambda: dice.choice((0, 1, -1, 7, 400, 10**9, 10**30, -(2**63), 2**63)),
        lambda: dice.choice((0.5, -1.5, 1e308, float("inf"), float("nan"))),
        lambda: dice.choice(
            ("2026-06-10", "2026-02-31", "0001-01-01", "10:15", "25:00", "rinse", "dry_suit")
        ),
        lambda: dice.choice((text(dice, 6), phrase(dice, 2), dice.choice(HOSTILE))),
    ]
    if deep:
        kinds.append(lambda: [value(dice, deep - 1) for _ in range(dice.randint(0, 3))])
        kinds.append(lambda: {text(dice, 3): value(dice, deep - 1) for _ in range(dice.randint(0, 3))})
    return dice.choice(kinds)()


def spoilt(dice: Dice, whole: Any, times: int = 2) -> Any:
    """Return a copy of a JSON value with a few places changed."""
    whole = json.loads(json.dumps(whole))
    for _ in range(dice.randint(1, times)):
        spot = whole
        while isinstance(spot, dict | list) and spot:
            key = dice.choice(list(spot)) if isinstance(spot, dict) else dice.randrange(len(spot))
            if not isinstance(spot[key], dict | list) or not spot[key] or dice.random() < 0.2:
                spot[key] = value(dice)
                break
            spot = spot[key]
    return whole


_BUTTONS = [dump(kind()) for kind in INTENTS if kind is not Ask] + [
    d for d in (dump(understand(said, TODAY)) for said in SAID[::9]) if d["intent"] != "misunderstood"
]


def button(dice: Dice) -> Any:
    """Return the row of a button that no longer says what it said."""
    return spoilt(dice, dice.choice(_BUTTONS), 3) if dice.random() < 0.9 else value(dice)


def forged(dice: Dice, ids: range, people: tuple[str, ...], words: tuple[str, ...]) -> dict[str, Any]:
    """Return an intent as a button could hold it, with every number and name in it picked from what is not one's own."""
    kind: type[BaseModel] = dice.choice(INTENTS)
    made = dump(kind()) if kind is not Ask else dict(dice.choice(_LAST))  # type: ignore[arg-type]
    for name in kind.model_fields:
        if name.endswith("_ids") and name != "skip_ids":
            made[name] = [dice.choice(ids) for _ in range(dice.randint(0, 2))]
        elif name == "person_id":
            made[name] = dice.choice(people)
        elif name.endswith("_id"):
            made[name] = dice.choice((*ids, None))
        elif name in {"item", "name", "part", "word", "kit"} and dice.random() < 0.5:
            made[name] = dice.choice(words) if not isinstance(made.get(name), dict) else made[name]
        elif isinstance(made.get(name), bool):
            made[name] = dice.choice((True, False))
        elif name in {"act", "what", "task", "about"}:
            made[name] = dice.choice(_choices(kind, name)) or made.get(name)
    return made


def _choices(kind: type[BaseModel], name: str) -> list[Any]:
    found: list[Any] = []
    for one in (kind.model_fields[name].annotation, *get_args(kind.model_fields[name].annotation)):
        found += [v.value for v in one] if isinstance(one, type) and hasattr(one, "__members__") else []
        found += [v for v in get_args(one) if isinstance(v, str)]
    return found or [None]


def hurt(dice: Dice, whole: bytes) -> bytes:
    """Return a file with damage."""
    content = bytearray(whole)
    for _ in range(dice.randint(1, 5)):
        at = dice.randint(0, len(content))
        cut = dice.choice((0, 1, 3, 40))
        put = dice.choice(
            (
                dice.randbytes(dice.randint(0, 4)),
                bytes(content[at : at + dice.randint(0, 60)]),
                dice.choice(HOSTILE).encode("utf-8", "surrogatepass"),
                dice.choice(
                    (b"<", b">", b"&x;", b'"', b",", b"\n", b"9" * 40, b"-", b"e9", b"<!DOCTYPE a>", b"</")
                ),
            )
        )
        content[at : at + cut] = put
    return bytes(content)


def log(dice: Dice) -> tuple[str, bytes]:
    """Return a dive log that somebody broke."""
    name = dice.choice(("a.uddf", "a.xml", "a.csv", "a.CSV", "", dice.choice(HOSTILE)))
    roll = dice.random()
    if roll < 0.8:
        return name, hurt(dice, dice.choice(LOGS))
    if roll < 0.9:
        return name, dice.randbytes(dice.randint(0, 300))
    cells = [phrase(dice, 2) for _ in range(20)]
    return name, ("date,time,kit,depth\n" + ",".join(cells) + "\n" + text(dice)).encode("utf-8", "replace")


def archive(dice: Dice) -> bytes:
    """Return a file of all data that somebody meddled with."""
    if dice.random() < 0.5:
        return json.dumps(spoilt(dice, GOOD)).encode()
    return hurt(dice, json.dumps(GOOD, ensure_ascii=False).encode())


def surroundings(dice: Dice) -> dict[str, str]:
    """Return settings of an environment; none can hold a NUL."""
    told = (
        "",
        "0",
        "-1",
        "70000",
        "nan",
        "inf",
        "1e9",
        "true",
        "no",
        "https://x",
        "open",
        "telegram:1",
        "a:b:c",
        "Europe/Berlin",
        "@a:b",
        "{}",
        "[",
        "DEBUG",
        "x" * 300,
    )
    names = [f"RINSETANK_{name}".upper() for name in Settings.model_fields]
    odd = (dice.choice(told), text(dice, 10), dice.choice(HOSTILE))
    return {
        dice.choice(names): dice.choice(odd).replace("\0", "").encode("utf-8", "replace").decode()
        for _ in range(dice.randint(1, 5))
    }


def lines(dice: Dice) -> tuple[list[str], tuple[str, ...], int]:
    """Return the lines and cautions of a message, and the most characters of a part."""

    def line() -> str:
        told = "".join(
            dice.choice((dice.choice(HOSTILE), text(dice, 8), "word ")) for _ in range(dice.randint(0, 8))
        )
        return told.encode("utf-8", "replace").decode()

    # Lone surrogates are no text to a wire, and no update brings one in: tests/bot/test_hostile.py.
    return (
        [line() for _ in range(dice.randint(1, 4))],
        tuple(line() for _ in range(dice.randint(0, 2))),
        dice.choice((8, 40, 4096)),
    )


def share(dice: Dice) -> float | None:
    """Return a number that is none."""
    return dice.choice(
        (
            None,
            0.5,
            -0.0,
            1.0,
            float("nan"),
            float("inf"),
            -float("inf"),
            -1e308,
            1e308,
            5e-324,
            dice.uniform(-9, 9),
        )
    )


def day(dice: Dice) -> Any:
    """Return some day."""
    return TODAY + timedelta(days=dice.randint(-40000, 40000))


def cell(dice: Dice) -> str:
    """Return a text for a picture: hostile, long, or a name without a place to break it."""
    return dice.choice(
        (dice.choice(HOSTILE), text(dice, 60), "W" * dice.choice((1, 200, 2000)), phrase(dice, 30), "")
    )
