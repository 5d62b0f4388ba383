"""Small matches for the tests of findings, written as a coach would tell them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import pytest

from goodlength.findings.result_types import Names, Pronoun
from goodlength.record.model import Ending, Left, ReturnKind
from goodlength.record.tables.rally_table import ENDINGS, HOW_TAKEN, LEFT, RallyTable

KINDS = ("lob", "mid-height", "hard", "body-feet", "body-nick", "other")
Row = dict[str, Any]


def table_of(rows: Sequence[Row], kinds: tuple[str, ...] = KINDS) -> RallyTable:
    """A table from rows such as dict(game=1, server="a", kind="lob", left="loose", winner="a").

    What a row leaves out is not recorded; `let=True` makes a let. Scores follow rally scoring.
    """
    points = {"a": 0, "b": 0}
    game, number = 0, 0
    scores, numbers = [], []
    for row in rows:
        if row.get("game", 1) != game:
            game, number, points = row.get("game", 1), 0, {"a": 0, "b": 0}
        number += 1
        numbers.append(number)
        scores.append((points["a"], points["b"]))
        if row.get("winner") and not row.get("let"):
            points[row["winner"]] += 1

    def codes(name: str, of: Callable[[Any], int]) -> np.ndarray:
        return np.array([-1 if row.get(name) is None else of(row[name]) for row in rows], dtype=np.int16)

    n = len(rows)
    return RallyTable(
        match="test",
        key=tuple(f"k{i}" for i in range(n)),
        game=np.array([row.get("game", 1) for row in rows], dtype=np.int16),
        n_in_game=np.array(numbers, dtype=np.int16),
        server=codes("server", "ab".index),
        box=codes("box", ("right", "left").index),
        kinds=kinds,
        kind=codes("kind", kinds.index),
        how_taken=codes("how", lambda v: HOW_TAKEN.index(ReturnKind(v))),
        left=codes("left", lambda v: LEFT.index(Left(v))),
        winner=codes("winner", "ab".index),
        let=np.array([bool(row.get("let")) for row in rows], dtype=bool),
        ending=codes("ending", lambda v: ENDINGS.index(Ending(v))),
        ending_stroke=np.full(n, -1, dtype=np.int16),
        score_a=np.array([a for a, _ in scores], dtype=np.int16),
        score_b=np.array([b for _, b in scores], dtype=np.int16),
        length_s=np.array([row.get("length_s", np.nan) for row in rows], dtype=float),
        shots=codes("shots", int),
        placed=(None,) * n,
    )


def story() -> list[Row]:
    """Serves of one invented match: the lob draws weak returns, the hard serve does not.

    17 lobs (7, 4, 4, 2 by game; 11 weak), 12 hard (1 weak), 4 mid-height (1), 4 body (3); as many serves
    of the opponent, all hard and tight, so that both players have served.
    """
    rows: list[Row] = []
    by_game = {
        "lob": (7, 4, 4, 2),
        "hard": (3, 3, 4, 2),
        "mid-height": (1, 0, 1, 2),
        "body-feet": (0, 1, 1, 0),
        "body-nick": (0, 0, 0, 2),
    }
    weak_left = {"lob": 11, "hard": 1, "mid-height": 1, "body-feet": 2, "body-nick": 1}
    for game in (1, 2, 3, 4):
        for kind, counts in by_game.items():
            for i in range(counts[game - 1]):
                weak = weak_left[kind] > 0
                weak_left[kind] -= weak
                rows.append(
                    {
                        "game": game,
                        "server": "a",
                        "kind": kind,
                        "box": ("right", "left")[i % 2],
                        "how": "volleyed" if i % 2 else "after-the-bounce",
                        "left": "loose" if weak else "tight",
                        "winner": "ab"[i % 2],
                        "ending": ("winner", "unforced-error")[i % 2],
                        "length_s": 10.0 + i,
                    }
                )
                rows.append(
                    {
                        "game": game,
                        "server": "b",
                        "kind": "hard",
                        "box": ("right", "left")[i % 2],
                        "how": "volleyed",
                        "left": "tight",
                        "winner": "ab"[(i + game) % 2],
                        "ending": "forced-error",
                        "length_s": 12.0 + i,
                    }
                )
    return rows


@pytest.fixture
def make() -> Callable[..., RallyTable]:
    """Builds a table from rows."""
    return table_of


@pytest.fixture
def tale() -> RallyTable:
    """The invented match of `story`."""
    return table_of(story())


@pytest.fixture
def names() -> Names:
    """The players of the invented match, with pronouns."""
    return Names("Imogen Vale", "Petra Lindqvist-Ode", Pronoun.SHE, Pronoun.SHE)
