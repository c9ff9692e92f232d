"""Matrix, what is asked of the homeserver beside the sync: a single event, a file, what a long absence left out."""

import asyncio
from collections.abc import Mapping
from typing import Any

import structlog
from nio import ErrorResponse, Event
from nio.crypto.attachments import decrypt_attachment

from bot.transports.matrix_client import Client, RefusedError, granted, status_of
from bot.transports.matrix_read import TOO_LARGE, file_name, is_too_large, mapping
from store.exchange.logbook import MOST_BYTES

PAGE = 100
log = structlog.get_logger(__name__)


async def event_in(client: Client, room: str, event_id: str) -> Event | None:
    """Return an event of a room, None if there is none that the bot may see. RefusedError if that cannot be told now."""
    answer = await client.room_get_event(room, event_id)
    if not isinstance(answer, ErrorResponse):
        return answer.event if hasattr(answer.event, "sender") else None
    if 400 <= status_of(answer) < 500 and status_of(answer) not in {401, 408, 429}:
        return None
    raise RefusedError(answer)


async def replaced_by(client: Client, room: str) -> str | None:
    """Return the room that a room takes the place of; both must say so, for anybody could name a room of others."""
    old = (await _state(client, room, "m.room.create")).get("predecessor")
    before = mapping(old).get("room_id")
    if not isinstance(before, str):
        return None
    after = (await _state(client, before, "m.room.tombstone")).get("replacement_room")
    return before if after == room else None


async def _state(client: Client, room: str, kind: str) -> dict[str, Any]:
    answer = await client.room_get_state_event(room, kind)
    return mapping(getattr(answer, "content", None))


async def missed(client: Client, room: str, before: str, since: str) -> list[Event]:
    """Return what was said in a room between two syncs, oldest first."""
    found: list[Event] = []
    start: str | None = before
    while start:
        page = await client.room_messages(room, start, since, limit=PAGE)
        granted(page)
        found += page.chunk
        start = page.end if page.chunk else None
    return found[::-1]


async def file_of(client: Client, content: Mapping[str, Any]) -> dict[str, Any]:
    """Return the file of a message as fields of an update, decrypted where it has to be."""
    if is_too_large(content):
        return {"cannot": TOO_LARGE}
    file = mapping(content.get("file"))
    try:
        async with asyncio.timeout(60):
            fetched = await client.download(str(file.get("url") or content.get("url")))
        granted(fetched)
        body = bytes(fetched.body)
        if len(body) > MOST_BYTES:
            return {"cannot": TOO_LARGE}
        if file:
            body = decrypt_attachment(body, file["key"]["k"], file["hashes"]["sha256"], file["iv"])
    except Exception as error:  # noqa: BLE001 - keys and addresses are whatever somebody sent
        log.warning("file_failed", wire="matrix", reason=type(error).__name__)
        return {"cannot": "I could not fetch that file. Please send it again."}
    return {"file": (file_name(content), body)}
