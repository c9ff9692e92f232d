"""First-sight figures of the whole reader, from text to intent, on writers that were never trained on: `python -m tests.training.whole [STEP]`

Right: each kind of thing that a message tells, asks or wants is in what it is taken to mean, and nothing else. Recorded wrongly: something
is recorded of a kind that the message does not tell. STEP takes every so-manieth message. Once for the pattern readers alone, once for all.
"""

import sys
from collections import Counter
from datetime import date

from bot.reading import gates
from bot.reading.acts import kinds_of, told
from bot.understand.intents import Intent, Misunderstood
from bot.understand.message import Message
from bot.understand.reader import Context, Talk, _older, understand
from bot.understand.text import tight
from tests.training.marks import Marked, all_writers

TODAY = date(2026, 8, 12)
_ASIDE = frozenset({"not", "will", "if", "they"})
_SAYS_NOTHING = frozenset({"chat", "other", "answer", "lead"})


def wanted(row: Marked) -> set[str]:
    """Return the kinds that a message should be taken for; what is only denied, planned or of others asks for nothing."""
    return {
        c.kind
        for c in row.clauses
        if c.kind not in _SAYS_NOTHING
        and not (
            c.kind in gates.RECORDS - gates.PLANS
            and set(c.flags) & _ASIDE
            and c.kind not in {"gone", "drop_dive"}
        )
    }


def count(row: Marked, meant: Intent, n: Counter[str]) -> None:
    """Add how one message was read."""
    want = wanted(row)
    acts = [a for a in told(meant) if not isinstance(a, Misunderstood)]
    asks = any(isinstance(a, Misunderstood) and a.choices for a in told(meant))
    got = [kinds_of(a) for a in acts]
    n["messages"] += 1
    n["right"] += not asks and all(any(w in k for k in got) for w in want) and all(k & want for k in got)
    n["asked"] += asks
    n["wrongly"] += any(not k & want and k <= gates.RECORDS for k in got)


def main() -> None:
    """Print both lines."""
    step = int(sys.argv[1]) if len(sys.argv) > 1 else 1
    rows = [m for name, marked in all_writers().items() if name[-1] in "06" for m in marked][::step]
    for name in ("patterns alone", "all together"):
        n: Counter[str] = Counter()
        for row in rows:
            context = Context(talk=Talk(about=row.context or ""))
            older = name == "patterns alone"
            meant = (
                _older(Message(tight(row.text), TODAY, (), ()), context)
                if older
                else understand(row.text, TODAY, context)
            )
            count(row, meant, n)
        print(
            f"{name}: of {n['messages']} messages right {100 * n['right'] / n['messages']:.1f} %, asked back with choices"
            f" {100 * n['asked'] / n['messages']:.1f} %, recorded wrongly {100 * n['wrongly'] / n['messages']:.1f} %"
        )


if __name__ == "__main__":
    main()
