"""What stands around a span says whether it is a rally: its neighbours, the hitting and the pauses about it.

A serve follows a pause and often bounces of the ball; a rally is followed by a ball that runs dead; warm-ups
stand together, and so do rallies. These features of each span within its recording move the chance that
`rally_span_probability` gives it by itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from goodlength.footage.audio.impact_classifier_network import STATES, SURFACES, Impacts

Numbers = NDArray[np.float64]

NEAR_S, FADING_S = 90.0, 45.0  # other spans that count, and how fast they count less
AROUND_S, CLOSE_S, AFTER_S = 30.0, 4.0, 1.5
MOST_ODDS, FAR_S, MOST_S = 4.0, 30.0, 300.0
RACKET, FLOOR, OTHER_WALL = (SURFACES.index(name) for name in ("racket", "floor", "other wall"))
HITTING = STATES.index("hitting")
USUAL_GAP_S = 1.3
FEATURES = (
    "neighbours", "other spans", "hitting before", "hitting after", "strikes outside before",
    "strikes outside after", "levels alternate", "first gap", "bounces before", "quiet before",
    "running dead after", "strikes beside usual", "gap beside usual", "other spans unclear", "time",
    "hitting in spans",
)  # fmt: skip
OWN = 1.084
WEIGHTS: tuple[float, ...] = (
    -0.176, 0.007, -0.332, -0.662, 0.136, 0.291, -0.052, 1.084, 0.261, -0.027, 0.551, -0.122,
    -0.348, -2.612, -0.006, -3.246,
)  # fmt: skip
OFFSET = -0.161


@dataclass(frozen=True)
class SpanInRecording:
    """A span by itself: its strikes in seconds and the log-odds that it is a rally."""

    strikes_s: Numbers
    odds: float


def context_odds(impacts: Impacts, spans: Sequence[SpanInRecording]) -> Numbers:
    """Return the log-odds of each span within its recording."""
    if not spans:
        return np.zeros(0)
    own = np.array([span.odds for span in spans])
    return np.asarray(OWN * own + context_features(impacts, spans) @ np.array(WEIGHTS) + OFFSET)


def context_features(impacts: Impacts, spans: Sequence[SpanInRecording]) -> Numbers:
    """Return a row of `FEATURES` for each span.

    Parameters
    ----------
    impacts : Impacts
        All of the recording.
    spans : sequence of SpanInRecording
        All of the recording, in order of time.
    """
    if not spans:
        return np.zeros((0, len(FEATURES)))
    whole = _Around(impacts, spans)
    return np.array([whole.row(k) for k in range(len(spans))])


class _Around:
    """A recording's impacts and spans, for one row of features after the other."""

    def __init__(self, impacts: Impacts, spans: Sequence[SpanInRecording]) -> None:
        self.spans = spans
        self.at = impacts.time_s.astype(np.float64)
        self.racket = impacts.surface[:, RACKET].astype(np.float64)
        self.floor = impacts.surface[:, FLOOR].astype(np.float64)
        self.dead = self.floor + impacts.surface[:, OTHER_WALL]
        self.hitting = impacts.state[:, HITTING].astype(np.float64)
        self.level = impacts.level_db.astype(np.float64)
        self.odds = np.array([span.odds for span in spans])
        self.middle = np.array([(span.strikes_s[0] + span.strikes_s[-1]) / 2 for span in spans])
        self.outside = np.ones(len(self.at), bool)
        for span in spans:
            low, high = np.searchsorted(self.at, [span.strikes_s[0] - 0.05, span.strikes_s[-1] + AFTER_S])
            self.outside[low:high] = False
        usual = [np.median(np.diff(span.strikes_s)) for span in spans if len(span.strikes_s) > 1]
        self.gap_s = float(np.median(usual)) if usual else USUAL_GAP_S
        hitting = [self._hitting(self.within(s.strikes_s[0] - 0.01, s.strikes_s[-1] + 0.01)) for s in spans]
        self.like_hitting = float(np.median(hitting))
        self.count = float(np.median([len(span.strikes_s) for span in spans]))

    def within(self, low_s: float, high_s: float) -> slice:
        """Return the impacts between two moments."""
        low, high = np.searchsorted(self.at, [low_s, high_s])
        return slice(int(low), int(high))

    def row(self, k: int) -> list[float]:
        """Return the features of a span."""
        strikes = self.spans[k].strikes_s
        start, end = float(strikes[0]), float(strikes[-1])
        before, after = self.within(start - AROUND_S, start - 0.1), self.within(end + 0.1, end + AROUND_S)
        gaps = np.diff(strikes)
        others = np.delete(self.odds, k)
        usual = float(np.median(gaps)) if len(gaps) else self.gap_s
        return [
            self._neighbours(k),
            float(others.mean()) if len(others) else 0.0,
            self._hitting(before),
            self._hitting(after),
            float(np.log1p((self.racket * self.outside)[before].sum())),
            float(np.log1p((self.racket * self.outside)[after].sum())),
            self._alternating(strikes),
            float(np.log(gaps[0] / usual)) if len(gaps) > 2 else 0.0,
            float(np.log1p(self.floor[self.within(start - CLOSE_S, start - 0.15)].sum())),
            self._quiet(start),
            float(np.log1p(self.dead[self.within(end + 0.6, end + CLOSE_S)].sum())),
            float(np.log(len(strikes) / self.count)),
            float(np.log(usual / self.gap_s)),
            float(np.exp(-np.abs(others)).mean()) if len(others) else 0.0,
            float(np.log1p(min(start, MOST_S))),
            self.like_hitting,
        ]

    def _neighbours(self, k: int) -> float:
        """Return the log-odds of the spans near by, the nearer the more."""
        apart = np.abs(self.middle - self.middle[k])
        weight = np.where(apart < NEAR_S, np.exp(-apart / FADING_S), 0.0)
        weight[k] = 0.0
        return float((weight * np.clip(self.odds, -MOST_ODDS, MOST_ODDS)).sum() / (weight.sum() + 0.5))

    def _hitting(self, where: slice) -> float:
        racket = self.racket[where]
        return float((self.hitting[where] * racket).sum() / (racket.sum() + 0.5))

    def _alternating(self, strikes: Numbers) -> float:
        """Return how far every second strike differs in level from the others, in dB."""
        if len(strikes) <= 3:
            return 0.0
        level = self.level[np.clip(np.searchsorted(self.at, strikes), 0, len(self.at) - 1)]
        return float(abs(level[::2].mean() - level[1::2].mean()))

    def _quiet(self, start_s: float) -> float:
        """Return the log of the seconds since the last strike before a span."""
        early = np.flatnonzero(self.racket[: int(np.searchsorted(self.at, start_s - 0.05))] > 0.5)
        return float(np.log(min(FAR_S, start_s - self.at[early[-1]]))) if len(early) else float(np.log(FAR_S))
