"""Routes of the rallies that are sure in every answer: the sample to check, and taking the others."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.responses import Response

from goodlength.tasks.draft.sure_rally_acceptance_after_sample_check import (
    SAMPLE,
    BulkOffer,
    bulk_offer,
    draw_sample,
    take_unwatched,
    withdraw_unwatched,
)
from goodlength.tasks.match.lazy_match import OpenMatch
from goodlength.web.http.json_responses import json_answer
from goodlength.web.http.route_dependencies import CurrentMatch
from goodlength.web.page_json_types.rally_scoresheet import BulkOfferJson
from goodlength.web.views.match_description_and_result_phrases import count_words

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
    """Undo all that is taken unwatched."""
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
    again = "Ten were drawn before in this match"
    if offer.state == "offered":
        return (
            f"{sure} rallies are left, sure in every answer",
            f"Check {SAMPLE} of them, drawn at random. If all {SAMPLE} are right, you can take "
            f"{_others(sure - SAMPLE)} without watching.{f' {again}.' if offer.earlier_draws else ''} "
            f"{score_words(offer)}".strip(),
        )
    if offer.state == "checking":
        found = f"{offer.right} of {len(offer.sample)} checked, all right so far. " if offer.right else ""
        words = (
            f"{found}You are asked who won. The kind of serve goes along: press its word where it is wrong. "
            "One that is wrong withdraws the offer. A question skipped is not checked."
        )
        return "Check the rallies drawn at random", words
    if offer.state == "ready":
        share = f"{100 * offer.most_wrong_share:.0f}"
        expected = (
            f"{offer.expected_wrong:.1f}" if offer.expected_wrong < 10 else f"{offer.expected_wrong:.0f}"
        )
        right = f"{offer.right} of {len(offer.sample)} right"
        return (
            f"{right}: take the other {'rally' if sure == 1 else f'{sure} rallies'}?",
            f"By their chances about {expected} of {sure} {'is' if sure == 1 else 'are'} wrong. The check "
            f"alone shows less: with {right}, up to {share} of 100 could still be wrong (95% limit). "
            f"{'It is' if sure == 1 else 'They are'} marked as taken unwatched."
            f"{f' {again}; the limit leaves that out.' if offer.earlier_draws else ''} "
            f"{score_words(offer)}".strip(),
        )
    if offer.state == "taken":
        words = count_words(offer.taken, "rally", "rallies")
        text = "Open any line of the sheet to watch and correct it."
        if offer.wrong:
            found = "One" if offer.wrong == 1 else str(offer.wrong)
            are = "is" if offer.wrong == 1 else "are"
            text = (
                f"{found} of the {len(offer.sample)} checked {are} no longer as proposed, so these may be "
                f"wrong too. Undo opens them all again. {text}"
            )
        return f"{words} taken unwatched", text
    return "", ""


def _others(n: int) -> str:
    return "the other one" if n == 1 else f"the other {n}"


def score_words(offer: BulkOffer) -> str:
    """Return what to compare before anything is taken unwatched; empty where there is no score.

    Examples
    --------
    >>> score_words(BulkOffer("ready", (), (), 10, 0, 0, 0.0, 0.259, score="11–8 4–3"))[:53]
    'The sheet ends at 11–8 4–3, and the match is not over'
    """
    if not offer.score:
        return ""
    end = "the match is over" if offer.over else "the match is not over"
    return (
        f"The sheet ends at {offer.score}, and {end}. Compare that with the true score: a rally that was not "
        "detected leaves the sheet a point behind."
    )
