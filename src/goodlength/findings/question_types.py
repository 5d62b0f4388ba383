"""Types of the questions asked of a match, and of the result of one question."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

from goodlength.findings.result_types import Effect, Grade, Share, SideKey
from goodlength.findings.statistics import exact_tests

RUNS_EXPLAIN_BELOW = 0.1  # the same of a gap of serving, which a run of points gives too
EXPLAINED = 0.05  # p up to here is worth an explanation, where the explanation's own p is no higher


class Question(StrEnum):
    """The questions. The first block is the declared list, asked of each player or of the match."""

    WEAK = "weak"  # does one of the two commonest kinds draw more weak returns than the other?
    WON = "won"  # does she win more rallies on one of them?
    REPEAT = "repeat"  # does the next serve repeat the last more, or less, often than luck?
    DRIFT = "drift"  # did the share of the commonest kind change over the match?
    CHANGE = "change"  # does changing the serve win more rallies than repeating it?
    SERVE_EDGE = "serve-edge"  # of the match: does serving help?
    LONG = "long"  # of the match: who wins the longer rallies?

    KIND_WEAK = "kind-weak"  # a further kind against all others
    KIND_WON = "kind-won"
    KIND_DRIFT = "kind-drift"
    AFTER = "after"  # repeats straight after one kind
    BOX_WEAK = "box-weak"
    BOX_WON = "box-won"
    VOLLEY = "volley"  # do volleyed returns of her serve leave less?


LISTED = frozenset(
    {
        Question.WEAK,
        Question.WON,
        Question.REPEAT,
        Question.DRIFT,
        Question.CHANGE,
        Question.SERVE_EDGE,
        Question.LONG,
    }
)


# What each question rests on, by the columns of the table: a column that two observers did not agree on
# takes its questions out.
RESTS_ON: dict[Question, frozenset[str]] = {
    Question.WEAK: frozenset({"kind", "left", "how_taken"}),
    Question.WON: frozenset({"kind", "winner"}),
    Question.REPEAT: frozenset({"kind"}),
    Question.DRIFT: frozenset({"kind"}),
    Question.CHANGE: frozenset({"kind", "winner"}),
    Question.SERVE_EDGE: frozenset({"server", "winner"}),
    Question.LONG: frozenset({"winner"}),
    Question.KIND_WEAK: frozenset({"kind", "left", "how_taken"}),
    Question.KIND_WON: frozenset({"kind", "winner"}),
    Question.KIND_DRIFT: frozenset({"kind"}),
    Question.AFTER: frozenset({"kind"}),
    Question.BOX_WEAK: frozenset({"box", "left", "how_taken"}),
    Question.BOX_WON: frozenset({"box", "winner"}),
    Question.VOLLEY: frozenset({"left", "how_taken"}),
}


@dataclass(frozen=True)
class QuestionResult:
    """One question with what was seen. `first` is held against `second`; `p` None: too few to ask.

    `kinds` names the kinds compared (codes), `direction` is the chance that the difference has the sign
    seen, `checked_p` the p within boxes where that matters, or beside runs of winners (serving).
    """

    ask: Question
    side: SideKey
    first: Share
    second: Share | None
    p: float | None
    direction: float
    smaller_side: int
    kinds: tuple[int, ...] = ()
    games: tuple[tuple[int, ...], tuple[int, ...]] | None = None
    luck: tuple[float, float, float] | None = None  # mean, low, high: of the orders that are judged
    plain_luck: tuple[float, float, float] | None = None  # of all orders, where those within boxes are judged
    checked_p: float = 0.0
    effect: Effect | None = None
    within: tuple[float, float] | None = None
    q: float | None = None
    grade: Grade = Grade.TOO_FEW
    matches: int = 1
    same_sign_share: float = 1.0  # of the matches that show a gap, those whose gap has the sign of all
    doubted: frozenset[str] = frozenset()  # columns it rests on that failed their reliability check
    # Of findings over matches: the gap within matches with its standard error; what the grade is given for.
    within_matches: tuple[float, float] | None = None
    within_boxes: tuple[float, float] | None = None  # the gap inside boxes, its error
    # The gap that is judged where it is not that of the counts: inside boxes, or of the same kind and box.
    compared: float | None = None
    apart: bool = False  # no box has both kinds, so that nothing could be compared inside one
    # Of serving: rallies the server won, as many as the same scores in another order give, and all of them.
    server_won: tuple[int, float, int] | None = None
    plain_p: float | None = None  # as if serves and rallies were independent, where `p` asks for more
    by_box: tuple[Share, Share] | None = None  # of repeats: the commonest kind from the right, the left box
    unwritten: frozenset[str] = frozenset()  # columns it rests on that were answered too seldom
    # p to put into words, and that without boxes, where p by likelihood is below the tail that was seen
    stated_p: float | None = None
    stated_plain_p: float | None = None
    judged_p: float | None = None  # p of the grade, where `p` is the one put into words

    @property
    def as_stated(self) -> QuestionResult:
        """The same result with the chances that its words may name; the grade stays as it was given."""
        if self.p is None or self.stated_p is None:
            return self
        stated = max(self.p, self.stated_p)
        q = None if self.q is None else min(1.0, self.q * stated / self.p) if self.p else self.q
        plain = self.stated_plain_p or self.plain_p
        return replace(self, p=stated, q=q, plain_p=plain, judged_p=self.p)

    @property
    def listed(self) -> bool:
        """Whether the question is on the declared list."""
        return self.ask in LISTED

    @property
    def box_explains(self) -> bool:
        """Whether luck would seldom give this order, but the kinds served from each box would."""
        if self.by_box is None or not self._seldom_luck:
            return False
        right, left = self.by_box
        of_both = right.of and left.of
        return (
            bool(of_both)
            and exact_tests.fisher(right.count, right.of, left.count, left.of).mid_p <= EXPLAINED
        )

    @property
    def runs_explain(self) -> bool:
        """Whether luck would seldom give this gap, but points that come in runs would."""
        if self.ask is not Question.SERVE_EDGE or self.grade is not Grade.TOO_FEW or self.p is None:
            return False
        return self.gap > 0 and self.p <= RUNS_EXPLAIN_BELOW < self.checked_p

    @property
    def _seldom_luck(self) -> bool:
        """Whether the question has no grade though as if by luck alone it would be rare."""
        ungraded = self.grade is Grade.TOO_FEW and self.p is not None
        return ungraded and self.plain_p is not None and self.plain_p <= EXPLAINED < (self.p or 0.0)

    @property
    def gap(self) -> float:
        """First share minus second, or minus the mean of luck; within matches where there are several."""
        if self.within_matches is not None:
            return self.within_matches[0]
        return self.gap_together

    @property
    def gap_compared(self) -> float | None:
        """The gap that is judged, within matches or boxes; None where it is that of the counts."""
        return self.within_matches[0] if self.within_matches is not None else self.compared

    @property
    def gap_together(self) -> float:
        """The same gap of all counts together; 0 where one is missing."""
        other = self.second.seen if self.second else self.luck[0] if self.luck else None
        return 0.0 if self.first.seen is None or other is None else self.first.seen - other
