"""The commands by which PostgreSQL is backed up and put back, without the password: that is typed, or stands in `.pgpass`."""

import shlex
from pathlib import Path
from urllib.parse import unquote, urlsplit


def dump_command(url: str) -> str | None:
    """Return the command that backs a database up, None if it is not PostgreSQL."""
    where = _where(url)
    return (
        None if where is None else shlex.join(["pg_dump", "--format=custom", "--file=rinsetank.dump", *where])
    )


def restore_command(url: str, file: Path) -> str | None:
    """Return the command that puts a backup back, None if it is not PostgreSQL."""
    where = _where(url)
    return None if where is None else shlex.join(["pg_restore", "--clean", "--if-exists", *where, str(file)])


def _where(url: str) -> list[str] | None:
    parsed = urlsplit(url)
    if not parsed.scheme.startswith("postgresql"):
        return None
    told = {
        "--host": parsed.hostname,
        "--port": str(parsed.port) if parsed.port else None,
        "--username": unquote(parsed.username) if parsed.username else None,
        "--dbname": unquote(parsed.path.lstrip("/")) or None,
    }
    return [f"{option}={value}" for option, value in told.items() if value]
