"""Care told of several things in one breath: each act on what it was said of, and on nothing else."""

from datetime import date

import pytest

from bot.reading.acts import told
from bot.understand.intents import RecordCare
from bot.understand.reader import understand

TODAY = date(2026, 6, 10)


def acts(text):
    """Return task, item or part, and what was left out, of every act."""
    return {
        (a.task.value, a.part or a.item or ("everything" if a.everything else None), a.but)
        for a in told(understand(text, TODAY))
        if isinstance(a, RecordCare) and a.task
    }


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        (
            "rinsed everything but the lamp, zip waxed",
            {("rinse", "everything", ("canister light",)), ("lubricate", "dry-suit zip", ())},
        ),
        ("rinsed everything and dried it", {("rinse", "everything", ()), ("dry", "everything", ())}),
        (
            "hosed the suit and the wing, put talc on the neck seal",
            {("rinse", "suit", ()), ("rinse", "wing", ()), ("powder", "neck seal", ())},
        ),
        ("checked the torch, dried it", {("inspect", "torch", ()), ("dry", "torch", ())}),
    ],
)
def test_each_act_is_on_what_it_was_said_of(text, wanted):
    assert acts(text) == wanted


def test_what_is_lubricated_is_never_everything():
    for text in ("rinsed everything, waxed", "rinsed all of it and greased", "everything rinsed, zip waxed"):
        assert not any(task == "lubricate" and what == "everything" for task, what, _ in acts(text))


def test_gases_of_two_alike_are_told_apart():
    kit = told(understand("I have two stages, one with 50 and one with oxygen, and a canister lamp", TODAY))
    assert [a.facts.o2_fraction for a in kit if a.kind == "stage"] == [0.5, 1.0]
