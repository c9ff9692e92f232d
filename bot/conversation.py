"""The way of a message: update -> intent -> handler -> reply, in one unit of work that happens whole or not at all."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

import structlog

from bot.advice.question import PartRef
from bot.handle.imports import receive
from bot.handle.table import handle
from bot.handle.visit import Visit
from bot.replies import Reply
from bot.understand.intents import Ask, ImportDives, Intent, Misunderstood, dump, load
from bot.understand.message import OwnMeaning
from bot.understand.reader import Context, Offer, understand
from scheduler.clock import local_date
from store import buttons, items, journal, lockers, own_words
from store.engine import Session, Store
from store.errors import StoreError
from store.exchange.logbook import LogFile, LogFileError, read_log
from store.tables import Button, Chat, OwnWord
from store.vocabulary import ItemKind, Substance

log = structlog.get_logger(__name__)


@dataclass(frozen=True, slots=True)
class Update:
    """What came in on a wire. Exactly one of `text`, `tap` (a button's id), `tap_label` and `file` is given.

    `update_id` None: the wire numbers nothing, so nothing can come twice.
    """

    wire: str
    chat: str
    actor: str
    at: datetime
    text: str | None = None
    tap: str | None = None
    tap_label: str | None = None
    file: tuple[str, bytes] | None = None
    """Name and content of a file that was sent."""
    update_id: str | None = None


@dataclass(frozen=True, slots=True)
class Answer:
    """A reply with the ids of its buttons, in order."""

    reply: Reply
    button_ids: tuple[str, ...] = ()


class Conversation:
    """Takes updates and answers them. One instance serves every wire."""

    def __init__(self, store: Store, token: Callable[[], str], web_url: str | None = None) -> None:
        """Work on a store; `token` makes the opaque ids of buttons, `web_url` is where the web endpoint is reached."""
        self._store = store
        self._token = token
        self._web_url = web_url

    def take(self, update: Update) -> Answer | None:
        """Answer one update; None if it had acted before. An error is logged once and answered with a plain sentence."""
        try:
            log_file = read_log(*update.file) if update.file is not None else None
            return self._store.write(lambda session: self._unit(session, update, log_file))
        except LogFileError as error:
            return Answer(
                Reply(str(error), ("Nothing was stored.",), data={"intent": "import_dives", "read": False})
            )
        except StoreError as error:
            log.error("store_unusable", wire=update.wire, reason=str(error))  # noqa: TRY400 - one line, no trace: not a bug
            return Answer(
                Reply(
                    "I cannot reach my records just now, so nothing was changed.",
                    ("Please send it again in a minute.",),
                )
            )
        except Exception:
            log.exception("update_failed", wire=update.wire, update_id=update.update_id)
            return Answer(
                Reply(
                    "Something went wrong on my side. Nothing was changed.",
                    ("Please try it in other words, or later.",),
                )
            )

    def offer(self, chat_id: int, reply: Reply) -> tuple[str, ...]:
        """Store the buttons of a message that the bot sends unasked; return their ids in order."""
        return self._store.write(
            lambda session: self._show(session, lockers.chat_by_id(session, chat_id), reply)
        )

    def _unit(self, session: Session, update: Update, log_file: LogFile | None) -> Answer | None:
        if update.update_id is not None and lockers.seen(session, update.wire, update.update_id, update.at):
            return None
        chat = lockers.open_chat(session, update.wire, update.chat, update.at)
        journal.watch(session)
        visit = Visit(session, chat, update.actor, update.at, self._token, self._web_url)
        intent: Intent
        if log_file is not None and update.file is not None:
            reply = receive(update.file[0], log_file, visit)
            intent = ImportDives()
        else:
            intent = self._intent(session, chat, update)
            reply = handle(intent, visit)
        if visit.forgotten:
            return Answer(reply)
        session.flush()
        if journal.noted(session):
            visit.standing()
        journal.keep(
            session, lockers.number(chat.id), update.actor, intent.intent, update.at, forget=visit.takes_back
        )
        if isinstance(intent, Ask):
            chat.last_intent = dump(intent)
            session.add(chat)
        return Answer(reply, self._show(session, chat, reply))

    def _show(self, session: Session, chat: Chat, reply: Reply) -> tuple[str, ...]:
        offers = [(o.label, dump(o.intent)) for o in reply.offers]
        return tuple(row.id for row in buttons.show(session, chat, offers, self._token))

    def _intent(self, session: Session, chat: Chat, update: Update) -> Intent:
        chat_id = lockers.number(chat.id)
        if update.tap is not None or update.tap_label is not None:
            return _tapped(session, chat_id, update)
        context = Context(
            offers=tuple(Offer(b.label, load(b.intent)) for b in buttons.latest(session, chat)),
            own=tuple(_meaning(w) for w in own_words.of_locker(session, chat.locker_id)),
            names=tuple(i.name for i in items.of_locker(session, chat.locker_id)),
            last=load(chat.last_intent) if chat.last_intent else None,
        )
        return understand(update.text or "", local_date(update.at, chat.zone), context)


def _meaning(row: OwnWord) -> OwnMeaning:
    part = PartRef(item=ItemKind(row.kind), part=row.part) if row.kind and row.part else None
    return OwnMeaning(row.word, Substance(row.substance) if row.substance else None, part)


def _tapped(session: Session, chat_id: int, update: Update) -> Intent:
    row: Button | None
    row = (
        buttons.tapped(session, chat_id, update.tap)
        if update.tap is not None
        else buttons.labelled(session, chat_id, update.tap_label or "")
    )
    if row is None:
        return Misunderstood(
            problem="That button is too old or not from this chat.", suggestions=("what is due?",)
        )
    return load(row.intent)
