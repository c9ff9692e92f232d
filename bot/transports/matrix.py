"""Matrix: what people write, tap, edit and take back, in plain and in encrypted rooms. Only these files know its library.

The sync token is stored after what it brought was handled, and every event acts once by its id: a restart neither loses
nor repeats.
"""

import asyncio
from collections.abc import Awaitable, Callable, Collection, Mapping
from datetime import datetime
from typing import Any, TypeVar

import aiohttp
import structlog
from nio import ErrorResponse, Event, MegolmEvent, RoomInfo, SyncResponse
from nio.exceptions import LocalProtocolError

from bot.conversation import Conversation
from bot.health import Health
from bot.transports import matrix_read as read
from bot.transports.matrix_account import Account, LoginRefusedError, log_in, renew
from bot.transports.matrix_client import NO_RETRIES, Client, RefusedError, granted, wait_of
from bot.transports.matrix_fetch import event_in, file_of, missed, replaced_by
from bot.transports.matrix_send import Sender
from bot.updates import Update
from scheduler.clock import Clock
from scheduler.limits import Pacer
from store import letters, meter
from store.engine import Store
from store.errors import StoreError

WIRE = "matrix"
SYNC_MS = 25_000
UNREAD_S = 15.0
"""How long a message may wait for its key before its writer is told."""
MOST_UNREAD = 1000
SOON_MS = 1_000
"""How long a sync may take while something waits for it to come back."""
PAUSE_S, LONGEST_PAUSE_S = 1.0, 60.0
JOIN_TRIES = 5
_FILTER = {"presence": {"types": []}, "room": {"timeline": {"limit": 100}, "ephemeral": {"types": []}}}
T = TypeVar("T")
_OURS = (
    RefusedError,
    LoginRefusedError,
    LocalProtocolError,
    StoreError,
    aiohttp.ClientError,
    TimeoutError,
    OSError,
)
"""What is not the fault of the event that is being handled: it is handled again."""
log = structlog.get_logger(__name__)


