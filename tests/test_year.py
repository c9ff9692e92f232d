"""A year of three divers on one database, day by day through the real conversation; and what an outage does to it.

The usual run goes as far as the leap day, and the rest of the year is for the long one.

After a change that is meant, write the record anew: `pytest tests/test_year.py -m long --rewrite`, and read the difference.
"""

import asyncio
import shutil
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from bot.handle.reminder import reminder
from bot.replay import Line, Replay, Sent
from bot.replies import Kind
from scheduler.clock import SetClock, local_date
from scheduler.tick import tick
from store.engine import Store, sqlite_url

FOLDER = Path(__file__).parent / "year"
GOLDEN = FOLDER / "golden.txt"
FIRST, LEAP, LAST = date(2027, 11, 1), date(2028, 3, 2), date(2028, 11, 1)
BEGIN, FEBRUARY = datetime(2027, 10, 31, tzinfo=UTC), datetime(2028, 2, 20, 12, tzinfo=UTC)
DAY = timedelta(days=1)


@dataclass(frozen=True)
class Diver:
    """Where a diver lives, when reminders come, and when nothing may."""

    zone: str
    digest: time
    quiet: tuple[time, time]
    clocks_change: tuple[date, date]
    """The two days within the year on which clocks change there."""

    def at(self, on: date, hour: time) -> datetime:
        """Return the first instant at which clocks there show the hour; in a gap, as long after it began."""
        return datetime.combine(on, hour, ZoneInfo(self.zone)).astimezone(UTC)

    def local(self, at: datetime) -> datetime:
        """Return what the calendar and the clock there show."""
        return at.astimezone(ZoneInfo(self.zone))

    def is_quiet(self, at: datetime) -> bool:
        """Tell whether nothing may be said then."""
        clock, (start, end) = self.local(at).time(), self.quiet
        return start <= clock < end if start <= end else clock >= start or clock < end


DIVERS = {
    "berlin": Diver("Europe/Berlin", time(18), (time(22), time(7)), (date(2028, 3, 26), date(2028, 10, 29))),
    "auckland": Diver(
        "Pacific/Auckland", time(2, 30), (time(22), time(2)), (date(2028, 4, 2), date(2028, 9, 24))
    ),
    "new_york": Diver(
        "America/New_York", time(7), (time(22), time(7)), (date(2027, 11, 7), date(2028, 3, 12))
    ),
}


def said_by(chat: str) -> list[Line]:
    """Read what a diver says over the year: local day and time, then the words."""
    lines = []
    for row in (FOLDER / f"{chat}.txt").read_text(encoding="utf-8").splitlines():
        on, at, text = row.split(" ", 2)
        moment = datetime.combine(date.fromisoformat(on), time.fromisoformat(at), ZoneInfo(DIVERS[chat].zone))
        lines.append(Line(at=moment.astimezone(UTC), chat=chat, text=text))
    return lines


def open_store(template: Path, folder: Path) -> Store:
    """Open a fresh database."""
    shutil.copy(template, folder / "year.db")
    return Store(sqlite_url(folder / "year.db"))


def lived(file: Path, folder: Path, after: datetime, until: datetime) -> tuple[Path, list[Sent]]:
    """Play what is said in a span on a copy of a database; return that and everything that the bot said, answers too."""
    store = open_store(file, folder)
    said = (x for chat in DIVERS for x in said_by(chat) if after <= x.at < until)
    lines = sorted(said, key=lambda line: line.at)
    played = Replay(store, after)

    async def live() -> list[Sent]:
        answers = [sent for line in lines for sent in await played.play(line)]
        return answers + await played.until(until)

    try:
        return folder / "year.db", asyncio.run(live())
    finally:
        store.close()


@pytest.fixture(scope="module")
def winter(template, tmp_path_factory) -> tuple[Path, list[Sent]]:
    """Play the year until 20 February: the database as it is then, and what the bot said."""
    return lived(template, tmp_path_factory.mktemp("winter"), BEGIN, FEBRUARY)


@pytest.fixture(
    scope="module",
    params=[pytest.param(LEAP, id="winter"), pytest.param(LAST, id="year", marks=pytest.mark.long)],
)
def year(request, winter, tmp_path_factory) -> list[Sent]:
    """Play the year, or its winter; return everything that the bot said, answers too."""
    file, before = winter
    end = DIVERS["new_york"].at(request.param, time(0))
    return before + lived(file, tmp_path_factory.mktemp("year"), FEBRUARY, end)[1]


