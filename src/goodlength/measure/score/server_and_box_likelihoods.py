"""Likelihoods of server and service box at each serve, from the observed positions.

A sighting is kept as four likelihoods, one for each truth (A right, A left, B right, B left): how
probable what was seen is if that were so. Nothing seen is all ones. So a clear look, a glance at the box
alone, and a doubtful pair of feet are all the same kind of thing to the draft.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from goodlength.court import SINGLES
from goodlength.errors import OutOfRange
from goodlength.scoring import Box, Side

Four = tuple[float, float, float, float]
Three = tuple[float, float, float]

TRUTHS = ((Side.A, Box.RIGHT), (Side.A, Box.LEFT), (Side.B, Box.RIGHT), (Side.B, Box.LEFT))
LEAST_ERROR_RATE = 0.001  # nobody is never wrong: a doubt of zero would let one slip forbid the whole match

# Where players stand when the ball is struck. ASSUMED: no measurement of standing places was found.
ASSUMED_REACH_M = 0.30  # the middle of the feet may be this far outside the box with one foot inside it
ASSUMED_RECEIVER_M = (1.30, 7.60)  # from the receiver's side wall, and from the front wall
ASSUMED_RECEIVER_SD_M = 0.90
# Share of sounds that were no rally at which both stand as at a serve: of 96 hits in play of one made-up game
# (random state 1) none, so at most 0.03; more, as players also stand so while a ball is bounced.
ASSUMED_STANDING_SO = 0.05
ASSUMED_ELSEWHERE = 0.03  # share of serves at which a player stands somewhere else, or was placed wrongly


@dataclass(frozen=True)
class Observation:
    """One rally heard, and what was seen at its first strike.

    `likely` follows `TRUTHS`; only the ratios count. `missed_before` is how many decided rallies are
    expected to be lost between the rally before and this one: a little for any pause, more where the
    recording has a gap. `no_rally` is the chance that the sound was no rally, where hearing says so.
    `ending` is how well what was seen of the rally's end fits A won, B won and no point: if A served, if B
    did.
    """

    key: str
    likely: Four = (1.0, 1.0, 1.0, 1.0)
    missed_before: float = 0.01
    no_rally: float | None = None
    ending: tuple[Three, Three] | None = None

    @property
    def blank(self) -> bool:
        """Whether nothing was seen."""
        return min(self.likely) == max(self.likely)


@dataclass(frozen=True)
class FeetObservation:
    """The middle of a player's feet on the floor, metres in the court frame, and its standard error."""

    x_m: float
    y_m: float
    error_m: float = 0.15


def observe(
    key: str,
    server: Side | None = None,
    box: Box | None = None,
    *,
    server_error_rate: float = 0.05,
    box_error_rate: float = 0.05,
    missed_before: float = 0.01,
    no_rally: float | None = None,
) -> Observation:
    """Return a sighting from names: who was seen serving and from which box, each with its chance to be
    wrong.

    Parameters
    ----------
    key : str
        The rally.
    server, box : Side, Box or None
        What was seen; None where it was not.
    server_error_rate, box_error_rate : float
        Chance that what was seen is wrong, 0 to 0.5. Below one in a thousand counts as one in a thousand.
    missed_before : float
        Decided rallies expected to be lost before this one, 0 or more.
    no_rally : float, optional
        Chance that the sound was no rally, 0 to 1; a usual value is assumed when not given.

    Raises
    ------
    OutOfRange
        For a doubt outside 0 to 0.5, or a negative number of lost rallies.

    Examples
    --------
    >>> [round(x, 4) for x in observe("r1", Side.A, Box.LEFT, server_error_rate=0.1).likely]
    [0.045, 0.855, 0.005, 0.095]
    """
    for name, rate in (("server_error_rate", server_error_rate), ("box_error_rate", box_error_rate)):
        if not 0.0 <= rate <= 0.5:
            raise OutOfRange(
                f"{name} is the chance that what was seen is wrong, from 0 to 0.5; got {rate:g}. "
                "Above 0.5 the other answer is the one that was seen."
            )
    if not (math.isfinite(missed_before) and missed_before >= 0.0):
        raise OutOfRange(
            f"The value missed_before is a number of rallies, 0 or more; got {missed_before:g}. "
            "Use 0.01 for an ordinary pause and about the rallies that fit for a gap in the recording."
        )
    if no_rally is not None and not 0.0 <= no_rally <= 1.0:
        raise OutOfRange(f"The value no_rally is a chance from 0 to 1; got {no_rally:g}.")
    of_server, of_box = max(server_error_rate, LEAST_ERROR_RATE), max(box_error_rate, LEAST_ERROR_RATE)

    def fits(truth: tuple[Side, Box]) -> float:
        who = 1.0 if server is None else (1.0 - of_server if truth[0] is server else of_server)
        where = 1.0 if box is None else (1.0 - of_box if truth[1] is box else of_box)
        return who * where

    a_right, a_left, b_right, b_left = (fits(truth) for truth in TRUTHS)
    return Observation(key, (a_right, a_left, b_right, b_left), missed_before, no_rally)


