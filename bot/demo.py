"""An invented diver's season, told through the real conversation in seconds."""

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from bot.files import Folder
from bot.render.terminal import for_terminal
from bot.replay import Line, Replay, Sent
from store.engine import Store

CHAT = "Mara"
SEASON: tuple[tuple[str, str], ...] = (
    ("2026-04-11T10:00:00+02:00", "my time zone is Europe/Berlin"),
    ("2026-04-11T10:01:00+02:00", "I live in Germany"),
    ("2026-04-11T10:02:00+02:00", "add dry suit, plastic zip, latex seals"),
    ("2026-04-11T10:03:00+02:00", "add twinset 32%"),
    ("2026-04-11T10:04:00+02:00", "twinset hydro tested May 2024"),
    ("2026-04-11T10:05:00+02:00", "twinset visual done May 2024"),
    ("2026-04-11T10:06:00+02:00", "add regulator set, 32%"),
    ("2026-04-11T10:07:00+02:00", "add canister light"),
    ("2026-04-11T10:08:00+02:00", "add scooter"),
    ("2026-04-11T10:09:00+02:00", "regs serviced on 3 May 2025"),
    ("2026-04-18T16:40:00+02:00", "2 dives today at the quarry, 28 m, 50 min each, 7 degrees, silty"),
    ("2026-04-18T16:42:00+02:00", "what do I put on the neck ring?"),
    ("2026-04-18T16:43:00+02:00", "can I use silicone grease on my manifold?"),
    ("2026-04-18T16:44:00+02:00", "why"),
    ("2026-04-18T21:00:00+02:00", "tap Done"),
    ("2026-05-02T15:00:00+02:00", "3 dives in the sea, 31 m, sandy beach entry, without the scooter"),
    ("2026-05-02T15:01:00+02:00", "no, that was fresh water"),
    ("2026-05-02T15:05:00+02:00", "brushed the zip and put zip stick on the docking end"),
    ("2026-05-09T17:00:00+02:00", "4 dives, salt, 22 m"),
    ("2026-05-10T09:00:00+02:00", "the manual says silicone grease on the regulator hose swivel"),
    ("2026-05-10T09:01:00+02:00", "what goes on the hose swivel?"),
    ("2026-05-11T09:00:00+02:00", "the manual says petroleum jelly on the scooter hull rings"),
    ("2026-05-11T09:01:00+02:00", "what do I put on the scooter hull o-rings"),
    ("2026-06-01T12:00:00+02:00", "what is due?"),
    ("2026-06-01T12:01:00+02:00", "trip 12 to 19 June, 14 dives, salt, 6 degrees"),
    ("2026-06-01T12:02:00+02:00", "trip sheet"),
    ("2026-06-01T12:03:00+02:00", "show board"),
    ("2026-06-01T12:05:00+02:00", "regs serviced today"),
    ("2026-06-01T12:06:00+02:00", "why is the docking end due?"),
    ("2026-06-08T19:00:00+02:00", "show kit"),
    ("2026-06-08T19:01:00+02:00", "pocket card"),
    ("2026-06-08T19:02:00+02:00", "service record of the regs"),
    ("2026-06-08T19:03:00+02:00", "dark board of the dry suit"),
    ("2026-06-20T10:00:00+02:00", "14 dives on 18 June, salt, 30 m"),
    ("2026-06-20T10:02:00+02:00", "ran the twinset empty"),
    ("2026-06-20T10:03:00+02:00", "when is my hydro due?"),
    ("2026-06-20T10:05:00+02:00", "I live in the UK"),
)


async def play(store: Store, files: Folder) -> Iterator[str]:
    """Play the season, put what the bot sends into a folder, and return the season as lines of a dialog."""
    told: list[str] = []
    played = Replay(store, datetime.fromisoformat(SEASON[0][0]), folder=files)
    for at, said in SEASON:
        tap = said.removeprefix("tap ") if said.startswith("tap ") else None
        line = Line.model_validate(
            {"at": at, "chat": CHAT, "from": CHAT, **({"tap": tap} if tap else {"text": said})}
        )
        sent = await played.play(line)
        reminders, answers = (
            [s for s in sent if s.reply.kind == "reminder"],
            [s for s in sent if s.reply.kind == "reply"],
        )
        told += [_told(s, "reminder") for s in reminders]
        told.append(f"{_stamp(line.at)}  {CHAT}: {said}")
        told += [_told(s, "") for s in answers]
    return iter(told)


def _stamp(at: datetime) -> str:
    return f"{at:%d %b %H:%M}"


def _told(sent: Sent, label: str) -> str:
    head = f"{_stamp(sent.at.astimezone(ZoneInfo('Europe/Berlin')))}  Rinse Tank{' (' + label + ')' if label else ''}:"
    names = [Path(path).name for path in sent.paths]
    body = "\n".join(f"    {line}".rstrip() for line in for_terminal(sent.reply, names).splitlines())
    return f"{head}\n{body}\n"
