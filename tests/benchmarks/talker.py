"""One process of the program that talks in chats of its own: a replica, as the benchmarks want it.

It is given a JSON object: `url`, `writers`, `senders` (messages that come in at once), `chats` (addresses), `each`
(messages a chat). It opens the database and says
"ready", waits for a line, talks, and tells how it went as one line of JSON: the fields of `measure.Talked`.
"""

import json
import sys
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from datetime import timedelta
from functools import partial
from pathlib import Path

from bot.conversation import Conversation, Update
from bot.main import set_up_logging, token
from store.engine import Store
from tests.benchmarks.measure import timed
from tests.benchmarks.rows import NOW

SAID = (
    "2 dives today, salt, 30 m, 45 min each",
    "what is due?",
    "what do I put on the neck ring?",
    "undo",
)


def say(talk: Conversation, chat: str, n: int) -> None:
    at = NOW + timedelta(minutes=n)
    answer = talk.take(Update("bench", chat, chat, at, text=SAID[n % len(SAID)], update_id=f"{chat}/{n}"))
    assert answer is not None
    assert "went wrong" not in answer.reply.first
    assert "cannot reach" not in answer.reply.first


def held_mb(process: int | str = "self") -> float:
    """Return the most memory that a process has held, in megabytes."""
    status = Path(f"/proc/{process}/status").read_text()
    return next(int(line.split()[1]) for line in status.splitlines() if line.startswith("VmHWM")) / 1024


def main() -> None:
    set_up_logging("ERROR")
    job = json.loads(sys.argv[1])
    with (
        closing(Store(job["url"], writers=job["writers"])) as store,
        ThreadPoolExecutor(job["senders"]) as pool,
    ):
        talk = Conversation(store, token)
        for n in range(len(SAID)):  # what is loaded at first need is loaded
            say(talk, job["chats"][0], -len(SAID) + n)
        before = store.repeated
        print("ready", flush=True)
        sys.stdin.readline()

        def season(share: int) -> list[float]:
            mine = job["chats"][share :: job["senders"]]
            return [timed(partial(say, talk, chat, n)) for n in range(job["each"]) for chat in mine]

        took = [ms for one in pool.map(season, range(job["senders"])) for ms in one]
        print(
            json.dumps({"took": took, "repeated": store.repeated - before, "rss_mb": held_mb()}), flush=True
        )


if __name__ == "__main__":
    main()