def observe_from_feet(
    key: str,
    a: FeetObservation | None,
    b: FeetObservation | None,
    *,
    swap_rate: float = 0.02,
    missed_before: float = 0.01,
) -> Observation:
    """Return a sighting from where the two players stand at the strike.

    The server stands with at least a part of one foot in a box; the receiver somewhere in the other
    quarter. Both places carry their error, so a player near the line, or far from both boxes, gives a
    weak sighting rather than a wrong one.

    Parameters
    ----------
    key : str
        The rally.
    a, b : Feet or None
        Middle of the feet of A and of B; None where the player was not found.
    swap_rate : float
        Chance that the two players were taken for each other, 0 to 0.5.
    missed_before : float
        As for `observe`.

    Raises
    ------
    OutOfRange
        If a place is not a number, or its error is not above zero.

    Limits
    ------
    Where receivers stand is assumed (see `ASSUMED_RECEIVER_M`); not checked against real matches.

    Examples
    --------
    >>> s = observe_from_feet("r1", FeetObservation(5.6, 6.2), FeetObservation(1.2, 7.9))
    >>> TRUTHS[max(range(4), key=s.likely.__getitem__)][0].value
    'a'
    """
    for feet in (a, b):
        if feet is not None and not (
            math.isfinite(feet.x_m) and math.isfinite(feet.y_m) and 0.0 < feet.error_m < math.inf
        ):
            raise OutOfRange(
                f"A place on the floor is two numbers in metres with an error above zero; got "
                f"({feet.x_m:g}, {feet.y_m:g}) with {feet.error_m:g}. Leave the player out if it is unknown."
            )
    if not 0.0 <= swap_rate <= 0.5:
        raise OutOfRange(f"The value swap_rate is a chance from 0 to 0.5; got {swap_rate:g}.")
    straight, crossed = _four(a, b), _four(b, a)
    both = [(1.0 - swap_rate) * value + swap_rate * two for value, two in zip(straight, crossed, strict=True)]
    top = max(both)
    a_right, a_left, b_right, b_left = (x / top for x in both)
    return Observation(key, (a_right, a_left, b_right, b_left), missed_before)


def no_rally_given_feet(
    no_rally: float, a: FeetObservation | None, b: FeetObservation | None, *, path_ratio: float = 1.0
) -> float:
    """Return the chance that a sound was no rally, once it is known where the two players stood.

    One in a service box and the other in the opposite quarter speak for a serve: where no rally was played,
    players stand so in `ASSUMED_STANDING_SO` of cases, and else anywhere. Other places change nothing: they
    may be wrong, or a player may have moved early.

    Parameters
    ----------
    no_rally : float
        The chance before that, 0 to 1.
    a, b : Feet or None
        As for `observe_from_feet`.
    path_ratio : float
        How much oftener the ball's first path is as it was found in a rally than elsewhere; 1 where unknown.

    Source
    ------
    Bayes' rule with two assumed ways of standing; not checked against real matches.

    Examples
    --------
    >>> feet = FeetObservation(5.6, 6.2), FeetObservation(1.2, 7.9)
    >>> round(no_rally_given_feet(0.02, *feet), 4), round(no_rally_given_feet(0.02, None, None), 4)
    (0.0011, 0.02)
    """
    if a is None or b is None:
        return no_rally / (no_rally + (1.0 - no_rally) * path_ratio)
    serving, anywhere = max(*_four(a, b), *_four(b, a)), _anywhere() ** 2
    without = ASSUMED_STANDING_SO * serving + (1.0 - ASSUMED_STANDING_SO) * anywhere
    ratio = path_ratio * max(1.0, serving / without)
    return no_rally / (no_rally + (1.0 - no_rally) * ratio)


def _four(a: FeetObservation | None, b: FeetObservation | None) -> Four:
    """Densities of the two places under each truth."""

    def fits(truth: tuple[Side, Box]) -> float:
        server, receiver = (a, b) if truth[0] is Side.A else (b, a)
        return _in_box(server, truth[1]) * _receiving(receiver, truth[1].other)

    a_right, a_left, b_right, b_left = (fits(truth) for truth in TRUTHS)
    return a_right, a_left, b_right, b_left


def _in_box(feet: FeetObservation | None, box: Box) -> float:
    """Return density of a measured place of someone serving from a box, per square metre."""
    if feet is None:
        return 1.0
    size, rear = SINGLES.service_box.value_m, SINGLES.length.value_m - SINGLES.short_line.value_m
    width = SINGLES.width.value_m
    low_x = 0.0 if box is Box.LEFT else width - size - ASSUMED_REACH_M
    high_x = size + ASSUMED_REACH_M if box is Box.LEFT else width
    low_y, high_y = rear - ASSUMED_REACH_M, rear + size + ASSUMED_REACH_M
    across = _spread(feet.x_m, low_x, high_x, feet.error_m)
    along = _spread(feet.y_m, low_y, high_y, feet.error_m)
    return (1.0 - ASSUMED_ELSEWHERE) * across * along + ASSUMED_ELSEWHERE * _anywhere()


def _receiving(feet: FeetObservation | None, side: Box) -> float:
    """Return density of a measured place of someone receiving in the quarter of that side."""
    if feet is None:
        return 1.0
    from_wall, y = ASSUMED_RECEIVER_M
    x = from_wall if side is Box.LEFT else SINGLES.width.value_m - from_wall
    variance = ASSUMED_RECEIVER_SD_M**2 + feet.error_m**2
    away = (feet.x_m - x) ** 2 + (feet.y_m - y) ** 2
    usual = math.exp(-away / (2.0 * variance)) / (2.0 * math.pi * variance)
    return (1.0 - ASSUMED_ELSEWHERE) * usual + ASSUMED_ELSEWHERE * _anywhere()


def _spread(at: float, low: float, high: float, error: float) -> float:
    """Return density at a place of a uniform stretch blurred by a normal error."""

    def below(edge: float) -> float:
        return 0.5 * (1.0 + math.erf((edge - at) / (error * math.sqrt(2.0))))

    return (below(high) - below(low)) / (high - low)


def _anywhere() -> float:
    """Return density of a place anywhere on the floor."""
    return 1.0 / (SINGLES.length.value_m * SINGLES.width.value_m)
