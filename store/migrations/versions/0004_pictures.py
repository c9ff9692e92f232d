"""how a chat wants its due board"""

import sqlalchemy as sa
import sqlmodel.sql.sqltypes
from alembic import op

revision = "0004"
down_revision = "0003"

_INSTANT = sqlmodel.sql.sqltypes.UTCDateTime


def upgrade() -> None:
    op.add_column("chat", sa.Column("dark", sa.Boolean(), nullable=False, server_default=sa.false()))
    op.add_column("chat", sa.Column("board_day", sa.Integer(), nullable=True))
    op.add_column("chat", sa.Column("board_at", _INSTANT(), nullable=True))
    op.create_index("ix_chat_board_at", "chat", ["board_at"])


def downgrade() -> None:
    op.drop_index("ix_chat_board_at", "chat")
    for column in ("board_at", "board_day", "dark"):
        op.drop_column("chat", column)
