"""Clauses about lockers and their people: let in, take out, join, leave, who is in, lend, it is back."""

import re
from typing import Literal

from bot.reading.clauses import Clause
from bot.reading.link import mention_in
from bot.reading.scene import Scene
from bot.understand.intents import ShareLocker
from bot.understand.sharing import read_sharing

_BACK = re.compile(r"\b(?:back|returned?|returns|gave|given|home|brought|got|handed)\b")
_LEFT = re.compile(
    r"\b(?:lent|lend|lends|loan\w*|borrow\w*|has|have|had|took|takes|taken|uses|using|goes|went|gone|with|gave|give|given)\b"
)
_ENDS = re.compile(
    r"\b(?:stop|end|cancel|revoke|withdraw|kill|void)\b.*\b(?:shar\w+|invit\w+|codes?)\b|\bcodes? away\b"
)
_I_LEAVE = re.compile(
    r"\b(?:leave|quit)\b|\b(?:get|take|sign|put|let) me (?:out|off)\b|\bi(?:'m| am)? (?:want |go |going )?out\b"
)
_PEOPLE = re.compile(
    r"\bwho\b|\bout\b|\bremove\b|\bkick\b|\bkeeper\b|\bowner\b|\bboss\b|\badmin\b|\bno longer\b|\bno more\b|\bshould not see\b|\bin charge\b|\btakes? over\b|\bmembers?\b"
)
_LETS_IN = re.compile(
    r"\b(?:invit\w+|add|join|let\b.*\bin|into|code|see|share|access|enter|in (?:the|my|our) locker)\b"
)
_Act = Literal["withdraw", "people", "invite", "leave"]
_ACTS: tuple[tuple[re.Pattern[str], _Act], ...] = (
    (_ENDS, "withdraw"),
    (_I_LEAVE, "leave"),
    (_PEOPLE, "people"),
    (_LETS_IN, "invite"),
)


def share(clause: Clause, scene: Scene) -> ShareLocker | None:
    """Return what is wanted of a locker and its people; None if that cannot be told. Who is in is shown with its buttons, never changed by words alone."""
    if (read := read_sharing(scene.of(clause.text))) is not None:
        return read
    if code := clause.of("code"):
        return ShareLocker(act="join", code=code[0].text.upper())
    text = clause.text.casefold()
    item = next((m for s in clause.of("item") if s.id != "all" and (m := mention_in(s, clause, scene))), None)
    if item is not None and "?" not in text and not clause.flags & {"not", "will", "if", "they"}:
        if _BACK.search(text) and not re.search(r"\b(?:gave|give|got) (?:him|her|them)\b", text):
            return ShareLocker(act="give_back", item=item)
        holder = next((s.text for s in (*clause.of("name"), *clause.of("who"))), None)
        return ShareLocker(act="lend", item=item, name=holder) if _LEFT.search(text) else None
    if item is not None:
        return None
    act = next((act for pattern, act in _ACTS if pattern.search(text)), None)
    return ShareLocker(act=act) if act else None
