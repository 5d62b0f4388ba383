"""Sheet between games: at most three lines on the games so far, to be read at arm's length.

Looking after every game is looking often. A grade is shown here only where it would stand after that:
the adjusted p is taken times the number of games looked at plus one (`bench.findings.season_search_speed`
shows what gets through when nothing is different).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, fields, replace

import numpy as np

from goodlength.errors import OutOfRange
from goodlength.findings.analyses.match_questions import judge_all
from goodlength.findings.question_types import Question, QuestionResult
from goodlength.findings.rally_masks import SIDES, RallyMasks
from goodlength.findings.reports.last_game_counts import between_games_lines as of_game
from goodlength.findings.reports.match_finding_grades_and_top_three import finding_of, share_of
from goodlength.findings.result_types import Finding, Grade, Names, SideKey
from goodlength.findings.statistics.evidence_grades import CLEAR_Q, LEANING_Q
from goodlength.findings.text.effect_shrinkage import likely_words
from goodlength.findings.text.sentence_grammar import Noun, noun, short
from goodlength.findings.text.sentence_grammar import games as games_words
from goodlength.record.tables.rally_table import RallyTable, UncheckedAnswers

LINES = 3
GRADED = 2  # at most so many lines that claim something: one stays for the game just played
LONGEST = 110  # letters a line, its grade included
_SAME: dict[Question, Question] = {  # the second tells it already
    Question.AFTER: Question.REPEAT,
    Question.KIND_DRIFT: Question.DRIFT,
    Question.KIND_WEAK: Question.WEAK,
    Question.KIND_WON: Question.WON,
}


@dataclass(frozen=True)
class BetweenGamesLine:
    """One line, about the player and to the player. Without a grade it only counts.

    `likely` says how wide a graded gap likely is, for under the line; empty where the counts say it.
    """

    words: str
    you_words: str
    grade: Grade | None
    scope: str
    about: SideKey | None
    count: int | None
    of: int | None
    rallies: tuple[str, ...]
    likely: str = ""

    @property
    def standing(self) -> str:
        """How sure the line is, and which games it is about."""
        return f"{self.grade.words if self.grade else 'A count only'}, {self.scope}"


@dataclass(frozen=True)
class BetweenGames:
    """The sheet: what has been played, and at most three lines."""

    match: str
    game: int | None  # the game the counting lines are about
    finished: bool
    title: str
    lines: tuple[BetweenGamesLine, ...]


def rallies_upto(table: RallyTable, game: int) -> RallyTable:
    """Return the rallies of the games up to and with this one."""
    keep = np.asarray(table.game <= game)
    columns: dict[str, object] = {}
    for field in fields(table):
        value = getattr(table, field.name)
        if isinstance(value, np.ndarray):
            value = value[keep]
        elif isinstance(value, tuple) and field.name != "kinds" and value:
            value = tuple(item for item, included in zip(value, keep, strict=True) if included)
        elif isinstance(value, UncheckedAnswers):
            value = value.only(keep)
        columns[field.name] = value
    return RallyTable(**columns)  # type: ignore[arg-type]


def between_games_report(
    table: RallyTable,
    side: SideKey,
    names: Names,
    scores: Mapping[int, tuple[int, int]],
    finished: Collection[int],
    *,
    kind_words: Mapping[str, str] | None = None,
    game: int | None = None,
    unreliable: Collection[str] = (),
) -> BetweenGames:
    """Return the sheet between games.

    Parameters
    ----------
    table : RallyTable
        The match as recorded until now.
    side : "a" or "b"
        The player who is coached.
    names : Names
        Both players.
    scores : mapping of int to (int, int)
        Points of the first- and second-named player by number of the game, the one in play too.
    finished : collection of int
        Numbers of the games that are over.
    kind_words : mapping of str to str, optional
        The coach's words for kinds of serve.
    game : int, optional
        The game to look back on; the last one finished without it, or the one in play if none is.
    unreliable : collection of str
        Columns two observers did not agree on; see `find`.

    Returns
    -------
    SoFar
        First what has a grade over the games so far, of either player; then counts of the game.

    Raises
    ------
    OutOfRange
        If the record does not hold that game.

    Limits
    ------
    A grade here can be lower than on the page of findings, which is read once. False alarms with a grade
    over all sheets of a match stay under 5 (Clear) and 20 (Leaning) in 100 matches in which nothing differs.
    """
    if not len(table.key):
        return BetweenGames(table.match, None, False, "No rallies are logged yet.", ())
    there = [int(number) for number in np.unique(table.game)]
    chosen = game if game is not None else max((n for n in finished if n in there), default=there[-1])
    if chosen not in there:
        raise OutOfRange(f"Game {chosen} is not in this match. Choose one of: {games_words(there)}.")
    upto, over = rallies_upto(table, chosen), chosen in finished
    words_by_kind = kind_words or {}
    graded = _graded(upto, side, names, words_by_kind, unreliable, len(there[: there.index(chosen) + 1]))
    counts = [
        BetweenGamesLine(
            line.words, line.you_words, None, f"in game {chosen}", None, None, None, line.rallies
        )
        for line in of_game(upto, side, names, words_by_kind, chosen).lines
    ]
    if any(line.about == side for line in graded) and len(counts) == LINES:
        counts = [*counts[1:], counts[0]]  # the serves have been spoken of
    return BetweenGames(
        table.match,
        chosen,
        over,
        _title(side, names, scores, chosen, over),
        tuple([*graded, *counts][:LINES]),
    )


def _title(
    side: SideKey, names: Names, scores: Mapping[int, tuple[int, int]], game: int, finished: bool
) -> str:
    """Return which game, and every score so far with this player's points first."""
    me = SIDES.index(side)
    played = [scores[number] for number in sorted(scores) if number <= game]
    played_scores = ", ".join(f"{points[me]}–{points[1 - me]}" for points in played)
    begin = f"After game {game}" if finished else f"Game {game} so far"
    return f"{begin}: {short(names, side)} {played_scores}" if played_scores else f"{begin}."


