"""Constants of the flight model, each with value, unit, range, source, and whether it is a guess.

A range (`low`, `high`) holds about nine in ten; one standard deviation is a 3.29th part of it.
What starts with ASSUMED has no published value for squash: it is shown to the coach as assumed and
is drawn anew in every "of 100", so that an answer is never surer than the number behind it.
"""

from __future__ import annotations

from dataclasses import dataclass

NINE_IN_TEN_SDS = 3.2897072539  # width of the middle 90 % of a normal curve in standard deviations; computed


@dataclass(frozen=True)
class Quantity:
    """A number with its unit, the range that holds about nine in ten, its source and plain words."""

    value: float
    low: float
    high: float
    unit: str
    source: str
    words: str
    assumed: bool = False

    @property
    def sd(self) -> float:
        """One standard deviation, taking the range as the middle nine in ten."""
        return (self.high - self.low) / NINE_IN_TEN_SDS


# Exact by convention. source: CODATA-2018
STANDARD_GRAVITY_M_S2 = 9.80665

# The ball. source: WSF-BALL (as quoted by secondary sources; the document itself was not read)
BALL_RADIUS_M = Quantity(0.0200, 0.01975, 0.02025, "m", "WSF-BALL", "half the ball's width")
BALL_MASS_KG = Quantity(0.0240, 0.0230, 0.0250, "kg", "WSF-BALL", "the ball's weight")
INERTIA_FACTOR = Quantity(
    0.52, 0.50, 0.54, "1", "BALL-NOTE", "how hard the ball is to spin, from its wall's thickness"
)

# Bounce. e7 is the share of speed kept at 7 m/s straight on: e7^2 = level + slope (T - 45 C).
BOUNCE_LEVEL = Quantity(0.308, 0.255, 0.361, "1", "BALL-NOTE", "bounce of a ball at 45 °C, squared")
BOUNCE_SLOPE_PER_C = Quantity(0.0060, 0.0054, 0.0066, "1/°C", "EDGAR-2000", "bounce gained per degree")
BOUNCE_E7_SPREAD = Quantity(
    0.0, -0.05, 0.05, "1", "ASSUMED", "how much two balls of one kind differ in bounce", assumed=True
)
ASSUMED_SPEED_POWER = Quantity(
    0.12, 0.0, 0.20, "1", "ASSUMED", "how much bounce is lost on a hard hit", assumed=True
)
ASSUMED_GRIP = Quantity(
    0.15, -0.05, 0.30, "1", "ASSUMED", "how the ball springs back sideways on a wall", assumed=True
)
ASSUMED_FRICTION = Quantity(
    0.6, 0.35, 1.0, "1", "ASSUMED", "friction of ball on wall and floor", assumed=True
)
ASSUMED_FRICTION_GLASS = Quantity(0.5, 0.30, 0.9, "1", "ASSUMED", "friction of ball on glass", assumed=True)
ASSUMED_WALL_FACTOR = Quantity(
    1.0, 0.95, 1.05, "1", "ASSUMED", "bounce off plaster beside a hard block", assumed=True
)
ASSUMED_GLASS_FACTOR = Quantity(
    1.0, 0.92, 1.08, "1", "ASSUMED", "bounce off a glass wall beside a hard block", assumed=True
)
ASSUMED_FLOOR_FACTOR = Quantity(
    0.95, 0.885, 1.015, "1", "ASSUMED", "bounce off a sprung floor beside a hard block", assumed=True
)

# Air. source: CLIFT-GAUVIN (drag of a smooth ball), SUTHERLAND (viscosity)
DRAG_FACTOR = Quantity(1.0, 0.88, 1.12, "1", "CLIFT-GAUVIN", "drag beside that of a smooth ball")
ASSUMED_LIFT = Quantity(0.7, 0.0, 1.2, "1", "ASSUMED", "how far spin bends the flight", assumed=True)
ASSUMED_SPIN_SD_RAD_S = Quantity(
    0.0, -99.0, 99.0, "rad/s", "ASSUMED", "spin the racket puts on a serve meant to be flat", assumed=True
)

# A ball in play. source: EDGAR-2000 for 45 C and for who reaches it; the names are ours.
HOT_C, GOOD_CLUB_C, CLUB_C, COLD_C = 45.0, 38.0, 33.0, 25.0
ASSUMED_UNSURE_C = Quantity(
    35.0, 22.0, 48.0, "°C", "ASSUMED", "temperature of a ball that nobody is sure of", assumed=True
)

FASTEST_M_S = 80.0  # nothing faster was ever published (78.7 m/s); source: SPEED-RECORD
FASTEST_SPIN_RAD_S = 2000.0  # twice what a bounce gives at 50 m/s; source: BALL-NOTE 1.4
CLEAR_HEIGHT_M = 5.64  # lowest lamp or beam over a court; source: COURT-2014
