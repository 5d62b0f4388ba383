"""Full opponent report: habits with their rallies, what to serve, what not to give, each with its grade.

`opponent.brief` counts; here each choice is held against the other serves to the same player, within
matches, and judged beside all the choices that were looked at. So it is Leaning at most.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from goodlength.findings.analyses.match_questions import Groups, strata
from goodlength.findings.analyses.rallies_by_phase_stroke_place import by_place, by_stroke
from goodlength.findings.question_types import Question
from goodlength.findings.rally_masks import SIDES, Mask, RallyMasks
from goodlength.findings.reports.findings_stratified_by_match import (
    SEVERAL,
    SeasonMatch,
    find_season,
    one_table,
)
from goodlength.findings.reports.opponent_habits import OpponentServe, brief, whose_serves
from goodlength.findings.result_types import Finding, Grade, LikelyGap, Names, Pronoun, Share
from goodlength.findings.shot_places.shot_place_report import PlaceFindings
from goodlength.findings.statistics import exact_tests
from goodlength.findings.statistics.evidence_grades import (
    LEANING_SIDE,
    OUTSIDE_FACTOR,
    GradeEvidence,
    holm,
)
from goodlength.findings.statistics.evidence_grades import grade as grade_of
from goodlength.findings.text.effect_shrinkage import likely_gap, likely_words, stratified_error
from goodlength.findings.text.sample_size_and_serve_variety_sentences import HOW_TAKEN as HOW_WORDS
from goodlength.findings.text.sentence_grammar import (
    Noun,
    capital,
    noun,
    number_in_words,
    plural,
    short,
)
from goodlength.record.model import Left
from goodlength.record.tables.answer_origins import CountedAnswers
from goodlength.record.tables.rally_table import HOW_TAKEN, LEFT

_ATTACKED = LEFT.index(Left.ATTACKED)


@dataclass(frozen=True)
class RallyAt:
    """Where a rally stands: the match, its number there, the game, the day."""

    match: str
    n: int
    game: int
    day: date | None
    key: str


@dataclass(frozen=True)
class Habit:
    """One habit: what the finding says, the rallies that show it, and the last day it was seen."""

    finding: Finding
    rallies: tuple[RallyAt, ...]
    last_seen: date | None


@dataclass(frozen=True)
class Advice:
    """One serve to try, or to keep away from: counts, those of all other serves to this player, a grade.

    `serve` None: the record is too thin to name one.
    """

    words: str
    serve: OpponentServe | None
    count: int
    of: int
    others: Share | None
    q: float | None
    grade: Grade
    rallies: tuple[RallyAt, ...]
    likely: LikelyGap | None = None  # how wide a graded gap likely is


@dataclass(frozen=True)
class HabitSource:
    """Where the player's winners come from: a stroke or a place, of those with it written down."""

    what: str  # stroke | place
    words: str
    share: Share
    rallies: tuple[RallyAt, ...]


@dataclass(frozen=True)
class OpponentReport:
    """One page about an opponent."""

    opponent: str
    title: str
    matches: int
    last_played: date | None
    habits: tuple[Habit, ...]
    habits_words: str
    serve: Advice
    avoid: Advice
    winners: tuple[HabitSource, ...]
    winners_words: str
    counts: tuple[str, ...]  # what the player serves and how returns are taken: counts, no claim
    caution: str
    notes: tuple[str, ...] = ()
    measured: tuple[str, ...] = ()  # the player's measured serves by kind and box, in sentences
    places: PlaceFindings | None = None  # what followed ball paths of these matches say
    answers: CountedAnswers | None = None  # who gave what is counted


