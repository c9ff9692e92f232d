"""Why a task is due: the trigger, the count so far, and who says so."""

from datetime import date

from bot.handle.wording import count, day, month, trigger, when_comes
from scheduler.care_rule import CareRule, Status
from scheduler.due import Due
from scheduler.law import Basis, LegalDue
from scheduler.outlook import Coming
from scheduler.published import published_for

_BASIS = {
    Basis.TEST: "counted from the test of {}",
    Basis.DUE_MONTH: "counted from the old due month, {}",
    Basis.STAMP: "as stamped",
    Basis.MADE: "counted from its manufacture, {}",
}


def counted_from(legal: LegalDue) -> str:
    """Say what a legal date was counted from."""
    return _BASIS[legal.basis].format(month(legal.counted_from))


def why_due(found: Due | None, rule: CareRule, ahead: Coming | None, today: date) -> str:
    """Say the interval, the trigger, the count, when it will be due if it is not yet, the reason and the source."""
    bits = [f"{rule.every.in_words() or 'by its own rule'}."]
    if found is not None:
        said = trigger(found)
        if found.due_on is not None and found.due_on <= today:
            bits.append(f"Due since {day(found.due_on, today)}" + (f": {said}." if said else "."))
        elif ahead is not None:
            bits.append(f"Next: {when_comes(ahead, today)}.")
        if not rule.by_law:
            bits.append(f"Last done {day(found.done_on, today)}." if found.done_on else "Never recorded.")
            bits.append(f"{count(found.dives_since, 'dive')} since then.")
        if found.legal is not None:
            told = counted_from(found.legal)
            bits.append(f"{told[0].upper()}{told[1:]}.")
    bits.append(f"Because {rule.why}.")
    shown = rule.source
    if rule.status is Status.SECOND_HAND and "second-hand" not in shown:
        shown += " (second-hand)"
    bits.append(f"Source: {shown}.")
    asked = [f"{p.authority} {p.months} months ({p.what}: {p.source})" for p in published_for(rule.id)]
    if asked:
        bits.append(f"Published: {'; '.join(asked)}.")
    return " ".join(bits)
