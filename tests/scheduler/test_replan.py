"""An update of the program changes rules for divers who have not written since: their tasks are worked out anew."""

import os
import subprocess
import sys
from datetime import date

from sqlmodel import select

from scheduler import plan
from scheduler.standing import edition
from scheduler.tick import catch_up
from store import lockers
from store.tables import Locker
from store.vocabulary import ItemKind


def planned_by(store):
    return store.read(lambda s: list(s.exec(select(Locker.planned_by))))


def test_locker_is_marked_with_the_rules_that_worked_it_out(kit, store):
    kit.add(ItemKind.BAG, date(2026, 1, 1))
    assert planned_by(store) == [edition()]


def test_locker_worked_out_by_other_rules_is_worked_out_anew_once(kit, store, clock, monkeypatch):
    kit.add(ItemKind.BAG, date(2026, 1, 1))
    before = [t.model_dump() for t in kit.tasks()]
    monkeypatch.setattr(plan, "edition", lambda: "other rules")
    assert catch_up(store, clock) == 1
    assert catch_up(store, clock) == 0
    assert planned_by(store) == ["other rules"]
    assert [t.model_dump() for t in kit.tasks()] == before


def test_locker_that_nobody_listens_to_is_left_as_it_is(kit, store, clock, monkeypatch):
    kit.add(ItemKind.BAG, date(2026, 1, 1))
    store.write(lambda s: setattr(lockers.find_chat(s, kit.chat_id), "muted_at", clock.now()))
    monkeypatch.setattr(plan, "edition", lambda: "other rules")
    assert catch_up(store, clock) == 1
    assert catch_up(store, clock) == 0


def test_edition_is_the_same_in_every_process():
    """It must not hang on the order in which this process happens to hold sets."""
    told = {
        subprocess.run(
            [sys.executable, "-c", "from scheduler.plan import edition; print(edition())"],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        ).stdout.strip()
        for seed in ("1", "2", "3")
    }
    assert told == {edition()}
