"""Results that take minutes to calculate from the demo's film, shipped with the package.

`scripts/demo_results_from_video.py` makes them again from the film by the same tasks that a coach's own video
goes through, and `scripts/demo_results_from_video.py --check` says how far those differ from the files here.
"""

from __future__ import annotations

import gzip
import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from goodlength.files.json_types import JsonObject
from goodlength.measure.shots.followed_ball_storage import followed_from_json
from goodlength.measure.shots.followed_ball_types import FollowedMatch

DATA = Path(__file__).parent.parent / "data"
COURT, TRACKS, BALL, PATHS = "court.json", "tracks.json.gz", "ball.npz", "paths.json.gz"


def shipped_court() -> JsonObject:
    """Return the court found in the film, as a library stores it, without the fingerprint of the file."""
    return _object((DATA / COURT).read_text(encoding="utf-8"))


def shipped_tracks(match_id: str, footage_id: str, spans: Sequence[tuple[str, int, int]]) -> JsonObject:
    """Return both players' paths through the filmed rallies, as a library stores them.

    A rally that was not detected here, as can be on another computer, has no paths.

    Parameters
    ----------
    match_id, footage_id : str
        Whose they are to be.
    spans : sequence of (str, int, int)
        The name of each rally, its start and its end, microseconds of the film.
    """
    tracks = _object(gzip.decompress((DATA / TRACKS).read_bytes()).decode("utf-8"))
    rallies = []
    for rally in tracks["rallies"]:
        first, last = rally["times_us"][0], rally["times_us"][-1]
        key = next((key for key, start, end in spans if first <= (start + end) // 2 <= last), None)
        if key is not None:
            rallies.append({**rally, "key": key, "footage": footage_id})
    return {**tracks, "match": match_id, "rallies": rallies}


def shipped_paths() -> FollowedMatch:
    """Return the ball's path through the filmed rallies, with what it rested on where it was found."""
    return followed_from_json(_object(gzip.decompress((DATA / PATHS).read_bytes()).decode("utf-8")))


def _object(text: str) -> dict[str, Any]:
    read: dict[str, Any] = json.loads(text)
    return read
