"""Matrix: what an event says, read from content that anybody may have written. All pure, and nothing here raises."""

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from bot.updates import Meant
from store.exchange.logbook import MOST_BYTES

_MEANT = {**dict.fromkeys("✅✔☑👍", Meant.DONE), **dict.fromkeys("⏰⏳💤🕒", Meant.LATER)}
_VARIANT, _KEYCAP = "\ufe0f", "\u20e3"
_QUOTED = re.compile(r"\A(?:> .*\n)+\n")
_PLACE = re.compile(r"geo:(-?\d{1,3}(?:\.\d{1,20})?),(-?\d{1,3}(?:\.\d{1,20})?)(?![\d.])", re.ASCII)
_EVENT_ID = re.compile(r"\$[!-~]{1,254}")
_NAME_CHARS = 60
PICTURE = "I cannot read pictures. Write me what it shows, or send a dive log file."
OTHER = "I can only read text and dive log files."
TOO_LARGE = f"That file is too large: I read up to {MOST_BYTES // 1024 // 1024} MB."


@dataclass(frozen=True, slots=True)
class Heard:
    """How a message stands to others. `edited`: the message whose place it takes; `answered`: the one it answers."""

    said: Mapping[str, Any]
    edits: bool
    edited: str | None
    thread: str | None
    answered: str | None


def of(event: Any) -> dict[str, Any]:
    """Return an event as it came, decrypted."""
    return mapping(getattr(event, "source", None))


def content_of(event: Any) -> dict[str, Any]:
    """Return what an event holds."""
    return mapping(of(event).get("content")) or mapping(getattr(event, "content", None))


def mapping(value: object) -> dict[str, Any]:
    """Take what others sent for a mapping only where it is one."""
    return value if isinstance(value, dict) else {}


def words_of(value: object) -> str:
    """Take what others sent for text only where it is that, without what no database keeps."""
    told = value if isinstance(value, str) else ""
    return told.encode("utf-8", "replace").decode().replace("\0", "")


def event_id(value: object) -> str | None:
    """Take what others sent for the name of an event only where it can be one."""
    return value if isinstance(value, str) and _EVENT_ID.fullmatch(value) else None


def name_of(value: object) -> str:
    """Return a name on one line, without characters that are not seen; nobody's name fills a screen."""
    return " ".join("".join(c if c.isprintable() else " " for c in words_of(value)).split())[:_NAME_CHARS]


def when(event: Any, now: datetime) -> datetime:
    """Return when an event was sent, by the clock of whichever server that was: never later than now."""
    try:
        return min(datetime.fromtimestamp(max(0, event.server_timestamp) / 1000, UTC), now)
    except (OverflowError, ValueError, TypeError, OSError):
        return now


def body_of(content: Mapping[str, Any]) -> str:
    """Return the text of a message without the quotation that older programs put before an answer."""
    return _QUOTED.sub("", words_of(content.get("body")))


def heard(content: Mapping[str, Any]) -> Heard:
    """Return how a message stands to others."""
    relation = mapping(content.get("m.relates_to"))
    kind, target = relation.get("rel_type"), event_id(relation.get("event_id"))
    answered = event_id(mapping(relation.get("m.in_reply_to")).get("event_id"))
    edits = kind == "m.replace"
    return Heard(
        said=mapping(content.get("m.new_content")) if edits else content,
        edits=edits,
        edited=target if edits else None,
        thread=target if kind == "m.thread" else None,
        answered=None if edits or (kind == "m.thread" and relation.get("is_falling_back")) else answered,
    )


def mentions(content: Mapping[str, Any], user_id: str) -> bool:
    """Tell whether a message mentions a user."""
    named = mapping(content.get("m.mentions")).get("user_ids")
    return isinstance(named, list) and user_id in named


def without_name(text: str, names: Collection[str], *, bare: bool = True) -> str:
    """Return a text without the bot's name before it; not `bare`: only where a sign sets the name apart from what is said."""
    known = "|".join(re.escape(n) for n in sorted(names, key=len, reverse=True) if n)
    if not known:
        return text.strip()
    after = r"(?:\s*[:,]\s*|\s+|$)" if bare else r"\s*[:,]\s*"
    return re.sub(
        rf"(?i)^\s*(?:@(?:{known})(?:\s*[:,]\s*|\s+|$)|(?:{known}){after})", "", text, count=1
    ).strip()


def is_called(body: str, names: Collection[str]) -> bool:
    """Tell whether a text begins with the bot's name, or with "!", which is how a command begins here."""
    return body.lstrip().startswith("!") or without_name(body, names) != body.strip()


def reaction(content: Mapping[str, Any]) -> tuple[str, dict[str, Any]] | None:
    """Return the event reacted to, and what the reaction means as fields of an update; None if it means nothing here."""
    relation = mapping(content.get("m.relates_to"))
    key, under = words_of(relation.get("key")).replace(_VARIANT, ""), event_id(relation.get("event_id"))
    if under is None:
        return None
    if len(key) == 2 and key[0] in "123456789" and key[1] == _KEYCAP:
        return under, {"tap_place": int(key[0]) - 1}
    if key == "🔟":
        return under, {"tap_place": 9}
    return (under, {"meant": _MEANT[key[:1]]}) if key[:1] in _MEANT else None


def is_number(text: str) -> bool:
    """Tell whether a text is the number of a choice."""
    return text.isascii() and text.isdigit() and len(text) < 3


def words(text: str, answered: str | None) -> dict[str, Any]:
    """Return what a text says: a number in answer to a message of the bot is one of its choices, "!" begins a command."""
    if answered is not None and is_number(text):
        return {"tap_place": int(text) - 1, "under": answered}
    return {"text": f"/{text[1:]}" if text.startswith("!") else text}


def other_than_text(content: Mapping[str, Any]) -> dict[str, Any]:
    """Return what a message that is neither text nor file says; empty if that is nothing."""
    kind = content.get("msgtype")
    if kind == "m.location":
        place = _PLACE.match(words_of(content.get("geo_uri")))
        spot = (float(place[1]), float(place[2])) if place else None
        return {"place": spot} if spot and abs(spot[0]) <= 90 and abs(spot[1]) <= 180 else {}
    return {"cannot": PICTURE if kind == "m.image" else OTHER}


def file_name(content: Mapping[str, Any]) -> str:
    """Return what a file is called."""
    return name_of(content.get("filename")) or name_of(content.get("body")) or "log"


def is_too_large(content: Mapping[str, Any]) -> bool:
    """Tell whether a file says that it is larger than what is read."""
    size = mapping(content.get("info")).get("size")
    return isinstance(size, int | float) and size > MOST_BYTES


def own(event: Any, user_id: str, membership: str) -> bool:
    """Tell whether an event is the bot's own change to a membership; a new name or picture is none."""
    if of(event).get("type") != "m.room.member" or of(event).get("state_key") != user_id:
        return False
    before = mapping(mapping(of(event).get("unsigned")).get("prev_content")).get("membership")
    return content_of(event).get("membership") == membership != before