@pytest.fixture(scope="module")
def reminders(year) -> list[Sent]:
    """Return what the bot said of its own accord."""
    return [sent for sent in year if sent.reply.kind is Kind.REMINDER]


whole_year = pytest.mark.parametrize(
    "year", [pytest.param(LAST, id="year", marks=pytest.mark.long)], indirect=True, scope="module"
)
"""About something that happens later in the year."""


def told(sent: Sent) -> list[dict[str, Any]]:
    """Return the tasks that a reminder is about."""
    return sent.reply.data["notices"]


def is_eve(sent: Sent) -> bool:
    """Tell whether it is the last check before a trip."""
    return any(call["days_before"] == 1 for call in sent.reply.data.get("trips", ()))


def in_short(sent: Sent) -> str:
    """Say a reminder in a few lines: when, to whom, its first line, and what it is about."""
    grouped = defaultdict(list)
    for n in told(sent):
        place = f"{n['item']}/{n['part']}" if n["part"] else n["item"]
        grouped[n["stage"], n["due_on"]].append(f"{n['task']} {place}")
    rows = [f"{DIVERS[sent.chat].local(sent.at):%Y-%m-%d %a %H:%M %Z} {sent.chat}: {sent.reply.first}"]
    rows += [
        f"    trip {c['from']} to {c['to']}: {c['days_before']} days before, {c['open']} open"
        for c in sent.reply.data.get("trips", ())
    ]
    rows += [f"    {stage} {due_on}: {', '.join(what)}" for (stage, due_on), what in grouped.items()]
    return "\n".join(rows) + "\n"


# --- the record --------------------------------------------------------------------------------------------------------


def test_year_goes_as_agreed(reminders, request):
    said, whole = "".join(map(in_short, reminders)), request.node.callspec.params["year"] == LAST
    if request.config.getoption("--rewrite") and whole:
        GOLDEN.write_text(said, encoding="utf-8")
    agreed = GOLDEN.read_text(encoding="utf-8")
    assert said == (agreed if whole else agreed[: len(said)])
    assert len(said) > 5_000


def test_year_is_understood_word_for_word(year):
    """Nothing that the divers say is taken for something else or answered with a question."""
    unread = [s.reply.first for s in year if s.reply.data.get("intent") == "misunderstood"]
    assert unread == []


# --- what holds whatever the record says -------------------------------------------------------------------------------

PUT_OFF_TO = {
    ("berlin", date(2028, 1, 23)),
    ("auckland", date(2028, 2, 13)),
    ("new_york", date(2028, 1, 20)),
}
"""Days to which a diver put things off: what is told then, was told before."""
SILENCE = (datetime(2028, 8, 1, 0, tzinfo=UTC), datetime(2028, 9, 1, 0, tzinfo=UTC))
"""When the Auckland diver wants no reminders: noon to noon there."""
BACK_ON = ("auckland", date(2028, 9, 2))
"""The first day after it: what fell due meanwhile is told late."""
WEEK = 7
THURSDAY, SOONEST = 3, 5
"""What stays overdue is said again on Thursdays, no sooner than five days after it was called so."""


def comes_with_the_next_dive(notice: dict[str, Any]) -> bool:
    """Tell whether the act belongs to a dive day, so that it is never called overdue."""
    after = notice["task"] in {"rinse", "dry"} and not notice["part"]
    return after or notice["task"] in {"powder", "calibrate"} or notice["part"] == "sorbent"


def local_day(sent: Sent) -> date:
    """Return the day of a message where its reader lives."""
    return DIVERS[sent.chat].local(sent.at).date()


def is_grave(chat: str, notice: dict[str, Any]) -> bool:
    """Tell whether neglect can hurt someone, so that it is repeated."""
    of_loop = notice["item"] == "rebreather" and notice["task"] == "lubricate"
    of_cylinder = notice["item"].split()[0] in {"twinset", "cylinder", "aluminium"} and not notice["part"]
    suit_hit = notice["item"] == "dry suit" and not notice["part"]
    inspected = notice["task"] == "inspect" and (of_cylinder or suit_hit)
    washed = notice["task"] == "clean" and chat == "new_york" and not notice["part"]
    worked_on = notice["task"] in {"disinfect", "calibrate", "service", "test", "replace"}
    return of_loop or inspected or washed or (worked_on and notice["item"] != "dive computer")


