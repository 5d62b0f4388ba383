"""Who gave the answers of a match, and how often proposals stood: for JSON, the page and the terminal."""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING

from goodlength.files.json_types import Json
from goodlength.measure.draft.proposal_acceptance_rates import (
    ProposalRate,
    answers_by_origin,
    proposal_rates,
    unwatched_rallies,
)
from goodlength.record.tables.answer_origins import AnswersByOrigin, CountedAnswers

if TYPE_CHECKING:
    from goodlength.tasks.match.lazy_match import OpenMatch

NAMES = {
    "server": "server",
    "box": "service box",
    "serve.kind": "kind of serve",
    "return.how": "how it was returned",
    "return.stroke": "shot of the return",
    "return.to": "where the return went",
    "return.left": "how good the return was",
    "winner": "winner",
    "ending": "how the rally ended",
}


@dataclass(frozen=True)
class AnswerOrigins(CountedAnswers):
    """How many answers a person gave or checked and how many nobody watched, and how proposals stood."""

    rates: tuple[ProposalRate, ...] = ()

    @property
    def words(self) -> str:
        """Who gave the answers, in a sentence; empty where all are the coach's.

        Examples
        --------
        >>> none = AnswersByOrigin(0, 0)
        >>> AnswerOrigins(AnswersByOrigin(72, 214), none).words
        '72 answers given or checked by you, 214 proposed and taken unwatched.'
        >>> counted, left_out = AnswersByOrigin(1, 0, 15, along=2), AnswersByOrigin(0, 0, 14)
        >>> print(AnswerOrigins(counted, left_out, only_watched=True).words.replace("; ", chr(10)))
        1 answer given or checked by you, 2 gone along with it, 1 as the draft has it
        left out here: 14 as the draft has them.
        """
        return origin_words(self)

    @property
    def rate_words(self) -> tuple[str, ...]:
        """How often proposals stood in rallies that were watched, a sentence for each question."""
        return tuple(_rate_words(rate) for rate in self.rates if rate.what in NAMES)


def origin_words(given: CountedAnswers | None) -> str:
    """Return who gave the answers that are counted, in a sentence; empty where all are the coach's."""
    if given is None:
        return ""
    counted, out = given.answers, given.left_out
    if not counted.along + counted.unwatched + counted.proposed:
        return ""
    yours = f"{counted.by_person} {'answer' if counted.by_person == 1 else 'answers'}"
    if not given.only_watched:
        return f"{', '.join((f'{yours} given or checked by you', *_others(counted)))}."
    part = replace(
        counted,
        along=counted.along - out.along,
        unwatched=counted.unwatched - out.unwatched,
        proposed=counted.proposed - out.proposed,
    )
    words = ", ".join((f"{yours} given or checked by you", *_others(part)))
    gone = ", ".join(_others(out))
    return f"{words}; left out here: {gone}." if gone else f"{words}."


def _others(counted: AnswersByOrigin) -> list[str]:
    """Return the answers that no person gave or checked, in words, by what became of them."""
    return [
        f"{number} {became}"
        for number, became in (
            (counted.along, f"gone along with {'it' if counted.by_person == 1 else 'them'}"),
            (counted.unwatched, "proposed and taken unwatched"),
            (counted.proposed, f"as the draft has {'it' if counted.proposed == 1 else 'them'}"),
        )
        if number
    ]


def _rate_words(rate: ProposalRate) -> str:
    words = f"{NAMES[rate.what]}: {rate.checked - rate.changed} of {rate.checked} right as proposed"
    words = words[:1].upper() + words[1:]
    if rate.sample_checked:
        right = rate.sample_checked - rate.sample_changed
        words += f", {right} of {rate.sample_checked} among those drawn at random"
    return f"{words}."


def origins_of(opened: OpenMatch) -> AnswerOrigins:
    """Return who gave the answers of a match, and how its proposals stood."""
    answers = opened.answers
    return AnswerOrigins(
        answers_by_origin(answers),
        answers_by_origin(answers, unwatched_rallies(answers)),
        opened.only_watched,
        proposal_rates(opened.match, answers),
    )


def origins_form(origins: AnswerOrigins) -> dict[str, Json]:
    """Return them as JSON: `answers`, `proposals`, `only_watched`."""
    return {
        "answers": asdict(origins.answers),
        "proposals": [asdict(rate) for rate in origins.rates],
        "only_watched": origins.only_watched,
    }


def counted_form(given: CountedAnswers | None) -> Json:
    """Return the answers by origin over several matches as JSON; null where nothing is known of it."""
    if given is None:
        return None
    return {**asdict(given.answers), "only_watched": given.only_watched}


def origins_lines(origins: AnswerOrigins) -> list[str]:
    """Return lines for the terminal; none where a person gave or checked all."""
    if not origins.words:
        return []
    none = [
        "  You have watched no rally of this match, so nothing is left to count: leave out --only-watched."
    ]
    return [
        "",
        origins.words,
        *(f"  {words}" for words in origins.rate_words),
        *(none if origins.nothing_is_left else ()),
    ]
