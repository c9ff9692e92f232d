"""The commands that copy the database: to keep, back again, and to another kind."""

import sys
from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer

Db = Annotated[
    str | None, typer.Option("--db", help="Database URL; default: a SQLite file in your data folder.")
]


def add_to(app: typer.Typer) -> None:
    """Add the commands."""
    app.command()(backup)
    app.command()(restore)
    app.command()(move)


def backup(
    file: Annotated[
        Path | None,
        typer.Argument(help="The file to make, or a folder; default: the folder of RINSETANK_BACKUP_DIR."),
    ] = None,
    keep: Annotated[
        int | None, typer.Option(min=1, help="Delete all but so many backups in that folder afterwards.")
    ] = None,
    db: Db = None,
) -> None:
    """Copy the database while it is in use, and look at the copy."""
    from bot.main import url_of
    from bot.postgres_tools import dump_command
    from bot.progress import progress
    from bot.settings import Settings
    from scheduler.clock import SystemClock
    from store.errors import StoreError
    from store.exchange import backup as backups

    settings = Settings()
    url, now = url_of(db, settings), SystemClock().now()
    if (command := dump_command(url)) is not None:
        raise StoreError(f"PostgreSQL is backed up by its own tool: {command}")
    folder = settings.backup_dir or settings.data_folder / "backups"
    to = file or folder
    if file is None or to.is_dir():
        to /= backups.name_at(now)
    with progress("Copying", 1, sys.stderr) as tell:
        copy = backups.back_up(url, to, now, tell)
    rows = sum(copy.rows.values())
    typer.echo(
        f"{copy.path}: {copy.size_bytes / 1e6:.1f} MB, {rows} rows, schema {copy.schema}, looked at and sound"
    )
    if keep is not None and (gone := backups.drop_old(to.parent, keep)):
        typer.echo(f"{gone} older deleted")


def restore(
    file: Annotated[Path, typer.Argument(help="The backup.")],
    yes: Annotated[bool, typer.Option("--yes", help="Replace a database that is there.")] = False,
    db: Db = None,
) -> None:
    """Put a backup in the place of the database; the one of before is kept beside it."""
    from bot.main import url_of
    from bot.postgres_tools import restore_command
    from bot.progress import progress
    from bot.settings import Settings
    from scheduler.clock import SystemClock
    from scheduler.restored import settle
    from store.errors import StoreError
    from store.exchange import backup as backups

    url, now = url_of(db, Settings()), SystemClock().now()
    if (command := restore_command(url, file)) is not None:
        raise StoreError(f"PostgreSQL is put back by its own tool: {command}")
    copy = backups.look_at(file)
    target = backups.file_of(url)
    if target is not None and target.exists() and not yes:
        _ask(target, copy.at)
    with progress("Copying", 1, sys.stderr) as tell:
        before = backups.put_back(file, url, now, lambda s: settle(s, now), tell)
    made = f" of {copy.at:%Y-%m-%d %H:%M} UTC" if copy.at else ""
    typer.echo(f"{target} is the copy{made} now: {sum(copy.rows.values())} rows, schema {copy.schema}.")
    if before is not None:
        typer.echo(f"The one of before: {before}")
    typer.echo("What was told since then is not in it. Reminders begin again tomorrow.")


def _ask(target: Path, at: datetime | None) -> None:
    """Ask a person at the terminal for leave; StoreError without it."""
    from store.errors import StoreError

    if not sys.stdin.isatty():
        raise StoreError(f"{target} is there already: say --yes to replace it, it is kept beside the copy")
    made = f" of {at:%Y-%m-%d %H:%M} UTC" if at else ""
    if not typer.confirm(f"Replace {target} by the copy{made}?"):
        raise StoreError("nothing was changed")


def move(
    source: Annotated[str, typer.Option("--from", help="URL of the database that is.")],
    target: Annotated[
        str, typer.Option("--to", help="URL of an empty database; a SQLite file may be missing.")
    ],
) -> None:
    """Copy all into an empty database, such as from SQLite to PostgreSQL, and compare; stop `serve` before."""
    import time

    from store.engine import Store
    from store.move import move as carry
    from store.move import open_source

    told_at = time.monotonic()

    def tell(table: str, rows: int) -> None:
        nonlocal told_at
        if time.monotonic() - told_at > 1:
            told_at = time.monotonic()
            typer.echo(f"{table}: {rows} rows", err=True)

    opened = open_source(source)
    try:
        empty = Store(target)
        try:
            counted = carry(opened, empty, tell)
        finally:
            empty.close()
    finally:
        opened.close()
    typer.echo(f"Moved and compared: {sum(counted.values())} rows of {len(counted)} tables.")
    typer.echo("Now set RINSETANK_DB to the new database. The old one was left as it is.")
