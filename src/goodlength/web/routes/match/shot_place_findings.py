"""Length and tightness of a match: a section of the Findings page, and a page with maps and tables."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from goodlength.findings.result_types import Grade, Share
from goodlength.findings.shot_places.shot_length_tightness_and_spread import PlaceFacts
from goodlength.findings.shot_places.shot_place_report import PlaceFinding
from goodlength.findings.statistics.median_intervals import MedianRange
from goodlength.show.draw import proportion_charts
from goodlength.show.draw.court.shot_place_maps import MapGuide, shot_place_map
from goodlength.tasks.ball.player_measured_serves import MeasuredPlace
from goodlength.tasks.findings.shot_place_findings import MatchPlaces, match_places
from goodlength.tasks.match.lazy_match import OpenMatch
from goodlength.web.http.route_dependencies import CurrentMatch
from goodlength.web.routes.match.findings import bold_counts, grade_mark
from goodlength.web.views.match_description_and_result_phrases import count_words
from goodlength.web.views.match_page_header import match_page
from goodlength.web.views.match_page_loader import sheet_data

router = APIRouter(include_in_schema=False)
SMALL_PX, LARGE_PX = 132.0, 190.0


@router.get("/matches/{match_id}/findings/places")
def places(request: Request, opened: CurrentMatch, side: str = "") -> Response:
    """Return length, tightness, positions and time of one player, with maps and tables."""
    data = sheet_data(opened)
    side = side if side in ("a", "b") else opened.info.coached.value
    read: MatchPlaces = request.app.state.found.places(opened, side) or match_places(opened, side)
    return match_page(
        request,
        data,
        "match/place_findings.html",
        "findings",
        side=side,
        names=opened.names,
        found=read.found,
        own=read.found.own,
        maps=_maps(read.found.own, side, read.found.name, read.found.other),
        serves=_serves(read, side, opened),
        keys_of=rally_keys,
        why=place_reasons,
        bar=proportion_charts.range_bar,
        grade_mark=grade_mark,
        bold=bold_counts,
        count=count_words,
        median=median_words,
    )


def rally_keys(share: Share) -> tuple[str, ...]:
    """Return the keys of a share's rallies, without their match."""
    return tuple(key.rpartition("/")[2] for key in share.rallies)


def place_reasons(finding: PlaceFinding) -> tuple[str, ...]:
    """Return what a grade rests on, a sentence each."""
    answer = finding.answer
    lines = [f"Counted: {_range(answer.first)}.", f"Compared with {_range(answer.second)}."]
    if answer.q is None:
        return (*lines, "There was too little data to test it.")
    chance = "less than 1%" if answer.q < 0.01 else f"{min(1.0, answer.q):.0%}"
    return (
        *lines,
        f"Adjusted p-value: {chance}. So often chance alone would show a gap like this.",
        f"Rallies that count for the grade: {answer.smaller_side} on the smaller side.",
        f"It was not a planned question, so one match cannot make it {Grade.CLEAR.words}.",
    )


def _range(share: Share) -> str:
    return f"{share.count} of {share.of} (95% range {100 * share.low:.0f} to {share.high:.0%})"


def median_words(median: MedianRange, unit: str, scale: float = 1.0, digits: int = 0) -> str:
    """Return a median with its range and count; a dash where none is known.

    Examples
    --------
    >>> median_words(MedianRange(9, 0.4, 0.25, 0.62, 0.96, 2), "cm", 100)
    '40 cm (25 to 62)'
    >>> median_words(MedianRange(0, None, None, None, None, None), "s")
    '–'
    """
    if median.median is None:
        return "–"
    middle = f"{median.median * scale:.{digits}f} {unit}"
    if median.low is None or median.high is None:
        return middle
    return f"{middle} ({median.low * scale:.{digits}f} to {median.high * scale:.{digits}f})"


def _maps(own: PlaceFacts, side: str, name: str, other: str) -> dict[str, Any]:
    """Return the drawings: a small one for each shot, and larger ones of tightness and position."""
    strokes = [
        {
            "words": row.words,
            "count": len(row.bounces),
            "svg": shot_place_map(
                row.bounces,
                side,
                label=f"{row.words} of {name}: {len(row.bounces)} first bounces on the floor.",
                guide=MapGuide.LENGTH,
                wide=SMALL_PX,
            ),
        }
        for row in own.strokes
        if row.bounces
    ]
    drives = [row for row in own.strokes if row.stroke.value == "drive" and row.ends]
    return {
        "strokes": strokes,
        "tight": shot_place_map(
            drives[0].ends,
            side,
            label=f"Where {len(drives[0].ends)} straight drives of {name} ended; dashed: 50 cm from a wall.",
            guide=MapGuide.TIGHT,
            wide=LARGE_PX,
        )
        if drives
        else "",
        "stood": shot_place_map(
            own.stood_places,
            side,
            label=f"Where {name} stood at {len(own.stood_places)} strikes of {other}; ring: the T.",
            guide=MapGuide.T,
            wide=LARGE_PX,
        )
        if own.stood_places
        else "",
    }


def _serves(read: MatchPlaces, side: str, opened: OpenMatch) -> list[dict[str, Any]]:
    """Return a map of first bounces for each kind of serve, both boxes together."""
    kinds: dict[str, list[MeasuredPlace]] = {}
    for kind, _, group in read.serves:
        kinds.setdefault(kind, []).extend(group)
    return [
        {
            "words": opened.kind_words.get(kind, kind) or "Kind not logged",
            "by": _by_words(group),
            "svg": shot_place_map(
                [place.bounce_m for place in group if place.bounce_m is not None],
                side,
                label=f"First bounces of {len(group)} measured serves.",
                wide=SMALL_PX,
            ),
        }
        for kind, group in kinds.items()
    ]


def _by_words(group: Sequence[MeasuredPlace]) -> str:
    """Return how many serves were measured by what."""
    paths = sum(place.by == "path" for place in group)
    clicks = len(group) - paths
    parts = [f"{clicks} by clicks"] if clicks else []
    parts += [f"{paths} from {'its path' if paths == 1 else 'paths'}"] if paths else []
    return ", ".join(parts)
