"""Tables of a library, portable between SQLite and PostgreSQL.

The migrations in `migrations/versions` make these tables; a test holds the two together.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Dialect
from sqlalchemy.types import TypeDecorator

HEAD = "0005"  # the newest migration; kept here so that opening a library need not load Alembic

MARK = "goodlength library"

metadata = sa.MetaData(
    naming_convention={
        "ix": "ix_%(column_0_label)s",
        "uq": "uq_%(table_name)s_%(column_0_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
        "pk": "pk_%(table_name)s",
    }
)


class UtcTime(TypeDecorator[datetime]):
    """A moment in UTC that comes back as UTC; a time without a zone is refused.

    SQLite drops the zone of a time stamp and gives 01:30 twice on the night the clocks go back.
    """

    impl = sa.DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Turn a moment with a zone into UTC for the database."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("a time without a zone cannot be stored; give it in UTC")
        moment = value.astimezone(UTC)
        return moment.replace(tzinfo=None) if dialect.name == "sqlite" else moment

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Put UTC back on what the database returns."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


def _text(name: str, *more: Any, **options: Any) -> sa.Column[Any]:
    options.setdefault("nullable", False)
    return sa.Column(name, sa.Text, *more, **options)


def _sum() -> sa.Column[Any]:
    """Return the row's checksum, see `record.store.row_checksums`; always the last column."""
    return sa.Column("crc32", sa.BigInteger)


about = sa.Table("about", metadata, _text("key", primary_key=True), _text("value"))

players = sa.Table(
    "players",
    metadata,
    _text("id", primary_key=True),
    _text("name"),
    _text("hand"),
    sa.Column("born_year", sa.Integer),
    sa.Column("junior", sa.Boolean, nullable=False),
    _text("notes"),
    _sum(),
    sa.CheckConstraint("hand IN ('right', 'left')", name="hand"),
)

consents = sa.Table(
    "consents",
    metadata,
    sa.Column("seq", sa.Integer, primary_key=True, autoincrement=True),
    _text("player", sa.ForeignKey("players.id", ondelete="CASCADE"), index=True),
    _text("given_by"),
    sa.Column("given_on", sa.Date, nullable=False),
    _text("purposes"),  # JSON list; an empty one withdraws
    sa.Column("until", sa.Date),
    _sum(),
    sqlite_autoincrement=True,
)

kinds = sa.Table(
    "kinds",
    metadata,
    _text("id", primary_key=True),
    _text("words"),
    sa.Column("retired", sa.Boolean, nullable=False),
    sa.Column("place", sa.Integer, nullable=False),
    _sum(),
)

settings = sa.Table("settings", metadata, _text("key", primary_key=True), _text("value"), _sum())

matches = sa.Table(
    "matches",
    metadata,
    _text("id", primary_key=True),
    _text("player_a", sa.ForeignKey("players.id", ondelete="RESTRICT"), index=True),
    _text("player_b", sa.ForeignKey("players.id", ondelete="RESTRICT"), index=True),
    _text("event"),
    sa.Column("played_on", sa.Date),
    sa.Column("demo", sa.Boolean, nullable=False),
    _text("info"),  # the whole MatchInfo as JSON; the columns above are for searching
    sa.Column("made_utc", UtcTime, nullable=False),
    _sum(),
    sa.CheckConstraint("player_a <> player_b", name="two_players"),
)

entries = sa.Table(
    "entries",
    metadata,
    sa.Column("seq", sa.Integer, primary_key=True, autoincrement=True),
    _text("id", unique=True),
    _text("match", sa.ForeignKey("matches.id", ondelete="CASCADE")),
    _text("observer"),
    sa.Column("at_utc", UtcTime, nullable=False),
    _text("rally"),
    _text("what"),
    _text("value"),  # JSON, read by hand so that one broken line does not hide the others
    _text("replaces", nullable=True),
    _sum(),
    sa.Index("ix_entries_match_seq", "match", "seq"),
    sqlite_autoincrement=True,
)

footage = sa.Table(
    "footage",
    metadata,
    _text("id", primary_key=True),
    _text("match", sa.ForeignKey("matches.id", ondelete="CASCADE"), index=True),
    sa.Column("place", sa.Integer, nullable=False),
    _text("path"),
    sa.Column("copied", sa.Boolean, nullable=False),
    sa.Column("size", sa.BigInteger),
    sa.Column("mtime_ns", sa.BigInteger),
    _text("sha256", nullable=True),
    _text("look", nullable=True),
    _text("proxy", nullable=True),
    _text("frames", nullable=True),
    sa.Column("first_us", sa.BigInteger),
    sa.Column("end_us", sa.BigInteger),
    sa.Column("starts_us", sa.BigInteger),
    _sum(),
)

clips = sa.Table(
    "clips",
    metadata,
    _text("id", primary_key=True),
    _text("match", sa.ForeignKey("matches.id", ondelete="CASCADE"), index=True),
    _text("rally", nullable=True),
    _text("path"),
    sa.Column("from_us", sa.BigInteger),
    sa.Column("to_us", sa.BigInteger),
    sa.Column("made_utc", UtcTime),
    _sum(),
)

practice = sa.Table(
    "practice",
    metadata,
    sa.Column("seq", sa.Integer, primary_key=True, autoincrement=True),
    _text("id", unique=True),
    _text("player", sa.ForeignKey("players.id", ondelete="CASCADE")),
    sa.Column("at_utc", UtcTime, nullable=False),
    _text("what"),
    _text("value"),
    _text("replaces", nullable=True),
    _sum(),
    sa.Index("ix_practice_player_seq", "player", "seq"),
    sqlite_autoincrement=True,
)

# Counted from the entries when it is missing or out of date, so it is never saved from a damaged library.
match_counts = sa.Table(
    "match_counts",
    metadata,
    _text("match", sa.ForeignKey("matches.id", ondelete="CASCADE"), primary_key=True),
    sa.Column("entries", sa.BigInteger, nullable=False),
    sa.Column("last_seq", sa.BigInteger, nullable=False),
    sa.Column("rallies", sa.BigInteger, nullable=False),
    sa.Column("measured", sa.BigInteger, nullable=False),
    _sum(),
    info={"derived": True},
)

# Made from replay when missing or out of date: see `record.store.season.season_columns_parquet_cache`.
season_parts = sa.Table(
    "season_parts",
    metadata,
    _text("id", primary_key=True),
    _text("form"),
    _text("matches"),  # JSON: the version of each match the columns were made from
    sa.Column("rallies", sa.LargeBinary, nullable=False),  # Parquet
    _sum(),
    info={"derived": True},
)