def _graded(
    table: RallyTable,
    side: SideKey,
    names: Names,
    kind_words: Mapping[str, str],
    unreliable: Collection[str],
    looks: int,
) -> list[BetweenGamesLine]:
    """Return what has a grade after so many looks, the surest first, said no more surely than that grade."""
    view = RallyMasks(table)
    found = judge_all(view, frozenset(unreliable))
    asked = sum(question_result.p is not None for question_result in found)
    scope = "in game 1" if looks == 1 else f"over {looks} games"
    lines: list[BetweenGamesLine] = []
    seen: set[tuple[str, SideKey]] = set()
    standing = [
        (question_result, grade)
        for question_result in found
        if (grade := grade_after_looks(question_result, looks)) is not None
    ]
    for result, grade in sorted(standing, key=lambda pair: (pair[1] is not Grade.CLEAR, pair[0].q or 0.0)):
        question = _SAME.get(result.ask, result.ask)
        finding = finding_of(view, replace(result, grade=grade), names, kind_words, asked, asked, scope)
        line = _line(
            finding, result, grade, _other(view, result, kind_words), to_player=finding.about == side
        )
        short_enough = len(line.words) + len(grade.words) + 2 <= LONGEST
        if short_enough and (question, result.side) not in seen and len(lines) < GRADED:
            seen.add((question, result.side))
            lines.append(line)
    return lines


def grade_after_looks(result: QuestionResult, looks: int) -> Grade | None:
    """Return the grade a question may carry on a sheet read after each of `looks` games; None for none.

    Source
    ------
    Computed here: with q times (looks + 1), 1.0 in 100 null matches showed any Clear and 16 any Leaning on
    any of their sheets (700 matches); with q as it is, 7 and 41.
    """
    if result.grade not in (Grade.CLEAR, Grade.LEANING) or result.q is None:
        return None
    q = max(result.q, result.checked_p) * (looks + 1)
    if result.grade is Grade.CLEAR and q <= CLEAR_Q:
        return Grade.CLEAR
    return Grade.LEANING if q <= LEANING_Q else None


def _other(view: RallyMasks, result: QuestionResult, kind_words: Mapping[str, str]) -> Noun | None:
    """Return the kind that two kinds were held against each other for, where the question is one of those."""
    if result.ask not in (Question.WEAK, Question.WON) or len(result.kinds) != 2:
        return None
    code = result.kinds[1] if result.gap >= 0 else result.kinds[0]  # the sentence leads with the higher share
    return noun(view.table.kinds[code], kind_words)


def _line(
    finding: Finding, result: QuestionResult, grade: Grade, other: Noun | None, *, to_player: bool
) -> BetweenGamesLine:
    figures = f"{finding.count} of {finding.of}"
    against = finding.against
    if against is not None:
        figures += f" against {other.count(against) if other else f'{against.count} of {against.of}'}"
    elif result.luck is not None:
        figures += f", by chance about {round(result.luck[0] * finding.of)}"
    about = f"{finding.headline.rstrip('.')}: {figures}."
    to = f"{finding.you_headline.rstrip('.')}: {figures}." if to_player else about
    return BetweenGamesLine(
        about,
        to,
        grade,
        finding.scope,
        finding.about,
        finding.count,
        finding.of,
        finding.rallies,
        likely_words(finding.likely, share_of(finding), against),
    )