def opponent_report(
    matches: Sequence[SeasonMatch],
    name: str,
    pronoun: Pronoun | None = None,
    kind_words: Mapping[str, str] | None = None,
    notes: Sequence[str] = (),
) -> OpponentReport:
    """Return what to know of an opponent before a match, on one page.

    Parameters
    ----------
    matches : sequence of SeasonMatch
        Matches on record of this opponent, in the order played; `side` is the side the opponent played on.
    name, pronoun
        The opponent.
    kind_words : mapping of str to str, optional
        The coach's words for kinds of serve.
    notes : sequence of str
        What was left out of the matches beforehand; handed on.

    Returns
    -------
    Scouting
        At most three habits; a serve to try and one to keep away from, or that none can be named.

    Raises
    ------
    OutOfRange
        Without a match.

    Limits
    ------
    Serves were struck by different players, and this opponent may have changed since the last day.
    """
    page = brief(matches, name, pronoun, kind_words)
    table, groups = one_table(matches)
    view, places = RallyMasks(table), _places(matches)
    me = short(Names(name, SEVERAL), "a")
    judged = _judged(view, groups, page.serves, me, kind_words or {}, places)
    winners = _winners(view, places)
    return OpponentReport(
        opponent=page.opponent,
        title=page.title,
        matches=page.matches,
        last_played=page.last_played,
        habits=tuple(_habit(habit, places) for habit in page.habits),
        habits_words=habits_sentence(page.habits, me),
        serve=_with_finding(
            _chosen(judged, page.serve, "serve", me), _weak_return_finding(matches, name, kind_words)
        ),
        avoid=_chosen(judged, page.avoid, "avoid", me),
        winners=winners,
        winners_words=_winners_words(winners, me),
        counts=tuple(_counts(view, me, kind_words or {})),
        caution=whose_serves([match.opponent for match in matches]),
        notes=tuple(notes),
    )


def _counts(view: RallyMasks, me: str, kind_words: Mapping[str, str]) -> Iterator[str]:
    """Yield what was served and how serves were taken, the commonest first."""
    own = view.served(0) & view.kind_known
    used = view.kinds_by_use(0)
    each = [int((own & (view.table.kind == code)).sum()) for code in used]
    if used:
        lines = [
            _many(noun(view.table.kinds[code], kind_words), count)
            for code, count in zip(used[:3], each, strict=False)
        ]
        lines += (
            [f"{sum(each[3:])} of {plural(sum(each[3:]), 'another kind', 'other kinds')}"] if each[3:] else []
        )
        yield f"Serves by {me} ({sum(each)} logged with their kind): {', '.join(lines)}."
    taken = view.table.how_taken[view.served(1) & (view.table.how_taken >= 0)]
    if taken.size:
        codes, many = np.unique(taken, return_counts=True)
        order = np.argsort(-many, kind="stable")
        lines = [f"{many[at]} {HOW_WORDS[HOW_TAKEN[codes[at]]].lower()}" for at in order]
        yield f"Returns by {me} ({taken.size} logged): {', '.join(lines)}."


def _many(kind: Noun, count: int) -> str:
    return f"{count} {kind.one if count == 1 else kind.many}"


def _places(matches: Sequence[SeasonMatch]) -> dict[str, RallyAt]:
    """Return where each rally stands, by its key in the joined table."""
    out = {}
    for match in matches:
        table = match.table
        for n, key in enumerate(table.key, 1):
            full = f"{table.match}/{key}"
            out[full] = RallyAt(table.match, n, int(table.game[n - 1]), match.played_on, key)
    return out


def _at(keys: Sequence[str], places: Mapping[str, RallyAt]) -> tuple[RallyAt, ...]:
    return tuple(places[key] for key in keys if key in places)


def _habit(finding: Finding, places: Mapping[str, RallyAt]) -> Habit:
    rallies = _at(finding.rallies, places)
    return Habit(
        finding, rallies, max((rally.day for rally in rallies if rally.day is not None), default=None)
    )


