"""Questions that only places give: what is compared, the p of each, and their grades.

The list is fixed before any result is seen: four questions about each player. They are a family of their own
beside those of `match_questions` (see `evidence_grades.PLACES_FACTOR`), and at most Leaning.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from goodlength.findings.rally_masks import RallyMasks
from goodlength.findings.result_types import Grade, LikelyGap, Share
from goodlength.findings.shot_places.shot_table import STRAIGHT, PlacedMatch
from goodlength.findings.statistics.cluster_permutation import cluster_permutation_p
from goodlength.findings.statistics.evidence_grades import LEANING_SIDE, GradeEvidence, grade, of_places
from goodlength.findings.statistics.exact_tests import risk_difference, stratified_exact
from goodlength.findings.statistics.proportion_intervals import jeffreys_share
from goodlength.findings.text.effect_shrinkage import likely_gap, stratified_error

Marks = NDArray[np.bool_]


class PlaceQuestion(StrEnum):
    """What is asked of the places, about each player."""

    RETURN_LENGTH = "return-length"  # does the commonest kind of serve leave returns shorter, or longer?
    LENGTH_FADE = "length-fade"  # less length, or more, in the last game followed than before?
    TIGHT_FADE = "tight-fade"  # the same of straight shots close to the side wall
    LOOSE_COST = "loose-cost"  # fewer rallies won where the last straight drive was loose?


@dataclass(frozen=True)
class PlaceAnswer:
    """One question with what was seen: `first` held against `second`; `p` None: too few to ask.

    `smaller_side` counts rallies, not shots. `kind` is the kind of serve compared, "" where there is none.
    """

    ask: PlaceQuestion
    side: int
    first: Share
    second: Share
    p: float | None
    gap: float
    smaller_side: int
    kind: str = ""
    q: float | None = None
    grade: Grade = Grade.TOO_FEW
    likely: LikelyGap | None = None


@dataclass(frozen=True)
class _Compared:
    """Hits among some shots of one match, in two groups."""

    rally: NDArray[np.int16]
    hit: Marks
    first: Marks
    keys: tuple[str, ...]


def place_questions(matches: Sequence[PlacedMatch], side: int) -> tuple[PlaceAnswer, ...]:
    """Return the questions about one player, or about the opponent, without grades.

    Parameters
    ----------
    matches : sequence of PlacedMatch
        One, or several of the same player.
    side : int
        0: the player each match is about; 1: the other one.
    """
    sides = [match.side if side == 0 else 1 - match.side for match in matches]
    pairs = list(zip(matches, sides, strict=True))
    kind = _commonest(pairs)
    return (
        _of_rallies(
            PlaceQuestion.RETURN_LENGTH,
            side,
            [_return_length(match, own, kind) for match, own in pairs],
            kind,
        ),
        _of_shots(PlaceQuestion.LENGTH_FADE, side, [_length_fade(match, own) for match, own in pairs]),
        _of_shots(PlaceQuestion.TIGHT_FADE, side, [_tight_fade(match, own) for match, own in pairs]),
        _of_rallies(PlaceQuestion.LOOSE_COST, side, [_loose_cost(match, own) for match, own in pairs]),
    )


def graded_places(answers: Sequence[PlaceAnswer]) -> tuple[PlaceAnswer, ...]:
    """Return all questions of a match, of both players, with adjusted p and grade."""
    asked = [answer.p for answer in answers if answer.p is not None]
    adjusted = iter(of_places(asked).tolist())
    return tuple(answer if answer.p is None else _graded(answer, float(next(adjusted))) for answer in answers)


def _graded(answer: PlaceAnswer, q: float) -> PlaceAnswer:
    given = grade(GradeEvidence(q, answer.smaller_side, 1 - (answer.p or 0.0) / 2, listed=False))
    likely = None
    if given is Grade.LEANING:
        parts = [(answer.first.count, answer.first.of, answer.second.count, answer.second.of)]
        likely = likely_gap(answer.first, answer.second, answer.gap, stratified_error(parts))
    return replace(answer, q=q, grade=given, likely=likely)


def _commonest(pairs: Sequence[tuple[PlacedMatch, int]]) -> str:
    """Return the kind of serve used most over all matches; "" where none is recorded."""
    counts: dict[str, int] = {}
    for match, side in pairs:
        view = RallyMasks(match.table)
        for code in view.kinds_by_use(side):
            of = int((view.served(side) & (match.table.kind == code)).sum())
            counts[match.table.kinds[code]] = counts.get(match.table.kinds[code], 0) + of
    return max(counts, key=lambda kind: counts[kind], default="")


def _return_length(match: PlacedMatch, server: int, kind: str) -> _Compared:
    """Returns that bounced, past the line or not: of the commonest kind of serve, and of all others."""
    shots, table = match.shots, match.table
    own = (table.server == server) & (table.kind >= 0)
    is_kind = np.array([code >= 0 and table.kinds[code] == kind for code in table.kind], dtype=np.bool_)
    rows = shots.to_length & shots.bounced & (shots.number == 2) & own[shots.rally]
    return _compared(match, rows, shots.past_line, is_kind[shots.rally])


def _length_fade(match: PlacedMatch, side: int) -> _Compared:
    shots = match.shots
    rows = shots.to_length & shots.bounced & (shots.striker == side)
    return _compared(match, rows, shots.past_line, _in_last_game(match))


def _tight_fade(match: PlacedMatch, side: int) -> _Compared:
    shots = match.shots
    rows = straight_ended(match) & (shots.striker == side)
    return _compared(match, rows, shots.tight, _in_last_game(match))


def _loose_cost(match: PlacedMatch, side: int) -> _Compared:
    """The player's last straight drive of each rally: loose or tight, and whether the rally was won.

    Drives alone: a last ball that won is measured at its second bounce, one struck back at the strike, and
    between the two a drive goes 2 cm towards its wall, a lob or a cross-court 40 cm (true places of 42
    simulated rallies), so that of all shots to length those that won would be tighter by that alone.
    """
    shots, view = match.shots, RallyMasks(match.table)
    rows = last_straight(match, side) & view.decided[shots.rally]
    return _compared(match, rows, view.won(side)[shots.rally], ~shots.tight)


def straight_ended(match: PlacedMatch) -> Marks:
    """Return usable drives whose end is known."""
    shots = match.shots
    return np.asarray(shots.to_length & (shots.stroke == STRAIGHT) & np.isfinite(shots.end[:, 0]))


def last_straight(match: PlacedMatch, side: int) -> Marks:
    """Return a player's last usable drive of each rally, of those whose end is known."""
    shots = match.shots
    ended = straight_ended(match) & (shots.striker == side)
    last: dict[int, int] = {}
    for row in np.flatnonzero(ended):
        rally = int(shots.rally[row])
        if rally not in last or shots.number[row] > shots.number[last[rally]]:
            last[rally] = int(row)
    out = np.zeros(shots.n, dtype=np.bool_)
    out[list(last.values())] = True
    return out


