"""What a diver does with the bot itself: wishes, undo, help, sharing, leaving."""

from zoneinfo import ZoneInfo

from bot.advice.substances import STUFF
from bot.handle.dives import log_dive
from bot.handle.region import COUNTRY, set_region
from bot.handle.second_thoughts import take_back
from bot.handle.visit import Visit
from bot.handle.wording import count
from bot.replies import Reply
from bot.understand.intents import (
    AddItem,
    Help,
    LogDive,
    Misunderstood,
    SetPreference,
    ShowDue,
    ShowKit,
    Undo,
)
from bot.understand.reader import Offer
from scheduler.plan import board_at, refresh
from scheduler.standing import region_of
from store import dives, journal, lockers, own_words
from store.catalogue import CATALOGUE
from store.people import Role
from store.tables import Chat
from store.vocabulary import Units

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_SILENT = (
    "I still keep what is due: ask for it, and what can hurt is said when you log a dive with it.",
    "Say: reminders on.",
)


def set_preference(intent: SetPreference, visit: Visit) -> Reply:
    """Keep a wish: zone, hours, units, country."""
    if intent.word:
        return _own_word(intent, visit)
    said = [*_clock_wishes(intent, visit), *_other_wishes(intent, visit)]
    visit.session.add(visit.chat)
    if visit.locker_id != visit.chat.locker_id:  # wishes are of the chat, whose own reminders hang on them
        refresh(visit.session, visit.chat, visit.now)
    lines: tuple[str, ...] = _SILENT if intent.reminders is False else ()
    offers: tuple[Offer, ...] = (Offer("Undo", Undo()),)
    home = region_of(lockers.locker(visit.session, visit.locker_id))
    if intent.region and intent.zone and home and home is not intent.region:  # on the road, not moved
        lines = (f"Your cylinders stay under the rules of {COUNTRY[home]}.",)
        offers = (Offer("They are tested here", SetPreference(region=intent.region)), *offers)
    elif intent.region:
        said.append(f"tests by the rules of {COUNTRY[intent.region]}")
        lines = (*lines, *set_region(intent.region, visit))
    if not said:
        return Reply(
            "What shall I set?",
            (
                "Say: zone Europe/Berlin, reminders at 18:00, quiet hours 22 to 7, units imperial, or I live in Germany.",
            ),
            data={"intent": "set_preference"},
        )
    told = {k: v for k, v in intent.fields().items() if v is not None}
    return Reply(
        f"Noted: {', '.join(said)}.", lines, offers=offers, data={"intent": "set_preference", **told}
    )


def _clock_wishes(intent: SetPreference, visit: Visit) -> list[str]:
    """Set zone and hours; return what was set, in words."""
    chat, said = visit.chat, []
    if intent.zone:
        chat.zone = intent.zone
        if chat.last_digest_on is not None:  # across the date line today may come once more
            chat.last_digest_on = min(chat.last_digest_on, visit.today)
        lockers.pull_back(visit.session, chat.locker_id, visit.today, visit.own)
        said.append(f"zone {intent.zone}, now {visit.now.astimezone(ZoneInfo(intent.zone)):%H:%M}")
    if intent.digest_at:
        chat.digest_at = f"{intent.digest_at:%H:%M}"
        said.append(f"reminders at {chat.digest_at}")
    if intent.quiet_from is not None and intent.quiet_to is not None:
        chat.quiet_from, chat.quiet_to = f"{intent.quiet_from:%H:%M}", f"{intent.quiet_to:%H:%M}"
        no_quiet = chat.quiet_from == chat.quiet_to
        said.append("no quiet hours" if no_quiet else f"quiet from {chat.quiet_from} to {chat.quiet_to}")
    return said


def _other_wishes(intent: SetPreference, visit: Visit) -> list[str]:
    """Set units, reminders on or off, and the board; return what was set, in words."""
    chat, said = visit.chat, []
    if intent.units:
        chat.units = intent.units
        said.append("feet and Fahrenheit" if intent.units is Units.IMPERIAL else "metres and Celsius")
    if intent.reminders is not None:
        chat.reminders = intent.reminders
        said.append("reminders on" if intent.reminders else "reminders off")
    if intent.dark is not None:
        chat.dark = intent.dark
        said.append("boards light on dark" if intent.dark else "boards dark on light")
    if intent.board_day is not None:
        chat.board_day = None if intent.board_day == "never" else WEEKDAYS.index(intent.board_day)
        said.append(_weekly(chat, visit))
    return said


