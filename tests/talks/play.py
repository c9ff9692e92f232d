"""Plays conversations in a fresh database each, and checks facts after every turn: `python -m tests.talks.play [FILE ...] [--show]`

Looking happens in a copy of the database, so that it disturbs nothing. Where kit that was told did not come into the kit the
expectation counts as failed, and the diver, who can see that, says it again in the documented form, so that one miss does not
drag all that follows down.
"""

import argparse
import asyncio
import json
import sqlite3
import sys
import tempfile
from collections import Counter
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from bot.files import Folder
from bot.main import set_up_logging
from bot.replay import Line, Replay, Sent
from store.engine import Store, sqlite_url
from tests.talks.facts import HARM, Look, check, lost_one, put_right, sort_of
from tests.talks.script import read

HERE = Path(__file__).parent
_ASKED = ("export my data", "what is due?", "show my kit", "export my data", "what is due?")
"""What a look asks for; twice, since an open question may take the first word."""


class Played:
    """One conversation as it is played."""

    def __init__(self, conv: dict[str, Any], folder: Path) -> None:
        self.conv, self.folder = conv, folder
        self.database = folder / "talk.db"
        self.start = datetime.fromisoformat(conv["turns"][0]["at"])
        self.store = Store(sqlite_url(self.database))
        self.replay = Replay(self.store, self.start - timedelta(minutes=2), folder=Folder(folder))
        self.loop = asyncio.Runner()

    def say(self, at: datetime, text: str, replay: Replay | None = None) -> list[dict[str, Any]]:
        line = Line.model_validate({"at": at, "chat": "talk", "from": "diver", "text": text})
        return [self._plain(s) for s in self.loop.run((replay or self.replay).play(line))]

    def _plain(self, sent: Sent) -> dict[str, Any]:
        row = sent.as_json()
        for name in sent.paths:
            if name.endswith(".json"):
                row["_data"] = json.loads(Path(name).read_text(encoding="utf-8"))
        return row

    def look(self, at: datetime, day: str) -> Look:
        """Ask a copy for its data, what is due and its kit."""
        copy = self.folder / "look.db"
        for old in self.folder.glob("look.db*"):
            old.unlink()
        with sqlite3.connect(self.database) as source, sqlite3.connect(copy) as target:
            source.backup(target)
        source.close()
        target.close()
        store = Store(sqlite_url(copy))
        there = Replay(store, at, folder=Folder(self.folder))
        said = [
            row
            for n, text in enumerate(_ASKED)
            for row in self.say(at + timedelta(seconds=n + 1), text, there)
        ]
        store.close()
        data = next((o["_data"] for o in said if "_data" in o), None)
        due = next(
            (o["data"]["due"] for o in said if o["data"].get("intent") == "show_due" and "due" in o["data"]),
            None,
        )
        kit = next((o["text"] for o in said if o["data"].get("intent") == "show_kit"), "")
        return Look(data, due, kit, day)


def play(
    conv: dict[str, Any], *, repairs: bool = True
) -> tuple[list[list[dict]], list[list[dict]], dict[Any, Look], int]:
    """Play one conversation; return replies and reminders by turn, looks, and after how many turns kit was said again."""
    with tempfile.TemporaryDirectory(prefix="talk-") as folder:
        played = Played(conv, Path(folder))
        for n, text in enumerate(conv.get("setup", [])):
            played.say(played.start - timedelta(seconds=50 - n), text)
        turns = conv["turns"]
        replies: list[list[dict]] = []
        reminders: list[list[dict]] = []
        looks: dict[Any, Look] = {-1: played.look(played.start - timedelta(seconds=30), turns[0]["at"][:10])}
        fixed = 0
        for k, turn in enumerate(turns):
            at = datetime.fromisoformat(turn["at"])
            said = played.say(at, turn["text"])
            replies.append([s for s in said if s["kind"] == "reply"])
            reminders.append([s for s in said if s["kind"] != "reply"])
            looks[k] = played.look(at, turn["at"][:10])
            again = (
                put_right(turn, looks[k]) if repairs and looks[k].data is not None and _of_kit(turn) else []
            )
            if again:
                fixed += 1
                for n, text in enumerate(again):
                    played.say(at + timedelta(seconds=10 + n), text)
                looks["fix", k] = played.look(at + timedelta(seconds=30), turn["at"][:10])
        played.store.close()
        played.loop.close()
        return replies, reminders, looks, fixed


