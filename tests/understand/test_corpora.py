"""Questions and messages written by people who had not seen the code.

`first` was there while the code was written. The others were written later and measured once before anything was mended
for them (DEVELOPERS.md has those figures); since then they keep the reading from getting worse.
"""

import json
from datetime import datetime
from functools import cache
from pathlib import Path

import pytest

from bot.advice.answer import answer
from bot.understand.in_passing import understand_question
from bot.understand.intents import Ask, Several
from bot.understand.reader import understand

CORPORA = Path(__file__).parent.parent / "corpora"
TODAY = datetime.fromisoformat("2026-06-10T12:00:00+00:00").date()


def rows(name: str) -> list[dict]:
    """Read a corpus; an empty one would prove nothing."""
    found = [json.loads(line) for line in (CORPORA / name).read_text(encoding="utf-8").splitlines()]
    assert len(found) >= 80
    return found


@cache
def answered(question: str) -> tuple[str, set[str]]:
    """Return verdict and what to use."""
    intent = understand_question(question, TODAY)
    if not isinstance(intent, Ask):
        return "clarify", set()
    told = answer(intent.question)
    return told.verdict.value, {s.value for s in told.use}


def right(row: dict) -> bool:
    verdict, use = answered(row["question"])
    fits = verdict != "use" or not row["use_any"] or use & set(row["use_any"])
    return verdict in row["verdict"] and bool(fits)


@pytest.mark.parametrize(
    ("name", "share"),
    [
        ("first", 0.99),
        ("second", 0.98),
        ("third", 0.97),
        ("fourth", 0.97),
        ("hard", 0.97),
        ("kit", 0.95),
        ("fifth", 0.95),
    ],
)
def test_questions_are_answered_rightly(name, share):
    corpus = rows(f"questions_{name}.jsonl")
    wrong = [row["question"] for row in corpus if not right(row)]
    assert len(wrong) <= (1 - share) * len(corpus), wrong


@pytest.mark.parametrize("name", ["first", "second", "third", "fourth", "hard", "kit"])
def test_no_answer_is_ever_unsafe(name):
    unsafe = [
        r["question"] for r in rows(f"questions_{name}.jsonl") if answered(r["question"])[1] & set(r["never"])
    ]
    assert unsafe == []


def same(said: object, wanted: object) -> bool:
    """Compare a field: of nested ones what is named, lists as sets, numbers to what rounding may do."""
    if isinstance(wanted, dict):
        return isinstance(said, dict) and all(same(said.get(k), w) for k, w in wanted.items())
    if isinstance(wanted, list):
        return set(said or []) == set(wanted)
    if isinstance(wanted, float) and isinstance(said, int | float):
        return abs(said - wanted) < (0.006 if wanted <= 1 else 0.06)
    return said == wanted


def understood(row: dict) -> bool:
    meant = understand(row["text"], datetime.fromisoformat(row["now"]).date())
    intent = meant.of[0] if isinstance(meant, Several) else meant  # as `understand --json` shows it
    said = intent.fields()
    wanted = row.get("intent_any") or [row["intent"]]
    return intent.intent in wanted and all(same(said.get(k), w) for k, w in row["fields"].items())


@pytest.mark.parametrize(
    ("name", "share"),
    [
        *((n, 0.98) for n in ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth")),
        ("when", 0.98),
        ("when_second", 0.93),
    ],
)
def test_messages_are_understood(name, share):
    corpus = rows(f"messages_{name}.jsonl")
    wrong = [row["text"] for row in corpus if not understood(row)]
    assert len(wrong) <= (1 - share) * len(corpus), wrong


def test_nothing_is_recorded_as_done_that_was_not():
    near = [
        r
        for r in rows("messages_when_second.jsonl")
        if "record_care" not in r.get("intent_any", ["record_care"])
    ]
    assert len(near) >= 15
    recorded = [r["text"] for r in near if understand(r["text"], TODAY).intent == "record_care"]
    assert recorded == []
