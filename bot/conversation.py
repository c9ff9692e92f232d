"""The way of a message: update -> intent -> handler -> reply, in one unit of work that happens whole or not at all."""

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from functools import partial
from hashlib import sha256

import structlog

from bot.access import ASIDES, WRONG_CODES, WRONG_WITHIN_S, Access, Patience
from bot.advice.answer import answer
from bot.apart import Runs, here
from bot.attempts import MOST_BEGUN, Attempts, key_of, what_of
from bot.handle.data_files import receive_data
from bot.handle.imports import receive
from bot.handle.second_thoughts import second_thought
from bot.handle.share import not_admitted, not_one_of_them, not_yours
from bot.handle.table import handle
from bot.handle.visit import Links, Visit
from bot.hearing import Hearing
from bot.post import post_answering
from bot.replies import Reply
from bot.talked_of import noted
from bot.tapped import button_of, intent_of, is_tap
from bot.understand.in_passing import LONG_WINDED, understand_question
from bot.understand.intents import (
    Ask,
    ImportDives,
    Intent,
    Misunderstood,
    SetPreference,
    ShareLocker,
    Undo,
    dump,
)
from bot.understand.reader import understand
from bot.updates import Answer, Update
from bot.zones import zone_at
from store import attempts, buttons, journal, letters, lockers, meter, people
from store.engine import Session, Store, once_stored
from store.errors import StoreError
from store.exchange.archive import Archive, ArchiveError, is_archive
from store.exchange.archive import load as load_archive
from store.exchange.logbook import LogFile, LogFileError, read_log
from store.tables import Chat, JournalEntry, Letter

__all__ = ["Answer", "Conversation", "Update"]
log = structlog.get_logger(__name__)
_INSTEAD = ("2 dives today, salt, 30 m", "what do I put on the neck ring?")
_DIALOGS = ("add_item", "import_dives", "forget_me")
"""Intents that get fuller with each tap: the question that was answered gives way to the next one."""


