"""What a row does to a value on its way to disk and back."""

from datetime import UTC, date, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
from sqlalchemy import text
from sqlalchemy.exc import IntegrityError, StatementError
from sqlmodel import SQLModel, select

from store.tables import Item, Locker

BERLIN = ZoneInfo("Europe/Berlin")


def read_back(store, at):
    store.write(lambda s: s.add(Locker(created_at=at)))
    return store.read(lambda s: s.exec(select(Locker)).one().created_at)


@pytest.mark.parametrize(
    "at",
    [
        datetime(2026, 6, 10, 12, tzinfo=UTC),
        datetime(2026, 6, 10, 14, 0, 0, 123456, tzinfo=BERLIN),
        datetime(2026, 6, 10, 1, 30, tzinfo=timezone(timedelta(hours=-9, minutes=-30))),
        datetime(2026, 10, 25, 2, 30, tzinfo=BERLIN),
        datetime(2026, 10, 25, 2, 30, tzinfo=BERLIN, fold=1),
    ],
    ids=str,
)
def test_datetime_aware_comes_back_as_utc(store, at):
    found = read_back(store, at)
    assert (found, found.tzinfo) == (at.astimezone(UTC), UTC)


@pytest.mark.sqlite
def test_datetime_aware_is_stored_as_naive_utc_text(store):
    read_back(store, datetime(2026, 6, 10, 14, tzinfo=BERLIN))
    stored = store.read(lambda s: s.exec(text("SELECT created_at FROM locker")).scalar_one())
    assert stored == "2026-06-10 12:00:00.000000"


def test_datetime_naive_is_refused(store):
    with pytest.raises(StatementError, match="must have timezone information") as refusal:
        read_back(store, datetime(2026, 6, 10, 12))
    assert type(refusal.value.orig) is ValueError
    assert store.read(lambda s: list(s.exec(select(Locker)))) == []


def test_table_row_with_wrong_type_is_not_validated():
    """The reason why values are validated before they get here."""
    assert Locker(created_at="not a datetime").created_at == "not a datetime"


def test_row_of_missing_locker_is_refused(store):
    item = Item(locker_id=7, kind="bag", name="bag", facts={}, added_on=date(2026, 6, 10), added_by="mara")
    with pytest.raises(IntegrityError, match=r"(?i)foreign key"):
        store.write(lambda s: s.add(item))


@pytest.mark.parametrize("table", ["item", "dive", "care_task", "letter"])
def test_number_of_a_removed_row_is_not_used_again(store, everything, table):
    def remove_and_add_alike(session):
        old = session.get_one(type(filed[table]), filed[table].id)
        values = old.model_dump(exclude={"id"})
        session.delete(old)
        session.flush()
        new = type(old)(**values)
        session.add(new)
        session.flush()
        return new.id

    _, filed = everything("deck")
    assert store.write(remove_and_add_alike) == filed[table].id + 1


def test_json_columns_come_back_whole(store, everything, rows):
    _, filed = everything("deck")
    expected = {name: row.model_dump() for name, row in filed.items()}
    assert {name: rows(type(row)) for name, row in filed.items()} == {n: [v] for n, v in expected.items()}


def test_every_table_has_a_row_in_these_tests(everything, rows):
    everything("deck")
    found = rows()
    assert set(found) == set(SQLModel.metadata.tables)
    assert {name for name, some in found.items() if not some} == {
        "seen_update",
        "attempt",
        "wire_state",
        "loan",
    }