def test_reminders_come_at_the_hour_of_the_diver(reminders):
    """The hour is that of the digest, in a gap as long after it began; the eve of a trip has its own."""
    off = []
    for sent in reminders:
        diver, on = DIVERS[sent.chat], local_day(sent)
        eve = diver.digest if diver.digest >= time(16) else time(18)
        if sent.at not in {diver.at(on, diver.digest), *([diver.at(on, eve)] if is_eve(sent) else [])}:
            off.append((sent.chat, diver.local(sent.at)))
    assert off == []


def test_reminders_leave_quiet_hours_alone(reminders):
    assert [s.at for s in reminders if DIVERS[s.chat].is_quiet(s.at)] == []


def test_reminders_come_once_a_day_at_most(reminders):
    days = [(s.chat, local_day(s)) for s in reminders if not is_eve(s)]
    assert sorted(days) == sorted(set(days))


@pytest.mark.parametrize(
    ("year", "on", "clock"),
    [
        pytest.param(LEAP, date(2028, 2, 29), "02:30 NZDT", id="leap day"),
        pytest.param(
            LAST, date(2028, 4, 2), "02:30 NZDT", id="hour that comes twice", marks=pytest.mark.long
        ),
        pytest.param(
            LAST, date(2028, 9, 24), "03:30 NZDT", id="hour that does not come", marks=pytest.mark.long
        ),
    ],
    indirect=["year"],
    scope="module",
)
def test_reminder_of_the_night_on_an_odd_day_comes_once(reminders, on, clock):
    diver = DIVERS["auckland"]
    night = [s for s in reminders if s.chat == "auckland" and local_day(s) == on]
    assert [f"{diver.local(s.at):%H:%M %Z}" for s in night] == [clock]


@whole_year
def test_reminders_keep_their_hour_where_clocks_change(reminders):
    """On both sides of each change the local hour is the same, so the instant is not."""
    hours = {}
    for chat, diver in DIVERS.items():
        for change in diver.clocks_change:
            near = [s for s in reminders if s.chat == chat and 0 < abs((local_day(s) - change).days) <= 21]
            hours[chat, change] = {diver.local(s.at).time() for s in near if not is_eve(s)}
            assert len({diver.local(s.at).utcoffset() for s in near}) == 2
    assert hours == {(chat, on): {d.digest} for chat, d in DIVERS.items() for on in d.clocks_change}


def test_stages_come_in_order_and_once_then_on_thursdays_for_what_is_grave(reminders):
    told_on = defaultdict(list)
    for sent in reminders:
        for n in told(sent):
            key = (sent.chat, n["item"], n["part"], n["task"], n["due_on"])
            told_on[key].append((local_day(sent), n["stage"], n))
    order = ["ahead", "due", "overdue"]
    wrong = []
    for (chat, *_, due_on), rows in told_on.items():
        due = date.fromisoformat(due_on)
        stages = [order.index(stage) for _, stage, _ in rows]
        again = [on for on, _, _ in rows if (chat, on) in PUT_OFF_TO or (chat, on) == BACK_ON]
        plain = [(on, stage) for on, stage, _ in rows if on not in again]
        late = [on for on, stage in plain if stage == "overdue"]
        put_off = [on for on in again if on > due]
        in_time = [stage for _, stage in plain if stage != "overdue"]
        if (
            stages != sorted(stages)
            or len(in_time) != len(set(in_time))
            or any(on >= due for on, stage in plain if stage == "ahead")
            or any(not due <= on < due + WEEK * DAY for on, stage in plain if stage == "due")
            or any(on != due + WEEK * DAY for on in late[:1] if not put_off)
            or any(on.weekday() != THURSDAY for on in late[1:])
            or any((after - before).days < SOONEST for before, after in pairwise(late))
            or (len(late) > 1 and not is_grave(chat, rows[0][2]))
        ):
            wrong.append((chat, due_on, [(str(on), stage) for on, stage, _ in rows], rows[0][2]))
    assert wrong == []


@whole_year
def test_what_is_grave_and_stays_undone_is_repeated_every_thursday(reminders):
    """The service that a diver neglects over the winter is said on each Thursday."""
    service = [
        local_day(s)
        for s in reminders
        for n in told(s)
        if (s.chat, n["item"], n["task"], n["due_on"], n["stage"])
        == ("berlin", "dry suit", "service", "2028-06-01", "overdue")
    ]
    assert service == [date(2028, 6, 8) + n * WEEK * DAY for n in range(len(service))]
    assert service[-1] == date(2028, 7, 13)


