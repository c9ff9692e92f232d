"""What a wire lets a bot send: never more than it publishes, hardly less, and nobody waits for another's limit.

Sources: Telegram Bot FAQ, 2023 copy: "My bot is hitting limits, how do I avoid this?"; Bot API, methods and types;
Matrix client-server API v1.19, "Size limits".
"""

import asyncio
import heapq
from collections import defaultdict
from itertools import count

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler import limits
from scheduler.limits import MATRIX_PER_SECOND, TELEGRAM, Allowance, Pacer, Window

ALL_A_SECOND, CHAT_A_SECOND, GROUP_A_MINUTE = 30, 1, 20
"""Telegram Bot FAQ, 2023 copy: "My bot is hitting limits": about 30 messages a second over all, one a second in one chat,
20 a minute in one group."""
SPIN = 30
"""Rounds of the event loop after which all that can run has run."""


class Seconds:
    """A clock whose sleeps end only when all that can run has run; then the earliest one ends and it is that late."""

    def __init__(self):
        self.now, self._naps, self._order = 0.0, [], count()

    def __call__(self):
        return self.now

    async def sleep(self, seconds):
        over = asyncio.get_running_loop().create_future()
        heapq.heappush(self._naps, (self.now + max(0.0, seconds), next(self._order), over))
        await over

    async def pass_until(self, done):
        """Let time go by until `done` tells that it is enough."""
        for _ in range(2_000_000):
            await settle()
            if done():
                return
            while self._naps and self._naps[0][2].done():
                heapq.heappop(self._naps)
            at, _, over = heapq.heappop(self._naps)
            self.now = max(self.now, at)
            over.set_result(None)
        raise AssertionError("it never ends")


async def settle():
    for _ in range(SPIN):
        await asyncio.sleep(0)


class Traffic:
    """Messages on their way through a pacer, and when each was let go."""

    def __init__(self, allowance=TELEGRAM):
        self.clock = Seconds()
        self.pacer = Pacer(allowance, self.clock, self.clock.sleep)
        self.sent = []
        self.tasks = []

    def send(self, chat, name=None, *, group=False, urgent=False):
        async def go():
            await self.pacer.turn(chat, group=group, urgent=urgent)
            self.sent.append((self.clock.now, chat, name))

        task = asyncio.get_running_loop().create_task(go())
        self.tasks.append(task)
        return task

    async def all_gone(self):
        await self.clock.pass_until(lambda: all(task.done() for task in self.tasks))
        await asyncio.gather(*self.tasks, return_exceptions=True)

    def times(self, chat=None):
        return [at for at, to, _ in self.sent if chat in {None, to}]

    def names(self):
        return [name for *_, name in self.sent]


def most_in(times, seconds):
    """Return the most that fall into any span of so many seconds, its end not included."""
    times, first, most = sorted(times), 0, 0
    for n, at in enumerate(times):
        while at - times[first] >= seconds:
            first += 1
        most = max(most, n - first + 1)
    return most


# --- the table ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "published"),
    [
        ("TEXT_CHARS", 4096),  # Bot API, sendMessage: "text"
        ("CAPTION_CHARS", 1024),  # Bot API, sendDocument: "caption"
        ("CALLBACK_BYTES", 64),  # Bot API, InlineKeyboardButton: "callback_data"
        ("START_CHARS", 64),  # Bot features, deep linking: the start parameter
        ("SECRET_CHARS", 256),  # Bot API, setWebhook: "secret_token"
        ("EVENT_BYTES", 65_536),  # Matrix client-server API v1.19, Size limits
    ],
)
def test_sizes_are_the_published_ones(name, published):
    assert getattr(limits, name) == published


def test_rates_are_the_published_ones():
    assert Allowance(ALL_A_SECOND, CHAT_A_SECOND, GROUP_A_MINUTE) == TELEGRAM


# --- a window ----------------------------------------------------------------------------------------------------------


def test_window_lets_so_many_through_and_then_waits_for_the_oldest_to_pass():
    window = Window(2, 10.0)
    assert window.wait_s(0.0) == 0
    for at in (0.0, 4.0):
        window.take(at)
    assert [window.wait_s(at) for at in (4.0, 9.0, 10.0, 11.0)] == [6.0, 1.0, 0.0, 0.0]
    window.take(10.0)
    assert [window.wait_s(at) for at in (10.0, 14.0)] == [4.0, 0.0]


