"""The methods of the Bot API that the stand-in knows, each with the refusals of the real one."""

from collections.abc import Awaitable, Callable
from typing import Any

from tests.wires.bot_api_limits import (
    ACTIONS,
    ANSWER_CHARACTERS,
    CAPTION_UNITS,
    DOWNLOAD_BYTES,
    PHOTO_BYTES,
    TEXT_UNITS,
    UPDATES,
    UPLOAD_BYTES,
    Params,
    Refused,
    bad,
    check_commands,
    check_markup,
    check_results,
    read_text,
)
from tests.wires.bot_api_updates import Webhook
from tests.wires.bot_api_world import Answer, Chat, InlineAnswer, Json, Sent, World, buttons_of

NOT_MODIFIED = (
    "message is not modified: specified new message content and reply markup "
    "are exactly the same as a current content and reply markup of the message"
)
TOO_OLD = "query is too old and response timeout expired or query ID is invalid"

Method = Callable[[Params], Awaitable[Any]]


class Methods:
    """Everything a bot can ask for, by name."""

    def __init__(self, world: World) -> None:
        self.world = world
        self.known: dict[str, Method] = {
            "getMe": self.get_me,
            "getUpdates": self.get_updates,
            "setWebhook": self.set_webhook,
            "deleteWebhook": self.delete_webhook,
            "getWebhookInfo": self.get_webhook_info,
            "sendMessage": self.send_message,
            "editMessageText": self.edit_message_text,
            "editMessageReplyMarkup": self.edit_message_reply_markup,
            "deleteMessage": self.delete_message,
            "sendDocument": self.send_document,
            "sendPhoto": self.send_photo,
            "getFile": self.get_file,
            "answerCallbackQuery": self.answer_callback_query,
            "answerInlineQuery": self.answer_inline_query,
            "setMyCommands": self.set_my_commands,
            "getMyCommands": self.get_my_commands,
            "sendChatAction": self.send_chat_action,
            "leaveChat": self.leave_chat,
        }
        self._lower = {name.lower(): name for name in self.known}

    def name(self, asked: str) -> str | None:
        """Return the method as it is spelt; the Bot API reads names in any case."""
        return self._lower.get(asked.lower())

    # --- the bot itself and its updates

    async def get_me(self, _: Params) -> Json:
        """Say who the bot is."""
        more = (
            ("can_join_groups", True),
            ("can_read_all_group_messages", False),
            ("supports_inline_queries", True),
        )
        return {**self.world.me, **dict(more)}

    async def get_updates(self, p: Params) -> list[Any]:
        """Hand out what waits, or wait for it."""
        limit, timeout = p.number("limit", UPDATES), p.number("timeout")
        return await self.world.updates.fetch(p.number("offset"), limit, timeout, p.tree("allowed_updates"))

    async def set_webhook(self, p: Params) -> bool:
        """Carry updates to an address; the real one asks for HTTPS, loopback does without."""
        hook = Webhook(p.text("url"), p.text("secret_token"), p.number("max_connections", 40))
        self.world.updates.set_webhook(hook, p.tree("allowed_updates"), p.flag("drop_pending_updates"))
        return True

    async def delete_webhook(self, p: Params) -> bool:
        """Go back to getUpdates."""
        self.world.updates.set_webhook(Webhook(""), None, p.flag("drop_pending_updates"))
        return True

    async def get_webhook_info(self, _: Params) -> Json:
        """Say where updates are carried to and how that goes."""
        return self.world.updates.webhook_info()

    # --- sending

    async def send_message(self, p: Params) -> Json:
        """Put a text into a chat."""
        parsed = read_text(p.text("text"), p.text("parse_mode"), TEXT_UNITS, "message")
        if not parsed.text:
            raise bad("message text is empty")
        return self._send(p, {"text": parsed.text, "entities": parsed.entities}, p.text("text"))

    async def send_document(self, p: Params) -> Json:
        """Put a file into a chat."""
        name, content = self._upload(p, "document", UPLOAD_BYTES)
        caption = self._caption(p)
        return self._send(p, caption, p.text("caption"), document=(name, content))

    async def send_photo(self, p: Params) -> Json:
        """Put a photo into a chat."""
        _, content = self._upload(p, "photo", PHOTO_BYTES)
        return self._send(p, self._caption(p), p.text("caption"), photo=content)

    def _caption(self, p: Params) -> Json:
        parsed = read_text(p.text("caption"), p.text("parse_mode"), CAPTION_UNITS, "message caption")
        return {"caption": parsed.text, "caption_entities": parsed.entities} if parsed.text else {}

    def _upload(self, p: Params, kind: str, limit: int) -> tuple[str, bytes]:
        """Return the file of a call: uploaded with it, or known by its file_id."""
        found = p.file(kind) or self.world.files.get(p.text(kind))
        if found is None:
            raise bad(
                "wrong file identifier/HTTP URL specified"
                if p.text(kind)
                else f"there is no {kind} in the request"
            )
        size = len(found[1])
        if not size:
            raise bad("file must be non-empty")
        if size > UPLOAD_BYTES:
            raise Refused(413, "Request Entity Too Large")
        if size > limit:
            raise bad(f"file of size {size} bytes is too big for a {kind}; the maximum size is {limit} bytes")
        return found

    def _send(
        self,
        p: Params,
        content: Json,
        html: str,
        *,
        document: tuple[str, bytes] | None = None,
        photo: bytes | None = None,
    ) -> Json:
        """Keep a message of the bot, if the chat takes it now."""
        world, markup = self.world, p.tree("reply_markup")
        check_markup(markup)
        chat = self._reach(p)
        self._pace(chat)
        thread, reply = self._thread(p, chat), self._reply(p, chat)
        if document:
            content = {"document": world.keep_document(*document), **content}
        if photo:
            content = {"photo": world.keep_photo(photo), **content}
        body = world.message(chat, world.me, content, thread)
        if reply is not None:
            body["reply_to_message"] = world.quoted(chat, reply)
        if markup and "inline_keyboard" in markup:
            body["reply_markup"] = markup
        sent = Sent(
            chat.id,
            body["message_id"],
            content.get("text", content.get("caption", "")),
            html,
            buttons_of(markup),
            world.clock(),
            document,
            photo,
            reply,
            thread,
            markup,
        )
        chat.sent[sent.message_id] = sent
        world.sent.append(sent)
        return body

    def _reach(self, p: Params) -> Chat:
        """Return the chat of a call, if the bot may still write there."""
        chat = self.world.chats.get(p.number("chat_id"))
        if chat is None:
            raise bad("chat not found")
        if chat.moved_to is not None:  # Bot API, ResponseParameters
            raise Refused(
                400,
                "Bad Request: group chat was upgraded to a supergroup chat",
                migrate_to_chat_id=chat.moved_to,
            )
        reasons = {
            "blocked": "bot was blocked by the user",
            "deactivated": "user is deactivated",
            "kicked": f"bot was kicked from the {chat.kind} chat",
            "left": f"bot is not a member of the {chat.kind} chat",
        }
        if chat.state in reasons:
            raise Refused(403, f"Forbidden: {reasons[chat.state]}")
        return chat

    def _pace(self, chat: Chat) -> None:
        self.world.rates.take(chat.id, chat.group, self.world.clock())

    def _thread(self, p: Params, chat: Chat) -> int | None:
        thread = p.number("message_thread_id")
        if not thread or not chat.forum:
            return None
        if thread not in chat.threads:
            raise bad("message thread not found")
        return thread

    def _reply(self, p: Params, chat: Chat) -> int | None:
        asked = p.tree("reply_parameters") or {}
        wanted = int(asked.get("message_id", p.number("reply_to_message_id")))
        if not wanted or wanted in chat.messages:
            return wanted or None
        if not (asked.get("allow_sending_without_reply") or p.flag("allow_sending_without_reply")):
            raise bad("message to be replied not found")
        return None

    # --- changing what was sent

    async def edit_message_text(self, p: Params) -> Json:
        """Change text and keyboard of a message; with no keyboard given, the old one goes."""
        parsed = read_text(p.text("text"), p.text("parse_mode"), TEXT_UNITS, "message")
        if not parsed.text:
            raise bad("message text is empty")
        content = {"text": parsed.text, "entities": parsed.entities}
        return self._edit(p, content, p.text("text"))

    async def edit_message_reply_markup(self, p: Params) -> Json:
        """Change the keyboard of a message, or take it away."""
        return self._edit(p, {}, None)

    def _edit(self, p: Params, content: Json, html: str | None) -> Json:
        world, markup = self.world, p.tree("reply_markup")
        check_markup(markup)
        chat = self._reach(p)
        self._pace(chat)
        sent, body = self._mine(chat, p.number("message_id"))
        if html is not None and "text" not in body:
            raise bad("there is no text in the message to edit")
        old = {key: body.get(key) for key in content} | {"reply_markup": self._keys(body.get("reply_markup"))}
        if old == content | {"reply_markup": self._keys(markup)}:
            raise bad(NOT_MODIFIED)
        body |= content | {"edit_date": int(world.wall()), "reply_markup": markup}
        if not self._keys(markup):
            del body["reply_markup"]
        sent.text, sent.html = body.get("text", sent.text), sent.html if html is None else html
        sent.markup, sent.buttons = markup, buttons_of(markup)
        sent.edits, sent.edited_at = sent.edits + 1, world.clock()
        return body

    @staticmethod
    def _keys(markup: Json | None) -> list[Any]:
        """Return the rows of a keyboard; none and an empty one are the same."""
        return [row for row in (markup or {}).get("inline_keyboard", []) if row]

    def _mine(self, chat: Chat, message_id: int) -> tuple[Sent, Json]:
        if message_id not in chat.messages:
            raise bad("message to edit not found")
        if message_id not in chat.sent:
            raise bad("message can't be edited")
        return chat.sent[message_id], chat.messages[message_id]

    async def delete_message(self, p: Params) -> bool:
        """Take a message out of the chat."""
        chat = self._reach(p)
        if chat.messages.pop(p.number("message_id"), None) is None:
            raise bad("message to delete not found")
        sent = chat.sent.pop(p.number("message_id"), None)
        if sent:
            sent.deleted = True
        return True

    # --- files, buttons, inline queries

    async def get_file(self, p: Params) -> Json:
        """Say where a file can be fetched."""
        kept = self.world.files.get(p.text("file_id"))
        if kept is None:
            raise bad("invalid file_id")
        path, content = kept
        if len(content) > DOWNLOAD_BYTES:
            raise bad("file is too big")
        unique = p.text("file_id").replace("file", "unique")
        return {
            "file_id": p.text("file_id"),
            "file_unique_id": unique,
            "file_size": len(content),
            "file_path": path,
        }

    async def answer_callback_query(self, p: Params) -> bool:
        """Answer a pressed button."""
        if p.text("callback_query_id") not in self.world.queries:
            raise bad(TOO_OLD)
        if len(p.text("text")) > ANSWER_CHARACTERS:
            raise bad("MESSAGE_TOO_LONG")
        self.world.answers[p.text("callback_query_id")] = Answer(p.text("text"), p.flag("show_alert"))
        return True

    async def answer_inline_query(self, p: Params) -> bool:
        """Answer an inline query."""
        if p.text("inline_query_id") not in self.world.queries:
            raise bad(TOO_OLD)
        results, button = p.tree("results") or [], p.tree("button")
        check_results(results, button)
        answer = InlineAnswer(results, button, p.number("cache_time", 300), p.flag("is_personal"))
        self.world.inline_answers[p.text("inline_query_id")] = answer
        return True

    # --- commands, and the rest

    @staticmethod
    def _scope(p: Params) -> tuple[str, str]:
        """Return where commands count: the scope, with its chat if it has one, and the language."""
        scope = p.tree("scope") or {"type": "default"}
        chat = f":{scope['chat_id']}" if "chat_id" in scope else ""
        return scope["type"] + chat, p.text("language_code")

    async def set_my_commands(self, p: Params) -> bool:
        """Set the list of commands for one scope and language."""
        commands = p.tree("commands") or []
        check_commands(commands)
        self.world.commands[self._scope(p)] = [(c["command"], c["description"]) for c in commands]
        return True

    async def get_my_commands(self, p: Params) -> list[Json]:
        """Return the list of commands of one scope and language."""
        commands = self.world.commands.get(self._scope(p), [])
        return [{"command": name, "description": words} for name, words in commands]

    async def send_chat_action(self, p: Params) -> bool:
        """Show that something is under way."""
        self._reach(p)
        if p.text("action") not in ACTIONS:
            raise bad("wrong parameter action in request")
        return True

    async def leave_chat(self, p: Params) -> bool:
        """Leave a group."""
        chat = self._reach(p)
        if not chat.group:
            raise bad("chat member status can't be changed in private chats")
        self.world.go(chat)
        return True
