"""Telegram, the sending side: a message as calls of the Bot API, and what its refusals mean."""

import asyncio
import os
from collections.abc import Awaitable, Callable
from contextlib import suppress
from datetime import timedelta
from functools import partial
from typing import TypeVar

import structlog
import telegram as tg
from telegram.constants import ParseMode
from telegram.error import (
    BadRequest,
    ChatMigrated,
    Conflict,
    Forbidden,
    InvalidToken,
    NetworkError,
    RetryAfter,
    TelegramError,
    TimedOut,
)

from bot.pictures.sheets import PocketCard
from bot.post import Enclosed, Post
from bot.render.markup import html, parts, plain
from scheduler.deliver import Failed
from scheduler.limits import TEXT_CHARS, Pacer
from scheduler.post import Arrived

PHOTO_BYTES = 10 * 1024 * 1024
"""sendPhoto."""
_PICTURES = {"image/png", "image/jpeg"}
_KEYS_A_ROW = 3
_KEY_CHARS = 40
_WIDE_ROW_CHARS = 34
NONSENSE = (KeyError, TypeError, ValueError, AttributeError)
"""What the library raises where an answer is JSON and still none that the wire gives."""
_GONE = ("chat not found", "rights", "write_forbidden", "peer_id_invalid", "deactivated", "kicked", "blocked")
"""Words of refusals that no repeat will change."""
os.environ.setdefault("PTB_TIMEDELTA", "true")  # noqa: TID251 - the library's own switch to the type it will use
T = TypeVar("T")
log = structlog.get_logger(__name__)


class Sender:
    """Sends messages as one bot, at the pace of the wire."""

    def __init__(self, bot: tg.Bot, pacer: Pacer) -> None:
        """Send as `bot`."""
        self._bot, self._pacer = bot, pacer

    async def send(self, address: str, post: Post) -> Arrived | Failed:
        """Send a message, a long one in parts, of which the first `post.done` have gone out before.

        This wire cannot be told that a message is a repeat.
        """
        done, last = post.done, post.under
        steps, texts = self._steps(address, post)
        try:
            for step in steps[done:]:
                last = await step() or last
                done += 1
        except TelegramError as error:
            return _failed(error, done, last, words=done < texts)
        except NONSENSE:
            return Failed("the wire answered with something else", done=done, under=last, unsure=True)
        return (
            Arrived()
        )  # a tap names its button here, so nobody needs to keep under which message that stands

    async def _turn(self, address: str, post: Post) -> None:
        await self._pacer.turn(address, group=post.group, urgent=not post.reminder)

    def _steps(self, address: str, post: Post) -> tuple[list[Callable[[], Awaitable[str | None]]], int]:
        """Return the calls that a message takes, those for text first, and how many these are.

        A call for text gives the name of its message; under the last of them the buttons stand.
        """
        said = parts(post, TEXT_CHARS)
        texts = [
            partial(
                self._say,
                address,
                post,
                lines,
                _keyboard(post) if n == len(said) - 1 else None,
                first=n == 0,
            )
            for n, lines in enumerate(said)
        ]
        return [*texts, *(partial(self._enclose, address, post, file) for file in post.files)], len(texts)

    async def _say(
        self,
        address: str,
        post: Post,
        lines: list[tuple[str, str]],
        keyboard: tg.InlineKeyboardMarkup | None,
        *,
        first: bool,
    ) -> str:
        """Send a text, or put it in the place of a message; what the wire does not find any more is done without."""
        replaces, answers = (
            (_number(address, post.replaces), _number(address, post.answers)) if first else (None, None)
        )
        if replaces is not None and await self._edit(address, post, replaces, lines, keyboard):
            return str(replaces)

        async def call(thread: int | None, text: str = html(lines), mode: str | None = ParseMode.HTML) -> str:
            await self._turn(address, post)
            reply = tg.ReplyParameters(answers, allow_sending_without_reply=True) if answers else None
            sent = await self._bot.send_message(
                address,
                text,
                parse_mode=mode,
                reply_markup=keyboard,
                message_thread_id=thread,
                reply_parameters=reply,
                link_preview_options=tg.LinkPreviewOptions(is_disabled=True),
            )
            return str(sent.message_id)

        try:
            return await _in_topic(post.topic, call)
        except BadRequest as error:
            if "parse entities" not in error.message.lower():
                raise
            log.error("markup_refused", wire="telegram", reason=why(error))  # noqa: TRY400 - a bug of ours, answered all the same
            return await _in_topic(post.topic, partial(call, text=plain(lines), mode=None))

    async def _edit(
        self,
        address: str,
        post: Post,
        message: int,
        lines: list[tuple[str, str]],
        keyboard: tg.InlineKeyboardMarkup | None,
    ) -> bool:
        """Put a text in the place of a message; False if that cannot be edited any more."""
        await self._turn(address, post)
        try:
            await self._bot.edit_message_text(
                html(lines), address, message, parse_mode=ParseMode.HTML, reply_markup=keyboard
            )
        except BadRequest as error:
            return "not modified" in error.message.lower()
        return True

    async def _enclose(self, address: str, post: Post, enclosed: Enclosed) -> None:
        file = await asyncio.to_thread(enclosed.opened)

        async def photo(thread: int | None) -> None:
            await self._turn(address, post)
            await self._bot.send_photo(address, file.content, filename=file.name, message_thread_id=thread)

        async def document(thread: int | None) -> None:
            await self._turn(address, post)
            await self._bot.send_document(address, file.content, filename=file.name, message_thread_id=thread)

        small_print = isinstance(enclosed.sheet, PocketCard)  # a photo is made smaller on the way
        if file.mime in _PICTURES and len(file.content) <= PHOTO_BYTES and not small_print:
            with suppress(BadRequest):  # odd measures, or no photos allowed: then as a file like any other
                return await _in_topic(post.topic, photo)
        return await _in_topic(post.topic, document)


