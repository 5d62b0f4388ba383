"""Layout of the flights that are in the air together: one row a quantity, one lane a flight.

A loop over the lanes of a row does the same to every flight, without branches, so that the compiler makes
each processor instruction work on four or eight flights at once. All rows stand one after the other in one
flat array: `lanes[X + k]` is the x of the flight in lane k. Whole numbers are kept as floats.
"""

from __future__ import annotations

from typing import Final

from goodlength.ball.flight.numba_or_plain_python import compiles
from goodlength.ball.model import flight_array_indices as col

# Four vectors of eight; more would not fit the nearest cache. Without a compiler a lane more is only work.
LANES: Final = 32 if compiles() else 1

# The flight now: place, velocity, spin, time, highest place so far; which launch it is (-1: an idle lane).
X, Y, Z, VX, VY, VZ, WX, WY, WZ, TIME, TOP, LAUNCH = range(0, 12 * LANES, LANES)
# Its contacts so far: how many, how many of them with the floor, surfaces in octal digits, the value of the
# next digit, whether two surfaces lay within 2 mm; how the flight ended (-1: it has not).
CONTACTS, BOUNCES, ORDER, DIGIT, CORNERED, ENDED, STEPS = range(12 * LANES, 19 * LANES, LANES)
# What was asked of it: the draw for the nick, and the contact at which two surfaces are swapped.
DRAW, SWAP = range(19 * LANES, 21 * LANES, LANES)
# The step: its length, the share of it until a contact (2: none), the surface (-1: none), whether the quick
# search for that contact may be wrong; and each coordinate as a polynomial in the share of the step.
STEP, SHARE, SURFACE, UNCLEAR = range(21 * LANES, 25 * LANES, LANES)
# (PX: six rows, one a power; PY, PZ likewise).
PX, PY, PZ = range(25 * LANES, 43 * LANES, 6 * LANES)
# The contact at the end of the step, if SURFACE says so: place (three rows from HIT_X), velocity in (three
# from HIT_VX), time, second surface, nick.
HIT_X, HIT_VX = range(43 * LANES, 49 * LANES, 3 * LANES)
HIT_TIME, NEAR, NICK = range(49 * LANES, 52 * LANES, LANES)
# Slopes of the step, three rows each.
K1, K2, K3, K4, K5, K6, K7 = range(52 * LANES, 73 * LANES, 3 * LANES)
# Summary so far, one row a column of a summary; then the coefficients, one row a column of a set.
SUMMARY: Final = 73 * LANES
COEFFICIENT: Final = SUMMARY + col.SUMMARY_COLUMNS * LANES
SIZE: Final = COEFFICIENT + col.COEFFICIENT_COLUMNS * LANES

# Coefficients by name, as `flight_array_indices` orders them.
GRAVITY = COEFFICIENT + col.GRAVITY * LANES
DRAG_BY_REYNOLDS = COEFFICIENT + col.DRAG_BY_REYNOLDS * LANES
DRAG_CONSTANT = COEFFICIENT + col.DRAG_CONSTANT * LANES
LIFT = COEFFICIENT + col.LIFT * LANES
RADIUS = COEFFICIENT + col.RADIUS * LANES
REYNOLDS_PER_SPEED = COEFFICIENT + col.REYNOLDS_PER_SPEED * LANES
ALPHA = COEFFICIENT + col.ALPHA * LANES
GRIP = COEFFICIENT + col.GRIP * LANES
E7 = COEFFICIENT + col.E7 * LANES
SPEED_POWER = COEFFICIENT + col.SPEED_POWER * LANES
DWELL = COEFFICIENT + col.DWELL * LANES
WIDTH = COEFFICIENT + col.WIDTH * LANES
LENGTH = COEFFICIENT + col.LENGTH * LANES
TIN = COEFFICIENT + col.TIN * LANES
K_FLOOR = COEFFICIENT + col.K_FLOOR * LANES
MU_FLOOR = COEFFICIENT + col.MU_FLOOR * LANES
WHOLE_SPIN = COEFFICIENT + col.WHOLE_SPIN * LANES

# A search for an aim has these in the place of a summary: where it starts (three rows), what it looks for,
# the slopes it tries, those it tried before, and what is left of the miss.
START_X: Final = SUMMARY
SPEED, SPOT_X, SPOT_Z = range(SUMMARY + 3 * LANES, SUMMARY + 6 * LANES, LANES)
ACROSS, UP, LEAN, LAST_UP, LAST_Z, TURN, HIGH, MISS = range(SUMMARY + 6 * LANES, SUMMARY + 14 * LANES, LANES)
