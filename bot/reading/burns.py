"""What burns on a part in breathing gas: of both readings the one that takes it the most seriously, whatever else a message holds."""

from bot.advice.question import PartRef
from bot.advice.substances import STUFF, Trait
from bot.reading import choose
from bot.reading.acts import kinds_of, told
from bot.reading.read import Reading
from bot.understand.intents import Ask, Intent, LogDive, Misunderstood, RecordCare, Several
from store.catalogue import CATALOGUE


def of_what_burns(older: Intent, reading: Reading) -> Intent | None:
    """Return the reading that takes what burns the most seriously; None where neither speaks of it."""
    learned = reading.intent
    if isinstance(older, Misunderstood) and older.problem.startswith("Do not breathe"):
        return older
    if learned is not None and _taints(learned) and not _taints(older):
        kinds = {c.kind for c in reading.clauses}
        if isinstance(learned, Several) or not kinds_of(older) & kinds:
            return learned
        told_so = next((a for a in told(learned) if isinstance(a, Ask) and a.question.happened), learned)
        return Several(of=(older, told_so)) if isinstance(older, LogDive | RecordCare) else told_so
    aside = any(c.flags & {"they", "if", "will"} and c.sure >= choose.VERY_SURE for c in reading.clauses)
    if isinstance(older, RecordCare) and _taints(older):
        if learned is not None and _is_elsewhere(older, learned):
            return None
        if not (aside and isinstance(learned, Misunderstood)):
            return older  # noted as done, and marked
    spoken_of = isinstance(learned, Misunderstood) and not learned.choices
    return learned if _taints(older) and spoken_of else None


def is_of_unknown(intent: Intent) -> bool:
    """Tell whether all that a reading says is that something nobody knows got on a part: "smoke from the battery"."""
    return isinstance(intent, Ask) and intent.question.happened and intent.question.substance is None


def _taints(intent: Intent) -> bool:
    """Tell whether an intent says that something got where it should not be, as a mishap or as care with a substance."""
    return any(
        (isinstance(a, Ask) and a.question.happened and a.question.substance is not None)
        or (
            isinstance(a, RecordCare)
            and a.substance is not None
            and Trait.BURNS in STUFF[a.substance].traits
            and _breathes(a)
        )
        for a in told(intent)
    )


def _breathes(act: RecordCare) -> bool:
    """Tell whether what an act was done to touches breathing gas, or may."""
    if act.refs:
        return any(CATALOGUE[r.item].part(r.part).gas for r in act.refs)
    return act.kind is None or any(p.gas for p in CATALOGUE[act.kind].parts)


def _is_elsewhere(older: RecordCare, learned: Intent) -> bool:
    """Tell whether the learned reading knows the part that a substance got on, out of breathing gas, where the older one has only an item."""
    if any(a.refs for a in (older, *older.also) if a.substance):
        return False
    at = [ref for one in told(learned) for ref in _parts_of(one)]
    return bool(at) and not any(CATALOGUE[r.item].part(r.part).gas for r in at)


def _parts_of(one: Intent) -> tuple[PartRef, ...]:
    if isinstance(one, RecordCare):
        return one.refs
    return one.question.candidates if isinstance(one, Ask) else ()
