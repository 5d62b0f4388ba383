"""Compiled loop that adds the contacts of a step to the summaries of the flights in the air together."""
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

import math

from goodlength.ball.flight import batched_flight_row_indices as at
from goodlength.ball.flight.batched_flight_kernel import three
from goodlength.ball.flight.batched_flight_row_indices import LANES
from goodlength.ball.flight.free_flight_kernel import F, V, compiled, compiled_apart
from goodlength.ball.model import flight_array_indices as col


@compiled
def put_if(s: F, column: int, k: int, condition: bool, value: float) -> None:
    row = at.SUMMARY + column * LANES + k
    s[row] = value if condition else s[row]


@compiled
def under_line(surface: float, r: V, length: float, outs: V) -> float:
    """Return how far below the out line a wall was touched; large for the floor. `outs`: front, back
    out line.
    """
    front, back, _ = outs
    line = front - (front - back) * r[1] / length
    line = back if surface == col.BACK else line
    line = front if (surface == col.FRONT) | (surface == col.TIN_PLATE) else line
    return 1e9 if surface == col.FLOOR else line - r[2]


@compiled_apart
def summarise(s: F, front_out: float, back_out: float) -> None:
    """Add the contact of this step to each summary."""
    for k in range(LANES):
        surface, t, r = s[at.SURFACE + k], s[at.HIT_TIME + k], three(s, at.HIT_X, k)
        hit = surface >= 0.0
        first = s[at.CONTACTS + k] == 1.0
        s[at.ORDER + k] += s[at.DIGIT + k] * (surface + 1.0) if hit else 0.0
        s[at.DIGIT + k] *= 8.0 if hit else 1.0
        s[at.CORNERED + k] = 1.0 if hit & (s[at.NEAR + k] >= 0.0) else s[at.CORNERED + k]
        under = under_line(surface, r, s[at.LENGTH + k], (front_out, back_out, 0.0))
        row = at.SUMMARY + k
        lowest = min(s[row + col.UNDER_LINE * LANES], under)
        put_if(s, col.UNDER_LINE, k, hit, lowest)
        safe = (1.0 - s[row + col.NICK_CHANCE * LANES]) * (1.0 - s[at.NICK + k])
        put_if(s, col.NICK_CHANCE, k, hit, 1.0 - safe)
        floor = surface == col.FLOOR
        first_bounce = floor & (s[at.BOUNCES + k] == 1.0)
        put_first(s, col.ONE_T, k, first_bounce, (t, r[0], r[1]))
        put_first(s, col.TWO_T, k, floor & (s[at.BOUNCES + k] >= 2.0), (t, r[0], r[1]))
        vx, vy, vz = three(s, at.HIT_VX, k)
        put_if(s, col.ONE_SPEED, k, first_bounce, math.sqrt(vx * vx + vy * vy + vz * vz))
        front = first & ((surface == col.FRONT) | (surface == col.TIN_PLATE))
        put_first(s, col.FRONT_T, k, front, (t, r[0], r[2]))
        side = ((surface == col.LEFT) | (surface == col.RIGHT)) & (s[at.BOUNCES + k] == 0.0)
        side &= math.isnan(s[row + col.SIDE_T * LANES])
        put_first(s, col.SIDE_T, k, side, (t, r[1], r[2]))
        back = (surface == col.BACK) & math.isnan(s[row + col.BACK_T * LANES])
        put_first(s, col.BACK_T, k, back, (t, r[0], r[2]))


@compiled
def put_first(s: F, column: int, k: int, condition: bool, values: V) -> None:
    put_if(s, column, k, condition, values[0])
    put_if(s, column + 1, k, condition, values[1])
    put_if(s, column + 2, k, condition, values[2])
