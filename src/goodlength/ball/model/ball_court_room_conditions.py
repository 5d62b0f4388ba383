"""Conditions of play as a coach states them (ball, court, room), and the coefficients they imply."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from goodlength.ball.model import constants_with_sources as c
from goodlength.ball.model.air_density_and_viscosity import Air
from goodlength.ball.model.ball_court_air_coefficients import Coefficients, PerSurface, e7_at
from goodlength.ball.model.input_validation import one_of, within
from goodlength.court import TIN_M

if TYPE_CHECKING:
    from goodlength.ball.model.ball_and_court_calibration_result import Calibration

UNSURE = "unsure"
WARMTH_C = {
    UNSURE: c.ASSUMED_UNSURE_C.value,
    "hot": c.HOT_C,
    "warm": c.GOOD_CLUB_C,
    "club": c.CLUB_C,
    "cold": c.COLD_C,
}
WARMTH_WORDS = {"hot": "hot", "warm": "warm", "club": "lukewarm", "cold": "cold", UNSURE: "not sure"}


@dataclass(frozen=True)
class Dot:
    """A kind of ball by its dot: factor on bounce and on size beside the match ball, and its words."""

    bounce: float
    size: float
    words: str
    assumed: bool


# Bounce factors are measured hang times, sizes the makers'. source: BALL-HANG, BALL-KINDS (both secondary)
DOTS = {
    "double-yellow": Dot(1.00, 1.00, "two yellow dots, the match ball", False),
    "single-yellow": Dot(1.01, 1.00, "one yellow dot", True),
    "red": Dot(1.07, 1.06, "red dot", True),
    "blue": Dot(1.14, 1.12, "blue dot", True),
}


@dataclass(frozen=True)
class Ball:
    """A ball by its dot and its warmth; `temperature_c`, measured, goes before the word.

    Examples
    --------
    >>> Ball(warmth="cold").celsius, Ball(temperature_c=31.0).celsius
    (25.0, 31.0)
    """

    dot: str = "double-yellow"
    warmth: str = "warm"
    temperature_c: float | None = None

    def __post_init__(self) -> None:
        one_of("ball's dot", self.dot, list(DOTS))
        one_of("ball's warmth", self.warmth, list(WARMTH_C))
        if self.temperature_c is not None:
            within("ball temperature", self.temperature_c, -10.0, 80.0, "°C")

    @property
    def celsius(self) -> float:
        """The ball's temperature, said or taken from its warmth."""
        return WARMTH_C[self.warmth] if self.temperature_c is None else self.temperature_c

    @property
    def unsure_c(self) -> float:
        """One standard deviation of the temperature: none where a warmth was said."""
        return c.ASSUMED_UNSURE_C.sd if self.warmth == UNSURE and self.temperature_c is None else 0.0


@dataclass(frozen=True)
class SurfaceBounce:
    """How a wall or floor bounces: factor, friction (both with their range), and words."""

    bounce: c.Quantity
    friction: c.Quantity
    words: str


WALLS = {
    "plaster": SurfaceBounce(c.ASSUMED_WALL_FACTOR, c.ASSUMED_FRICTION, "plaster"),
    "panel": SurfaceBounce(c.ASSUMED_WALL_FACTOR, c.ASSUMED_FRICTION, "panels"),
    "glass": SurfaceBounce(c.ASSUMED_GLASS_FACTOR, c.ASSUMED_FRICTION_GLASS, "glass"),
}
_HARD = c.Quantity(
    1.0, 0.935, 1.065, "1", "ASSUMED", "bounce off a hard floor beside a hard block", assumed=True
)
FLOORS = {
    "sprung": SurfaceBounce(c.ASSUMED_FLOOR_FACTOR, c.ASSUMED_FRICTION, "sprung boards"),
    "hard": SurfaceBounce(_HARD, c.ASSUMED_FRICTION, "a hard floor"),
}


