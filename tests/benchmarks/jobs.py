"""One job a reminder, as APScheduler keeps them in its SQL store: what sweeping is compared with."""

from datetime import UTC, datetime, timedelta

from apscheduler.executors.base import BaseExecutor
from apscheduler.jobstores.sqlalchemy import SQLAlchemyJobStore
from apscheduler.schedulers.base import BaseScheduler
from sqlalchemy import Engine

from tests.benchmarks.measure import timed
from tests.benchmarks.rows import DUE

PAST, FUTURE = datetime(2001, 1, 1, tzinfo=UTC), datetime(2999, 1, 1, tzinfo=UTC)
"""Of jobs: their scheduler looks at the clock of the machine, whatever that says."""


class Nothing(BaseExecutor):
    """Says at once that a job was done."""

    def __init__(self) -> None:
        super().__init__()
        self.done: list[str] = []

    def submit_job(self, job, run_times):
        self.done.append(job.id)

    def _do_submit_job(self, job, run_times):
        raise NotImplementedError


class ByHand(BaseScheduler):
    """Looks for due jobs when it is told to, without a thread or a timer of its own."""

    def wakeup(self):
        pass

    def shutdown(self, wait=True):
        super().shutdown(wait)


def remind(reminder: int) -> None:
    """Stand for a reminder; it is never called."""


class Jobs:
    """APScheduler with its SQL store on a SQLite file, one dated job a reminder. Each is added in a transaction of its own.

    A tick reads the due jobs, unpickles them, hands each to an executor that does nothing, and removes each.
    """

    def __init__(self, engine: Engine) -> None:
        self.nothing = Nothing()
        self.alarm = ByHand(
            jobstores={"default": SQLAlchemyJobStore(engine=engine)},
            executors={"default": self.nothing},
            job_defaults={"misfire_grace_time": None, "coalesce": True},
            timezone=UTC,
        )
        self.alarm.start()
        self.count = 0

    def add(self, count: int, at: datetime) -> float:
        """Add jobs one by one, as reminders are set; return the milliseconds a job."""
        numbers = range(self.count, self.count + count)
        self.count += count
        return timed(lambda: [self._add(n, at + timedelta(minutes=n)) for n in numbers]) / count

    def _add(self, n: int, at: datetime) -> None:
        self.alarm.add_job(remind, "date", run_date=at, args=[n], id=f"reminder {n}")

    def tick(self) -> float:
        """Return the milliseconds of one look at the store with 1,000 jobs due, which are submitted and removed."""
        self.nothing.done.clear()
        took = timed(self.alarm._process_jobs)
        assert len(self.nothing.done) == len(set(self.nothing.done)) == DUE
        return took
