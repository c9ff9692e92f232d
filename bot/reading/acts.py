"""What an intent does, act by act, in the kinds of the corpora."""

from bot.understand.intents import (
    AddItem,
    Ask,
    Export,
    ForgetMe,
    Help,
    Intent,
    LogDive,
    Misunderstood,
    PlanTrip,
    RecordCare,
    RecordManual,
    RetireItem,
    SetPreference,
    Several,
    ShareLocker,
    ShowDue,
    ShowKit,
    Snooze,
    Undo,
)


def kinds_of(intent: Intent) -> frozenset[str]:  # noqa: PLR0911 - an intent each
    """Return the kinds of clause that an intent may stand for."""
    if isinstance(intent, LogDive):
        return frozenset({"drop_dive"} if intent.removes else {"fix_dive"} if intent.corrects else {"dive"})
    if isinstance(intent, RecordCare):
        return frozenset({"mishap"} if intent.happened else {"care"})
    if isinstance(intent, AddItem):
        return frozenset({"fact"} if intent.of else {"kit"})
    if isinstance(intent, Ask):
        return frozenset({"ask", "mishap"} if intent.question.happened else {"ask"})
    if isinstance(intent, ShowDue):
        return frozenset(
            {"board"} if intent.board else {"why", "history"} if intent.why else {"due", "history"}
        )
    if isinstance(intent, ShowKit):
        return frozenset({"show_dives", "history"} if intent.dives else {"show_kit", "history"})
    if isinstance(intent, PlanTrip):
        return frozenset(
            {"drop_trip"} if intent.cancels else {"show_trip"} if intent.shows else {"trip", "fix_trip"}
        )
    if isinstance(intent, SetPreference):
        return frozenset({"word"} if intent.word else {"wish"})
    if isinstance(intent, Export):
        return frozenset({"paper", "export"})
    return _ONE.get(type(intent), frozenset())


_ONE: dict[type, frozenset[str]] = {
    RetireItem: frozenset({"gone"}),
    Snooze: frozenset({"snooze"}),
    RecordManual: frozenset({"manual"}),
    Undo: frozenset({"undo", "drop_dive"}),
    ShareLocker: frozenset({"share"}),
    ForgetMe: frozenset({"forget"}),
    Help: frozenset({"help"}),
    Misunderstood: frozenset({"chat", "other", "answer"}),
}


def told(intent: Intent) -> tuple[Intent, ...]:
    """Return every single act of an intent."""
    if isinstance(intent, Several):
        return tuple(act for one in intent.of for act in told(one))
    if isinstance(intent, LogDive):
        entries = (intent, *intent.also)
        bare = (one.model_copy(update={"also": (), "happened": ()}) for one in entries)
        return (*bare, *(act for entry in entries for one in entry.happened for act in told(one)))
    if isinstance(intent, RecordCare | AddItem):
        return (intent.model_copy(update={"also": ()}), *intent.also)
    return (intent,)
