"""Telegram: updates by long polling or webhook, messages by the Bot API. The only file that knows its library.

Its own fetching loop is not used: that confirms updates before they were handled, and a crash would lose them. Ours
confirms a batch once what it did is stored.
"""

import asyncio
import hmac
import json
import re
from collections.abc import Callable, Coroutine
from contextlib import suppress
from datetime import datetime
from typing import Any, TypeVar

import structlog
import telegram as tg
from telegram.constants import ChatType, ParseMode
from telegram.error import BadRequest, InvalidToken, RetryAfter, TelegramError

from bot.conversation import Conversation
from bot.health import Health
from bot.post import Post
from bot.render.markup import html, parts
from bot.replies import Reply
from bot.transports.telegram_send import NONSENSE, Sender, asked_wait, message_name, why
from bot.understand.requests import COMMANDS
from bot.understand.text import visible
from bot.updates import Update
from scheduler.clock import Clock
from scheduler.limits import DOWNLOAD_BYTES, TEXT_CHARS, UPDATES_A_CALL, Pacer
from store import meter
from store.errors import StoreError
from store.exchange.logbook import MOST_BYTES

WIRE = "telegram"
POLL_S = 25
PAUSE_S, LONGEST_PAUSE_S = 1.0, 60.0
FETCH_S = 60
"""How long a file may take to come: whoever writes meanwhile waits for it."""
WEBHOOK_CONNECTIONS = 10
ALLOWED = ["message", "edited_message", "callback_query", "inline_query", "my_chat_member"]
_NAME_CHARS, _FILE_NAME_CHARS = 64, 100
T = TypeVar("T")
log = structlog.get_logger(__name__)


def client(token: str, api: str) -> tg.Bot:
    """Return the client of a bot at the Bot API; it tries nothing again by itself."""
    return tg.Bot(token, base_url=f"{api}/bot", base_file_url=f"{api}/file/bot")


