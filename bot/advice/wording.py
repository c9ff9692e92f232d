"""First lines. Short enough for a wet phone: the answer stands before every reason."""

from collections.abc import Sequence

from bot.advice.compatibility import Objection
from bot.advice.rules import Rule, Step, Verdict
from bot.advice.substances import STUFF, Base, Trait, names
from bot.advice.target import Target
from scheduler.care import interval_of
from store.catalogue import CATALOGUE
from store.vocabulary import Motion, PartKind, Substance, Task

SHORT = 120
"""Most characters of a first line."""


def upper_first(text: str) -> str:
    """Capitalise the first letter and leave the rest (O-ring, DIN) alone."""
    return text[:1].upper() + text[1:]


def shorten(text: str) -> str:
    """Cut a line at the last word that fits, with an ellipsis; most lines pass unchanged."""
    if len(text) <= SHORT:
        return text
    return text[: SHORT - 1].rsplit(" ", 1)[0].rstrip(" ,;:") + "…"


def join_names(found: Sequence[str]) -> str:
    """Name several parts in one breath: two by name, more by the first and a count."""
    unique = list(dict.fromkeys(found))
    if len(unique) <= 2:
        return " and ".join(unique)
    return f"{unique[0]} and {len(unique) - 1} like it"


def headline(rule: Rule, name: str) -> str:
    """Say what goes on the part, in one line."""
    part = upper_first(name)
    if rule.verdict is Verdict.TECHNICIAN:
        with_what = f" (uses {STUFF[rule.use[0]].name})" if rule.use else ""
        return _first_that_fits(
            f"{part}: not yours to open. A technician's job{with_what}.",
            f"{part}: not yours to open. A technician's job.",
            f"Not yours to open: a technician's job{with_what}.",
        )
    if rule.verdict is Verdict.NONE:
        return f"{part}: nothing on it. Clean and dry."
    return _first_that_fits(
        f"{part}: {rule.headline or names(rule.use)}.",
        f"{part}: {names(rule.use[:1])}.",
        f"{upper_first(names(rule.use[:1]))}.",
    )


def judged_line(verdict: Verdict, substance: Substance, name: str) -> str:
    """Say yes or no to a substance on a part, in one line."""
    stuff = STUFF[substance].name
    match verdict:
        case Verdict.YES:
            return f"Yes: {stuff} suits the {name}."
        case Verdict.NO:
            return _first_that_fits(f"No: no {stuff} on the {name}.", f"No: no {stuff} there.")
        case Verdict.TECHNICIAN:
            return _first_that_fits(
                f"Right stuff, but the {name}: a technician's to open, not yours.",
                "Right stuff, but a technician's job.",
            )
        case _:
            return _first_that_fits(
                f"Depends: {stuff} on the {name} only if its maker says so.",
                f"Depends: {stuff} only if the maker says so.",
            )


def how_often_line(target: Target, rule: Rule, name: str) -> str:
    """Say how often the part wants its care, from the care tables."""
    part = upper_first(name)
    if target.ref is not None:
        row = CATALOGUE[target.ref.item].part(target.ref.part)
        whole = row.part_of and CATALOGUE[target.ref.item].part(row.part_of)
        for each in (row, whole):
            for task in (Task.LUBRICATE, Task.POWDER, Task.CLEAN, Task.REPLACE, Task.INSPECT):
                care = interval_of(each, target.facts, task) if each else None
                if care is not None:
                    return f"{part}: {_VERB[task]} {care.every.in_words()}."
        if row.kind is PartKind.ZIP and row.watertight:
            return f"{part}: brush after sand, brush and lubricate about every 10 dives."
    if rule.verdict is Verdict.TECHNICIAN:
        return f"{part}: at its yearly service, by a technician."
    if target.facts.motion is Motion.DYNAMIC and rule.use:
        return f"{part}: look now and then, film again when it runs dry."
    return f"{part}: rinse after each dive day, look now and then."


_VERB = {
    Task.LUBRICATE: "fresh film",
    Task.POWDER: "powder",
    Task.CLEAN: "clean",
    Task.REPLACE: "replace",
    Task.INSPECT: "inspect",
}


def contaminated_line(  # noqa: PLR0911 - one a case
    substance: Substance,
    target: Target,
    rule: Rule,
    name: str,
    against: Sequence[Objection],
) -> tuple[Verdict, str, tuple[str, ...], tuple[Substance, ...]]:
    """Say what to do now that the substance is on the part: verdict, first line, the rest, what to use."""
    stuff, facts = STUFF[substance].name, target.facts
    why = (against[0].why,) if against else ()
    if facts.gas and any(o.safety for o in against) and Trait.BURNS in STUFF[substance].traits:
        return (
            Verdict.TECHNICIAN,
            _first_that_fits(
                f"Out of oxygen service: a technician cleans and inspects the {name}.",
                "Out of oxygen service until a technician has cleaned and inspected it.",
            ),
            (
                *why,
                "No enriched gas or oxygen on it until then. Wiping it off is not cleaning. Tag it so nobody fills or dives it.",
            ),
            (),
        )
    if against and against[0].verdict is Verdict.TECHNICIAN:
        return (
            Verdict.TECHNICIAN,
            _first_that_fits(
                f"Do not fill or dive it: a technician opens the {name} first.",
                "Do not dive it: a technician opens it first.",
            ),
            why,
            (),
        )
    if facts.gas and against:
        return (
            Verdict.NONE if rule.verdict is not Verdict.TECHNICIAN else Verdict.TECHNICIAN,
            _first_that_fits(
                f"Take it off the {name} again: clean and dry.", "Take it off again: clean and dry."
            ),
            (
                *why,
                Step.RING_OUT.value,
                "If it stays lubricated or you are not the one to open it, a technician does this.",
            ),
            (),
        )
    if not against and substance in rule.use and rule.verdict is Verdict.USE:
        return (
            Verdict.YES,
            f"That is right: {stuff}. Wipe off all but a thin film.",
            (headline(rule, name),),
            (substance,),
        )
    if not against:
        return (
            rule.verdict,
            f"No harm known from {stuff} there: wipe off all but a thin film.",
            (headline(rule, name),),
            rule.use,
        )
    if (
        facts.kind is PartKind.O_RING
        and STUFF[substance].base is not Base.POWDER
        and facts.motion is Motion.STATIC
    ):
        return (
            Verdict.NONE,
            f"Wipe it off: the {name} stays clean and dry.",
            (*why, Step.RING_OUT.value, Step.RING_LOOK.value),
            (),
        )
    creeps = (
        ("Write it down: it comes up when that zip or seal is to be replaced or glued.",)
        if Trait.CREEPS in STUFF[substance].traits and facts.bonded
        else ()
    )
    return (
        Verdict.USE,
        _first_that_fits(
            f"Wash the {stuff} off the {name} now, with soapy water.", "Wash it off now, with soapy water."
        ),
        (
            *why,
            "Rinse, dry, then look closely: sticky, swollen or cracked rubber is replaced.",
            *creeps,
            headline(rule, name),
        ),
        (Substance.SOAPY_WATER,),
    )


def _first_that_fits(*lines: str) -> str:
    return next((line for line in lines if len(line) <= SHORT), lines[-1])
