"""Sentence grammar: numbers in words, kinds of serve as nouns, names and pronouns."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from goodlength.findings.result_types import Names, Pronoun, Share, SideKey
from goodlength.record.model import DEFAULT_KINDS

_NUMBERS = [
    "no",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
]
_DEFAULT = {kind.id: kind.words for kind in DEFAULT_KINDS}


def number_in_words(n: int) -> str:
    """Return a count as running text says it: in words up to twelve.

    Examples
    --------
    >>> number_in_words(2), number_in_words(40)
    ('two', '40')
    """
    return _NUMBERS[n] if 0 <= n < len(_NUMBERS) else str(n)


def plural(n: int, text: str, many: str) -> str:
    """Return the word that fits the count.

    Examples
    --------
    >>> plural(1, "rally", "rallies")
    'rally'
    """
    return text if n == 1 else many


def listing(items: Sequence[object]) -> str:
    """Return items as a sentence lists them.

    Examples
    --------
    >>> listing([1, 2, 3])
    '1, 2 and 3'
    """
    texts = [str(item) for item in items]
    return texts[0] if len(texts) == 1 else f"{', '.join(texts[:-1])} and {texts[-1]}" if texts else ""


def games(numbers: Sequence[int]) -> str:
    """Return games by number, three and more in a row as their first and last.

    Examples
    --------
    >>> games((3,)), games((1, 2)), games((5, 6, 7, 8)), games((1, 3, 4, 5))
    ('game 3', 'games 1 and 2', 'games 5 to 8', 'games 1 and 3 to 5')
    """
    return f"game {numbers[0]}" if len(numbers) == 1 else f"games {listing(_in_rows(numbers))}"


def _in_rows(numbers: Sequence[int]) -> list[str]:
    """Return numbers with rows of three and more as "5 to 8"."""
    rows: list[list[int]] = []
    for number in numbers:
        if rows and number == rows[-1][-1] + 1:
            rows[-1].append(number)
        else:
            rows.append([number])
    return [
        row_words
        for row in rows
        for row_words in ([f"{row[0]} to {row[-1]}"] if len(row) > 2 else [str(number) for number in row])
    ]


def capital(text: str) -> str:
    """Return the text with a capital first letter.

    Examples
    --------
    >>> capital("her lob")
    'Her lob'
    """
    return text[:1].upper() + text[1:]


def frequency_in_words(p: float) -> str:
    """Return a chance in a coach's words, no surer than the number.

    Examples
    --------
    >>> frequency_in_words(0.11), frequency_in_words(0.41), frequency_in_words(0.002)
    ('about 1 time in 9', 'about half the time', 'less than 1 time in 100')
    """
    for limit, phrase in (
        (0.85, "nearly every time"),
        (0.5, "more often than not"),
        (0.4, "about half the time"),
        (1 / 3, "about 2 times in 5"),
        (0.25, "about 1 time in 3"),
    ):
        if p > limit:
            return phrase
    if p < 0.01:
        return "less than 1 time in 100"
    once_in = math.floor(1 / p + 1e-9)  # the less sure side
    if once_in > _STEPS[0]:
        once_in = max(step for step in _STEPS if step <= once_in)
    return f"about 1 time in {once_in}"


_STEPS = (30, 35, 40, 45, 50, 60, 70, 80, 90, 100)  # "1 time in ..." beyond the first: neighbours stay near


def about_expected(expected: float) -> str:
    """Return a number expected by chance, in words where it is under one.

    Examples
    --------
    >>> about_expected(0.4), about_expected(7.7), about_expected(2.5)
    ('fewer than one', 'about 8', 'between 2 and 3')
    """
    least = math.floor(expected)
    if 1 <= least < 10 and abs(expected - least - 0.5) <= 0.1:
        return f"between {least} and {least + 1}"
    return "fewer than one" if expected < 0.75 else f"about {max(1, round(expected))}"


def about_many(n: int) -> int:
    """Return a number as it follows "about": from 20 in fives, from 50 in tens.

    Examples
    --------
    >>> about_many(14), about_many(46), about_many(246)
    (14, 45, 250)
    """
    return n if n < 20 else 5 * round(n / 5) if n < 50 else round(n, -1)


@dataclass(frozen=True)
class Noun:
    """A kind of serve as sentences say it."""

    one: str
    many: str

    @property
    def with_article(self) -> str:
        """With "a" or "an"."""
        return f"{'an' if self.one[:1].lower() in 'aeiou' else 'a'} {self.one}"

    def count(self, share: Share) -> str:
        """Return a count in words: "11 of 17 lobs", "0 of 1 lob"."""
        return f"{share.count} of {share.of} {self.one if share.of == 1 else self.many}"


_NOUNS = {
    "lob": Noun("lob", "lobs"),
    "body-feet": Noun("body serve bouncing at the feet", "body serves bouncing at the feet"),
    "body-nick": Noun("body serve for the back-wall nick", "body serves for the back-wall nick"),
    "other": Noun("serve logged as “other”", "serves logged as “other”"),
}


def label(kind: str, kind_words: Mapping[str, str]) -> str:
    """Return the coach's words for a kind; the id where there are none."""
    return kind_words.get(kind) or _DEFAULT.get(kind) or kind


