"""What is logged: one JSON object a line, whoever writes what, and nothing of what they say or are called."""

import asyncio
import json

import pytest

from bot.handle.table import HANDLERS
from bot.main import set_up_logging
from bot.service import Service
from bot.settings import Settings
from bot.understand.intents import Help
from scheduler.limits import Allowance
from store.errors import StoreError
from tests.wires.bot_api import BotApi
from tests.wires.harness import FAST, until
from tests.wires.test_service import address, free_port

WHO = 70401
NAME = "Jorun Kelpwright"
PLACE = "Barnacle Bay"
FORGED = '\n{"event": "forged", "level": "critical"}\r\n\x1b[2J\u2028'
SAID = (
    f"add scooter called {PLACE}{FORGED}",
    f"2 dives today at {PLACE}{FORGED}",
    f"what goes on the {PLACE} ring?{FORGED}",
    "help",
    f"\x00{PLACE}\u202e",
    "undo",
)


def broken(*given):
    raise RuntimeError(f"broken by {NAME} at {PLACE}{FORGED}")


def refused(*given, **named):
    raise StoreError(f"cannot use it{FORGED}")


@pytest.mark.parametrize("level", ["WARNING", "INFO"])
async def test_conversation_with_faults_leaves_no_trace_of_who_said_what(store, capfd, monkeypatch, level):
    set_up_logging(level)
    monkeypatch.setitem(HANDLERS, Help, broken)
    monkeypatch.setattr("bot.transports.telegram.PAUSE_S", 0.01)
    monkeypatch.setattr("scheduler.limits.TELEGRAM", Allowance(per_second=600, chat_per_second=FAST))
    stop = asyncio.Event()
    async with BotApi(pace=FAST) as api:
        api.private(WHO, NAME)
        settings = Settings(web_port=free_port(), telegram_token=api.token, telegram_api=address(api))
        running = asyncio.create_task(Service(store, settings, lambda _: None).run(stop))
        for text in SAID:
            api.say(WHO, WHO, text)
        await until(lambda: len(api.chat(WHO)) >= len(SAID))
        api.fault("sendMessage", "502", 1)
        api.fault("getUpdates", "garbage", 1)
        api.say(WHO, WHO, f"my kit {PLACE}")
        await until(lambda: len(api.chat(WHO)) > len(SAID))
        with monkeypatch.context() as full:
            full.setattr("bot.conversation.journal.keep", refused)
            api.say(WHO, WHO, f"add torch {PLACE}")
            await until(lambda: any("cannot reach my records" in sent.text for sent in api.chat(WHO)))
        stop.set()
        await running
    out, err = capfd.readouterr()
    logged = [json.loads(line) for line in err.splitlines()]
    events = {entry["event"] for entry in logged}
    assert out == ""
    assert events >= {"update_failed", "store_unusable", "answer_failed"}
    assert "forged" not in events
    assert err.isascii()
    assert [w for w in (NAME, "Jorun", PLACE, "Barnacle", "scooter", str(WHO), api.token) if w in err] == []
    assert [e for e in logged if not {"event", "level", "timestamp"} <= e.keys()] == []


def test_fault_of_the_service_itself_is_one_line_too(capfd, database, monkeypatch):
    from bot.cli import main  # noqa: PLC0415 - as the shell does

    async def breaks(*given):
        raise RuntimeError(f"broken by {NAME}{FORGED}")

    monkeypatch.setattr("bot.service.serve", breaks)
    with pytest.raises(SystemExit) as ended:
        main(["serve", "--db", database])
    (line,) = capfd.readouterr().err.splitlines()
    assert (ended.value.code, json.loads(line)["event"], NAME in line) == (1, "service_failed", False)
