"""The chats around the bot and the people in them: what they do becomes updates, what the bot sends stands here."""

import mimetypes
import re
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from tests.wires.bot_api_html import units
from tests.wires.bot_api_limits import QUERY_CHARACTERS, Rates
from tests.wires.bot_api_updates import Updates

Json = dict[str, Any]

COMMAND = re.compile(r"(?<![\w/@])/[A-Za-z0-9_]{1,64}(?:@\w{3,32})?")
MENTION = re.compile(r"(?<![\w/@])@[A-Za-z]\w{3,31}")
LOOKS = {"text", "style", "icon_custom_emoji_id"}  # what a button shows; the rest is what it does
OTHERS: dict[str, Json] = {
    "sticker": {
        "type": "regular",
        "width": 512,
        "height": 512,
        "is_animated": False,
        "is_video": False,
        "emoji": "🐟",
    },
    "voice": {"duration": 4, "mime_type": "audio/ogg"},
    "video": {"width": 640, "height": 480, "duration": 4},
    "video_note": {"length": 240, "duration": 4},
    "audio": {"duration": 4},
}


@dataclass
class Sent:
    """A message of the bot as it now stands."""

    chat_id: int
    message_id: int
    text: str  # without markup; the caption where there is a file
    html: str  # as the bot sent it
    buttons: list[list[tuple[str, str]]]
    at: float
    document: tuple[str, bytes] | None = None
    photo: bytes | None = None
    reply_to: int | None = None
    thread: int | None = None
    markup: Json | None = None
    edits: int = 0
    edited_at: float | None = None
    deleted: bool = False


@dataclass(frozen=True)
class Answer:
    """What a pressed button was answered with."""

    text: str
    alert: bool


@dataclass(frozen=True)
class InlineAnswer:
    """What an inline query was answered with."""

    results: list[Json]
    button: Json | None
    cache_time: int
    personal: bool


@dataclass
class Chat:
    """A chat as the bot sees it; state is member, blocked, deactivated, kicked or left."""

    id: int
    kind: str
    name: str
    forum: bool = False
    state: str = "member"
    moved_to: int | None = None
    threads: set[int] = field(default_factory=set)
    messages: dict[int, Json] = field(default_factory=dict)
    sent: dict[int, Sent] = field(default_factory=dict)

    @property
    def group(self) -> bool:
        """Return whether several people share it."""
        return self.kind != "private"

    def body(self) -> Json:
        """Return it as a Chat of the Bot API."""
        named = {"title": self.name} if self.group else {"first_name": self.name}
        return {"id": self.id, "type": self.kind, **named} | ({"is_forum": True} if self.forum else {})


def buttons_of(markup: Json | None) -> list[list[tuple[str, str]]]:
    """Return label and data of each button; where there is no data, what it opens instead."""
    rows = (markup or {}).get("inline_keyboard", [])
    return [[(b["text"], next(str(b[k]) for k in b if k not in LOOKS)) for b in row] for row in rows]


def entities_of(text: str) -> list[Json]:
    """Find the commands and mentions in what a person wrote."""
    found = [
        {"type": kind, "offset": units(text[: match.start()]), "length": units(match[0])}
        for kind, pattern in (("bot_command", COMMAND), ("mention", MENTION))
        for match in pattern.finditer(text)
    ]
    return sorted(found, key=lambda entity: entity["offset"])


