"""Add the counts kept with each match; they are counted when a list first asks for them."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the table, empty; no row that is there is touched."""
    op.create_table(
        "match_counts",
        sa.Column("match", sa.Text, nullable=False),
        sa.Column("entries", sa.BigInteger, nullable=False),
        sa.Column("last_seq", sa.BigInteger, nullable=False),
        sa.Column("rallies", sa.BigInteger, nullable=False),
        sa.Column("measured", sa.BigInteger, nullable=False),
        sa.Column("crc32", sa.BigInteger),
        sa.PrimaryKeyConstraint("match", name=op.f("pk_match_counts")),
        sa.ForeignKeyConstraint(
            ["match"], ["matches.id"], name=op.f("fk_match_counts_match_matches"), ondelete="CASCADE"
        ),
    )


def downgrade() -> None:
    """Drop the table; the counts can be counted again."""
    op.drop_table("match_counts")