class Conversation:
    """Takes updates and answers them. One instance serves every wire."""

    def __init__(
        self,
        store: Store,
        token: Callable[[], str],
        web_url: str | None = None,
        access: Access | None = None,
        patience: Patience | None = None,
        *,
        run: Runs = here,
    ) -> None:
        """Work on a store; `token` makes the opaque ids of buttons. No `patience`: nobody writes too fast.

        `run` runs what reads texts of people, within a budget.
        """
        self._store = store
        self._token, self._hearing = token, Hearing(run)
        self._web_url = web_url
        self._access, self._patience = access or Access(), patience
        self._asides = Patience(ASIDES)
        self._guesses = Patience(WRONG_CODES, WRONG_WITHIN_S)
        self.attempts = Attempts(store)
        self._join_links: dict[str, str] = {}

    def reached_at(self, wire: str, join_link: str) -> None:
        """Note what goes before a code to make a link of it on a wire."""
        self._join_links[wire] = join_link

    def take(self, update: Update) -> Answer | None:
        """Answer one update; None if there is nothing to say to it. An error is logged once and answered with a plain sentence."""
        with meter.timing("take", wire=update.wire):
            return self._take(update)

    def _take(self, update: Update) -> Answer | None:
        who = people.key(update.wire, update.actor)
        became = partial(meter.tell, "update", wire=update.wire)
        if self._patience is not None and (wait_s := self._patience.spend(who)):
            became(outcome="too_fast")
            return self._too_fast(update, wait_s) if self._patience.tells(who) else None
        return self.attempts.run(update, partial(self._do, update), partial(self._put_aside, update))

    def _do(self, update: Update) -> Answer | None:
        became = partial(meter.tell, "update", wire=update.wire)
        try:
            sent = _read(*update.file) if update.file is not None and self._hears(update) else None
            answer = self._store.write(lambda session: self._unit(session, update, sent), _chat(update))
        except (LogFileError, ArchiveError) as error:
            became(outcome="unreadable")
            reply = Reply(
                str(error), ("Nothing was stored.",), data={"intent": "import_dives", "read": False}
            )
        except StoreError as error:
            became(outcome="not_stored")
            log.error("store_unusable", wire=update.wire, reason=str(error))  # noqa: TRY400 - one line, no trace: not a bug
            reply = Reply(
                "I cannot reach my records just now, so nothing was changed.",
                ("Please send it again in a minute.",),
            )
        except Exception:
            became(outcome="failed")
            log.exception("update_failed", wire=update.wire, update_id=update.update_id)
            reply = Reply(
                "Something went wrong on my side. Nothing was changed.",
                ("Please try it in other words, or later.",),
            )
        else:
            became(outcome="silent" if answer is None else "answered")
            return answer
        return self._without_effect(update, reply)

    def offer(self, chat_id: int, reply: Reply) -> tuple[str, ...] | None:
        """Store the buttons of a message that the bot sends unasked; return their ids in order, None if the chat is forgotten."""

        def work(session: Session) -> tuple[str, ...] | None:
            offers = [(o.label, dump(o.intent)) for o in reply.offers]
            chat = lockers.find_chat(session, chat_id)
            if chat is None:
                return None
            return tuple(row.id for row in buttons.show(session, chat, offers, self._token))

        return self._store.write(work)

    def _hears(self, update: Update) -> bool:
        """Tell whether somebody may write at all: a stranger's file is not even read."""
        return self._store.read(lambda session: self._access.admits(session, update))

    def quick(self, asked: Update) -> Reply | None:
        """Answer a question in passing, without a locker; None if it names nothing of the trade or the asker may not."""
        if self._asides.spend(people.key(asked.wire, asked.actor)):
            return None
        intent = self._hearing.meant(understand_question, asked.text or "", asked.at.date()) or LONG_WINDED
        if not isinstance(intent, Ask) or not self._hears(asked):
            return None
        advice = answer(intent.question)
        choices = tuple(f"- {choice.label}" for choice in advice.choices)
        return Reply(advice.short, (*advice.lines, *choices), advice.cautions)

    def gone(self, wire: str, chat: str, now: datetime, update_id: str | None = None) -> None:
        """Note that a chat takes no messages any more; whoever writes there again wants to hear again."""

        def work(session: Session) -> None:
            if update_id is None or not lockers.seen(session, wire, update_id, now):
                lockers.mute(session, wire, chat, now)

        self._store.write(work, people.key(wire, chat))

    def moved(self, wire: str, chat: str, to: str) -> None:
        """Note that a wire gave a chat another address."""
        self._store.write(lambda session: lockers.move_chat(session, wire, chat, to), people.key(wire, chat))

    def parted(self, wire: str, chat: str, actor: str) -> None:
        """Note that somebody left a group: its locker is no longer theirs to see."""

        def work(session: Session) -> None:
            row, who = lockers.at_address(session, wire, chat), people.key(wire, actor)
            if row is not None and row.group and people.role(session, row.locker_id, who) is not None:
                people.leave(session, row.locker_id, who)

        self._store.write(work, people.key(wire, chat))

    def _too_fast(self, update: Update, wait_s: float) -> Answer:
        again = f"Wait {max(1, round(wait_s))} seconds, then send again what came after my last answer."
        return self._without_effect(update, Reply("You write faster than I can read.", (again,)))

    def _without_effect(self, update: Update, reply: Reply) -> Answer:
        """Answer a message that changed nothing; it counts as seen, so that a wire that repeats it does not repeat the answer."""
        answer = Answer(reply)
        if not update.by_post:
            return answer

        def work(session: Session) -> None:
            if not self._seen(session, update):
                self._post(session, update, answer)

        try:
            self._store.write(work, _chat(update))
        except StoreError as error:
            log.error("store_unusable", wire=update.wire, reason=str(error))  # noqa: TRY400 - as above
            raise
        return answer

    def _put_aside(self, update: Update) -> Answer | None:
        """Tell once that an update is not begun again, and count it as seen, so that the next one is served."""
        meter.tell("update", wire=update.wire, outcome="set_aside")
        log.error("update_set_aside", wire=update.wire, update_id=update.update_id, what=what_of(update))
        reply = Reply(
            "That was too much for me, twice, so I set it aside. Nothing of it was stored.",
            ("Send it in other words, or in smaller pieces.",),
        )
        answer = Answer(reply) if self._hears(update) else None

        def work(session: Session) -> None:
            key = key_of(update)
            if key is None or self._seen(session, update):
                return
            attempts.put_aside(session, key, what_of(update), MOST_BEGUN, update.received or update.at)
            if answer is not None:
                self._post(session, update, answer)

        self._store.write(work, _chat(update))
        return answer

    def _seen(self, session: Session, update: Update) -> bool:
        """Note an update by when it came in, which is how long it may come again, and tell whether it had acted before."""
        if update.update_id is None:
            return False
        if (key := key_of(update)) is not None:
            attempts.end(session, key)
        return lockers.seen(session, update.wire, update.update_id, update.received or update.at)

    def _unit(self, session: Session, update: Update, sent: LogFile | Archive | None) -> Answer | None:
        if self._seen(session, update):
            return None
        answer = self._answer(session, update, sent)
        if answer is not None and update.by_post:
            self._post(session, update, answer)
        return answer

    def _answer(self, session: Session, update: Update, sent: LogFile | Archive | None) -> Answer | None:
        """Do what an update asks for; None if there is nothing to say to it."""
        who = people.key(update.wire, update.actor)
        if not self._access.admits(session, update) and not self._brings_a_code(session, update):
            return Answer(not_admitted(who, by_code=self._access.by_code))
        if self._begins_nothing(session, update):
            return None
        chat = self._open(session, update, who)
        visit = Visit(
            session, chat, who, update.at, self._token, self._links(update.wire), update.received or update.at
        )
        if people.role(session, chat.locker_id, who) is None and not self._brings_a_code(session, update):
            return Answer(not_one_of_them(visit))
        said = _hash(update.text) if update.text is not None and update.message is not None else None
        thought = second_thought(visit, update, said)
        if thought.ends:
            return Answer(thought.reply) if thought.reply is not None else None
        journal.watch(session)
        intent, reply = self._heard(visit, update, sent)
        if visit.forgotten:
            return Answer(reply)
        session.flush()
        if journal.noted(session):
            visit.standing()
        done = journal.keep(
            session,
            JournalEntry(
                chat_id=lockers.number(chat.id),
                at=update.at,
                actor=who,
                locker_id=visit.locker_id,
                message=update.message,
                said=said,
                intent=intent.intent,
                changes=[],
            ),
            forget=visit.takes_back,
        )
        chat.last_intent = noted(chat.last_intent, who, intent, reply)
        session.add(chat)
        if thought.corrects:
            reply = replace(reply, first=f"Corrected. {reply.first}")
        dealt_with = done is not None or visit.takes_back or intent.intent in _DIALOGS
        return Answer(reply, self._show(session, visit, reply, done), replaces=is_tap(update) and dealt_with)

    def _begins_nothing(self, session: Session, update: Update) -> bool:
        """Tell whether it is about something that was said before, and nothing was that asked for it."""
        if not update.taken_back and update.meant is None:
            return False
        chat = lockers.at_address(session, update.wire, update.chat)
        if chat is None:
            return True
        return update.meant is not None and button_of(session, lockers.number(chat.id), update) is None

    def _open(self, session: Session, update: Update, who: str) -> Chat:
        """Return the chat that speaks, with whoever speaks as one of its people."""
        people.meet(session, who, update.actor_name, update.at)
        chat = lockers.open_chat(
            session, update.wire, update.chat, update.at, group=update.group, topic=update.topic
        )
        strict = (
            update.by_post and not chat.group
        )  # a wire with people of its own, a chat that began between two
        if not strict or not people.of_locker(session, chat.locker_id):
            people.join(session, chat.locker_id, who, update.at)
        if chat.open_id is not None and people.role(session, chat.open_id, who) is None:
            chat.open_id = None
            session.add(chat)
        return chat

    def _links(self, wire: str) -> Links:
        return Links(self._web_url, self._join_links.get(wire))

    def _brings_a_code(self, session: Session, update: Update) -> bool:
        """Tell whether a stranger writes a code that lets in; who guesses is not listened to for a while."""
        asked = self._access.by_code and update.text
        read = self._hearing.meant(understand, update.text or "", update.at.date()) if asked else None
        who = people.key(update.wire, update.actor)
        if update.group or not isinstance(read, ShareLocker) or read.code is None or self._guesses.spent(who):
            return False
        if people.invited(session, read.code, update.received or update.at) is not None:
            return True
        once_stored(session, lambda: self._guesses.spend(who))
        return False

    def _heard(self, visit: Visit, update: Update, sent: LogFile | Archive | None) -> tuple[Intent, Reply]:
        """Read what was meant and have it handled."""
        if sent is not None and update.file is not None:
            name = update.file[0]
            read = (
                receive_data(name, sent, visit) if isinstance(sent, Archive) else receive(name, sent, visit)
            )
            return ImportDives(), read
        if is_tap(update):
            button = button_of(visit.session, lockers.number(visit.chat.id), update)
            if button is not None and not visit.enters(button.locker_id or visit.chat.locker_id):
                return ShareLocker(act="choose"), not_yours(visit)
            intent = intent_of(button)
        elif update.cannot is not None:
            intent = Misunderstood(problem=update.cannot, suggestions=_INSTEAD)
        elif update.place is not None:
            zone = zone_at(*update.place)
            intent = (
                SetPreference(zone=zone)
                if zone
                else Misunderstood(
                    problem="I know no time zone for that place.", suggestions=("zone Europe/Berlin",)
                )
            )
        else:
            intent = self._hearing.in_chat(visit, update.text or "")
        return intent, self._handle(intent, visit)

    def _handle(self, intent: Intent, visit: Visit) -> Reply:
        joins = isinstance(intent, ShareLocker) and intent.code is not None
        if joins and self._guesses.spent(visit.actor):
            return Reply("Too many wrong codes. Try again in an hour.", data={"intent": intent.intent})
        reply = handle(intent, visit)
        if joins and reply.data.get("done") is False:
            once_stored(visit.session, lambda: self._guesses.spend(visit.actor))
        return reply

    def _show(
        self, session: Session, visit: Visit, reply: Reply, done: JournalEntry | None
    ) -> tuple[str, ...]:
        """Store the buttons of an answer; its Undo takes back what this very message did."""
        undo = Undo(entry_id=done.id) if done is not None else Undo()
        offers = [(o.label, dump(undo if o.intent == Undo() else o.intent)) for o in reply.offers]
        of = None if visit.locker_id == visit.chat.locker_id else visit.locker_id
        return tuple(row.id for row in buttons.show(session, visit.chat, offers, self._token, of))

    def _post(self, session: Session, update: Update, answer: Answer) -> None:
        body = post_answering(update, answer, self._token()).model_dump(mode="json")
        letters.add(session, Letter(wire=update.wire, address=update.chat, body=body, send_at=update.at))


def _read(name: str, content: bytes) -> LogFile | Archive:
    """Read a file that was sent: all data of a locker, or else a dive log."""
    return load_archive(content) if is_archive(content) else read_log(name, content)


def _chat(update: Update) -> str:
    """Name the chat of an update: what is said there is taken in turn."""
    return people.key(update.wire, update.chat)


def _hash(text: str) -> str:
    return sha256(text.strip().encode()).hexdigest()[:24]
