"""What stands around a span says whether it is a rally: its neighbours, the hitting and the pauses about it.

A serve follows a pause and often bounces of the ball; a rally is followed by a ball that runs dead; warm-ups
stand together, and so do rallies; a ball kept warm is followed by a serve at once; a piece of a rally by its
rest; and a recording in which the network is at a loss throughout is less to be trusted. These features of
each span within its recording move the chance that `rally_probability_from_span` gives it by itself. Weights
were fitted on families heard by networks that had not learnt from them, and the bound of "sure" chosen on
four ways of playing, each by weights fitted on the other three (docs/sources/hearing-network.md).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from goodlength.footage.audio.impact_classifier_network import STATES, SURFACES, Impacts
from goodlength.footage.audio.span_chances.rally_probability_from_span import TYPICAL

Numbers = NDArray[np.float64]

NEAR_S, FADING_S = 90.0, 45.0  # other spans that count, and how fast they count less
AROUND_S, CLOSE_S, AFTER_S = 30.0, 4.0, 1.5
MOST_ODDS, FAR_S, MOST_S = 4.0, 30.0, 300.0
ALONE_S, MOST_NEXT_ODDS = 60.0, 5.0  # between a span and where none is, and how much a next one counts
SOON_S, LATER_S = 2.2, 5.0  # after a span or before it: the ball of the same rally, and of another
BETWEEN_S, LEAST_WALL, FAR_BORDER = 0.02, 0.25, 6.0
RACKET, WALL, FLOOR, OTHER_WALL, TIN = (
    SURFACES.index(name) for name in ("racket", "front wall", "floor", "other wall", "tin")
)
HITTING = STATES.index("hitting")
USUAL_GAP_S, USUAL_WALL, USUAL_WALL_SPREAD, ALONE_FIRST = 1.3, 0.35, 0.12, 3.0
WHOLE = (
    "neighbours", "other spans", "hitting before", "hitting after", "strikes outside before",
    "strikes outside after", "levels alternate", "first gap", "bounces before", "quiet before",
    "running dead after", "strikes beside usual", "gap beside usual", "other spans unclear", "time",
    "hitting in spans",
)  # fmt: skip
NEXT = (
    "under 5 s before", "under 9 s before", "under 5 s after", "under 9 s after", "next one's odds",
    "last one's odds", "next one longer", "rackets soon after", "rackets soon before", "rackets after",
    "rackets before", "wall's share", "wall's share varies", "over six strikes", "over three strikes",
    "tempo", "longest gap", "shortest gap", "gaps change", "first span", "last span",
    "first beside inner ones", "hitting at the serve", "floor after", "tin after", "wall after",
    "last of several",
)  # fmt: skip
FEATURES = ("by itself", *WHOLE, *NEXT, *(f"{name} of the recording" for name in TYPICAL))
# Features are kept within these, three of their spreads about their mean in what the weights were fitted on
LOWEST: tuple[float, ...] = (
    -6.177, -2.391, -1.004, -0.703, -0.687, -1.324, -1.288, -6.529, -0.708, -0.847, -0.322, -0.480,
    -2.648, -0.610, -0.102, 2.259, -0.428, -0.155, -0.562, -0.159, -0.565, -1.222, -1.121, -0.318,
    -0.871, -0.966, -1.440, -1.679, 0.088, -0.021, -1.373, -1.559, -0.612, -0.648, -1.537, -0.398,
    -0.674, -0.647, -5.928, -0.829, -0.431, -0.343, -0.314, -8.159, -1.735, -2.061, 4.288, -1.192,
)  # fmt: skip
HIGHEST: tuple[float, ...] = (
    8.749, 4.370, 3.574, 1.132, 1.094, 2.185, 2.145, 11.301, 0.795, 2.377, 4.660, 2.517, 2.677,
    0.593, 0.479, 7.864, 0.647, 0.177, 0.801, 0.181, 0.806, 1.064, 1.109, 0.366, 1.083, 1.147,
    1.888, 2.169, 0.479, 0.239, 2.140, 3.204, 0.609, 1.309, 0.798, 0.978, 0.804, 0.765, 17.329,
    1.335, 2.004, 0.628, 1.638, 10.235, 7.506, 5.735, 6.624, 6.612,
)  # fmt: skip
WEIGHTS: tuple[float, ...] = (
    0.320, 0.157, -0.106, -0.444, -0.303, -0.024, -0.054, 0.024, 0.715, 0.342, 0.059, -0.015, 0.065,
    0.122, -0.667, 0.383, -0.309, -1.728, -1.100, 1.772, -0.835, -0.494, -0.826, -0.679, -0.226,
    0.276, -0.024, -0.163, -0.909, 2.548, 0.146, 0.202, 0.549, 0.098, -0.374, 0.462, -0.378, 0.025,
    0.061, -1.037, 0.291, 1.559, -0.185, 0.112, 0.104, -0.015, -0.003, 0.223,
)  # fmt: skip
OFFSET = -3.407


@dataclass(frozen=True)
class SpanAlone:
    """A span by itself: its strikes in seconds and the log-odds that it is a rally."""

    strikes_s: Numbers
    odds: float

    @property
    def start_s(self) -> float:
        """The first strike."""
        return float(self.strikes_s[0])

    @property
    def end_s(self) -> float:
        """The last strike."""
        return float(self.strikes_s[-1])


def context_odds(impacts: Impacts, spans: Sequence[SpanAlone], typical: Numbers) -> Numbers:
    """Return the log-odds of each span within its recording; parameters as in `context_features`."""
    rows = np.clip(context_features(impacts, spans, typical), LOWEST, HIGHEST)
    return np.asarray(rows @ np.array(WEIGHTS) + OFFSET, np.float64)


def context_features(impacts: Impacts, spans: Sequence[SpanAlone], typical: Numbers) -> Numbers:
    """Return a row of `FEATURES` for each span.

    Parameters
    ----------
    impacts : Impacts
        All of the recording.
    spans : sequence of SpanAlone
        All of the recording, in order of time.
    typical : ndarray, shape (4,)
        The recording's `TYPICAL` odds: where the network is at a loss, nothing in it is sure.
    """
    if not spans:
        return np.zeros((0, len(FEATURES)))
    whole, same = _Around(impacts, spans), typical.tolist()
    rows = [[span.odds, *whole.row(k), *whole.next_row(k), *same] for k, span in enumerate(spans)]
    return np.array(rows, np.float64)


class _Around:
    """A recording's impacts and spans, for one row of features after the other."""

    def __init__(self, impacts: Impacts, spans: Sequence[SpanAlone]) -> None:
        self.spans, self.impacts = spans, impacts
        self.at = impacts.time_s.astype(np.float64)
        surface = impacts.surface.astype(np.float64)
        self.racket, self.wall, self.floor, self.tin = (
            surface[:, kind] for kind in (RACKET, WALL, FLOOR, TIN)
        )
        self.dead = self.floor + surface[:, OTHER_WALL]
        self.hitting = impacts.state[:, HITTING].astype(np.float64)
        self.level = impacts.level_db.astype(np.float64)
        self.odds = np.array([span.odds for span in spans])
        self.middle = np.array([(span.start_s + span.end_s) / 2 for span in spans])
        self.outside = np.ones(len(self.at), bool)
        for span in spans:
            self.outside[self.within(span.start_s - 0.05, span.end_s + AFTER_S)] = False
        usual = [np.median(np.diff(span.strikes_s)) for span in spans if len(span.strikes_s) > 1]
        self.gap_s = float(np.median(usual)) if usual else USUAL_GAP_S
        several = [np.median(np.diff(span.strikes_s)) for span in spans if len(span.strikes_s) > 2]
        self.tempo_s = float(np.median(several)) if several else USUAL_GAP_S
        hitting = [self._hitting(self.within(s.start_s - 0.01, s.end_s + 0.01)) for s in spans]
        self.like_hitting = float(np.median(hitting))
        self.count = float(np.median([len(span.strikes_s) for span in spans]))

    def within(self, low_s: float, high_s: float) -> slice:
        """Return the impacts between two moments."""
        low, high = np.searchsorted(self.at, [low_s, high_s])
        return slice(int(low), int(high))

    def row(self, k: int) -> list[float]:
        """Return the features of a span in the whole recording: `WHOLE`."""
        strikes = self.spans[k].strikes_s
        start, end = self.spans[k].start_s, self.spans[k].end_s
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

    def next_row(self, k: int) -> list[float]:
        """Return the features of a span beside what is next to it: `NEXT`."""
        span, strikes = self.spans[k], self.spans[k].strikes_s
        start, end, last = span.start_s, span.end_s, len(self.spans) - 1
        before = start - self.spans[k - 1].end_s if k else ALONE_S
        after = self.spans[k + 1].start_s - end if k < last else ALONE_S
        size = float(np.log(len(strikes)))
        longer = float(np.log(len(self.spans[k + 1].strikes_s))) - size if k < last else 0.0
        next_odds, last_odds = (
            float(np.clip(self.odds[i], -MOST_NEXT_ODDS, MOST_NEXT_ODDS)) if 0 <= i <= last else 0.0
            for i in (k + 1, k - 1)
        )
        return [
            _near(before, 5.0),
            _near(before, 9.0),
            _near(after, 5.0),
            _near(after, 9.0),
            _near(after, 7.0) * next_odds,
            _near(before, 7.0) * last_odds,
            _near(after, 7.0) * max(0.0, longer),
            self._rackets(end + 0.25, end + SOON_S),
            self._rackets(start - SOON_S, start - 0.25),
            self._rackets(end + SOON_S, end + LATER_S),
            self._rackets(start - LATER_S, start - SOON_S),
            *self._wall_shares(strikes),
            max(0.0, size - float(np.log(6))),
            max(0.0, size - float(np.log(3))),
            *self._gaps(np.diff(strikes)),
            float(k == 0),
            float(k == last),
            self._first_margin(strikes),
            float(self.hitting[self.within(start - 0.01, start + 0.01)].max(initial=0.0)),
            float(np.log1p(self.floor[self.within(end + 0.2, end + 2.5)].sum())),
            float(np.log1p(self.tin[self.within(end + 0.05, end + 2.0)].sum())),
            float(self.wall[self.within(end + 0.05, end + 1.2)].max(initial=0.0)),
            float(self._borders(self.impacts.last, strikes)[-1]) if len(strikes) > 1 else 0.0,
        ]

    def _rackets(self, low_s: float, high_s: float) -> float:
        return float(self.racket[self.within(low_s, high_s)].sum())

    def _wall_shares(self, strikes: Numbers) -> tuple[float, float]:
        """Return where between two strikes the front wall is, and how much that varies."""
        shares = []
        for a, b in zip(strikes[:-1].tolist(), strikes[1:].tolist(), strict=True):
            inside = self.within(a + BETWEEN_S, b - BETWEEN_S)
            if inside.stop > inside.start:
                best = inside.start + int(self.wall[inside].argmax())
                if self.wall[best] > LEAST_WALL:
                    shares.append((self.at[best] - a) / (b - a))
        mean = float(np.mean(shares)) if shares else USUAL_WALL
        return mean, float(np.std(shares)) if len(shares) > 2 else USUAL_WALL_SPREAD

    def _gaps(self, gaps: Numbers) -> tuple[float, float, float, float]:
        """Return tempo, longest and shortest gap beside the recording's tempo, and how gaps change."""
        if not len(gaps):
            return 0.0, 0.0, 0.0, 0.0
        by_tempo = np.log(np.array([np.median(gaps), gaps.max(), gaps.min()]) / self.tempo_s).tolist()
        change = float(np.abs(np.diff(np.log(gaps))).mean()) if len(gaps) > 1 else 0.0
        return by_tempo[0], by_tempo[1], by_tempo[2], change

    def _borders(self, odds: NDArray[np.floating], strikes: Numbers) -> Numbers:
        place = np.clip(np.searchsorted(self.at, strikes - 1e-4), 0, len(self.at) - 1)
        return np.asarray(np.clip(odds[place], -FAR_BORDER, FAR_BORDER), np.float64)

    def _first_margin(self, strikes: Numbers) -> float:
        """Return how much more the first strike sounds like a serve than any other of the span."""
        first = self._borders(self.impacts.first, strikes)
        return float(first[0] - first[1:].max()) if len(first) > 1 else ALONE_FIRST

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


def _near(gap_s: float, usual_s: float) -> float:
    """Return by how many times a gap is shorter than usual, as a logarithm; 0 where it is not.

    Examples
    --------
    >>> _near(12.0, 9.0)
    0.0
    """
    return max(0.0, float(np.log(usual_s / max(gap_s, 1.0))))
