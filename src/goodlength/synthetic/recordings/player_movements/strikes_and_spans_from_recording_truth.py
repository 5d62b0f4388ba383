"""What a recording's truth says to whoever draws its players: spans in order, and who strikes when."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.synthetic.recordings.recording_types import Activity, Surface, WorldRecording

Numbers = NDArray[np.float64]
STEP_S = 0.05  # of all paths
T_M = (WIDTH_M / 2, 5.44)  # where the short line meets the half-court line (rules of the game)
BOX_M = (0.8, 6.24)  # the middle of the left service box, 1.6 m wide behind the short line
OFF_COURT_M = (WIDTH_M / 2, 11.5)
AROUND_S = 0.05


@dataclass(frozen=True)
class Strike:
    """A strike of the own court: when, and which player."""

    time_s: float
    who: int


@dataclass(frozen=True)
class SpanCue:
    """A span of play with its strikes; `last_s` is the last of them, or its end."""

    start_s: float
    end_s: float
    activity: Activity
    strikes: tuple[Strike, ...]

    @property
    def last_s(self) -> float:
        """The last strike, or the span's end where nobody strikes."""
        return self.strikes[-1].time_s if self.strikes else self.end_s


def span_cues(world: WorldRecording) -> list[SpanCue]:
    """Return a recording's spans in order of time; where no striker is named, both strike in turns."""
    rackets = [c for c in world.contacts if c.surface is Surface.RACKET and c.own_court]
    out: list[SpanCue] = []
    for span in sorted(world.spans, key=lambda item: item.start_s):
        own = [c for c in rackets if span.start_s - AROUND_S <= c.time_s <= span.end_s + AROUND_S]
        strikes = [Strike(c.time_s, k % 2 if c.striker is None else c.striker % 2) for k, c in enumerate(own)]
        if out and span.start_s < out[-1].end_s:
            continue
        out.append(SpanCue(span.start_s, span.end_s, span.activity, tuple(strikes)))
    return out


def path_times(seconds: float) -> Numbers:
    """Return the moments of a path, each `STEP_S`."""
    return np.asarray(np.arange(round(seconds / STEP_S) + 1) * STEP_S, np.float64)


def on_court(x: float, y: float, margin: float = 0.35) -> tuple[float, float]:
    """Return a place brought inside the walls.

    Examples
    --------
    >>> on_court(-1.0, 5.0)
    (0.35, 5.0)
    """
    inside_x = min(max(x, margin), WIDTH_M - margin)
    return inside_x, min(max(y, 2 * margin), LENGTH_M - margin)


def mirrored(x: float, left: bool) -> float:
    """Return a distance from the left wall as one from the right wall, where the side is not the left."""
    return x if left else WIDTH_M - x
