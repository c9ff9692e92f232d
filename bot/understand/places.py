"""Countries whose law sets test dates, and zones by the name of a place."""

import re
from functools import lru_cache
from zoneinfo import available_timezones

from store.vocabulary import Region

_REGIONS: dict[str, Region] = {
    "united states": Region.US, "usa": Region.US, "us": Region.US, "america": Region.US, "the states": Region.US,
    "canada": Region.CANADA,
    "united kingdom": Region.UK, "uk": Region.UK, "britain": Region.UK, "england": Region.UK, "scotland": Region.UK, "wales": Region.UK, "great britain": Region.UK, "northern ireland": Region.UK,
    "germany": Region.GERMANY, "deutschland": Region.GERMANY,
    "switzerland": Region.SWITZERLAND,
    "australia": Region.AUSTRALIA,
    "new zealand": Region.NEW_ZEALAND, "nz": Region.NEW_ZEALAND,
    "south africa": Region.SOUTH_AFRICA,
    "european union": Region.EU, "eu": Region.EU, "europe": Region.EU,
}  # fmt: skip
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
    "eilat": "Asia/Jerusalem", "male": "Indian/Maldives", "hawaii": "Pacific/Honolulu", "bonaire": "America/Kralendijk",
}  # fmt: skip
"""Places people name that the zone database does not."""
_NO_PLACES = frozenset(
    "center central eastern mountain pacific universal troll factory wake nome general".split()
)
"""Names of zones that mean something else, or nothing, when somebody says where they are."""


def region_of(text: str) -> Region | None:
    """Return whose law a text names, None if none."""
    padded = f" {text} "
    for name, region in _REGIONS.items():
        if f" {name} " in padded or f" the {name} " in padded:
            return region
    return Region.EU if any(f" {name} " in padded for name in _EU) else None


@lru_cache(maxsize=1)
def zones() -> dict[str, str]:
    """Return IANA names by everything that names them: themselves, and the cities in them, folded."""
    known = available_timezones()
    names = {z.casefold(): z for z in known}
    for z in sorted(known):
        if "/" in z and not z.startswith(("Etc/", "SystemV/", "US/")):
            names.setdefault(z.rsplit("/", 1)[1].replace("_", " ").casefold(), z)
    return {name: zone for name, zone in _CITIES.items() if zone in known} | names


def zone_of_place(place: str) -> str | None:
    """Return the zone of a place said in passing, None if it has none of its own or is a country of several zones."""
    said = re.sub(r"^the ", "", place.strip(" .,!'\"").casefold())
    return None if said in _NO_PLACES else zones().get(said)
