"""Words for counts that rest on a part of what was played, because the rest was not written down."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from goodlength.findings.question_types import RESTS_ON, Question, QuestionResult
from goodlength.findings.text.proportion_comparison_sentences import Side
from goodlength.findings.text.sentence_grammar import plural

MOST = 0.8  # part of the answers up to which they are called "only" so many
UNSAID = 0.05  # part of the answers that may be missing before a finding says so


@dataclass(frozen=True)
class LoggedAnswers:
    """How much of what a player served was written down, for sentences on counts of a part of it.

    `kinds`, `returns`, `winners` and `all_winners` are pairs: answered, and of how many. The others count
    serves, lets too: by kind, from the right and the left box.
    """

    kinds: tuple[int, int] = (0, 0)
    returns: tuple[int, int] = (0, 0)
    winners: tuple[int, int] = (0, 0)  # of the player's own serves
    all_winners: tuple[int, int] = (0, 0)  # of both players' serves
    by_kind: Mapping[int, int] = field(default_factory=dict)
    by_box: tuple[int, int] = (0, 0)
    box_returns: tuple[int, int] = (0, 0)  # of all serves, those without a kind too
    taken: tuple[int, int] = (0, 0)  # returns made with how they were taken logged, and all of them

    @property
    def some_kinds_missing(self) -> bool:
        """Whether any serve of the player has no kind logged."""
        return self.kinds[0] < self.kinds[1]

    @property
    def some_taken_missing(self) -> bool:
        """Whether more than one in twenty returns has not been logged as volleyed or taken later."""
        return _few(self.taken)

    def served_of(self, codes: Iterable[int]) -> int:
        """Return how many serves were of these kinds, lets too."""
        return sum(self.by_kind.get(code, 0) for code in codes)

    def served_but(self, code: int) -> int:
        """Return how many serves were of all other kinds, lets too."""
        return self.served_of(other for other in self.by_kind if other != code)


def of_returns(side: Side, served: int, of_some: bool = False) -> Side:
    """Return the side of a comparison of returns: the only serve of several is that with a return logged.

    `of_some` says that other serves have no kind logged, so that there may be more of this one.
    """
    return the_only(side, served, "with its return logged", "logged" if of_some else "")


def of_results(side: Side, served: int, of_some: bool = False) -> Side:
    """Return the side of a comparison of rallies won: the only rally of several is that with its result."""
    return the_only(side, served, "whose winner is logged", "that is logged" if of_some else "")


def the_only(side: Side, served: int, of_several: str, otherwise: str = "") -> Side:
    """Return the side with what is logged of its only serve or rally, where more of them were played.

    Examples
    --------
    >>> from goodlength.findings.result_types import Share
    >>> from goodlength.findings.text.sentence_grammar import Noun
    >>> only = Share(1, 1, 0, 1), Noun("lob", "lobs"), ""
    >>> the_only(only, 3, "with its return logged")[2], the_only(only, 1, "with its return logged")[2]
    ('with its return logged', '')
    >>> the_only(only, 1, "with its return logged", "logged")[2]
    'logged'
    """
    share, noun, where = side
    logged = of_several if served > 1 else otherwise
    return (share, noun, f"{where} {logged}".strip()) if share.of == 1 else side


def missing_answers_words(result: QuestionResult, logged: LoggedAnswers) -> str:
    """Return how few answers the counts rest on, where more than one in twenty is missing; else ""."""
    on = RESTS_ON[result.ask]
    of_kinds = _only(*logged.kinds, "has a kind logged", "have a kind logged")
    parts = [of_kinds] if "kind" in on and _few(logged.kinds) else []
    if result.ask is Question.VOLLEY and _few(logged.taken):
        some = _few_words(*logged.taken).lower()
        parts.append(f"How the return was taken is logged for {some} of {logged.taken[1]} returns made.")
    elif "left" in on:
        parts.append(_returns_missing(logged.returns if "kind" in on else logged.box_returns, bool(parts)))
    if "winner" in on:
        parts.append(_winners_missing(result, logged))
    return " ".join(part for part in parts if part)


def _returns_missing(returns: tuple[int, int], of_some: bool) -> str:
    if not _few(returns):
        return ""
    if of_some:  # serves with a kind were counted just before
        some, of = returns
        have = plural(some, "has", "have")
        few = _few_words(some, of).lower()
        return f"Of these, lets and service faults excluded, {few} of {of} {have} a return logged."
    return _only(*returns, "has a return logged", "have a return logged")


def _winners_missing(result: QuestionResult, logged: LoggedAnswers) -> str:
    of_all = result.ask in (Question.SERVE_EDGE, Question.LONG)
    results = logged.all_winners if of_all else logged.winners
    if result.ask is Question.SERVE_EDGE and not result.games and _whole_games_left_out(result, results):
        return "Only games where every winner is known are counted."
    if not _few(results) or (result.games and of_all):
        return ""
    unit = "rallies" if of_all else "rallies served"
    return f"Who won is logged for {_few_words(*results).lower()} of {results[1]} {unit}."


def _whole_games_left_out(result: QuestionResult, results: tuple[int, int]) -> bool:
    counted = result.first.of + (result.second.of if result.second else 0)
    return _few((counted, results[1]))


def _few(answered: tuple[int, int]) -> bool:
    return 0 < answered[0] < (1 - UNSAID) * answered[1]  # of none it is said that none is logged


def _only(some: int, of: int, has: str, have: str) -> str:
    return f"{_few_words(some, of)} of {of} serves {plural(some, has, have)}."


def _few_words(some: int, of: int) -> str:
    return str(some) if some > MOST * of else f"Only {some}"
