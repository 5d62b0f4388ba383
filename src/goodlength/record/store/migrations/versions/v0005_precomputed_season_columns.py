"""Add ready columns of the season; they are made from the record when they are missing."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the table, empty; no row that is there is touched."""
    op.create_table(
        "season_parts",
        sa.Column("id", sa.Text, nullable=False),
        sa.Column("form", sa.Text, nullable=False),
        sa.Column("matches", sa.Text, nullable=False),
        sa.Column("rallies", sa.LargeBinary, nullable=False),
        sa.Column("crc32", sa.BigInteger),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_season_parts")),
    )


def downgrade() -> None:
    """Drop the table; the columns can be made again."""
    op.drop_table("season_parts")
