"""What a text means, with what its chat and its locker know: read within a budget, which whoever runs it keeps."""

from collections.abc import Callable
from typing import TypeVar

import structlog

from bot.advice.question import PartRef
from bot.apart import OverBudgetError, Runs
from bot.handle.visit import Visit
from bot.talked_of import recalled
from bot.tapped import intent_of
from bot.understand.in_passing import LONG_WINDED
from bot.understand.intents import Intent, Undo
from bot.understand.message import OwnMeaning
from bot.understand.reader import Context, Offer, understand_offered
from store import buttons, items, meter, own_words
from store.tables import OwnWord
from store.vocabulary import ItemKind, Substance

T = TypeVar("T")
log = structlog.get_logger(__name__)


class Hearing:
    """Reads texts."""

    def __init__(self, run: Runs) -> None:
        """Read by what runs a function within a budget."""
        self._run = run

    def in_chat(self, visit: Visit, text: str) -> Intent:
        """Return what a text means in the chat it was said in."""
        session, chat = visit.session, visit.chat
        shown = buttons.latest(session, chat)
        offers = tuple(Offer(b.label, _typed(intent_of(b))) for b in shown)
        last, talk = recalled(chat.last_intent, visit.actor)
        context = Context(
            offers=offers,
            own=tuple(_meaning(w) for w in own_words.of_locker(session, visit.locker_id)),
            names=tuple(i.name for i in items.of_locker(session, visit.locker_id)),
            last=last,
            talk=talk,
            imperial=visit.imperial,
        )
        meant, place = self.meant(understand_offered, text, visit.today, context) or (LONG_WINDED, None)
        if place is not None:  # typed in place of a tap: it speaks of the locker of the button
            visit.enters(shown[place].locker_id or chat.locker_id)
        return meant

    def meant(self, read: Callable[..., T], *given: object) -> T | None:
        """Return what a reader makes of a text; None if it did not come to an end."""
        try:
            return self._run(read, *given)
        except OverBudgetError:
            meter.tell("ended", what="reading")
            log.warning("reading_ended", reader=read.__name__)
            return None


def _meaning(row: OwnWord) -> OwnMeaning:
    part = PartRef(item=ItemKind(row.kind), part=row.part) if row.kind and row.part else None
    return OwnMeaning(row.word, Substance(row.substance) if row.substance else None, part)


def _typed(intent: Intent) -> Intent:
    """Return what a button means when its words are typed: who types "undo" means what they did, not what stands above."""
    return Undo() if isinstance(intent, Undo) else intent
