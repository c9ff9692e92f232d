"""first schema"""

import sqlalchemy as sa
import sqlmodel.sql.sqltypes
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    op.create_table(
        "locker",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("created_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
        sa.Column("region", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.PrimaryKeyConstraint("id"),
    )
    op.create_table(
        "seen_update",
        sa.Column("wire", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("update_id", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("seen_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
        sa.PrimaryKeyConstraint("wire", "update_id"),
    )
    op.create_table(
        "chat",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("wire", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("address", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("locker_id", sa.Integer(), nullable=False),
        sa.Column("zone", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("digest_at", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("quiet_from", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("quiet_to", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("units", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("last_digest_on", sa.Date(), nullable=True),
        sa.Column("muted_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=True),
        sa.Column("hold_until", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=True),
        sa.Column("batch", sa.Integer(), nullable=False),
        sa.Column("last_intent", sa.JSON(), nullable=True),
        sa.Column("created_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
        sa.ForeignKeyConstraint(["locker_id"], ["locker.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("wire", "address"),
    )
    with op.batch_alter_table("chat", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_chat_locker_id"), ["locker_id"], unique=False)

    op.create_table(
        "dive",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("locker_id", sa.Integer(), nullable=False),
        sa.Column("on", sa.Date(), nullable=False),
        sa.Column("dives", sa.Integer(), nullable=False),
        sa.Column("water", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.Column("max_depth_m", sa.Float(), nullable=True),
        sa.Column("duration_min", sa.Integer(), nullable=True),
        sa.Column("min_temp_c", sa.Float(), nullable=True),
        sa.Column("o2_fraction", sa.Float(), nullable=True),
        sa.Column("conditions", sa.JSON(), nullable=False),
        sa.Column("logged_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
        sa.Column("logged_by", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.ForeignKeyConstraint(["locker_id"], ["locker.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id"),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("dive", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_dive_locker_id"), ["locker_id"], unique=False)

    op.create_table(
        "item",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("locker_id", sa.Integer(), nullable=False),
        sa.Column("kind", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("name", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("facts", sa.JSON(), nullable=False),
        sa.Column("added_on", sa.Date(), nullable=False),
        sa.Column("retired_on", sa.Date(), nullable=True),
        sa.Column("added_by", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.ForeignKeyConstraint(["locker_id"], ["locker.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id"),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("item", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_item_locker_id"), ["locker_id"], unique=False)

    op.create_table(
        "own_word",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("locker_id", sa.Integer(), nullable=False),
        sa.Column("word", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("substance", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.Column("kind", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.Column("part", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.ForeignKeyConstraint(["locker_id"], ["locker.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("locker_id", "word"),
    )
    with op.batch_alter_table("own_word", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_own_word_locker_id"), ["locker_id"], unique=False)

    op.create_table(
        "trip",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("locker_id", sa.Integer(), nullable=False),
        sa.Column("from_on", sa.Date(), nullable=False),
        sa.Column("to_on", sa.Date(), nullable=False),
        sa.Column("dives", sa.Integer(), nullable=True),
        sa.Column("water", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.Column("min_temp_c", sa.Float(), nullable=True),
        sa.Column("max_temp_c", sa.Float(), nullable=True),
        sa.ForeignKeyConstraint(["locker_id"], ["locker.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("trip", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_trip_locker_id"), ["locker_id"], unique=False)

    op.create_table(
        "button",
        sa.Column("id", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("chat_id", sa.Integer(), nullable=False),
        sa.Column("batch", sa.Integer(), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("label", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("intent", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["chat_id"], ["chat.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("button", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_button_chat_id"), ["chat_id"], unique=False)

    op.create_table(
        "care",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("locker_id", sa.Integer(), nullable=False),
        sa.Column("item_id", sa.Integer(), nullable=False),
        sa.Column("part", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.Column("task", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("substance", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.Column("contaminates", sa.Boolean(), nullable=False),
        sa.Column("by_technician", sa.Boolean(), nullable=False),
        sa.Column("on", sa.Date(), nullable=False),
        sa.Column("done_by", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("logged_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
        sa.ForeignKeyConstraint(["item_id"], ["item.id"], ondelete="CASCADE"),
        sa.ForeignKeyConstraint(["locker_id"], ["locker.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("care", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_care_item_id"), ["item_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_care_locker_id"), ["locker_id"], unique=False)

    op.create_table(
        "care_task",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("locker_id", sa.Integer(), nullable=False),
        sa.Column("item_id", sa.Integer(), nullable=False),
        sa.Column("part", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("rule", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("task", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("critical", sa.Boolean(), nullable=False),
        sa.Column("due_on", sa.Date(), nullable=True),
        sa.Column("cause", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("told", sa.Integer(), nullable=True),
        sa.Column("notify_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=True),
        sa.ForeignKeyConstraint(["item_id"], ["item.id"], ondelete="CASCADE"),
        sa.ForeignKeyConstraint(["locker_id"], ["locker.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("item_id", "part", "rule"),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("care_task", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_care_task_item_id"), ["item_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_care_task_locker_id"), ["locker_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_care_task_notify_at"), ["notify_at"], unique=False)

    op.create_table(
        "dive_item",
        sa.Column("dive_id", sa.Integer(), nullable=False),
        sa.Column("item_id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["dive_id"], ["dive.id"], ondelete="CASCADE"),
        sa.ForeignKeyConstraint(["item_id"], ["item.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("dive_id", "item_id"),
    )
    with op.batch_alter_table("dive_item", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_dive_item_item_id"), ["item_id"], unique=False)

    op.create_table(
        "journal_entry",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("chat_id", sa.Integer(), nullable=False),
        sa.Column("at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
        sa.Column("actor", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("intent", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("changes", sa.JSON(), nullable=False),
        sa.Column("undone_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=True),
        sa.ForeignKeyConstraint(["chat_id"], ["chat.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("journal_entry", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_journal_entry_chat_id"), ["chat_id"], unique=False)

    op.create_table(
        "manual_note",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("locker_id", sa.Integer(), nullable=False),
        sa.Column("item_id", sa.Integer(), nullable=False),
        sa.Column("part", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.Column("substances", sa.JSON(), nullable=True),
        sa.Column("task", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.Column("every_dives", sa.Integer(), nullable=True),
        sa.Column("every_months", sa.Integer(), nullable=True),
        sa.Column("ring", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.Column("text", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("noted_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
        sa.ForeignKeyConstraint(["item_id"], ["item.id"], ondelete="CASCADE"),
        sa.ForeignKeyConstraint(["locker_id"], ["locker.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("manual_note", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_manual_note_item_id"), ["item_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_manual_note_locker_id"), ["locker_id"], unique=False)

    op.create_table(
        "notice",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("key", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("locker_id", sa.Integer(), nullable=False),
        sa.Column("chat_id", sa.Integer(), nullable=False),
        sa.Column("item_id", sa.Integer(), nullable=False),
        sa.Column("part", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("rule", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("due_on", sa.Date(), nullable=False),
        sa.Column("stage", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("send_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
        sa.Column("state", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("attempts", sa.Integer(), nullable=False),
        sa.Column("lease_until", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=True),
        sa.Column("sent_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=True),
        sa.Column("error", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.ForeignKeyConstraint(["chat_id"], ["chat.id"], ondelete="CASCADE"),
        sa.ForeignKeyConstraint(["locker_id"], ["locker.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("key"),
    )
    with op.batch_alter_table("notice", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_notice_chat_id"), ["chat_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_notice_locker_id"), ["locker_id"], unique=False)
        batch_op.create_index("ix_notice_state_send_at", ["state", "send_at"], unique=False)

    op.create_table(
        "snooze",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("locker_id", sa.Integer(), nullable=False),
        sa.Column("item_id", sa.Integer(), nullable=False),
        sa.Column("part", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("rule", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("until_on", sa.Date(), nullable=False),
        sa.ForeignKeyConstraint(["item_id"], ["item.id"], ondelete="CASCADE"),
        sa.ForeignKeyConstraint(["locker_id"], ["locker.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("snooze", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_snooze_locker_id"), ["locker_id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("snooze", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_snooze_locker_id"))

    op.drop_table("snooze")
    with op.batch_alter_table("notice", schema=None) as batch_op:
        batch_op.drop_index("ix_notice_state_send_at")
        batch_op.drop_index(batch_op.f("ix_notice_locker_id"))
        batch_op.drop_index(batch_op.f("ix_notice_chat_id"))

    op.drop_table("notice")
    with op.batch_alter_table("manual_note", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_manual_note_locker_id"))
        batch_op.drop_index(batch_op.f("ix_manual_note_item_id"))

    op.drop_table("manual_note")
    with op.batch_alter_table("journal_entry", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_journal_entry_chat_id"))

    op.drop_table("journal_entry")
    with op.batch_alter_table("dive_item", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_dive_item_item_id"))

    op.drop_table("dive_item")
    with op.batch_alter_table("care_task", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_care_task_notify_at"))
        batch_op.drop_index(batch_op.f("ix_care_task_locker_id"))
        batch_op.drop_index(batch_op.f("ix_care_task_item_id"))

    op.drop_table("care_task")
    with op.batch_alter_table("care", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_care_locker_id"))
        batch_op.drop_index(batch_op.f("ix_care_item_id"))

    op.drop_table("care")
    with op.batch_alter_table("button", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_button_chat_id"))

    op.drop_table("button")
    with op.batch_alter_table("trip", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_trip_locker_id"))

    op.drop_table("trip")
    with op.batch_alter_table("own_word", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_own_word_locker_id"))

    op.drop_table("own_word")
    with op.batch_alter_table("item", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_item_locker_id"))

    op.drop_table("item")
    with op.batch_alter_table("dive", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_dive_locker_id"))

    op.drop_table("dive")
    with op.batch_alter_table("chat", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_chat_locker_id"))

    op.drop_table("chat")
    op.drop_table("seen_update")
    op.drop_table("locker")
