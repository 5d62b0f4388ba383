"""Routes of the rallies that are sure in every answer: the sample to check, and taking the others."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.responses import Response

from goodlength.tasks.ball.bulk_taking import (
    SAMPLE,
    BulkOffer,
    bulk_offer,
    draw_sample,
    take_unwatched,
    withdraw_unwatched,
)
from goodlength.tasks.match.lazy_match import OpenMatch
from goodlength.web.http.dependencies import CurrentMatch
from goodlength.web.http.json_responses import json_answer
from goodlength.web.page_types.rally_scoresheet import BulkOfferJson
from goodlength.web.views.text_formatting import count_words

router = APIRouter()


@router.get("/api/matches/{match_id}/bulk")
def get_offer(opened: CurrentMatch) -> Response:
    """Return what can be taken unwatched, and how far the check of the sample is."""
    return _answer(opened)


@router.post("/api/matches/{match_id}/bulk/sample")
def post_sample(opened: CurrentMatch) -> Response:
    """Draw the rallies that the coach checks."""
    return _answer(draw_sample(opened).opened)


@router.post("/api/matches/{match_id}/bulk/take")
def post_take(opened: CurrentMatch) -> Response:
    """Take the sure rallies that nobody has watched."""
    return _answer(take_unwatched(opened).opened)


@router.post("/api/matches/{match_id}/bulk/undo")
def post_undo(opened: CurrentMatch) -> Response:
    """Undo what was last taken unwatched."""
    return _answer(withdraw_unwatched(opened).opened)


def _answer(opened: OpenMatch) -> Response:
    return json_answer(offer_json(bulk_offer(opened)))


def offer_json(offer: BulkOffer) -> BulkOfferJson:
    """Return an offer with the words of its card."""
    ask, text = offer_words(offer)
    return {
        "state": offer.state,
        "sure": list(offer.sure),
        "sample": list(offer.sample),
        "right": offer.right,
        "wrong": offer.wrong,
        "taken": offer.taken,
        "to_check": list(offer.to_check),
        "ask": ask,
        "text": text,
    }


def offer_words(offer: BulkOffer) -> tuple[str, str]:
    """Return the question of the card, and what stands below it.

    Examples
    --------
    >>> offer_words(BulkOffer("taken", (), (), 10, 0, 35, 0.0, 0.259))[0]
    '35 rallies taken unwatched'
    """
    sure = len(offer.sure)
    again = "Ten were drawn before in this match, of a draft since removed or added to"
    if offer.state == "offered":
        return (
            f"{sure} rallies are left, sure in every answer",
            f"Check {SAMPLE} of them, drawn at random. If all {SAMPLE} are right, you can take the other "
            f"{sure - SAMPLE} without watching them.{f' {again}.' if offer.earlier_draws else ''}",
        )
    if offer.state == "checking":
        found = f"{offer.right} of {len(offer.sample)} checked, all right so far. " if offer.right else ""
        words = f"{found}One that is wrong withdraws the offer. A question skipped is not checked."
        return "Check the rallies drawn at random", words
    if offer.state == "ready":
        share = f"{100 * offer.most_wrong_share:.0f}"
        expected = (
            f"{offer.expected_wrong:.1f}" if offer.expected_wrong < 10 else f"{offer.expected_wrong:.0f}"
        )
        right = f"{offer.right} of {len(offer.sample)} right"
        return (
            f"{right}: take the other {count_words(sure, 'rally', 'rallies')}?",
            f"By their chances about {expected} of {sure} are wrong. The check alone shows less: with "
            f"{right}, up to {share} of 100 could still be wrong (95% limit). They are marked as taken "
            f"unwatched.{f' {again}; the limit leaves that out.' if offer.earlier_draws else ''}",
        )
    if offer.state == "taken":
        words = count_words(offer.taken, "rally", "rallies")
        return f"{words} taken unwatched", "Open any line of the sheet to watch and correct it."
    return "", ""
