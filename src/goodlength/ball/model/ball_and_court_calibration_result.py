"""Result of a calibration: what was learnt of one court, ball and day, and what was not, as plain numbers.

`calibrate` makes it from recordings; `Setting` flies with it; `to_json` and `from_json` keep it.
"""

from __future__ import annotations

import json
import math
from dataclasses import asdict, dataclass

import numpy as np

from goodlength.ball.model import constants_with_sources as c
from goodlength.ball.model.ball_court_air_coefficients import Coefficients
from goodlength.ball.model.input_validation import Floats
from goodlength.errors import InputError
from goodlength.media_time import day_words

NAMES = ("e7", "speed_power", "grip", "drag_factor", "lift", "floor_factor")
WORDS = {
    "e7": "bounce off the front wall (share of speed kept at 7 m/s)",
    "speed_power": "how much bounce a hard hit loses",
    "grip": "how the ball springs back sideways",
    "drag_factor": "drag beside a smooth ball",
    "lift": "how far spin bends the flight",
    "floor_factor": "bounce off the floor beside the front wall",
}
_BOUNDS = {
    "e7": (0.05, 0.9),
    "speed_power": (-0.05, 0.35),
    "grip": (-0.5, 0.8),
    "drag_factor": (0.6, 1.5),
    "lift": (-0.5, 1.8),
    "floor_factor": (0.6, 1.4),
}


@dataclass(frozen=True)
class Learnt:
    """One number before and after: value, the range that holds it 90 times in 100, whether it moved."""

    name: str
    words: str
    value: float
    low: float
    high: float
    before_low: float
    before_high: float
    learnt: bool  # the range shrank by a third or more


@dataclass(frozen=True)
class Calibration:
    """Coefficients of one court, ball and date with their joint spread.

    `means` and `covariance` follow `NAMES`; `freedom` is the degrees of freedom of the spread (a small
    recording gives a wide one); `prior_sds` is what was known before.
    """

    court: str
    ball: str
    date: str
    temperature_c: float
    means: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]
    prior_means: tuple[float, ...]
    prior_sds: tuple[float, ...]
    freedom: float
    drops: int
    hits: int
    marks: int
    dot: str = ""  # the ball it was made with; empty in texts from before this was kept

    @property
    def made_with(self) -> str:
        """The dot of the ball it was made with; older texts have it in their words only."""
        return self.dot or self.ball.removeprefix("a ").split(" ", 1)[0]

    def sd(self, name: str) -> float:
        """Return one standard deviation of what is now believed."""
        k = NAMES.index(name)
        return math.sqrt(self.covariance[k][k])

    def interval(self, name: str, share: float = 0.90) -> tuple[float, float]:
        """Return the range that holds the truth `share` of the time, if the model is right.

        Never wider than the range before: what a recording does not teach stays as it was known.
        """
        from scipy.special import ndtri, stdtrit

        k, upper = NAMES.index(name), 0.5 + share / 2.0
        before = float(ndtri(upper)) * self.prior_sds[k]
        half = min(float(stdtrit(self.freedom, upper)) * self.sd(name), before)
        middle = self.means[k]
        return middle - half, middle + half

    def learnt(self) -> tuple[Learnt, ...]:
        """Return every number, with what was known before beside what is known now."""
        rows = []
        for name, mean, before, sd in zip(NAMES, self.means, self.prior_means, self.prior_sds, strict=True):
            half = c.NINE_IN_TEN_SDS / 2.0 * sd
            low, high = self.interval(name)
            shrank = high - low < 4.0 / 3.0 * half
            rows.append(Learnt(name, WORDS[name], mean, low, high, before - half, before + half, shrank))
        return tuple(rows)

    def words(self) -> str:
        """Return in words what was measured on this court, and for what the data were not enough."""
        known = [row.words for row in self.learnt() if row.learnt]
        guessed = [row.words for row in self.learnt() if not row.learnt]
        taught = "; ".join(known) or "nothing yet"
        rest = f" Not enough data: {'; '.join(guessed)}." if guessed else ""
        return f"Calibrated on {self.court} with {self.ball} on {self.day}. Measured: {taught}.{rest}"

    @property
    def day(self) -> str:
        """The date in words, such as 14 March 2026."""
        from datetime import date

        try:
            return day_words(date.fromisoformat(self.date))
        except ValueError:
            return self.date

    def applied(self, plain: Coefficients, temperature_c: float) -> Coefficients:
        """Return the coefficients of a setting with what was learnt put in, moved to the ball's temperature
        now.
        """
        value = dict(zip(NAMES, self.means, strict=True))
        squared = value["e7"] ** 2 + c.BOUNCE_SLOPE_PER_C.value * (temperature_c - self.temperature_c)
        ratio = value["floor_factor"] / plain.bounce.floor
        bounce = asdict(plain.bounce) | {"front": 1.0, "floor": plain.bounce.floor * ratio}
        return plain.but(
            e7=math.sqrt(min(max(squared, 0.05), 0.81)),
            speed_power=value["speed_power"],
            grip=value["grip"],
            drag_factor=value["drag_factor"],
            lift=value["lift"],
            bounce=type(plain.bounce)(**bounce),
        )

    def draw(self, base: Coefficients, count: int, rng: np.random.Generator) -> dict[str, Floats]:
        """Return joint samples of what was learnt, shape (count,) each; `base` is `applied` already."""
        spread = np.array(self.covariance) * self.freedom / max(self.freedom - 2.0, 1.0)
        samples = rng.multivariate_normal(np.array(self.means), spread, count)
        found = {name: np.clip(samples[:, k], *_BOUNDS[name]).astype(float) for k, name in enumerate(NAMES)}
        found["e7"] = np.clip(found["e7"] + (base.e7 - self.means[0]), *_BOUNDS["e7"])
        return found

    def to_json(self) -> str:
        """As text, to be kept with the court."""
        return json.dumps(asdict(self))

    @classmethod
    def from_json(cls, text: str) -> Calibration:
        """From text that `to_json` wrote.

        Raises
        ------
        InputError
            If the text is not a calibration.
        """
        try:
            raw = json.loads(text)
            raw["covariance"] = tuple(tuple(row) for row in raw["covariance"])
            for name in ("means", "prior_means", "prior_sds"):
                raw[name] = tuple(raw[name])
            found = cls(**raw)
        except (ValueError, KeyError, TypeError) as wrong:
            raise InputError(
                f"This is not a calibration goodlength wrote ({wrong}). Calibrate the court again, or "
                "give the text it saved."
            ) from None
        if len(found.means) != len(NAMES):
            raise InputError(
                f"This calibration holds {len(found.means)} numbers where {len(NAMES)} are needed: it comes "
                "from another version. Calibrate the court again."
            )
        return found
