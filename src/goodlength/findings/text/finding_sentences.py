"""Sentences of the findings: plain English, counts before proportions, no percentages.

A sentence is no stronger than its grade: Clear states, Possible says "seems", Not enough data asks.
Each is made about the player, to the player, and for parents.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from goodlength.findings.grade_robustness_to_other_match_models import survives_words
from goodlength.findings.question_types import Question, QuestionResult
from goodlength.findings.result_types import Grade, Names, Share, SideKey, Words
from goodlength.findings.text.chance_and_sample_size_sentences import (
    EQUAL,
    chance_alone_may,
    doubted_words,
    luck_words,
    match_by_match,
    never_together,
    nothing_to_compare,
    settle_words,
    unlikely_words,
    why_not_clear,
)
from goodlength.findings.text.missing_answers_sentences import (
    LoggedAnswers,
    missing_answers_words,
    of_results,
    of_returns,
)
from goodlength.findings.text.pooled_counts_against_stratified_result import counts_hide_gap
from goodlength.findings.text.proportion_comparison_sentences import (
    RALLIES,
    SERVES,
    so_many,
    weak_words,
    were_words,
    won_words,
)
from goodlength.findings.text.sentence_grammar import (
    Noun,
    Voice,
    about_expected,
    capital,
    games,
    noun,
    plural,
    voices,
)


@dataclass(frozen=True)
class SentenceContext:
    """What a sentence needs beside the question: names, kinds, length unit, questions asked, serves to go."""

    names: Names
    side: SideKey
    kinds: tuple[str, ...]
    used: tuple[int, ...]  # codes of the kinds the player served
    kind_words: Mapping[str, str]
    longer_than: str  # "12 shots", "14 seconds"; "" where no length is known
    length_of: str  # "; lengths are known for game 1 only", where that is so
    more: int | None
    asked: int  # questions this one was judged beside
    scope: str = "in this match"
    likely: str = ""  # how wide the gap likely is, where it has a grade
    logged: LoggedAnswers = field(default_factory=LoggedAnswers)

    def noun(self, code: int) -> Noun:
        """Return the kind with this code."""
        return noun(self.kinds[code], self.kind_words)


HeadlineFacts = tuple[str, str]  # headline, facts


def _sizes(result: QuestionResult) -> tuple[int, int]:
    first, second = two_of(result)
    return first.of, second.of


def two_of(result: QuestionResult) -> tuple[Share, Share]:
    """Return both shares of a question that compares two."""
    assert result.second is not None
    return result.first, result.second


def _seems(grade: Grade, voice: Voice, plain: str, third: str) -> str:
    """Return the verb as the grade allows it: "wins", or "seems to win"."""
    if grade is Grade.LEANING:
        return f"{voice.verb('seem', 'seems')} to {plain}"
    return voice.verb(plain, third)


def _seems_to(grade: Grade, plain: str, third: str) -> str:
    """Return the verb of a serve as the grade allows it: "draws", or "seems to draw"."""
    return f"seems to {plain}" if grade is Grade.LEANING else third


def _weak(result: QuestionResult, v: Voice, s: SentenceContext) -> HeadlineFacts:
    assert result.second is not None
    first, second, a, b = _pair(result, s)
    if len(result.kinds) == 1 and not first.of:
        return f"{_only_kind(a, s)}: nothing to compare yet.", f"No return to {v.own} {a.many} is logged."
    if len(result.kinds) == 1:
        only = weak_words(
            v.opponents,
            of_returns((first, a, ""), s.logged.served_of(result.kinds), s.logged.some_kinds_missing),
        )
        return f"{_only_kind(a, s)}: nothing to compare yet.", only
    missing = [kind.many for kind, share in ((a, first), (b, second)) if not share.of]
    nothing = f"No return to {v.own} {' or '.join(missing)} is logged." if missing else ""
    served = [s.logged.served_of([code]) for code in _codes(result)]
    seen = weak_words(
        v.opponents,
        of_returns((first, a, ""), served[0], s.logged.some_kinds_missing),
        of_returns((second, b, ""), served[1], s.logged.some_kinds_missing),
    )
    facts = " ".join(part for part in (seen, nothing) if part)
    if result.grade is Grade.NO_DIFFERENCE:
        return f"{v.own} {a.one} draws weak returns about as often as the {b.one}.", facts
    if result.grade is Grade.TOO_FEW:
        return f"Which draws weak returns more often, the {a.one} or the {b.one}?", facts
    draws = _seems_to(result.grade, "draw", "draws")
    return f"{v.own} {a.one} {draws} weak returns more often than the {b.one}.", facts


def _only_kind(kind: Noun, s: SentenceContext) -> str:
    """Return "Only lobs"; where kinds are missing, that what is logged of them are lobs."""
    if not s.logged.some_kinds_missing:
        return f"Only {kind.many}"
    if s.logged.kinds[0] == 1:
        return "Only one serve has its kind logged"
    return f"All serves with a kind logged are {kind.many}"


def _codes(result: QuestionResult) -> tuple[int, int]:
    """Return the codes of both kinds, that with the higher share first."""
    a, b = result.kinds[0], result.kinds[-1]
    return (a, b) if result.gap >= 0 else (b, a)


def _pair(result: QuestionResult, s: SentenceContext) -> tuple[Share, Share, Noun, Noun]:
    """Return both shares and nouns, the higher share first."""
    assert result.second is not None
    a, b = (s.noun(code) for code in _codes(result))
    first, second = result.first, result.second
    return (first, second, a, b) if result.gap >= 0 else (second, first, a, b)


def _won(result: QuestionResult, v: Voice, s: SentenceContext) -> HeadlineFacts:
    first, second, a, b = _pair(result, s)
    served = [s.logged.served_of([code]) for code in _codes(result)]
    higher = of_results((first, RALLIES, f"on the {a.one}"), served[0], s.logged.some_kinds_missing)
    if len(result.kinds) == 1:
        return f"{_only_kind(a, s)}: nothing to compare yet.", won_words(v, higher)
    facts = won_words(
        v, higher, of_results((second, RALLIES, f"on the {b.one}"), served[1], s.logged.some_kinds_missing)
    )
    if result.grade is Grade.NO_DIFFERENCE:
        win = v.verb("win", "wins")
        return f"{v.subject} {win} about as often on the {a.one} as on the {b.one}.", facts
    if result.grade is Grade.TOO_FEW:
        return f"Which wins more often, the {a.one} or the {b.one}?", facts
    return f"{v.subject} {_wins(result.grade, v)} on the {a.one} than on the {b.one}.", facts


def _wins(grade: Grade, v: Voice, often: str = "more often") -> str:
    """ "wins more often", as the grade allows it."""
    return f"{_seems(grade, v, 'win', 'wins')} {often}"


def _repeat(result: QuestionResult, v: Voice, s: SentenceContext) -> HeadlineFacts:
    share, n = result.first, result.first.of
    where = ", where both kinds are logged," if s.logged.some_kinds_missing else ","
    times = f"{share.count} of {n} {plural(n, 'time', 'times')}"
    same = f"{times}{where} {v.own} next serve in the game was of the same kind as the one before."
    if n == 1:
        logged = " with a kind logged" if s.logged.some_kinds_missing else ""
        kind = "the same" if share.count else "another"
        same = f"Only one serve{logged} followed another, and it was of {kind} kind."
    if len(s.used) == 1:
        return f"{_only_kind(s.noun(s.used[0]), s)}: no order to read.", same
    facts = same if n == 1 else f"{same} {_expected(result)}"
    facts += _by_box(result, s)
    if result.grade is Grade.LEANING and _inside_chance(result):
        may = "repeating the same" if result.gap >= 0 else "often changing the"
        return f"{v.subject} may be {may} serve.", facts
    if result.grade in (Grade.CLEAR, Grade.LEANING):
        does = ("repeat", "repeats") if result.gap >= 0 else ("change", "changes")
        what = "the same serve" if result.gap >= 0 else "the serve"
        verb = _seems(result.grade, v, *does)
        return f"{v.subject} {verb} {what} more often than chance would explain.", facts
    if result.box_explains:
        return f"{v.own} serves may follow the box rather than a habit.", facts
    return f"Does one of {v.own} serves give away the next?", facts


def _expected(result: QuestionResult) -> str:
    """Return how many repeats chance alone would give, in the comparison that is judged.

    The range is that of any serve, and said only where the number stands inside it.
    """
    least, middle, most = _expected_range(result)
    between = result.ask is Question.REPEAT and result.p is not None and least < round(middle) < most
    words = about_expected(middle) + (f", and 19 times in 20 from {least} to {most}" if between else "")
    within_boxes = result.plain_luck is not None and not result.box_explains
    inside = ", within each service box," if within_boxes else ""
    return f"By chance alone{inside} we would expect {words}."


def _expected_range(result: QuestionResult) -> tuple[int, float, int]:
    """Return how many repeats chance gives at least, on average and at most, 95 times in 100."""
    within_boxes = result.plain_luck is not None and not result.box_explains
    luck = result.luck if within_boxes else result.plain_luck or result.luck
    n, (mean, low, high) = result.first.of, luck or (0.0, 0.0, 1.0)
    return round(low * n), mean * n, round(high * n)


def _inside_chance(result: QuestionResult) -> bool:
    """Return whether the repeats seen lie among those that chance gives 95 times in 100."""
    least, _, most = _expected_range(result)
    return least <= result.first.count <= most


def _by_box(result: QuestionResult, s: SentenceContext) -> str:
    """Return the commonest kind from each box, where the box explains an order that chance would seldom
    give.
    """
    if not result.box_explains or result.by_box is None:
        return ""
    right, left = result.by_box
    many = s.noun(s.used[0]).many
    return (
        f" From the right box {right.count} of {right.of} {plural(right.of, 'was', 'were')} {many}, "
        f"from the left {left.count} of "
        f"{left.of}: that may explain the order."
    )


_LOGGED_SERVES = Noun("serve with a kind logged", "serves with a kind logged")


def _drift(result: QuestionResult, v: Voice, s: SentenceContext) -> HeadlineFacts:
    assert result.second is not None and result.games is not None
    kind = s.noun(result.kinds[0])
    less = "less often" if result.gap >= 0 else "more often"
    serves = _LOGGED_SERVES if s.logged.some_kinds_missing else SERVES
    early, late = (
        (share, serves, f"in {games(of)}") for share, of in zip(two_of(result), result.games, strict=True)
    )
    other = s.kinds[result.kinds[0]] == "other" and kind.one.startswith("serve ")
    many, single = (kind.one.removeprefix("serve "),) * 2 if other else (kind.many, kind.with_article)
    first, second = (
        were_words(side, many, single) if side[0].of else f"no serve {side[2]} has a kind logged"
        for side in (early, late)
    )
    few = min(_sizes(result)) < 2
    facts = f"{first}; {second}." if few else f"{first}, {so_many(late, unit=False)}."
    if result.grade in (Grade.CLEAR, Grade.LEANING):
        used = f"{v.verb('seem', 'seems')} to have used" if result.grade is Grade.LEANING else "used"
        return f"{v.subject} {used} the {kind.one} {less} as the match went on.", facts
    if result.grade is Grade.NO_DIFFERENCE:
        return f"{v.subject} used the {kind.one} about as often throughout the match.", facts
    return f"Did {v.own} use of the {kind.one} change during the match?", facts


def _change(result: QuestionResult, v: Voice, _s: SentenceContext) -> HeadlineFacts:
    assert result.second is not None
    facts = "No kind of serve was both changed to and repeated from one box, so nothing can be compared."
    if result.first.of and result.second.of:
        sides = (result.first, "after changing to that kind"), (result.second, "after repeating it")
        won = won_words(v, *((share, RALLIES, when) for share, when in sides))
        facts = f"Among serves of the same kind from the same box, {won}"
    if result.grade is Grade.TOO_FEW:
        return "Does changing the serve pay?", facts
    if result.grade is Grade.NO_DIFFERENCE:
        return "it makes no real difference whether the serve is changed or repeated.", facts
    which, other = ("changing", "repeating") if result.gap >= 0 else ("repeating", "changing")
    return f"{v.subject} {_wins(result.grade, v)} after {which} the serve than after {other} it.", facts


def _serve_edge(result: QuestionResult, v: Voice, _s: SentenceContext) -> HeadlineFacts:
    assert result.second is not None
    facts = won_words(v, (result.first, RALLIES, "serving"), (result.second, RALLIES, "receiving"))
    if result.games is not None and result.games[0]:
        counted = f"{games(result.games[0])} {plural(len(result.games[0]), 'is', 'are')}"
        facts += f" Only {counted} counted, where every winner is known."
    if result.matches > 1 and result.gap > 0 and result.grade is Grade.CLEAR:
        facts += " Only long runs of points would look the same."
    if result.runs_explain:
        if chance_alone_may(result):
            return "Does serving help?", facts
        these = "one match" if result.matches == 1 else "these matches"
        return f"Serving, or a run of points? {capital(these)} cannot tell.", facts
    if result.grade is Grade.TOO_FEW:
        return "Does serving help?", facts
    if result.grade is Grade.NO_DIFFERENCE:
        return f"{v.subject} {v.verb('win', 'wins')} about as often serving as receiving.", facts
    better, other = ("serving", "receiving") if result.gap >= 0 else ("receiving", "serving")
    return f"{v.subject} {_wins(result.grade, v)} {better} than {other}.", facts


def _long(result: QuestionResult, v: Voice, s: SentenceContext) -> HeadlineFacts:
    assert result.second is not None
    longer = Noun("longer rally", "longer rallies"), f"(over about {s.longer_than})"
    shorter = Noun("shorter one", "shorter ones"), ""
    facts = won_words(v, (result.first, *longer), (result.second, *shorter)).replace(
        "lets excluded.", f"lets excluded{s.length_of}."
    )
    if result.grade is Grade.TOO_FEW:
        return "Who gains from long rallies?", facts
    if result.grade is Grade.NO_DIFFERENCE:
        return "Rally length makes no real difference.", facts
    which, other = ("longer", "shorter") if result.gap >= 0 else ("shorter", "longer")
    win = _seems(result.grade, v, "win", "wins")
    return f"{v.subject} {win} {which} rallies more often than {other} ones.", facts


def _kind_weak(result: QuestionResult, v: Voice, s: SentenceContext) -> HeadlineFacts:
    assert result.second is not None
    kind, first = s.noun(result.kinds[0]), result.first
    if not first.of:
        nothing = f"No return to {v.own} {kind.many} is logged."
        return f"Does the {kind.one} draw weak returns?", nothing
    code = result.kinds[0]
    facts = weak_words(
        v.opponents,
        of_returns((first, kind, ""), s.logged.served_of([code]), s.logged.some_kinds_missing),
        of_returns((result.second, _others(code, s), ""), s.logged.served_but(code)),
    )
    if result.grade is Grade.LEANING:
        often = "more often" if result.gap >= 0 else "less often"
        headline = f"{v.own} {kind.one} seems to draw weak returns {often} than {v.own} other serves."
        return headline, facts
    if result.grade is Grade.NO_DIFFERENCE:
        headline = f"{v.own} {kind.one} draws weak returns about as often as {v.own} other serves."
        return headline, facts
    return f"Does the {kind.one} draw weak returns?", facts


_ANOTHER = Noun("serve of another kind", "serves of another kind")
_NAMED = Noun("serve of a named kind", "serves of a named kind")


def _others(code: int, s: SentenceContext) -> Noun:
    """Return all serves but this kind; where a kind is called "other" they are not "other serves"."""
    if s.kinds[code] == "other":
        return _NAMED
    return _ANOTHER if "other" in (s.kinds[used] for used in s.used) else Noun("other serve", "other serves")


def _kind_won(result: QuestionResult, v: Voice, s: SentenceContext) -> HeadlineFacts:
    assert result.second is not None
    code = result.kinds[0]
    kind = s.noun(code)
    facts = won_words(
        v,
        of_results(
            (result.first, RALLIES, f"on the {kind.one}"),
            s.logged.served_of([code]),
            s.logged.some_kinds_missing,
        ),
        of_results((result.second, RALLIES, f"on {_others(code, s).many}"), s.logged.served_but(code)),
    )
    if result.grade is Grade.LEANING:
        win = _wins(result.grade, v, "more often" if result.gap >= 0 else "less often")
        return f"{v.subject} {win} on the {kind.one} than on other serves.", facts
    if result.grade is Grade.NO_DIFFERENCE:
        win = v.verb("win", "wins")
        return f"{v.subject} {win} about as often on the {kind.one} as on other serves.", facts
    return f"Does the {kind.one} win rallies?", facts


def _after(result: QuestionResult, v: Voice, s: SentenceContext) -> HeadlineFacts:
    kind = s.noun(result.kinds[0])
    again = "another of these" if s.kinds[result.kinds[0]] == "other" else "the same again"
    n = result.first.of
    if n == 1:
        same = "the same" if result.first.count else "another"
        following = "a serve with a kind logged" if s.logged.some_kinds_missing else "another serve"
        what = f"of {same} kind" if again == "the same again" else f"logged as {same} kind"
        facts = f"Only one {kind.one} was followed by {following}, and that was {what}."
    else:
        facts = (
            f"After {kind.with_article}, {v.subject} served {again} {result.first.count} of {n} "
            f"times. {_expected(result)}"
        )
    if result.grade is Grade.LEANING:
        seems = v.verb("seem", "seems")
        often = "more often" if result.gap >= 0 else "less often"
        headline = (
            f"After {kind.with_article}, {v.subject} {seems} to serve {again} {often} than chance "
            "would explain."
        )
        return headline, facts
    return f"What follows {kind.with_article}?", facts


def _box(result: QuestionResult, v: Voice, s: SentenceContext) -> HeadlineFacts:
    assert result.second is not None
    boxes = "from the right box", "from the left"
    if result.ask is Question.BOX_WEAK:
        sides = [(share, SERVES, box) for share, box in zip(two_of(result), boxes, strict=True)]
        facts = weak_words(v.opponents, *map(of_returns, sides, s.logged.by_box))
    else:
        rallies = Noun("rally served", "rallies served")
        sides = [(share, rallies, box) for share, box in zip(two_of(result), boxes, strict=True)]
        facts = won_words(v, *map(of_results, sides, s.logged.by_box))
    if result.grade is Grade.LEANING:
        box, other = ("right", "left") if result.gap >= 0 else ("left", "right")
        if result.ask is Question.BOX_WEAK:
            headline = f"{v.own} serves from the {box} box seem to draw weak returns more often."
            return headline, facts
        return (
            f"{v.subject} {_wins(result.grade, v)} serving from the {box} box than from the {other}.",
            facts,
        )
    if result.grade is Grade.NO_DIFFERENCE:
        return "The service box makes no real difference.", facts
    if result.ask is Question.BOX_WEAK:
        return "Does one service box draw weak returns more often?", facts
    return "Does one service box win rallies more often?", facts


def _volley(result: QuestionResult, v: Voice, s: SentenceContext) -> HeadlineFacts:
    assert result.second is not None
    ones = Noun("volleyed one", "volleyed ones"), Noun("one taken later", "taken later")
    if s.logged.some_taken_missing:
        ones = (
            Noun("one logged as volleyed", "logged as volleyed"),
            Noun("one logged as taken later", "logged as taken later"),
        )
    volleyed, later = ((share, noun, "") for share, noun in zip(two_of(result), ones, strict=True))
    first, second = were_words(volleyed, "loose"), were_words(later, "loose")
    facts = f"Of the returns made, {first}, against {so_many(later)}."
    if min(_sizes(result)) < 2:
        facts = f"Of the returns made, {first}; {second}."
    if result.grade is Grade.LEANING:
        one_way, other = ("volleyed", "later") if result.gap >= 0 else ("later", "volleyed")
        headline = f"{v.opponents} {one_way} returns seem to be loose more often than {other} ones."
        return headline, facts
    if result.grade is Grade.NO_DIFFERENCE:
        return f"{v.opponent} returns about as well on the volley as later.", facts
    return f"Is it better to make {v.opponent} volley?", facts


_SAY: dict[Question, Callable[[QuestionResult, Voice, SentenceContext], HeadlineFacts]] = {
    Question.WEAK: _weak,
    Question.WON: _won,
    Question.REPEAT: _repeat,
    Question.DRIFT: _drift,
    Question.CHANGE: _change,
    Question.SERVE_EDGE: _serve_edge,
    Question.LONG: _long,
    Question.KIND_WEAK: _kind_weak,
    Question.KIND_WON: _kind_won,
    Question.KIND_DRIFT: _drift,
    Question.AFTER: _after,
    Question.BOX_WEAK: _box,
    Question.BOX_WON: _box,
    Question.VOLLEY: _volley,
}


_FOR_PARENTS = {
    Grade.LEANING: "It may be chance; more matches will show.",
    Grade.NO_DIFFERENCE: "There is no real difference.",
    Grade.TOO_FEW: "There is too little to be sure.",
}


def _for_parents(result: QuestionResult, scene: SentenceContext) -> str:
    """Return what the counts are worth, in one sentence; "" where there is nothing to compare."""
    if nothing_to_compare(result) or (result.ask is Question.REPEAT and len(scene.used) == 1):
        return luck_words(result, scene.scope, scene.asked)
    if result.runs_explain:
        if chance_alone_may(result):
            return "It may be chance or a run of points."
        return "A run of points would look the same, so we cannot be sure."
    if result.unwritten:
        return luck_words(result, scene.scope, scene.asked)
    if result.doubted:
        return f"Two observers disagreed on {doubted_words(result)} too often to judge this."
    if never_together(result):
        return "No match has both logged, so they cannot be compared."
    if result.second is not None and not (result.first.of and result.second.of):
        return luck_words(result, scene.scope, scene.asked)
    luck = luck_words(result, scene.scope, scene.asked)
    if result.grade is Grade.TOO_FEW and (luck == EQUAL or luck.endswith("too few to judge.")):
        return luck
    if result.grade is Grade.CLEAR:
        return f"This is {unlikely_words(result)} to be chance."
    if result.grade is Grade.LEANING and result.ask is Question.SERVE_EDGE and result.gap > 0:
        return "It may be chance or a run of points."
    if result.grade is Grade.LEANING and (reason := why_not_clear(result)):
        return f"This is not certain yet: {reason}."
    return _FOR_PARENTS[result.grade]


def _favoured(result: QuestionResult, scene: SentenceContext) -> str:
    """Return the side that does better in the gap judged: a kind of serve, or changing or repeating."""
    first = (result.gap_compared or 0.0) > 0
    if result.ask is Question.CHANGE:
        return "changing" if first else "repeating"
    if not result.kinds or result.second is None:
        return ""
    if len(result.kinds) == 1:
        return f"the {scene.noun(result.kinds[0]).one}" if first else "other serves"
    return f"the {scene.noun(result.kinds[0 if first else 1]).one}"


def say_result(result: QuestionResult, scene: SentenceContext) -> Words:
    """Return one finding in words: about the player, to the player, and to parents.

    Parameters
    ----------
    result : QuestionResult
        The question with what was seen, graded.
    scene : SentenceContext
        Names, kinds and what would settle it.
    """
    out: list[str] = []
    parents = ""
    for voice in voices(scene.names, scene.side):
        headline, facts = _SAY[result.ask](result, voice, scene)
        if counts_hide_gap(result):
            headline = f"Within matches, {headline}"
        within = match_by_match(result, _favoured(result, scene))
        parts = capital(facts), missing_answers_words(result, scene.logged), within, scene.likely
        facts = " ".join(part for part in parts if part)
        parents = parents or f"{facts} {_for_parents(result, scene)}".rstrip()
        luck = luck_words(result, scene.scope, scene.asked)
        parts = (
            facts,
            luck,
            survives_words(result, f"{facts} {luck}"),
            settle_words(result, scene.more, scene.scope),
        )
        out += [capital(headline), " ".join(part for part in parts if part)]
    return Words(out[0], out[1], out[2], out[3], parents)
