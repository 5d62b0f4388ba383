"""Result types of findings: frozen, every figure with its count, its interval and its rallies."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import Literal

from goodlength.record.model import Ending, Left, ReturnKind

SideKey = Literal["a", "b"]


class Grade(StrEnum):
    """How much a finding may be leaned on; only `findings.statistics.evidence_grades` gives one."""

    CLEAR = "clear"
    LEANING = "leaning"
    TOO_FEW = "too-few"
    NO_DIFFERENCE = "no-difference"

    @property
    def words(self) -> str:
        """The grade as the page says it."""
        return _GRADE_WORDS[self]


_GRADE_WORDS = {
    Grade.CLEAR: "Clear",
    Grade.LEANING: "Possible",
    Grade.TOO_FEW: "Not enough data",
    Grade.NO_DIFFERENCE: "No real difference",
}


class Pronoun(StrEnum):
    """How sentences speak of a player; without one the name is said."""

    SHE = "she"
    HE = "he"
    THEY = "they"


@dataclass(frozen=True)
class Names:
    """The two players' names, and how sentences may speak of them."""

    a: str
    b: str
    a_pronoun: Pronoun | None = None
    b_pronoun: Pronoun | None = None


@dataclass(frozen=True)
class Share:
    """`count` of `of`, the range the true share could lie in (95 in 100), and the rallies counted.

    With `of` zero the range is 0 to 1: nothing is known.
    """

    count: int
    of: int
    low: float
    high: float
    rallies: tuple[str, ...] = ()

    @property
    def seen(self) -> float | None:
        """The share seen, 0 to 1; None when there is nothing to divide by."""
        return self.count / self.of if self.of else None


@dataclass(frozen=True)
class WidenedShare(Share):
    """A share that rests on answers nobody checked; `wider`: by how much its range grew, down and up."""

    wider: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True)
class Effect:
    """A difference between two shares (first minus second), with the range it could lie in (95 in 100)."""

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class PooledShare:
    """A share drawn in towards those of the other kinds, with the range it could lie in (95 in 100)."""

    mean: float
    low: float
    high: float


@dataclass(frozen=True)
class LikelyGap:
    """Size of a graded gap after shrinkage: both shares, and first minus second. Shares, 0 to 1.

    `second` is the share expected from chance where the gap is one against chance.
    """

    first: float
    second: float
    gap: float


@dataclass(frozen=True)
class Words:
    """One finding said three times: about the player, to the player, and to a player's parents."""

    headline: str
    text: str
    you_headline: str
    you_text: str
    parents: str


@dataclass(frozen=True)
class Finding:
    """One thing the record says, in words, with its grade and the rallies behind it.

    `count` of `of` with `interval` is the share the sentence leads with; `against` is what it is held
    against, if anything. `p` is the chance that luck alone gives a gap this wide, for this question by
    itself; `q` is `p` adjusted over everything asked of the match. None: the question was not asked.
    `more` is about how many more serves (or rallies) of each sort would settle it, None where it is
    settled or where no number can be named.
    """

    key: str
    question: str
    headline: str
    words: str
    you_headline: str
    you_words: str
    parent_words: str  # for parents: the counts, and in plain words how far to believe them
    grade: Grade
    listed: bool
    about: SideKey
    count: int
    of: int
    interval: tuple[float, float]
    against: Share | None
    p: float | None
    q: float | None
    effect: Effect | None
    smaller_side: int
    more: int | None
    rallies: tuple[str, ...]
    scope: str = "in this match"
    doubted: tuple[str, ...] = ()  # columns that failed their reliability check: shown greyed, no grade
    likely: LikelyGap | None = None  # of a graded gap: its size after shrinkage
    survives: tuple[str, ...] = ()  # of a graded finding: what else could be, and it would still hold


@dataclass(frozen=True)
class KindRow:
    """How often one kind was served: by game, by box and in the whole match."""

    kind: str
    words: str
    by_game: tuple[Share, ...]
    right: Share
    left: Share
    whole: Share
    grade: Grade  # of its change between the first and the second part of the match


@dataclass(frozen=True)
class EffectRow:
    """What one kind did to the return. `weak` returns were loose or not made; None: not served there."""

    kind: str
    words: str
    right: Share | None
    left: Share | None
    whole: Share | None
    by_return: tuple[tuple[Left, Share], ...]
    won: Share  # rallies of that kind the server won, lets left out
    weak_shrunk: PooledShare | None  # the same shares drawn in towards the other kinds
    won_shrunk: PooledShare | None
    grade: Grade


