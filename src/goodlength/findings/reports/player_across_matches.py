"""A player across matches: graded results over several, usual figures, by kind and by opponent."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
from scipy.special import stdtr, stdtrit

from goodlength.errors import OutOfRange
from goodlength.findings.analyses.rallies_by_phase_stroke_place import won_row
from goodlength.findings.rally_masks import SIDES, Mask, RallyMasks
from goodlength.findings.reference.published_norm_types import Norm
from goodlength.findings.reports.findings_stratified_by_match import SeasonMatch, find_season
from goodlength.findings.reports.player_trends import (
    MEASURES,
    BeforeAfter,
    ProfileRow,
    Trend,
    before_after,
    profile,
    trend,
)
from goodlength.findings.result_types import Finding, Grade, PooledShare, Pronoun, Share, WonRow
from goodlength.findings.statistics.evidence_grades import GradeEvidence, holm
from goodlength.findings.statistics.evidence_grades import grade as grade_of
from goodlength.findings.statistics.median_intervals import MedianRange, median_range
from goodlength.findings.statistics.mixed_model import FactorLevel, fit_mixed_model
from goodlength.findings.statistics.partial_pooling_over_serve_kinds import pooled_posterior
from goodlength.findings.statistics.proportion_intervals import jeffreys_share
from goodlength.findings.text.effect_shrinkage import turned_by_mix
from goodlength.findings.text.sentence_grammar import capital, label, number_in_words, plural
from goodlength.findings.text.win_probability_and_trend_sentences import (
    COUNTS_SUGGEST_MORE,
    before_after_words,
    trend_words,
)
from goodlength.record.tables.answer_origins import CountedAnswers

# What each measure of a profile is out of; said wherever its figure is shown.
OUT_OF = {
    "serving": "rallies served, lets excluded",
    "receiving": "rallies received, lets excluded",
    "weak-drawn": "serves with the return logged, lets included",
    "weak-given": "returns logged, lets included",
    "unforced": "rallies with an ending, lets excluded",
}
REGRESSION = (
    "A very bad day is usually followed by a better one anyway: judge by more than one match on each side."
)
SIX = 6  # matches before the middle match has a range at 95 in 100


@dataclass(frozen=True)
class KindAcross:
    """One kind of serve over matches: how often, and what it did.

    `usual` and `spread` are the share served, match by match, as a beta-binomial; None from one match.
    """

    kind: str
    words: str
    matches: int  # in which it was served
    served: Share  # of serves with a kind written down
    middle: MedianRange  # of the share served, match by match
    usual: PooledShare | None
    spread: float | None
    weak: Share  # returns loose or not made, of those written down
    won: Share  # rallies won, lets left out
    trend: Trend | None


@dataclass(frozen=True)
class OpponentAcross:
    """One opponent: matches, the last day, and rallies won against them, each with what it is out of.

    `chance` is that of a rally served, kinds of serve held alike, drawn in towards the other opponents; None
    with a single opponent, or where no kind is written down.
    """

    name: str
    matches: int
    last_played: date | None
    serving: Share
    receiving: Share
    chance: FactorLevel | None


@dataclass(frozen=True)
class MeasureChange:
    """One measure before and after, judged beside the others asked at the same time; at most Leaning."""

    measure: str
    change: BeforeAfter
    q: float | None
    grade: Grade
    words: str


@dataclass(frozen=True)
class PlayerAcrossMatches:
    """Everything over a player's matches. `stable` says in words how far the usual figures reach."""

    player: str
    matches: tuple[str, ...]
    first_played: date | None
    last_played: date | None
    scope: str
    findings: tuple[Finding, ...]
    serving: WonRow
    receiving: WonRow
    rows: tuple[ProfileRow, ...]
    kinds: tuple[KindAcross, ...]
    opponents: tuple[OpponentAcross, ...]
    changes: tuple[MeasureChange, ...]
    change_on: date | None
    stable: str
    context: tuple[Norm, ...]
    notes: tuple[str, ...] = ()
    answers: CountedAnswers | None = None  # who gave what is counted


