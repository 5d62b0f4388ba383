"""Which alternative match models a graded finding of one match would survive, in words.

`bench.findings.false_findings_under_broken_assumptions` measures how often each question is wrongly graded in
matches of each way; tests/unit/bench/test_false_findings_under_broken_assumptions.py holds every entry here
to the rates kept there.
"""

from __future__ import annotations

from goodlength.findings.question_types import Question, QuestionResult
from goodlength.findings.result_types import Grade

SERVE_RUNS = "serves come in runs"
POINT_RUNS = "points come in runs"
BOX = "the box decides the serve"
SCORE = "the score decides the serve"
FORM = "form changes from game to game"

_SERVES = (SERVE_RUNS, POINT_RUNS, BOX)
SURVIVES: dict[Question, tuple[str, ...]] = {
    Question.WEAK: _SERVES,
    Question.WON: _SERVES,
    Question.REPEAT: (BOX, POINT_RUNS),
    Question.DRIFT: (SERVE_RUNS, POINT_RUNS, BOX),
    Question.CHANGE: _SERVES,
    Question.SERVE_EDGE: (POINT_RUNS, FORM),
    Question.LONG: (POINT_RUNS, FORM),
    Question.KIND_WEAK: _SERVES,
    Question.KIND_WON: _SERVES,
    Question.KIND_DRIFT: (SERVE_RUNS, POINT_RUNS, BOX),
    Question.AFTER: (BOX, POINT_RUNS),
    Question.BOX_WEAK: (POINT_RUNS, SERVE_RUNS),
    Question.BOX_WON: (POINT_RUNS, SERVE_RUNS),
    Question.VOLLEY: (POINT_RUNS,),
}

_ALLOWED_FOR = {
    SERVE_RUNS: "the same serve several times in a row",
    POINT_RUNS: "winning streaks",
    BOX: "the service box",
    SCORE: "the score",
    FORM: "form that changes from game to game",
}

_NAMED_BY = {  # words before it that name what was allowed for
    SERVE_RUNS: ("the same serve coming several times in a row",),
    BOX: ("ithin each service box", "With kind and box the same"),
}


def survives(asked: QuestionResult) -> tuple[str, ...]:
    """Return what else could be so that a graded finding of one match would still hold; else nothing.

    Examples
    --------
    >>> from goodlength.findings.analyses.match_questions import two
    >>> from goodlength.findings.statistics.proportion_intervals import jeffreys_share
    >>> survives(two(Question.LONG, "a", jeffreys_share(9, 20), jeffreys_share(10, 20)))
    ()
    """
    several = asked.matches > 1 or asked.within_matches is not None
    if asked.grade not in (Grade.CLEAR, Grade.LEANING) or several:
        return ()
    if asked.ask is Question.SERVE_EDGE and asked.grade is Grade.LEANING:
        # strong runs may give such a gap more often than a Clear one may; one game has no other beside it
        one_game = asked.games is not None and len(asked.games[0]) == 1
        return () if one_game else (FORM,)
    return SURVIVES[asked.ask]


def survives_words(asked: QuestionResult, before: str = "") -> str:
    """Return one line that says so; empty without a grade, or where the words `before` have named it all."""
    ways = [way for way in survives(asked) if not any(part in before for part in _NAMED_BY.get(way, ()))]
    if asked.ask is Question.SERVE_EDGE and asked.gap < 0:
        ways = [way for way in ways if way != POINT_RUNS]  # streaks would turn such a gap round
    *most, last = [_ALLOWED_FOR[way] for way in ways] or [""]
    if (
        asked.ask is Question.SERVE_EDGE
    ):  # a streak strong enough looks the same: only a bound was allowed for
        last = last.replace(_ALLOWED_FOR[POINT_RUNS], "winning streaks of the usual strength")
        most = [
            way.replace(_ALLOWED_FOR[POINT_RUNS], "winning streaks of the usual strength") for way in most
        ]
    allowed = f"{', '.join(most)} and {last}" if most else last
    return f"The grade also holds when we allow for {allowed}." if allowed else ""
