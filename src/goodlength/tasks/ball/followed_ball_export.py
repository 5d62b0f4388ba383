"""The ball followed through a match, exported for other programs."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from goodlength.errors import InputError, NotFound
from goodlength.files.atomic_write import atomic_write
from goodlength.measure.shots.followed_ball_storage import followed_json
from goodlength.measure.shots.followed_ball_tables import (
    CONTACT_COLUMNS,
    SAMPLE_COLUMNS,
    SERVE_COLUMNS,
    Cell,
    contact_rows,
    sample_rows,
    serve_rows,
)
from goodlength.record.store.parquet_writer import write_parquet
from goodlength.tasks.ball.ball_following_inputs import followed_now
from goodlength.tasks.ball.stored_ball_paths_rekeyed_to_rallies import rally_numbers

if TYPE_CHECKING:
    from goodlength.tasks.match.lazy_match import OpenMatch

ENDINGS = (".json", ".csv", ".parquet")
RISKY = ("=", "+", "-", "@", "\t", "\r")


def export_followed(
    opened: OpenMatch, to: str | Path, *, samples: bool = False, serves: bool = False
) -> Path:
    """Write the followed ball to a file; the ending of its name says which form.

    Parameters
    ----------
    to : str or Path
        FILE.json (everything), FILE.csv or FILE.parquet (a line a contact).
    samples : bool
        With .csv and .parquet: a line for each frame of each path instead.
    serves : bool
        With .csv and .parquet: a line for each serve measured from its path instead.

    Raises
    ------
    InputError
        If the ending is none of these.
    NotFound
        If the ball was not followed yet.
    NoSpace
        If the file cannot be written; nothing half-written stays.
    """
    target = Path(to).expanduser()
    ending = target.suffix.lower()
    if ending not in ENDINGS:
        raise InputError(
            f"The file {target.name!r} should end in .json (everything), .csv or .parquet (tables)."
        )
    followed = followed_now(opened)
    if followed is None:
        raise NotFound(
            "The ball has not been followed in this match yet, so there is nothing to export. Detect the "
            "ball first, then follow it."
        )
    columns, lines = CONTACT_COLUMNS, contact_rows
    if serves:
        columns, lines = SERVE_COLUMNS, serve_rows
    elif samples:
        columns, lines = SAMPLE_COLUMNS, sample_rows
    rows = lines(followed, rally_numbers(opened))
    with atomic_write(target) as part:
        if ending == ".json":
            part.write_text(json.dumps(followed_json(followed), indent=1), encoding="utf-8")
        elif ending == ".csv":
            part.write_bytes(_csv(columns, rows))
        else:
            write_parquet(part, columns, rows)
    return target


def _csv(columns: Mapping[str, str], rows: Iterable[Sequence[Cell]]) -> bytes:
    """Return a table as match tables are written: byte-order mark, and no cell that a program would run."""
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(columns)
    for row in rows:
        writer.writerow([_cell(value) for value in row])
    return text.getvalue().encode("utf-8-sig")


def _cell(value: Cell) -> Cell:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"'{value}" if isinstance(value, str) and value.startswith(RISKY) else value