def habits_sentence(habits: Sequence[Finding], me: str) -> str:
    graded = sum(habit.grade in (Grade.CLEAR, Grade.LEANING) for habit in habits)
    if not habits:
        return f"Nothing to say about {me} yet: too few serves of one kind are logged."
    if not graded:
        if len(habits) == 1:
            return "This habit is not clear yet. Watch for it, but do not rely on it."
        none = "Neither of these two" if len(habits) == 2 else f"None of these {number_in_words(len(habits))}"
        return f"{none} habits is clear yet. Watch for them, but do not rely on them."
    if graded == len(habits):
        return ""
    first = "is" if graded == 1 else f"{number_in_words(graded)} are"
    return f"Of the {number_in_words(len(habits))} habits listed, only the first {first} clear or possible."


@dataclass(frozen=True)
class _Cell:
    serve: OpponentServe
    advice: dict[str, Advice]  # by what was counted: "serve" weak returns, "avoid" attacked ones


def _judged(
    view: RallyMasks,
    groups: Groups,
    serves: Sequence[OpponentServe],
    me: str,
    kind_words: Mapping[str, str],
    places: Mapping[str, RallyAt],
) -> list[_Cell]:
    """Return each kind from each box held against all other serves to this player, within matches."""
    table = view.table
    against: Mask = view.served(1) & view.kind_known & view.return_known & (table.box >= 0)
    counted = {"serve": view.weak, "avoid": np.asarray(view.return_made == _ATTACKED)}
    usable = [candidate for candidate in serves if candidate.weak.of >= LEANING_SIDE]
    asked: list[_Asked] = []
    for place, opponent_serve in enumerate(usable):
        box = ("right", "left").index(opponent_serve.box)
        this = against & (table.kind == table.kinds.index(opponent_serve.kind)) & (table.box == box)
        rest = against & ~this
        for what, hit in counted.items():
            parts = strata(groups, hit, this, rest)
            asked.append(_Asked(place, what, view.share(hit, this), view.share(hit, rest), tuple(parts)))
    cells = [_Cell(serve_item, {}) for serve_item in usable]
    # not on the declared list: as strictly as everything looked at beside it, see `grades.joint`
    adjusted = (
        np.minimum(1.0, OUTSIDE_FACTOR * holm([asked_item.p for asked_item in asked]))
        if asked
        else np.zeros(0)
    )
    for row, q in zip(asked, adjusted, strict=True):
        serve = cells[row.place].serve
        serve_words = f"the {noun(serve.kind, kind_words).one} from the {serve.box} box"
        cells[row.place].advice[row.what] = _advice(row, serve, serve_words, me, float(q), places)
    return cells


@dataclass(frozen=True)
class _Asked:
    """One kind from one box beside all other serves: counts in all, and match by match."""

    place: int
    what: str
    own: Share
    rest: Share
    parts: tuple[exact_tests.Stratum, ...]

    @property
    def p(self) -> float:
        test = exact_tests.stratified_exact(self.parts)
        return test.mid_p if test.variance > 0 else 1.0

    @property
    def gap(self) -> float:
        return exact_tests.risk_difference([part for part in self.parts if part[1] and part[3]]) or 0.0


def _advice(
    row: _Asked, serve: OpponentServe, serve_words: str, me: str, q: float, places: Mapping[str, RallyAt]
) -> Advice:
    """Return the advice with its grade; a graded gap says how wide it likely is."""
    grade, likely = Grade.TOO_FEW, None
    if row.gap > 0:
        smaller = min(row.own.of, row.rest.of)
        grade = grade_of(GradeEvidence(q, smaller, 1 - q / 2, listed=False))
    if grade is Grade.LEANING:
        likely = likely_gap(row.own, row.rest, row.gap, stratified_error(row.parts))
    words = _advice_words(row.what, serve_words, me, row.own, row.rest, grade)
    return Advice(
        f"{words} {likely_words(likely, row.own, row.rest)}".strip(),
        serve,
        row.own.count,
        row.own.of,
        row.rest,
        q,
        grade,
        _at(row.own.rallies, places),
        likely,
    )


