"""The match questions asked of several matches of one player together, stratified by match."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

import numpy as np

from goodlength.errors import OutOfRange
from goodlength.findings.analyses.match_questions import Groups, graded, repeat, repeat_sign, strata, two
from goodlength.findings.analyses.serve_advantage import in_used_games, p_against_runs, serve_edge
from goodlength.findings.analyses.serve_variation_effect import change_of_serve
from goodlength.findings.question_types import Question, QuestionResult
from goodlength.findings.rally_masks import SIDES, Mask, RallyMasks
from goodlength.findings.reports.match_finding_grades_and_top_three import finding_of, in_order, top_of
from goodlength.findings.result_types import Effect, Finding, Names, Pronoun, SideKey
from goodlength.findings.statistics import exact_tests
from goodlength.findings.statistics.proportion_intervals import jeffreys_share
from goodlength.findings.text.effect_shrinkage import gap_range, stratified_error
from goodlength.record.tables.rally_table import RallyTable

SEVERAL = "the other player"  # how sentences speak of more than one opponent


@dataclass(frozen=True)
class SeasonMatch:
    """One match of the player: the table, which side the player is, the opponent, and the day."""

    table: RallyTable
    side: SideKey
    opponent: str
    played_on: date | None = None


@dataclass(frozen=True)
class SeasonFindings:
    """Findings over several matches. Keys of rallies are "match/key"."""

    player: str
    matches: tuple[str, ...]
    scope: str
    opponents: tuple[str, ...]
    top: tuple[Finding, ...]
    all: tuple[Finding, ...]
    asked: int
    table: RallyTable  # the matches as one, the player always A


def one_table(matches: Sequence[SeasonMatch]) -> tuple[RallyTable, Groups]:
    """Return the matches one after another with the player as A, and which match each rally is of.

    Games are numbered on, so that nothing runs from one match into the next; keys become "match/key".
    """
    if not matches:
        raise OutOfRange(
            "Findings over several matches need at least one match. Choose a player with matches."
        )
    kinds = tuple(dict.fromkeys(kind for match in matches for kind in match.table.kinds))
    parts: dict[str, list[np.ndarray]] = {}
    keys: list[str] = []
    observed: dict[str, list[str | None]] = {"placed": [], "receiver_place": [], "return_to": []}
    last_game = 0
    for match in matches:
        table, swap = match.table, match.side == "b"
        codes = np.array([kinds.index(kind) for kind in table.kinds], dtype=np.int16)
        columns = {
            "game": table.game + last_game,
            "n_in_game": table.n_in_game,
            "server": _seen_from(table.server, swap),
            "box": table.box,
            "kind": np.where(table.kind >= 0, codes[table.kind] if codes.size else -1, -1),
            "how_taken": table.how_taken,
            "left": table.left,
            "winner": _seen_from(table.winner, swap),
            "let": table.let,
            "ending": table.ending,
            "ending_stroke": table.ending_stroke,
            "score_a": table.score_b if swap else table.score_a,
            "score_b": table.score_a if swap else table.score_b,
            "length_s": table.length_s,
            "shots": table.shots,
        }
        for name, column in columns.items():
            parts.setdefault(name, []).append(column)
        keys += [f"{table.match}/{key}" for key in table.key]
        for name, words in observed.items():
            words.extend(getattr(table, name) or [None] * len(table.key))
        last_game += int(table.game.max()) if len(table.key) else 0
    joined: dict[str, Any] = {name: np.concatenate(columns) for name, columns in parts.items()}
    for name, column in joined.items():
        if name not in ("let", "length_s"):
            joined[name] = column.astype(np.int16)
    groups = np.concatenate([np.full(len(m.table.key), i, np.int16) for i, m in enumerate(matches)])
    whole = RallyTable(
        match="",
        key=tuple(keys),
        kinds=kinds,
        placed=tuple(observed["placed"]),
        receiver_place=tuple(observed["receiver_place"]),
        return_to=tuple(observed["return_to"]),
        **joined,
    )
    return whole, groups


def _seen_from(side: np.ndarray, swap: bool) -> np.ndarray:
    return np.where(side >= 0, 1 - side, -1) if swap else side


def _same_sign(gaps: Sequence[float], overall: float) -> float:
    """Return share of the matches showing a gap whose gap has the sign of all together."""
    shown = [gap for gap in gaps if gap != 0]
    return sum((gap > 0) == (overall > 0) for gap in shown) / len(shown) if shown else 0.0


def _compared(
    view: RallyMasks,
    groups: Groups,
    ask: Question,
    counted: Mask,
    array: Mask,
    other: Mask,
    kinds: tuple[int, ...] = (),
) -> QuestionResult:
    """Return two sets of rallies compared within each match."""
    parts = strata(groups, counted, array, other)
    usable = [part for part in parts if part[1] and part[3]]
    test = exact_tests.stratified_exact(usable)
    gap = exact_tests.risk_difference(usable)
    first, second = view.share(counted, array), view.share(counted, other)
    gaps = [a / n - c / m for a, n, c, m in usable]
    boxed = (groups * 3 + view.table.box + 1).astype(np.int16)
    asked = two(
        ask,
        "a",
        first,
        second,
        p=test.mid_p if test.variance > 0 else 1.0,
        kinds=kinds,
        checked_p=_within_boxes(strata(boxed, counted, array, other), gap),
        stated_p=test.stated_p,
    )
    smaller = min(sum(part[1] for part in usable), sum(part[3] for part in usable)) if usable else 0
    return replace(
        _stratified(asked, usable, gap, test.mid_p),
        smaller_side=smaller,
        matches=len(usable),
        same_sign_share=_same_sign(gaps, gap or 0.0),
    )


def _within_boxes(boxed: Sequence[exact_tests.Stratum], gap: float | None) -> float:
    """p of the same comparison within matches and boxes; 1 where the boxes say the opposite."""
    pooled = exact_tests.risk_difference(boxed)
    if gap is None or pooled is None or pooled * gap < 0:
        return 1.0
    return exact_tests.stratified_exact(boxed).mid_p


def _stratified(
    asked: QuestionResult, usable: Sequence[exact_tests.Stratum], gap: float | None, p: float
) -> QuestionResult:
    """Return the question with effect, range, direction and size within strata, never of all counts together.

    With one match the ranges of two plain shares stay: they hold better for small counts.
    """
    error = stratified_error(usable)
    if gap is None or error is None:
        return replace(asked, effect=None, within=None, direction=0.5, p=None)
    if len(usable) == 1 and asked.effect is not None and abs(asked.effect.value - gap) < 1e-9:
        return asked
    low, high = gap_range(gap, error, 0.95)
    return replace(
        asked,
        effect=Effect(gap, low, high),
        within=None if asked.p is None else gap_range(gap, error, 0.90),
        direction=1 - p / 2,
        within_matches=(gap, error),
    )


def _questions(matches: Sequence[SeasonMatch], view: RallyMasks, groups: Groups) -> Iterator[QuestionResult]:
    table, own = view.table, view.served(0) & view.kind_known
    kinds = view.kinds_by_use(0)
    if len(kinds) > 1:
        item, other = own & (table.kind == kinds[0]), own & (table.kind == kinds[1])
        for ask, counted, known in (
            (Question.WEAK, view.weak, view.return_known),
            (Question.WON, view.won(0), view.decided),
        ):
            yield _compared(view, groups, ask, counted, item & known, other & known, kinds[:2])
        yield _changed(matches)
    repeated = repeat(view, 0)
    if repeated is not None:
        yield _by_match(repeated, [repeat_sign(RallyMasks(m.table), SIDES.index(m.side)) for m in matches])
    test = serve_edge(view)
    if test is not None and test.variance > 0:
        used = in_used_games(view)
        serving, receiving = (view.decided & used & view.served(side) for side in (0, 1))
        asked = _compared(view, groups, Question.SERVE_EDGE, view.won(0), serving, receiving)
        yield replace(
            asked,
            p=test.mid_p if asked.p is not None else None,
            checked_p=p_against_runs(view),
            stated_p=None,
            server_won=(test.seen, test.expected, asked.first.of + (asked.second.of if asked.second else 0)),
        )


def _by_match(whole: QuestionResult, signs: Sequence[float | None]) -> QuestionResult:
    gaps = [sign for sign in signs if sign is not None]
    return replace(whole, matches=len(gaps), same_sign_share=_same_sign(gaps, whole.gap))


def _changed(matches: Sequence[SeasonMatch]) -> QuestionResult:
    pairs = [(RallyMasks(m.table), SIDES.index(m.side)) for m in matches]
    found = change_of_serve(pairs)
    names = [f"{m.table.match}/" for m in matches]
    single = [change_of_serve([pair]) for pair in pairs]
    after_change = [
        name + key for name, effect in zip(names, single, strict=True) for key in effect.changed.rallies
    ]
    after_repeat = [
        name + key for name, effect in zip(names, single, strict=True) for key in effect.repeated.rallies
    ]
    changed = jeffreys_share(found.changed.count, found.changed.of, after_change)
    repeated = jeffreys_share(found.repeated.count, found.repeated.of, after_repeat)
    p = found.test.mid_p if found.test.variance > 0 else 1.0
    asked = two(Question.CHANGE, "a", changed, repeated, p=p, stated_p=found.test.stated_p)
    asked = _stratified(asked, found.strata, found.difference, p)
    gaps = [effect.difference for effect in single if effect.difference is not None]
    return replace(asked, matches=len(gaps), same_sign_share=_same_sign(gaps, found.difference or 0.0))


def find_season(
    matches: Sequence[SeasonMatch],
    name: str,
    pronoun: Pronoun | None = None,
    kind_words: Mapping[str, str] | None = None,
) -> SeasonFindings:
    """Return what several matches of one player say together, with the grades of findings over matches.

    Parameters
    ----------
    matches : sequence of SeasonMatch
        One or more, in the order played.
    name, pronoun
        The player, and how sentences may speak of the player.
    kind_words : mapping of str to str, optional
        The coach's words for kinds of serve.

    Returns
    -------
    SeasonFindings
        Clear also needs the same sign in three quarters of the matches that show a gap.

    Raises
    ------
    OutOfRange
        Without a match.

    Source
    ------
    STATS-REF 2.5: matches and opponents are strata, never pooled; 2.6 as replaced by the four grades.
    """
    table, groups = one_table(matches)
    view = RallyMasks(table)
    opponents = tuple(dict.fromkeys(match.opponent for match in matches))
    names = Names(name, opponents[0] if len(opponents) == 1 else SEVERAL, pronoun, None)
    found = graded(list(_questions(matches, view, groups)))
    scope = "in this match" if len(matches) == 1 else f"over {len(matches)} matches"
    asked = sum(result.p is not None for result in found)
    every = [finding_of(view, result, names, kind_words or {}, asked, asked, scope) for result in found]
    every.sort(key=in_order)
    return SeasonFindings(
        name,
        tuple(match.table.match for match in matches),
        scope,
        opponents,
        top_of(every),
        tuple(every),
        asked,
        table,
    )
