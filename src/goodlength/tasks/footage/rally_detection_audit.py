"""Audit of detection accuracy: the coach checks twenty detected rallies of a recording.

Half of them are drawn at random among those not marked as doubtful, so that the error rate shown is an honest
one; half are those the program is least sure about, from which it learns most. What is answered stays with
the match; what leaves the house is a file of figures without names, pictures, times of day or file names.

```
 detected ──> ten at random of the sure, ten nearest to the bound ──> answers ──> figures, new bounds
```
"""

from __future__ import annotations

import math
import random
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, get_args

from goodlength import __version__
from goodlength.errors import InputError, NotFound
from goodlength.files.json_types import Json
from goodlength.files.library_layout import review_answers_file
from goodlength.files.locked_json_file import JsonFile, exclusive
from goodlength.tasks.footage.rally_detection import ListedRally, correct_rally, listed_rallies
from goodlength.tasks.footage.rally_detection_thresholds_per_court import (
    SURE_BOUNDS,
    DetectionThresholds,
    ReviewedChance,
    adapted_thresholds,
    court_key,
    save_thresholds,
    thresholds_of,
    usual_thresholds,
)

if TYPE_CHECKING:
    from goodlength.tasks.match.lazy_match import OpenMatch

CARDS = 20
Half = Literal["random", "unsure"]
RallyAnswer = Literal["yes", "no", "unclear"]
HitAnswer = Literal["a", "b", "nobody", "unclear"]
PlaceAnswer = Literal["right", "earlier", "later", "unclear"]
QUESTIONS: Mapping[str, tuple[str, ...]] = {
    "rally": get_args(RallyAnswer),
    "hit": get_args(HitAnswer),
    "place": get_args(PlaceAnswer),
}


@dataclass(frozen=True)
class ReviewCard:
    """One detected rally to be looked at, as the program showed it when the review began.

    `half` says how it was drawn; `hit_us` is the hit asked about; the answers are "" until given.
    """

    id: str
    half: Half
    start_us: int
    end_us: int
    hit_us: int
    hits: int
    chance: float
    doubtful: bool
    rally: str = ""
    hit: str = ""
    place: str = ""

    @property
    def done(self) -> bool:
        """Whether nothing is left to ask."""
        return self.rally in ("no", "unclear") or bool(self.rally and self.hit and self.place)

    @property
    def right(self) -> bool:
        """Whether it is a rally that starts where the program says."""
        return self.rally == "yes" and self.place not in ("earlier", "later")


@dataclass(frozen=True)
class ReviewShare:
    """So many of so many, with the ends of its 95% range."""

    count: int
    of: int
    low: float
    high: float


@dataclass(frozen=True)
class DetectionReview:
    """The cards of a match with what they show so far, and the thresholds of its court."""

    cards: tuple[ReviewCard, ...]
    random_right: ReviewShare
    unsure_right: ReviewShare
    hits_right: ReviewShare
    thresholds: DetectionThresholds
    usual: DetectionThresholds
    proposed: DetectionThresholds

    @property
    def answered(self) -> int:
        """How many cards are done."""
        return sum(card.done for card in self.cards)

    @property
    def adapted(self) -> bool:
        """Whether a review has moved the thresholds of this court."""
        return self.thresholds.answers > 0


def review_detection(opened: OpenMatch) -> DetectionReview:
    """Return the review of a match; its cards are drawn and kept when it is first asked for.

    Raises
    ------
    InputError
        No rallies were detected from the sound yet.
    """
    with exclusive(_file(opened).parent):
        plain = JsonFile(_file(opened)).read()
        if not plain.get("cards"):
            plain = {"cards": [asdict(card) for card in draw_cards(opened)]}
            if not plain["cards"]:
                raise InputError(
                    "There are no detected rallies to review. Detect the rallies on the Footage page first."
                )
            JsonFile(_file(opened)).write(plain)
    return _review(opened, plain)