async def _in_topic(topic: str | None, call: Callable[[int | None], Awaitable[T]]) -> T:
    """Send to a topic, or to the chat at large if that topic is closed or gone."""
    try:
        return await call(int(topic) if topic else None)
    except BadRequest as error:
        if topic is None or not any(word in error.message.lower() for word in ("thread", "topic")):
            raise
        return await call(None)


def message_name(chat: int, number: int, *, group: bool) -> str:
    """Name a message. A group that the wire moves counts its messages anew, so there the chat is part of the name."""
    return f"{chat}/{number}" if group else str(number)


def _number(address: str, name: str | None) -> int | None:
    """Return the number of a message in a chat; None if it stands in the chat that was here before."""
    chat, _, number = (name or "").rpartition("/")
    return int(number) if number and chat in {"", address} else None


def _keyboard(post: Post) -> tg.InlineKeyboardMarkup | None:
    """Lay buttons out in rows: short ones side by side, long ones alone."""
    rows: list[list[tg.InlineKeyboardButton]] = []
    width = 0
    for key in post.keys:
        label = key.label if len(key.label) <= _KEY_CHARS else key.label[: _KEY_CHARS - 1] + "…"
        button = tg.InlineKeyboardButton(label, callback_data=key.id)
        if rows and len(rows[-1]) < _KEYS_A_ROW and width + len(label) <= _WIDE_ROW_CHARS:
            rows[-1].append(button)
            width += len(label)
        else:
            rows.append([button])
            width = len(label)
    return tg.InlineKeyboardMarkup(rows) if rows else None


def _failed(error: TelegramError, done: int, last: str | None, *, words: bool) -> Failed:
    """Say what a refusal of the wire means. `words`: it was text that was refused, not a file."""
    reason = why(error)
    if isinstance(error, RetryAfter):
        return Failed(reason, wait=asked_wait(error), done=done, under=last)
    if isinstance(error, ChatMigrated):
        return Failed(reason, moved_to=str(error.new_chat_id), done=done, under=last)
    if isinstance(error, InvalidToken):
        return Failed(reason, wait=timedelta(minutes=1), everywhere=True, done=done, under=last)
    if isinstance(error, BadRequest):  # a kind of NetworkError to the library
        gone = words and any(sign in error.message.lower() for sign in _GONE)
        return Failed(reason, gone=gone, never=not gone, done=done, under=last)
    if isinstance(error, Forbidden):
        return Failed(reason, gone=True)
    return Failed(reason, done=done, under=last, unsure=True)


def asked_wait(error: RetryAfter) -> timedelta:
    """Return how long the wire asked to wait."""
    wait = error.retry_after
    return wait if isinstance(wait, timedelta) else timedelta(seconds=wait)


def why(error: Exception) -> str:
    """Say in a line what went wrong, without what the library puts in of addresses and tokens."""
    if isinstance(error, InvalidToken):
        return "the token was refused"
    if isinstance(error, Conflict):
        return "somebody else fetches this bot's updates"
    if isinstance(error, TimedOut):
        return "no answer in time"
    if isinstance(error, NetworkError) and not isinstance(error, BadRequest):
        return "the wire cannot be reached"
    return " ".join(str(error).split())[:200]