@whole_year
@pytest.mark.parametrize(
    ("chat", "item", "left_on"),
    [("berlin", "canister light", date(2028, 9, 2)), ("new_york", "bag", date(2028, 9, 15))],
)
def test_item_that_left_is_not_spoken_of(reminders, chat, item, left_on):
    told_on = {local_day(s) for s in reminders if s.chat == chat for n in told(s) if n["item"] == item}
    assert max(told_on) < left_on


@whole_year
def test_reminders_off_are_off_until_they_are_on(reminders):
    heard = [s.at for s in reminders if s.chat == "auckland"]
    assert [at for at in heard if SILENCE[0] <= at < SILENCE[1]] == []
    assert any(at >= SILENCE[1] for at in heard)


@whole_year
def test_trips_are_called_for_the_workshop_and_on_the_eve(reminders):
    """The trip that was moved is called for its new days alone."""
    calls = [
        (s.chat, c["from"], c["days_before"], local_day(s))
        for s in reminders
        for c in s.reply.data.get("trips", ())
    ]
    assert calls == [
        ("berlin", "2028-03-11", 28, date(2028, 2, 12)),
        ("berlin", "2028-03-11", 1, date(2028, 3, 10)),
        ("new_york", "2028-04-15", 28, date(2028, 3, 18)),
        ("new_york", "2028-04-15", 1, date(2028, 4, 14)),
        ("auckland", "2028-07-15", 28, date(2028, 6, 17)),
        ("auckland", "2028-07-15", 1, date(2028, 7, 14)),
    ]


def test_dive_computer_is_not_asked_to_be_calibrated(talk):
    talk.say("add dive computer")
    asked = {d["task"] for d in talk.say("1 dive today, salt, 20 m").data["due_now"]}
    assert asked == {"rinse"}


# --- outages -----------------------------------------------------------------------------------------------------------


class Machine:
    """The program between two outages: it rings when told to, on a clock that is set, and keeps what it sends."""

    wires = ("replay",)

    def __init__(self, store: Store, at: datetime) -> None:
        self.store, self.clock, self.sent = store, SetClock(at), []

    async def carry(self, digest) -> None:
        """Take every digest."""
        said = reminder(digest, local_date(self.clock.now(), digest.chat.zone))
        self.sent.append(Sent(self.clock.now(), digest.chat.address, said))

    def ring(self, at: datetime) -> list[Sent]:
        """Ring once at an instant; return what was sent."""
        self.clock.set(at)
        before = len(self.sent)
        asyncio.run(tick(self.store, self, self.clock))
        return self.sent[before:]


@pytest.fixture
def machine(winter, tmp_path) -> Iterator[Machine]:
    """Start the program on a copy of what was kept on 20 February."""
    shutil.copy(winter[0], tmp_path / "copy.db")
    store = Store(sqlite_url(tmp_path / "copy.db"))
    yield Machine(store, FEBRUARY)
    store.close()


AFTER_TWO_MONTHS = datetime(2028, 2, 20, 15, tzinfo=UTC) + 61 * DAY
"""Afternoon in Europe, morning in America, three at night in New Zealand: nobody's quiet hours."""


def stage_today(notice: dict[str, Any], today: date) -> str:
    """Work out where a task stands: overdue from the seventh day on, but for what each dive asks for anew."""
    days = (today - date.fromisoformat(notice["due_on"])).days
    if days >= WEEK and not comes_with_the_next_dive(notice):
        return "overdue"
    return "due" if days >= 0 else "ahead"


def test_outage_of_two_months_gives_one_message_a_chat_with_todays_stages(machine):
    sent = machine.ring(AFTER_TWO_MONTHS)
    assert sorted(s.chat for s in sent) == sorted(DIVERS)
    wrong = [(s.chat, n) for s in sent for n in told(s) if n["stage"] != stage_today(n, local_day(s))]
    assert wrong == []
    for s in sent:
        lines = [(n["item"], n["part"], n["task"], n["due_on"]) for n in told(s)]
        assert len(lines) == len(set(lines)) > 0


def test_outage_of_two_months_is_not_made_up_for_by_later_rings(machine):
    sent = machine.ring(AFTER_TWO_MONTHS)
    later = [
        m
        for minutes in (1 / 3, 1, 60, 240)
        for m in machine.ring(AFTER_TWO_MONTHS + timedelta(minutes=minutes))
    ]
    assert later == []
    week = [m for hours in range(5, 7 * 24) for m in machine.ring(AFTER_TWO_MONTHS + timedelta(hours=hours))]
    days = [(s.chat, local_day(s)) for s in [*sent, *week] if not is_eve(s)]
    assert len(days) == len(set(days))
    seen = {(s.chat, *n.values()) for s in sent for n in told(s)}
    again = [(s.chat, *n.values()) for s in week for n in told(s) if (s.chat, *n.values()) in seen]
    assert [n for n in again if n[-1] != "overdue"] == []


