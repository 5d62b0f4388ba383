"""Serves of a match as measured: from the coach's clicks where there are any, else from their paths."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from goodlength.errors import DamagedFile
from goodlength.tasks.ball.ball_following_inputs import followed_now

if TYPE_CHECKING:
    from goodlength.measure.shots.followed_ball_types import PathServe
    from goodlength.record.entry_value_types import MeasuredValue
    from goodlength.tasks.match.lazy_match import OpenMatch


@dataclass(frozen=True)
class ServeAsMeasured:
    """What is known of one serve: by clicks or from its path; `path` holds what only a path gives."""

    key: str
    by: Literal["clicks", "path"]
    value: MeasuredValue
    path: PathServe | None


def serves_as_measured(opened: OpenMatch) -> tuple[ServeAsMeasured, ...]:
    """Return every serve measured, by clicks before paths; paths that are out of date are left out.

    Rallies that were only detected have a key "h:...", those of the record "r:...".
    """
    clicked = clicked_serves(opened)
    paths = path_serves(opened)
    both = dict.fromkeys((*clicked, *paths))
    found = []
    for key in both:
        path, value = paths.get(key), clicked.get(key)
        if value is not None:
            found.append(ServeAsMeasured(key, "clicks", value, path))
        elif path is not None:
            found.append(ServeAsMeasured(key, "path", path.value, path))
    return tuple(found)


def path_serves(opened: OpenMatch) -> dict[str, PathServe]:
    """Return what was measured from paths that are up to date, by the rally's key; none of a damaged file."""
    try:
        followed = followed_now(opened, samples=False)
    except DamagedFile:
        return {}
    rallies = () if followed is None else followed.rallies
    return {rally.key: rally.serve for rally in rallies if rally.serve is not None and not rally.out_of_date}


def clicked_serves(opened: OpenMatch) -> dict[str, MeasuredValue]:
    """Return what was measured from clicks, by the key that paths use."""
    return {
        f"r:{rally.key}": rally.serve.measured
        for rally in opened.match.rallies
        if rally.serve.measured is not None
    }
