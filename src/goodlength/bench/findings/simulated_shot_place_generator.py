"""Simulated shots of a match with their places: known truth, measuring errors, and habits planted or none."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.findings.shot_places.shot_table import STRAIGHT, ShotRow, ShotTable, shot_table_of
from goodlength.record.model import ShotType
from goodlength.record.tables.rally_table import STROKES, RallyTable

Floats = NDArray[np.float64]
_STROKES = (ShotType.DRIVE, ShotType.CROSS_COURT, ShotType.LOB, ShotType.BOAST, ShotType.DROP)
_MIX = (0.5, 0.2, 0.08, 0.1, 0.12)
_NOWHERE = (np.nan, np.nan)
_MOST_SHOTS = 40
# How far a ball goes on towards the side wall from where it is struck to its second bounce: true places of 42
# simulated rallies (162 shots), and how often a rally ends with a winning shot. The second is ASSUMED.
_GOES_ON_M = {ShotType.DRIVE: 0.02, ShotType.CROSS_COURT: 0.4, ShotType.LOB: 0.4}
_WON_BY_LAST = 0.5


@dataclass(frozen=True)
class PlaceWorld:
    """How places are drawn. With the defaults no habit is planted.

    Attributes
    ----------
    shots : float
        Mean shots of a rally.
    depth_m, depth_sd_m, rally_sd_m, player_sd_m : float
        First bounce of a shot to length from the front wall; its spread from shot to shot, and what all shots
        of a player in a rally, and in the match, have in common.
    wall_m : float
        Mean distance of a straight shot from the side wall.
    error_m, bias_m : float
        Measuring error of each coordinate: its standard deviation, and what every place is off by.
    stated_error : float
        The error that is stated, as a factor of the true one.
    usable, hidden_deep : float
        Share of shots that are sure, and by how much it is lower for shots past the service box.
    volleyed : float
        Share of shots to length that are struck before they bounce.
    short_off_kind_m : float
        Planted: returns of the first kind of serve bounce that much shorter.
    tired_m : float
        Planted: in the last game all shots of A bounce that much shorter.
    loose_cost_m : float
        Planted: the last straight drive of A in a rally lost is that much farther from the wall.
    goes_on : bool
        Whether a ball goes on towards the wall after the moment at which it would be struck, and the winner
        of a rally decides who strikes last: a winning shot, seen until its second bounce, or an error.
    """

    shots: float = 9.0
    depth_m: float = 7.4
    depth_sd_m: float = 0.8
    rally_sd_m: float = 0.35
    player_sd_m: float = 0.3
    wall_m: float = 0.5
    error_m: float = 0.1
    bias_m: float = 0.0
    stated_error: float = 1.0
    usable: float = 0.8
    hidden_deep: float = 0.0
    volleyed: float = 0.25
    short_off_kind_m: float = 0.0
    tired_m: float = 0.0
    loose_cost_m: float = 0.0
    goes_on: bool = False


@dataclass(frozen=True, eq=False)
class PlacesWithTruth:
    """Shots as measured, and the same shots with their true places."""

    shots: ShotTable
    true: ShotTable


def simulate_places(rng: np.random.Generator, table: RallyTable, world: PlaceWorld) -> PlacesWithTruth:
    """Return the shots of a match that was played as `table` says.

    Examples
    --------
    >>> from goodlength.synthetic.simulated_matches import null_match
    >>> rng = np.random.default_rng(1)
    >>> simulate_places(rng, null_match(rng), PlaceWorld()).shots.n > 300
    True
    """
    base = rng.normal(0.0, world.player_sd_m, 2)
    rows: list[ShotRow] = []
    true: list[ShotRow] = []
    for rally in range(len(table.key)):
        played = _rally(rng, table, world, rally, base)
        true += played
        rows += [_measured(rng, world, row) for row in played]
    logged = len(table.key)
    return PlacesWithTruth(shot_table_of(rows, logged, logged), shot_table_of(true, logged, logged))


def _rally(
    rng: np.random.Generator, table: RallyTable, world: PlaceWorld, rally: int, base: Floats
) -> list[ShotRow]:
    count = min(int(rng.geometric(1.0 / world.shots)), _MOST_SHOTS)
    alike = rng.normal(0.0, world.rally_sd_m, 2)
    server = int(table.server[rally])
    failed = False
    if world.goes_on:
        failed = bool(rng.random() >= _WON_BY_LAST)
        struck_by = int(table.winner[rally]) if not failed else 1 - int(table.winner[rally])
        count += (server if count % 2 else 1 - server) != struck_by
    rows = []
    for number in range(1, count + 1):
        striker = server if number % 2 else 1 - server
        stroke = _STROKES[int(rng.choice(len(_STROKES), p=_MIX))]
        depth = world.depth_m + base[striker] + alike[striker] + rng.normal(0.0, world.depth_sd_m)
        if stroke not in _STROKES[:3]:
            depth = 2.0 + abs(rng.normal(0.0, 0.6))
        if number == 2 and table.kind[rally] == 0:
            depth -= world.short_off_kind_m
        if striker == 0 and table.game[rally] == table.game.max():
            depth -= world.tired_m
        wall = float(rng.gamma(2.0, world.wall_m / 2.0))
        rows.append(_shot(rng, world, (rally, number, striker), stroke, (depth, wall), number == count))
    if failed:
        rows[-1] = replace(rows[-1], stroke=-1, bounce=_NOWHERE, bounce_error=_NOWHERE, end=_NOWHERE)
    if world.loose_cost_m and table.winner[rally] == 1:
        _loosen(rows, world.loose_cost_m)
    return rows


def _loosen(rows: list[ShotRow], by_m: float) -> None:
    """Move the last straight drive of A away from its wall."""
    drives = [
        n for n, row in enumerate(rows) if (row.striker, row.stroke) == (0, STRAIGHT) and row.number > 1
    ]
    if drives:
        row = rows[drives[-1]]
        left = row.end[0] < WIDTH_M / 2
        end = min(row.end[0] + by_m, WIDTH_M / 2) if left else max(row.end[0] - by_m, WIDTH_M / 2)
        bounce = row.bounce[0] + end - row.end[0]
        rows[drives[-1]] = replace(row, bounce=(bounce, row.bounce[1]), end=(end, row.end[1]))


def _shot(
    rng: np.random.Generator,
    world: PlaceWorld,
    who: tuple[int, int, int],
    stroke: ShotType,
    place: tuple[float, float],
    ends: bool,
) -> ShotRow:
    """Return one shot as it was."""
    rally, number, striker = who
    depth, wall = min(max(place[0], 0.5), LENGTH_M - 0.05), min(max(place[1], 0.02), WIDTH_M / 2)
    left = bool(rng.random() < 0.5)
    x = wall if left else WIDTH_M - wall
    volleyed = not ends and rng.random() < world.volleyed
    y_end = min(depth + 1.2, LENGTH_M - 0.05)
    goes_on = _GOES_ON_M.get(stroke, 0.0) if world.goes_on and ends else 0.0
    x_end = max(x - goes_on, min(x, 0.02)) if left else min(x + goes_on, max(x, WIDTH_M - 0.02))
    return ShotRow(
        rally,
        number,
        striker,
        STROKES.index(stroke),
        usable=True,
        seen=True,
        struck_s=float(rally * 30 + number * 1.4),
        given_s=np.nan if ends else float(rng.normal(1.4, 0.2)),
        start=(float(rng.uniform(0.5, WIDTH_M - 0.5)), 6.5),
        bounce=(np.nan, np.nan) if volleyed else (x, depth),
        bounce_error=(np.nan, np.nan) if volleyed else (0.0, 0.0),
        end=(x_end, y_end),
        end_error=(0.0, 0.0),
        struck_back=not ends,
        other=(
            float(np.clip(rng.normal(3.2, 0.6), 0.1, WIDTH_M - 0.1)),
            float(np.clip(rng.normal(6.0, 0.7), 0.5, LENGTH_M - 0.1)),
        ),
    )


def _measured(rng: np.random.Generator, world: PlaceWorld, row: ShotRow) -> ShotRow:
    """Return a shot as it is measured: with errors, or not sure."""
    deep = np.nan_to_num(row.bounce[1]) > 7.09
    if rng.random() > world.usable - (world.hidden_deep if deep else 0.0):
        return ShotRow(
            row.rally, row.number, row.striker, seen=bool(rng.random() < 0.7), struck_s=row.struck_s
        )
    off = rng.normal(world.bias_m, world.error_m, 4)
    stated = world.error_m * world.stated_error
    bounced = bool(np.isfinite(row.bounce[0]))
    return replace(
        row,
        bounce=(row.bounce[0] + off[0], row.bounce[1] + off[1]),
        bounce_error=(stated, stated) if bounced else (np.nan, np.nan),
        end=(row.end[0] + off[2], row.end[1] + off[3]),
        end_error=(stated, stated),
    )
