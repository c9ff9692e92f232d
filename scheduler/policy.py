"""When somebody is told: stages, the diver's hour, quiet hours, and what to do when a wire fails. All pure."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

from scheduler.care_rule import By, CareRule

GRACE_DAYS = 7
"""Days from being told that a task is due to being told that it is overdue."""
REPEAT_DAYS = 7
"""A critical task that stays overdue is repeated that often; nothing else is."""
REPEAT_WEEKDAY = 3
"""On Thursdays, so that all that is overdue comes in one message, in time for the weekend."""
SOONEST_REPEAT_DAYS = 5
"""A repeat comes no sooner after a telling."""
EVENING = time(18)
"""A last check before leaving is said in the evening, whatever the diver's hour."""
AFTERNOON = time(16)
"""A diver's hour from then on is evening enough."""


@dataclass(frozen=True, slots=True)
class Retry:
    """How often something that failed is tried, and how long after the first failure; twice as long after each more."""

    attempts: int
    first: timedelta


NOTICES = Retry(8, timedelta(seconds=30))
ANSWERS = Retry(14, timedelta(seconds=1))
"""Somebody is looking at the screen: at once, and for some hours."""


@dataclass(frozen=True, slots=True)
class Wishes:
    """How the holder of a chat wants to be told. Hours are local to `zone`."""

    zone: str
    digest_at: time
    quiet_from: time
    quiet_to: time


@lru_cache(maxsize=1024)
def wishes(zone: str, digest_at: str, quiet_from: str, quiet_to: str) -> Wishes:
    """Read wishes as they are stored, hours like "18:00"."""
    return Wishes(zone, *map(time.fromisoformat, (digest_at, quiet_from, quiet_to)))


AHEAD, DUE, OVERDUE = 0, 1, 2
"""Stages of a task, each told once; from OVERDUE on, a critical one is counted up weekly."""


def stage_name(stage: int) -> str:
    """Return the word of the contract for a stage."""
    return ("ahead", "due", "overdue")[min(stage, OVERDUE)]


def _repeated(rule: CareRule) -> bool:
    """Tell whether it is repeated weekly: what can hurt, and either somebody else must do it or a dive asked for it.

    A ring that only the calendar asks to be greased waits for the dive: it is said when that is logged or planned.
    """
    return rule.critical and (rule.by is not By.DIVER or rule.every.each_dive or bool(rule.every.after))


def _never_overdue(rule: CareRule) -> bool:
    return rule.before_next or (rule.every.each_dive and not rule.critical)


def begins_on(rule: CareRule, due_on: date, stage: int) -> date | None:
    """Return the day a stage begins, None if a task of this rule never reaches it."""
    late = due_on + timedelta(days=GRACE_DAYS)
    if stage == AHEAD:
        return due_on - timedelta(days=rule.lead_days) if rule.lead_days else None
    if stage == DUE:
        return due_on
    if _never_overdue(rule):
        return None
    if stage == OVERDUE:
        return late
    return (
        _first_repeat(late) + timedelta(days=REPEAT_DAYS * (stage - OVERDUE - 1)) if _repeated(rule) else None
    )


def _first_repeat(late: date) -> date:
    soonest = late + timedelta(days=SOONEST_REPEAT_DAYS)
    return soonest + timedelta(days=(REPEAT_WEEKDAY - soonest.weekday()) % 7)


def stage_on(rule: CareRule, due_on: date, day: date) -> int | None:
    """Return the stage a task is in on a day, None while it is too early to say anything."""
    late = begins_on(rule, due_on, OVERDUE)
    if late is not None and day >= late:
        repeats = (day - _first_repeat(late)).days // REPEAT_DAYS + 1
        return OVERDUE + (max(0, repeats) if _repeated(rule) else 0)
    if day >= due_on:
        return DUE
    ahead = begins_on(rule, due_on, AHEAD)
    return AHEAD if ahead is not None and day >= ahead else None


def told_with(rule: CareRule, due_on: date, stage: int, day: date) -> int:
    """Return the stage that counts as told when `stage` is told on a day: a repeat of the next few days goes with it."""
    if stage < DUE:
        return stage
    soon = stage_on(rule, due_on, day + timedelta(days=SOONEST_REPEAT_DAYS - 1))
    return max(stage, soon or stage)


def is_overdue(rule: CareRule, due_on: date, day: date) -> bool:
    """Tell whether a task is called overdue: a critical one from the day after its date, others a week later.

    What each dive asks for is given a night.
    """
    if _never_overdue(rule):
        return False
    return (day - due_on).days >= ((1 + rule.every.each_dive) if rule.critical else GRACE_DAYS)


def next_telling(rule: CareRule, due_on: date, told: int | None, today: date) -> date | None:
    """Return the day to speak next, given the stage told last: today if a newer one has begun; None when all is said."""
    now_in = stage_on(rule, due_on, today)
    if now_in is not None and (told is None or now_in > told):
        return today
    first = AHEAD if told is None else told + 1
    days = (begins_on(rule, due_on, stage) for stage in range(first, max(first, OVERDUE) + 2))
    return next((day for day in days if day is not None and day > today), None)


@lru_cache(maxsize=4096)  # a locker's tasks share their days, and lockers their wishes
def hour_of(on: date, wishes: Wishes) -> datetime:
    """Return the instant of the digest on a local day; an hour that falls into quiet hours moves to their end."""
    at = datetime.combine(on, wishes.digest_at, ZoneInfo(wishes.zone))
    return after_quiet(at.astimezone(UTC), wishes)


def evening_of(on: date, wishes: Wishes) -> datetime:
    """Return the instant of a last check on a local day: the diver's hour if that is late enough, else the evening.

    Where that lies in the quiet hours it is said an hour before they begin, or else as soon as they end that day.
    """
    zone = ZoneInfo(wishes.zone)
    evening = wishes.digest_at if wishes.digest_at >= AFTERNOON else EVENING
    before_quiet = datetime.combine(on, wishes.quiet_from) - timedelta(hours=1)
    tried = (evening, before_quiet.time() if before_quiet.date() == on else wishes.quiet_to, wishes.quiet_to)
    instants = [datetime.combine(on, at, zone).astimezone(UTC) for at in tried]
    return next((at for at in instants if after_quiet(at, wishes) == at), instants[-1])


def after_quiet(at: datetime, wishes: Wishes) -> datetime:
    """Return the same instant, or the end of the quiet hours it falls into. From and to alike: no quiet hours."""
    zone = ZoneInfo(wishes.zone)
    local = at.astimezone(zone)
    start, end = wishes.quiet_from, wishes.quiet_to
    clock = local.time().replace(tzinfo=None)
    over_midnight = start > end
    quiet = (clock >= start or clock < end) if over_midnight else start <= clock < end
    if start == end or not quiet:
        return at.astimezone(UTC)
    day = local.date() + timedelta(days=1 if over_midnight and clock >= start else 0)
    ends = (datetime.combine(day, end, zone).replace(fold=fold).astimezone(UTC) for fold in (0, 1))
    return next(
        (over for over in ends if over >= at), at.astimezone(UTC)
    )  # an hour may come twice when clocks go back


def retry_at(
    attempts: int, now: datetime, wait: timedelta | None = None, how: Retry = NOTICES
) -> datetime | None:
    """Return when to try what failed again, None to give it up. `wait` is what the wire asked for."""
    if attempts >= how.attempts:
        return None
    backoff: timedelta = how.first * 2 ** max(0, attempts - 1)
    return now + max(wait or timedelta(0), backoff)
