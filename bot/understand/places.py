"""Countries whose law sets test dates, and zones by the name of a place."""

import re
import unicodedata
from collections import defaultdict
from functools import lru_cache
from importlib.resources import files
from zoneinfo import available_timezones

from bot.understand.quantities import SenselessError
from store.vocabulary import Region

_REGIONS: dict[str, Region | None] = {
    "united states": Region.US, "usa": Region.US, "us": Region.US, "america": Region.US, "the states": Region.US,
    "canada": Region.CANADA,
    "united kingdom": Region.UK, "uk": Region.UK, "britain": Region.UK, "england": Region.UK, "scotland": Region.UK, "wales": Region.UK, "great britain": Region.UK, "northern ireland": Region.UK,
    "germany": Region.GERMANY, "deutschland": Region.GERMANY,
    "switzerland": Region.SWITZERLAND,
    "australia": Region.AUSTRALIA,
    "new zealand": Region.NEW_ZEALAND, "nz": Region.NEW_ZEALAND,
    "south africa": Region.SOUTH_AFRICA,
    "new south wales": Region.AUSTRALIA, "south wales": Region.UK, "north wales": Region.UK, "new england": None, "new britain": None,
    "republic of ireland": Region.EU, "north america": None, "south america": None, "latin america": None, "central america": None,
    "middle america": None, "central europe": None, "east europe": None, "eastern europe": None, "south east europe": None,
    "european union": Region.EU, "eu": Region.EU, "europe": Region.EU,
}  # fmt: skip
"""Whose law a name stands for; None: a name that holds another one and means no such law."""
_EU = frozenset(
    "austria belgium bulgaria croatia cyprus czechia denmark estonia finland france greece hungary ireland italy latvia lithuania luxembourg malta netherlands poland portugal romania slovakia slovenia spain sweden norway iceland".split()
)
_CITIES: dict[str, str] = {
    "barcelona": "Europe/Madrid", "palma": "Europe/Madrid", "valencia": "Europe/Madrid", "milan": "Europe/Rome",
    "naples": "Europe/Rome", "munich": "Europe/Berlin", "hamburg": "Europe/Berlin", "cologne": "Europe/Berlin",
    "frankfurt": "Europe/Berlin", "geneva": "Europe/Zurich", "basel": "Europe/Zurich", "bern": "Europe/Zurich",
    "marseille": "Europe/Paris", "lyon": "Europe/Paris", "nice": "Europe/Paris", "bergen": "Europe/Oslo",
    "gothenburg": "Europe/Stockholm", "edinburgh": "Europe/London", "glasgow": "Europe/London",
    "manchester": "Europe/London", "plymouth": "Europe/London", "porto": "Europe/Lisbon", "split": "Europe/Zagreb",
    "hurghada": "Africa/Cairo", "dahab": "Africa/Cairo", "sharm el sheikh": "Africa/Cairo", "durban": "Africa/Johannesburg",
    "cape town": "Africa/Johannesburg", "pretoria": "Africa/Johannesburg", "zanzibar": "Africa/Dar_es_Salaam",
    "san francisco": "America/Los_Angeles", "seattle": "America/Los_Angeles", "san diego": "America/Los_Angeles",
    "miami": "America/New_York", "orlando": "America/New_York", "boston": "America/New_York", "atlanta": "America/New_York",
    "key largo": "America/New_York", "houston": "America/Chicago", "dallas": "America/Chicago", "new orleans": "America/Chicago",
    "tulum": "America/Cancun", "cozumel": "America/Cancun", "playa del carmen": "America/Cancun", "montreal": "America/Toronto",
    "ottawa": "America/Toronto", "cairns": "Australia/Brisbane", "canberra": "Australia/Sydney", "gold coast": "Australia/Brisbane",
    "wellington": "Pacific/Auckland", "christchurch": "Pacific/Auckland", "queenstown": "Pacific/Auckland",
    "bali": "Asia/Makassar", "denpasar": "Asia/Makassar", "phuket": "Asia/Bangkok", "koh tao": "Asia/Bangkok",
    "cebu": "Asia/Manila", "osaka": "Asia/Tokyo", "okinawa": "Asia/Tokyo", "mumbai": "Asia/Kolkata", "goa": "Asia/Kolkata",
    "new south wales": "Australia/Sydney", "nsw": "Australia/Sydney", "queensland": "Australia/Brisbane", "tasmania": "Australia/Hobart",
    "eilat": "Asia/Jerusalem", "male": "Indian/Maldives", "hawaii": "Pacific/Honolulu", "bonaire": "America/Kralendijk",
}  # fmt: skip
"""Places people name that the zone database does not."""
_NO_PLACES = frozenset(
    "center central eastern mountain pacific universal troll factory wake nome general georgia".split()
)
"""Names of zones that mean something else, or nothing, when somebody says where they are."""


def region_of(text: str) -> Region | None:
    """Return whose law a text names, None if none."""
    named = _NAMES.findall(text)
    return next((region for name in named if (region := _law(name)) is not None), None)


_NAMES = re.compile(
    r"(?<![\w-])(?:(?:new|latin) )?(?:"
    + "|".join(sorted(map(re.escape, {*_REGIONS, *_EU} - {"us"}), key=len, reverse=True))
    + r"|(?:(?<=the )|(?<=in )|(?<=from )|(?<=region )|(?<=country )|(?<=is )|(?<=to )|(?<=^))us)(?![\w-])"
)
"""Countries named, the longest name first; with a "new" before it a name is another place's."""


