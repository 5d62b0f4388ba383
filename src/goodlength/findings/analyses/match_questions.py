"""Questions asked of a match: the declared list of headline questions, and the exploratory ones.

The list is fixed before any result is seen. Which kinds a question compares follows from how often they
were served, never from what they did. Questions too small to carry a grade are not asked and do not count.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from goodlength.findings.analyses import serve_advantage
from goodlength.findings.analyses.serve_variation_effect import change_of_serve
from goodlength.findings.question_types import RESTS_ON, Question, QuestionResult
from goodlength.findings.rally_masks import (
    KINDS,
    SERVICE_FAULT,
    SIDES,
    WEAK,
    WEAK_BY_KIND,
    WEAK_BY_TAKEN,
    WON,
    WON_BY_KIND,
    Mask,
    RallyMasks,
    wider_by,
)
from goodlength.findings.result_types import Effect, Share, SideKey
from goodlength.findings.statistics import (
    exact_tests,
    restricted_permutation_tests,
    serve_repetition_null,
)
from goodlength.findings.statistics.evidence_grades import (
    LEANING_SIDE,
    GradeEvidence,
    grade,
    joint,
)
from goodlength.findings.statistics.proportion_intervals import jeffreys_share, newcombe
from goodlength.findings.text.effect_shrinkage import pooled_error, stratified_error
from goodlength.record.model import ReturnKind
from goodlength.record.tables.rally_table import HOW_TAKEN

Groups = NDArray[np.int16]
VOLLEYED = HOW_TAKEN.index(ReturnKind.VOLLEYED)
_SURE = 5.0  # the variance of the repeats is taken to be one a pair; a quarter were they independent
BY_BOXES = 1.5  # times by which p within boxes is above that of all orders, before it is the one told
WRITTEN = 0.6  # share of the rallies a column must be answered in; below it nobody knows what is missing


def two(
    ask: Question, side: SideKey, first: Share, second: Share, p: float | None = None, **more: object
) -> QuestionResult:
    """Return two shares held against each other; `p` is Fisher's mid-p unless another test is given."""
    smaller = min(first.of, second.of)
    wins, tries = first.count + second.count, first.of + second.of
    if not smaller:
        return QuestionResult(ask, side, first, second, None, 0.5, 0, **more)  # type: ignore[arg-type]
    wider = (wider_by(first), wider_by(second))
    value, low, high = newcombe(first.count, first.of, second.count, second.of, wider=wider)
    _, low90, high90 = newcombe(first.count, first.of, second.count, second.of, 0.90, wider)
    above = exact_tests.chance_first_is_higher(first.count, first.of, second.count, second.of)
    askable = smaller >= LEANING_SIDE and 0 < wins < tries
    if askable and p is None:
        test = exact_tests.fisher(first.count, first.of, second.count, second.of)
        p, more = test.mid_p, {"stated_p": test.stated_p, **more}
    return QuestionResult(
        ask,
        side,
        first,
        second,
        p if askable else None,
        max(above, 1 - above),
        smaller,
        effect=Effect(value, low, high),
        within=(low90, high90) if askable else None,  # all won or all lost: nothing was asked
        **more,  # type: ignore[arg-type]
    )


def strata(groups: Groups, counted: Mask, array: Mask, other: Mask) -> list[exact_tests.Stratum]:
    """Return wins and sizes of two sets of rallies, group by group (boxes, matches, both)."""
    out = []
    for group in np.unique(groups):
        here = groups == group
        hit, a, b = counted & here, array & here, other & here
        out.append((int((hit & a).sum()), int(a.sum()), int((hit & b).sum()), int(b.sum())))
    return out


def within(groups: Groups, counted: Mask, array: Mask, other: Mask) -> tuple[float, float]:
    """Return p of the same comparison inside each group, a gap not the groups' doing, and p to be stated."""
    parts = strata(groups, counted, array, other)
    pooled = exact_tests.risk_difference(parts)
    crude = (counted & array).sum() * other.sum() - (counted & other).sum() * array.sum()
    if pooled is None or pooled * float(crude) < 0:
        return 1.0, 1.0  # nothing to compare inside a group, or the groups say the opposite
    test = exact_tests.stratified_exact(parts)
    return test.mid_p, test.stated_p


