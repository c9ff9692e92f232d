"""What is killed, phase by phase, and what must hold after each kill and at the end of each round.

A round is one piece of work on one database, taken up again after each kill until it is done.
"""

import random
from collections import Counter, defaultdict
from contextlib import closing
from dataclasses import dataclass, field
from datetime import datetime, time, timedelta
from itertools import count, pairwise

from sqlmodel import select, update

from scheduler.deliver import CHATS_AT_ONCE
from scheduler.post import AT_ONCE
from scheduler.standing import edition, work_out
from store.engine import Session, Store
from store.outbox import LEASE
from store.tables import CareTask, Chat, Letter, Locker, Notice

from .killer import LAG_S, Nursery, Taken
from .script import BETWEEN, START, reference, say, script, state
from .worlds import Worlds

AGAIN = 2
"""So many acknowledged messages of each chat a wire brings again as well: it was killed before it heard of them."""
LATER = LEASE + timedelta(seconds=1)
EVENINGS = 6


@dataclass
class Tally:
    """What a phase came to."""

    kills: Counter[str] = field(default_factory=Counter)
    """By what was hit."""
    acknowledged: int = 0
    messages: int = 0
    repeated: Counter[str] = field(default_factory=Counter)
    """How often the wire took a message once more, by where it was at the kill: with the wire, or not yet noted."""
    most: int = 0
    """The most that one kill had repeated."""

    def line(self, phase: str, kind: str) -> str:
        """Say it in one line."""
        hit = ", ".join(f"{n} {what}" for what, n in sorted(self.kills.items()))
        said = f"{phase} on {kind}: {self.kills.total()} kills ({hit})"
        if self.acknowledged:
            said += f"; {self.acknowledged} acknowledged, lost 0, acted twice 0"
        if self.messages:
            said += (
                f"; {self.messages} messages, lost 0; taken again {self.repeated.total()}, all in flight at a kill "
                f"({self.repeated['with the wire']} with the wire, {self.repeated['not yet noted']} just answered; "
                f"at most {self.most} by one kill), twice by its key 0"
            )
        return said


