"""people, shared lockers, loans, answers on their way, where a wire stands"""

import sqlalchemy as sa
import sqlmodel.sql.sqltypes
from alembic import op

revision = "0003"
down_revision = "0002"

_TEXT = sqlmodel.sql.sqltypes.AutoString
_INSTANT = sqlmodel.sql.sqltypes.UTCDateTime

_COLUMNS = (
    ("locker", "name", _TEXT(), ""),
    ("chat", "open_id", sa.Integer(), None),
    ("chat", "group", sa.Boolean(), False),
    ("chat", "topic", _TEXT(), None),
    ("button", "locker_id", sa.Integer(), None),
    ("button", "message", _TEXT(), None),
    ("journal_entry", "locker_id", sa.Integer(), None),
    ("journal_entry", "message", _TEXT(), None),
    ("journal_entry", "said", _TEXT(), None),
    ("notice", "sent_as", _TEXT(), None),
)
"""Table, column, type, and the value that rows of before get; None: the column may be empty."""
_INDEXED = (("button", "message"), ("journal_entry", "locker_id"), ("journal_entry", "message"))
_WHO = (
    ("item", "added_by"),
    ("dive", "logged_by"),
    ("dive_import", "sent_by"),
    ("care", "done_by"),
    ("mishap", "told_by"),
)
"""Where a person was named by the address alone; from here on the wire stands before it."""


def upgrade() -> None:
    op.create_table(
        "person",
        sa.Column("key", _TEXT(), nullable=False),
        sa.Column("name", _TEXT(), nullable=False),
        sa.Column("since", _INSTANT(), nullable=False),
        sa.Column("admitted", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("key"),
    )
    op.create_table(
        "member",
        sa.Column("locker_id", sa.Integer(), nullable=False),
        sa.Column("person", _TEXT(), nullable=False),
        sa.Column("role", _TEXT(), nullable=False),
        sa.Column("since", _INSTANT(), nullable=False),
        sa.ForeignKeyConstraint(["locker_id"], ["locker.id"], ondelete="CASCADE"),
        sa.ForeignKeyConstraint(["person"], ["person.key"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("locker_id", "person"),
    )
    op.create_index("ix_member_person", "member", ["person"])
    op.create_table(
        "invite",
        sa.Column("code_hash", _TEXT(), nullable=False),
        sa.Column("locker_id", sa.Integer(), nullable=False),
        sa.Column("made_by", _TEXT(), nullable=False),
        sa.Column("until", _INSTANT(), nullable=False),
        sa.Column("left", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["locker_id"], ["locker.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("code_hash"),
    )
    op.create_index("ix_invite_locker_id", "invite", ["locker_id"])
    op.create_table(
        "letter",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("wire", _TEXT(), nullable=False),
        sa.Column("address", _TEXT(), nullable=False),
        sa.Column("body", sa.JSON(), nullable=False),
        sa.Column("send_at", _INSTANT(), nullable=False),
        sa.Column("attempts", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_letter_address", "letter", ["address"])
    op.create_index("ix_letter_send_at", "letter", ["send_at"])
    op.create_table(
        "wire_state",
        sa.Column("wire", _TEXT(), nullable=False),
        sa.Column("position", _TEXT(), nullable=True),
        sa.Column("hold_until", _INSTANT(), nullable=True),
        sa.PrimaryKeyConstraint("wire"),
    )
    op.create_table(
        "loan",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("item_id", sa.Integer(), nullable=False),
        sa.Column("owner_id", sa.Integer(), nullable=False),
        sa.Column("borrower_id", sa.Integer(), nullable=False),
        sa.Column("name", _TEXT(), nullable=False),
        sa.Column("lent_on", sa.Date(), nullable=False),
        sa.Column("lent_by", _TEXT(), nullable=False),
        sa.Column("back_on", sa.Date(), nullable=True),
        sa.ForeignKeyConstraint(["item_id"], ["item.id"], ondelete="CASCADE"),
        sa.ForeignKeyConstraint(["owner_id"], ["locker.id"], ondelete="CASCADE"),
        sa.ForeignKeyConstraint(["borrower_id"], ["locker.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id"),
    )
    for column in ("item_id", "owner_id", "borrower_id"):
        op.create_index(f"ix_loan_{column}", "loan", [column])
    # Columns are added one by one: to rebuild a table drops it, and with it, by cascade, what hangs on its rows.
    for table, name, kind, before in _COLUMNS:
        default = before if before is None or isinstance(before, str) else sa.false()
        op.add_column(table, sa.Column(name, kind, nullable=before is None, server_default=default))
    for table, name in _INDEXED:
        op.create_index(f"ix_{table}_{name}", table, [name])
    _name_people()


def _name_people() -> None:
    """Write who did what as the wire and the address. Who writes next in a chat becomes the owner of its locker."""
    chat = sa.table("chat", *map(sa.column, ("id", "wire", "locker_id")))
    journal = sa.table("journal_entry", *map(sa.column, ("id", "chat_id", "actor", "locker_id")))
    home = sa.select(chat.c.locker_id).where(chat.c.id == journal.c.chat_id).scalar_subquery()
    op.execute(journal.update().values(locker_id=home))
    for name, column in _WHO:
        table = sa.table(name, sa.column("locker_id"), sa.column(column))
        wire = sa.select(sa.func.min(chat.c.wire)).where(chat.c.locker_id == table.c.locker_id)
        op.execute(table.update().values({column: wire.scalar_subquery() + ":" + table.c[column]}))
    wire_of_chat = sa.select(chat.c.wire).where(chat.c.id == journal.c.chat_id).scalar_subquery()
    op.execute(journal.update().values(actor=wire_of_chat + ":" + journal.c.actor))


def downgrade() -> None:
    for table, name in _INDEXED:
        op.drop_index(f"ix_{table}_{name}", table)
    for table, name, *_ in reversed(_COLUMNS):
        op.drop_column(table, name)
    for table in ("loan", "wire_state", "letter", "invite", "member", "person"):
        op.drop_table(table)