def _gap_within_boxes(
    parts: Sequence[exact_tests.Stratum], asked: QuestionResult
) -> tuple[float, float] | None:
    """Return the gap inside boxes with its error; None where no box has both sides, or it is the other way.

    A server whose kinds follow the box shows the box's gap in the counts of the kinds. The gap inside boxes
    is taken whether it is smaller or larger than that of all counts: the smaller of the two would be too
    small on average.
    """
    gap, error = exact_tests.risk_difference(parts), stratified_error(parts)
    if gap is None or error is None or asked.second is None or gap * asked.gap < 0:
        return None
    crude = pooled_error(asked.first.count, asked.first.of, asked.second.count, asked.second.of)
    return gap, max(error, crude)


def _by_kind(
    view: RallyMasks, side: int, kinds: tuple[int, ...], asks: tuple[Question, Question]
) -> Iterator[QuestionResult]:
    """Weak returns and rallies won: one kind against the next commonest, or against all others."""
    own = view.served(side) & view.kind_known
    item = own & (view.table.kind == kinds[0])
    other = own & (view.table.kind == kinds[1]) if len(kinds) > 1 else own & ~item
    figures = (
        (view.weak, view.return_known, WEAK_BY_KIND),
        (view.won(side), view.decided, WON_BY_KIND),
    )
    for ask, (counted, known, rests) in zip(asks, figures, strict=True):
        a, b = item & known, other & known
        first, second = (view.share(counted, here, rests=rests) for here in (a, b))
        asked = two(ask, SIDES[side], first, second, kinds=kinds)
        if asked.p is not None:
            boxes, stated = within(view.table.box, counted, a, b)
            parts = strata(view.table.box, counted, a, b)
            inside, gap = _gap_within_boxes(parts, asked), exact_tests.risk_difference(parts)
            p = max(asked.p, boxes)
            asked = replace(
                asked,
                p=p,
                plain_p=asked.p,
                within_boxes=inside,
                compared=gap,
                apart=gap is None,
                stated_p=max(asked.stated_p or p, stated),
                stated_plain_p=asked.stated_p,
            )
        yield asked


def _drift(view: RallyMasks, side: int, kind: int, ask: Question) -> QuestionResult | None:
    """Return the share of a kind in the first part and after it; p holds also where serves come in runs."""
    parts = view.parts(side)
    if parts is None:
        return None
    own = view.served(side) & view.kind_known
    late = np.isin(view.table.game, parts[1])
    is_kind = view.table.kind == kind
    first, second = (view.share(is_kind, part, rests=KINDS) for part in (own & ~late, own & late))
    asked = two(ask, SIDES[side], first, second, kinds=(kind,), games=parts)
    asked = _in_runs(asked, view.independent_part(side))
    if asked.p is None:
        return asked
    in_runs = restricted_permutation_tests.drift_p(
        is_kind[own & ~late].tolist(), is_kind[own & late].tolist()
    )
    return replace(asked, p=max(asked.p, in_runs), plain_p=asked.p)


def _in_runs(asked: QuestionResult, independent: float) -> QuestionResult:
    """Return the same difference with the ranges that fewer independent serves give."""
    if asked.second is None or asked.effect is None:
        return asked
    sizes = [max(1.0, share.of * independent) for share in (asked.first, asked.second)]
    counts = [share.count / share.of * n for share, n in zip((asked.first, asked.second), sizes, strict=True)]
    wider = (wider_by(asked.first), wider_by(asked.second))
    value, low, high = newcombe(counts[0], sizes[0], counts[1], sizes[1], wider=wider)
    _, low90, high90 = newcombe(counts[0], sizes[0], counts[1], sizes[1], 0.90, wider)
    return replace(asked, effect=Effect(value, low, high), within=(low90, high90))


@dataclass(frozen=True)
class Order:
    """Serves of one player in order, with the orders that keep the kinds of each box."""

    rows: list[list[int]]
    kinds: list[list[int]]
    within_box: restricted_permutation_tests.Ordered


def order_of(view: RallyMasks, side: int) -> Order | None:
    """Return serves of a player in order; None where none follows another in a game."""
    rows = view.stretches(side)
    kinds = [[int(view.table.kind[i]) for i in stretch] for stretch in rows]
    boxes = [[int(view.table.box[i]) for i in stretch] for stretch in rows]
    if not any(len(stretch) > 1 for stretch in kinds):
        return None
    reordering = restricted_permutation_tests.repeats_within(kinds, boxes)
    by_kind = (reordering.p_after(kind) for kind in range(reordering.again.shape[1]))
    if (
        not reordering.many
        and min(reordering.p_repeats(), *by_kind) < restricted_permutation_tests.REFINE_BELOW
    ):
        reordering = restricted_permutation_tests.repeats_within(
            kinds, boxes, restricted_permutation_tests.CAREFUL
        )
    return Order(rows, kinds, reordering)


