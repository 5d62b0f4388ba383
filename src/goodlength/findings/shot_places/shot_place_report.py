"""Findings from places of one match, or several of one player: questions in words, and the facts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from goodlength.errors import OutOfRange
from goodlength.findings.result_types import Grade
from goodlength.findings.shot_places.shot_length_tightness_and_spread import PlaceFacts, place_facts
from goodlength.findings.shot_places.shot_place_questions import (
    PlaceAnswer,
    PlaceQuestion,
    graded_places,
    place_questions,
)
from goodlength.findings.shot_places.shot_place_sentences import caution_words, fact_lines
from goodlength.findings.shot_places.shot_table import PlacedMatch
from goodlength.findings.text.effect_shrinkage import likely_words
from goodlength.findings.text.sentence_grammar import noun, owner

NO_MORE_THAN_CHANCE = "Not enough data to say that this is more than chance."


@dataclass(frozen=True)
class PlaceFinding:
    """One question with its grade, in words."""

    key: str
    headline: str
    words: str
    answer: PlaceAnswer
    scope: str

    @property
    def grade(self) -> Grade:
        """How far it may be leaned on."""
        return self.answer.grade


@dataclass(frozen=True)
class PlaceFindings:
    """Everything the places say of one player: questions, facts of both players, plain sentences, counts.

    `rallies` were logged, `followed` of them have paths that are up to date, `stale` are out of date.
    `asked` counts the questions about both players that could be asked.
    """

    name: str
    other: str
    all: tuple[PlaceFinding, ...]
    own: PlaceFacts
    theirs: PlaceFacts
    own_lines: tuple[str, ...]
    their_lines: tuple[str, ...]
    caution: str
    rallies: int
    followed: int
    stale: int
    asked: int
    strikers_unknown: int = 0
    matches: int = field(default=1)

    @property
    def lines(self) -> tuple[str, ...]:
        """Plain facts of both players."""
        return (*self.own_lines, *self.their_lines)

    @property
    def shots(self) -> int:
        """Usable shots of both players."""
        return self.own.counts.usable + self.theirs.counts.usable


def find_places(
    matches: Sequence[PlacedMatch],
    name: str,
    other: str,
    kind_words: Mapping[str, str] | None = None,
) -> PlaceFindings:
    """Return what places say of one player in one match, or in several.

    Parameters
    ----------
    matches : sequence of PlacedMatch
        At least one; `side` is that of the player.
    name, other : str
        How sentences call the player and the opponent.
    kind_words : mapping of str to str, optional
        The coach's words for kinds of serve.

    Raises
    ------
    OutOfRange
        Without a match.

    Limits
    ------
    Paths that are not sure are left out; where they are hidden more often in one corner, so are its shots.
    Measured on simulated rallies only.
    """
    if not matches:
        raise OutOfRange("Places need at least one match; got none. Follow the ball in a match first.")
    both = graded_places([*place_questions(matches, 0), *place_questions(matches, 1)])
    scope = "in this match" if len(matches) == 1 else f"over {len(matches)} matches"
    own, theirs = place_facts(matches, 0), place_facts(matches, 1)
    findings = [_finding(answer, name, other, scope, kind_words or {}) for answer in both if answer.side == 0]
    findings.sort(key=lambda finding: (finding.grade is not Grade.LEANING, finding.answer.q or 1.0))
    shots = [match.shots for match in matches]
    return PlaceFindings(
        name,
        other,
        tuple(findings),
        own,
        theirs,
        tuple(fact_lines(name, other, own)),
        tuple(fact_lines(other, name, theirs)),
        caution_words(((name, own), (other, theirs)), shots),
        sum(table.logged for table in shots),
        sum(table.followed for table in shots),
        sum(table.stale for table in shots),
        sum(answer.p is not None for answer in both),
        sum(int((table.striker < 0).sum()) for table in shots),
        len(matches),
    )


def _finding(
    answer: PlaceAnswer, name: str, other: str, scope: str, kind_words: Mapping[str, str]
) -> PlaceFinding:
    headline, facts = _headline_and_counts(answer, name, other, kind_words)
    sure = answer.grade is Grade.LEANING
    words = [facts] if answer.first.of and answer.second.of else []
    if answer.p is None:
        words.append("Too few shots to compare." if words else "No shots to compare.")
    elif sure:
        words.append(likely_words(answer.likely, answer.first, answer.second))
    else:
        words.append(NO_MORE_THAN_CHANCE)
    head = headline if sure else f"{_subject(answer.ask)}."
    return PlaceFinding(
        f"{answer.ask}{f'-{answer.kind}' if answer.kind else ''}",
        head,
        " ".join(word for word in words if word),
        answer,
        scope,
    )


def _subject(ask: PlaceQuestion) -> str:
    return {
        PlaceQuestion.RETURN_LENGTH: "Length of returns by kind of serve",
        PlaceQuestion.LENGTH_FADE: "Length in the last game",
        PlaceQuestion.TIGHT_FADE: "Tightness in the last game",
        PlaceQuestion.LOOSE_COST: "What a loose drive costs",
    }[ask]


def _headline_and_counts(
    answer: PlaceAnswer, name: str, other: str, kind_words: Mapping[str, str]
) -> tuple[str, str]:
    """Return the headline of a graded gap, and the counts."""
    first, second = answer.first, answer.second
    less = answer.gap < 0
    if answer.ask is PlaceQuestion.RETURN_LENGTH:
        serve = noun(answer.kind, kind_words) if answer.kind else None
        kind = "the commonest serve" if serve is None else serve.with_article
        return (
            f"Returns of {kind} land {'shorter' if less else 'longer'}.",
            f"Of {owner(other)} returns of {kind}, {first.count} of {first.of} bounced past the service box, "
            f"against {second.count} of {second.of} of other serves.",
        )
    if answer.ask is PlaceQuestion.LENGTH_FADE:
        return (
            f"{name} hit {'less' if less else 'more'} length in the last game.",
            f"In the last game {first.count} of {first.of} of {owner(name)} shots to length bounced past the "
            f"service box, before it {second.count} of {second.of}.",
        )
    if answer.ask is PlaceQuestion.TIGHT_FADE:
        return (
            f"{owner(name)} straight drives were {'looser' if less else 'tighter'} in the last game.",
            f"In the last game {first.count} of {first.of} of {owner(name)} straight drives ended within "
            f"50 cm of the side wall, before it {second.count} of {second.of}.",
        )
    return (
        f"{name} won {'fewer' if less else 'more'} rallies after a loose drive.",
        f"Where {owner(name)} last straight drive was loose (farther than 50 cm from the side wall), {name} "
        f"won {first.count} of {first.of} rallies; where it was tight, {second.count} of {second.of}.",
    )
