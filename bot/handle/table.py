"""Which function answers which intent. The one place where the two meet."""

from collections.abc import Callable
from typing import Any

from bot.handle import (
    ask,
    care,
    dives,
    due,
    export,
    imports,
    kit,
    leaving,
    manual,
    retire,
    self_service,
    several,
    share,
    snooze,
    trips,
)
from bot.handle.visit import Visit
from bot.replies import Reply
from bot.understand import intents as i
from bot.understand.intents import Intent

HANDLERS: dict[type[Any], Callable[[Any, Visit], Reply]] = {
    i.LogDive: dives.log_dive,
    i.Ask: ask.ask,
    i.AddItem: kit.add_item,
    i.RetireItem: retire.retire_item,
    i.ShowKit: kit.show_kit,
    i.ShowDue: due.show_due,
    i.RecordCare: care.record_care,
    i.Snooze: snooze.snooze,
    i.PlanTrip: trips.plan_trip,
    i.RecordManual: manual.record_manual,
    i.Undo: self_service.undo,
    i.SetPreference: self_service.set_preference,
    i.ShareLocker: share.share_locker,
    i.Export: export.export,
    i.ImportDives: imports.import_dives,
    i.ForgetMe: leaving.forget_me,
    i.Help: self_service.help_me,
    i.Misunderstood: self_service.misunderstood,
    i.Several: several.several,
}


def handle(intent: Intent, visit: Visit) -> Reply:
    """Answer an intent within the visit's unit of work; who may not do it here is told who may."""
    if not share.may(intent, visit):
        return share.refused(intent, visit)
    return HANDLERS[type(intent)](intent, visit)
