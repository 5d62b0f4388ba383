"""How many attempts it takes to tell an improvement from luck."""

from __future__ import annotations

import math

from scipy import stats

from goodlength.practice import checks


def attempts_needed(before: float, after: float, power: float = 0.80, error: float = 0.05) -> float:
    """Attempts in each of two sessions needed to tell `after` from `before`.

    Parameters
    ----------
    before, after : float
        Hit rates, shares between 0 and 1.
    power : float
        Chance of telling them apart.
    error : float
        Chance of a false alarm, both directions together.

    Returns
    -------
    float
        Attempts a session; round up. Infinite when the two rates are the same.

    Source
    ------
    Normal formula without correction; check values in statistics notes 5.2 (computed there).

    Examples
    --------
    >>> round(attempts_needed(0.5, 0.7), 2)
    93.0
    """
    for name, value in (("before", before), ("after", after), ("power", power), ("error", error)):
        checks.open_share(name, value)
    if before == after:
        return math.inf
    mean = 0.5 * (before + after)
    z_error, z_power = stats.norm.isf(error / 2.0), stats.norm.ppf(power)
    together = z_error * math.sqrt(2.0 * mean * (1.0 - mean))
    apart = z_power * math.sqrt(before * (1.0 - before) + after * (1.0 - after))
    return float(((together + apart) / (after - before)) ** 2)


def tries_for_width(rate: float, half_width: float, level: float = 0.95) -> int:
    """Tries until a rate near `rate` is known within plus or minus `half_width` (Wilson's range).

    Examples
    --------
    >>> tries_for_width(0.5, 0.10)
    93
    """
    checks.open_share("rate", rate)
    checks.open_share("half_width", half_width)
    z = float(stats.norm.isf((1.0 - level) / 2.0))
    tries = 1
    while _wilson_half_width(rate, tries, z) > half_width:
        tries += 1
    return tries


def _wilson_half_width(rate: float, n: int, z: float) -> float:
    return z / (1.0 + z * z / n) * math.sqrt(rate * (1.0 - rate) / n + z * z / (4.0 * n * n))
