"""Matrix, the sending side: a message as events, each with a transaction id that makes a repeat the same event."""

import asyncio
import io
import json
import struct
from datetime import timedelta
from html import escape
from typing import Any

import aiohttp
import structlog
from nio import ErrorResponse
from nio.exceptions import EncryptionError, LocalProtocolError, OlmUnverifiedDeviceError, SendRetryError

from bot.post import Enclosed, Post
from bot.render.markup import html, parts, plain
from bot.transports.matrix_client import Client, RefusedError, granted, status_of, wait_of
from bot.updates import Meant
from scheduler.deliver import Failed
from scheduler.limits import EVENT_BYTES, Pacer
from scheduler.post import Arrived

PART_BYTES = (EVENT_BYTES - 8_192) * 3 // 4
"""Of the content with one part of a text: it grows by a third when it is encrypted, and servers put signatures around it."""
_LINE_BYTES = 24
"""Of the tags and breaks around a line."""
REACTIONS = {Meant.DONE: "✅", Meant.LATER: "⏰"}
"""Put under a reminder by the bot, so that one tap is enough where no buttons are shown."""
READY_S = 5.0
"""How long a message waits for the rooms to be known; then it goes back to where it is stored, so that no other waits for it."""
_TOKEN = {"M_UNKNOWN_TOKEN", "M_MISSING_TOKEN"}
_BROKEN = (aiohttp.ClientError, TimeoutError, asyncio.TimeoutError, OSError)
_UNREADY = (LocalProtocolError, SendRetryError, EncryptionError, OlmUnverifiedDeviceError)
log = structlog.get_logger(__name__)


class Sender:
    """Sends messages as one user, at a pace the homeserver allows."""

    def __init__(self, client: Client, pacer: Pacer, *, loud: bool = False) -> None:
        """Send through a client; `loud`: reminders go as plain messages, which make phones ring."""
        self._client, self._pacer, self._loud = client, pacer, loud
        self.ready = asyncio.Event()
        """Set once the rooms are known."""

    async def send(self, address: str, post: Post) -> Arrived | Failed:
        """Send a message, a long one in parts, of which the first `post.done` have gone out before."""
        try:
            await asyncio.wait_for(self.ready.wait(), READY_S)
        except TimeoutError:
            return Failed("not connected yet", wait=timedelta(seconds=15), everywhere=True)
        done, last = post.done, post.under
        try:
            texts = _texts(post, self._loud)
            for n in range(done, len(texts) + len(post.files)):
                content = (
                    texts[n]
                    if n < len(texts)
                    else await self._file(address, post.files[n - len(texts)], post)
                )
                event = await self._event(address, post, "m.room.message", content, f"{post.key}-{n}")
                done += 1
                if n < len(texts):
                    last = post.replaces if _is_edit(content) else event
            if post.reminder and last is not None:
                await self._offer_reactions(address, post, last)
        except RefusedError as error:
            return _refused(error.answer, done, last)
        except _UNREADY as error:
            return Failed(
                f"not ready to encrypt: {type(error).__name__}", done=done, under=last, unsure=done > 0
            )
        except _BROKEN as error:
            return Failed(f"the line broke: {type(error).__name__}", done=done, under=last, unsure=True)
        return Arrived(last, tuple(k.id for k in post.keys))

    async def _event(
        self, address: str, post: Post, kind: str, content: dict[str, Any], transaction: str
    ) -> str:
        await self._pacer.turn(address, group=post.group, urgent=not post.reminder)
        answer = await self._client.room_send(
            address, kind, content, transaction, ignore_unverified_devices=True
        )
        granted(answer)
        return str(answer.event_id)

    async def _offer_reactions(self, address: str, post: Post, under: str) -> None:
        """Put under a reminder what can be tapped; where that is not allowed, the reminder has arrived all the same."""
        for key in post.keys:
            if key.meant is None:
                continue
            relation = {"rel_type": "m.annotation", "event_id": under, "key": REACTIONS[key.meant]}
            try:
                await self._event(
                    address, post, "m.reaction", {"m.relates_to": relation}, f"{post.key}-{key.meant}"
                )
            except RefusedError as error:
                if not _is_final(error.answer):
                    raise
                log.warning("reaction_refused", wire="matrix", reason=error.answer.status_code)

    async def _file(self, address: str, enclosed: Enclosed, post: Post) -> dict[str, Any]:
        """Upload a file, encrypted where the room is, and return the content of its event; if it is not taken, one that says so."""
        file = await asyncio.to_thread(enclosed.opened)
        room = self._client.rooms.get(address)
        encrypt = bool(room is not None and room.encrypted)
        async with asyncio.timeout(60):
            answer, keys = await self._client.upload(
                io.BytesIO(file.content),
                file.mime,
                None if encrypt else file.name,
                encrypt=encrypt,
                filesize=len(file.content),
            )
        if isinstance(answer, ErrorResponse) and _is_final(answer):
            log.warning("upload_refused", wire="matrix", reason=answer.status_code)
            return _text(
                "m.notice", [(f"The homeserver does not take the file {file.name}.", "")]
            ) | _relation(post)
        granted(answer)
        kind = "m.image" if file.mime.startswith("image/") else "m.file"
        content: dict[str, Any] = {"msgtype": kind, "body": file.name, "filename": file.name}
        content["info"] = {"mimetype": file.mime, "size": len(file.content)} | _measures(file.content)
        where = {"url": answer.content_uri} if keys is None else {"file": keys | {"url": answer.content_uri}}
        return content | where | _relation(post)


