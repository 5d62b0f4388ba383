"""JSON form and terminal lines of an audit of detected rallies."""

from __future__ import annotations

from dataclasses import asdict

from goodlength.files.json_types import Json
from goodlength.media_time import clock_words, seconds
from goodlength.tasks.footage.rally_detection_audit import DetectionReview, ReviewCard, review_words


def review_form(found: DetectionReview) -> dict[str, Json]:
    """Return plain values for the page and `--json`; times in microseconds of match time."""
    return {
        "cards": [{**asdict(card), "done": card.done} for card in found.cards],
        "answered": found.answered,
        "random_right": asdict(found.random_right),
        "unsure_right": asdict(found.unsure_right),
        "hits_right": asdict(found.hits_right),
        "thresholds": asdict(found.thresholds),
        "proposed": asdict(found.proposed),
        "can_adapt": found.proposed != found.thresholds,
        "adapted": found.adapted,
        "words": list(review_words(found)),
    }


def review_lines(found: DetectionReview) -> list[str]:
    """Return the cards and what they show so far, for the terminal."""
    lines = [_card_line(n, card) for n, card in enumerate(found.cards, 1)]
    return [*lines, "", *review_words(found)]


def _card_line(n: int, card: ReviewCard) -> str:
    span = f"{clock_words(seconds(card.start_us))} to {clock_words(seconds(card.end_us))}"
    half = "random" if card.half == "random" else "least sure"
    answers = ", ".join(f"{name}: {value}" for name, value in card_answers(card) if value) or "not answered"
    return f"{n:>4}  {span:<22} {card.hits:>3} {'hit ' if card.hits == 1 else 'hits'}  {half:<10}  {answers}"


def card_answers(card: ReviewCard) -> tuple[tuple[str, str], ...]:
    """Return the questions of a card with the answers given."""
    return ("rally", card.rally), ("hit", card.hit), ("place", card.place)
