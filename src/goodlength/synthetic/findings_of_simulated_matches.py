"""Findings of simulated matches of every scenario, for tests and readers of sentences."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

import numpy as np

from goodlength.findings.rally_masks import SIDES
from goodlength.findings.reports.findings_stratified_by_match import SeasonMatch, find_season
from goodlength.findings.reports.match_finding_grades_and_top_three import find
from goodlength.findings.result_types import Finding, Names, Pronoun
from goodlength.record.model import Left, ReturnKind
from goodlength.record.tables.rally_table import HOW_TAKEN, LEFT, RallyTable

NAMES = Names("Mara Okonkwo", "Bo Lind", Pronoun.SHE, None)
KINDS = ("lob", "hard", "mid-height", "body-feet", "body-nick", "other")
FIRST_DAY = date(2026, 1, 5)
SHORTEST, LONGEST = 3, 110  # rallies of a match
SEASON_EVERY = 4  # one in so many is a season
LETS = 0.04  # of the rallies
GAMES_TO_WIN = 3


def generated(rng: np.random.Generator, sentences: int) -> Iterator[Finding]:
    """Yield findings of invented matches and seasons until there are so many.

    Each match draws how many rallies it has, its kinds and mix, what serve, box, score and run do to return
    and rally, and how much was written down: from nothing to everything.

    Parameters
    ----------
    rng : numpy Generator
        Draws everything.
    sentences : int
        Findings asked for.
    """
    count = 0
    while True:
        seasonal = rng.integers(SEASON_EVERY) == 0
        for finding in (
            _of_season(rng) if seasonal else find(match(rng, "m"), SIDES[rng.integers(2)], NAMES).all
        ):
            yield finding
            count += 1
            if count >= sentences:
                return


def _of_season(rng: np.random.Generator) -> tuple[Finding, ...]:
    played = [
        SeasonMatch(
            match(rng, f"m{n}"), "a", ("Ada One", "Bo Lind")[n % 2], FIRST_DAY + timedelta(days=7 * n)
        )
        for n in range(int(rng.integers(1, 30)))
    ]
    return find_season(played, NAMES.a, NAMES.a_pronoun).all


def match(rng: np.random.Generator, name: str) -> RallyTable:
    """Return one invented match, A named first; the worlds are drawn afresh for every match.

    Parameters
    ----------
    rng : numpy Generator
        Draws everything.
    name : str
        Its id.
    """
    most = int(rng.integers(SHORTEST, LONGEST))
    used = int(rng.integers(1, len(KINDS) + 1))
    mix = rng.dirichlet(np.full(used, rng.choice((0.5, 1.0, 8.0))))
    weak = np.clip(rng.normal(0.4, rng.choice((0.0, 0.3)), used), 0.0, 1.0)
    edge = np.clip(rng.normal(0.5, rng.choice((0.0, 0.25)), used), 0.0, 1.0)
    box_effect, score_effect, stay, run = (float(rng.choice((0.0, x))) for x in (0.3, 0.2, 0.6, 0.25))
    columns = _rallies(rng, most, (mix, weak, edge), (box_effect, score_effect, stay, run))
    n = columns["game"].size
    lets = columns.pop("let").astype(bool)
    for column in ("kind", "left", "how_taken", "winner"):
        if rng.random() < 0.3:  # an observer who answered half, or hardly anything
            columns[column][rng.random(n) < rng.choice((0.1, 0.5, 0.95))] = -1
    lengths = rng.lognormal(2.5, 0.6, n) if rng.random() < 0.6 else np.full(n, np.nan)
    return RallyTable(
        match=name,
        key=tuple(f"r{i}" for i in range(n)),
        kinds=KINDS,
        length_s=lengths,
        let=lets,
        shots=np.full(n, -1, dtype=np.int16),
        placed=(None,) * n,
        ending=np.full(n, -1, dtype=np.int16),
        ending_stroke=np.full(n, -1, dtype=np.int16),
        **columns,
    )


def _rallies(
    rng: np.random.Generator,
    n: int,
    by_kind: tuple[np.ndarray, np.ndarray, np.ndarray],
    effects: tuple[float, float, float, float],
) -> dict[str, Any]:
    """Return rallies one after another, the best of five games at most: all that was seen of each."""
    mix, weak, edge = by_kind
    box_effect, score_effect, stay, run = effects
    rows, score, games, in_game = [], [0, 0], [0, 0], 0
    server, box, last, kinds = int(rng.integers(2)), int(rng.integers(2)), 0, [-1, -1]
    for _ in range(n):
        in_game += 1
        game = 1 + sum(games)
        kind = int(rng.choice(len(mix), p=mix))
        if kinds[server] >= 0 and rng.random() < stay:
            kind = kinds[server]
        kinds[server] = kind
        loose = rng.random() < weak[kind] + box_effect * (box == 0)
        left = LEFT.index(Left.LOOSE) if loose else LEFT.index(Left.TIGHT)
        how = int(rng.integers(len(HOW_TAKEN)))
        if how == HOW_TAKEN.index(ReturnKind.NOT_MADE):
            left = LEFT.index(Left.NOT_MADE)
        ahead = score_effect * (score[server] > score[1 - server])
        chance = edge[kind] + ahead + run * (1 if last == server else -1) * 0.5
        winner = server if rng.random() < chance else 1 - server
        if rng.random() < LETS:
            rows.append((game, in_game, server, box, kind, -1, -1, -1, *score, 1))
            continue
        rows.append((game, in_game, server, box, kind, how, left, winner, *score, 0))
        score[winner] += 1
        box = 1 - box if winner == server else int(rng.integers(2))
        server = last = winner
        if max(score) >= 11 and abs(score[0] - score[1]) >= 2:
            games[winner] += 1
            score, in_game = [0, 0], 0
        if max(games) == GAMES_TO_WIN:
            break
    names = ["game", "n_in_game", "server", "box", "kind", "how_taken", "left", "winner"]
    names += ["score_a", "score_b", "let"]
    by_column = zip(names, zip(*rows, strict=True), strict=True)
    return {name: np.array(column, dtype=np.int16) for name, column in by_column}