def repeat(view: RallyMasks, side: int, order: Order | None = None) -> QuestionResult | None:
    """Return repeats beside luck; p holds also where the box decides the kind."""
    order = order or order_of(view, side)
    if order is None:
        return None
    pairs = [pair for stretch in order.rows for pair in itertools.pairwise(stretch)]
    again = tuple(view.table.key[j] for i, j in pairs if view.table.kind[i] == view.table.kind[j])
    test, chances = (
        serve_repetition_null.repeat_test(order.kinds),
        serve_repetition_null.repeat_chances(order.kinds),
    )
    low, high = serve_repetition_null.band(np.arange(chances.size, dtype=float), chances)
    n = len(pairs)
    smaller = _fewer_of_two(order.kinds)
    askable = smaller >= LEANING_SIDE and test.variance > 0
    permuted = order.within_box.repeats
    same_way = (test.seen - test.expected) * (permuted[0] - permuted[1:].mean()) > 0
    by_box = order.within_box.p_repeats() if same_way else 1.0
    luck = (test.expected / n, low / n, high / n)
    boxed = askable and by_box > BY_BOXES * test.mid_p
    return QuestionResult(
        Question.REPEAT,
        SIDES[side],
        jeffreys_share(len(again), n, again),
        None,
        max(test.mid_p, by_box) if askable else None,
        _beyond(len(again), n, test.expected / n),
        smaller,
        luck=order.within_box.luck_of_repeats(n) if boxed else luck,
        plain_luck=luck if boxed else None,
        plain_p=test.mid_p if askable else None,
        by_box=_by_box(view, side),
    )


def _fewer_of_two(kinds: Sequence[Sequence[int]]) -> int:
    """Return how many serves in order are of the commonest kind, or of all others: the fewer."""
    ordered = [k for stretch in kinds if len(stretch) > 1 for k in stretch]
    commonest = max(np.bincount(ordered))
    return int(min(commonest, len(ordered) - commonest))


def repeat_sign(view: RallyMasks, side: int) -> float | None:
    """Return the sign of the gap that `repeat` gives: -1, 0 or 1; None where it gives nothing.

    Orders are drawn only where their mean lies so near to the repeats seen that the drawn ones decide: the
    exact mean is within `_SURE` standard errors of the drawn one, for a spread no order of serves has.
    """
    kinds, boxes = (
        [[int(column[i]) for i in stretch] for stretch in view.stretches(side)]
        for column in (view.table.kind, view.table.box)
    )
    if not any(len(stretch) > 1 for stretch in kinds):
        return None
    test = serve_repetition_null.repeat_test(kinds)
    pairs = sum(len(stretch) - 1 for stretch in kinds)
    of_all = float(np.sign(test.seen / pairs - test.expected / pairs))
    if _fewer_of_two(kinds) < LEANING_SIDE or test.variance <= 0:
        return of_all
    within = test.seen - restricted_permutation_tests.expected_repeats_within(kinds, boxes)
    orders = restricted_permutation_tests.number_of_orders(kinds)
    if abs(within) <= _SURE * np.sqrt(pairs / orders):
        result = repeat(view, side)
        return None if result is None else float(np.sign(result.gap))
    boxed = of_all * within > 0 or BY_BOXES * test.mid_p < 1
    return float(np.sign(within)) if boxed else of_all


def _by_box(view: RallyMasks, side: int) -> tuple[Share, Share]:
    """Return the commonest kind of a player from the right and from the left box."""
    own = view.served(side) & view.kind_known
    commonest = view.table.kind == view.kinds_by_use(side)[0]
    right, left = (own & (view.table.box == box) for box in (0, 1))
    return view.share(commonest, right, rests=KINDS), view.share(commonest, left, rests=KINDS)


def _beyond(count: int, of: int, luck_share: float) -> float:
    """Return chance that the true share lies on the side of `luck_share` where it was seen."""
    from scipy.special import betainc

    below = float(betainc(count + 1, of - count + 1, luck_share))
    return max(below, 1 - below)


