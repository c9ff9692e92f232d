"""What somebody in a club, or a hostile server, could try that no test of a single part looks at."""

import pytest
import structlog

from bot.conversation import Conversation, Update
from bot.main import token
from bot.updates import well_formed
from tests.conftest import START

HALF = "\ud83e"
"""Half of a sign of two: JSON can hold it alone, and no database, hash or wire takes it."""


@pytest.mark.parametrize(
    "said",
    [
        {"text": f"add scooter called {HALF}Otter"},
        {"text": HALF},
        {"tap": HALF},
        {"tap_label": HALF},
        {"file": (f"{HALF}.csv", b"date,time\n2026-06-01,10:15\n")},
        {"cannot": f"I cannot read {HALF}."},
        {"text": "help", "actor": f"mara{HALF}", "actor_name": HALF},
        {"text": "help", "chat": HALF, "topic": HALF},
        {"tap_place": 0, "under": HALF},
    ],
    ids=lambda said: ascii(said)[:40],
)
@pytest.mark.parametrize("by_post", [True, False])
def test_half_a_sign_is_answered_like_any_other_text(store, said, by_post):
    at = {"wire": "boat", "chat": "mara", "actor": "mara", "at": START, "update_id": f"1{HALF}"}
    with structlog.testing.capture_logs() as logged:
        answer = Conversation(store, token).take(
            Update(**(at | {"message": f"m{HALF}", "by_post": by_post} | said))
        )
    assert logged == []
    assert answer is not None
    assert answer.reply.first == well_formed(answer.reply.first)


def test_halves_that_belong_together_become_the_sign():
    assert well_formed("a\ud83e\udd3fb") == "a🤿b"
    assert well_formed("\udd3f\ud83e") == "\ufffd\ufffd"
    assert well_formed("Møn 🤿") == "Møn 🤿"