class World:
    """Everything on the far side of the Bot API, and the hands to move it."""

    def __init__(
        self,
        token: str,
        username: str,
        pace: float,
        clock: Callable[[], float] | None,
        wall: Callable[[], float],
    ) -> None:
        self.token, self.username = token, username
        self.clock: Callable[[], float] = clock or time.monotonic
        self.wall = wall  # what the dates of messages are read from
        self.me: Json = {
            "id": int(token.split(":", maxsplit=1)[0]),
            "is_bot": True,
            "first_name": username,
            "username": username,
        }
        self.updates = Updates()
        self.rates = Rates(pace, self.clock())
        self.chats: dict[int, Chat] = {}
        self.people: dict[int, Json] = {}
        self.files: dict[str, tuple[str, bytes]] = {}
        self.queries: set[str] = set()
        self.sent: list[Sent] = []
        self.answers: dict[str, Answer] = {}
        self.inline_answers: dict[str, InlineAnswer] = {}
        self.commands: dict[tuple[str, str], list[tuple[str, str]]] = {}
        self._ids: dict[int, int] = {}
        self._count = 0

    # --- who and where

    def person(self, user_id: int, name: str = "") -> Json:
        """Return a person, made up where nobody knew them."""
        known = self.people.setdefault(
            user_id,
            {"id": user_id, "is_bot": False, "first_name": name or f"Diver {user_id}", "language_code": "en"},
        )
        if name:
            known["first_name"] = name
        return known

    def private(self, user_id: int, name: str = "Ilka") -> Chat:
        """Open a private chat with a person."""
        self.person(user_id, name)
        return self.chats.setdefault(user_id, Chat(user_id, "private", name))

    def group(self, chat_id: int, title: str, kind: str = "group", forum: bool = False) -> Chat:
        """Make a group or a supergroup that the bot is in."""
        return self.chats.setdefault(chat_id, Chat(chat_id, kind, title, forum))

    def topic(self, chat_id: int, thread: int) -> None:
        """Open a topic in a forum."""
        self.chats[chat_id].threads.add(thread)

    def chat(self, chat_id: int) -> list[Sent]:
        """Return the messages of the bot in a chat as they now stand."""
        return list(self.chats[chat_id].sent.values())

    # --- what people send

    def say(
        self, chat_id: int, user_id: int, text: str, *, reply_to: int | None = None, thread: int | None = None
    ) -> int:
        """Send a text and return its message id."""
        content = {"text": text} | ({"entities": found} if (found := entities_of(text)) else {})
        return self.receive(chat_id, user_id, content, reply_to=reply_to, thread=thread)

    def edit(self, chat_id: int, message_id: int, text: str) -> int:
        """Change a text that was sent before."""
        body = self.chats[chat_id].messages[message_id]
        body |= {"text": text, "entities": entities_of(text), "edit_date": int(self.wall())}
        self._tell(self.chats[chat_id], "edited_message", dict(body))
        return message_id

    def send_document(
        self, chat_id: int, user_id: int, name: str, content: bytes, caption: str | None = None
    ) -> int:
        """Send a file."""
        return self.receive(chat_id, user_id, {"document": self.keep_document(name, content)}, caption)

    def send_photo(self, chat_id: int, user_id: int, content: bytes, caption: str | None = None) -> int:
        """Send a photo."""
        return self.receive(chat_id, user_id, {"photo": self.keep_photo(content)}, caption)

    def send_location(self, chat_id: int, user_id: int, lat: float, lon: float) -> int:
        """Send a place."""
        return self.receive(chat_id, user_id, {"location": {"latitude": lat, "longitude": lon}})

    def send_other(self, chat_id: int, user_id: int, kind: str) -> int:
        """Send a sticker, a voice message, or another kind that bots mostly do not read."""
        return self.receive(chat_id, user_id, {kind: self.keep_file(f"{kind}/file", b"-") | OTHERS[kind]})

    def receive(
        self,
        chat_id: int,
        user_id: int,
        content: Json,
        caption: str | None = None,
        *,
        reply_to: int | None = None,
        thread: int | None = None,
    ) -> int:
        """Put a person's message into a chat, tell the bot, and return the message id."""
        chat = (
            self.private(user_id) if chat_id == user_id and chat_id not in self.chats else self.chats[chat_id]
        )
        body = self.message(chat, self.person(user_id), content, thread)
        if caption is not None:
            body["caption"] = caption
        if reply_to is not None:
            body["reply_to_message"] = self.quoted(chat, reply_to)
        elif thread is not None:
            # The servers show every message of a topic as a reply to the message that opened it.
            opened = {"forum_topic_created": {"name": "topic", "icon_color": 7322096}}
            body["reply_to_message"] = {**body, **opened, "message_id": thread}
        self._tell(chat, "message", dict(body))
        return int(body["message_id"])

    def message(self, chat: Chat, author: Json, content: Json, thread: int | None = None) -> Json:
        """Keep a new message in a chat and return it as a Message of the Bot API."""
        body: Json = {
            "message_id": self._next_id(chat),
            "date": int(self.wall()),
            "chat": chat.body(),
            "from": author,
            **content,
        }
        if thread is not None:
            chat.threads.add(thread)
            body |= {"message_thread_id": thread, "is_topic_message": True}
        chat.messages[body["message_id"]] = body
        return body

    def quoted(self, chat: Chat, message_id: int) -> Json:
        """Return a message as it stands inside a reply to it."""
        return {k: v for k, v in chat.messages[message_id].items() if k != "reply_to_message"}

    def _next_id(self, chat: Chat) -> int:
        """Count messages: each supergroup on its own, all other chats together, as the servers do."""
        row = chat.id if chat.kind == "supergroup" else 0
        self._ids[row] = self._ids.get(row, 0) + 1
        return self._ids[row]

    def _tell(self, chat: Chat, kind: str, body: Json) -> int:
        """Queue an update about a chat, unless the bot cannot see it any more."""
        return self.updates.put(kind, body) if chat.state == "member" else 0

    # --- buttons and inline queries

    def tap(self, chat_id: int, user_id: int, message_id: int, label: str) -> str:
        """Press the button with a label under a message as it now stands and return the query's id."""
        sent = self.chats[chat_id].sent.get(message_id)
        assert sent, f"no message {message_id} of the bot in chat {chat_id}"
        rows = (sent.markup or {}).get("inline_keyboard", [])
        data = [
            b["callback_data"] for row in rows for b in row if b["text"] == label and "callback_data" in b
        ]
        assert data, f"no button {label!r} under {sent.text!r}: {sent.buttons}"
        return self.tap_data(chat_id, user_id, message_id, data[0])

    def tap_data(self, chat_id: int, user_id: int, message_id: int, data: str) -> str:
        """Send a callback query with any data, whether there is such a button or not."""
        chat = self.chats[chat_id]
        gone = {"message_id": message_id, "date": 0, "chat": chat.body()}  # Bot API, InaccessibleMessage
        query = self._query()
        body = {
            "id": query,
            "from": self.person(user_id),
            "message": dict(chat.messages.get(message_id, gone)),
            "chat_instance": str(chat_id),
            "data": data,
        }
        self._tell(chat, "callback_query", body)
        return query

    def inline(self, user_id: int, query: str) -> str:
        """Type an inline query and return its id."""
        assert len(query) <= QUERY_CHARACTERS, "nobody can type more than that"
        query_id = self._query()
        body = {"id": query_id, "from": self.person(user_id), "query": query, "offset": ""}
        self.updates.put("inline_query", body)
        return query_id

    def _query(self) -> str:
        self._count += 1
        self.queries.add(str(9_000_000 + self._count))
        return str(9_000_000 + self._count)

    def push(self, update: Json) -> int:
        """Queue a raw update whose update_id the caller sets: a duplicate, or one out of order."""
        return self.updates.push(update)

    # --- coming and going

    def block(self, user_id: int) -> None:
        """Let a person block the bot."""
        self._standing(self.chats[user_id], self.person(user_id), "blocked")

    def unblock(self, user_id: int) -> None:
        """Let a person take the bot back."""
        self._standing(self.chats[user_id], self.person(user_id), "member")

    def kick(self, chat_id: int, user_id: int = 1) -> None:
        """Throw the bot out of a group."""
        self._standing(self.chats[chat_id], self.person(user_id), "kicked")

    def add_bot(self, chat_id: int, user_id: int = 1) -> None:
        """Take the bot into a group, again or for the first time."""
        self._standing(self.chats[chat_id], self.person(user_id), "member")

    def go(self, chat: Chat) -> None:
        """Let the bot leave a group."""
        self._standing(chat, self.me, "left")

    def deactivate(self, user_id: int) -> None:
        """Let a person delete their account; no update tells of it."""
        self.chats[user_id].state = "deactivated"

    def _standing(self, chat: Chat, by: Json, state: str) -> None:
        """Change what the bot is in a chat and queue my_chat_member."""
        old, chat.state = chat.state, state
        body = {
            "chat": chat.body(),
            "from": by,
            "date": int(self.wall()),
            "old_chat_member": self._member(old),
            "new_chat_member": self._member(state),
        }
        self.updates.put("my_chat_member", body)

    def _member(self, state: str) -> Json:
        if state in {"blocked", "kicked"}:
            return {"user": self.me, "status": "kicked", "until_date": 0}
        return {"user": self.me, "status": state}

    def join(self, chat_id: int, user_id: int) -> int:
        """Let a person join a group."""
        return self.receive(chat_id, user_id, {"new_chat_members": [self.person(user_id)]})

    def leave(self, chat_id: int, user_id: int) -> int:
        """Let a person leave a group."""
        return self.receive(chat_id, user_id, {"left_chat_member": self.person(user_id)})

    def migrate(self, old_id: int, new_id: int, user_id: int = 1) -> Chat:
        """Make a group a supergroup, which gives it a new id."""
        old = self.chats[old_id]
        new = self.group(new_id, old.name, "supergroup")
        self.receive(old_id, user_id, {"migrate_to_chat_id": new_id})
        self.receive(new_id, user_id, {"migrate_from_chat_id": old_id})
        old.moved_to = new_id
        return new

    # --- files

    def keep_file(self, path: str, content: bytes) -> Json:
        """Keep a file and return what every kind of file has."""
        self._count += 1
        file_id = f"file-{self._count}"
        self.files[file_id] = (path, content)
        return {"file_id": file_id, "file_unique_id": f"unique-{self._count}", "file_size": len(content)}

    def keep_document(self, name: str, content: bytes) -> Json:
        """Keep a file and return it as a Document of the Bot API."""
        mime = mimetypes.guess_type(name)[0] or "application/octet-stream"
        suffix = name[name.rfind(".") :] if "." in name else ""
        kept = self.keep_file(f"documents/file_{self._count + 1}{suffix}", content)
        return {**kept, "file_name": name, "mime_type": mime}

    def keep_photo(self, content: bytes) -> list[Json]:
        """Keep a photo and return it as the sizes of the Bot API."""
        kept = self.keep_file(f"photos/file_{self._count + 1}.jpg", content)
        return [{**kept, "width": 1280, "height": 960}]