def _law(name: str) -> Region | None:
    return _REGIONS.get(name, Region.EU if name in _EU else None)


_OLD_NAMES: dict[str, str] = {
    "cuba": "America/Havana", "egypt": "Africa/Cairo", "eire": "Europe/Dublin", "hongkong": "Asia/Hong_Kong", "iceland": "Atlantic/Reykjavik",
    "iran": "Asia/Tehran", "israel": "Asia/Jerusalem", "jamaica": "America/Jamaica", "japan": "Asia/Tokyo", "kwajalein": "Pacific/Kwajalein",
    "libya": "Africa/Tripoli", "poland": "Europe/Warsaw", "portugal": "Europe/Lisbon", "singapore": "Asia/Singapore", "turkey": "Europe/Istanbul",
}  # fmt: skip
"""Countries that the zone database also lists as zones, under names kept for old programs."""


@lru_cache(maxsize=1)
def _one_zone_countries() -> dict[str, str]:
    """Return the zone of each country that has but one, by its name, folded."""
    tables = files("tzdata") / "zoneinfo"
    names = dict(row for row in _rows((tables / "iso3166.tab").read_text(encoding="utf-8")))
    found: dict[str, list[str]] = defaultdict(list)
    for code, _, zone, *_ in _rows((tables / "zone.tab").read_text(encoding="utf-8")):
        found[code].append(zone)
    return {_folded(names[code]): only[0] for code, only in found.items() if len(only) == 1}


def _rows(table: str) -> list[list[str]]:
    return [line.split("\t") for line in table.splitlines() if line and not line.startswith("#")]


def _folded(name: str) -> str:
    name = re.sub(r"^(.+) \((south|north)\)$", r"\2 \1", name.casefold())
    plain = unicodedata.normalize("NFKD", re.sub(r" \(.*\)", "", name)).encode("ascii", "ignore").decode()
    return plain.replace("&", "and").casefold()


@lru_cache(maxsize=1)
def zones() -> dict[str, str]:
    """Return IANA names by everything that names them: themselves, and the cities in them, folded."""
    known = available_timezones()
    names = {z.casefold(): z for z in known}
    for z in sorted(known):
        if "/" in z and not z.startswith(("Etc/", "SystemV/", "US/")):
            names.setdefault(z.rsplit("/", 1)[1].replace("_", " ").casefold(), z)
    return {name: zone for name, zone in _CITIES.items() if zone in known} | names | _OLD_NAMES


_LANDS = frozenset(
    """egypt mexico thailand indonesia malaysia maldives philippines japan australia usa turkey jordan israel oman sudan kenya
tanzania mozambique madagascar mauritius seychelles belize honduras cuba bahamas brazil colombia ecuador galapagos fiji tonga
palau micronesia chuuk truk vanuatu samoa komodo lembeh bali cozumel bonaire curacao aruba norway iceland scotland cornwall
orkney scapa sardinia sicily corsica crete madeira azores canaries canary tenerife lanzarote menorca mallorca gozo switzerland
india vietnam cambodia china russia canada greenland svalbard antarctica hawaii florida yucatan tulum dahab hurghada sharm""".split()
) | {
    "red sea",
    "north sea",
    "scapa flow",
    "sri lanka",
    "costa rica",
    "papua new guinea",
    "cape verde",
    "saudi arabia",
    "south africa",
    "new zealand",
    "great lakes",
    "the med",
}


def is_place(name: str) -> bool:
    """Tell whether a name said in passing is that of a country, an island or a city somebody may travel to."""
    said = re.sub(r"^the ", "", name.strip())
    return said in _LANDS or region_of(said) is not None or zone_of_place(said) is not None


def zone_of_place(place: str) -> str | None:
    """Return the zone of a place said in passing, None if it has none of its own or is a country of several zones.

    A country whose law is known is told by that law alone: whoever lives there may be on the road.
    """
    said = re.sub(r"^the ", "", place.strip(" .,!'\"").casefold())
    if said in _NO_PLACES:
        return None
    known = zones().get(said)
    return known if known or region_of(said) else _one_zone_countries().get(said)


_OFFSET = re.compile(
    r"(?:(?<![/\w])(?:utc|gmt)\s*|\b(?:zone|tz)\b[\s:=]*(?:is |to )?)(?P<sign>[+-])\s*(?P<hours>\d{1,2})(?::?(?P<minutes>\d{2}))?(?![\w:])"
)
_MOST_EAST, _MOST_WEST = 14, 12


def zone_of_offset(text: str) -> str | None:
    """Return the zone of a cleaned text like "UTC+2", None if none is told; SenselessError for one that has no zone.

    Names of such zones count the other way round: two hours east of Greenwich is Etc/GMT-2.
    """
    if not (told := _OFFSET.search(text)):
        return None
    hours, minutes, east = int(told["hours"]), int(told["minutes"] or 0), told["sign"] == "+"
    if hours == minutes == 0:
        return "UTC"
    if minutes or hours > (_MOST_EAST if east else _MOST_WEST):
        raise SenselessError(
            f"I know no zone at {told['sign']}{told['hours']}{':' + told['minutes'] if told['minutes'] else ''}."
            " Say it by a city: zone Asia/Kolkata, or zone Europe/Berlin."
        )
    return f"Etc/GMT{'-' if east else '+'}{hours}"
