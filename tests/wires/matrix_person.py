"""A person with a Matrix client, for tests: says things, taps reactions, sends files and sees what others wrote."""

import asyncio
import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from nio import (
    AsyncClient,
    AsyncClientConfig,
    ErrorResponse,
    MegolmEvent,
    Response,
    RoomPreset,
)
from nio.crypto.attachments import decrypt_attachment
from nio.exceptions import EncryptionError

from tests.wires.homeserver import Homeserver

# No retries behind the test's back: what the server answers is what the test gets.
CONFIG = AsyncClientConfig(max_limit_exceeded=0, max_timeouts=0, request_timeout=120)
FILTER = {"room": {"timeline": {"limit": 50}}}
ENCRYPTION = {"type": "m.room.encryption", "state_key": "", "content": {"algorithm": "m.megolm.v1.aes-sha2"}}
UNREAD = "m.room.encrypted"


class Refused(Exception):
    """The server's refusal: its error code and, for a rate limit, how long to wait."""

    def __init__(self, answer: ErrorResponse) -> None:
        super().__init__(f"{answer.status_code}: {answer.message}")
        self.errcode = answer.status_code
        self.retry_after_ms = answer.retry_after_ms


@dataclass(frozen=True)
class Seen:
    """A message or reaction as it came; msgtype is UNREAD where it could not be decrypted.

    An edit carries its new text and, in `replaces`, the message it edits; `reply_to` leaves out the fallback of threads.
    """

    event_id: str
    sender: str
    msgtype: str
    body: str
    html: str | None
    reply_to: str | None
    thread: str | None
    replaces: str | None
    reacts_to: tuple[str, str] | None
    redacted: bool
    encrypted: bool
    content: dict[str, Any]
    at: datetime

    @property
    def file(self) -> dict[str, Any] | None:
        """Where the file lies, with its keys where it is encrypted; None where there is no file."""
        if "file" in self.content:
            return dict(self.content["file"])
        return {"url": self.content["url"]} if "url" in self.content else None


