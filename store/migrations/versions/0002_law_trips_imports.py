"""tests by law, mishaps, calls before a trip, dive files, calendar feed"""

import sqlalchemy as sa
import sqlmodel.sql.sqltypes
from alembic import op

revision = "0002"
down_revision = "0001"

_TEXT = sqlmodel.sql.sqltypes.AutoString
_INSTANT = sqlmodel.sql.sqltypes.UTCDateTime

_COLUMNS = (
    ("locker", "calendar_token", _TEXT(), None),
    ("locker", "planned_by", _TEXT(), None),
    ("chat", "reminders", sa.Boolean(), "1"),
    ("dive", "started", _TEXT(), None),
    ("dive", "import_id", sa.Integer(), None),
    ("care", "month_only", sa.Boolean(), "0"),
    ("care", "test", _TEXT(), None),
    ("care", "next_on", sa.Date(), None),
    ("care", "made_on", sa.Date(), None),
    ("manual_note", "every_days", sa.Integer(), None),
    ("manual_note", "every_hours", sa.Float(), None),
    ("trip", "told", sa.Integer(), None),
    ("trip", "notify_at", _INSTANT(), None),
    ("care_task", "was_due_on", sa.Date(), None),
    ("care_task", "was_told", sa.Integer(), None),
    ("care_task", "changed_at", _INSTANT(), "2026-01-01 00:00:00"),
)
"""Table, column, type, and the value that rows of before get; None: the column may be empty."""


def upgrade() -> None:
    op.create_table(
        "dive_import",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("locker_id", sa.Integer(), nullable=False),
        sa.Column("name", _TEXT(), nullable=False),
        sa.Column("content", sa.JSON(), nullable=False),
        sa.Column("answers", sa.JSON(), nullable=False),
        sa.Column("state", _TEXT(), nullable=False),
        sa.Column("sent_at", _INSTANT(), nullable=False),
        sa.Column("sent_by", _TEXT(), nullable=False),
        sa.ForeignKeyConstraint(["locker_id"], ["locker.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_dive_import_locker_id", "dive_import", ["locker_id"])
    op.create_table(
        "mishap",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("locker_id", sa.Integer(), nullable=False),
        sa.Column("item_id", sa.Integer(), nullable=False),
        sa.Column("happened", _TEXT(), nullable=False),
        sa.Column("on", sa.Date(), nullable=False),
        sa.Column("told_by", _TEXT(), nullable=False),
        sa.Column("logged_at", _INSTANT(), nullable=False),
        sa.ForeignKeyConstraint(["item_id"], ["item.id"], ondelete="CASCADE"),
        sa.ForeignKeyConstraint(["locker_id"], ["locker.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id"),
    )
    op.create_index("ix_mishap_locker_id", "mishap", ["locker_id"])
    op.create_index("ix_mishap_item_id", "mishap", ["item_id"])
    # Columns are added one by one: to rebuild a table drops it, and with it, by cascade, what hangs on its rows.
    for table, name, kind, before in _COLUMNS:
        default = sa.true() if before == "1" else sa.false() if before == "0" else before
        op.add_column(table, sa.Column(name, kind, nullable=before is None, server_default=default))
    care, item = (
        sa.table("care", *map(sa.column, ("task", "part", "test", "item_id"))),
        sa.table("item", sa.column("id"), sa.column("kind")),
    )
    cylinders = sa.select(item.c.id).where(item.c.kind.in_(("cylinder", "twinset", "stage")))
    for task, test in (("test", "hydrostatic"), ("inspect", "visual"), ("service", "valve")):
        of_it = (care.c.task == task, care.c.part.is_(None), care.c.item_id.in_(cylinders))
        op.execute(care.update().where(*of_it).values(test=test))
    op.create_index("ix_locker_calendar_token", "locker", ["calendar_token"], unique=True)
    op.create_index("ix_dive_import_id", "dive", ["import_id"])
    op.create_index("ix_trip_notify_at", "trip", ["notify_at"])
    with op.batch_alter_table("notice") as notice:  # nothing hangs on one
        notice.add_column(sa.Column("trip_id", sa.Integer(), nullable=True))
        notice.alter_column("item_id", existing_type=sa.Integer(), nullable=True)


def downgrade() -> None:
    op.execute("DELETE FROM notice WHERE item_id IS NULL")
    with op.batch_alter_table("notice") as notice:
        notice.alter_column("item_id", existing_type=sa.Integer(), nullable=False)
        notice.drop_column("trip_id")
    op.drop_index("ix_trip_notify_at", "trip")
    op.drop_index("ix_dive_import_id", "dive")
    op.drop_index("ix_locker_calendar_token", "locker")
    for table, name, *_ in reversed(_COLUMNS):
        op.drop_column(table, name)
    op.drop_table("mishap")
    op.drop_table("dive_import")
