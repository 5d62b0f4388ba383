"""What moves where about a span, beside the recording's other spans: what tells a rally from mere hitting.

Before a serve two players stand still, one in a service box; in a rally both move all over the court;
afterwards they walk. Whoever keeps a ball warm stays in one place, and a piece of a rally has the same
running before and after it. No court and no player need be found: the cells of `MotionProfile` are enough.
All counts beside the recording's own likely spans, since cameras differ.

```
 cells, five times a second ──┬── how much: in the span, before, after ───┐
 other likely spans ──────────┴── maps of play, of serves, of the rest ───┴─> a row of features a span
```
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from goodlength.footage.vision.motion_profile import EVERY_S, MotionProfile

Numbers = NDArray[np.float64]

LEAST_S = 30.0  # of film below which its usual amount is not known
LEAST_SPREAD = 0.35  # in log amount between calm and busy: less says nothing
LEAST_CHANCES = 1.0  # of the spans together, below which the usual play is not known
LEAST_SEEN = 0.7  # share of a span that must have been measured
LEAST_REST = 20  # moments outside all spans, below which all of the film stands for them
FLOOR_SHARE, SMOOTH = 0.05, 2.0
PRIOR = 0.3  # of an even map beside one of the recording's, so that no cell is impossible
EVEN_WEIGHT = 0.5  # of an even map among those of the other spans
BEFORE_FIRST_S, AFTER_LAST_S = 0.1, 0.5  # what still belongs to a span
AT_SERVE_S, READY_S = (-0.2, 0.3), (-1.5, -0.25)
STILL_S, STILL_MOST = (-3.5, -0.1), 0.5
LONG_AFTER_S = (5.0, 9.0)
FEATURES = ("like play", "like serves", "like first strikes", "stillest before", "long after")


@dataclass(frozen=True)
class StruckSpan:
    """The strikes of a span in seconds of the film's time, and the chance that it is a rally, by sound."""

    strikes_s: Numbers
    chance: float

    @property
    def start_s(self) -> float:
        """The first strike."""
        return float(self.strikes_s[0])

    @property
    def end_s(self) -> float:
        """The last strike."""
        return float(self.strikes_s[-1])


def pattern_features(profile: MotionProfile, spans: Sequence[StruckSpan]) -> Numbers | None:
    """Return a row of `FEATURES` for each span, shape (n, 5); None where the picture says nothing.

    Rows of spans that were not measured are not a number. The first three are log-likelihoods: how much the
    span's own map, that of the moments before it and that of its first strike are like those of the other
    likely spans, and not like the rest. The others are levels beside that of the span.

    Parameters
    ----------
    profile : MotionProfile
        Its times count from the same zero as the spans'.
    spans : sequence of StruckSpan
        All that the sound takes for rallies, in order of time.
    """
    seen = motion_relative_to_play(profile, spans)
    if seen is None:
        return None
    levels = np.array([seen.levels_about(span) for span in spans])
    return np.concatenate([_likeness(seen, spans, np.isfinite(levels[:, 0])), levels], axis=1)


def motion_relative_to_play(profile: MotionProfile, spans: Sequence[StruckSpan]) -> SeenMotion | None:
    """Return a film's motion beside that of its likely rallies; None where it says nothing."""
    if len(profile.time_s) < LEAST_S / 0.5:
        return None
    seen = SeenMotion(profile)
    inside = [(seen.mean_level(s.start_s, s.end_s + AFTER_LAST_S), s.chance) for s in spans]
    levels = np.array([level for level in inside if np.isfinite(level[0])], np.float64).reshape(-1, 2)
    if seen.spread < LEAST_SPREAD or levels[:, 1].sum() < LEAST_CHANCES:
        return None
    seen.count_from(float(np.average(levels[:, 0], weights=levels[:, 1])))
    return seen