def test_window_is_idle_once_all_of_it_is_past():
    window = Window(2, 10.0)
    assert window.idle(0.0)
    window.take(0.0)
    window.take(3.0)
    assert [window.idle(at) for at in (3.0, 12.9, 13.0)] == [False, False, True]


@given(
    st.integers(1, 6),
    st.floats(0.1, 60),
    st.lists(st.floats(0, 20), min_size=1, max_size=60),
)
@settings(max_examples=100, deadline=None)
def test_window_never_lets_more_through_in_any_span(most, seconds, gaps):
    window, now, taken = Window(most, seconds), 0.0, []
    for gap in gaps:
        now += gap
        wait = window.wait_s(now)
        assert 0 <= wait <= seconds + 1e-6
        now += wait
        window.take(now)
        taken.append(now)
    assert most_in(taken, seconds - 1e-6) <= most


# --- the rates ---------------------------------------------------------------------------------------------------------


async def test_three_thousand_messages_to_as_many_chats_go_at_nearly_the_allowed_rate():
    traffic = Traffic()
    for n in range(3_000):
        traffic.send(f"chat {n}")
    await traffic.all_gone()
    times = traffic.times()
    assert (len(times), len({to for _, to, _ in traffic.sent})) == (3_000, 3_000)
    assert most_in(times, 1.0) <= ALL_A_SECOND
    allowed = 3_000 / ALL_A_SECOND
    assert 0.95 * times[-1] <= allowed <= times[-1] + 1


async def test_chat_gets_one_a_second_and_all_in_order():
    traffic = Traffic()
    for n in range(40):
        traffic.send("deck", n)
    await traffic.all_gone()
    assert traffic.names() == list(range(40))
    assert most_in(traffic.times(), 1.0) <= CHAT_A_SECOND
    assert traffic.times()[-1] <= 39 / 0.95


async def test_group_gets_twenty_a_minute():
    traffic = Traffic()
    for n in range(70):
        traffic.send("club", n, group=True)
    await traffic.all_gone()
    assert traffic.names() == list(range(70))
    assert most_in(traffic.times(), 60.0) <= GROUP_A_MINUTE
    assert most_in(traffic.times(), 1.0) <= CHAT_A_SECOND
    assert traffic.times()[-1] <= (3 * 60 + 10) / 0.95


async def test_rate_of_a_wire_without_limits_a_chat_is_that_of_the_wire():
    traffic = Traffic(Allowance(MATRIX_PER_SECOND))
    for n in range(200):
        traffic.send("deck", n)
    await traffic.all_gone()
    assert traffic.names() == list(range(200))
    assert most_in(traffic.times(), 1.0) <= MATRIX_PER_SECOND
    assert traffic.times()[-1] <= 200 / MATRIX_PER_SECOND / 0.95


async def test_chats_that_were_idle_are_forgotten_and_still_keep_their_rate():
    traffic = Traffic()
    for n in range(50):
        traffic.send(f"chat {n}")
    await traffic.all_gone()
    traffic.send("deck")
    await traffic.all_gone()
    traffic.clock.now += 60
    traffic.send("boat")
    await traffic.all_gone()
    assert len(traffic.pacer._chats) <= 1
    traffic.send("boat")
    await traffic.all_gone()
    assert most_in(traffic.times("boat"), 1.0) == 1


# --- whose turn --------------------------------------------------------------------------------------------------------


async def test_answers_go_before_all_that_is_not_urgent():
    traffic = Traffic(Allowance(per_second=1))
    for n in range(10):
        traffic.send(f"chat {n}", "reminder")
    for n in range(5):
        traffic.send(f"chat {n}", "answer", urgent=True)
    await traffic.all_gone()
    assert traffic.names() == ["answer"] * 5 + ["reminder"] * 10
    assert traffic.times() == sorted(traffic.times())


async def test_chat_that_must_wait_holds_nobody_up():
    traffic = Traffic()
    for n in range(20):
        traffic.send("deck", n, urgent=True)
    for n in range(25):
        traffic.send(f"chat {n}", "other")
    await traffic.all_gone()
    others = [at for at, _, name in traffic.sent if name == "other"]
    assert max(others) < 1.0
    assert traffic.times("deck")[-1] >= 19.0