class Person:
    """One user on one device, end-to-end encryption on, everybody's devices trusted."""

    def __init__(self, homeserver: Homeserver, name: str, folder: Path, password: str = "kelp") -> None:
        self.homeserver, self.name = homeserver, name
        self.user_id = homeserver.user_id(name)
        self._password = password
        self._events: dict[str, list[Any]] = {}
        self._redacted: set[str] = set()
        store = folder / name
        store.mkdir(parents=True, exist_ok=True)
        self.client = AsyncClient(homeserver.url, self.user_id, store_path=str(store), config=CONFIG)

    async def __aenter__(self) -> Self:
        self.homeserver.register(self.name, self._password)
        try:
            _taken(await self.client.login(self._password))
            await self.sync()
        except BaseException:
            await self._close()
            raise
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        await self._close()

    # rooms

    async def direct(self, bot_id: str, *, encrypted: bool) -> str:
        """Open a direct chat and invite one other."""
        return await self._create(None, [bot_id], encrypted=encrypted, direct=True)

    async def group(self, name: str, invited: Sequence[str], *, encrypted: bool) -> str:
        """Open a named room and invite others."""
        return await self._create(name, invited, encrypted=encrypted, direct=False)

    @property
    def invitations(self) -> list[str]:
        """The rooms this person is invited to, as far as synced."""
        return list(self.client.invited_rooms)

    async def join(self, room: str) -> None:
        """Join a room and wait until it is there."""
        _taken(await self.client.join(room))
        await self._until_known(room)

    async def leave(self, room: str) -> None:
        """Leave a room or decline an invitation."""
        _taken(await self.client.room_leave(room))

    async def members(self, room: str) -> set[str]:
        """Ask who has joined the room."""
        return {member.user_id for member in _taken(await self.client.joined_members(room)).members}

    # messages

    async def say(
        self,
        room: str,
        text: str,
        *,
        html: str | None = None,
        reply_to: str | None = None,
        mention: Sequence[str] = (),
        txn: str | None = None,
    ) -> str:
        """Send a text; the same txn again is the same message."""
        content = _text(text, html) | {"m.mentions": {"user_ids": list(mention)} if mention else {}}
        if reply_to is not None:
            content["m.relates_to"] = {"m.in_reply_to": {"event_id": reply_to}}
        return await self.send(room, "m.room.message", content, txn)

    async def edit(self, room: str, event_id: str, text: str, *, html: str | None = None) -> str:
        """Replace the text of an own message."""
        content = _text(f"* {text}", html) | {
            "m.new_content": _text(text, html),
            "m.relates_to": {"rel_type": "m.replace", "event_id": event_id},
        }
        return await self.send(room, "m.room.message", content)

    async def redact(self, room: str, event_id: str) -> str:
        """Take back a message or a reaction."""
        return str(_taken(await self.client.room_redact(room, event_id)).event_id)

    async def react(self, room: str, event_id: str, key: str) -> str:
        """Put a reaction on a message."""
        relation = {"rel_type": "m.annotation", "event_id": event_id, "key": key}
        return await self.send(room, "m.reaction", {"m.relates_to": relation})

    async def send_file(self, room: str, name: str, content: bytes, mime: str) -> str:
        """Upload a file and send it, encrypted where the room is."""
        await self._until_known(room)
        encrypt = bool(self.client.rooms[room].encrypted)
        answer, keys = await self.client.upload(
            io.BytesIO(content), mime, None if encrypt else name, encrypt=encrypt, filesize=len(content)
        )
        url = _taken(answer).content_uri
        message: dict[str, Any] = {"msgtype": "m.file", "body": name, "filename": name}
        message["info"] = {"mimetype": mime, "size": len(content)}
        message |= {"url": url} if keys is None else {"file": keys | {"url": url}}
        return await self.send(room, "m.room.message", message)

    async def send_location(self, room: str, lat: float, lon: float) -> str:
        """Send a place."""
        place = f"geo:{lat},{lon}"
        return await self.send(
            room, "m.room.message", {"msgtype": "m.location", "body": place, "geo_uri": place}
        )

    async def send(self, room: str, kind: str, content: dict[str, Any], txn: str | None = None) -> str:
        """Send any event, encrypted where the room is, and return its event id."""
        await self._until_known(room)
        if self.client.rooms[room].encrypted:
            # A client that has not heard of a new member leaves him without the key.
            await self.sync()
        answer = await self.client.room_send(room, kind, content, txn, ignore_unverified_devices=True)
        return str(_taken(answer).event_id)

    # what others wrote

    async def sync(self, timeout_ms: int = 0) -> None:
        """Take in what is new, waiting for it up to the time given, and do what encryption asks for."""
        known, since = set(self.client.rooms), self.client.next_batch
        # 0 would switch off this request's time limit in the client.
        answer = _taken(await self.client.sync(timeout_ms or 1, FILTER))
        await self._keys()
        for room, news in answer.rooms.join.items():
            if news.timeline.limited and room in known:
                self._take_in(room, await self._missed(room, news.timeline.prev_batch, since))
            self._take_in(room, news.timeline.events)

    async def wait_for(self, predicate: Callable[[], Any], timeout: float = 120) -> Any:  # noqa: ASYNC109
        """Sync until the predicate holds and return what it returned."""
        until = asyncio.get_running_loop().time() + timeout
        while not (held := predicate()):
            left = until - asyncio.get_running_loop().time()
            if left <= 0:
                raise AssertionError(f"{self.name} waited {timeout} s in vain; seen: {self._everything()}")
            await self.sync(max(1, int(min(left, 1.0) * 1000)))
        return held

    def seen(self, room: str) -> list[Seen]:
        """Return the messages and reactions of others in order, edits as messages of their own."""
        events = self._events.setdefault(room, [])
        events[:] = [self._read(event) for event in events]
        return [_seen(event, self._redacted) for event in events if event.sender != self.user_id]

    def standing(self, room: str) -> list[Seen]:
        """Return the messages of others as they now stand: edits applied, what was taken back gone."""
        standing: dict[str, Seen] = {}
        for message in self.seen(room):
            if message.redacted or message.reacts_to is not None:
                continue
            if message.replaces is None:
                standing[message.event_id] = message
            elif (first := standing.get(message.replaces)) is not None and first.sender == message.sender:
                standing[first.event_id] = replace(
                    first, body=message.body, html=message.html, content=message.content
                )
        return list(standing.values())

    async def download(self, seen: Seen) -> bytes:
        """Fetch the file of a message and decrypt it where needed."""
        if (file := seen.file) is None:
            raise ValueError(f"no file in {seen}")
        body = bytes(_taken(await self.client.download(file["url"])).body)
        if "key" not in file:
            return body
        return bytes(decrypt_attachment(body, file["key"]["k"], file["hashes"]["sha256"], file["iv"]))

    # inside

    async def _close(self) -> None:
        await self.client.close()
        if self.client.store is not None:
            self.client.store.database.close()

    async def _create(
        self, name: str | None, invited: Sequence[str], *, encrypted: bool, direct: bool
    ) -> str:
        answer = await self.client.room_create(
            name=name,
            is_direct=direct,
            preset=RoomPreset.trusted_private_chat if direct else RoomPreset.private_chat,
            invite=list(invited),
            initial_state=[ENCRYPTION] if encrypted else [],
        )
        room = str(_taken(answer).room_id)
        await self._until_known(room)
        return room

    async def _until_known(self, room: str) -> None:
        if room not in self.client.rooms:
            await self.wait_for(lambda: room in self.client.rooms)

    async def _keys(self) -> None:
        client = self.client
        await client.send_to_device_messages()
        if client.should_upload_keys:
            _taken(await client.keys_upload())
        if client.should_query_keys:
            _taken(await client.keys_query())
        if client.should_claim_keys:
            _taken(await client.keys_claim(client.get_users_for_key_claiming()))
            await client.send_to_device_messages()

    async def _missed(self, room: str, before: str, since: str) -> list[Any]:
        missed: list[Any] = []
        start: str | None = before
        while start:
            page = _taken(await self.client.room_messages(room, start, since, limit=100))
            missed += page.chunk
            start = page.end if page.chunk else None
        return missed[::-1]

    def _take_in(self, room: str, events: list[Any]) -> None:
        for event in events:
            if event.source.get("type") == "m.room.redaction":
                content = event.source.get("content", {})
                self._redacted.add(event.source.get("redacts") or content.get("redacts", ""))
            elif event.source.get("type") in ("m.room.message", "m.sticker", "m.reaction", UNREAD):
                self._events.setdefault(room, []).append(event)

    def _read(self, event: Any) -> Any:
        """Try once more to decrypt an event whose key had not come yet."""
        if not isinstance(event, MegolmEvent):
            return event
        try:
            return self.client.decrypt_event(event)
        except EncryptionError:
            return event

    def _everything(self) -> str:
        lines = [f"{room}: {event}" for room in self._events for event in self.seen(room)]
        return "\n".join(lines) or "nothing"


