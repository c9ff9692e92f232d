"""How a message is read, as the shell shows it."""

from datetime import date
from typing import Any

from bot.reading.borders import clauses_of
from bot.reading.clean import one_line
from bot.reading.encoder import encoder
from bot.reading.leftover import unused
from bot.reading.read import BY_PATTERN
from bot.understand.intents import Intent, Misunderstood, Several
from bot.understand.reader import understand


def as_read(text: str, today: date) -> dict[str, Any]:
    """Return the object of the contract: intent and fields of the first thing told, `clauses`, `unused`, `choices` and `sure` of all."""
    meant = understand(text, today)
    told = meant.of if isinstance(meant, Several) else (meant,)
    clauses = clauses_of(one_line(text), encoder(), "")
    return {
        "text": text,
        "intent": told[0].intent,
        "fields": told[0].fields(),
        "suggestions": list(getattr(told[0], "suggestions", ())),
        "clauses": [
            {
                "kind": c.kind,
                "text": c.text,
                "told": sorted(c.flags),
                "spans": [{"slot": s.slot, "text": s.text, "id": s.id} for s in c.spans],
            }
            for c in clauses
        ],
        "unused": list(unused(clauses, BY_PATTERN)),
        "choices": [c.label for c in _choices(meant)],
        "sure": round(min((c.sure for c in clauses), default=0.0), 3),
    }


def _choices(intent: Intent) -> tuple[Any, ...]:
    return intent.choices if isinstance(intent, Misunderstood) else ()
