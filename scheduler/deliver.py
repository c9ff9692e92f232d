"""Carries what is due to the wires: claim, read the facts again, send, settle. The only loop of this floor that waits."""

import asyncio
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Protocol, TypeVar

import structlog

from scheduler.clock import Clock, local_date
from scheduler.digest import Digest, split_stale
from scheduler.plan import wishes_of
from scheduler.policy import after_quiet, hour_of, retry_at
from store import lockers, outbox, tasks
from store.engine import Session, Store
from store.tables import Notice

CHATS_A_ROUND = 50
T = TypeVar("T")
log = structlog.get_logger(__name__)


@dataclass(frozen=True, slots=True)
class Failed:
    """A wire could not take the message. `wait`: what it asked for; `gone`: the chat will never take one again."""

    reason: str
    wait: timedelta | None = None
    gone: bool = False


class Courier(Protocol):
    """Whoever turns a digest into a message on its wire. It is called once a chat and round."""

    async def carry(self, digest: Digest) -> Failed | None:
        """Send the digest; None once the wire has taken it. Never raises for a refusal or a broken line."""
        ...


async def deliver(store: Store, courier: Courier, clock: Clock) -> int:
    """Send all that is due now, one message a chat; return how many messages went out."""
    sent = 0
    while claimed := await _write(store, lambda s: _claim(s, clock.now())):
        for chat_id, notices in claimed.items():
            sent += await _deliver_to(chat_id, notices, store, courier, clock)
        if len(claimed) < CHATS_A_ROUND:
            break
    return sent


async def _deliver_to(
    chat_id: int, notices: list[Notice], store: Store, courier: Courier, clock: Clock
) -> bool:
    """Send one chat's message; tell whether the wire took it."""
    digest = await _write(store, lambda s: _read_again(s, chat_id, notices, clock.now()))
    if digest is None:
        return False
    failed = await courier.carry(digest)
    await _write(store, lambda s: _settle(s, chat_id, notices, failed, clock.now()))
    return failed is None


async def _write(store: Store, work: Callable[[Session], T]) -> T:
    return await asyncio.to_thread(store.write, work)


def _claim(session: Session, now: datetime) -> dict[int, list[Notice]]:
    outbox.release_expired(session, now)
    return outbox.claim(session, now, CHATS_A_ROUND)


def _read_again(session: Session, chat_id: int, notices: list[Notice], now: datetime) -> Digest | None:
    """Return the digest to send now; None if nothing is left of it or its hour has not come."""
    chat = lockers.find_chat(session, chat_id)
    if chat is None:  # forgotten meanwhile, with all its notices
        return None
    wishes = wishes_of(chat)
    today = local_date(now, chat.zone)
    digest, _, stale = split_stale(session, chat, notices, now)
    outbox.settle(session, stale, "cancelled")
    tasks.untell(session, stale, only_before=True)
    if not chat.reminders:
        outbox.settle(session, notices, "cancelled")
        tasks.untell(session, notices)
        return None
    earliest = after_quiet(now, wishes)
    if chat.last_digest_on is not None and chat.last_digest_on >= today and not digest.cannot_wait:
        earliest = max(earliest, hour_of(chat.last_digest_on + timedelta(days=1), wishes))
    if earliest > now:
        outbox.settle(session, notices, "pending", send_at=earliest, tried=False)
        return None
    return None if digest.empty else digest


def _settle(
    session: Session, chat_id: int, notices: list[Notice], failed: Failed | None, now: datetime
) -> None:
    chat = lockers.find_chat(session, chat_id)
    if chat is None:
        return
    if failed is None:
        outbox.settle(session, notices, "sent", now=now)
        chat.last_digest_on = local_date(now, chat.zone)
    elif failed.gone:
        outbox.settle(session, notices, "dead", error=failed.reason)
        chat.muted_at = now
    else:
        for notice in notices:
            again = retry_at(notice.attempts, now, failed.wait)
            outbox.settle(
                session, [notice], "pending" if again else "dead", send_at=again, error=failed.reason
            )
        chat.hold_until = now + failed.wait if failed.wait else chat.hold_until
    session.add(chat)
    if failed is not None:
        log.warning("reminder_failed", chat=chat_id, reason=failed.reason, gone=failed.gone)
