"""Add the practice log."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the table; no row that is there is touched."""
    op.create_table(
        "practice",
        sa.Column("seq", sa.Integer, nullable=False, autoincrement=True),
        sa.Column("id", sa.Text, nullable=False),
        sa.Column("player", sa.Text, nullable=False),
        sa.Column("at_utc", sa.DateTime(timezone=True), nullable=False),
        sa.Column("what", sa.Text, nullable=False),
        sa.Column("value", sa.Text, nullable=False),
        sa.Column("replaces", sa.Text),
        sa.PrimaryKeyConstraint("seq", name=op.f("pk_practice")),
        sa.UniqueConstraint("id", name=op.f("uq_practice_id")),
        sa.ForeignKeyConstraint(
            ["player"], ["players.id"], name=op.f("fk_practice_player_players"), ondelete="CASCADE"
        ),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_practice_player_seq"), "practice", ["player", "seq"])


def downgrade() -> None:
    """Drop the table with what is in it."""
    op.drop_table("practice")
