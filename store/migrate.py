"""Brings a database to the newest schema, all migrations in one transaction: it succeeds whole or changes nothing."""

from pathlib import Path

from alembic import command
from alembic.config import Config
from sqlalchemy import Engine

from store import postgres


def config() -> Config:
    """Return the Alembic configuration of this package."""
    settings = Config()
    settings.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    return settings


def upgrade(engine: Engine, to: str = "head") -> None:
    """Run the missing migrations; of several processes that begin at once, the first does."""
    settings = config()
    with engine.connect() as connection, postgres.one_at_a_time(connection), connection.begin():
        settings.attributes["connection"] = connection
        command.upgrade(settings, to)
