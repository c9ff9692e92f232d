"""What the doctor says of what is kept: room for the database, backups, and how long the rest stays."""

import shutil
from datetime import datetime, timedelta

from bot.finding import Finding
from bot.settings import Settings
from store.exchange import backup

LEAST_FREE = 500_000_000
"""Bytes: a backup, and what is written before somebody looks."""


def kept(url: str, settings: Settings, now: datetime) -> list[Finding]:
    """Look at disk, backups and retention."""
    return [*_disk(url), *_backups(url, settings, now), _retention(settings)]


def _disk(url: str) -> list[Finding]:
    file = backup.file_of(url) if "://" in url else None
    if file is None or not file.is_file():
        return []
    free, size = shutil.disk_usage(file.parent).free, file.stat().st_size
    well = free >= max(LEAST_FREE, 2 * size)
    said = f"{free / 1e9:.1f} GB free, the database has {size / 1e6:.1f} MB"
    return [Finding("disk", well=well, said=said + ("" if well else ": make room"))]


def _backups(url: str, settings: Settings, now: datetime) -> list[Finding]:
    folder = settings.backup_dir
    if url.startswith("postgresql"):
        said = "PostgreSQL: by its own tool, see deploy/operations.md"
        if folder is None:
            return [Finding("backup", well=True, said=said)]
        return [Finding("backup", well=False, said=f"RINSETANK_BACKUP_DIR is for SQLite; {said}")]
    if folder is None:
        return [
            Finding("backup", well=True, said="none by itself: RINSETANK_BACKUP_DIR names a folder for them")
        ]
    newest = backup.newest(folder)
    if newest is None:
        said = f"none in {folder} yet: serve makes one, or rinsetank backup"
        return [Finding("backup", well=False, said=said)]
    late = now - newest.at > timedelta(hours=2 * settings.backup_every_h)
    said = f"{len(backup.made(folder))} in {folder}, the newest of {newest.at:%Y-%m-%d %H:%M} UTC"
    return [Finding("backup", well=not late, said=said + (": too old, is serve running?" if late else ""))]


def _retention(settings: Settings) -> Finding:
    days = {
        "updates": settings.keep_updates_days,
        "reminders sent": settings.keep_notices_days,
        "undo": settings.keep_journal_days,
        "unanswered files": settings.keep_files_days,
    }
    said = ", ".join(f"{what} {f'{n} days' if n else 'for ever'}" for what, n in days.items())
    return Finding("kept", well=True, said=f"{said}; facts until a diver deletes them")
