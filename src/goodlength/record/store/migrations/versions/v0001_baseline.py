"""Tables of the first version."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def _people() -> None:
    op.create_table(
        "about",
        sa.Column("key", sa.Text, nullable=False),
        sa.Column("value", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_about")),
    )
    op.create_table(
        "players",
        sa.Column("id", sa.Text, nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("hand", sa.Text, nullable=False),
        sa.Column("born_year", sa.Integer),
        sa.Column("junior", sa.Boolean, nullable=False),
        sa.Column("notes", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_players")),
        sa.CheckConstraint("hand IN ('right', 'left')", name=op.f("ck_players_hand")),
    )
    op.create_table(
        "consents",
        sa.Column("seq", sa.Integer, nullable=False, autoincrement=True),
        sa.Column("player", sa.Text, nullable=False),
        sa.Column("given_by", sa.Text, nullable=False),
        sa.Column("given_on", sa.Date, nullable=False),
        sa.Column("purposes", sa.Text, nullable=False),
        sa.Column("until", sa.Date),
        sa.PrimaryKeyConstraint("seq", name=op.f("pk_consents")),
        sa.ForeignKeyConstraint(
            ["player"], ["players.id"], name=op.f("fk_consents_player_players"), ondelete="CASCADE"
        ),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_consents_player"), "consents", ["player"])


def _choices() -> None:
    op.create_table(
        "kinds",
        sa.Column("id", sa.Text, nullable=False),
        sa.Column("words", sa.Text, nullable=False),
        sa.Column("retired", sa.Boolean, nullable=False),
        sa.Column("place", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_kinds")),
    )
    op.create_table(
        "settings",
        sa.Column("key", sa.Text, nullable=False),
        sa.Column("value", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_settings")),
    )


def _matches() -> None:
    op.create_table(
        "matches",
        sa.Column("id", sa.Text, nullable=False),
        sa.Column("player_a", sa.Text, nullable=False),
        sa.Column("player_b", sa.Text, nullable=False),
        sa.Column("event", sa.Text, nullable=False),
        sa.Column("played_on", sa.Date),
        sa.Column("demo", sa.Boolean, nullable=False),
        sa.Column("info", sa.Text, nullable=False),
        sa.Column("made_utc", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_matches")),
        sa.ForeignKeyConstraint(
            ["player_a"], ["players.id"], name=op.f("fk_matches_player_a_players"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["player_b"], ["players.id"], name=op.f("fk_matches_player_b_players"), ondelete="RESTRICT"
        ),
        sa.CheckConstraint("player_a <> player_b", name=op.f("ck_matches_two_players")),
    )
    op.create_index(op.f("ix_matches_player_a"), "matches", ["player_a"])
    op.create_index(op.f("ix_matches_player_b"), "matches", ["player_b"])
    op.create_table(
        "entries",
        sa.Column("seq", sa.Integer, nullable=False, autoincrement=True),
        sa.Column("id", sa.Text, nullable=False),
        sa.Column("match", sa.Text, nullable=False),
        sa.Column("observer", sa.Text, nullable=False),
        sa.Column("at_utc", sa.DateTime(timezone=True), nullable=False),
        sa.Column("rally", sa.Text, nullable=False),
        sa.Column("what", sa.Text, nullable=False),
        sa.Column("value", sa.Text, nullable=False),
        sa.Column("replaces", sa.Text),
        sa.PrimaryKeyConstraint("seq", name=op.f("pk_entries")),
        sa.UniqueConstraint("id", name=op.f("uq_entries_id")),
        sa.ForeignKeyConstraint(
            ["match"], ["matches.id"], name=op.f("fk_entries_match_matches"), ondelete="CASCADE"
        ),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_entries_match_seq", "entries", ["match", "seq"])


def _files() -> None:
    op.create_table(
        "footage",
        sa.Column("id", sa.Text, nullable=False),
        sa.Column("match", sa.Text, nullable=False),
        sa.Column("place", sa.Integer, nullable=False),
        sa.Column("path", sa.Text, nullable=False),
        sa.Column("copied", sa.Boolean, nullable=False),
        sa.Column("size", sa.BigInteger),
        sa.Column("mtime_ns", sa.BigInteger),
        sa.Column("sha256", sa.Text),
        sa.Column("look", sa.Text),
        sa.Column("proxy", sa.Text),
        sa.Column("frames", sa.Text),
        sa.Column("first_us", sa.BigInteger),
        sa.Column("end_us", sa.BigInteger),
        sa.Column("starts_us", sa.BigInteger),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_footage")),
        sa.ForeignKeyConstraint(
            ["match"], ["matches.id"], name=op.f("fk_footage_match_matches"), ondelete="CASCADE"
        ),
    )
    op.create_index(op.f("ix_footage_match"), "footage", ["match"])
    op.create_table(
        "clips",
        sa.Column("id", sa.Text, nullable=False),
        sa.Column("match", sa.Text, nullable=False),
        sa.Column("rally", sa.Text),
        sa.Column("path", sa.Text, nullable=False),
        sa.Column("from_us", sa.BigInteger),
        sa.Column("to_us", sa.BigInteger),
        sa.Column("made_utc", sa.DateTime(timezone=True)),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_clips")),
        sa.ForeignKeyConstraint(
            ["match"], ["matches.id"], name=op.f("fk_clips_match_matches"), ondelete="CASCADE"
        ),
    )
    op.create_index(op.f("ix_clips_match"), "clips", ["match"])


def upgrade() -> None:
    """Make every table."""
    _people()
    _choices()
    _matches()
    _files()


def downgrade() -> None:
    """Drop every table."""
    for table in (
        "clips",
        "footage",
        "entries",
        "matches",
        "settings",
        "kinds",
        "consents",
        "players",
        "about",
    ):
        op.drop_table(table)
