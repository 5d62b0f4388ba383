"""Add a checksum to every row, computed for existing rows as they stand."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import context, op

from goodlength.record.store.database_tables import UtcTime
from goodlength.record.store.row_checksums import checksum

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

PIECE = 5_000
TEXT, DAY, YES, TIME, WHOLE = sa.Text, sa.Date, sa.Boolean, UtcTime, sa.BigInteger

# Each table as it is at this step: its key, and its columns in the order they are summed
TABLES: dict[str, tuple[str, dict[str, Any]]] = {
    "players": (
        "id",
        {"id": TEXT, "name": TEXT, "hand": TEXT, "born_year": WHOLE, "junior": YES, "notes": TEXT},
    ),
    "consents": (
        "seq",
        {"player": TEXT, "given_by": TEXT, "given_on": DAY, "purposes": TEXT, "until": DAY},
    ),
    "kinds": ("id", {"id": TEXT, "words": TEXT, "retired": YES, "place": WHOLE}),
    "settings": ("key", {"key": TEXT, "value": TEXT}),
    "matches": (
        "id",
        {
            "id": TEXT,
            "player_a": TEXT,
            "player_b": TEXT,
            "event": TEXT,
            "played_on": DAY,
            "demo": YES,
            "info": TEXT,
            "made_utc": TIME,
        },
    ),
    "entries": (
        "seq",
        {
            "id": TEXT,
            "match": TEXT,
            "observer": TEXT,
            "at_utc": TIME,
            "rally": TEXT,
            "what": TEXT,
            "value": TEXT,
            "replaces": TEXT,
        },
    ),
    "footage": (
        "id",
        {
            "id": TEXT,
            "match": TEXT,
            "place": WHOLE,
            "path": TEXT,
            "copied": YES,
            "size": WHOLE,
            "mtime_ns": WHOLE,
            "sha256": TEXT,
            "look": TEXT,
            "proxy": TEXT,
            "frames": TEXT,
            "first_us": WHOLE,
            "end_us": WHOLE,
            "starts_us": WHOLE,
        },
    ),
    "clips": (
        "id",
        {
            "id": TEXT,
            "match": TEXT,
            "rally": TEXT,
            "path": TEXT,
            "from_us": WHOLE,
            "to_us": WHOLE,
            "made_utc": TIME,
        },
    ),
    "practice": (
        "seq",
        {"id": TEXT, "player": TEXT, "at_utc": TIME, "what": TEXT, "value": TEXT, "replaces": TEXT},
    ),
}


def upgrade() -> None:
    """Add the column; fill it, unless only the statements are wanted."""
    for name, (key, columns) in TABLES.items():
        op.add_column(name, sa.Column("crc32", sa.BigInteger))
        if not context.is_offline_mode():
            _fill(op.get_bind(), name, key, columns)


def _fill(connection: sa.Connection, name: str, key: str, columns: dict[str, Any]) -> None:
    kinds = {key: WHOLE, **columns} if key == "seq" else columns
    table = sa.table(
        name, *(sa.column(text, kind) for text, kind in kinds.items()), sa.column("crc32", WHOLE)
    )
    query = sa.select(*(table.c[kind] for kind in kinds)).order_by(table.c[key]).limit(PIECE)
    change = sa.update(table).where(table.c[key] == sa.bindparam("of")).values(crc32=sa.bindparam("crc"))
    rows = connection.execute(query).mappings().all()
    while rows:
        connection.execute(
            change, [{"of": row[key], "crc": checksum(*(row[column] for column in columns))} for row in rows]
        )
        rows = connection.execute(query.where(table.c[key] > rows[-1][key])).mappings().all()


def downgrade() -> None:
    """Drop the column; no row is touched."""
    for name in TABLES:
        with op.batch_alter_table(name) as batch:
            batch.drop_column("crc32")
