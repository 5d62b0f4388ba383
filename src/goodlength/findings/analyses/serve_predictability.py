"""Predictability of the next serve from the serves before it."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaln

from goodlength.findings.rally_masks import FIRST_POINTS, KINDS, LATE_FROM, SIDES, Mask, RallyMasks
from goodlength.findings.result_types import Grade, Guess, GuessingWatch, Names, StateRow
from goodlength.findings.statistics.diversity_entropy import effective_kinds, seeded
from goodlength.findings.statistics.serve_repetition_null import Stretch
from goodlength.findings.text.sentence_grammar import noun
from goodlength.findings.text.win_probability_and_trend_sentences import guess_words

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
ALPHA = 0.5
ORDERS = 400  # of the same serves, left to luck


def transitions(stretches: Sequence[Stretch]) -> tuple[tuple[Hashable, ...], Ints]:
    """Return how often each kind followed each: kinds in order of first sight, and counts [before, after].

    Examples
    --------
    >>> kinds, counts = transitions(["LLSLSLLSLSLSSLSLLSLS"])
    >>> kinds, counts.tolist()
    (('L', 'S'), [[3, 8], [7, 1]])
    """
    kinds = tuple(dict.fromkeys(kind for stretch in stretches for kind in stretch))
    code = {kind: i for i, kind in enumerate(kinds)}
    counts = np.zeros((len(kinds), len(kinds)), dtype=np.int64)
    for stretch in stretches:
        for before, after in pairwise(stretch):
            counts[code[before], code[after]] += 1
    return kinds, counts


def mutual_information(counts: Ints) -> float:
    """Return what the last serve tells of the next, bits, from a table of transitions; far too high for
    few serves.

    Source
    ------
    STATS-REF 3.2. About (K-1)^2 / (2 (N-1) ln 2) bits too high even for a server without habits: never to
    be shown without what luck gives.

    Examples
    --------
    >>> round(mutual_information(np.array([[3, 8], [7, 1]])), 7)
    0.2797179
    """
    n = counts.sum()
    if not n:
        return 0.0
    expected = np.outer(counts.sum(axis=1), counts.sum(axis=0)) / n
    seen = counts > 0
    return float((counts[seen] / n * np.log2(counts[seen] / expected[seen])).sum()) + 0.0


def log2_evidence(counts: Ints, alpha: float = ALPHA) -> float:
    """Return how well one unknown mix explains counts in their order, as log2 of the chance; the higher
    the better.

    Examples
    --------
    >>> round(log2_evidence(np.array([10, 9])), 6)
    -21.430738
    """
    n, k = counts.sum(), counts.size
    whole = gammaln(k * alpha) - gammaln(n + k * alpha) + (gammaln(counts + alpha) - gammaln(alpha)).sum()
    return float(whole / np.log(2))


def chain_factor(stretches: Sequence[Stretch]) -> float:
    """Return the Bayes factor of "the next serve depends on the last" against "it does not".

    Above 1 the serves look linked, below 1 they do not; between a third and three it says little.

    Source
    ------
    STATS-REF 3.2: ratio of Beta functions, Dirichlet(1/2) rows. 1 without a transition.

    Examples
    --------
    >>> round(chain_factor(["LLSLSLLSLSLSSLSLLSLS"]), 6)  # 234/17
    13.764706
    """
    _, counts = transitions(stretches)
    if not counts.sum():
        return 1.0
    linked = sum(log2_evidence(row) for row in counts)
    return float(2.0 ** (linked - log2_evidence(counts.sum(axis=0))))


def _contexts(kinds: Ints, games: Ints, box: Ints, result: Ints, k: int) -> list[tuple[Ints, int]]:
    """Return what each watcher looks at, shape (orders, n), and how many different views there are.

    The last serve of the same game (none at its start), the box, whether the last rally served was won.
    """
    before = np.full_like(kinds, k)
    before[:, 1:] = kinds[:, :-1]
    before[:, games != np.concatenate(([-1], games[:-1]))] = k
    shape = kinds.shape
    by_box = np.broadcast_to(np.where(box < 0, 2, box), shape)
    by_result = np.broadcast_to(result, shape)
    nothing = np.zeros(shape, dtype=np.int64)
    return [(nothing, 1), (before, k + 1), (by_box, 3), (by_result, 4), (before * 3 + by_box, 3 * (k + 1))]


def watch_serves(kinds: Ints, games: Ints, box: Ints, result: Ints, k: int) -> tuple[Ints, Ints, Floats]:
    """Guess each serve from those before it, for many orders of the same serves at once.

    Parameters
    ----------
    kinds : ndarray of int, shape (orders, n)
        Codes 0 to k - 1, in the order served; games follow one another.
    games, box, result : ndarray of int, shape (n,)
        Game; box (0, 1, -1 unknown); of the last rally served in that game: 0 lost, 1 won, 2 let or
        unknown, 3 none.
    k : int
        Kinds there are.

    Returns
    -------
    hits, usual_hits : ndarray of int, shape (orders,)
        Right guesses of the watcher, and of somebody who says the commonest kind so far.
    gain_bits : ndarray, shape (orders,)
        Bits a serve over knowing the mix so far.

    Source
    ------
    STATS-REF 3.2: prequential. Six watchers (the mix; after the last serve; by box; by the last result; last
    serve and box; "the same again?") with Dirichlet(1/2) counts, mixed by how well each has done so far.
    """
    orders, n = kinds.shape
    views = _contexts(kinds, games, box, result, k)
    counts = [np.full((orders, size, k), ALPHA) for _, size in views]
    again = np.full((orders, 2), ALPHA)  # changed, repeated
    before = views[1][0]
    weight = np.zeros((len(views) + 1, orders))
    hits, usual, bits = np.zeros(orders, np.int64), np.zeros(orders, np.int64), np.zeros(orders)
    every = np.arange(orders)
    for i in range(n):
        chances = []
        for (view, _), count in zip(views, counts, strict=True):
            here = count[every, view[:, i]]
            chances.append(here / here.sum(axis=1, keepdims=True))
        chances.append(_again_or_mix(chances[0], before[:, i], again, k))
        trust = np.exp2(weight - weight.max(axis=0))
        trust /= trust.sum(axis=0)
        mixed = np.einsum("wo,wok->ok", trust, np.array(chances))
        true = kinds[:, i]
        hits += np.argmax(mixed, axis=1) == true
        usual += np.argmax(chances[0], axis=1) == true
        bits += np.log2(mixed[every, true] / chances[0][every, true])
        weight += np.log2(np.array(chances)[:, every, true])
        for (view, _), count in zip(views, counts, strict=True):
            count[every, view[:, i], true] += 1
        known = before[:, i] < k
        again[every[known], (before[:, i] == true)[known].astype(np.int64)] += 1
    return hits, usual, bits / max(n, 1)


def _again_or_mix(mix: Floats, before: Ints, again: Floats, k: int) -> Floats:
    """Return chances of a watcher who asks only "the same again?" and else goes by the mix."""
    out = mix.copy()
    rows = np.flatnonzero(before < k)
    if k == 1 or not rows.size:
        return out
    last, same = before[rows], again[rows, 1] / again[rows].sum(axis=1)
    others = 1 - mix[rows, last]
    out[rows] *= ((1 - same) / others)[:, None]
    out[rows, last] = same
    return out


def _last_results(view: RallyMasks, side: int, rows: Ints) -> Ints:
    """Of the last rally this player served in the same game: 0 lost, 1 won, 2 let or unknown, 3 none."""
    won, decided, game = view.won(side), view.decided, view.table.game
    out = np.full(rows.size, 3, dtype=np.int64)
    for i in range(1, rows.size):
        last = rows[i - 1]
        if game[last] == game[rows[i]]:
            out[i] = (1 if won[last] else 0) if decided[last] else 2
    return out


def guess_serves(
    view: RallyMasks,
    side: int,
    names: Names,
    kind_words: Mapping[str, str],
    habit: Grade = Grade.TOO_FEW,
    by_box: bool = False,
    rng: np.random.Generator | None = None,
) -> Guess | None:
    """Return whether somebody who watches could guess one player's next serve.

    Parameters
    ----------
    view : View
        The match.
    side : int
        0 A, 1 B.
    names, kind_words
        For the sentence.
    habit : Grade
        Of the question whether serves repeat the last: without a grade there the sentence claims nothing.
    by_box : bool
        Whether the box explains the order of the serves (`Asked.box_explains`).
    rng : numpy Generator, optional
        Orders the serves anew, within each game; seeded from the serves by default.

    Returns
    -------
    Guess or None
        None with fewer than two serves whose kind is known.

    Limits
    ------
    A watcher with a notebook. An opponent may see more (the grip, the stance) or less.
    """
    rows = np.flatnonzero(view.served(side) & view.kind_known)
    if rows.size < 2:
        return None
    used = view.kinds_by_use(side)
    code = {kind: i for i, kind in enumerate(used)}
    kinds = np.array([code[int(kind)] for kind in view.table.kind[rows]], dtype=np.int64)
    games, box = view.table.game[rows].astype(np.int64), view.table.box[rows].astype(np.int64)
    rng = seeded("guess", tuple(kinds), tuple(games)) if rng is None else rng
    orders = np.vstack([kinds, _reordered(kinds, games, rng)])
    hits, usual, bits = watch_serves(orders, games, box, _last_results(view, side, rows), len(used))
    stretches = [[int(view.table.kind[i]) for i in stretch] for stretch in view.stretches(side)]
    information = [_information(order, games) for order in orders[:: ORDERS // 100]]
    low, high = (int(x) for x in np.quantile(hits[1:], [0.025, 0.975], method="inverted_cdf"))
    seen = GuessingWatch(int(hits[0]), int(usual[0]), int(rows.size), float(bits[0]))
    commonest = noun(view.table.kinds[used[0]], kind_words).one
    return Guess(
        seen,
        low,
        high,
        chain_factor(stretches),
        information[0],
        float(np.quantile(information[1:], 0.95)),
        tuple(_states(view, side)),
        guess_words(names, SIDES[side], seen, (low, high), commonest, len(used), habit, by_box),
    )


def _reordered(kinds: Ints, games: Ints, rng: np.random.Generator) -> Ints:
    """Return the same serves in other orders, shuffled within each game; shape (ORDERS, n)."""
    out = np.tile(kinds, (ORDERS, 1))
    for game in np.unique(games):
        here = np.flatnonzero(games == game)
        out[:, here] = rng.permuted(out[:, here], axis=1)
    return out


def _information(kinds: Ints, games: Ints) -> float:
    k = int(kinds.max()) + 1
    same = games[1:] == games[:-1]
    pairs = np.bincount(kinds[:-1][same] * k + kinds[1:][same], minlength=k * k)
    return mutual_information(pairs.reshape(k, k))


def _states(view: RallyMasks, side: int) -> list[StateRow]:
    """Return the mix by box and by score."""
    table, own = view.table, view.served(side) & view.kind_known
    early = table.score_a + table.score_b < FIRST_POINTS
    late = (table.score_a >= LATE_FROM) & (table.score_b >= LATE_FROM)
    ahead = (table.score_a > table.score_b) if side == 0 else (table.score_b > table.score_a)
    behind = (table.score_a < table.score_b) if side == 0 else (table.score_b < table.score_a)
    states: list[tuple[str, Mask]] = [
        ("From the right box", table.box == 0),
        ("From the left box", table.box == 1),
        ("First four points of a game", early),
        ("Both on 8 or more", late),
        ("Ahead", ahead),
        ("Behind", behind),
    ]
    return [_state(view, words, own & mask) for words, mask in states]


def _state(view: RallyMasks, words: str, mask: Mask) -> StateRow:
    counts = np.bincount(view.table.kind[mask], minlength=len(view.table.kinds))
    seen = np.bincount(view.table.kind[view.kind_known], minlength=len(view.table.kinds)) > 0
    n = int(counts.sum())
    if not n:
        return StateRow(words, 0, None, view.share(mask, mask), None, None, None)
    commonest = int(counts.argmax())
    share = view.share(view.table.kind == commonest, mask, rests=KINDS)
    return StateRow(words, n, view.table.kinds[commonest], share, *effective_kinds(counts[seen].tolist()))