class Telegram:
    """One bot on Telegram."""

    def __init__(
        self,
        bot: tg.Bot,
        conversation: Conversation,
        clock: Clock,
        pacer: Pacer,
        ring: Callable[[], None],
    ) -> None:
        """Talk as `bot`; `ring` says that an answer was stored."""
        self._bot, self._conversation, self._clock, self._ring = bot, conversation, clock, ring
        self.send = Sender(bot, pacer).send
        self._one_by_one = asyncio.Lock()
        self._aside: set[asyncio.Task[None]] = set()
        self._knows_itself = False
        self.health = Health(WIRE, well=False, said="not started")

    async def log_in(self) -> None:
        """Learn who the bot is, which is all that it takes to handle what a webhook brings; TelegramError as `open`."""
        await self._bot.initialize()
        self._conversation.reached_at(WIRE, f"https://t.me/{self._bot.username}?start=")
        self._knows_itself = True
        self.health = Health(WIRE, well=True, said=f"connected as @{self._bot.username}, another delivers")

    async def open(self, webhook: tuple[str, str] | None = None) -> None:
        """Log in, set the command menu, and choose how updates come: by webhook (address, secret) or by polling.

        TelegramError if the token is refused or the wire is out of reach.
        """
        await self.log_in()
        await self._bot.set_my_commands([(c.name, c.told) for c in COMMANDS if c.told])
        if webhook is None:
            await self._bot.delete_webhook()
        else:
            await self._bot.set_webhook(
                webhook[0],
                secret_token=webhook[1],
                allowed_updates=ALLOWED,
                max_connections=WEBHOOK_CONNECTIONS,
            )
        how = "polling" if webhook is None else "webhook"
        self.health = Health(WIRE, well=True, said=f"connected as @{self._bot.username}, {how}")

    def refuses(self, error: Exception) -> str | None:
        """Say why it is of no use to try again, None if it is."""
        return why(error) if isinstance(error, InvalidToken) else None

    async def close(self) -> None:
        """Close the connections."""
        await asyncio.gather(*self._aside, return_exceptions=True)
        with suppress(TelegramError):
            await self._bot.shutdown()

    async def poll(self) -> None:
        """Fetch and handle updates until cancelled. What was fetched is confirmed once what it did is stored."""
        offset, pause = 0, PAUSE_S
        while True:
            meter.tell("look", wire=WIRE)
            try:
                updates = await self._bot.get_updates(
                    offset=offset, limit=UPDATES_A_CALL, timeout=POLL_S, allowed_updates=ALLOWED
                )
                for update in updates:
                    await self._safely(update)
                    offset = update.update_id + 1
                if pause != PAUSE_S:
                    self.health = Health(WIRE, well=True, said=f"connected as @{self._bot.username}, polling")
                pause = PAUSE_S
            except (TelegramError, StoreError, *NONSENSE) as error:
                self.health = Health(WIRE, well=False, said=why(error))
                log.warning("updates_failed", wire=WIRE, reason=why(error), pause_s=pause)
                await asyncio.sleep(_asked(error) or pause)
                pause = min(LONGEST_PAUSE_S, pause * 2)

    async def webhook(self, secret: str, told: str, body: bytes) -> int:
        """Handle an update that was delivered; return the HTTP status. Only 200 tells the wire that it was kept."""
        if not secret or not hmac.compare_digest(secret.encode(), told.encode(errors="surrogateescape")):
            return 403
        if not self._knows_itself:  # it comes again
            return 503
        try:
            update = tg.Update.de_json(json.loads(body), self._bot)
        except (*NONSENSE, RecursionError):
            return 400
        try:
            async with self._one_by_one:
                await self._safely(update)
        except StoreError:
            return 503
        return 200

    async def _safely(self, update: tg.Update) -> None:
        """Handle one update; one that nobody can handle is logged and let go, or it would come back before all others for ever."""
        try:
            await self.handle(update)
        except StoreError:
            raise
        except Exception:
            log.exception("update_failed", wire=WIRE, update_id=update.update_id)

    async def handle(self, update: tg.Update) -> None:
        """Handle one update; StoreError if what it does could not be stored."""
        if update.callback_query is not None:
            await self._tapped(update.update_id, update.callback_query)
        elif update.inline_query is not None:
            await self._asked_inline(update.inline_query)
        elif update.my_chat_member is not None:
            await self._came_or_went(update.update_id, update.my_chat_member)
        elif update.message is not None:
            await self._said(update.update_id, update.message, edits=False)
        elif update.edited_message is not None:
            await self._said(update.update_id, update.edited_message, edits=True)

    async def _said(self, number: int, message: tg.Message, *, edits: bool) -> None:
        if message.migrate_to_chat_id is not None:
            await _off(self._conversation.moved, WIRE, str(message.chat.id), str(message.migrate_to_chat_id))
            return
        if (
            message.migrate_from_chat_id is not None
        ):  # the same again from the other side; once it has moved, nothing
            await _off(
                self._conversation.moved, WIRE, str(message.migrate_from_chat_id), str(message.chat.id)
            )
            return
        if message.left_chat_member is not None:
            who = str(message.left_chat_member.id)
            await _off(self._conversation.parted, WIRE, str(message.chat.id), who)
            return
        person = message.from_user
        if person is None or person.is_bot or message.sender_chat is not None:
            return  # nobody in particular: a bot, or somebody who speaks as a group or a channel
        if not self._is_addressed(message):
            return
        said = await self._content(message, edits=edits)
        if said:
            await self._take(number, message, person, message.date, edits=edits, **said)

    async def _content(self, message: tg.Message, *, edits: bool) -> dict[str, object]:
        """Return what a message says as fields of an update; empty if there is nothing to answer."""
        text = message.text or message.caption
        if message.document is not None:  # what counts is the file, not what is written under it
            return {} if edits else await self._file(message.document)
        if text is not None:
            return {"text": re.sub(rf"(?i)@{self._bot.username}\b", "", text).strip()}
        if edits:
            return {}
        if message.location is not None:
            return {"place": (message.location.latitude, message.location.longitude)}
        if message.photo:
            return {"cannot": "I cannot read pictures. Write me what it shows, or send a dive log file."}
        unread = (message.voice, message.audio, message.video, message.video_note, message.sticker)
        return {"cannot": "I can only read text and dive log files."} if any(unread) else {}

    async def _file(self, document: tg.Document) -> dict[str, object]:
        most = min(MOST_BYTES, DOWNLOAD_BYTES)
        too_large = {"cannot": f"That file is too large: I read up to {most // 1_000_000} MB."}
        if (document.file_size or 0) > most:
            return dict(too_large)
        try:
            async with asyncio.timeout(FETCH_S):
                fetched = await self._bot.get_file(document.file_id)
                content = bytes(await fetched.download_as_bytearray())
        except (TelegramError, TimeoutError, *NONSENSE) as error:
            log.warning("file_failed", wire=WIRE, reason=why(error))
            if isinstance(error, BadRequest) and "too big" in error.message.lower():
                return dict(too_large)
            return {"cannot": "I could not fetch that file. Please send it again."}
        return {"file": (_file_name(document), content)}

    async def _tapped(self, number: int, query: tg.CallbackQuery) -> None:
        message = query.message
        if message is not None:  # one that is too old to be read still says in which chat it stands
            under = message_name(message.chat.id, message.message_id, group=_is_group(message.chat))
            await self._take(
                number, message, query.from_user, self._clock.now(), tap=query.data or "", under=under
            )
        self._do_aside(self._end_progress(query.id))

    async def _end_progress(self, query_id: str) -> None:
        with suppress(TelegramError, *NONSENSE):  # it only ends the progress bar
            await self._bot.answer_callback_query(query_id)

    def _do_aside(self, work: Coroutine[Any, Any, None]) -> None:
        """Do what the next update need not wait for."""
        task = asyncio.create_task(work)
        self._aside.add(task)
        task.add_done_callback(self._aside.discard)

    async def _came_or_went(self, number: int, change: tg.ChatMemberUpdated) -> None:
        chat, now = change.chat, change.new_chat_member.status
        if now in {"left", "kicked"}:
            await _off(self._conversation.gone, WIRE, str(chat.id), self._clock.now(), str(number))
        elif (
            _is_group(chat)
            and change.old_chat_member.status in {"left", "kicked"}
            and not change.from_user.is_bot  # somebody who hides: the first who speaks is the owner
        ):
            update = Update(
                WIRE,
                str(chat.id),
                str(change.from_user.id),
                self._clock.now(),
                text="help",
                update_id=str(number),
                actor_name=_name(change.from_user),
                group=True,
                by_post=True,
                received=self._clock.now(),
            )
            await _off(self._conversation.take, update)
            self._ring()

    async def _take(
        self,
        number: int,
        message: tg.MaybeInaccessibleMessage,
        person: tg.User,
        at: datetime,
        **said: object,
    ) -> None:
        """Hand an update on. `at`: when it was said first, since an edit the day after still means that day by "today"."""
        group, thread = _is_group(message.chat), None
        if isinstance(message, tg.Message) and message.is_topic_message:
            thread = message.message_thread_id
        update = Update(
            WIRE,
            str(message.chat.id),
            str(person.id),
            min(at, self._clock.now()),
            update_id=str(number),
            actor_name=_name(person),
            group=group,
            topic=str(thread) if thread else None,
            message=None if "tap" in said else message_name(message.chat.id, message.message_id, group=group),
            by_post=True,
            received=self._clock.now(),
            **said,  # type: ignore[arg-type]  # fields by name
        )
        await _off(self._conversation.take, update)
        self._ring()

    def _is_addressed(self, message: tg.Message) -> bool:
        """Tell whether the bot is spoken to: always in private, in a group by name, by command or by a reply."""
        if message.chat.type == ChatType.PRIVATE:
            return True
        answered = message.reply_to_message
        if answered is not None and answered.from_user is not None and answered.from_user.id == self._bot.id:
            return True
        me = f"@{self._bot.username}".lower()
        named = message.parse_entities([tg.MessageEntity.MENTION]) | message.parse_caption_entities(
            [tg.MessageEntity.MENTION]
        )
        commands = message.parse_entities([tg.MessageEntity.BOT_COMMAND]).values()
        return me in {m.lower() for m in named.values()} or any(
            "@" not in c or c.lower().endswith(me) for c in commands
        )

    async def _asked_inline(self, query: tg.InlineQuery) -> None:
        asked = Update(WIRE, "", str(query.from_user.id), self._clock.now(), text=query.query)
        found = await _off(self._conversation.quick, asked)
        self._do_aside(self._answer_inline(query.id, found))

    async def _answer_inline(self, query_id: str, found: Reply | None) -> None:
        results = [_inline(query_id, found)] if found is not None else []
        with suppress(TelegramError, *NONSENSE):  # a question in passing: the next letter typed asks again
            await self._bot.answer_inline_query(query_id, results, cache_time=60, is_personal=True)


def _is_group(chat: tg.Chat) -> bool:
    return chat.type != ChatType.PRIVATE


def _name(person: tg.User) -> str:
    """Return what somebody is called, without what would turn or break the line it is put into."""
    return visible(person.first_name)[:_NAME_CHARS]


def _file_name(document: tg.Document) -> str:
    """Return what a file is called, without where it lay."""
    return visible(re.split(r"[/\\]", document.file_name or "")[-1])[:_FILE_NAME_CHARS] or "log"


def _inline(query_id: str, reply: Reply) -> tg.InlineQueryResultArticle:
    post = Post(key=query_id, first=reply.first, lines=reply.lines, cautions=reply.cautions)
    content = tg.InputTextMessageContent(html(parts(post, TEXT_CHARS)[0]), parse_mode=ParseMode.HTML)
    more = " ".join((*reply.cautions[:1], *reply.lines[:1]))
    return tg.InlineQueryResultArticle(query_id, reply.first[:100], content, description=more[:120])


def _asked(error: Exception) -> float | None:
    return asked_wait(error).total_seconds() if isinstance(error, RetryAfter) else None


async def _off(work: Callable[..., T], *given: object) -> T:
    """Do what waits for the database off the event loop."""
    return await asyncio.to_thread(work, *given)
