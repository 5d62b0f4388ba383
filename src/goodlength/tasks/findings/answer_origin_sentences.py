"""Who gave the answers that a handout counts, in the player's language."""

from __future__ import annotations

from typing import TYPE_CHECKING

from goodlength.measure.draft.proposal_acceptance_rates import answers_by_origin, unwatched_rallies

if TYPE_CHECKING:
    from goodlength.languages import Language
    from goodlength.tasks.match.lazy_match import OpenMatch


def origin_sentences(opened: OpenMatch, spoken: Language) -> tuple[str, ...]:
    """Return how many answers nobody checked are counted, and how many are left out; empty without any."""
    answers = opened.answers
    whole, out = answers_by_origin(answers), answers_by_origin(answers, unwatched_rallies(answers))
    others = whole.along + whole.unwatched + whole.proposed
    if not others:
        return ()
    left_out = out.along + out.unwatched + out.proposed if opened.only_watched else 0
    sentences = [
        spoken.phrase(
            "Answers counted here: {own} given or checked by your coach, {others} proposed by the program "
            "and checked by nobody.",
            own=spoken.number(whole.by_person),
            others=spoken.number(others - left_out),
        )
    ]
    if left_out:
        sentences.append(
            spoken.phrase("Answers from rallies nobody watched are left out: {n}.", n=spoken.number(left_out))
        )
    return tuple(sentences)