async def test_group_at_its_limit_holds_nobody_up():
    traffic = Traffic()
    for n in range(25):
        traffic.send("club", n, group=True)
    await traffic.clock.pass_until(lambda: len(traffic.times("club")) == GROUP_A_MINUTE)
    asked_at = traffic.clock.now
    traffic.send("deck")
    await traffic.clock.pass_until(lambda: traffic.times("deck"))
    assert traffic.times("deck")[0] - asked_at < 1.0
    assert len(traffic.times("club")) == GROUP_A_MINUTE
    await traffic.all_gone()
    assert len(traffic.times("club")) == 25


async def test_urgent_one_that_comes_during_a_sleep_goes_at_once():
    traffic = Traffic()
    traffic.send("deck", "first")
    waits = traffic.send("deck", "second")
    await settle()
    assert (traffic.names(), waits.done()) == (["first"], False)
    traffic.clock.now += 0.25
    traffic.send("boat", "answer", urgent=True)
    await settle()
    assert traffic.sent[1:] == [(0.25, "boat", "answer")]
    await traffic.all_gone()
    assert traffic.names() == ["first", "answer", "second"]


async def test_ones_that_come_during_a_sleep_do_not_make_it_longer():
    traffic = Traffic()
    for n in range(2):
        traffic.send("deck", n)
    await settle()
    for n in range(10):
        traffic.clock.now += 0.05
        traffic.send(f"chat {n}")
        await settle()
    await traffic.all_gone()
    assert traffic.times("deck")[1] <= 1.0 / 0.95


async def test_waiter_that_is_cancelled_vanishes_and_takes_no_turn():
    traffic = Traffic(Allowance(per_second=1))
    first, second, third = (traffic.send("deck", n) for n in range(3))
    await settle()
    assert first.done()
    second.cancel()
    await traffic.all_gone()
    assert (traffic.names(), second.cancelled()) == ([0, 2], True)
    assert third.done()
    assert traffic.times()[1] <= 1.0 / 0.95
    assert traffic.pacer._waiting == ([], [])


async def test_all_waiters_cancelled_leave_a_pacer_that_still_works():
    traffic = Traffic(Allowance(per_second=1))
    for n in range(5):
        traffic.send("deck", n)
    await settle()
    for task in traffic.tasks[1:]:
        task.cancel()
    await settle()
    traffic.send("deck", "later")
    await traffic.all_gone()
    assert traffic.names() == [0, "later"]


# --- any mix -----------------------------------------------------------------------------------------------------------

MESSAGES = st.lists(
    st.tuples(
        st.sampled_from(["deck", "boat", "club", "class", "pier", "quay"]),
        st.booleans(),
        st.sampled_from([0.0, 0.0, 0.0, 0.01, 0.3, 1.0, 7.0]),
    ),
    min_size=1,
    max_size=120,
)
GROUPS = {"club", "class"}


@given(MESSAGES)
@settings(max_examples=60, deadline=None)
def test_any_mix_keeps_all_limits_and_the_order_in_each_chat(messages):
    async def run():
        traffic = Traffic()
        for n, (chat, urgent, gap) in enumerate(messages):
            if gap:
                await settle()
                until = traffic.clock.now + gap
                nap = asyncio.ensure_future(traffic.clock.sleep(gap))
                await traffic.clock.pass_until(nap.done)
                assert traffic.clock.now >= until
            traffic.send(chat, (urgent, n), group=chat in GROUPS, urgent=urgent)
        await traffic.all_gone()
        return traffic

    traffic = asyncio.run(run())
    assert len(traffic.sent) == len(messages)
    assert most_in(traffic.times(), 1.0) <= ALL_A_SECOND
    order = defaultdict(list)
    for _, chat, (urgent, n) in traffic.sent:
        order[chat, urgent].append(n)
    assert all(sent == sorted(sent) for sent in order.values())
    for chat in {to for _, to, _ in traffic.sent}:
        assert most_in(traffic.times(chat), 1.0) <= CHAT_A_SECOND
        assert chat not in GROUPS or most_in(traffic.times(chat), 60.0) <= GROUP_A_MINUTE
