"""Two real services on one database: either takes what is delivered, one sends, and the other takes over when it is killed.

In every run `tests/bot/test_replicas.py` has two conversations on one database, and `tests/store/test_helm.py` kills who delivers.
"""

import asyncio
import json
import os
import signal
import sys
import time
from pathlib import Path

import aiohttp
import pytest

from tests.wires.bot_api import BotApi
from tests.wires.bot_api_updates import SECRET_HEADER
from tests.wires.harness import until
from tests.wires.test_service import free_port

pytestmark = pytest.mark.postgresql
ILKA, SECRET = 501, "anemone"
WITHIN_S = 10


class Replica:
    """A process that serves."""

    def __init__(self, api, database, folder, number):
        self.port, self._log, self._run = free_port(), folder / f"replica {number}.log", None
        self._settings = {
            "RINSETANK_DB": database,
            "RINSETANK_WEB_PORT": str(self.port),
            "RINSETANK_WEB_URL": "http://127.0.0.1:9",
            "RINSETANK_TELEGRAM_TOKEN": api.token,
            "RINSETANK_TELEGRAM_API": api.base_url.removesuffix("/bot"),
            "RINSETANK_TELEGRAM_WEBHOOK_SECRET": SECRET,
        }

    async def start(self):
        with self._log.open("wb") as log:
            self._run = await asyncio.create_subprocess_exec(
                Path(sys.executable).parent / "rinsetank",
                "serve",
                env={**os.environ, **self._settings},
                stderr=log,
            )
        await until(lambda: "connected as" in self.said)
        return self

    @property
    def said(self):
        return self._log.read_text()

    @property
    def delivers(self):
        words = [json.loads(line).get("said", "") for line in self.said.splitlines()]
        return [w for w in words if w.startswith("delivery: ")][-1:] == ["delivery: here"]

    async def deliver(self, number, text):
        """Deliver an update as the wire does; it must be taken."""
        person = {"id": ILKA, "is_bot": False, "first_name": "Ilka"}
        message = {
            "message_id": number,
            "date": int(time.time()),
            "chat": {"id": ILKA, "type": "private", "first_name": "Ilka"},
            "from": person,
            "text": text,
        }
        async with (
            aiohttp.ClientSession() as session,
            session.post(
                f"http://127.0.0.1:{self.port}/telegram",
                json={"update_id": number, "message": message},
                headers={SECRET_HEADER: SECRET},
            ) as answer,
        ):
            assert answer.status == 200

    async def stop(self, how=signal.SIGTERM):
        if self._run is not None and self._run.returncode is None:
            self._run.send_signal(how)
            await asyncio.wait_for(self._run.wait(), 30)


KIT = "bag mask fins hood boots reel".split()


@pytest.mark.long
async def test_answer_goes_out_wherever_the_message_came_in_and_the_next_delivers_after_a_kill(
    database, tmp_path
):
    async with BotApi() as api:
        api.private(ILKA)
        first, second = (Replica(api, database, tmp_path, n) for n in (1, 2))
        try:
            await first.start()
            await until(lambda: first.delivers)
            await second.start()
            await first.deliver(1, "add scooter")
            await until(lambda: len(api.chat(ILKA)) == 1)
            took = []
            for n, item in enumerate(KIT, 2):
                await asyncio.sleep(1.1)  # the wire's own pace in one chat
                start = time.monotonic()
                await second.deliver(n, f"add {item}")
                await until(lambda n=n: len(api.chat(ILKA)) == n)
                took.append(time.monotonic() - start)
            usual = sorted(took)[len(KIT) // 2]
            print(
                f"\nanswered over the other replica: {usual * 1000:.0f} ms, slowest {max(took) * 1000:.0f} ms"
            )
            assert not second.delivers
            assert usual < 2.5, "it did not wait for the next look"

            killed_at = time.monotonic()
            await first.stop(signal.SIGKILL)
            last = len(KIT) + 2
            await second.deliver(last, "add camera housing")
            await until(lambda: len(api.chat(ILKA)) == last, WITHIN_S)
            print(f"the other delivered {time.monotonic() - killed_at:.2f} s after the kill")
            await second.deliver(last, "add camera housing")  # the wire repeats what it is not sure of
            await first.start()
            await first.deliver(last, "add camera housing")
            await first.deliver(last + 1, "show kit")
            await until(lambda: len(api.chat(ILKA)) > last)
            assert len(api.chat(ILKA)) == last + 1, "what came again was answered again"
            assert second.delivers
        finally:
            for replica in (first, second):
                await replica.stop()
