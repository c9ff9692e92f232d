"""Tokens and passwords stay out of what is logged and said."""

import json
import logging

import pytest
import structlog

from bot.access import Patience
from bot.main import set_up_logging
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


def test_own_log_is_scrubbed_in_errors_too(capfd):
    set_up_logging("WARNING", [TOKEN])
    try:
        int(f"no answer from bot{TOKEN}")
    except ValueError:
        structlog.get_logger("x").exception("failed", url=f"https://x/bot{TOKEN}")
    logged = capfd.readouterr().err
    assert "no answer from bot***" in logged
    assert TOKEN not in logged


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
