"""Carries what is due to the wires: claim, read the facts again, send, settle. One chat never waits for another."""

import asyncio
from collections.abc import Callable, Collection
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import partial
from typing import Protocol, TypeVar

import structlog

from scheduler.clock import Clock, local_date
from scheduler.digest import Digest, split_stale
from scheduler.plan import wishes_of
from scheduler.policy import after_quiet, hour_of, retry_at
from store import letters, lockers, meter, outbox, tasks
from store.engine import Session, Store
from store.errors import StoreError
from store.tables import Notice

CHATS_AT_ONCE = 50
"""Chats claimed and not yet settled; most of them wait for their turn on the wire."""
SETTLE_AGAIN_S = 1.0
"""How soon what became of a message is noted again, where the database is out of reach."""
FINISH_S = 5.0
"""How long what is in flight may take to arrive once delivery is told to stop: what is cut off may come twice."""
T = TypeVar("T")
log = structlog.get_logger(__name__)


@dataclass(frozen=True, slots=True)
class Failed:
    """A wire could not take the message. `wait`: what it asked for; `gone`: the chat will never take one again.

    `moved_to`: the wire gave the chat that address. `everywhere`: the wait is for all chats. `unsure`: it may have
    arrived all the same, as when the line broke before the answer. `never`: the wire will not take this very message.
    `done`: parts of it that did arrive, the last of them as the wire's message `under`.
    """

    reason: str
    wait: timedelta | None = None
    gone: bool = False
    moved_to: str | None = None
    everywhere: bool = False
    unsure: bool = False
    never: bool = False
    done: int = 0
    under: str | None = None


class Courier(Protocol):
    """Whoever turns a digest into a message on its wire. It is called once a chat and round."""

    @property
    def wires(self) -> Collection[str]:
        """Name the wires it carries for; what is due elsewhere is left alone."""
        ...

    async def carry(self, digest: Digest) -> Failed | None:
        """Send the digest; None once the wire has taken it. Never raises for a refusal or a broken line."""
        ...


async def deliver(store: Store, courier: Courier, clock: Clock) -> int:
    """Send all that is due now, one message a chat; return how many messages went out."""
    sent, more, moved = 0, True, False
    under_way: set[asyncio.Task[Failed | None]] = set()
    claim: asyncio.Task[list[tuple[Digest | None, list[Notice]]]] | None = None
    try:
        while more or claim or under_way:
            room = CHATS_AT_ONCE - len(under_way)
            if more and claim is None and room >= CHATS_AT_ONCE // 2:  # while the rest is still being sent
                work = partial(_claim, now=clock.now(), chats=room, wires=courier.wires)
                claim = asyncio.create_task(_write(store, work))
            waited = {*under_way, *({claim} if claim else ())}
            done, _ = await asyncio.wait(waited, return_when=asyncio.FIRST_COMPLETED)
            if claim is not None and claim.done():
                claimed, claim = claim.result(), None
                more, moved = bool(claimed) or moved, False
                under_way |= {
                    asyncio.create_task(_carry(digest, notices, store, courier, clock))
                    for digest, notices in claimed
                    if digest is not None
                }
            finished = under_way & done
            under_way -= finished
            ends = [task.result() for task in finished]
            sent += ends.count(None)
            # what goes on at once may have been missed by a claim that ran meanwhile
            moved |= any(end is not None and end.moved_to is not None for end in ends)
            more |= moved
    except (
        asyncio.CancelledError
    ):  # told to stop: what is still in flight after a while keeps its lease and its key
        if under_way:
            _, late = await asyncio.wait(under_way, timeout=FINISH_S)
            for task in late:
                task.cancel()
        raise
    finally:
        await asyncio.gather(*under_way, return_exceptions=True)  # one that raised leaves none behind
    return sent


async def _carry(
    digest: Digest, notices: list[Notice], store: Store, courier: Courier, clock: Clock
) -> Failed | None:
    """Send one chat's message and settle it; None if the wire took it."""
    failed = await courier.carry(digest)
    chat_id = lockers.number(digest.chat.id)
    now = clock.now()
    for _ in range(int(outbox.LEASE.total_seconds() / SETTLE_AGAIN_S)):  # after that it may be another's
        try:
            await _write(store, lambda s: _settle(s, chat_id, notices, failed, now, repeats=digest.repeats))
            break
        except StoreError as error:
            log.error("store_unusable", wire=digest.chat.wire, reason=str(error))  # noqa: TRY400 - one line, no trace: not a bug
            await asyncio.sleep(SETTLE_AGAIN_S)
    given_up = failed is not None and all(retry_at(n.attempts, now, failed.wait) is None for n in notices)
    meter.tell("send", wire=digest.chat.wire, what="reminder", outcome=outcome(failed, given_up=given_up))
    return failed