def across(
    matches: Sequence[SeasonMatch],
    name: str,
    pronoun: Pronoun | None = None,
    kind_words: Mapping[str, str] | None = None,
    change_on: date | None = None,
    notes: Sequence[str] = (),
) -> PlayerAcrossMatches:
    """Return a player over matches.

    Parameters
    ----------
    matches : sequence of SeasonMatch
        In the order played.
    name, pronoun
        The player.
    kind_words : mapping of str to str, optional
        The coach's words for kinds of serve.
    change_on : date, optional
        First day after a practice block: every measure is then held against itself before and after.
    notes : sequence of str
        What was left out of the matches beforehand; handed on.

    Returns
    -------
    Across
        Grades as `find_season` gives them: Clear also needs the same sign in three quarters of the matches.

    Raises
    ------
    OutOfRange
        Without a match, or where `change_on` has matches with a day on one side only.

    Source
    ------
    STATS-REF 2.2 (medians by ranks, profiles per opponent), 2.4 (beta-binomial; the logistic model).
    """
    season = find_season(matches, name, pronoun, kind_words)
    view = RallyMasks(season.table)
    days = [match.played_on for match in matches if match.played_on is not None]
    rows, kinds = _with_judged_trends(profile(matches), _kinds(matches, view, kind_words or {}))
    return PlayerAcrossMatches(
        player=name,
        matches=season.matches,
        first_played=min(days, default=None),
        last_played=max(days, default=None),
        scope=season.scope,
        findings=season.all,
        serving=won_row(view, "Serving", 0, view.served(0)),
        receiving=won_row(view, "Receiving", 0, view.served(1)),
        rows=rows,
        kinds=kinds,
        opponents=_opponents(matches),
        changes=() if change_on is None else changes(matches, change_on),
        change_on=change_on,
        stable=_stable(len(matches)),
        context=_context(),
        notes=tuple(notes),
    )


def changes(matches: Sequence[SeasonMatch], on: date) -> tuple[MeasureChange, ...]:
    """Return every measure before and from a day on, against the same opponents; matches without a day
    stay out.

    Raises
    ------
    OutOfRange
        If no match lies on one of the two sides.
    """
    before = [match for match in matches if match.played_on is not None and match.played_on < on]
    after = [match for match in matches if match.played_on is not None and match.played_on >= on]
    if not before or not after:
        side = "before" if not before else "from"
        raise OutOfRange(
            f"There is no dated match {side} {on.isoformat()}, so there is nothing to compare with. "
            "Choose another day, or enter the dates of the matches."
        )
    found = [(measure, before_after(before, after, measure)) for measure in MEASURES]
    asked = [candidate.p for _, candidate in found if candidate.difference is not None]
    adjusted = iter(holm(asked)) if asked else iter(())
    out = []
    for measure, comparison in found:
        q = float(next(adjusted)) if comparison.difference is not None else None
        grade = _graded(q, min(comparison.before.of, comparison.after.of))
        out.append(MeasureChange(measure, comparison, q, grade, _change_words(measure, comparison, grade)))
    return tuple(out)


def _graded(q: float | None, smaller: int) -> Grade:
    """Outside the declared list: Leaning at most. P(direction) follows from p here, so q stands for both."""
    return grade_of(
        GradeEvidence(q=q, smaller_side=smaller, direction=1.0 if q is None else 1 - q / 2, listed=False)
    )


