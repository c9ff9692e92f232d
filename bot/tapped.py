"""Which button of which message was meant: by its id, its label, its place, or a reaction that stands for it."""

from bot.understand.intents import Intent, Misunderstood, load
from bot.updates import Meant, Update
from store import buttons
from store.engine import Session
from store.tables import Button

_TOO_OLD = Misunderstood(
    problem="That button is too old or not from this chat.", suggestions=("what is due?",)
)
_INTENT = {Meant.DONE: "record_care", Meant.LATER: "snooze"}


def is_tap(update: Update) -> bool:
    """Tell whether an update is a tap of some kind."""
    said = (update.tap, update.tap_label, update.tap_place, update.meant)
    return any(s is not None for s in said)


def button_of(session: Session, chat_id: int, update: Update) -> Button | None:
    """Return the button that was tapped, None if it is too old or of another chat."""
    if update.tap is not None:
        return buttons.tapped(session, chat_id, update.tap)
    if update.tap_label is not None:
        return buttons.labelled(session, chat_id, update.tap_label)
    shown = buttons.under(session, chat_id, update.under) if update.under else []
    if update.meant is not None:
        return next((b for b in shown if b.intent.get("intent") == _INTENT[update.meant]), None)
    place = update.tap_place or 0
    return shown[place] if 0 <= place < len(shown) else None


def intent_of(button: Button | None) -> Intent:
    """Return what a button carries; one that an older program stored may no longer mean anything."""
    if button is None:
        return _TOO_OLD
    try:
        return load(button.intent)
    except ValueError:
        return _TOO_OLD
