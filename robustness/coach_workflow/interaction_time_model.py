"""What a step of the coach's work costs, by stated costs, not by a stopwatch."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from typing import Any

PRESS_S = 1.2  # a key, a click, a tap
WATCH_S = 14.0  # a rally that has to be watched
GLANCE_S = 5.0  # a glance at a picture or a page


@dataclass
class HandsOnCost:
    """Presses, rallies watched, looks and typed letters of each step, in the order taken."""

    presses: Counter[str] = field(default_factory=Counter)
    watched: Counter[str] = field(default_factory=Counter)
    glances: Counter[str] = field(default_factory=Counter)
    letters: int = 0
    steps: list[str] = field(default_factory=list)
    waited_s: dict[str, float] = field(default_factory=dict)

    def plain(self) -> dict[str, Any]:
        """Return it as it is written down."""
        return {
            key: dict(value) if isinstance(value, Counter) else value for key, value in vars(self).items()
        }

    @classmethod
    def read(cls, plain: dict[str, Any]) -> HandsOnCost:
        """Return a cost as it was written down."""
        counted = {name: Counter(plain[name]) for name in ("presses", "watched", "glances")}
        return cls(**{**plain, **counted})

    def _note(self, counter: Counter[str], step: str, n: int) -> None:
        if step not in self.steps:
            self.steps.append(step)
        counter[step] += n

    def press(self, step: str, n: int = 1) -> None:
        """Count presses."""
        self._note(self.presses, step, n)

    def watch(self, step: str) -> None:
        """Count a rally watched."""
        self._note(self.watched, step, 1)

    def glance(self, step: str) -> None:
        """Count a glance."""
        self._note(self.glances, step, 1)

    def seconds_of(self, step: str) -> float:
        """Return what a step takes, seconds."""
        return PRESS_S * self.presses[step] + WATCH_S * self.watched[step] + GLANCE_S * self.glances[step]

    @property
    def minutes(self) -> float:
        """All steps together, minutes."""
        return sum(self.seconds_of(step) for step in self.steps) / 60

    def table(self) -> list[dict[str, object]]:
        """Return a line for each step."""
        return [
            {
                "step": step,
                "presses": self.presses[step],
                "watched": self.watched[step],
                "glances": self.glances[step],
                "minutes": round(self.seconds_of(step) / 60, 2),
            }
            for step in self.steps
        ]