def _weekly(chat: Chat, visit: Visit) -> str:
    """Say when the board comes by itself."""
    if chat.board_day is None:
        return "no board unless you ask"
    if not chat.reminders:
        return "a board a week, once reminders are on again"
    at = board_at(chat, visit.now)
    when = f"{at.astimezone(ZoneInfo(chat.zone)):%A %H:%M}" if at else ""
    return f"the board comes once a week, {when}"


def _own_word(intent: SetPreference, visit: Visit) -> Reply:
    """Keep, change or forget a word of the diver's own."""
    word = intent.word or ""
    data = {"intent": "set_preference", "word": word}
    if intent.forget:
        own_words.forget(visit.session, visit.locker_id, word)
        return Reply(f"Forgotten: {word}.", offers=(Offer("Undo", Undo()),), data=data)
    if intent.substance:
        own_words.learn(visit.session, visit.locker_id, word, substance=intent.substance)
        meaning = STUFF[intent.substance].name
    else:
        part = intent.part
        if part is None:
            return Reply("What does that word stand for?", ("Say: goo is silicone grease.",), data=data)
        own_words.learn(visit.session, visit.locker_id, word, kind=part.item, part=part.part)
        meaning = CATALOGUE[part.item].part(part.part).name
    return Reply(
        f"Remembered: {word} is {meaning}.",
        (f"Say: forget {word}, to drop it.",),
        offers=(Offer("Undo", Undo()),),
        data=data,
    )


def undo(intent: Undo, visit: Visit) -> Reply:
    """Take back what somebody's last message in this chat changed; asked again, the one before it."""
    if intent.dive:
        return log_dive(LogDive(corrects=True, removes=True), visit)
    chat_id = lockers.number(visit.chat.id)
    visit.takes_back = True
    if intent.entry_id is None:
        entry = journal.latest(visit.session, chat_id, visit.actor)
    else:
        entry = journal.get(visit.session, chat_id, intent.entry_id)
    data = {"intent": "undo", "undone": None}
    if entry is None or entry.undone_at is not None:
        return Reply("There is nothing to take back.", data=data)
    if not visit.enters(entry.locker_id or visit.locker_id):
        return Reply("You are no longer in that locker.", data=data)
    if entry.actor != visit.actor and visit.role is Role.MEMBER:
        return Reply(
            f"That was {visit.name_of(entry.actor)}: they, or the owner, can take it back.", data=data
        )
    what = take_back(visit, entry)
    if what is None:
        return Reply(
            "Later messages build on that one, so I left it.",
            ("Say undo to take back the last thing first.",),
            data=data,
        )
    total = dives.count(visit.session, visit.locker_id)
    return Reply(
        f"Taken back: {', '.join(what)}.",
        (f"{count(len(visit.kit()), 'item')}, {count(total, 'dive')} logged.",),
        data={"intent": "undo", "undone": entry.intent},
    )


def help_me(_intent: Help, _visit: Visit) -> Reply:
    """Say in a few lines what can be said."""
    return Reply(
        "Tell me what you dived, what you own and what you did to it; ask what goes on a part.",
        (
            "- add dry suit, plastic zip, latex seals",
            "- 2 dives today, salt, 30 m, 45 min each, sandy",
            "- what do I put on the neck ring?  can I use silicone grease on my 50 % bottle?",
            "- waxed the zip yesterday  /  twinset hydro tested May 2024",
            "- what is due?  trip 12 to 19 December, 14 dives, salt, 4 degrees",
            "- the manual says petroleum jelly on the scooter hull rings",
            "- zone Europe/Berlin  /  reminders at 18:00  /  quiet hours 22 to 7  /  I live in Germany",
            "- show board  /  pocket card  /  trip sheet  /  service record of the regulator",
            "- undo  /  snooze 3 days  /  show kit  /  export my data  /  forget me",
        ),
        (
            "I answer from rules and say whose. The maker's manual and a qualified technician decide on life support.",
        ),
        (Offer("Add kit", AddItem()), Offer("What is due", ShowDue()), Offer("Show kit", ShowKit())),
        {"intent": "help"},
    )


_NOTHING = "All right. Nothing was noted."


def misunderstood(intent: Misunderstood, _visit: Visit) -> Reply:
    """Say kindly what is wrong and what would work, or ask what was meant. Nothing was stored."""
    if intent.choices:
        offers = tuple(Offer(c.label, c.intent) for c in intent.choices)
        return Reply(
            intent.problem,
            offers=(*offers, Offer("Nothing", Misunderstood(problem=_NOTHING))),
            data={"intent": "choose"},
        )
    tries = tuple(f"- {line}" for line in intent.suggestions)
    return Reply(
        intent.problem,
        (("Try:", *tries, "or: help") if tries else ("Say help for what I can do.",)),
        data={"intent": "misunderstood", "suggestions": list(intent.suggestions)},
    )
