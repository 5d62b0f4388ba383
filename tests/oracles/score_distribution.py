"""Chances of each final score by walking every score of a game, one rally at a time."""

from __future__ import annotations

from goodlength.errors import OutOfRange
from goodlength.scoring.scoring_types import Format, Points, System


def score_chances(
    a: float, b: float, server: int = 0, fmt: Format | None = None
) -> tuple[dict[Points, float], dict[tuple[int, int, int], float]]:
    """Chances of each final score below the tie, and expected visits to each state before it.

    Parameters
    ----------
    a, b : float
        As in `game_table`; rally scoring only.
    server : int
        Who serves first: 0 A, 1 B.
    fmt : Format, optional
        To 11 without it.

    Returns
    -------
    final : dict
        By (points of A, points of B); the tie at one point before the end stands under that score.
    visits : dict
        By (points of A, points of B, server): chance of a rally being served there, tie included.

    Source
    ------
    STATS-REF 1.2 (score distribution) and 1.4 (visits, for the identity).

    Examples
    --------
    >>> round(score_chances(0.5, 0.5)[0][(11, 9)], 8)
    0.08809853
    """
    fmt = fmt or Format()
    if fmt.system is not System.RALLY:
        raise OutOfRange("scores are listed for rally scoring only; in hand-out scoring use game_table.")
    item, two = a, b
    n = fmt.target
    visits: dict[tuple[int, int, int], float] = {(0, 0, server): 1.0}
    final: dict[Points, float] = {}
    for total in range(2 * n - 2):
        for i in range(max(0, total - n + 1), min(n, total + 1)):
            j = total - i
            for s, p in ((0, item), (1, two)):
                here = visits.get((i, j, s), 0.0)
                for winner, chance in ((0, p), (1, 1 - p)):
                    to = (i + (winner == 0), j + (winner == 1))
                    if max(to) == n:
                        final[to] = final.get(to, 0.0) + here * chance
                    else:
                        key = (*to, winner)
                        visits[key] = visits.get(key, 0.0) + here * chance
    final[(n - 1, n - 1)] = visits.get((n - 1, n - 1, 0), 0.0) + visits.get((n - 1, n - 1, 1), 0.0)
    return final, visits
