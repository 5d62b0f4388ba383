"""Parse times typed by people: seconds, or minutes and seconds with a colon."""

from __future__ import annotations

import math

import click


class Seconds(click.ParamType[float]):
    """A time such as 61.2, 1:01.2 or 1:00:01.2, as seconds."""

    name = "time"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Return seconds, or a usage error that says what would be accepted."""
        if isinstance(value, float):
            return value
        try:
            parts = [float(part) for part in str(value).replace(",", ".").split(":")]
        except ValueError:
            parts = []
        if not 1 <= len(parts) <= 3 or any(not math.isfinite(p) or p < 0 for p in parts):
            self.fail(
                f"{value!r} is not a time. Write seconds (61.2) or minutes and seconds (1:01.2).", param, ctx
            )
        total = 0.0
        for part in parts:
            total = 60.0 * total + part
        return total