def _advice_words(what: str, serve_words: str, me: str, own: Share, rest: Share, grade: Grade) -> str:
    """Return the counts of one serve beside those of all the others, no surer than the grade."""
    against = f", against {rest.count} of {rest.of} other serves" if rest.of else ""
    if what == "serve":
        facts = f"the return was loose or missed on {own.count} of {own.of}{against}"
        if grade is Grade.LEANING:
            return f"{capital(serve_words)} seems to trouble {me}: {facts}."
        return f"Not enough data to be sure. Try first: {serve_words}. {capital(facts)}."
    facts = f"{me} attacked {own.count} of {own.of}{against}"
    if grade is Grade.LEANING:
        return f"{capital(serve_words)} seems to be what {me} attacks: {facts}."
    return f"Not enough data to be sure. Use with care: {serve_words}. {facts}."


def _chosen(judged: Sequence[_Cell], serve: OpponentServe | None, what: str, me: str) -> Advice:
    """Return the serve the counts point to, with its grade; or that none can be named."""
    for cell in judged:
        if serve is not None and cell.serve == serve and what in cell.advice:
            return cell.advice[what]
    if what == "serve":
        words = f"What to serve to {me}? Not enough data."
    elif not judged:
        words = f"What not to serve to {me}? Not enough data."
    else:
        words = f"No serve stands out as one {me} attacks."
    return Advice(words, None, 0, 0, None, None, Grade.TOO_FEW, ())


def _weak_return_finding(
    matches: Sequence[SeasonMatch], name: str, kind_words: Mapping[str, str] | None
) -> Finding | None:
    """Return what findings of the one player who served say of weak returns here, if it has a grade."""
    servers = {match.opponent for match in matches}
    if len(servers) != 1:
        return None
    seen_from_server = [
        replace(match, side=SIDES[1 - SIDES.index(match.side)], opponent=name) for match in matches
    ]
    season = find_season(seen_from_server, servers.pop(), None, kind_words)
    return next(
        (
            finding
            for finding in season.all
            if finding.question in (Question.WEAK, Question.KIND_WEAK)
            and finding.grade in (Grade.CLEAR, Grade.LEANING)
        ),
        None,
    )


def _with_finding(advice: Advice, finding: Finding | None) -> Advice:
    """Return the advice led by a finding on its kind, so that both reports say the same."""
    if finding is None or advice.serve is None or f"-{advice.serve.kind}" not in finding.key:
        return advice
    lead = f"{finding.grade.words}, {finding.scope}: {finding.headline} {finding.words}"
    return replace(advice, words=f"{lead} Box by box: {advice.words[:1].lower()}{advice.words[1:]}")


def _winners(view: RallyMasks, places: Mapping[str, RallyAt]) -> tuple[HabitSource, ...]:
    """Return the commonest stroke and the commonest place of the player's winners, where enough are
    written down.
    """
    out = []
    for what, rows in (("stroke", by_stroke(view, 0)), ("place", by_place(view, 0))):
        known = [row for row in rows if row.winners.of >= LEANING_SIDE and row.winners.count]
        if known:
            best = max(known, key=lambda row: row.winners.count)
            out.append(HabitSource(what, best.words, best.winners, _at(best.winners.rallies, places)))
    return tuple(out)


def _winners_words(winners: Sequence[HabitSource], me: str) -> str:
    if not winners:
        return f"How {me} wins rallies? Not enough data: too few winners have their shot or place logged."
    sentences = []
    for winner in winners:
        count, of, words = winner.share.count, winner.share.of, winner.words.lower()
        what = "shot" if winner.what == "stroke" else "place"
        how = f"with the {words}" if what == "shot" else "in the middle" if words == "middle" else words
        some = f"{count} of the {of}" if of > 1 else "the only one"
        sentences.append(f"{some} with a {what} logged {plural(count, 'was', 'were')} hit {how}")
    return f"Winners by {me}: {'; '.join(sentences)}."
