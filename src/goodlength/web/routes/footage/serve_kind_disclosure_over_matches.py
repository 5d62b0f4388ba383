"""Routes of how early a serve shows over a player's matches, and the receiver's body."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from goodlength.errors import OutOfRange
from goodlength.findings.text.sentence_grammar import Noun, noun, plural
from goodlength.forms.footage.serve_anticipation_json import pressure_words
from goodlength.measure.body.serve_cue_onset import LEAST_OF_A_KIND, DisguiseResult
from goodlength.show.draw.court.serve_kind_mean_pose_stick_figures import draw_movements
from goodlength.tasks.findings import serve_kind_disclosure_time
from goodlength.web.http.route_dependencies import CurrentMatch
from goodlength.web.views.match_description_and_result_phrases import count_words
from goodlength.web.views.match_page_header import match_page
from goodlength.web.views.match_page_loader import sheet_data

router = APIRouter(include_in_schema=False)


@router.get("/matches/{match_id}/tell")
def serve_cues_page(request: Request, opened: CurrentMatch) -> Response:
    """Return every kind in words, with the two average movements where there are enough; "too few" where
    not.
    """
    words = dict(opened.kind_words)
    matches = serve_kind_disclosure_time.matches_of_server(opened)
    counted = serve_kind_disclosure_time.matches_counted(matches)
    by_kind = serve_kind_disclosure_time.disguise_of(matches)
    return match_page(
        request,
        sheet_data(opened),
        "footage/serve_anticipation.html",
        "show",
        server=opened.names[opened.side_of("coached").place],
        matches=counted,
        number=count_words(counted, "match", "matches"),
        kinds=[_disguise_view(kind, words) for kind in by_kind if _is_enough(kind)],
        lacking=[_disguise_view(kind, words) for kind in by_kind if not _is_enough(kind)],
        needed=LEAST_OF_A_KIND,
        pressure=pressure_words(serve_kind_disclosure_time.pressure_of(matches), words),
    )


def processed_words(kind_disguise: serve_kind_disclosure_time.KindDisguise, named: Noun) -> str:
    """Return how many serves of a kind have video, and in how many of them the body points were found."""
    if not kind_disguise.without_joints:
        return ""
    timed, found = kind_disguise.with_video, kind_disguise.serves - kind_disguise.without_joints
    serves = count_words(kind_disguise.serves, named.one, named.many)
    where = f"{serves} in {count_words(kind_disguise.matches, 'match', 'matches')}"
    if not timed:
        return f"No {named.one} has a time in a video yet ({where})."
    done = f"{found} of them" if found else "none of them yet"
    have = plural(timed, "has", "have")
    return f"{timed} of {where} {have} a time in a video; body points were found in {done}."


def _is_enough(kind_disguise: serve_kind_disclosure_time.KindDisguise) -> bool:
    return isinstance(kind_disguise.found, DisguiseResult)


def _disguise_view(
    kind_disguise: serve_kind_disclosure_time.KindDisguise, words: Mapping[str, str]
) -> dict[str, Any]:
    name, picture = words.get(kind_disguise.kind, kind_disguise.kind), ""
    if isinstance(kind_disguise.found, DisguiseResult):
        counts = (
            f"{kind_disguise.found.of_kind} {noun(kind_disguise.kind, words).many}",
            f"{kind_disguise.found.others} other serves",
        )
        try:
            picture = draw_movements(
                kind_disguise.found.times_s,
                kind_disguise.found.mean_kind,
                kind_disguise.found.mean_others,
                counts,
            )
        except OutOfRange:
            picture = ""
    without = processed_words(kind_disguise, noun(kind_disguise.kind, words))
    return {
        "name": name,
        "words": [*kind_disguise.words, *([without] if without else [])],
        "picture": picture,
        "serves": kind_disguise.serves,
        "with_video": kind_disguise.with_video,
        "with_joints": kind_disguise.serves - kind_disguise.without_joints,
    }