def draw_cards(opened: OpenMatch) -> list[ReviewCard]:
    """Return twenty rallies to look at: half at random among the sure, half nearest to the bound."""
    now = thresholds_of(opened) or usual_thresholds()
    found = [
        rally for rally in listed_rallies(opened).rallies if rally.chance is not None and not rally.state
    ]
    rng = random.Random(f"review of {opened.id}")
    sure = [rally for rally in found if not rally.doubtful]
    at_random = rng.sample(sure, min(CARDS // 2, len(sure)))
    rest = [rally for rally in found if rally not in at_random]
    rest.sort(key=lambda rally: abs(_odds(rally.chance or 0.5) - _odds(now.sure_at)))
    cards = [_card(rally, "random", rng) for rally in at_random]
    cards += [_card(rally, "unsure", rng) for rally in rest[: CARDS - CARDS // 2]]
    rng.shuffle(cards)
    return cards


def _card(rally: ListedRally, half: Half, rng: random.Random) -> ReviewCard:
    return ReviewCard(
        rally.id,
        half,
        rally.start_us,
        rally.end_us,
        rng.choice(rally.hits_us or (rally.start_us,)),
        len(rally.hits_us),
        round(rally.chance or 0.0, 3),
        rally.doubtful,
    )


def answer_review(opened: OpenMatch, card_id: str, question: str, answer: str) -> DetectionReview:
    """Keep one answer of a review; a rally the coach confirms or rejects is marked so in the list too.

    Parameters
    ----------
    question : str
        "rally", "hit" or "place".
    answer : str
        One of `QUESTIONS`, or "" to take the answer back.

    Raises
    ------
    NotFound
        There is no such card.
    InputError
        There is no such question or answer.
    """
    if answer not in ("", *QUESTIONS.get(question, ())):
        choices = "; ".join(f"{name}: {', '.join(words)}" for name, words in QUESTIONS.items())
        raise InputError(f"{question!r} cannot be answered with {answer!r}. The choices are {choices}.")
    with exclusive(_file(opened).parent):
        plain = JsonFile(_file(opened)).read()
        card = next((card for card in plain.get("cards", ()) if card["id"] == card_id), None)
        if card is None:
            raise NotFound("That rally is not part of the review. Reload the page.")
        card[question] = answer
        JsonFile(_file(opened)).write(plain)
        if question == "rally":
            _mark(opened, card_id, {"yes": "kept", "no": "out"}.get(answer, ""))
    return _review(opened, plain)


def _mark(opened: OpenMatch, rally_id: str, state: str) -> None:
    if any(rally.id == rally_id for rally in listed_rallies(opened).rallies):
        correct_rally(opened, rally_id, state=state)


def adapt_thresholds(opened: OpenMatch) -> DetectionReview:
    """Save thresholds for the match's court that fit the coach's answers better, where any do."""
    found = review_detection(opened)
    if found.proposed != found.thresholds:
        save_thresholds(opened.library, court_key(opened), found.proposed)
    return review_detection(_again(opened))


def undo_thresholds(opened: OpenMatch) -> DetectionReview:
    """Put the usual thresholds back for the match's court; the answers stay."""
    save_thresholds(opened.library, court_key(opened), None)
    return review_detection(_again(opened))


def begin_review_again(opened: OpenMatch) -> DetectionReview:
    """Draw other rallies; answers so far stay with the rallies as confirmed or rejected."""
    with exclusive(_file(opened).parent):
        _file(opened).unlink(missing_ok=True)
    return review_detection(opened)


def review_figures(opened: OpenMatch) -> dict[str, Json]:
    """Return what a coach may send: figures and answers without names, pictures, file names or dates."""
    from goodlength.footage.audio.impact_classifier_network import impact_network

    found = review_detection(opened)
    listed = listed_rallies(opened)
    cards: list[Json] = [
        {
            "half": card.half,
            "chance": card.chance,
            "doubtful": card.doubtful,
            "hits": card.hits,
            "length_s": round((card.end_us - card.start_us) / 1e6, 1),
            "rally": card.rally,
            "hit": {"a": "player", "b": "player"}.get(card.hit, card.hit),
            "place": card.place,
        }
        for card in found.cards
    ]
    return {
        "what": "goodlength footage review",
        "version": __version__,
        "model": impact_network().name,
        "by": listed.by,
        "sure": sum(not rally.doubtful for rally in listed.rallies),
        "doubtful": sum(rally.doubtful for rally in listed.rallies),
        "random_right": asdict(found.random_right),
        "unsure_right": asdict(found.unsure_right),
        "hits_right": asdict(found.hits_right),
        "thresholds": asdict(found.thresholds),
        "cards": cards,
    }


def _review(opened: OpenMatch, plain: Mapping[str, Any]) -> DetectionReview:
    cards = tuple(ReviewCard(**card) for card in plain["cards"])
    now, usual = thresholds_of(opened) or usual_thresholds(), usual_thresholds()
    seen = [card for card in cards if card.done and card.rally in ("yes", "no")]
    hits = [card for card in seen if card.rally == "yes" and card.hit in ("a", "b", "nobody")]
    answers = [ReviewedChance(card.chance, card.right) for card in seen]
    return DetectionReview(
        cards,
        _share([card.right for card in seen if card.half == "random"]),
        _share([card.right for card in seen if card.half == "unsure"]),
        _share([card.hit != "nobody" for card in hits]),
        now,
        usual,
        adapted_thresholds(answers, now, usual),
    )


def _share(right: list[bool]) -> ReviewShare:
    from goodlength.findings.statistics.proportion_intervals import jeffreys_share

    share = jeffreys_share(sum(right), len(right))
    return ReviewShare(share.count, share.of, round(share.low, 3), round(share.high, 3))


def review_words(found: DetectionReview) -> list[str]:
    """Return what a review shows so far, in lines for the coach."""
    share = found.random_right
    unclear = sum(card.rally == "unclear" for card in found.cards)
    untold = f"; in {unclear} of them it could not be told" if unclear else ""
    lines = [f"{found.answered} of {len(found.cards)} rallies reviewed{untold}."]
    if share.of:
        lines.append(
            f"Chosen at random from those not marked doubtful: {share.count} of {share.of} correct "
            f"(95% range {share.low:.0%} to {share.high:.0%})."
        )
    if found.unsure_right.of:
        lines.append(
            f"Least sure: {found.unsure_right.count} of {found.unsure_right.of} correct. "
            "These are the hardest ones, so this is not the error rate."
        )
    if found.hits_right.of:
        lines.append(f"Hits: {found.hits_right.count} of {found.hits_right.of} were by a player.")
    lines.append("Rallies that goodlength missed do not appear here.")
    if found.adapted:
        lines.append(
            f"Adapted to this court: a rally is marked doubtful below a probability of "
            f"{found.thresholds.sure_at:.0%} (usually {found.usual.sure_at:.0%})."
        )
    elif found.proposed != found.thresholds:
        lines.append(
            f"Your answers suggest {found.proposed.sure_at:.2f} instead of {found.thresholds.sure_at:.2f} as "
            f"the chance from which a rally counts as sure (never outside {SURE_BOUNDS[0]:.2f} to "
            f"{SURE_BOUNDS[1]:.3f})."
        )
    return lines


def _again(opened: OpenMatch) -> OpenMatch:
    from goodlength.tasks.match.lazy_match import open_match

    return open_match(opened.library, opened.id)


def _odds(chance: float) -> float:
    safe = min(0.999, max(0.001, chance))
    return math.log(safe / (1 - safe))


def _file(opened: OpenMatch) -> Path:
    return review_answers_file(opened.library.folder, opened.id)