def _change_words(measure: str, comparison: BeforeAfter, grade: Grade) -> str:
    """Return the sentence of before and after, no surer than its grade."""
    if grade is Grade.LEANING and comparison.difference is not None:
        risen = "risen" if comparison.difference > 0 else "fallen"
        points = round(abs(100 * comparison.difference))
        seems = f"It seems to have {risen}, by about {points} percentage {plural(points, 'point', 'points')}."
        together = comparison.after.count / max(comparison.after.of, 1) - comparison.before.count / max(
            comparison.before.of, 1
        )
        if turned_by_mix(comparison.difference, together):
            seems += " That is opponent by opponent: the counts together hide it."
    else:
        seems = "We cannot say whether it changed."
    low, high = (
        (None, None) if comparison.difference is None else (-1.0, 1.0)
    )  # the sentence that claims nothing
    words = before_after_words(
        MEASURES[measure][0],
        comparison.before,
        comparison.after,
        comparison.difference,
        low,
        high,
        len(comparison.opponents),
        len(comparison.left_out),
    )
    if " That is opponent by opponent" in seems:
        words = words.replace(f" {COUNTS_SUGGEST_MORE}", "")
    return words.replace("We cannot say whether it changed.", seems).removesuffix(REGRESSION).strip()


def _with_judged_trends(
    rows: Sequence[ProfileRow], kinds: Sequence[KindAcross]
) -> tuple[tuple[ProfileRow, ...], tuple[KindAcross, ...]]:
    """Trends with words no surer than all of them asked together allow."""
    trends = [*(row.trend for row in rows), *(kind.trend for kind in kinds)]
    asked = [trend_p(candidate) for candidate in trends if candidate is not None and candidate.estimable]
    adjusted = iter(holm(asked) if asked else ())

    def judged(player_trend: Trend | None, words: str) -> Trend | None:
        if player_trend is None or not player_trend.estimable:
            return player_trend
        return replace(player_trend, words=_trend_words(words, player_trend, float(next(adjusted))))

    judged_rows = tuple(replace(row, trend=judged(row.trend, row.words)) for row in rows)
    judged_kinds = tuple(
        replace(kind, trend=judged(kind.trend, f"{kind.words}: share of serves")) for kind in kinds
    )
    return judged_rows, judged_kinds


def trend_p(player_trend: Trend) -> float:
    """Return the p that belongs to a trend's range, by the t distribution it was made with."""
    half = (player_trend.high - player_trend.low) / 2
    if half <= 0:
        return 1.0
    t = abs(player_trend.per_match) * float(stdtrit(player_trend.matches - 2, 0.975)) / half
    return min(1.0, 2 * float(stdtr(player_trend.matches - 2, -t)))


def _trend_words(words: str, player_trend: Trend, q: float) -> str:
    if _graded(q, player_trend.smaller_side) is not Grade.LEANING:
        return trend_words(
            words, 0.0, min(player_trend.low, 0.0), max(player_trend.high, 0.0), player_trend.matches
        )
    way = "rise" if player_trend.per_match > 0 else "fall"
    ends = f"from {100 * player_trend.low:+.1f} to {100 * player_trend.high:+.1f}".replace("-", "−")
    return (
        f"{words}: seems to {way} by about {abs(100 * player_trend.per_match):.1f} percentage points "
        f"per match ({ends}), over {player_trend.matches} matches."
    )


def _kinds(
    matches: Sequence[SeasonMatch], view: RallyMasks, kind_words: Mapping[str, str]
) -> tuple[KindAcross, ...]:
    """Kinds the player served, the commonest first."""
    own = view.served(0) & view.kind_known
    played = [(RallyMasks(match.table), SIDES.index(match.side)) for match in matches]
    rows = []
    for code in view.kinds_by_use(0):
        kind = view.table.kinds[code]
        this: Mask = own & (view.table.kind == code)
        count, of = _counts(played, kind)
        known = [(c, n) for c, n in zip(count, of, strict=True) if n]
        usual, spread = _usual(known)
        words = label(kind, kind_words)
        rows.append(
            KindAcross(
                kind,
                words,
                sum(c > 0 for c in count),
                view.share(this, own),
                median_range([c / n for c, n in known]),
                usual,
                spread,
                view.share(view.weak, this & view.return_known),
                view.share(view.won(0), this & view.decided),
                trend([c for c, _ in known], [n for _, n in known], f"{words}: share of serves"),
            )
        )
    return tuple(rows)


