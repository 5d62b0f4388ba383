"""The followed ball as two tables: a line a contact, and a line a sample of the path."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from goodlength.measure.shots.followed_ball_types import (
    Covariance,
    FollowedMatch,
    FollowedRally,
    FollowedShot,
)

Cell = str | int | float | bool | None
US = 1_000_000

# Columns with their types, as a database names them.
_SHOT_COLUMNS = {
    "rally": "INTEGER",
    "rally_key": "VARCHAR",
    "video": "VARCHAR",
    "shot": "INTEGER",
    "path": "INTEGER",
}
CONTACT_COLUMNS: Mapping[str, str] = {
    **_SHOT_COLUMNS,
    "chance": "DOUBLE",
    "sure": "BOOLEAN",
    "striker": "VARCHAR",
    "track": "INTEGER",
    "speed_m_s": "DOUBLE",
    "contact": "VARCHAR",
    "media_s": "DOUBLE",
    "x_m": "DOUBLE",
    "y_m": "DOUBLE",
    "z_m": "DOUBLE",
    "error_x_m": "DOUBLE",
    "error_y_m": "DOUBLE",
    "error_z_m": "DOUBLE",
    "with_sound": "BOOLEAN",
    "reason": "VARCHAR",
    "out_of_date": "BOOLEAN",
}
SAMPLE_COLUMNS: Mapping[str, str] = {
    **_SHOT_COLUMNS,
    "media_s": "DOUBLE",
    "x_m": "DOUBLE",
    "y_m": "DOUBLE",
    "z_m": "DOUBLE",
    "seen": "BOOLEAN",
}

_OF_VALUE = (
    "speed_m_s",
    "up_deg",
    "front_x_m",
    "front_z_m",
    "to_front_s",
    "side_y_m",
    "side_z_m",
    "bounce_x_m",
    "bounce_y_m",
    "second_x_m",
    "second_y_m",
    "room_m",
)
SERVE_COLUMNS: Mapping[str, str] = {
    "rally": "INTEGER",
    "rally_key": "VARCHAR",
    "video": "VARCHAR",
    "measured_by": "VARCHAR",
    "chance": "DOUBLE",
    "media_s": "DOUBLE",
    "level": "DOUBLE",
    "side": "VARCHAR",
    **{
        f"{name}{end}": "DOUBLE"
        for name in (*_OF_VALUE, "receiver_z_m", "receiver_side_m")
        for end in ("", "_low", "_high")
    },
}


def serve_rows(followed: FollowedMatch, numbers: Mapping[str, int]) -> Iterator[tuple[Cell, ...]]:
    """Yield a line for each serve measured from its path, in the order of `SERVE_COLUMNS`."""
    for rally in followed.rallies:
        serve = rally.serve
        if serve is None or rally.out_of_date:
            continue
        value = serve.value
        values = (
            *(getattr(value, name) for name in _OF_VALUE),
            serve.receiver_z_m,
            serve.receiver_side_m,
        )
        yield (
            numbers.get(rally.key),
            rally.key,
            rally.footage,
            "path",
            serve.chance,
            value.struck_us / US,
            value.level,
            value.side,
            *(end for triple in values for end in (triple or (None, None, None))),
        )


def contact_rows(followed: FollowedMatch, numbers: Mapping[str, int]) -> Iterator[tuple[Cell, ...]]:
    """Yield a line for each contact in the order of `CONTACT_COLUMNS`; shots without a path have one, empty.

    Parameters
    ----------
    numbers : mapping
        Number of a rally in the match by its key, where it is recorded.
    """
    for rally in followed.rallies:
        for shot in rally.shots:
            for number, path in enumerate(shot.paths, 1):
                for contact in path.contacts:
                    yield (
                        *_of_shot(rally, shot, number, numbers),
                        *(path.chance, shot.sure, *_who(shot), path.speed_m_s, contact.kind.value),
                        contact.time_us / US,
                        *contact.place_m,
                        *_errors(contact.covariance_m2),
                        contact.with_sound,
                        shot.reason,
                        bool(rally.out_of_date),
                    )
            if not shot.paths:
                yield (
                    *_of_shot(rally, shot, None, numbers),
                    *(None, False, *_who(shot), None, None),
                    shot.struck_us / US,
                    *(None,) * 6,
                    *(None, shot.reason, bool(rally.out_of_date)),
                )


def sample_rows(followed: FollowedMatch, numbers: Mapping[str, int]) -> Iterator[tuple[Cell, ...]]:
    """Yield a line for each sample of each path in the order of `SAMPLE_COLUMNS`."""
    for rally in followed.rallies:
        for shot in rally.shots:
            for number, path in enumerate(shot.paths, 1):
                for sample in path.samples:
                    yield (
                        *_of_shot(rally, shot, number, numbers),
                        sample.time_us / US,
                        *sample.place_m,
                        sample.seen,
                    )


def _of_shot(
    rally: FollowedRally, shot: FollowedShot, path: int | None, numbers: Mapping[str, int]
) -> tuple[Cell, ...]:
    return numbers.get(rally.key), rally.key, rally.footage, shot.number, path


def _who(shot: FollowedShot) -> tuple[Cell, Cell]:
    return None if shot.striker is None else shot.striker.value, shot.track


def _errors(covariance: Covariance | None) -> tuple[Cell, Cell, Cell]:
    """Return the standard error of each coordinate, m."""
    if covariance is None:
        return None, None, None
    x, y, z = (math.sqrt(max(0.0, covariance[k][k])) for k in range(3))
    return round(x, 4), round(y, 4), round(z, 4)
