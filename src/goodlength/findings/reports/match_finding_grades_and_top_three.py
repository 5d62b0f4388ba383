"""Report on one match: grade the questions, put them into words, choose the three to talk about."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

import numpy as np

from goodlength.errors import OutOfRange
from goodlength.findings.analyses.evidence_tables import tables
from goodlength.findings.analyses.match_questions import judge_all, length_column, match_questions
from goodlength.findings.analyses.serve_advantage import ASSUMED_RUN, RUNS_PART
from goodlength.findings.grade_robustness_to_other_match_models import survives
from goodlength.findings.question_types import Question, QuestionResult
from goodlength.findings.rally_masks import SERVICE_FAULT, SIDES, RallyMasks
from goodlength.findings.result_types import (
    Finding,
    Findings,
    Grade,
    LikelyGap,
    Names,
    Share,
    SideKey,
)
from goodlength.findings.statistics.evidence_grades import (
    CLEAR_Q,
    CLEAR_SIDE,
    MATTERS,
    MOST_MORE,
    more_needed,
    tries_each,
)
from goodlength.findings.text import (
    finding_sentences,
    sample_size_and_serve_variety_sentences,
    sentence_grammar,
)
from goodlength.findings.text.effect_shrinkage import (
    likely_beyond_chance,
    likely_gap,
    likely_words,
)
from goodlength.findings.text.missing_answers_sentences import LoggedAnswers
from goodlength.findings.text.pooled_counts_against_stratified_result import compared_differs
from goodlength.findings.text.sentence_grammar import games
from goodlength.findings.text.translated_findings import translated_finding
from goodlength.languages import Language, language
from goodlength.record.model import ReturnKind
from goodlength.record.tables.rally_table import HOW_TAKEN, RallyTable

_RANK = {Grade.CLEAR: 0, Grade.LEANING: 1, Grade.NO_DIFFERENCE: 2, Grade.TOO_FEW: 3}
_OF_MATCH = (Question.SERVE_EDGE, Question.LONG)
_BOTH = (
    Question.CHANGE,
    Question.BOX_WEAK,
    Question.BOX_WON,
    Question.VOLLEY,
)  # nothing to say without both sides
TOP = 3
_ENGLISH = language("en")
# The test of serving takes the scores as given, and so needs more rallies than two shares would. Measured
# (`bench.findings.sample_size_forecast_accuracy`): with 1 the gap was settled in 43 of 100 after as
# many more as were said.
AT_GIVEN_SCORES = 2.3
NO_GAP_LEFT = 0.45  # p of serving from which the gap of the counts is not there in what is judged
_SAME: dict[str, str] = {
    Question.AFTER: Question.REPEAT,
    Question.KIND_DRIFT: Question.DRIFT,
}  # the second tells it already


def find(
    table: RallyTable,
    side: SideKey,
    names: Names,
    kind_words: Mapping[str, str] | None = None,
    unreliable: Collection[str] = (),
    spoken: Language = _ENGLISH,
) -> Findings:
    """Return what one match says about one player, in words, with grades, tables and the rallies behind them.

    Parameters
    ----------
    table : RallyTable
        The match as columns.
    side : "a" or "b"
        The player the findings are about.
    names : Names
        Names of both players, and how sentences may speak of them.
    kind_words : mapping of str to str, optional
        The coach's words for each kind of serve; the default list without it.
    unreliable : collection of str
        Columns on which two observers did not agree (`reliability.compare`): what rests on them is shown
        greyed, with the reason, and gets no grade.
    spoken : Language
        The language of what is said to the player, and of the notes; all else is English.

    Returns
    -------
    Findings
        Never empty-handed: with nothing recorded it says so.

    Raises
    ------
    OutOfRange
        If `side` is neither "a" nor "b".

    Limits
    ------
    One match. Whoever wins because of something nobody wrote down is not seen here.
    """
    if side not in SIDES:
        raise OutOfRange(f'Side must be "a" or "b", the first- or second-named player; got {side!r}.')
    view, own_words = RallyMasks(table), kind_words or {}
    found = judge_all(view, frozenset(unreliable))
    me = SIDES.index(side)
    mine = [result for result in found if result.side == side and result.ask not in _OF_MATCH]
    mine = [result for result in mine if result.ask not in _BOTH or result.smaller_side]
    mine += _seen_from(view, found, me)
    asked = sum(result.p is not None and result.listed for result in found)
    exploratory = sum(result.p is not None and not result.listed for result in found)
    findings = [
        finding_of(
            view,
            result,
            names,
            own_words,
            asked + (0 if result.listed else exploratory),
            asked + exploratory,
            spoken=spoken,
        )
        for result in mine
    ]
    findings.sort(key=in_order)
    return Findings(
        match=table.match,
        side=side,
        summary=sample_size_and_serve_variety_sentences.summary(
            names, side, view.n, int(table.let.sum()), int(view.served(me).sum())
        ),
        notes=_notes(view, me, names) if spoken.is_english else _notes_to_player(view, me, spoken),
        top=top_of(findings),
        all=tuple(findings),
        tables=tables(view, me, names, own_words, mine),
        asked=asked,
        exploratory=exploratory,
    )


def _seen_from(view: RallyMasks, found: Sequence[QuestionResult], side: int) -> list[QuestionResult]:
    """Return the questions of the match, said of this player, with the chances already worked out."""
    judged_by_ask = {result.ask: result for result in found if result.ask in _OF_MATCH}
    return [
        replace(
            match_question,
            q=judged_by_ask[match_question.ask].q,
            grade=judged_by_ask[match_question.ask].grade,
            doubted=judged_by_ask[match_question.ask].doubted,
            unwritten=judged_by_ask[match_question.ask].unwritten,
            p=judged_by_ask[match_question.ask].p,
        )
        for match_question in match_questions(view, side)
    ]


def _more(view: RallyMasks, result: QuestionResult, asked: int) -> int | None:
    """About how many more would settle it; None where it is settled, out of reach, or never to be settled.

    Only a question of the declared list can become Clear. Serves that come in runs count for less, and a
    gap of serving must be wider than runs of winners would make it.
    """
    if result.grade in (Grade.CLEAR, Grade.NO_DIFFERENCE) or not result.first.of or not result.listed:
        return None
    if result.luck is None:
        if result.second is None or not result.second.of:
            return None
        a, b = result.first, result.second
        if _looks_bigger_than_judged(result):
            return None
        if result.ask is Question.SERVE_EDGE and result.gap > 0:
            return _more_against_runs(a, b, asked)
        more = more_needed(a.count, a.of, b.count, b.of, asked)
        if more is None or result.ask is not Question.DRIFT:
            return more
        of = min(a.of, b.of)
        more = math.ceil((more + of) / view.independent_part(SIDES.index(result.side))) - of
        return more if more <= MOST_MORE else None
    # Against luck there is one sample, not two: half the variance of a difference.
    luck_of = max(result.first.of, 1)
    both = more_needed(result.first.count, luck_of, round(result.luck[0] * luck_of), luck_of, asked, most=800)
    return None if both is None else max(1, (both + luck_of) // 2 - luck_of, CLEAR_SIDE - result.smaller_side)


def _looks_bigger_than_judged(result: QuestionResult) -> bool:
    """Return whether the gap of the counts is not there in what is judged, so that no number settles it."""
    if result.ask is Question.SERVE_EDGE:
        return result.gap > 0 and result.p is not None and result.p >= NO_GAP_LEFT
    gap, counted = result.gap_compared, result.gap_together
    return result.apart or (gap is not None and (gap * counted < 0 or abs(gap) + MATTERS <= abs(counted)))


def _logged(view: RallyMasks, side: int) -> LoggedAnswers:
    """Return how much of what a player served was written down."""
    own, played = view.served(side), ~view.table.let
    any_kind = own & played & (view.table.ending != SERVICE_FAULT)
    returnable = any_kind & view.kind_known
    made = own & view.return_known & (view.table.how_taken != HOW_TAKEN.index(ReturnKind.NOT_MADE))
    return LoggedAnswers(
        (int((own & view.kind_known).sum()), int(own.sum())),
        (int((returnable & view.return_known).sum()), int(returnable.sum())),
        (int((own & view.decided).sum()), int((own & played).sum())),
        (int(view.decided.sum()), int(played.sum())),
        {code: int((own & (view.table.kind == code)).sum()) for code in view.kinds_by_use(side)},
        (int((own & (view.table.box == 0)).sum()), int((own & (view.table.box == 1)).sum())),
        (int((any_kind & view.return_known).sum()), int(any_kind.sum())),
        (int((made & (view.table.how_taken >= 0)).sum()), int(made.sum())),
    )


def _more_against_runs(serving: Share, receiving: Share, asked: int) -> int | None:
    """Return the same of serving: the gap, drawn in, less what the strongest run allowed would make of it."""
    p, q = ((share.count + 1) / (share.of + 2) for share in (serving, receiving))
    beyond = p - q - 2 * ASSUMED_RUN
    if beyond <= MATTERS:
        return None
    middle = (p + q) / 2
    each = tries_each(min(0.99, middle + beyond / 2), max(0.01, middle - beyond / 2), RUNS_PART * CLEAR_Q)
    plain = tries_each(p, q, CLEAR_Q / max(asked, 1))
    more = math.ceil(max(AT_GIVEN_SCORES * each, plain)) - min(serving.of, receiving.of)
    return max(1, more) if more <= MOST_MORE else None


def finding_of(
    view: RallyMasks,
    result: QuestionResult,
    names: Names,
    kind_words: Mapping[str, str],
    asked: int,
    checked: int,
    scope: str = "in this match",
    spoken: Language = _ENGLISH,
) -> Finding:
    """Return one graded question as a finding, in words.

    `asked` is how many questions it was judged beside, `checked` how many things were checked in all.
    """
    more = _more(view, result, asked)
    first, second = result.first, result.second
    if second is not None and result.ask in (Question.WEAK, Question.WON) and result.gap < 0:
        first, second = second, first  # the sentence leads with the higher share
    likely = _likely(result, first, second)
    used = view.kinds_by_use(SIDES.index(result.side))
    scene = finding_sentences.SentenceContext(
        names,
        result.side,
        view.table.kinds,
        used,
        kind_words,
        _longer_than(view),
        _length_of(view),
        more,
        checked,
        scope,
        likely_words(likely, first, second, compared_differs(result.as_stated)),
        _logged(view, SIDES.index(result.side)),
    )
    sentences = finding_sentences.say_result(result.as_stated, scene)
    if not spoken.is_english:
        headline, text = translated_finding(result.as_stated, scene, spoken)
        sentences = replace(sentences, you_headline=headline, you_text=text)
    effect = result.effect
    if effect is not None and first is not result.first:
        effect = replace(effect, value=-effect.value, low=-effect.high, high=-effect.low)
    return Finding(
        key="-".join([result.side, result.ask, *(view.table.kinds[k] for k in result.kinds)]),
        question=str(result.ask),
        headline=sentences.headline,
        words=sentences.text,
        you_headline=sentences.you_headline,
        you_words=sentences.you_text,
        parent_words=sentences.parents,
        grade=result.grade,
        listed=result.listed,
        about=result.side,
        count=first.count,
        of=first.of,
        interval=(first.low, first.high),
        against=second,
        p=result.p,
        q=result.q,
        effect=effect,
        smaller_side=result.smaller_side,
        more=more,
        rallies=first.rallies,
        scope=scope,
        doubted=tuple(sorted(result.doubted)),
        likely=likely,
        survives=survives(result),
    )


def _likely(result: QuestionResult, first: Share, second: Share | None) -> LikelyGap | None:
    """Return how wide the gap likely is, in the order of the sentence; None without a grade."""
    if result.grade not in (Grade.CLEAR, Grade.LEANING):
        return None
    if second is None:
        return None if result.luck is None else likely_beyond_chance(first, result.luck[0])
    stratified = result.within_matches or result.within_boxes
    if stratified is None:
        return likely_gap(first, second)
    gap, error = stratified
    return likely_gap(first, second, gap if first is result.first else -gap, error)


def _longer_than(view: RallyMasks) -> str:
    column = length_column(view)
    if column is None:
        return ""
    lengths, unit = column
    middle = float(np.median(lengths[view.decided & np.isfinite(lengths)]))
    return f"{int(middle)} shots" if unit == "shots" else f"{middle:.0f} seconds"


def _length_of(view: RallyMasks) -> str:
    """Of which rallies the length is known, where it is not of nearly all."""
    column = length_column(view)
    if column is None:
        return ""
    known = np.isfinite(column[0]) & view.decided
    every, some = int(view.decided.sum()), int(known.sum())
    if some >= 0.9 * every:
        return ""
    numbers = tuple(int(n) for n in np.unique(view.table.game[known]))
    if len(numbers) < len(view.games):
        return f"; lengths are known for {games(numbers)} only"
    return f"; lengths are known for {some} of {every} rallies"


def in_order(finding: Finding) -> tuple[int, float, float, bool]:
    """Return the surest first; then what was on the list."""
    q = 1.0 if finding.q is None else finding.q
    p = 1.0 if finding.p is None else finding.p
    return _RANK[finding.grade], q, p, not finding.listed


def _worth_a_try(finding: Finding) -> bool:
    """Return a serve played seldom, that came off more often than not: worth a try, not a claim."""
    return (
        finding.question == Question.KIND_WEAK
        and finding.grade is Grade.TOO_FEW
        and not finding.doubted
        and 2 <= finding.of < 10
        and finding.count * 2 > finding.of
        and (finding.effect is None or finding.effect.value > 0)
    )


def top_of(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Return at most three findings to talk about, the surest first; no two say the same of the same
    serves.
    """
    top: list[Finding] = []
    for finding in findings:
        questions = {f.question for f in top}
        if (
            len(top) < TOP
            and finding.of
            and finding.grade is not Grade.TOO_FEW
            and _SAME.get(finding.question) not in questions
        ):
            top.append(finding)
    tries = sorted((f for f in findings if _worth_a_try(f)), key=lambda f: (-f.count / f.of, -f.of))
    listed = [f for f in findings if f.listed and f.of and not f.doubted and (f.p is not None or not top)]
    seen = {f.key for f in top}
    for finding in (*tries[:1], *listed):
        if len(top) < TOP and finding.key not in seen:
            top.append(finding)
            seen.add(finding.key)
    return tuple(top)