class Phase:
    """One kind of work. A subclass prepares a world, says what a life does, and looks at what a life left behind."""

    name: str
    points = ("before a commit", "after a commit")
    same_key_same_words = True

    def __init__(self, nursery: Nursery, worlds: Worlds, seed: int, chats: int, each: int) -> None:
        self.nursery, self.worlds = nursery, worlds
        self.dice = random.Random(f"{self.name} {worlds.kind} {seed}")
        self.said = script(chats, each)
        self.size = {"work": self.name, "chats": chats, "each": each}
        self.tally = Tally()
        self.template = worlds.prepared(self.fill)

    def fill(self, store: Store) -> None:
        """Prepare the world that each round begins with."""

    def job(self, acknowledged: dict[str, int], lives: int) -> dict:
        """Return what the next life of a round does."""
        raise NotImplementedError

    def look(self, session: Session, acknowledged: dict[str, int], taken: list[Taken], *, over: bool) -> None:
        """Look at what a life left behind; `over`: it came to the end of the work."""
        raise NotImplementedError

    def run(self, kills: int) -> Tally:
        """Kill so many times, at instants spread over all of the work; a third of them at a named point of it."""
        span = self._round(None, kills)
        while self.tally.kills.total() < kills:
            self._round(span, kills)
        return self.tally

    def _round(self, span: float | None, kills: int) -> float:
        """Do the work once and return how long it took; `span` is how long it takes unharmed, None: it is unharmed."""
        url, taken, acknowledged = self.worlds.copy(self.template), [], {}
        killed: dict[int, float] = {}
        for lives in count():
            job = {"url": url, **self.size, **self.job(acknowledged, lives)}
            after = None
            if span is not None and self.tally.kills.total() < kills:
                if self.dice.random() < 1 / 3:
                    passes = self.dice.randint(1, self.size["chats"] * self.size["each"] // 3)
                    job["point"] = (self.dice.choice(self.points), passes)
                else:
                    after = self.dice.uniform(0, span)
            life = self.nursery.live(job, taken, self.dice, after)
            for chat, sure in life.acknowledged.items():  # what came again counts lower
                acknowledged[chat] = max(sure, acknowledged.get(chat, 0))
            if life.hit:
                self.tally.kills[life.hit] += 1
                killed[life.number] = life.killed_at
            self.worlds.sound(url)
            with closing(Store(url)) as store:
                store.read(lambda s, over=life.done: self.look(s, acknowledged, taken, over=over))
            if life.done:
                break
        self.tally.acknowledged += sum(acknowledged.values())
        self._look_at_messages(taken, killed)
        self.worlds.drop(url)
        return life.took

    def _look_at_messages(self, taken: list[Taken], killed: dict[int, float]) -> None:
        """Look at all that the wire took in a round: what came again had been in flight when its life was killed."""
        by_key, by_task = defaultdict(list), defaultdict(list)
        for message in taken:
            by_key[message.address, message.key].append(message)
            for task in message.of:
                by_task[task].append(message)
        by_kill = Counter()
        for same in by_key.values():
            by_kill.update(m.life for m in same[:-1])
            self.tally.repeated.update(_was_in_flight(earlier, killed) for earlier in same[:-1])
            if self.same_key_same_words:
                assert len({tuple(m.said) for m in same}) == 1, f"one key, two messages: {same}"
        for same in by_task.values():
            for earlier, later in pairwise(same):
                if later.key != earlier.key:
                    assert not self.same_key_same_words, f"told under two keys: {earlier} {later}"
                    _was_in_flight(earlier, killed)
        most = max(by_kill.values(), default=0)
        assert most <= CHATS_AT_ONCE + AT_ONCE
        self.tally.messages += len(by_key)
        self.tally.most = max(self.tally.most, most)


def _was_in_flight(message: Taken, killed: dict[int, float]) -> str:
    """Check that a message that came again was in flight when its life was killed, and return where it was."""
    at = killed.get(message.life)
    assert at is not None, f"it came again, and nothing was killed: {message}"
    assert message.answered is None or at - message.answered < LAG_S, f"it had long arrived: {message}"
    return "with the wire" if message.answered is None else "not yet noted"


class Updates(Phase):
    """Messages are taken; each is acknowledged to the wire once it is stored."""

    name = "updates"
    points = (*Phase.points, "before it is acknowledged")

    def __init__(self, *told) -> None:
        super().__init__(*told)
        self.states = reference(self.size["chats"], self.size["each"])

    def job(self, acknowledged, lives):
        return {"from": {chat: max(0, n - AGAIN) for chat, n in acknowledged.items()}}

    def look(self, session, acknowledged, taken, *, over):
        for chat, states in self.states.items():
            found = state(session, chat)
            self._as_far_as(found.acted, chat, acknowledged, over=over)
            assert found == states[found.acted], f"{chat} after {found.acted} messages"

    def _as_far_as(self, acted, chat, acknowledged, *, over):
        """Check how many messages of a chat acted: all that were acknowledged, and at most the one after them."""
        sure = acknowledged.get(chat, 0)
        assert sure <= acted <= sure + 1, f"{chat}: {acted} acted, {sure} acknowledged"
        if over:
            assert acted == sure == len(self.said[chat])


class Planning(Phase):
    """All lockers are worked out anew, which other rules gave: none, or each whole."""

    name = "planning"

    def fill(self, store):
        for lines in self.said.values():
            say(store, lines)

        def other_rules(session):
            session.exec(update(Locker).values(planned_by="other rules"))
            session.exec(update(CareTask).values(due_on=None, notify_at=None, cause="other"))
            for task in session.exec(select(CareTask).where(CareTask.id % 2 == 0)):
                session.delete(task)

        self.at = START + len(lines) * BETWEEN
        self.right = store.read(
            lambda s: {i: _from_facts(s, i, self.at.date()) for i in s.exec(select(Locker.id))}
        )
        store.write(other_rules)

    def job(self, acknowledged, lives):
        return {"at": self.at.isoformat(), "replan": self.dice.choice((2, 7, 50))}

    def look(self, session, acknowledged, taken, *, over):
        kept = {locker_id: set() for locker_id in self.right}
        for t in session.exec(select(CareTask)):
            kept[t.locker_id].add((t.item_id, t.part, t.rule, t.due_on, t.cause))
        for locker in session.exec(select(Locker)):
            if locker.planned_by == edition():
                assert kept[locker.id] == self.right[locker.id]
            else:
                assert not over
                assert {(due_on, cause) for *_, due_on, cause in kept[locker.id]} == {(None, "other")}


def _from_facts(session, locker_id, today):
    standing = work_out(session, locker_id, today)
    return {(i.item.id, d.part, d.rule.id, d.due_on, d.cause) for i in standing for d in i.dues}


class Delivery(Phase):
    """Letters and reminders go to the wire."""

    name = "delivery"
    points = (*Phase.points, "after an answer of the wire")

    def fill(self, store):
        for lines in self.said.values():
            say(store, lines)
        self.letters = set(store.read(lambda s: [letter.body["key"] for letter in s.exec(select(Letter))]))
        self.at = datetime.combine((lines[-1].at + timedelta(days=1)).date(), time(18, 30), START.tzinfo)

    def job(self, acknowledged, lives):
        return {"at": (self.at + lives * LATER).isoformat()}

    def look(self, session, acknowledged, taken, *, over):
        left = {letter.body["key"] for letter in session.exec(select(Letter))}
        assert self.letters - left <= {m.key for m in taken}, "an answer was dropped that never arrived"
        states = _sent_means_taken(session, taken)
        if over:
            assert (left, set(states)) == (set(), {"sent"})
            spoken_to = {m.address for m in taken if m.of}
            assert spoken_to == set(self.said), "a chat that heard nothing of what is due"


def _sent_means_taken(session, taken):
    """Check that the wire took what is noted as sent; return how many notices are in which state."""
    told = {task for message in taken for task in message.of}
    notices = session.exec(select(Notice)).all()
    of = [(n.item_id, n.part, n.rule, n.due_on.isoformat(), n.stage) for n in notices if n.state == "sent"]
    assert set(of) <= told, "noted as sent and never taken"
    return Counter(n.state for n in notices)


class AllAtOnce(Updates):
    """Updates, reminders and letters together, as the service has them; days go by as is spoken."""

    name = "all at once"
    points = (*Updates.points, "after an answer of the wire")
    same_key_same_words = False
    """What was in flight at a kill goes again by its key, without what a message since then has answered."""

    def job(self, acknowledged, lives):
        begun = START + BETWEEN * max(acknowledged.values(), default=0)
        last = max(lines[-1].at for lines in self.said.values()).date()
        night = datetime.combine(last, time(19), START.tzinfo) + lives * LATER
        self.end = night + EVENINGS * timedelta(days=1)
        evenings = [(night + n * timedelta(days=1)).isoformat() for n in range(1, EVENINGS + 1)]
        return {
            **super().job(acknowledged, lives),
            "at": (begun + lives * LATER).isoformat(),
            "evenings": evenings,
        }

    def look(self, session, acknowledged, taken, *, over):
        for chat, states in self.states.items():
            found = state(session, chat)
            self._as_far_as(found.acted, chat, acknowledged, over=over)
            was = states[found.acted]
            assert (found.facts, found.due) == (was.facts, was.due), f"{chat} after {found.acted} messages"
            left = {r.body["key"] for r in session.exec(select(Letter).where(Letter.address == chat))}
            answers = left | {m.key for m in taken if m.address == chat and not m.of}
            assert len(answers) == found.acted, "each message has one answer, on its way or arrived"
            assert not over or not left
        states = _sent_means_taken(session, taken)
        assert states["dead"] == 0
        if over:
            assert states["claimed"] == 0
            late = select(Notice).join(Chat, Chat.id == Notice.chat_id)
            late = late.where(Notice.state == "pending", Notice.send_at <= self.end)
            assert session.exec(late).all() == []
            assert states["sent"] > 0


PHASES = {
    phase.name: (phase, chats, each)
    for phase, chats, each in (
        (Updates, 4, 8),
        (Planning, 16, 5),
        (Delivery, 12, 4),
        (AllAtOnce, 3, 8),
    )
}
"""The size of each: how many chats, and how many messages each of them has said or says."""
