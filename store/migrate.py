"""Brings a database to the newest schema, all migrations in one transaction: it succeeds whole or changes nothing."""

from pathlib import Path

from alembic import command
from alembic.config import Config
from sqlalchemy import Engine


def config() -> Config:
    """Return the Alembic configuration of this package."""
    settings = Config()
    settings.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    return settings


def upgrade(engine: Engine, to: str = "head") -> None:
    """Run the missing migrations."""
    settings = config()
    with engine.begin() as connection:
        settings.attributes["connection"] = connection
        command.upgrade(settings, to)
