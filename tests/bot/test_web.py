"""The calendar feed over real HTTP on loopback: who may read it, and how it is cached."""

import asyncio
import socket
from datetime import timedelta

import aiohttp
import icalendar
import pytest

from bot.conversation import Conversation, Update
from bot.transports.web import application, serving
from scheduler.clock import SetClock

TOKEN = "a-word-that-nobody-guesses-1234"


@pytest.fixture
async def feed(store, talk):
    """Serve the feed of one locker; return a function that fetches a path."""
    words = iter(f"button{n:08}" for n in range(10_000))
    conversation = Conversation(store, lambda: next(words), "https://kit.example")
    at = talk.now

    def say(text, chat="deck"):
        return conversation.take(Update("web-test", chat, "mara", at, text=text)).reply

    say("add twinset 32%")
    say("twinset hydro tested May 2024")
    words = iter([TOKEN, *(f"later{n:08}" for n in range(10_000))])
    say("calendar link")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    clock = SetClock(at)
    async with serving(application(store, clock), "127.0.0.1", port), aiohttp.ClientSession() as session:

        async def fetch(path, method="GET", **headers):
            for _ in range(100):
                try:
                    async with session.request(
                        method, f"http://127.0.0.1:{port}{path}", headers=headers
                    ) as got:
                        return got.status, got.headers, await got.read()
                except aiohttp.ClientConnectorError:
                    await asyncio.sleep(0.02)
            raise AssertionError("the feed never came up")

        fetch.say, fetch.clock = say, clock
        yield fetch


async def test_feed_is_a_calendar_for_whoever_has_the_link(feed):
    status, headers, body = await feed(f"/calendar/{TOKEN}.ics")
    assert (status, headers["Content-Type"]) == (200, "text/calendar; charset=utf-8")
    assert "private" in headers["Cache-Control"]
    summaries = [str(e["SUMMARY"]) for e in icalendar.Calendar.from_ical(body).walk("VEVENT")]
    assert "Hydrostatic test (test station): twinset 32 %" in summaries


@pytest.mark.parametrize(
    "path",
    [
        "/calendar/a-word-that-nobody-guesses-1235.ics",
        f"/calendar/{TOKEN[:-1]}.ics",
        f"/calendar/{TOKEN}",
        "/calendar/.ics",
        "/calendar/%27%20OR%201=1.ics",
        f"/calendar/../calendar/{'x' * 500}.ics",
        "/",
        "/calendar/",
    ],
)
async def test_wrong_link_finds_nothing(feed, path):
    status, _, body = await feed(path)
    assert (status, b"VCALENDAR" in body) == (404, False)


async def test_feed_cannot_be_written_to(feed):
    status, _, _ = await feed(f"/calendar/{TOKEN}.ics", "POST")
    assert status == 405


async def test_feed_that_did_not_change_is_not_sent_again(feed):
    _, headers, _ = await feed(f"/calendar/{TOKEN}.ics")
    status, _, body = await feed(f"/calendar/{TOKEN}.ics", **{"If-None-Match": headers["ETag"]})
    assert (status, body) == (304, b"")
    feed.say("twinset hydro tested today")
    status, _, _ = await feed(f"/calendar/{TOKEN}.ics", **{"If-None-Match": headers["ETag"]})
    assert status == 200


async def test_feed_follows_the_day(feed):
    _, before, _ = await feed(f"/calendar/{TOKEN}.ics")
    feed.clock.forward(timedelta(days=1))
    status, after, _ = await feed(f"/calendar/{TOKEN}.ics")
    assert status == 200
    assert before["ETag"] == after["ETag"]  # nothing here is an estimate, so nothing moved


async def test_old_link_is_dead_after_a_new_one(feed):
    feed.say("new calendar link")
    status, _, _ = await feed(f"/calendar/{TOKEN}.ics")
    assert status == 404


async def test_link_of_a_locker_that_was_forgotten_is_dead(feed):
    feed.say("forget me")
    feed.say("delete it all")
    feed.say("yes, for good")
    status, _, _ = await feed(f"/calendar/{TOKEN}.ics")
    assert status == 404
