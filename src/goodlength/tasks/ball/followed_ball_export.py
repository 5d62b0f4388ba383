"""The ball followed through a match: read, and exported for other programs."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from goodlength.errors import InputError, NotFound
from goodlength.files.atomic_write import atomic_write
from goodlength.files.library_layout import ball_corrections_file, followed_ball_file
from goodlength.files.locked_json_file import JsonFile, exclusive
from goodlength.measure.shots.followed_ball_storage import followed_json, read_followed, write_followed
from goodlength.measure.shots.followed_ball_tables import (
    CONTACT_COLUMNS,
    SAMPLE_COLUMNS,
    Cell,
    contact_rows,
    sample_rows,
)
from goodlength.record.store.parquet_table import write_parquet
from goodlength.tasks.ball.ball_detection import rallies_to_search

if TYPE_CHECKING:
    from goodlength.measure.shots.followed_ball import FollowedMatch
    from goodlength.tasks.match.lazy_match import OpenMatch

ENDINGS = (".json", ".csv", ".parquet")
RISKY = ("=", "+", "-", "@", "\t", "\r")


def followed_ball(opened: OpenMatch) -> FollowedMatch | None:
    """Return the followed ball of a match, by its rallies as they are now; None where it was not followed.

    A rally followed when it was only detected keeps its paths once it is recorded.

    Raises
    ------
    DamagedFile
        What is stored cannot be read.
    """
    stored = read_followed(followed_ball_file(opened.library.folder, opened.id))
    return None if stored is None else _by_keys(stored, _keys_now(opened, stored))


def settle_keys(opened: OpenMatch) -> None:
    """Store followed rallies and their corrections by the keys that the rallies have now.

    Raises
    ------
    DamagedFile, NoSpace
        A file cannot be read or written.
    """
    to = followed_ball_file(opened.library.folder, opened.id)
    corrections = JsonFile(ball_corrections_file(opened.library.folder, opened.id))
    with exclusive(to.parent):
        stored = read_followed(to)
        keys = {} if stored is None else _keys_now(opened, stored)
        if stored is None or not keys:
            return
        plain = corrections.read()
        corrected = plain.get("rallies")
        if isinstance(corrected, dict) and not corrected.keys().isdisjoint(keys):
            corrected = {keys.get(key, key): value for key, value in corrected.items()}
            corrections.write({**plain, "rallies": corrected})
        write_followed(to, _by_keys(stored, keys))


def _keys_now(opened: OpenMatch, stored: FollowedMatch) -> dict[str, str]:
    """Return the new key of each followed rally whose key no rally has any more, by overlap in its video."""
    from goodlength.footage.ball_detection.ball_storage import BallSpan, span_covering

    numbers = rally_numbers(opened)
    if all(rally.key in numbers for rally in stored.rallies):
        return {}
    now = rallies_to_search(opened)
    known = {span.key for span in now}
    left = {
        BallSpan(rally.key, rally.footage, rally.from_us, rally.until_us)
        for rally in stored.rallies
        if rally.key not in known
    }
    keys = {}
    for span in now:
        old = None if stored.rally(span.key) is not None else span_covering(span, left)
        if old is not None:
            keys[old.key] = span.key
            left.remove(old)
    return keys


def _by_keys(stored: FollowedMatch, keys: Mapping[str, str]) -> FollowedMatch:
    if not keys:
        return stored
    rallies = tuple(replace(rally, key=keys.get(rally.key, rally.key)) for rally in stored.rallies)
    return replace(stored, rallies=rallies)


def rally_numbers(opened: OpenMatch) -> dict[str, int]:
    """Return the number of each recorded rally by the key that candidates and tracks use."""
    return {f"r:{rally.key}": n for n, rally in enumerate(opened.match.rallies, 1)}


def export_followed(opened: OpenMatch, to: str | Path, *, samples: bool = False) -> Path:
    """Write the followed ball to a file; the ending of its name says which form.

    Parameters
    ----------
    to : str or Path
        FILE.json (everything), FILE.csv or FILE.parquet (a line a contact).
    samples : bool
        With .csv and .parquet: a line for each frame of each path instead.

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
    followed = followed_ball(opened)
    if followed is None:
        raise NotFound(
            "The ball has not been followed in this match yet, so there is nothing to export. Detect the "
            "ball first, then follow it."
        )
    columns = SAMPLE_COLUMNS if samples else CONTACT_COLUMNS
    rows = (sample_rows if samples else contact_rows)(followed, rally_numbers(opened))
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
