"""What to take on a trip: the lubricants and tools that the rules ask for on this very kit, and spares by size."""

from collections.abc import Sequence

from bot.advice.temperature import JELLY_MELTS_FROM_C
from bot.handle.wording import Job, temperature, what_with
from scheduler.standing import ItemDue
from store.catalogue import CATALOGUE
from store.vocabulary import PartKind, Task, Water

_SPARES = {
    "cylinder": "valve outlet O-rings",
    "twinset": "valve outlet and manifold O-rings",
    "stage": "valve outlet O-rings",
    "regulator": "mouthpieces, ties, O-rings for the DIN or yoke face and the hoses",
    "canister_light": "a lid O-ring",
    "hand_light": "head O-rings, batteries",
    "scooter": "hull O-rings",
    "rebreather": "loop O-rings, sorbent, cells and batteries as the maker says",
    "camera_housing": "housing and port O-rings",
    "dry_suit": "a spare wrist seal",
    "dive_computer": "a battery and its O-ring",
    "mask": "a spare strap",
    "fins": "a spare strap",
}
_ZIPS = frozenset({PartKind.ZIP_TEETH, PartKind.ZIP_OUTER_ELEMENTS, PartKind.ZIP})
_WIDE_SPAN_C = 25
_COLD_C = 10
_HOT_C = 30


def packing(standing: Sequence[ItemDue]) -> list[str]:
    """Return the lines of the packing list for a kit; none for an empty one."""
    if not standing:
        return []
    jobs = [Job(i.item, d.part, d.rule, manual=i.manual(d.part)) for i in standing for d in i.dues]
    lubricants = sorted({name for job in jobs if (name := what_with(job))})
    lines = ["Take along:"]
    lines += [f"- {', '.join(lubricants)}"] if lubricants else []
    lines.append(f"- {', '.join(_tools(jobs))}")
    lines += [
        f"- {spare}"
        for spare in dict.fromkeys(_SPARES[i.item.kind] for i in standing if i.item.kind in _SPARES)
    ]
    sizes = dict.fromkeys(f"-{n.ring} ({i.item.name})" for i in standing for n in i.manuals if n.ring)
    return lines + ([f"- spare O-rings by size: {', '.join(sizes)}"] if sizes else [])


def _tools(jobs: Sequence[Job]) -> list[str]:
    """Name the tools that the acts of care take, beside the lubricants."""
    acts = {job.rule.task for job in jobs}
    cleaned = {CATALOGUE[j.item.kind].part(j.part).kind for j in jobs if j.part and j.rule.task is Task.CLEAN}
    tools = ["lint-free cloth", "a soft O-ring pick"]
    tools += ["an old toothbrush and mild soap"] if cleaned & _ZIPS else []
    tools += ["the disinfectant that the maker names"] if Task.DISINFECT in acts else []
    return tools


def weather(
    standing: Sequence[ItemDue],
    water: str | None,
    min_temp_c: float | None,
    max_temp_c: float | None,
    *,
    imperial: bool,
) -> list[str]:
    """Hold the temperatures and the water of a trip against the kit and what goes on it. Degrees Celsius; None: not said."""
    temps = [t for t in (min_temp_c, max_temp_c) if t is not None]
    low, high = min(temps, default=None), max(temps, default=None)
    lines = []
    if low is not None and low <= _COLD_C:
        lines.append(
            f"Cold water ({temperature(low, imperial)}): ask the technician about cold-water set-up of the regulators."
        )
    if low is not None and high is not None and (low < 0 or high - low > _WIDE_SPAN_C):
        lines.append(
            "Such a span of temperatures: PFPE grease rather than silicone on moving rings (common practice, no source)."
        )
    if high is not None and high >= _HOT_C:
        lines.append(
            f"Heat ({temperature(high, imperial)}): keep latex, cells and batteries out of the sun and the hot car (common practice, no source)."
        )
    if high is not None and high >= JELLY_MELTS_FROM_C and _jelly(standing):
        lines.append(
            f"Petroleum jelly may melt from {JELLY_MELTS_FROM_C:g} °C (USP 32): keep it and what it is on out of the sun."
        )
    if water == Water.SALT:
        lines.append("Salt: rinse and dry every evening, zips brushed before any stick or wax.")
    return lines


def _jelly(standing: Sequence[ItemDue]) -> bool:
    return "petroleum_jelly" in {s for i in standing for n in i.manuals for s in n.substances or ()}
