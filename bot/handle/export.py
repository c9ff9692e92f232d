"""What goes out as a file: the calendar, papers, and all the data of a locker."""

from collections.abc import Callable

from bot.handle.calendar import send_calendar
from bot.handle.card import pocket_card
from bot.handle.data_files import send_data
from bot.handle.record import service_record
from bot.handle.trip_sheet import trip_sheet
from bot.handle.visit import Visit
from bot.replies import Reply
from bot.understand.intents import Export

_FILES: dict[str, Callable[[Export, Visit], Reply]] = {
    "card": lambda _, visit: pocket_card(visit),
    "record": service_record,
    "data": send_data,
    "csv": send_data,
    "trip_sheet": lambda _, visit: trip_sheet(visit),
}


def export(intent: Export, visit: Visit) -> Reply:
    """Send what was asked for."""
    return _FILES.get(intent.what, send_calendar)(intent, visit)
