"""Layout of the arrays that the compiled flight reads and writes, and its fixed numbers."""

from __future__ import annotations

# Columns of a set of coefficients, in the order `coefficients.Coefficients.row` writes them.
(
    GRAVITY,
    DRAG_BY_REYNOLDS,
    DRAG_CONSTANT,
    LIFT,
    RADIUS,
    REYNOLDS_PER_SPEED,
    ALPHA,
    GRIP,
    E7,
    SPEED_POWER,
    DWELL,
    WIDTH,
    LENGTH,
    TIN,
    K_FLOOR,
    K_FRONT,
    K_LEFT,
    K_RIGHT,
    K_BACK,
    MU_FLOOR,
    MU_FRONT,
    MU_LEFT,
    MU_RIGHT,
    MU_BACK,
    WHOLE_SPIN,
    COEFFICIENT_COLUMNS,
) = range(26)

# Surfaces, as they stand in the surface column of a contact.
FLOOR, FRONT, LEFT, RIGHT, BACK, TIN_PLATE = range(6)

# Columns of a contact: time, place, velocity in, velocity out, spin out, surface, the surface that lies
# within two millimetres (or -1), chance that it rolls out of the nick.
(
    TIME,
    X,
    Y,
    Z,
    VX_IN,
    VY_IN,
    VZ_IN,
    VX,
    VY,
    VZ,
    WX,
    WY,
    WZ,
    SURFACE,
    CORNER,
    NICK,
    CONTACT_COLUMNS,
) = range(17)

# How a flight ended.
ENDED_WANTED, ENDED_FULL, ENDED_LATE, ENDED_ROLLING, ENDED_NICK = range(5)

CORNER_GAP_M = 2e-3
CORNER_GAP_S = 2e-4
MOST_CONTACTS = 12
LONGEST_FLIGHT_S = 8.0
ROLLING_SPEED_M_S = 0.3
MOST_RESTITUTION = 0.95  # a guard: nothing bounces better
GUESSED_HOLD_S = 4.5e-3  # how long a wall holds the ball, for the nick alone

# Columns of a summary. NaN where it did not happen: no side wall, no back wall, no second bounce.
(
    FRONT_T,
    FRONT_X,
    FRONT_Z,
    SIDE_T,
    SIDE_Y,
    SIDE_Z,
    BACK_T,
    BACK_X,
    BACK_Z,
    ONE_T,
    ONE_X,
    ONE_Y,
    ONE_SPEED,
    TWO_T,
    TWO_X,
    TWO_Y,
    UNDER_LINE,
    TOP,
    NICK_CHANCE,
    SUMMARY_COLUMNS,
) = range(20)
