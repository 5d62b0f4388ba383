"""JSON form and terminal lines of findings from places."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

from goodlength.files.json_types import Json
from goodlength.findings.reports.findings_json import plain
from goodlength.findings.result_types import Grade

if TYPE_CHECKING:
    from goodlength.findings.result_types import Share
    from goodlength.findings.shot_places.shot_place_report import PlaceFindings
    from goodlength.tasks.findings.shot_place_findings import MatchPlaces


def places_form(found: PlaceFindings) -> dict[str, Json]:
    """Return findings from places as plain values; shares are 0 to 1, ranges 95 in 100, lengths metres."""
    return {
        "player": found.name,
        "opponent": found.other,
        "matches": found.matches,
        "rallies": found.rallies,
        "followed": found.followed,
        "out_of_date": found.stale,
        "asked": found.asked,
        "findings": [
            {
                "key": finding.key,
                "headline": finding.headline,
                "words": finding.words,
                "grade": finding.grade.value,
                "grade_words": finding.grade.words,
                "scope": finding.scope,
                "count": finding.answer.first.count,
                "of": finding.answer.first.of,
                "interval": [finding.answer.first.low, finding.answer.first.high],
                "against": plain(finding.answer.second),
                "p": finding.answer.p,
                "q": finding.answer.q,
                "smaller_side": finding.answer.smaller_side,
                "rallies": list(finding.answer.first.rallies),
            }
            for finding in found.all
        ],
        "facts": {"player": plain(found.own), "opponent": plain(found.theirs)},
        "words": list(found.lines),
        "own_words": list(found.own_lines),
        "caution": found.caution,
    }


def match_places_form(places: MatchPlaces) -> dict[str, Json]:
    """Return the JSON of `findings places ID --json`."""
    return {
        **places_form(places.found),
        "serves": [
            {"kind": kind or None, "box": box, "measured": plain(list(group))}
            for kind, box, group in places.serves
        ],
    }


def places_lines(found: PlaceFindings) -> Iterator[str]:
    """Yield findings from places as lines for a terminal."""
    if not found.shots:
        yield (
            "No shot with a path that is up to date and sure, in a logged rally. Follow the ball first: "
            "goodlength footage shots --help"
        )
        if found.stale:
            yield found.caution
        return
    yield f"Ball followed in {found.followed} of {found.rallies} logged rallies."
    for number, finding in enumerate(found.all, 1):
        yield ""
        yield f"{number}. {finding.grade.words}, {finding.scope}: {finding.headline}"
        yield f"   {finding.words}"
    yield ""
    yield from found.lines
    for name, facts in ((found.name, found.own), (found.other, found.theirs)):
        for row in facts.games:
            yield f"{name}, game {row.game}: length {_of(row.length)}, within 50 cm {_of(row.tight)}."
    yield found.caution


def brief_places_lines(found: PlaceFindings) -> Iterator[str]:
    """Yield what a brief says of places: graded questions that say something, own facts, what is missing."""
    for finding in found.all:
        if finding.grade is Grade.LEANING:
            yield f"{finding.grade.words}, {finding.scope}: {finding.headline} {finding.words}"
    yield from found.own_lines
    yield found.caution


def serve_lines(places: MatchPlaces, words: Mapping[str, str]) -> Iterator[str]:
    """Yield the first bounces of measured serves by kind and box."""
    for kind, box, group in places.serves:
        bounces = [place.bounce_m for place in group if place.bounce_m is not None]
        by_path = sum(place.by == "path" for place in group)
        name = words.get(kind, kind) or "Kind not logged"
        spots = ", ".join(f"{x:.1f}/{y:.1f}" for x, y in bounces)
        yield (
            f"{name} from the {box} box, {len(group)} measured ({by_path} from paths); first bounces, metres "
            f"from the left and the front wall: {spots or 'none'}."
        )


def _of(share: Share) -> str:
    return f"{share.count} of {share.of}"