def _of_kit(turn: dict[str, Any]) -> bool:
    firsts = [e["any"][0][0] for e in turn["expect"]]
    return any(
        a["t"] in {"wish", "region"} or (a["t"] == "items" and a["n"] and max(a["n"]) > 0) for a in firsts
    )


def score(convs: list[dict[str, Any]], *, show: bool = False) -> Counter[str]:
    """Play conversations, print what failed, and return the counts."""
    n: Counter[str] = Counter()
    sorts: Counter[str] = Counter()
    for conv in convs:
        replies, reminders, looks, fixed = play(conv)
        n["fixed"] += fixed
        good, fails = True, []
        for k, turn in enumerate(conv["turns"]):
            turn_good, on_right = True, False
            for expect in turn["expect"]:
                n["expectations"] += 1
                whys: list[str] = []
                for alt in expect["any"]:
                    bad = [w for w in (check(a, conv, k, replies, reminders, looks) for a in alt) if w]
                    if not bad:
                        whys = []
                        break
                    whys.append(" & ".join(bad))
                if not whys:
                    n["right"] += 1
                    on_right = on_right or expect["any"][0][0]["t"] == "on"
                    continue
                good = turn_good = False
                missed = any(f in {"on", "dives"} for f in fails)
                sort = sort_of(expect, whys[0], conv, k, replies, looks, missed, on_right)
                sorts[sort] += 1
                fails.append(expect["say"].split()[0])
                if show:
                    text = " // ".join(o["text"] for o in replies[k])[:300].replace("\n", " / ")
                    print(
                        f"{conv['id']} turn {k + 1} [{sort}]\n   said:   {turn['text']}\n   wanted: {expect['say']}\n   got:    {' | '.join(whys)[:400]}\n   reply:  {text}"
                    )
            n["turns"] += bool(turn["expect"])
            n["turns right"] += bool(turn["expect"]) and turn_good
            n["lost"] += bool(replies[k]) and all(lost_one(o) for o in replies[k])
        n["conversations"] += 1
        n["conversations right"] += good
        sys.stdout.flush()
    print("kinds of failure:", ", ".join(f"{k} {v}" for k, v in sorts.most_common()))
    n["harm"] = sum(v for k, v in sorts.items() if k in HARM)
    print(
        f"turns {n['turns right']} of {n['turns']} wholly right ({100 * n['turns right'] / max(1, n['turns']):.1f} %), expectations {n['right']} of {n['expectations']}"
        f" ({100 * n['right'] / max(1, n['expectations']):.1f} %), conversations {n['conversations right']} of {n['conversations']},"
        f" recorded wrongly, unsafe or without its caution {n['harm']} ({100 * n['harm'] / max(1, n['expectations']):.1f} %), not understood {n['lost']}, kit said again after {n['fixed']} turns"
    )
    return n


def main() -> None:
    """Play the files named, or all of them."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("files", nargs="*", type=Path)
    asked.add_argument("--show", action="store_true", help="print every failed expectation")
    asked.add_argument("--only", default="", help="ids, with commas between")
    wanted = asked.parse_args()
    set_up_logging("CRITICAL")
    convs = [c for path in wanted.files or sorted(HERE.glob("*.txt")) for c in read(path)]
    only = set(filter(None, wanted.only.split(",")))
    score([c for c in convs if not only or c["id"] in only], show=wanted.show)


if __name__ == "__main__":
    main()