class Matrix:
    """One user on Matrix."""

    def __init__(
        self,
        account: Account,
        conversation: Conversation,
        store: Store,
        clock: Clock,
        *,
        pacer: Pacer,
        ring: Callable[[], None],
        servers: Collection[str] = (),
        loud: bool = False,
    ) -> None:
        """Talk as an account; `ring` says that an answer was stored. Invitations from `servers` are accepted, or from its own if empty."""
        self._account, self._conversation, self._store = account, conversation, store
        self._clock, self._ring = clock, ring
        self._servers = frozenset(servers) or {account.user.partition(":")[2]}
        account.folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        self.client = Client(
            account.homeserver, account.user, store_path=str(account.folder), config=NO_RETRIES
        )
        self._sender = Sender(self.client, pacer, loud=loud)
        self.send = self._sender.send
        self._inviters: dict[str, str] = {}
        self._asked: dict[str, tuple[str, int]] = {}
        """Invitations that could not be accepted yet, by room: who invited, and how often it was tried."""
        self._unread: dict[str, tuple[str, MegolmEvent, float]] = {}
        self._told: set[tuple[str, str]] = set()
        """Rooms and keys of messages that could not be read, whose writers know."""
        self._expired: bool | None = None
        """Whether the device is kept, once the token is no longer taken."""
        self.health = Health(WIRE, well=False, said="not started")

    async def open(self) -> None:
        """Log in; LoginRefusedError if that is refused."""
        await log_in(self.client, self._account)
        self.health = Health(WIRE, well=True, said=f"logged in as {self._account.user}")

    def refuses(self, error: Exception) -> str | None:
        """Say why it is of no use to try again, None if it is."""
        return str(error) if isinstance(error, LoginRefusedError) else None

    async def close(self) -> None:
        """Close the connection and the key store."""
        await self.client.close()
        if self.client.store is not None:
            self.client.store.database.close()

    async def listen(self) -> None:
        """Sync and handle until cancelled."""
        since = await _off(self._store.read, lambda s: letters.state(s, WIRE).position)
        whole, pause = True, PAUSE_S
        while True:
            meter.tell("look", wire=WIRE)
            try:
                whole = await self._renew() or whole
                self.client.next_batch = ""  # or the library takes a repeated answer for one it knows
                at_once = SOON_MS if self._unread or self._asked else SYNC_MS
                async with asyncio.timeout(120):  # wait_for would lose a stop that comes with the answer
                    answer = await self.client.sync(1 if whole else at_once, _FILTER, since, full_state=whole)
                granted(answer)
                await self._keys()
                await self._handle(answer, since)
                if not self._unread and _brought(answer):
                    batch = answer.next_batch
                    await _off(self._store.write, lambda s, b=batch: letters.set_position(s, WIRE, b))
                since, whole, pause = answer.next_batch, False, PAUSE_S
                self._sender.ready.set()
                self.health = Health(WIRE, well=True, said=f"syncing as {self._account.user}")
            except LoginRefusedError as error:
                self.health = Health(WIRE, well=False, said=str(error))
                raise
            except Exception as error:  # noqa: BLE001 - whatever the line or the library throws, the loop goes on
                await self._stumbled(error, pause)
                pause = min(LONGEST_PAUSE_S, pause * 2)

    async def _renew(self) -> bool:
        """Log in again if the token expired; tell whether all is to be learnt anew, as by another device."""
        if self._expired is None and not self.client.access_token:
            self._expired = (
                True  # a message that was being sent heard of it, and the library forgot the token
            )
        if self._expired is None:
            return False
        soft = self._expired
        if not soft:
            self._sender.ready.clear()
        await renew(self.client, self._account, soft=soft)
        self._expired = None
        return not soft

    async def _stumbled(self, error: Exception, pause: float) -> None:
        """Say what went wrong and wait; with an expired token not before it was tried to get another."""
        refused = error.answer if isinstance(error, RefusedError) else None
        why = str(refused.status_code or "no readable answer") if refused else type(error).__name__
        self.health = Health(WIRE, well=False, said=f"sync fails: {why}")
        log.warning("updates_failed", wire=WIRE, reason=why, pause_s=pause)
        if refused is not None and refused.status_code == "M_UNKNOWN_TOKEN" and self._expired is None:
            self._expired = bool(refused.soft_logout)
            if pause == PAUSE_S:
                return
        asked = wait_of(refused) if refused is not None else None
        await asyncio.sleep(asked.total_seconds() if asked else pause)

    async def _keys(self) -> None:
        """Do what encryption asks for between two syncs."""
        client = self.client
        await client.send_to_device_messages()
        if client.should_upload_keys:
            await client.keys_upload()
        if client.should_query_keys:
            await client.keys_query()
        if client.should_claim_keys:
            await client.keys_claim(client.get_users_for_key_claiming())
            await client.send_to_device_messages()

    async def _handle(self, answer: SyncResponse, since: str | None) -> None:
        for room, invited in answer.rooms.invite.items():
            await self._invited(room, invited.invite_state)
        for room in answer.rooms.leave:
            await _off(self._conversation.gone, WIRE, room, self._clock.now())
        await self._join_later()
        if since is not None:  # what was said before the bot was there was not said to it
            for room, news in answer.rooms.join.items():
                await self._heard(room, news, since)
        await self._read_late()

    async def _heard(self, room: str, news: RoomInfo, since: str) -> None:
        """Handle what happened in a room, what the homeserver left out of a long absence included."""
        events, user = news.timeline.events, self.client.user_id
        joined = next((n for n, e in enumerate(events) if read.own(e, user, "join")), None)
        if (
            joined is not None
        ):  # what was said since the invitation is: many programs say the first thing with it
            asked = [n for n, e in enumerate(events[:joined]) if read.own(e, user, "invite")]
            inviter = self._inviters.pop(room, None) or (events[asked[-1]].sender if asked else None)
            events = events[asked[-1] if asked else joined :]
            await self._moved(room)
            if inviter is not None:
                await self._take(room, inviter, self._clock.now(), f"{room}/greeting", text="help")
        elif news.timeline.limited:
            events = [*await missed(self.client, room, news.timeline.prev_batch, since), *events]
        for event in events:
            await self._event(room, event)

    async def _invited(self, room: str, state: list[Any]) -> None:
        """Accept an invitation from a server that is trusted, decline any other."""
        asked = [
            e
            for e in state
            if read.of(e).get("state_key") == self.client.user_id
            and read.content_of(e).get("membership") == "invite"
        ]
        inviter = read.words_of(getattr(asked[0], "sender", "")) if asked else ""
        if inviter.partition(":")[2] not in self._servers:
            log.warning("invitation_declined", wire=WIRE)
            await self.client.room_leave(room)
            return
        self._asked[room] = (inviter, 0)

    async def _join_later(self) -> None:
        """Accept what invites there are; one that fails is tried a few times and keeps nothing else waiting."""
        for room, (inviter, tries) in list(self._asked.items()):
            joined = await self.client.join(room)
            if not isinstance(joined, ErrorResponse):
                self._inviters[room] = inviter
            else:
                log.warning("join_failed", wire=WIRE, reason=str(joined.status_code))
                if joined.status_code not in {"M_FORBIDDEN", "M_NOT_FOUND"} and tries + 1 < JOIN_TRIES:
                    self._asked[room] = (inviter, tries + 1)
                    continue
            del self._asked[room]

    async def _event(self, room: str, event: Event) -> None:
        """Handle one event; one that cannot be handled, whatever is in it, stands in the way of no other."""
        sender = getattr(event, "sender", None)
        if sender is None or sender == self.client.user_id:
            return
        if isinstance(event, MegolmEvent):
            if len(self._unread) < MOST_UNREAD:
                late = (room, event, asyncio.get_running_loop().time())
                self._unread.setdefault(event.event_id, late)
            return
        handlers: dict[object, Callable[[str, Event, datetime], Awaitable[None]]] = {
            "m.room.member": self._member,
            "m.room.tombstone": self._upgraded,
            "m.reaction": self._reacted,
            "m.room.redaction": self._redacted,
            "m.room.message": self._message,
        }
        if handler := handlers.get(read.of(event).get("type")):
            try:
                await handler(room, event, read.when(event, self._clock.now()))
            except _OURS:
                raise
            except Exception as error:  # noqa: BLE001 - as the line above says
                log.warning("event_unreadable", wire=WIRE, reason=type(error).__name__)

    async def _member(self, room: str, event: Event, _at: datetime) -> None:
        who = read.of(event).get("state_key")
        if not isinstance(who, str) or who == self.client.user_id:
            return
        if read.content_of(event).get("membership") in ("leave", "ban"):
            await _off(self._conversation.parted, WIRE, room, who)

    async def _upgraded(self, _room: str, event: Event, _at: datetime) -> None:
        replacement = read.content_of(event).get("replacement_room")
        if isinstance(replacement, str) and read.of(event).get("state_key") == "":
            await self.client.join(replacement)  # where only who is invited may, the invitation follows
            await self._moved(replacement)

    async def _moved(self, room: str) -> None:
        """Give the chat of the room that this one takes the place of its new address."""
        if (old := await replaced_by(self.client, room)) is not None:
            await _off(self._conversation.moved, WIRE, old, room)

    async def _reacted(self, room: str, event: Event, at: datetime) -> None:
        meant = read.reaction(read.content_of(event))
        shown = await event_in(self.client, room, meant[0]) if meant is not None else None
        if meant is None or shown is None or shown.sender != self.client.user_id:
            return
        tap = {"under": meant[0], "message": event.event_id, **meant[1]}
        thread = read.heard(read.content_of(shown)).thread
        await self._take(room, event.sender, at, event.event_id, topic=thread, **tap)

    async def _redacted(self, room: str, event: Event, at: datetime) -> None:
        target = read.event_id(read.of(event).get("redacts") or read.content_of(event).get("redacts"))
        if target is not None:
            await self._take(room, event.sender, at, event.event_id, message=target, taken_back=True)

    async def _message(self, room: str, event: Event, at: datetime) -> None:
        content = read.content_of(event)
        if content.get("msgtype") == "m.notice":  # nobody answers those, or two programs never stop
            return
        heard, first = read.heard(content), None
        thread, answered = heard.thread, heard.answered
        if heard.edits:
            first = await event_in(self.client, room, heard.edited) if heard.edited else None
            if first is None or first.sender != event.sender:  # only who wrote it corrects it
                return
            thread, at = read.heard(read.content_of(first)).thread, read.when(first, at)
        elif answered is not None and not await self._said_it(room, answered):
            answered = None
        if not (answered or self._is_addressed(room, content, heard.said) or await self._was(room, first)):
            return
        fields = await self._said(room, heard.said, answered, edits=heard.edits)
        if fields:
            message = heard.edited if heard.edits else event.event_id
            await self._take(
                room,
                event.sender,
                at,
                event.event_id,
                topic=thread,
                message=message,
                edits=heard.edits,
                **fields,
            )

    async def _said(
        self, room: str, content: Mapping[str, Any], answered: str | None, *, edits: bool
    ) -> dict[str, Any]:
        """Return what a message says as fields of an update; empty if there is nothing to answer."""
        kind = content.get("msgtype")
        if kind in ("m.text", "m.emote"):
            text = read.without_name(read.body_of(content), self._names(room), bare=self._in_group(room))
            return read.words(text, answered)
        if edits:
            return {}
        return await file_of(self.client, content) if kind == "m.file" else read.other_than_text(content)

    async def _read_late(self) -> None:
        """Read what has got its key meanwhile; tell the writers of what has waited too long, once for each key."""
        now = asyncio.get_running_loop().time()
        for event_id, (room, event, since) in list(self._unread.items()):
            found = self.client.read(event)
            if found is not None:
                await self._event(room, found)
            elif now - since < UNREAD_S:
                continue
            elif not self._in_group(room) and (room, event.session_id) not in self._told:
                cannot = "I could not read that: its key did not reach me. Please send it again."
                await self._take(room, event.sender, self._clock.now(), event_id, cannot=cannot)
                self._told.add((room, event.session_id))
            del self._unread[event_id]

    async def _take(self, room: str, sender: str, at: datetime, update_id: str, **said: Any) -> None:
        known = self.client.rooms.get(room)
        update = Update(
            WIRE,
            room,
            sender,
            at,
            update_id=update_id,
            actor_name=read.name_of(known.user_name(sender) if known else None) or sender,
            group=self._in_group(room),
            by_post=True,
            received=self._clock.now(),
            **said,
        )
        await _off(self._conversation.take, update)
        self._ring()

    def _in_group(self, room: str) -> bool:
        known = self.client.rooms.get(room)
        return known is not None and known.member_count > 2

    def _names(self, room: str) -> set[str]:
        """Return what the bot is called."""
        known, user = self.client.rooms.get(room), self.client.user_id
        own = known.users.get(user) if known is not None else None
        shown = read.name_of(own.display_name) if own is not None else ""
        return {user, user.removeprefix("@"), user.partition(":")[0].removeprefix("@"), shown} - {""}

    def _is_addressed(self, room: str, content: Mapping[str, Any], said: Mapping[str, Any]) -> bool:
        """Tell whether the bot is spoken to: always in a room of two, in others by name or by "!"."""
        user = self.client.user_id
        if not self._in_group(room) or read.mentions(said, user) or read.mentions(content, user):
            return True
        return read.is_called(read.body_of(said), self._names(room))

    async def _was(self, room: str, first: Event | None) -> bool:
        """Tell whether the bot was spoken to by a message that is now edited."""
        if first is None:
            return False
        content = read.content_of(first)
        answered = read.heard(content).answered
        named = self._is_addressed(room, content, content)
        return named or (answered is not None and await self._said_it(room, answered))

    async def _said_it(self, room: str, event_id: str) -> bool:
        """Tell whether a message is the bot's."""
        event = await event_in(self.client, room, event_id)
        return event is not None and event.sender == self.client.user_id


def _brought(answer: SyncResponse) -> bool:
    rooms = answer.rooms
    return bool(rooms.join or rooms.invite or rooms.leave or answer.to_device_events)


async def _off(work: Callable[..., T], *given: object) -> T:
    """Do what waits for the database off the event loop."""
    return await asyncio.to_thread(work, *given)
