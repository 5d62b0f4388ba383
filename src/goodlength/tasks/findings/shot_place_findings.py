"""Findings from places: shots of the followed ball as columns, of one match or of a player's matches."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from goodlength.errors import DamagedFile
from goodlength.findings.shot_places.shot_place_report import PlaceFindings, find_places
from goodlength.findings.shot_places.shot_table import (
    PlacedMatch,
    ShotRow,
    ShotTable,
    empty_shots,
    shot_table_of,
)
from goodlength.measure.draft.answers_from_ball_path import stroke_word
from goodlength.measure.shots.followed_ball_types import ContactKind
from goodlength.media_time import MICROSECONDS
from goodlength.record.model import ShotType
from goodlength.record.tables.rally_table import STROKES
from goodlength.scoring import Side
from goodlength.tasks.ball.ball_following_inputs import followed_now, match_shift_us
from goodlength.tasks.ball.player_measured_serves import MeasuredPlace, matches_with_paths, measured_places
from goodlength.tasks.footage.player_tracking import tracked_match
from goodlength.tasks.match.lazy_player_matches import open_matches

if TYPE_CHECKING:
    from goodlength.measure.players.player_tracking import Tracks
    from goodlength.measure.shots.followed_ball_types import (
        FollowedRally,
        FollowedShot,
        PathContact,
        ShotPath,
    )
    from goodlength.record.store import Library
    from goodlength.tasks.match.lazy_match import OpenMatch

NO_POINT = (float("nan"), float("nan"))
LAST_SAMPLE_US = 80_000  # before the next strike, a path's last sample still says where the ball was struck


@dataclass(frozen=True)
class MatchPlaces:
    """What places say of one player of a match; `serves` are the measured serves by kind and box."""

    found: PlaceFindings
    serves: tuple[tuple[str, str, tuple[MeasuredPlace, ...]], ...]


def match_places(opened: OpenMatch, whose: str = "coached", *, name_opponent: bool = True) -> MatchPlaces:
    """Return what places say of one player of a match; with nothing followed every count is 0.

    Parameters
    ----------
    whose : str
        "coached", "opponent", or as `OpenMatch.side_of`.
    name_opponent : bool
        False says "the opponent" in every sentence.
    """
    side = opened.side_of(whose)
    names = [name.split()[0] for name in opened.names]
    if names[0] == names[1]:
        names = list(opened.names)
    if not name_opponent:
        names[opened.info.coached.other.place] = "the opponent"
    placed = PlacedMatch(opened.table, shot_table(opened), side.place)
    found = find_places([placed], names[side.place], names[side.other.place], opened.kind_words)
    serves: dict[tuple[str, str], list[MeasuredPlace]] = {}
    for (kind, box, server), place in measured_places(opened):
        if server == side.value:
            serves.setdefault((kind, box), []).append(place)
    return MatchPlaces(
        found, tuple((kind, box, tuple(group)) for (kind, box), group in sorted(serves.items()))
    )


def player_places(library: Library, player_id: str, used: set[str] | None = None) -> PlaceFindings | None:
    """Return what places say of a player over all followed matches; None where none was followed.

    Parameters
    ----------
    used : set of str, optional
        Only these matches.
    """
    matches = open_matches(library, player_id)
    placed = []
    for info in matches_with_paths(library, matches.infos):
        if used is not None and info.id not in used:
            continue
        opened = matches.match(info.id)
        shots = shot_table(opened)
        if shots.n:
            placed.append(PlacedMatch(opened.table, shots, info.players.index(player_id)))
    if not placed:
        return None
    name = library.player(player_id).name.split()[0]
    kind_words = {kind.id: kind.words for kind in library.kinds()}
    return find_places(placed, name, "the other player", kind_words)


def shot_table(opened: OpenMatch) -> ShotTable:
    """Return the shots of followed and logged rallies as columns; none of a damaged file.

    Shots that are not sure, and rallies out of date, give no places.
    """
    logged = len(opened.match.rallies)
    try:
        followed = followed_now(opened, samples=False)
    except DamagedFile:
        return empty_shots(logged)
    if followed is None:
        return empty_shots(logged)
    numbers = {f"r:{rally.key}": row for row, rally in enumerate(opened.match.rallies)}
    logged_paths = [rally for rally in followed.rallies if rally.key in numbers]
    found = [(rally, match_shift_us(opened, rally)) for rally in logged_paths]
    fresh = [
        (rally, shift)
        for rally, shift in found
        if shift is not None and rally.shots and not rally.out_of_date
    ]
    tracks = {each.key: each.track.paths for each in tracked_match(opened).identified}
    rows: list[ShotRow] = []
    for rally, shift_us in fresh:
        rows += shot_rows(rally, numbers[rally.key], shift_us, tracks.get(rally.key))
    stale = sum(bool(rally.out_of_date) for rally in logged_paths)
    return shot_table_of(rows, logged, len(fresh), stale)


def shot_rows(rally: FollowedRally, row: int, shift_us: int, paths: Tracks | None = None) -> list[ShotRow]:
    """Return the shots of one followed rally as rows; `row` is that of the rally in its table."""
    following = [*rally.shots[1:], None]
    return [
        _row(row, shot, after, shift_us, paths) for shot, after in zip(rally.shots, following, strict=True)
    ]


def _row(
    row: int, shot: FollowedShot, after: FollowedShot | None, shift_us: int, paths: Tracks | None
) -> ShotRow:
    striker = -1 if shot.striker is None else shot.striker.place
    struck_s = (shot.struck_us + shift_us) / MICROSECONDS
    best = shot.best
    if best is None or not shot.sure:
        return ShotRow(row, shot.number, striker, seen=best is not None, struck_s=struck_s)
    word = stroke_word(best)
    bounce = next((contact for contact in best.contacts if contact.kind is ContactKind.FLOOR), None)
    end, end_error = _end(best, after)
    return ShotRow(
        row,
        shot.number,
        striker,
        STROKES.index(ShotType(word)) if word else -1,
        usable=True,
        seen=True,
        struck_s=struck_s,
        given_s=float("nan") if after is None else (after.struck_us - shot.struck_us) / MICROSECONDS,
        start=_floor(best.contacts[0]),
        bounce=_floor(bounce),
        bounce_error=_error(bounce),
        end=end,
        end_error=end_error,
        struck_back=after is not None,
        other=_other(paths, shot.striker, struck_s),
    )


def _end(best: ShotPath, after: FollowedShot | None) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return where a shot ended, with its error: where it was struck back, else its second bounce.

    The shot's own path says where it was struck: that of the next shot begins where the fit expects a racket,
    4 cm farther from the wall on simulated drives (n = 48, standard error 1). Its error is taken over.
    """
    if after is None:
        bounce = next((each for each in best.contacts if each.kind is ContactKind.SECOND_BOUNCE), None)
        return _floor(bounce), _error(bounce)
    if not after.sure or after.best is None:
        return NO_POINT, NO_POINT
    racket = after.best.contacts[0]
    near = best.samples[-1] if best.samples else None
    if near is None or after.struck_us - near.time_us > LAST_SAMPLE_US:
        return _floor(racket), _error(racket)
    return (near.place_m[0], near.place_m[1]), _error(racket)


def _floor(contact: PathContact | None) -> tuple[float, float]:
    return NO_POINT if contact is None else (contact.place_m[0], contact.place_m[1])


def _error(contact: PathContact | None) -> tuple[float, float]:
    """Return the standard errors across and along the court; NaN where they are not known."""
    covariance = None if contact is None else contact.covariance_m2
    if covariance is None:
        return NO_POINT
    return max(0.0, covariance[0][0]) ** 0.5, max(0.0, covariance[1][1]) ** 0.5


def _other(paths: Tracks | None, striker: Side | None, struck_s: float) -> tuple[float, float]:
    """Return where the other player stood at a strike; NaN where it is not known."""
    from goodlength.measure.players.track_identity_and_movement import at

    if paths is None or striker is None:
        return NO_POINT
    feet = at(paths, struck_s)[striker.other.place]
    return NO_POINT if feet is None else (feet.x_m, feet.y_m)
