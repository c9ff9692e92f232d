"""Two lockers side by side: one of somebody who meddles, and one that has nothing to do with them."""

import random
from typing import Any

from sqlmodel import SQLModel, select

from bot.conversation import Conversation, Update
from bot.main import token
from bot.updates import Meant
from store.engine import Store
from store.tables import (
    Button,
    Care,
    Chat,
    Dive,
    DiveImport,
    DiveItem,
    Item,
    JournalEntry,
    Loan,
    Locker,
    ManualNote,
    Member,
    Mishap,
    OwnWord,
    Snooze,
    Trip,
)
from tests.conftest import START

from . import inputs

SECRET = "Quillfish"
"""Is in the name of everything in the locker next door. Who meddles writes it small, so that an echo is no leak."""
VICTIM, MEDDLER = "victim", "meddler"
_KEPT: tuple[type[SQLModel], ...] = (
    Item,
    Dive,
    Care,
    ManualNote,
    Mishap,
    OwnWord,
    Snooze,
    Trip,
    Member,
    DiveImport,
    JournalEntry,
)
LOG = b"date,time,duration,kit\n2026-06-01,10:15,42,Quillfish regulator\n"
FAULT = "Something went wrong on my side. Nothing was changed."


class World:
    """`meddles` does one thing that nobody should; `kept` is all that the other locker holds."""

    def __init__(self, store: Store) -> None:
        self.store, self.now, self.n = store, START, 0
        self.conversation = Conversation(store, token)
        self.seen: list[str] = []
        for said in (
            f"add scooter called {SECRET} one",
            f"add dry suit called {SECRET} two, plastic zip, latex seals",
            "add 2 regulators",
            f"call this locker {SECRET} deck",
            "2 dives today, salt, 30 m",
            f"flooded {SECRET} one",
            "goo is silicone grease",
            "trip 12 to 19 December, 14 dives",
            "my calendar link",
            "share my locker",
        ):
            self.take(VICTIM, text=said)
        self.take(VICTIM, file=("log.csv", LOG))
        self.take(MEDDLER, text="add dry suit called Otter, plastic zip, latex seals")
        self.take(MEDDLER, text="2 dives today, salt")
        found = self.store.read(self._addresses)
        self.ids, self.buttons = range(1, found + 3), self._buttons()

    def take(self, who: str, **said: Any) -> str:
        """Hand in what one of them does, and return all that was answered."""
        self.n += 1
        answer = self.conversation.take(
            Update(
                "boat",
                who,
                who,
                START,
                update_id=str(self.n),
                actor_name=who.title(),
                message=f"m{self.n}",
                **said,
            )
        )
        if answer is None:
            return ""
        reply = answer.reply
        return "\n".join(
            (
                reply.first,
                *reply.lines,
                *reply.cautions,
                *(o.label for o in reply.offers),
                repr(reply.data),
                repr(reply.files),
            )
        )

    def _addresses(self, session: Any) -> int:
        return max(
            row.id or 0
            for table in (Item, Dive, Care, Trip, DiveImport, JournalEntry)
            for row in session.exec(select(table))
        )

    def _locker(self, session: Any) -> int:
        return session.exec(select(Chat).where(Chat.address == VICTIM)).one().locker_id

    def _buttons(self) -> list[str]:
        return self.store.read(lambda s: [b.id for b in s.exec(select(Button)) if b.chat_id == 1])

    def kept(self) -> dict[str, list[dict[str, Any]]]:
        """Return every row of the locker next door."""

        def work(session: Any) -> dict[str, list[dict[str, Any]]]:
            here = self._locker(session)
            found = {
                str(table.__tablename__): [
                    r.model_dump() for r in session.exec(select(table)) if r.locker_id == here
                ]  # type: ignore[attr-defined]
                for table in _KEPT
            }
            mine = {row["id"] for row in found["item"]}
            found["dive_item"] = [r.model_dump() for r in session.exec(select(DiveItem)) if r.item_id in mine]
            found["loan"] = [
                r.model_dump() for r in session.exec(select(Loan)) if here in {r.owner_id, r.borrower_id}
            ]
            found["locker"] = [session.get_one(Locker, here).model_dump(exclude={"planned_by"})]
            return found

        return self.store.read(work)

    def meddles(self, dice: random.Random, n: int) -> bool:
        """Do one thing that nobody should; assert that nothing of the other locker is told, and tell whether it was answered."""
        roll = dice.random()
        if roll < 0.45:
            said = self._forged(dice)
        elif roll < 0.6:
            said = self.take(MEDDLER, tap=dice.choice((*self.buttons, inputs.text(dice, 30), "0" * 400)))
        elif roll < 0.7:
            said = self.take(
                MEDDLER,
                tap_label=dice.choice(
                    ("Undo", "Count 1 dive", f"{SECRET} one".lower(), inputs.text(dice, 9))
                ),
            )
        elif roll < 0.78:
            odd = (
                {"tap_place": dice.choice((-1, 0, 1, 10**9))}
                if dice.random() < 0.5
                else {"meant": dice.choice(list(Meant))}
            )
            said = self.take(MEDDLER, under=f"m{dice.randint(0, 40)}", **odd)
        elif roll < 0.84:
            said = self.take(
                MEDDLER, place=(dice.choice((0.0, 91.0, 1e308, float("nan"))), dice.uniform(-400, 400))
            )
        elif roll < 0.9:
            said = self.take(
                MEDDLER,
                file=(dice.choice(inputs.HOSTILE), dice.choice((inputs.log(dice)[1], inputs.archive(dice)))),
            )
        else:
            said = self.take(MEDDLER, text=inputs.message(dice))
        assert SECRET not in said, said
        if roll >= 0.45:  # a forged intent may be one that no reader makes
            assert FAULT not in said
        return bool(said)

    def _forged(self, dice: random.Random) -> str:
        """Tap a button of one's own that holds what no button of one's own can hold."""
        made = inputs.forged(
            dice,
            self.ids,
            (f"boat:{VICTIM}", f"boat:{MEDDLER}"),
            (f"{SECRET} one".lower(), "scooter", "regulator"),
        )

        def work(session: Any) -> str:
            chat = session.exec(select(Chat).where(Chat.address == MEDDLER)).first()
            if chat is None:  # they had themselves forgotten
                return ""
            self.n += 1
            session.add(
                Button(
                    id=f"forged {self.n}", chat_id=chat.id, batch=chat.batch, place=99, label="x", intent=made
                )
            )
            return f"forged {self.n}"

        return self.take(MEDDLER, tap=self.store.write(work) or "none")
