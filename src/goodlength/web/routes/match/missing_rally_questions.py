"""Route of the pauses in which a rally may be missing, with the words of their card."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.responses import Response

from goodlength.media_time import MICROSECONDS
from goodlength.tasks.draft.missing_rally_questions import MissingRallyQuestion, missing_rally_questions
from goodlength.web.http.json_responses import json_answer
from goodlength.web.http.route_dependencies import CurrentMatch
from goodlength.web.page_json_types.rally_scoresheet import (
    MissingRallyQuestionJson,
    MissingRallyQuestionsJson,
)

router = APIRouter()


@router.get("/api/matches/{match_id}/missing")
def get_missing(opened: CurrentMatch) -> Response:
    """Return the pauses worth a look, the likeliest first."""
    answer: MissingRallyQuestionsJson = {
        "questions": [question_json(question) for question in missing_rally_questions(opened)]
    }
    return json_answer(answer)


def question_json(question: MissingRallyQuestion) -> MissingRallyQuestionJson:
    """Return a pause with why it is asked about."""
    return {
        "after": question.after,
        "start_us": question.start_us,
        "end_us": question.end_us,
        "likely_start_us": question.likely_start_us,
        "likely_end_us": question.likely_end_us,
        "text": reason_words(question),
    }


def reason_words(question: MissingRallyQuestion) -> str:
    """Return why a pause is asked about.

    Examples
    --------
    >>> reason_words(MissingRallyQuestion("r4", 0, 31_000_000, 0, 0, 0.4, 12.0, True, False, False, False))
    'The pause is 31 s; 12 s is usual in this match.'
    """
    pause_s = (question.end_us - question.start_us) / MICROSECONDS
    reasons = []
    if question.was_deleted:
        reasons.append("You deleted a detected rally here.")
    if question.is_long:
        reasons.append(
            f"The pause is {pause_s:.0f} s; {question.usual_pause_s:.0f} s is usual in this match."
        )
    if question.is_by_score:
        reasons.append(
            "The winners so far and where the players stood at the next serves fit better with another point."
            if question.are_places_known
            else "The winners so far fit better with another point."
        )
    if question.ends_short:
        reasons.append("The sheet ends a point before the match is over.")
    return " ".join(reasons) or "This pause is where a missing rally is likeliest."
