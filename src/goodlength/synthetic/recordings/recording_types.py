"""Types of a simulated recording of any family: its sound, and the truth of what is heard in it."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


class Surface(StrEnum):
    """What the ball (or a racket) struck, or what else made an impact."""

    RACKET = "racket"
    FRONT_WALL = "front wall"
    OTHER_WALL = "other wall"
    FLOOR = "floor"
    TIN = "tin"
    FOOT = "foot"
    DOOR = "door"
    OTHER = "other"


class Activity(StrEnum):
    """What goes on in a span of the recording."""

    RALLY = "rally"
    WARM_UP = "warm-up"
    BETWEEN_GAMES = "between games"
    KNOCKING = "knocking"  # a player keeps the ball warm between rallies


@dataclass(frozen=True)
class WorldContact:
    """One impact: its time at the microphone in seconds, what was struck, on which court, by whom.

    `striker` is 0 or 1 for a racket on the ball, else None. `own_court` is False for a neighbouring court.
    `place_m` is where above the floor, (x, y) in m in the court's frame; None where a family leaves it out.
    """

    time_s: float
    surface: Surface
    striker: int | None = None
    own_court: bool = True
    place_m: tuple[float, float] | None = None


@dataclass(frozen=True)
class WorldSpan:
    """A span of play on the own court.

    A rally begins at the serve's strike and ends at the last impact of the ball.
    `last_strike_s` is the time of the rally's last strike; `let` says that the rally was played again.
    """

    start_s: float
    end_s: float
    activity: Activity
    last_strike_s: float | None = None
    let: bool = False


@dataclass(frozen=True)
class WorldRecording:
    """The sound of one recording and its truth.

    `samples` has shape (channels, samples), float32, full scale 1; `rate` is in Hz. Times in the truth are
    seconds from the first sample at the microphone (the travel time of the direct sound is included), so
    that a detector's times compare directly. `condition` names how it was drawn, for tables.
    """

    family: str
    condition: str
    samples: NDArray[np.float32]
    rate: int
    contacts: tuple[WorldContact, ...]
    spans: tuple[WorldSpan, ...]
    details: dict[str, str | float] = field(default_factory=dict)

    @property
    def rallies(self) -> tuple[WorldSpan, ...]:
        """The rallies, in order of time."""
        return tuple(span for span in self.spans if span.activity is Activity.RALLY)