class SeenMotion:
    """A film's motion, ready for looking at spans: log amounts, in parts of the way from calm to busy."""

    def __init__(self, profile: MotionProfile) -> None:
        self.at = profile.time_s
        self.cells = profile.cells.reshape(len(self.at), -1).astype(np.float64)
        floor = FLOOR_SHARE * float(np.quantile(profile.amount, 0.9)) + 1e-6
        log = np.log(profile.amount + floor)
        smooth = ndimage.gaussian_filter1d(log, SMOOTH)
        calm, busy = np.quantile(smooth, [0.1, 0.9]).tolist()
        self.spread = float(busy - calm)
        scale = max(self.spread, 1e-6)
        self.smooth: Numbers = np.asarray(smooth / scale, np.float64)
        self.level: Numbers = np.asarray(log / scale, np.float64)

    def count_from(self, play: float) -> None:
        """Count all levels from that of play."""
        self.level, self.smooth = self.level - play, self.smooth - play

    def within(self, low_s: float, high_s: float) -> slice:
        """Return the moments between two times."""
        low, high = np.searchsorted(self.at, [low_s, high_s])
        return slice(int(low), int(high))

    def mean_level(self, low_s: float, high_s: float) -> float:
        """Return the mean level of a while; not a number where nothing was measured."""
        part = self.level[self.within(low_s, high_s)]
        return float(part.mean()) if len(part) else float("nan")

    def map_in(self, low_s: float, high_s: float) -> Numbers:
        """Return the share of each cell in what moved in a while."""
        part = self.cells[self.within(low_s, high_s)]
        return _share(part.mean(axis=0) if len(part) else np.zeros(self.cells.shape[1]))

    def levels_about(self, span: StruckSpan) -> tuple[float, float]:
        """Return how still it gets before a span and how much moves long after it, beside the span itself."""
        start, end = span.start_s, span.end_s
        inner = self.within(start - BEFORE_FIRST_S, end + AFTER_LAST_S)
        wanted = max(1.0, (end - start + BEFORE_FIRST_S + AFTER_LAST_S) / (EVERY_S + 0.05))
        if inner.stop - inner.start < LEAST_SEEN * wanted:
            return float("nan"), float("nan")
        inside = float(self.level[inner].mean())
        early = self.smooth[self.within(start + STILL_S[0], start + STILL_S[1])]
        after = self.mean_level(end + LONG_AFTER_S[0], end + LONG_AFTER_S[1])
        beyond = after - inside if np.isfinite(after) else 0.0
        return float(early.min(initial=STILL_MOST)) - inside, beyond


def _likeness(seen: SeenMotion, spans: Sequence[StruckSpan], measured: NDArray[np.bool_]) -> Numbers:
    """Return how much the maps of each span are like those of the others, shape (n, 3)."""
    chance = np.array([span.chance for span in spans]) * measured
    play = np.array([seen.map_in(s.start_s - BEFORE_FIRST_S, s.end_s + AFTER_LAST_S) for s in spans])
    ready = np.array([seen.map_in(s.start_s + READY_S[0], s.start_s + READY_S[1]) for s in spans])
    first = np.array([seen.map_in(s.start_s + AT_SERVE_S[0], s.start_s + AT_SERVE_S[1]) for s in spans])
    outside = np.ones(len(seen.at), bool)
    for span in spans:
        outside[seen.within(span.start_s - 0.5, span.end_s + 1.0)] = False
    rest = _share(seen.cells[outside if outside.sum() > LEAST_REST else slice(None)].mean(axis=0))
    even = np.full(play.shape[1], 1.0 / play.shape[1])
    out = np.zeros((len(spans), 3))
    for k in range(len(spans)):
        weight = np.where(np.arange(len(spans)) == k, 0.0, chance)
        total = weight.sum() + EVEN_WEIGHT
        usual, serves, firsts = (
            (weight @ maps + EVEN_WEIGHT * even) / total for maps in (play, ready, first)
        )
        out[k] = (
            play[k] @ np.log(usual / rest),
            ready[k] @ np.log(serves / rest),
            first[k] @ np.log(firsts / usual),
        )
    return out


def _share(amounts: Numbers) -> Numbers:
    """Return amounts by cell as shares of one, none of them nothing."""
    total, even = float(amounts.sum()), 1.0 / len(amounts)
    if total <= 0:
        return np.full(len(amounts), even)
    return np.asarray((1 - PRIOR) * amounts / total + PRIOR * even, np.float64)
