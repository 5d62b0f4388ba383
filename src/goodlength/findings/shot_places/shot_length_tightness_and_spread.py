"""What the places of one player's shots are: length, tightness, positions and time, with counts."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from goodlength.court.dimensions import LENGTH_M as COURT_LENGTH_M
from goodlength.court.dimensions import WIDTH_M
from goodlength.findings.analyses.player_distance_from_t_quartiles import CourtPositions, court_positions
from goodlength.findings.result_types import Share
from goodlength.findings.shot_places.shot_place_questions import independent_of_clusters, straight_ended
from goodlength.findings.shot_places.shot_table import PlacedMatch, ShotTable
from goodlength.findings.statistics.median_intervals import MedianRange, median_range
from goodlength.findings.statistics.proportion_intervals import jeffreys_share
from goodlength.record.model import ShotType
from goodlength.record.tables.rally_table import STROKES

Marks = NDArray[np.bool_]
Floats = NDArray[np.float64]
Point = tuple[float, float]
_Column = Callable[[ShotTable], Floats]
FEWEST_SPREAD = 5  # fewer places give no spread worth saying
SHOT_NAMES = {
    ShotType.DRIVE: "Drives",
    ShotType.CROSS_COURT: "Cross-courts",
    ShotType.LOB: "Lobs",
    ShotType.BOAST: "Boasts",
    ShotType.DROP: "Drops",
    ShotType.KILL: "Kills",
}


@dataclass(frozen=True)
class PlaceSpread:
    """Spread of places, one standard deviation in metres: as measured, and less the error of measuring.

    `error_m` is the root mean square of the standard errors. `true_m` is 0 where the error is as large as
    what was measured.
    """

    n: int
    measured_m: float
    error_m: float
    true_m: float


@dataclass(frozen=True)
class StrokeRow:
    """One stroke of one player: how many, length, tightness, and time to the other player's strike.

    `length` counts shots whose bounce is known, past the line; `tight` those whose end is known, within 50 cm
    of a side wall. `bounces` and `ends` are places for a map.
    """

    stroke: ShotType
    words: str
    shots: int
    length: Share
    tight: Share
    given_s: MedianRange
    bounces: tuple[Point, ...]
    ends: tuple[Point, ...]


@dataclass(frozen=True)
class GameRow:
    """Length and tightness in one game, over all matches."""

    game: int
    length: Share
    tight: Share


@dataclass(frozen=True)
class PlaceCounts:
    """How many shots of a player there were, and why the others are not counted."""

    shots: int
    usable: int
    unsure: int
    unseen: int


@dataclass(frozen=True)
class PlaceFacts:
    """The places of one player's shots; nothing of it says why.

    `volleyed` are drives, cross-courts and lobs struck before they bounced: their length is not known.
    `from_wall_m` is the median distance of straight drives from the side wall, at the other player's strike
    or the second bounce; `second_bounce_m` that of second bounces from the back wall, of shots to length that
    nobody struck. `stood` is where the player stood at the other's strikes; serves are left out of
    it and of `given_s`. `sides` are length left and right.
    """

    counts: PlaceCounts
    length: Share
    sides: tuple[Share, Share]
    volleyed: int
    second_bounce_m: MedianRange
    tight: Share
    from_wall_m: MedianRange
    tight_spread: PlaceSpread | None
    stood: CourtPositions
    stood_places: tuple[Point, ...]
    given_s: MedianRange
    strokes: tuple[StrokeRow, ...]
    games: tuple[GameRow, ...]


def place_facts(matches: Sequence[PlacedMatch], side: int) -> PlaceFacts:
    """Return the places of the player the matches are about (0), or of the opponent (1)."""
    chosen = [_Chosen(match, match.side if side == 0 else 1 - match.side) for match in matches]
    to_length = [each.own(each.shots.to_length) for each in chosen]
    straight = [each.own(straight_ended(each.match)) for each in chosen]
    stood = np.vstack([np.zeros((0, 2)), *(each.stood() for each in chosen)])
    return PlaceFacts(
        counts=_counts(chosen),
        length=_length(chosen, to_length),
        sides=(
            _length(chosen, [rows & each.left(rows) for each, rows in zip(chosen, to_length, strict=True)]),
            _length(chosen, [rows & ~each.left(rows) for each, rows in zip(chosen, to_length, strict=True)]),
        ),
        volleyed=sum(
            int((rows & ~each.shots.bounced & each.shots.struck_back).sum())
            for each, rows in zip(chosen, to_length, strict=True)
        ),
        second_bounce_m=_median(
            np.concatenate(
                [
                    COURT_LENGTH_M - each.shots.end[rows & ~each.shots.struck_back, 1]
                    for each, rows in zip(chosen, to_length, strict=True)
                ]
            )
            if chosen
            else np.zeros(0)
        ),
        tight=_share(chosen, straight, [each.shots.tight for each in chosen]),
        from_wall_m=_median(_joined(chosen, straight, lambda shots: shots.from_wall)),
        tight_spread=_spread(
            _joined(chosen, straight, lambda shots: shots.from_wall),
            _joined(chosen, straight, lambda shots: shots.end_error[:, 0]),
        ),
        stood=court_positions(stood),
        stood_places=_points(stood),
        given_s=_median(
            _joined(
                chosen,
                [each.own(each.shots.usable & (each.shots.number > 1)) for each in chosen],
                lambda shots: shots.given_s,
            )
        ),
        strokes=tuple(row for row in (_stroke(chosen, stroke) for stroke in SHOT_NAMES) if row.shots),
        games=_games(chosen, to_length, straight),
    )


@dataclass(frozen=True)
class _Chosen:
    """One match and the player looked at there."""

    match: PlacedMatch
    side: int

    @property
    def shots(self) -> ShotTable:
        return self.match.shots

    def own(self, rows: Marks) -> Marks:
        return np.asarray(rows & (self.shots.striker == self.side))

    def left(self, rows: Marks) -> Marks:
        """Shots whose bounce is on the left half; `rows` only give the shape."""
        return np.asarray((self.shots.bounce[:, 0] < WIDTH_M / 2) & np.ones(rows.shape, dtype=np.bool_))

    def stood(self) -> Floats:
        """Where the player stood when the other struck, serves left out; moved onto the floor."""
        theirs = (self.shots.striker == 1 - self.side) & (self.shots.number > 1)
        places = self.shots.other[theirs]
        known: Floats = places[np.isfinite(places).all(axis=1)]
        return np.clip(known, 0.0, (WIDTH_M, COURT_LENGTH_M))


def _counts(chosen: Sequence[_Chosen]) -> PlaceCounts:
    own = [each.shots.striker == each.side for each in chosen]
    usable = sum(int((rows & each.shots.usable).sum()) for each, rows in zip(chosen, own, strict=True))
    seen = sum(int((rows & each.shots.seen).sum()) for each, rows in zip(chosen, own, strict=True))
    shots = sum(int(rows.sum()) for rows in own)
    return PlaceCounts(shots, usable, seen - usable, shots - seen)


def _length(chosen: Sequence[_Chosen], rows: Sequence[Marks]) -> Share:
    known = [each.shots.bounced & mine for each, mine in zip(chosen, rows, strict=True)]
    return _share(chosen, known, [each.shots.past_line for each in chosen])


def _share(chosen: Sequence[_Chosen], rows: Sequence[Marks], hits: Sequence[Marks]) -> Share:
    """Return a share of shots with its rallies; its range allows for shots of one rally being alike."""
    clusters: list[tuple[int, int]] = []
    keys: list[str] = []
    for each, among, hit in zip(chosen, rows, hits, strict=True):
        for rally in np.unique(each.shots.rally[among]):
            here = among & (each.shots.rally == rally)
            count = int((here & hit).sum())
            clusters.append((count, int(here.sum())))
            keys += [f"{each.match.table.match}/{each.match.table.key[rally]}"] if count else []
    count, of = sum(hits for hits, _ in clusters), sum(tries for _, tries in clusters)
    return jeffreys_share(count, of, tuple(keys), independent=independent_of_clusters(clusters))


def _joined(chosen: Sequence[_Chosen], rows: Sequence[Marks], column: _Column) -> Floats:
    parts = [column(each.shots)[mine] for each, mine in zip(chosen, rows, strict=True)]
    values: Floats = np.concatenate(parts) if parts else np.zeros(0)
    return values


def _median(values: Floats) -> MedianRange:
    return median_range(values[np.isfinite(values)].tolist())


def _spread(values: Floats, errors: Floats) -> PlaceSpread | None:
    """Return the spread less the error of measuring; None of fewer than `FEWEST_SPREAD` places."""
    known = np.isfinite(values) & np.isfinite(errors)
    if int(known.sum()) < FEWEST_SPREAD:
        return None
    variance = float(values[known].var(ddof=1))
    error = float((errors[known] ** 2).mean())
    return PlaceSpread(int(known.sum()), variance**0.5, error**0.5, max(0.0, variance - error) ** 0.5)


def _stroke(chosen: Sequence[_Chosen], stroke: ShotType) -> StrokeRow:
    code = STROKES.index(stroke)
    rows = [
        each.own(each.shots.usable & (each.shots.stroke == code) & (each.shots.number > 1)) for each in chosen
    ]
    ended = [mine & np.isfinite(each.shots.end[:, 0]) for each, mine in zip(chosen, rows, strict=True)]
    return StrokeRow(
        stroke,
        SHOT_NAMES[stroke],
        sum(int(mine.sum()) for mine in rows),
        _length(chosen, rows),
        _share(chosen, ended, [each.shots.tight for each in chosen]),
        _median(_joined(chosen, rows, lambda shots: shots.given_s)),
        _points(
            np.vstack([np.zeros((0, 2)), *(e.shots.bounce[r] for e, r in zip(chosen, rows, strict=True))])
        ),
        _points(np.vstack([np.zeros((0, 2)), *(e.shots.end[r] for e, r in zip(chosen, rows, strict=True))])),
    )


def _games(
    chosen: Sequence[_Chosen], to_length: Sequence[Marks], straight: Sequence[Marks]
) -> tuple[GameRow, ...]:
    numbers = sorted(
        {int(game) for each in chosen for game in np.unique(each.match.table.game[each.shots.rally])}
    )
    rows = []
    for number in numbers:
        here = [(each.match.table.game == number)[each.shots.rally] for each in chosen]
        rows.append(
            GameRow(
                number,
                _length(chosen, [mine & now for mine, now in zip(to_length, here, strict=True)]),
                _share(
                    chosen,
                    [mine & now for mine, now in zip(straight, here, strict=True)],
                    [each.shots.tight for each in chosen],
                ),
            )
        )
    return tuple(rows)


def _points(places: Floats) -> tuple[Point, ...]:
    known = places[np.isfinite(places).all(axis=1)]
    return tuple((round(float(x), 3), round(float(y), 3)) for x, y in known)