def test_outage_that_swallows_a_whole_trip_says_nothing_of_it(machine):
    sent = machine.ring(AFTER_TWO_MONTHS)
    assert [c for s in sent for c in s.reply.data.get("trips", ())] == []


@pytest.mark.parametrize(
    ("back", "calls"),
    [
        ("2028-04-06T11:00-04:00", [28]),
        ("2028-04-14T17:00-04:00", [1]),
        ("2028-04-14T21:00-04:00", [1]),
        ("2028-04-14T22:30-04:00", []),
        ("2028-04-15T07:00-04:00", []),
    ],
    ids=["before the eve", "on the eve", "late on the eve", "in the quiet of the eve", "on the day"],
)
def test_outage_that_swallows_a_lead_call_makes_the_latest_call_only(machine, back, calls):
    at = datetime.fromisoformat(back)
    said = [
        *machine.ring(at),
        *machine.ring(at + timedelta(minutes=1)),
        *machine.ring(at + timedelta(hours=1)),
    ]
    told_of = [c["days_before"] for s in said if s.chat == "new_york" for c in s.reply.data.get("trips", ())]
    assert told_of == calls


NIGHTS = [
    pytest.param(chat, on, id=f"{chat}-{on}", marks=() if chat == "auckland" else pytest.mark.long)
    for chat, diver in DIVERS.items()
    for on in diver.clocks_change
]


@pytest.mark.parametrize(("chat", "change"), NIGHTS)
def test_outage_of_five_hours_across_a_clock_change_gives_one_message(store, chat, change):
    """The digest is wished for at half past two, in the midst of the outage."""
    zone = DIVERS[chat].zone
    day_before = datetime.combine(change - DAY, time(9), ZoneInfo(zone)).astimezone(UTC)
    kit = [line.text for line in said_by(chat) if line.at.astimezone(ZoneInfo(zone)).date() == FIRST]
    hours = ["quiet hours 22 to 2", "reminders at 02:30"]
    words = [
        *(t for t in kit if not t.startswith(("quiet", "reminders"))),
        *hours,
        "2 dives today, salt, 20 m",
    ]
    played = Replay(store, day_before)

    async def live() -> None:
        for text in words:
            await played.play(Line(at=day_before, chat=chat, text=text))

    asyncio.run(live())
    machine = Machine(store, day_before)
    midnight = datetime.combine(change, time(0, 30), ZoneInfo(zone)).astimezone(UTC)
    back = midnight + timedelta(hours=5)
    rings = [
        machine.ring(at) for at in (midnight, back, back + timedelta(seconds=20), back + timedelta(hours=3))
    ]
    assert [len(sent) for sent in rings] == [0, 1, 0, 0]
    (message,) = rings[1]
    today = {n["due_on"] for n in told(message) if n["task"] == "rinse"}
    assert today == {(change - DAY).isoformat()}
    assert [n for n in told(message) if n["stage"] != stage_today(n, change)] == []
    next_day = [machine.ring(back + timedelta(hours=h)) for h in range(4, 30)]
    repeated = [n for sent in next_day for s in sent for n in told(s) if n in told(message)]
    assert [n for n in repeated if n["stage"] != "overdue"] == []


# --- known to be wrong -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("added", "words", "task"),
    [
        pytest.param(
            "add rebreather, 100%",
            "disinfected the loop",
            "disinfect",
        ),
        pytest.param(
            "add pressure gauge",
            "pressure gauge tested today",
            "test",
        ),
        ("add dive computer", "depth check of the dive computer done today", "test"),
        ("add rebreather, 100%", "rinsed everything, dried the mask", "rinse"),
        ("add rebreather, 100%", "rebreather disinfected", "disinfect"),
    ],
)
def test_care_told_in_the_words_of_the_reminder_answers_it(talk, added, words, task):
    talk.say(added)
    talk.say("add mask")
    talk.wait(days=366)
    talk.say("1 dive today")

    def asked() -> list[str]:
        due = talk.say("what is due?").data["due"]
        return [d["item"] for d in due if (d["part"], d["task"]) == (None, task)]

    before = asked()
    talk.say(words)
    assert (len(before) > 0, asked()) == (True, [])
