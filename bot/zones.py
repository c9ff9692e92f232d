"""The time zone of a place on earth."""

from zoneinfo import available_timezones


def zone_at(latitude: float, longitude: float) -> str | None:
    """Return the IANA zone of a place in degrees, None where no zone of this machine lies."""
    from tzfpy import get_tz  # noqa: PLC0415 - its map is large and seldom asked

    if not (-90 <= latitude <= 90 and -180 <= longitude <= 180):
        return None
    name = str(get_tz(longitude, latitude))
    return name if name in available_timezones() else None