def _notes(view: RallyMasks, side: int, names: Names) -> tuple[str, ...]:
    """Return what is missing from the record, said plainly."""
    name = sentence_grammar.short(names, SIDES[side])
    own = view.served(side)
    missing_kind = int((own & ~view.kind_known).sum())
    no_return = int((own & view.kind_known & ~view.return_known & ~view.table.let).sum())
    unknown = int((~view.decided & ~view.table.let).sum())
    notes = []
    if not view.n:
        return ("Log the first rallies, and findings appear here.",)
    if not own.any():
        notes.append(f"No serve of {sentence_grammar.owner(name)} is logged yet.")
    if missing_kind:
        notes.append(
            f"{_serves(missing_kind, name)} no kind logged and {_is(missing_kind)} not counted by kind."
        )
    if no_return:
        notes.append(
            f"{_serves(no_return, name)} no return logged and {_is(no_return)} not counted by return."
        )
    if unknown:
        some = "one rally; it" if unknown == 1 else f"{unknown} rallies; they"
        notes.append(f"It is not logged who won {some} {_is(unknown)} not counted as won or lost.")
    return tuple(notes)


def _notes_to_player(view: RallyMasks, side: int, spoken: Language) -> tuple[str, ...]:
    """Return the same to the player, in another language."""
    own = view.served(side)
    missing_kind = int((own & ~view.kind_known).sum())
    no_return = int((own & view.kind_known & ~view.return_known & ~view.table.let).sum())
    unknown = int((~view.decided & ~view.table.let).sum())
    notes = [] if own.any() else [spoken.phrase("No serve of yours is logged.")]
    if missing_kind:
        notes.append(
            spoken.phrase_of(
                "{n} of your serves has no kind logged and is not counted by kind.",
                "{n} of your serves have no kind logged and are not counted by kind.",
                missing_kind,
            )
        )
    if no_return:
        notes.append(
            spoken.phrase_of(
                "{n} of your serves has no return logged and is not counted by return.",
                "{n} of your serves have no return logged and are not counted by return.",
                no_return,
            )
        )
    if unknown:
        notes.append(
            spoken.phrase_of(
                "It is not logged who won {n} rally; it is not counted as won or lost.",
                "It is not logged who won {n} rallies; they are not counted as won or lost.",
                unknown,
            )
        )
    return tuple(notes)


def _serves(n: int, name: str) -> str:
    whose = sentence_grammar.owner(name)
    return f"One of {whose} serves has" if n == 1 else f"{n} of {whose} serves have"


def _is(n: int) -> str:
    return "is" if n == 1 else "are"


def share_of(finding: Finding) -> Share:
    """Return the share a finding leads with, for drawing its range bar."""
    return Share(finding.count, finding.of, *finding.interval, finding.rallies)
