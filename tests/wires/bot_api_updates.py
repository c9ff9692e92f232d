"""Updates on their way to the bot: kept until confirmed, fetched by getUpdates or carried to a webhook."""

import asyncio
import time
from dataclasses import dataclass, field
from typing import Any

import aiohttp

from tests.wires.bot_api_limits import POLL_SECONDS, UPDATES, Refused, check_secret

# Bot API, setWebhook: "In case of an unsuccessful request [...], we will repeat the request and give up
# after a reasonable amount of attempts". The pauses are short here, so that a test need not wait.
PAUSES = (0.01, 0.02, 0.05, 0.1, 0.2, 0.4)
SECRET_HEADER = "X-Telegram-Bot-Api-Secret-Token"

TERMINATED = (
    "Conflict: terminated by other getUpdates request; make sure that only one bot instance is running"
)
TERMINATED_BY_WEBHOOK = "Conflict: terminated by setWebhook request"
WEBHOOK_ACTIVE = "Conflict: can't use getUpdates method while webhook is active; use deleteWebhook to delete the webhook first"
# Bot API, getUpdates: allowed_updates, "all update types except [these]" where none are named.
OFF_BY_DEFAULT = {"chat_member", "message_reaction", "message_reaction_count"}


@dataclass(eq=False)
class Queued:
    """An update that waits; one that was pushed is handed out once even below the offset."""

    update: dict[str, Any]
    pushed: bool = False


@dataclass
class Webhook:
    """Where updates are carried to."""

    url: str
    secret: str = ""
    max_connections: int = 40
    last_error: str = ""
    last_error_date: int = 0


@dataclass
class Updates:
    """The queue of one bot."""

    pending: list[Queued] = field(default_factory=list)
    last_id: int = 1000
    allowed: list[str] = field(default_factory=list)
    webhook: Webhook | None = None
    given_up: list[dict[str, Any]] = field(default_factory=list)
    _poll: asyncio.Future[None] | None = None
    _news: asyncio.Event = field(default_factory=asyncio.Event)

    def put(self, kind: str, body: dict[str, Any]) -> int:
        """Queue an update and return its id; one the bot did not ask for is dropped, as the servers do."""
        self.last_id += 1
        if kind in self.allowed or (not self.allowed and kind not in OFF_BY_DEFAULT):
            self._add(Queued({"update_id": self.last_id, kind: body}))
        return self.last_id

    def push(self, update: dict[str, Any]) -> int:
        """Queue a raw update with the id that the caller gave it."""
        self.last_id = max(self.last_id, update["update_id"])
        self._add(Queued(update, pushed=True))
        return int(update["update_id"])

    def _add(self, queued: Queued) -> None:
        self.pending.append(queued)
        self._news.set()
        self.end_poll()

    def end_poll(self, conflict: str = "") -> None:
        """Let the getUpdates that waits go on, or end it with a conflict."""
        if self._poll is None or self._poll.done():
            return
        if conflict:
            self._poll.set_exception(Refused(409, conflict))
        else:
            self._poll.set_result(None)

    async def fetch(self, offset: int, limit: int, wait: int, allowed: list[str] | None) -> list[Any]:
        """Answer getUpdates: confirm what lies below the offset, then wait for news and hand it out."""
        if self.webhook:
            raise Refused(409, WEBHOOK_ACTIVE)
        self.end_poll(TERMINATED)
        self.allowed = self.allowed if allowed is None else allowed
        self._confirm(offset)
        if not self.pending and wait > 0:
            await self._wait(min(wait, POLL_SECONDS))
        batch = self.pending[: limit if 1 <= limit <= UPDATES else UPDATES]
        for queued in batch:
            queued.pushed = False
        return [queued.update for queued in batch]

    def _confirm(self, offset: int) -> None:
        if (
            offset < 0
        ):  # Bot API, getUpdates: "starting from -offset update from the end of the updates queue"
            self.pending = self.pending[offset:]
            return
        self.pending = [q for q in self.pending if q.pushed or q.update["update_id"] >= offset]

    async def _wait(self, seconds: float) -> None:
        poll = self._poll = asyncio.get_running_loop().create_future()
        try:
            async with asyncio.timeout(seconds):
                await poll
        except TimeoutError:
            pass  # a long poll with no news is answered with an empty list
        finally:
            if self._poll is poll:
                self._poll = None

    def set_webhook(self, webhook: Webhook, allowed: list[str] | None, drop: bool) -> None:
        """Carry updates to an address from now on; an empty one turns it off."""
        check_secret(webhook.secret)
        self.allowed = self.allowed if allowed is None else allowed
        self.pending = [] if drop else self.pending
        self.webhook = webhook if webhook.url else None
        if self.webhook:
            self.end_poll(TERMINATED_BY_WEBHOOK)
            self._news.set()

    def webhook_info(self) -> dict[str, Any]:
        """Answer getWebhookInfo."""
        hook = self.webhook or Webhook("")
        info: dict[str, Any] = {
            "url": hook.url,
            "has_custom_certificate": False,
            "pending_update_count": len(self.pending),
        }
        if hook.url:
            info["max_connections"] = hook.max_connections
        if hook.last_error:
            info |= {"last_error_message": hook.last_error, "last_error_date": hook.last_error_date}
        if self.allowed:
            info["allowed_updates"] = self.allowed
        return info

    async def carry(self, session: aiohttp.ClientSession) -> None:
        """Carry updates to the webhook, one after the other, for ever."""
        while True:
            await self._news.wait()
            self._news.clear()
            while self.webhook and self.pending:
                await self._carry_one(session, self.webhook, self.pending[0])

    async def _carry_one(self, session: aiohttp.ClientSession, hook: Webhook, queued: Queued) -> None:
        """Offer one update until it is taken, or give it up after the last pause."""
        for pause in PAUSES:
            error = await post(session, hook, queued.update)
            if self.webhook is not hook or queued not in self.pending:
                return  # taken off, or changed, meanwhile
            if not error:
                break
            hook.last_error, hook.last_error_date = error, int(time.time())
            await asyncio.sleep(pause)
        else:
            self.given_up.append(queued.update)
        if queued in self.pending:
            self.pending.remove(queued)


async def post(session: aiohttp.ClientSession, hook: Webhook, update: dict[str, Any]) -> str:
    """Offer an update to a webhook and return what went wrong, which is nothing after any 2xx."""
    headers = {SECRET_HEADER: hook.secret} if hook.secret else {}
    try:
        async with session.post(hook.url, json=update, headers=headers) as answer:
            if 200 <= answer.status < 300:
                return ""
            return f"Wrong response from the webhook: {answer.status} {answer.reason}"
    except (aiohttp.ClientError, TimeoutError):
        return "Connection refused"
