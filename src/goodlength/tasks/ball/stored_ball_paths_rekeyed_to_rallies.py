"""The ball followed through a match as stored, by the rallies as they are now."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from goodlength.files.library_layout import ball_corrections_file, followed_ball_file
from goodlength.files.locked_json_file import JsonFile, exclusive
from goodlength.measure.shots.followed_ball_storage import (
    read_followed,
    read_followed_lightly,
    write_followed,
)
from goodlength.tasks.ball.ball_detection import rallies_to_search

if TYPE_CHECKING:
    from goodlength.measure.shots.followed_ball_types import FollowedMatch
    from goodlength.tasks.match.lazy_match import OpenMatch


def followed_ball(opened: OpenMatch, *, samples: bool = True) -> FollowedMatch | None:
    """Return the followed ball of a match, by its rallies as they are now; None where it was not followed.

    A rally followed when it was only detected keeps its paths once it is recorded. Without `samples` it is
    quick: each path then has its last sample alone.

    Raises
    ------
    DamagedFile
        What is stored cannot be read.
    """
    read = read_followed if samples else read_followed_lightly
    stored = read(followed_ball_file(opened.library.folder, opened.id))
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
    from goodlength.footage.ball_detection.ball_candidate_storage import BallSpan, span_covering

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
