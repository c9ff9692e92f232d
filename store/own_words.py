"""The diver's own words for tubes and parts."""

from sqlalchemy import bindparam
from sqlmodel import Session, select

from store.tables import OwnWord

_OF_LOCKER = select(OwnWord).where(OwnWord.locker_id == bindparam("locker_id"))


def of_locker(session: Session, locker_id: int) -> list[OwnWord]:
    """Return the words of a locker, in the order of the alphabet."""
    rows = session.exec(_OF_LOCKER, params={"locker_id": locker_id})
    return sorted(rows, key=lambda row: row.word)


def learn(
    session: Session,
    locker_id: int,
    word: str,
    *,
    substance: str | None = None,
    kind: str | None = None,
    part: str | None = None,
) -> OwnWord:
    """Keep what a word stands for, in place of what it stood for before."""
    row = _find(session, locker_id, word) or OwnWord(locker_id=locker_id, word=word)
    row.substance, row.kind, row.part = substance, kind, part
    session.add(row)
    session.flush()
    return row


def forget(session: Session, locker_id: int, word: str) -> bool:
    """Drop a word; False if it was not known."""
    row = _find(session, locker_id, word)
    if row is None:
        return False
    session.delete(row)
    session.flush()
    return True


def _find(session: Session, locker_id: int, word: str) -> OwnWord | None:
    return session.exec(select(OwnWord).where(OwnWord.locker_id == locker_id, OwnWord.word == word)).first()