async def _write(store: Store, work: Callable[[Session], T]) -> T:
    return await asyncio.to_thread(store.write, work)


def _claim(
    session: Session, now: datetime, chats: int, wires: Collection[str]
) -> list[tuple[Digest | None, list[Notice]]]:
    """Claim what is due and read its facts again; None for a digest: nothing of it is to be sent now."""
    outbox.release_expired(session, now)
    free = [w for w in wires if not held(session, w, now)]
    claimed = outbox.claim(session, now, chats, free)
    return [(_read_again(session, chat_id, n, now), n) for chat_id, n in claimed.items()]


def held(session: Session, wire: str, now: datetime) -> bool:
    """Tell whether nothing may be sent on a wire just now."""
    until = letters.state(session, wire).hold_until
    return until is not None and until > now


def _read_again(session: Session, chat_id: int, notices: list[Notice], now: datetime) -> Digest | None:
    """Return the digest to send now; None if nothing is left of it or its hour has not come."""
    chat = lockers.find_chat(session, chat_id)
    if chat is None:  # forgotten meanwhile, with all its notices
        return None
    wishes = wishes_of(chat)
    today = local_date(now, chat.zone)
    again = next((n.sent_as for n in notices if n.sent_as), None)
    if again:  # nobody knows whether it arrived: it goes again by the same key, alone, and the rest after it
        rest = [n for n in notices if n.sent_as != again]
        outbox.settle(session, rest, "pending", send_at=now + outbox.LEASE, tried=False)
        notices = [n for n in notices if n.sent_as == again]
    digest, sent, stale = split_stale(session, chat, notices, now)
    outbox.settle(session, stale, "cancelled")
    tasks.untell(session, stale, only_before=True)
    if not chat.reminders:
        outbox.settle(session, notices, "cancelled")
        tasks.untell(session, notices)
        return None
    earliest = after_quiet(now, wishes)
    told_on = chat.last_digest_on
    if told_on is not None and told_on > today + timedelta(days=1):  # over the date line it may be tomorrow
        told_on = None  # noted by a clock that was ahead and has been put right
    if told_on is not None and told_on >= today and not digest.cannot_wait:
        earliest = max(earliest, hour_of(told_on + timedelta(days=1), wishes))
    if earliest > now:
        outbox.settle(session, notices, "pending", send_at=earliest, tried=False, unsure=bool(again))
        return None
    if digest.empty:
        return None
    digest = replace(digest, key=again or digest.key, repeats=again is not None)
    outbox.name_batch(session, sent, digest.key)
    return digest


def _settle(
    session: Session,
    chat_id: int,
    notices: list[Notice],
    failed: Failed | None,
    now: datetime,
    *,
    repeats: bool,
) -> None:
    chat = lockers.find_chat(session, chat_id)
    if chat is None:
        return
    if failed is None:
        outbox.settle(session, notices, "sent", now=now)
        chat.last_digest_on = local_date(now, chat.zone)
    elif failed.gone or failed.never:
        outbox.settle(session, notices, "dead", error=failed.reason)
    else:
        for notice in notices:
            again = retry_at(notice.attempts, now, failed.wait)
            if again is not None and failed.moved_to not in {None, chat.address}:
                again = now
            state = "pending" if again else "dead"
            outbox.settle(
                session, [notice], state, send_at=again, error=failed.reason, unsure=failed.unsure or repeats
            )
    session.add(chat)
    if failed is not None:
        log.warning("reminder_failed", chat=chat_id, reason=failed.reason, gone=failed.gone)
        heed(session, chat.wire, chat.address, failed, now)


def outcome(failed: Failed | None, *, given_up: bool) -> str:
    """Say in a word what became of a send."""
    if failed is None:
        return "arrived"
    if failed.gone:
        return "gone"
    return "given_up" if failed.never or given_up else "again"


def heed(session: Session, wire: str, address: str, failed: Failed, now: datetime) -> None:
    """Keep what a wire said about a chat: that it is gone, moved, or to be left in peace for a while.

    One chat in a hold is held alone. Once a second one is told to wait as well, the flood is the whole wire's.
    """
    if failed.gone:
        lockers.mute(session, wire, address, now)
    if failed.moved_to:
        lockers.move_chat(session, wire, address, failed.moved_to)
    if failed.wait is None:
        return
    letters.take_turn(session, wire)
    chat = lockers.at_address(session, wire, address)
    if failed.everywhere or lockers.others_held(session, wire, address, now):
        letters.hold_wire(session, wire, now + failed.wait)
    if chat is not None:
        chat.hold_until = max(chat.hold_until or now, now + failed.wait)
        session.add(chat)