def _after(view: RallyMasks, side: int, kind: int, order: Order | None) -> QuestionResult | None:
    if order is None:
        return None
    result = serve_repetition_null.after_kind(order.kinds, kind)
    if not result.followed:
        return None
    again = tuple(
        view.table.key[j]
        for stretch in order.rows
        for i, j in itertools.pairwise(stretch)
        if view.table.kind[i] == kind == view.table.kind[j]
    )
    others = sum(k != kind for stretch in order.kinds if len(stretch) > 1 for k in stretch)
    smaller = min(result.followed, others)
    by_box = order.within_box.p_after(kind)
    luck = (result.mean, result.low, result.high)
    boxed = smaller >= LEANING_SIDE and by_box > BY_BOXES * result.p
    return QuestionResult(
        Question.AFTER,
        SIDES[side],
        jeffreys_share(result.repeated, result.followed, again),
        None,
        max(result.p, by_box) if smaller >= LEANING_SIDE else None,
        _beyond(result.repeated, result.followed, result.mean),
        smaller,
        kinds=(kind,),
        luck=order.within_box.luck_after(kind) if boxed else luck,
        plain_luck=luck if boxed else None,
        plain_p=result.p if smaller >= LEANING_SIDE else None,
    )


def _change(view: RallyMasks, side: int) -> QuestionResult:
    """Changed serves against repeated ones of the same kind and box."""
    found = change_of_serve([(view, side)])
    crude = found.changed.count * found.repeated.of - found.repeated.count * found.changed.of
    agrees = found.difference is not None and found.difference * crude >= 0
    return two(
        Question.CHANGE,
        SIDES[side],
        found.changed,
        found.repeated,
        p=found.test.mid_p if found.test.variance > 0 else 1.0,
        stated_p=found.test.stated_p,
        checked_p=0.0 if agrees else 1.0,
        compared=found.difference,
    )


def _of_side(view: RallyMasks, side: int) -> Iterator[QuestionResult | None]:
    """Yield the declared questions of one player, then what is looked at beside them."""
    kinds, order = view.kinds_by_use(side), order_of(view, side)
    yield repeat(view, side, order)
    if len(kinds) > 1:
        yield _drift(view, side, kinds[0], Question.DRIFT)
        yield _change(view, side)
    if kinds:
        yield from _by_kind(view, side, kinds[:2], (Question.WEAK, Question.WON))
    for kind in kinds[2:]:
        yield from _by_kind(view, side, (kind,), (Question.KIND_WEAK, Question.KIND_WON))
    for kind in kinds[1:] if len(kinds) > 2 else ():  # of two kinds one says it all
        yield _drift(view, side, kind, Question.KIND_DRIFT)
    for kind in kinds if len(kinds) > 1 else ():
        yield _after(view, side, kind, order)
    own, right, left = view.served(side), view.table.box == 0, view.table.box == 1
    for ask, counted, known, rests in (
        (Question.BOX_WEAK, view.weak, view.return_known, WEAK),
        (Question.BOX_WON, view.won(side), view.decided, WON),
    ):
        here = own & known
        first, second = (view.share(counted, here & box, rests=rests) for box in (right, left))
        yield two(ask, SIDES[side], first, second)
    taken = own & view.return_known & (view.table.how_taken >= 0)
    volleyed = view.table.how_taken == VOLLEYED
    made = taken & (view.table.how_taken != HOW_TAKEN.index(ReturnKind.NOT_MADE))
    yield two(
        Question.VOLLEY,
        SIDES[side],
        view.share(view.weak, made & volleyed, rests=WEAK_BY_TAKEN),
        view.share(view.weak, made & ~volleyed, rests=WEAK_BY_TAKEN),
    )


def length_column(view: RallyMasks) -> tuple[np.ndarray, str] | None:
    """Return rally lengths and their unit: shots where most rallies have them, else seconds; None without."""
    shots, seconds = view.table.shots, view.table.length_s
    known_shots, known_s = (shots >= 0) & view.decided, np.isfinite(seconds) & view.decided
    if int(known_shots.sum()) >= max(int(known_s.sum()), 2 * LEANING_SIDE):
        return np.where(shots >= 0, shots.astype(float), np.nan), "shots"
    if known_s.sum() >= 2 * LEANING_SIDE:
        return seconds, "s"
    return None


