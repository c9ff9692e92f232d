"""updates that were begun and not ended"""

import sqlalchemy as sa
import sqlmodel.sql.sqltypes
from alembic import op

revision = "0005"
down_revision = "0004"

_TEXT = sqlmodel.sql.sqltypes.AutoString


def upgrade() -> None:
    op.create_table(
        "attempt",
        sa.Column("wire", _TEXT(), nullable=False),
        sa.Column("update_id", _TEXT(), nullable=False),
        sa.Column("what", _TEXT(), nullable=False),
        sa.Column("times", sa.Integer(), nullable=False),
        sa.Column("begun_at", sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
        sa.Column("set_aside", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("wire", "update_id"),
    )


def downgrade() -> None:
    op.drop_table("attempt")