@dataclass(frozen=True)
class Court:
    """What the court is built of; "front and side walls", the back wall, the floor and the tin."""

    walls: str = "plaster"
    back: str = "glass"
    floor: str = "sprung"
    tin: str = "standard"

    def __post_init__(self) -> None:
        one_of("walls", self.walls, list(WALLS))
        one_of("back wall", self.back, list(WALLS))
        one_of("floor", self.floor, list(FLOORS))
        one_of("tin", self.tin, list(TIN_M))

    @property
    def surfaces(self) -> dict[str, SurfaceBounce]:
        """Each of the five surfaces, by the names of `PerSurface`."""
        wall = WALLS[self.walls]
        return {
            "floor": FLOORS[self.floor],
            "front": wall,
            "left": wall,
            "right": wall,
            "back": WALLS[self.back],
        }


@dataclass(frozen=True)
class PlayConditions:
    """Ball, court and room together; with a calibration, what was learnt on this very court.

    `other_balls` names the balls the court was calibrated with where that is of no use for this one.

    Examples
    --------
    >>> round(PlayConditions(Ball(warmth="hot")).coefficients().e7, 3)
    0.555
    """

    ball: Ball = field(default_factory=Ball)
    court: Court = field(default_factory=Court)
    air: Air = field(default_factory=Air)
    calibration: Calibration | None = None
    other_balls: tuple[str, ...] = ()

    def coefficients(self) -> Coefficients:
        """Return the middle of what is known: the set that a single path is drawn with."""
        dot, built = DOTS[self.ball.dot], self.court.surfaces
        plain = Coefficients(
            e7=min(0.95, e7_at(self.ball.celsius) * dot.bounce),
            bounce=PerSurface(**{name: s.bounce.value for name, s in built.items()}),
            friction=PerSurface(**{name: s.friction.value for name, s in built.items()}),
            radius_m=c.BALL_RADIUS_M.value * dot.size,
            density_kg_m3=self.air.density_kg_m3,
            viscosity_pa_s=self.air.viscosity_pa_s,
            tin_m=TIN_M[self.court.tin],
        )
        return plain if self.calibration is None else self.calibration.applied(plain, self.ball.celsius)

    def assumed(self) -> tuple[str, ...]:
        """Return what an answer in this setting takes for granted, in sentences for the coach."""
        ball, built = self.ball, self.court
        spoken = f'assumed from the ball temperature "{WARMTH_WORDS[ball.warmth]}"'
        source = "measured" if ball.temperature_c is not None else spoken
        warm = f"Ball at {ball.celsius:.0f} °C ({source})"
        if ball.unsure_c:
            low, high = c.ASSUMED_UNSURE_C.low, c.ASSUMED_UNSURE_C.high
            warm = f"How warm the ball was is not known: somewhere from {low:.0f} to {high:.0f} °C"
        lines = [
            f"{warm}, {DOTS[ball.dot].words}.",
            f"Walls of {WALLS[built.walls].words}, back wall of {WALLS[built.back].words}, floor of "
            f"{FLOORS[built.floor].words}; how each bounces is assumed.",
            f"Court at {self.air.temperature_c:.0f} °C, air pressure {self.air.pressure_pa / 100:.0f} hPa.",
        ]
        if DOTS[ball.dot].assumed:
            lines.append(
                "This ball's bounce is taken from hang times beside the match ball; its weight is assumed."
            )
        if self.calibration is None:
            lines.append(
                "Bounce on a hard hit, grip on the wall and the bend from spin are guesses: until your court "
                "is calibrated a serve may land about half a metre from where this says."
            )
            if self.other_balls:
                lines.append(
                    f"The court was calibrated with another ball ({', '.join(self.other_balls)}): nothing of "
                    "that is used for this one."
                )
        else:
            lines.append(self.calibration.words())
        lines.append("What the ball does in a nick or a corner is given as a probability.")
        return tuple(lines)