def _counted_in(view: RallyMasks, used: Mask) -> tuple[tuple[int, ...], tuple[int, ...]] | None:
    """Return the games counted and those left out; None where all are counted."""
    inside = tuple(int(game) for game in np.unique(view.table.game[used]))
    outside = tuple(game for game in view.games if game not in inside)
    return (inside, outside) if outside else None


def match_questions(view: RallyMasks, side: int) -> Iterator[QuestionResult]:
    """Yield the questions of the match as a whole, about one player; the chances are the same for both."""
    used = serve_advantage.in_used_games(view)
    serving, receiving = (view.decided & used & view.served(number) for number in (side, 1 - side))
    plain, won = serve_advantage.serve_edge(view), view.won(side)
    if plain is not None and plain.variance > 0:
        first, second = view.share(won, serving, rests=WON), view.share(won, receiving, rests=WON)
        against_runs = serve_advantage.p_against_runs(view)
        yield two(
            Question.SERVE_EDGE,
            SIDES[side],
            first,
            second,
            p=plain.mid_p,
            checked_p=against_runs,
            server_won=(plain.seen, plain.expected, first.of + second.of),
            games=_counted_in(view, used),
        )
    column = length_column(view)
    if column is not None:
        lengths = column[0]
        known = view.decided & np.isfinite(lengths)
        longer = known & (lengths > np.median(lengths[known]))
        first, second = (view.share(won, here, rests=WON) for here in (longer, known & ~longer))
        yield two(Question.LONG, SIDES[side], first, second)


def judge_all(view: RallyMasks, unreliable: frozenset[str] = frozenset()) -> tuple[QuestionResult, ...]:
    """Return everything asked of a match, of both players, each with its adjusted p and its grade.

    Parameters
    ----------
    view : View
        The match.
    unreliable : frozenset of str
        Columns two observers did not agree on (`reliability.compare`): their questions get no grade.

    Returns
    -------
    tuple of Asked
        Questions of the match (said of A), of A, of B. Those with `p` None were too small to ask.
    """
    asked = list(match_questions(view, 0))
    for side in (0, 1):
        asked += [question_result for question_result in _of_side(view, side) if question_result is not None]
    seldom = {side: unwritten(view, SIDES.index(side)) for side in SIDES}
    for i, result in enumerate(asked):
        doubted = RESTS_ON[result.ask] & unreliable
        missing = RESTS_ON[result.ask] & seldom[result.side] if result.p is not None else frozenset[str]()
        if doubted or missing:
            asked[i] = replace(result, p=None, within=None, doubted=doubted, unwritten=missing)
    return graded(asked)


def unwritten(view: RallyMasks, side: int) -> frozenset[str]:
    """Return columns answered for too few of one player's serves, games without a single answer left out.

    What nobody wrote down is seldom like what was written: dull returns are skipped, rare serves are not.
    """
    lets = view.table.let
    own, faults = view.served(side), view.table.ending == SERVICE_FAULT
    columns = {
        "kind": (view.kind_known, own),
        "left": (view.return_known, own & view.kind_known & ~lets & ~faults),
        "winner": (view.decided, ~lets),
    }
    return frozenset(name for name, (known, among) in columns.items() if _seldom(view, known, among))


def _seldom(view: RallyMasks, known: Mask, among: Mask) -> bool:
    """Return whether a column is known for less than `WRITTEN` of the rallies, in games with any answer."""
    answered = np.isin(view.table.game, view.table.game[known & among])
    of = int((among & answered).sum())
    return of > 0 and int((known & among).sum()) < WRITTEN * of


def graded(asked: Sequence[QuestionResult]) -> tuple[QuestionResult, ...]:
    """Return the same questions with their p adjusted over all of them, and their grades."""
    tested = [i for i, result in enumerate(asked) if result.p is not None]
    p = [result.p for result in asked if result.p is not None]
    adjusted = joint(p, [asked[i].listed for i in tested])
    out = list(asked)
    for i, q in zip(tested, adjusted, strict=True):
        out[i] = replace(out[i], q=float(q))
    return tuple(replace(result, grade=grade(evidence(result))) for result in out)


def evidence(result: QuestionResult) -> GradeEvidence:
    return GradeEvidence(
        result.q,
        result.smaller_side,
        result.direction,
        result.listed,
        result.within,
        result.checked_p,
        result.same_sign_share,
        result.matches,
        reliable=not result.doubted,
    )
