"""What PostgreSQL needs that a file does not: how to connect, whose turn it is among several processes, its errors in plain words."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from hashlib import sha256
from typing import Any, TypeVar

from sqlalchemy import URL, Connection, Engine, Select, create_engine, event, func, select
from sqlalchemy.exc import DBAPIError, IntegrityError
from sqlmodel import Session

ATTEMPTS, AMONG_OTHERS = 4, 2
"""How often a unit of work is run at most, and how often among others; then it is alone and meets nobody but strangers."""
WAIT_S = 20
"""How long a unit waits for its turn, and how long one may sit idle in the middle before the server ends it."""
ISOLATION = "REPEATABLE READ"
"""Each unit of work, and what only looks, has one consistent view; who writes a row that changed since is run again."""
_AGAIN = frozenset({"40001", "40P01", "23505", "23503"})
"""SQLSTATE of units that met: on a row, by waiting for each other, by making the same key, or on what one of them deleted."""
_GONE = ("08003", "08006", "57P01", "57P02", "57P03", "57P05", "25P03")
"""SQLSTATE of a server that went away, or that ended a session which kept others waiting."""
_FORBIDDEN = "42501"
_SESSION = (
    "SET TimeZone = 'UTC'",
    f"SET lock_timeout = '{WAIT_S}s'",
    f"SET idle_in_transaction_session_timeout = '{WAIT_S}s'",
    "SET tcp_keepalives_idle = 5",
    "SET tcp_keepalives_interval = 3",
    "SET tcp_keepalives_count = 3",
)
_CONNECT = {"connect_timeout": 5, "tcp_user_timeout": 10_000, "keepalives_idle": 5, "keepalives_interval": 3}
T = TypeVar("T")


def lock_number(name: str) -> int:
    """Return the number of the advisory lock of a name."""
    return int.from_bytes(sha256(name.encode(errors="surrogatepass")).digest()[:8], signed=True)


MIGRATING, EVERYBODY = lock_number("rinsetank migrates"), lock_number("rinsetank writes")


def is_postgres(url: URL) -> bool:
    """Tell whether a URL names a PostgreSQL database."""
    return url.get_backend_name() in {"postgresql", "postgres"}


def with_driver(url: URL) -> URL:
    """Name the driver in a URL that leaves it open."""
    return url if "+" in url.drivername else url.set(drivername="postgresql+psycopg")


def engine(url: URL, size: int, **how: Any) -> Engine:  # noqa: ANN401 - options of an engine
    """Return an engine with up to `size` connections, each set up as this program wants it."""
    given = {name: value for name, value in _CONNECT.items() if name not in url.query}
    made = create_engine(
        with_driver(url), pool_size=size, max_overflow=0, pool_timeout=WAIT_S, connect_args=given, **how
    )

    def on_connect(connection: Any, _record: object) -> None:  # noqa: ANN401 - a connection of the driver
        connection.adapters.register_dumper(str, _without_nul())
        before, connection.autocommit = connection.autocommit, True
        for told in _SESSION:
            connection.execute(told)
        connection.autocommit = before

    event.listen(made, "connect", on_connect)
    return made


def _without_nul() -> Any:  # noqa: ANN401 - a class of the driver
    """Return what sends words: the character NUL, which the database knows not, goes as the sign of what cannot be shown."""
    from psycopg.types.string import StrDumper  # noqa: PLC0415 - only where that database is used

    class Words(StrDumper):
        def dump(self, obj: str) -> Any:  # noqa: ANN401 - as the driver has it
            return super().dump(obj.replace("\x00", "\ufffd"))

    return Words


_ALONE = "alone"


class NotAloneError(Exception):
    """A unit of work asked to be alone and was not. It is run again, and nobody outside sees this."""


class Units:
    """Runs units of work that others run at the same time, in this process and elsewhere, as if each were alone.

    Of two that write one row, the later is run again, with what the first has stored. What must not pass each other unseen
    writes a row on purpose (`lockers.take_turn`), or asks to be alone (`alone`). Units of one chat act one after another.
    That lock belongs to the session: one of the transaction would be asked for inside it, when it had already settled what
    it sees.
    """

    def __init__(self, engine: Engine) -> None:
        """Run on an engine whose transactions have one view each."""
        self._engine = engine
        self.repeated = 0
        """How many runs met another and were done again."""

    def run(self, work: Callable[[Session], T], chat: str | None) -> T:
        """Run a unit until it is stored. DBAPIError if it met others to the end, or the database is in trouble."""
        for fresh in (False, True):
            storing = False
            try:
                with self._engine.connect() as connection, self._turn(connection, chat) as be_alone:
                    is_alone = wants_to_be = False
                    for attempt in range(1, ATTEMPTS + 1):
                        if not is_alone and (wants_to_be or attempt > AMONG_OTHERS):
                            be_alone()
                            is_alone = True
                        try:
                            with Session(connection, expire_on_commit=False) as session:
                                session.info[_ALONE] = is_alone
                                result = work(session)
                                session.flush()
                                storing = True
                                session.commit()
                                return result
                        except NotAloneError:
                            connection.rollback()
                            wants_to_be = True
                            self.repeated += 1
                        except DBAPIError as error:
                            connection.rollback()  # one that failed to commit is still begun
                            storing = storing and error.connection_invalidated
                            if attempt == ATTEMPTS or state_of(error) not in _AGAIN:
                                raise
                            self.repeated += 1
            except DBAPIError as error:
                # a connection that was found dead before anything was stored: the next one is new
                if fresh or storing or not error.connection_invalidated:
                    raise
        raise AssertionError("not reached: the second time returns or raises")

    @contextmanager
    def _turn(self, connection: Connection, chat: str | None) -> Iterator[Callable[[], None]]:
        """Wait for the chat, and give what waits for everybody else and has them wait.

        Who met somebody tries again among others first: the other has stored, and to be alone stops all until the longest ends.
        """

        def be_alone() -> None:
            swap = (func.pg_advisory_unlock_shared(EVERYBODY), func.pg_advisory_lock(EVERYBODY))
            _at_once(connection, select(*swap))

        try:
            if chat is not None:
                _at_once(connection, select(func.pg_advisory_lock(lock_number(chat))))
            _at_once(connection, select(func.pg_advisory_lock_shared(EVERYBODY)))
            yield be_alone
        finally:
            if not connection.invalidated:
                try:
                    _at_once(connection, select(func.pg_advisory_unlock_all()))
                except DBAPIError:  # what was stored is stored, and the locks end with the session
                    connection.invalidate()


def alone(session: Session) -> None:
    """Go on only while no other unit of work runs anywhere: the one that asks begins anew, with the others kept waiting.

    A file has one writer, who is always alone.
    """
    if not session.info.get(_ALONE, True):
        raise NotAloneError


def unhurried(session: Session) -> Session:
    """Let a unit be stored without waiting for the disk of the server: it outlives this process, not that machine."""
    session.connection().execute(select(func.set_config("synchronous_commit", "off", True)))
    return session


def _at_once(connection: Connection, question: Select[Any]) -> None:
    """Ask something outside any transaction."""
    connection.rollback()
    connection.execution_options(isolation_level="AUTOCOMMIT")
    try:
        connection.execute(question)
    finally:
        if not connection.invalidated:
            connection.rollback()
            connection.execution_options(isolation_level=ISOLATION)


@contextmanager
def one_at_a_time(connection: Connection) -> Iterator[None]:
    """Let one process at a time bring a schema up to date, however long it takes; a file is locked by its transaction."""
    if connection.dialect.name != "postgresql":
        yield
        return
    _at_once(connection, select(func.set_config("lock_timeout", "0", False)))
    _at_once(connection, select(func.pg_advisory_lock(MIGRATING)))
    try:
        yield
    finally:
        if not connection.invalidated:
            _at_once(connection, select(func.pg_advisory_unlock(MIGRATING)))
            _at_once(connection, select(func.set_config("lock_timeout", f"{WAIT_S}s", False)))


def state_of(error: DBAPIError) -> str:
    """Return the SQLSTATE of an error, "" where it has none."""
    return getattr(error.orig, "sqlstate", None) or ""


def is_trouble(error: DBAPIError) -> bool:
    """Tell whether it is the database that is in trouble, not what it was asked."""
    if isinstance(error, IntegrityError):
        return False
    state = state_of(error)
    told = (state[:2] in {"08", "25", "40", "53", "55", "57", "58"}) or state == _FORBIDDEN
    return told or not state or error.connection_invalidated


def in_one_line(error: Exception, url: URL) -> str:
    """Say what is wrong with the database and what to do; never its password."""
    where = with_driver(url).render_as_string(hide_password=True)
    state = state_of(error) if isinstance(error, DBAPIError) else ""
    reason = (str(getattr(error, "orig", error)).strip() or type(error).__name__).splitlines()[0]
    busy = f"the database {where} is busy: nothing was stored"
    known = {
        "25006": f"the database {where} is read-only: nothing was stored",
        "53100": f"no space left for the database {where}: nothing was stored",
        "53300": f"the database server of {where} takes no more connections",
        _FORBIDDEN: f"the user of {where} may not do that there: {reason}",
        **dict.fromkeys(("40001", "40P01", "55P03"), busy),
        **dict.fromkeys(_GONE, f"the database server of {where} went away in the middle"),
    }
    said = {  # a connection that never was has words alone
        "authentication failed": f"the database server refuses user or password of {where}",
        "no password": f"the database server wants a password for {where}",
        "does not exist": f"there is no such database or user: {where}",
        "too many": known["53300"],
    }
    if state:
        return known.get(state, f"cannot use the database {where}: {reason}")
    if isinstance(error, DBAPIError) and error.connection_invalidated:
        return known["57P01"]
    told = next((plain for words, plain in said.items() if words in reason), None)
    return told or f"cannot reach the database server of {where}: {reason}"