def _taken(answer: Response) -> Any:
    if isinstance(answer, ErrorResponse):
        raise Refused(answer)
    return answer


def _text(text: str, html: str | None) -> dict[str, Any]:
    rich = {} if html is None else {"format": "org.matrix.custom.html", "formatted_body": html}
    return {"msgtype": "m.text", "body": text} | rich


def _mapping(value: Any) -> dict[str, Any]:
    """Take what others sent for a mapping only where it is one."""
    return value if isinstance(value, dict) else {}


def _seen(event: Any, redacted: set[str]) -> Seen:
    kind, whole = event.source["type"], _mapping(event.source.get("content"))
    relation = _mapping(whole.get("m.relates_to"))
    how, target = relation.get("rel_type"), relation.get("event_id")
    content = _mapping(whole.get("m.new_content")) if how == "m.replace" else whole
    falls_back = relation.get("is_falling_back", False)
    return Seen(
        event_id=event.event_id,
        sender=event.sender,
        msgtype=content.get("msgtype", kind),
        body=content.get("body", ""),
        html=content.get("formatted_body"),
        reply_to=None if falls_back else _mapping(relation.get("m.in_reply_to")).get("event_id"),
        thread=target if how == "m.thread" else None,
        replaces=target if how == "m.replace" else None,
        reacts_to=(str(target), str(relation.get("key"))) if how == "m.annotation" else None,
        redacted=event.event_id in redacted or "redacted_because" in event.source.get("unsigned", {}),
        encrypted=event.decrypted or kind == UNREAD,
        content=content,
        at=datetime.fromtimestamp(event.server_timestamp / 1000, UTC),
    )