def _in_last_game(match: PlacedMatch) -> Marks:
    game = match.table.game[match.shots.rally]
    followed = np.unique(game)
    return np.asarray(game == followed[-1]) if followed.size > 1 else np.zeros(match.shots.n, np.bool_)


def _compared(match: PlacedMatch, rows: Marks, hit: Marks, first: Marks) -> _Compared:
    keys = tuple(f"{match.table.match}/{match.table.key[i]}" for i in match.shots.rally[rows])
    return _Compared(match.shots.rally[rows], hit[rows], first[rows], keys)


def _of_shots(ask: PlaceQuestion, side: int, parts: Sequence[_Compared]) -> PlaceAnswer:
    """Compare shots of which several belong to one rally: whole rallies are dealt out by chance."""
    hits: list[int] = []
    tries: list[int] = []
    member: list[bool] = []
    strata: list[int] = []
    for number, part in enumerate(parts):
        for rally in np.unique(part.rally):
            here = part.rally == rally
            hits.append(int(part.hit[here].sum()))
            tries.append(int(here.sum()))
            member.append(bool(part.first[here][0]))
            strata.append(number)
    smaller = min(sum(member), len(member) - sum(member))
    p = cluster_permutation_p(hits, tries, member, strata) if smaller >= LEANING_SIDE else None
    return _answer(ask, side, parts, p, smaller)


def _of_rallies(ask: PlaceQuestion, side: int, parts: Sequence[_Compared], kind: str = "") -> PlaceAnswer:
    """Compare rallies, one shot of each."""
    tables = [_counts(part) for part in parts]
    smaller = min(sum(table[1] for table in tables), sum(table[3] for table in tables))
    p = None
    if smaller >= LEANING_SIDE:
        test = stratified_exact(tables)
        p = test.mid_p if test.variance > 0 else None
    return replace(_answer(ask, side, parts, p, smaller), kind=kind)


def _counts(part: _Compared) -> tuple[int, int, int, int]:
    first, second = part.first, ~part.first
    return (
        int((part.hit & first).sum()),
        int(first.sum()),
        int((part.hit & second).sum()),
        int(second.sum()),
    )


def _answer(
    ask: PlaceQuestion, side: int, parts: Sequence[_Compared], p: float | None, smaller: int
) -> PlaceAnswer:
    first, second = _share(parts, first=True), _share(parts, first=False)
    nothing = not first.of or not second.of or first.count + second.count in (0, first.of + second.of)
    gap = risk_difference([_counts(part) for part in parts]) or 0.0
    return PlaceAnswer(ask, side, first, second, None if nothing else p, gap, smaller)


def _share(parts: Sequence[_Compared], *, first: bool) -> Share:
    """Return hits of one group; its range allows for shots of one rally being alike."""
    count = of = 0
    keys: list[str] = []
    clusters: list[tuple[int, int]] = []
    for part in parts:
        group = part.first if first else ~part.first
        count += int((part.hit & group).sum())
        of += int(group.sum())
        keys += [key for key, here in zip(part.keys, part.hit & group, strict=True) if here]
        for rally in np.unique(part.rally[group]):
            here = group & (part.rally == rally)
            clusters.append((int((part.hit & here).sum()), int(here.sum())))
    return jeffreys_share(
        count, of, tuple(dict.fromkeys(keys)), independent=independent_of_clusters(clusters)
    )


def independent_of_clusters(clusters: Sequence[tuple[int, int]]) -> float:
    """Return what part of all tries counts as independent, from (hits, tries) of each cluster; at most 1.

    Source
    ------
    The inverse of the design effect of a ratio: the variance of the share over clusters, beside that of
    independent tries. From memory.

    Examples
    --------
    >>> independent_of_clusters([(4, 4), (0, 4), (4, 4), (0, 4)])
    0.1875
    >>> independent_of_clusters([(1, 1), (0, 1), (1, 1)])
    1.0
    """
    of = sum(tries for _, tries in clusters)
    if len(clusters) < 2 or of == len(clusters):
        return 1.0
    share = sum(hits for hits, _ in clusters) / of
    if not 0 < share < 1:
        return len(clusters) / of
    between = (
        sum((hits - share * tries) ** 2 for hits, tries in clusters) * len(clusters) / (len(clusters) - 1)
    )
    return min(1.0, of * share * (1 - share) / between) if between > 0 else 1.0