def _counts(played: Sequence[tuple[RallyMasks, int]], kind: str) -> tuple[list[int], list[int]]:
    """Return serves of one kind, and of any kind, match by match."""
    count, of = [], []
    for view, me in played:
        own = view.served(me) & view.kind_known
        code = view.table.kinds.index(kind) if kind in view.table.kinds else -2
        count.append(int((own & (view.table.kind == code)).sum()))
        of.append(int(own.sum()))
    return count, of


def _usual(known: Sequence[tuple[int, int]]) -> tuple[PooledShare | None, float | None]:
    """Return where the share of a match usually lies and how far matches differ, beyond what counting
    gives.
    """
    if len(known) < 2:
        return None, None
    posterior = pooled_posterior([count for count, _ in known], [of for _, of in known])
    order = np.argsort(posterior.mu, kind="stable")
    upto = np.cumsum(posterior.weight[order])
    low, high = (float(posterior.mu[order][np.searchsorted(upto, at)]) for at in (0.025, 0.975))
    return PooledShare(posterior.centre(), low, high), posterior.spread()


def _opponents(matches: Sequence[SeasonMatch]) -> tuple[OpponentAcross, ...]:
    """Against each opponent, most matches first."""
    names = tuple(dict.fromkeys(match.opponent for match in matches))
    chances = _chances(matches)
    rows = []
    for name in names:
        against = [match for match in matches if match.opponent == name]
        days = [match.played_on for match in against if match.played_on is not None]
        rows.append(
            OpponentAcross(
                name,
                len(against),
                max(days, default=None),
                _won(against, on_serve=True),
                _won(against, on_serve=False),
                chances.get(name),
            )
        )
    return tuple(sorted(rows, key=lambda row: (-row.matches, row.name)))


def _won(matches: Sequence[SeasonMatch], *, on_serve: bool) -> Share:
    count = of = 0
    keys: list[str] = []
    for match in matches:
        view, me = RallyMasks(match.table), SIDES.index(match.side)
        share = view.share(view.won(me), view.decided & view.served(me if on_serve else 1 - me))
        count, of = count + share.count, of + share.of
        keys += [f"{match.table.match}/{key}" for key in share.rallies]
    return jeffreys_share(count, of, keys)


def _chances(matches: Sequence[SeasonMatch]) -> dict[str, FactorLevel]:
    """Return chance of a rally served against each opponent, kinds of serve held alike, by the model.

    Two factors only: with box and score beside them the answer takes seconds and hardly changes.
    """
    won: list[bool] = []
    kinds: list[str] = []
    opponents: list[str] = []
    for match in matches:
        view, me = RallyMasks(match.table), SIDES.index(match.side)
        rows = np.flatnonzero(view.served(me) & view.kind_known & view.decided)
        won += (match.table.winner[rows] == me).tolist()
        kinds += [match.table.kinds[code] for code in match.table.kind[rows]]
        opponents += [match.opponent] * rows.size
    if len(set(opponents)) < 2:
        return {}
    fitted = fit_mixed_model(won, {"kind": kinds, "opponent": opponents})
    return {level.level: level for level in fitted.levels if level.factor == "opponent"}


def _stable(matches: int) -> str:
    """Return how far usual figures reach, from so many matches.

    Source
    ------
    STATS-REF 2.2: coverage of medians by ranks; "stable after n matches" is not used, it must come out so.
    """
    if matches == 1:
        return "This is one match. It cannot show what is usual."
    if matches < SIX:
        return (
            f"{capital(number_in_words(matches))} matches are too few for a 95% range "
            f"of the median match; {number_in_words(SIX)} are needed. "
            "Against other opponents it can look different."
        )
    return (
        f"Ranges are 95% ranges of the median match ({matches} "
        f"{plural(matches, 'match', 'matches')}). Against other opponents it can look different."
    )


def _context() -> tuple[Norm, ...]:
    from goodlength.findings.reference.published_norms_table import table

    return table()
