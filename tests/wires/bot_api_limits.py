"""What the Bot API publishes as its limits, and the checks that hold a call to them."""

import json
import math
import re
from collections import deque
from collections.abc import Mapping
from typing import Any

from tests.wires.bot_api_html import HtmlRefused, Parsed, parse_html, trimmed, units

TEXT_UNITS = 4096  # Bot API, sendMessage: "1-4096 characters after entities parsing"
CAPTION_UNITS = 1024  # Bot API, sendDocument and sendPhoto: "0-1024 characters after entities parsing"
BUTTON_BYTES = 64  # Bot API, InlineKeyboardButton: callback_data "1-64 bytes"
ANSWER_CHARACTERS = 200  # Bot API, answerCallbackQuery: text "0-200 characters"
COMMAND = re.compile(r"[a-z0-9_]{1,32}")  # Bot API, BotCommand
COMMAND_WORDS = 256  # Bot API, BotCommand: description "1-256 characters"
COMMANDS = 100  # Bot API, setMyCommands: "At most 100 commands can be specified"
UPDATES = 100  # Bot API, getUpdates: limit "Values between 1-100 are accepted"
POLL_SECONDS = 50  # the longest a getUpdates is kept waiting
SECRET = re.compile(r"[A-Za-z0-9_-]{1,256}")  # Bot API, setWebhook: secret_token
START = re.compile(r"[A-Za-z0-9_-]{1,64}")  # Bot API, InlineQueryResultsButton: start_parameter
RESULTS = 50  # Bot API, answerInlineQuery: "No more than 50 results per query are allowed"
RESULT_ID_BYTES = 64  # Bot API, InlineQueryResult: id "1-64 Bytes"
QUERY_CHARACTERS = 256  # Bot API, InlineQuery: query "up to 256 characters"
DOWNLOAD_BYTES = 20 << 20  # Bot API, getFile: "bots can download files of up to 20MB in size"
UPLOAD_BYTES = 50 << 20  # Bot API, Sending files: "50 MB for other files"
PHOTO_BYTES = 10 << 20  # Bot API, Sending files: "10 MB max size for photos"

CHAT_RATE, CHAT_BURST = 1.0, 3  # Bots FAQ: one a second in a chat; short bursts pass, here of three
ALL_RATE, ALL_BURST = 30.0, 30  # Bots FAQ: about 30 a second over all chats
GROUP_MESSAGES, GROUP_SECONDS = 20, 60.0  # Bots FAQ: 20 a minute in one group

ACTIONS = set(
    "typing upload_photo record_video upload_video record_voice upload_voice upload_document "
    "choose_sticker find_location record_video_note upload_video_note".split()
)  # Bot API, sendChatAction

EPSILON = 1e-9


class Refused(Exception):
    """A call that is answered with ok=false."""

    def __init__(self, code: int, description: str, **parameters: int) -> None:
        super().__init__(code, description)
        self.code, self.description, self.parameters = code, description, parameters


def bad(description: str) -> Refused:
    """Return the refusal of a bad request."""
    return Refused(400, f"Bad Request: {description}")


def too_many(wait: float) -> Refused:
    """Return the refusal that names how many whole seconds to wait, one at the least."""
    seconds = max(1, math.ceil(wait - EPSILON))
    return Refused(429, f"Too Many Requests: retry after {seconds}", retry_after=seconds)


class Bucket:
    """So many at once, and refilled at a steady rate."""

    def __init__(self, rate: float, burst: int, now: float) -> None:
        self.rate, self.burst, self.tokens, self.at = rate, burst, float(burst), now

    def wait(self, now: float) -> float:
        """Return how long until the next one passes; zero is now."""
        self.tokens = min(self.burst, self.tokens + (now - self.at) * self.rate)
        self.at = now
        return 0.0 if self.tokens >= 1 - EPSILON else (1 - self.tokens) / self.rate

    def take(self) -> None:
        """Let one pass."""
        self.tokens -= 1


class Window:
    """So many within any stretch of so long."""

    def __init__(self, limit: int, seconds: float) -> None:
        self.limit, self.seconds = limit, seconds
        self.times: deque[float] = deque()

    def wait(self, now: float) -> float:
        """Return how long until the next one passes; zero is now."""
        while self.times and self.times[0] + self.seconds <= now + EPSILON:
            self.times.popleft()
        return 0.0 if len(self.times) < self.limit else self.times[0] + self.seconds - now

    def take(self, now: float) -> None:
        """Let one pass."""
        self.times.append(now)