def _measures(content: bytes) -> dict[str, int]:
    """Return width and height of a PNG in pixels, so that programs keep its place free; nothing of anything else."""
    if not content.startswith(b"\x89PNG\r\n\x1a\n"):
        return {}
    width, height = struct.unpack(">II", content[16:24])  # the header chunk comes first (PNG, 11.2.1)
    return {"w": width, "h": height}


def _texts(post: Post, loud: bool) -> list[dict[str, Any]]:
    """Return a message as the contents of events, each small enough."""
    said = parts(post, PART_BYTES, _size)
    choices = [_choice(n, key.label) for n, key in enumerate(post.keys, 1)]
    used = sum(_size(text) for text, _ in said[-1])
    for n, choice in enumerate(choices):
        used += _size(choice) + (0 if n else _size(""))
        if used > PART_BYTES:
            said.append([])
            used = _size(choice)
        elif n == 0:
            said[-1].append(("", ""))
        said[-1].append((choice, ""))
    kind = "m.text" if post.reminder and loud else "m.notice"
    texts = [_text(kind, lines) for lines in said]
    if post.replaces is not None and len(texts) == 1:
        return [_edit(texts[0], post.replaces)]
    return [text | _relation(post) for text in texts]


def _size(text: str) -> int:
    """Return what a line takes in an event at most: twice plain, as in an edit, and once with markup, as escaped on the way."""
    return 2 * len(json.dumps(text)) + len(json.dumps(escape(text))) + _LINE_BYTES


def _choice(n: int, label: str) -> str:
    return f"[{n}] {label}"


def _text(kind: str, lines: list[tuple[str, str]]) -> dict[str, Any]:
    return {
        "msgtype": kind,
        "body": plain(lines),
        "format": "org.matrix.custom.html",
        "formatted_body": html(lines, "<br>"),
        "m.mentions": {},  # a name in it, whoever chose that, calls nobody
    }


def _edit(content: dict[str, Any], event: str) -> dict[str, Any]:
    return {
        "msgtype": content["msgtype"],
        "body": f"* {content['body']}",
        "m.new_content": content,
        "m.mentions": {},
        "m.relates_to": {"rel_type": "m.replace", "event_id": event},
    }


def _is_edit(content: dict[str, Any]) -> bool:
    return "m.new_content" in content


def _relation(post: Post) -> dict[str, Any]:
    """Return what a message belongs to: a thread it was asked in, or the message it answers."""
    answers = {"m.in_reply_to": {"event_id": post.answers}} if post.answers else {}
    if post.topic is not None and not post.reminder:
        falling_back = {"is_falling_back": post.answers is None}
        return {"m.relates_to": {"rel_type": "m.thread", "event_id": post.topic, **falling_back, **answers}}
    return {"m.relates_to": answers} if answers else {}


def _is_final(answer: ErrorResponse) -> bool:
    """Tell whether the homeserver will never take it: not that it is to come later, nor from somebody who is logged in."""
    return 400 <= status_of(answer) < 500 and status_of(answer) not in {401, 408, 429}


def _refused(answer: ErrorResponse, done: int, last: str | None) -> Failed:
    code, status = answer.status_code or "no readable answer", status_of(answer)
    if code == "M_LIMIT_EXCEEDED" or status == 429:
        wait = wait_of(answer) or timedelta(seconds=5)
        return Failed(code, wait=wait, everywhere=True, done=done, under=last, unsure=done > 0)
    if code in {"M_FORBIDDEN", "M_NOT_FOUND"} and status < 500:
        return Failed(code, gone=True)
    if code in _TOKEN:
        wait = timedelta(seconds=15)
        return Failed(code, wait=wait, everywhere=True, done=done, under=last, unsure=done > 0)
    if code in {"M_TOO_LARGE", "M_BAD_JSON", "M_NOT_JSON"} and status < 500:
        return Failed(code, never=True)
    return Failed(code, done=done, under=last, unsure=True)