def noun(kind: str, kind_words: Mapping[str, str]) -> Noun:
    """Return the kind in the middle of a sentence, also one the coach has named.

    Examples
    --------
    >>> noun("body-feet", {}).one
    'body serve bouncing at the feet'
    >>> noun("x1", {"x1": "Backhand slice"}).many
    'backhand slice serves'
    """
    text = label(kind, kind_words).strip()
    if kind in _NOUNS and text == _DEFAULT[kind]:
        return _NOUNS[kind]
    head, comma, rest = text.partition(",")
    if head[1:2].islower():  # not "T ball"
        head = head[:1].lower() + head[1:]
    tail = f" ({rest.strip()})" if comma else ""
    if head.lower().endswith(("serves", "lobs")):
        return Noun(f"{head[:-1]}{tail}", f"{head}{tail}")
    if head.lower().endswith(("serve", "lob")):
        return Noun(f"{head}{tail}", f"{head}s{tail}")
    return Noun(f"{head} serve{tail}", f"{head} serves{tail}")


def name_of(names: Names, side: SideKey) -> str:
    """Return a player's full name."""
    return (names.a if side == "a" else names.b).strip() or f"Player {side.upper()}"


def short(names: Names, side: SideKey) -> str:
    """Return a player's first name, or the full name where the two first names are the same.

    Examples
    --------
    >>> short(Names("Imogen Vale", "Petra Lindqvist-Ode"), "a")
    'Imogen'
    """
    mine = name_of(names, side)
    other = name_of(names, "b" if side == "a" else "a")
    first = mine.split()[0]
    if first[0].islower():  # "the other player", where there were several
        return mine
    return mine if first == other.split()[0] or first == "Player" else first


def owner(name: str) -> str:
    """Return the possessive of a name.

    Examples
    --------
    >>> owner("Petra")
    'Petra’s'
    """
    return f"{name}’s"


_FORMS = {
    Pronoun.SHE: ("she", "her", "her"),
    Pronoun.HE: ("he", "his", "him"),
    Pronoun.THEY: ("they", "their", "them"),
}


@dataclass(frozen=True)
class Voice:
    """How one sentence speaks of the player it is about, and of the opponent."""

    subject: str  # she, you, Imogen
    own: str  # her, your, Imogen's
    opponent: str
    plural: bool  # takes "win" rather than "wins"

    @property
    def opponents(self) -> str:
        """The opponent's, as possessive."""
        return owner(self.opponent)

    def verb(self, plain: str, third: str) -> str:
        """Return the form of a verb that fits the subject."""
        return plain if self.plural else third


def voices(names: Names, side: SideKey) -> tuple[Voice, Voice]:
    """Return the voice about the player, and the voice to the player.

    Examples
    --------
    >>> about, to = voices(Names("Imogen Vale", "Petra Lindqvist-Ode", Pronoun.SHE), "a")
    >>> about.own, to.own
    ('her', 'your')
    """
    opponent = short(names, "b" if side == "a" else "a")
    pronoun = names.a_pronoun if side == "a" else names.b_pronoun
    you = Voice("you", "your", opponent, True)
    if pronoun is None:
        me = short(names, side)
        return Voice(me, owner(me), opponent, False), you
    subject, own, _ = _FORMS[pronoun]
    return Voice(subject, own, opponent, pronoun is Pronoun.THEY), you