class Rates:
    """How fast a bot may send: in a chat, over all chats, and in a group; pace speeds all three up."""

    def __init__(self, pace: float, now: float) -> None:
        self.pace = pace
        self.all = Bucket(ALL_RATE * pace, ALL_BURST, now)
        self.chats: dict[int, Bucket] = {}
        self.groups: dict[int, Window] = {}

    def take(self, chat_id: int, group: bool, now: float) -> None:
        """Count one message, or refuse it and count nothing."""
        chat = self.chats.setdefault(chat_id, Bucket(CHAT_RATE * self.pace, CHAT_BURST, now))
        window = self.groups.setdefault(chat_id, Window(GROUP_MESSAGES, GROUP_SECONDS / self.pace))
        wait = max(self.all.wait(now), chat.wait(now), window.wait(now) if group else 0.0)
        if wait > 0:
            raise too_many(wait)
        self.all.take()
        chat.take()
        if group:
            window.take(now)


def read_text(markup: str, mode: str, limit: int, what: str) -> Parsed:
    """Read a text or a caption as it will stand in the chat, within its limit."""
    if mode and mode.lower() != "html":
        raise bad("unsupported parse_mode")  # this stand-in reads HTML alone
    try:
        parsed = trimmed(parse_html(markup) if mode else Parsed(markup))
    except HtmlRefused as refused:
        raise bad(f"can't parse entities: {refused}") from refused
    if units(parsed.text) > limit:
        raise bad(f"{what} is too long")
    return parsed


def check_markup(markup: Mapping[str, Any] | None) -> None:
    """Refuse a keyboard with a button that cannot be pressed."""
    for row in (markup or {}).get("inline_keyboard", []):
        for button in row:
            if not str(button.get("text", "")).strip():
                raise bad("inline keyboard button text must be non-empty")
            kinds = set(button) - {"text", "style", "icon_custom_emoji_id"}
            if not kinds:
                raise bad("inline keyboard button can't be parsed: Text buttons are unallowed")
            data = button.get("callback_data")
            if data is not None and not 1 <= len(data.encode()) <= BUTTON_BYTES:
                raise bad("BUTTON_DATA_INVALID")


def check_commands(commands: list[dict[str, str]]) -> None:
    """Refuse a list of commands that is too long or has one that cannot be shown."""
    if len(commands) > COMMANDS:
        raise bad("BOT_COMMANDS_TOO_MUCH")
    for each in commands:
        if not COMMAND.fullmatch(each.get("command", "")):
            raise bad("BOT_COMMAND_INVALID")
        if not 1 <= len(each.get("description", "")) <= COMMAND_WORDS:
            raise bad("BOT_COMMAND_DESCRIPTION_INVALID")


def check_secret(secret: str) -> None:
    """Refuse a webhook secret that no header could carry."""
    if len(secret) > 256:
        raise bad("secret token is too long")
    if secret and not SECRET.fullmatch(secret):
        raise bad("secret token contains unallowed characters")


def check_results(results: list[dict[str, Any]], button: Mapping[str, Any] | None) -> None:
    """Refuse inline results that are too many, have no proper id, or whose texts cannot be read."""
    if len(results) > RESULTS:
        raise bad("RESULTS_TOO_MUCH")
    ids = [str(result.get("id", "")) for result in results]
    if any(not 1 <= len(each.encode()) <= RESULT_ID_BYTES for each in ids):
        raise bad("RESULT_ID_INVALID")
    if len(set(ids)) < len(ids):
        raise bad("RESULT_ID_DUPLICATE")
    for result in results:
        check_markup(result.get("reply_markup"))
        content = result.get("input_message_content") or {}
        if "message_text" in content and not read_content(content).text:
            raise bad("message text is empty")
    if button and "start_parameter" in button and not START.fullmatch(button["start_parameter"]):
        raise bad("START_PARAM_INVALID")


def read_content(content: Mapping[str, Any]) -> Parsed:
    """Read the text that an inline result would send."""
    return read_text(content["message_text"], content.get("parse_mode", ""), TEXT_UNITS, "message")


class Params:
    """The parameters of one call, however they came: in the address, as a form, or as JSON."""

    def __init__(self, values: Mapping[str, Any], files: Mapping[str, tuple[str, bytes]]) -> None:
        self.values, self.files = values, files

    def text(self, name: str) -> str:
        """Return a parameter as text, empty where it was not given."""
        value = self.values.get(name)
        return "" if value is None else str(value)

    def number(self, name: str, default: int = 0) -> int:
        """Return a parameter as a whole number."""
        try:
            return int(self.values.get(name, default))
        except (TypeError, ValueError):
            return default

    def flag(self, name: str) -> bool:
        """Return whether a parameter says yes."""
        return self.text(name).lower() in {"true", "1", "yes"}

    def tree(self, name: str) -> Any:
        """Return a parameter that is written as JSON, or None."""
        value = self.values.get(name)
        if not isinstance(value, str):
            return value
        try:
            return json.loads(value) if value else None
        except ValueError as broken:
            raise bad(f"can't parse {name} JSON object") from broken

    def file(self, name: str) -> tuple[str, bytes] | None:
        """Return an uploaded file: its name and its bytes."""
        return self.files.get(self.text(name).removeprefix("attach://") or name)