@dataclass(frozen=True)
class RepeatRow:
    """How often the next serve was of the same kind as the last, and what luck alone would give."""

    kind: str | None  # None: any serve
    words: str
    seen: Share
    luck_low: float
    luck_high: float
    luck_mean: float
    grade: Grade


@dataclass(frozen=True)
class Variety:
    """How many kinds are really in use: the effective number, with its range and the count behind it."""

    serves: int
    kinds_used: int
    kinds_open: int
    effective: float | None
    low: float | None
    high: float | None
    commonest: str | None
    commonest_words: str
    guess: Share  # right guesses of somebody who always says the commonest kind
    words: str


@dataclass(frozen=True)
class GuessingWatch:
    """Guesses made one serve ahead, each from the serves before it only."""

    hits: int
    usual_hits: int  # of somebody who always says the commonest kind so far
    of: int
    gain_bits: float  # bits a serve gained over knowing the mix so far


@dataclass(frozen=True)
class StateRow:
    """The mix in one situation: the commonest kind there, and the effective number of kinds."""

    words: str
    serves: int
    commonest: str | None
    share: Share
    effective: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True)
class Guess:
    """Could the opponent guess the next serve? Counts, what luck gives, and the words."""

    seen: GuessingWatch
    luck_low: int  # right guesses if the order of the serves within each game were luck, 95 in 100
    luck_high: int
    factor: float  # Bayes factor of a chain against no link
    bits_seen: float  # plug-in mutual information, with what luck gives beside it
    bits_luck_high: float
    states: tuple[StateRow, ...]
    words: str


@dataclass(frozen=True)
class LengthRow:
    """Median and quartiles of rally length, in seconds and in shots; None: not recorded."""

    words: str
    rallies: tuple[str, ...]
    timed: int
    median_s: float | None
    quartile_low_s: float | None
    quartile_high_s: float | None
    counted: int
    median_shots: float | None
    quartile_low_shots: float | None
    quartile_high_shots: float | None


@dataclass(frozen=True)
class EndingRow:
    """How rallies ended, by the player who did it: a winner by its striker, an error by its maker."""

    ending: Ending
    words: str
    a: Share
    b: Share


@dataclass(frozen=True)
class ReturnRow:
    """One way of taking the serve: how often, and what came of it."""

    how: ReturnKind
    words: str
    taken: Share
    weak: Share | None  # left a loose ball or none
    won: Share  # rallies won by the receiver, lets left out


@dataclass(frozen=True)
class ToRow:
    """One place returns of serve went to: how often, and what came of it."""

    to: str
    words: str
    sent: Share
    weak: Share | None  # left a loose ball
    won: Share  # rallies won by the receiver, lets left out


@dataclass(frozen=True)
class WonRow:
    """Rallies won, said with both things one can divide by."""

    words: str
    decided: Share  # lets left out
    with_lets: Share  # every rally, lets counted as not won
    lets: int


@dataclass(frozen=True)
class EndedRow:
    """One stroke or place: its share of a player's winners, and of the same player's errors."""

    words: str
    winners: Share
    errors: Share


@dataclass(frozen=True)
class Tables:
    """The evidence behind one player's findings."""

    games: tuple[int, ...]
    serves: tuple[KindRow, ...]
    serves_by_game: tuple[int, ...]  # serves with a kind written down
    kind_missing: int
    effects: tuple[EffectRow, ...]
    weak_all: tuple[Share, Share, Share]  # right box, left box, whole match
    repeats: tuple[RepeatRow, ...]
    variety: Variety
    guess: Guess | None  # None with fewer than two serves whose kind is known
    lengths: tuple[LengthRow, ...]
    endings: tuple[EndingRow, ...]
    endings_lets: int
    endings_missing: int
    returned: tuple[ReturnRow, ...]  # the opponent's returns of this player's serves
    returns: tuple[ReturnRow, ...]  # this player's returns
    serving: WonRow
    receiving: WonRow
    phases: tuple[WonRow, ...]
    strokes: tuple[EndedRow, ...]
    places: tuple[EndedRow, ...]
    returned_to: tuple[ToRow, ...] = ()  # where the opponent's returns of this player's serves went
    returns_to: tuple[ToRow, ...] = ()  # where this player's returns went


@dataclass(frozen=True)
class Findings:
    """Everything found about one player of one match. `top` holds at most three, first the surest."""

    match: str
    side: SideKey
    summary: str
    notes: tuple[str, ...]
    top: tuple[Finding, ...]
    all: tuple[Finding, ...]
    tables: Tables
    asked: int  # questions of the declared list that could be asked of this match
    exploratory: int = 0  # questions outside the list
    scope: str = field(default="in this match")
