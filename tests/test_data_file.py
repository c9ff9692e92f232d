"""The page of the file of all data is written from its models, and leaves nothing out."""

import types
from datetime import date, datetime
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel

from store.catalogue import ItemFacts
from store.exchange.archive import MOST_ON_DIVES
from store.exchange.logbook import MOST_BYTES
from store.exchange.record import FORMAT, VERSION, Archive
from store.exchange.values import LONGEST, LONGEST_NAME, MOST_DIVES, MOST_ITEMS

PAGE = Path(__file__).parent.parent / "deploy" / "data-file.md"
HEAD = f"""# The file of all data

Everything that was ever told of a locker, as one JSON file (UTF-8) that belongs to its diver and can be taken in again without
loss. The same facts give the same bytes. Dates are written like `2026-06-10`, instants like `2026-06-10T12:00:00Z`, in UTC;
units are metric. A value that may be `null` means by it: not said, if nothing else stands there. Rows name people, items and
files by their number in this file. Every field is always there.

**Versions.** This is version {VERSION} of `{FORMAT}`. A newer one than the program knows is refused with the advice to update the
program. Older ones will always be read. A field is added, or its meaning changed, only with a new version.

**Not in it, on purpose.** The calendar link and invitation codes, which are secrets. Addresses of other people: they are in it by
the name that they are called by, and you as `you`. Who is let in and what they may do: people are let in by a code. What is
derived and worked out anew: what is due. What passes: buttons, messages on their way, the notes that undo needs (what was done
before a file is taken in cannot be undone after it), dive files that were shown and not counted, and the raw content of those
that were. Items that others lent to you are only named, and their record stays with their locker; dives on which they were
name your own items alone.

**What is lent** is in the file with its record, and comes home when the file is taken in. Dives that others made with it stay
out of your log then as now, and count for the item.

**Limits.** {MOST_BYTES // 1_000_000} MB; texts of up to {LONGEST:,} characters, names and own words of up to {LONGEST_NAME}. A locker holds up to
{MOST_ITEMS} items in use and {MOST_DIVES:,} dives, on which up to {MOST_ON_DIVES:,} items are named. Anything that is not as described here is
refused with one sentence that says where and why, and nothing is stored.
"""
TYPES = {
    str: "text",
    int: "whole number",
    float: "number",
    bool: "true or false",
    date: "date",
    datetime: "instant",
}


def kind_of(annotation: Any) -> tuple[str, bool]:
    """Say in words what a field holds, and whether it may be null."""
    while get_origin(annotation) is Annotated:
        annotation = get_args(annotation)[0]
    if get_origin(annotation) in (types.UnionType, Union):
        inner = [a for a in get_args(annotation) if a is not type(None)]
        return kind_of(inner[0])[0], True
    if get_origin(annotation) in (list, tuple):
        return f"list of {plural(get_args(annotation)[0])}", False
    if get_origin(annotation) is Literal:
        return f"`{get_args(annotation)[0]}`", False
    if isinstance(annotation, type) and issubclass(annotation, StrEnum):
        return f"[{annotation.__name__}](#words)", False
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return f"[{annotation.__name__}](#{annotation.__name__.lower()})", False
    return TYPES[annotation], False


def plural(annotation: Any) -> str:
    """Say in words what a list holds."""
    word, _ = kind_of(annotation)
    return word if word.startswith("[") else f"{word}s"


def models(of: type[BaseModel]) -> list[type[BaseModel]]:
    """Return a model and those that its fields hold, each once."""
    found: dict[type[BaseModel], None] = {of: None}
    for field in of.model_fields.values():
        for part in parts(field.annotation):
            if isinstance(part, type) and issubclass(part, BaseModel):
                found |= dict.fromkeys(models(part))
    return list(found)


def parts(annotation: Any) -> list[Any]:
    """Return an annotation and all that stands in its brackets."""
    return [annotation, *(p for inner in get_args(annotation) for p in parts(inner))]


def table(model: type[BaseModel]) -> str:
    """Write the table of one model."""
    about = (
        "What was said of an item; what was not is left out here." if model is ItemFacts else model.__doc__
    )
    rows = []
    for name, field in model.model_fields.items():
        kind, null = kind_of(field.annotation)
        meaning = field.description or facts_say(name)
        rows.append(
            f"| `{name}` | {kind}{' or null' if null and model is not ItemFacts else ''} | {meaning} |\n"
        )
    return f"\n## {model.__name__}\n\n{about}\n\n| field | holds | meaning |\n|---|---|---|\n{''.join(rows)}"


FACTS = {
    "o2_fraction": "Greatest oxygen fraction that it sees.",
    "pure_oxygen_fill": "Oxygen goes into the cylinder first, so that it sees pure oxygen.",
    "zip_material": "What its zip is made of.",
    "seal_material": "What its neck and wrist seals are made of.",
    "cylinder_material": "What the cylinder is made of.",
    "volume_l": "Litres.",
    "region": "Whose law dates its tests, if that is not the locker's.",
    "made_on": "First day of the month of its manufacture mark.",
    "alloy_6351": "It is of the alloy 6351.",
    "special_permit": "A permit of its own sets its tests.",
    "risk_assessed": "A risk assessment allows the longer visual interval.",
    "hydro_due_on": "The next hydrostatic test, as stamped.",
    "visual_due_on": "The next visual inspection, as stamped.",
    "eddy_due_on": "The next eddy current test, as stamped.",
    "hydro_due_told_on": "When that stamp was told.",
    "visual_due_told_on": "When that stamp was told.",
    "eddy_due_told_on": "When that stamp was told.",
    "remarks": "What else was said of it, in the diver's words: up to 8, each up to 40 letters.",
}


def facts_say(name: str) -> str:
    """Say what a fact of an item means."""
    return FACTS[name]


def page() -> str:
    """Write the page from the models."""
    found = models(Archive)
    words = {
        p for m in found for f in m.model_fields.values() for p in parts(f.annotation) if isinstance(p, type)
    }
    enums = sorted((w for w in words if issubclass(w, StrEnum)), key=lambda w: w.__name__)
    listed = "".join(f"| {w.__name__} | {', '.join(f'`{v.value}`' for v in w)} |\n" for w in enums)
    return f"{HEAD}{''.join(map(table, found))}\n## Words\n\n| what | one of |\n|---|---|\n{listed}"


def test_page_is_written_from_the_models(request):
    if request.config.getoption("--rewrite"):
        PAGE.write_text(page())
    assert PAGE.read_text() == page()


def test_every_field_says_what_it_means():
    found = [m for m in models(Archive) if m is not ItemFacts]
    assert len(found) > 14
    assert [f"{m.__name__}.{n}" for m in found for n, f in m.model_fields.items() if not f.description] == []
    assert set(FACTS) == set(ItemFacts.model_fields)


def test_page_names_every_word_that_a_file_may_hold():
    text = PAGE.read_text()
    assert [
        kind
        for kind in ("dry_suit", "salt", "hydrostatic", "DE", "silicone_grease")
        if f"`{kind}`" not in text
    ] == []
