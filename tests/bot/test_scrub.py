"""Tokens and passwords stay out of what is logged and said."""

import json
import logging

import pytest
import structlog

from bot.access import Patience
from bot.main import set_up_logging, tell_operator
from bot.scrub import Scrubber

TOKEN = "4711:AAE-kelp-kelp"


def test_secret_is_starred_wherever_it_stands():
    scrub = Scrubber([TOKEN, "limpet-limpet", "sea"])
    assert scrub.text(f"https://x/bot{TOKEN}/getMe limpet-limpet") == "https://x/bot***/getMe ***"
    assert scrub.text("the sea") == "the sea"  # too short to be told from words


def test_longer_secret_goes_first():
    assert Scrubber(["barnacle", "barnacle-barnacle"]).text("barnacle-barnacle") == "***"


@pytest.mark.parametrize("name", ["httpx", "nio.client", "telegram.Bot", "aiohttp.access"])
def test_what_a_library_logs_says_where_and_not_what(capfd, name):
    set_up_logging("WARNING", [TOKEN])
    logging.getLogger(name).error("HTTP Request: POST https://x/bot%s/sendMessage 2 dives", TOKEN)
    logging.getLogger(name).info("more of the same %s", TOKEN)
    (line,) = capfd.readouterr().err.splitlines()
    assert (json.loads(line)["library"], json.loads(line)["event"]) == (name, "library_log")
    assert "dives" not in line


def test_fault_is_told_by_what_and_where_and_not_by_what_it_says(capfd):
    set_up_logging("WARNING", [TOKEN])
    try:
        try:
            int("two dives with Mara")
        except ValueError as error:
            raise KeyError("Mara") from error
    except KeyError:
        structlog.get_logger("x").exception("failed")
    (line,) = capfd.readouterr().err.splitlines()
    told = json.loads(line)
    assert (told["fault"], "Mara" in line) == ("KeyError from ValueError", False)
    assert told["where"][0].startswith("tests/bot/test_scrub.py:")


def test_fault_that_is_told_in_full_is_scrubbed(capfd):
    set_up_logging("DEBUG", [TOKEN])
    try:
        int(f"no answer from bot{TOKEN}")
    except ValueError:
        structlog.get_logger("x").exception("failed", url=f"https://x/bot{TOKEN}")
    logged = capfd.readouterr().err
    assert "no answer from bot***" in logged
    assert TOKEN not in logged


@pytest.mark.parametrize("text", ["@ilka:reef.example", "!room:reef.example:8448", "#club:reef.example"])
def test_address_of_a_person_or_a_room_is_starred(capfd, text):
    set_up_logging("WARNING")
    structlog.get_logger("x").warning("failed", reason=f"no key for {text}", known=["telegram", text])
    told = json.loads(capfd.readouterr().err)
    assert (told["reason"], told["known"]) == (f"no key for {text[0]}***", ["telegram", f"{text[0]}***"])


@pytest.mark.parametrize(
    "odd", ["a\nb", "a\r\nb", "\x1b[31m", "\u2028", "\u202e", "\x00", '"}\n{"event": "forged"', "\ud800"]
)
def test_nothing_that_is_logged_can_make_a_line_of_its_own(capfd, odd):
    set_up_logging("WARNING")
    structlog.get_logger("x").warning("failed", reason=odd, key=odd)
    raw = capfd.readouterr().err
    assert raw.isascii()
    assert raw.count("\n") == 1
    assert [c for c in raw.rstrip("\n") if not c.isprintable()] == []
    assert json.loads(raw)["event"] == "failed"


def test_what_the_service_says_is_a_line_of_the_log_where_nobody_sits(capfd):
    set_up_logging("ERROR", [TOKEN])
    tell_operator(f"telegram: ok,\nconnected with {TOKEN}")
    (line,) = capfd.readouterr().err.splitlines()
    told = json.loads(line)
    assert (told["event"], told["said"], told["level"]) == (
        "service",
        "telegram: ok,\nconnected with ***",
        "info",
    )


def test_patience_lets_so_many_through_and_tells_once():
    now = [0.0]
    patience = Patience(3, 60, lambda: now[0])
    assert [patience.spend("ilka") for _ in range(4)] == [0, 0, 0, 60]
    assert [patience.tells("ilka"), patience.tells("ilka")] == [True, False]
    assert patience.spend("mara") == 0
    now[0] = 59.0
    assert patience.spend("ilka") == 1
    now[0] = 60.0
    assert (patience.spend("ilka"), patience.spent("ola")) == (0, False)
