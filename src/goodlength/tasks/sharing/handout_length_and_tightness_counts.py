"""Length and tightness as plain counts for a handout; offered, never chosen by the program.

They stand on followed ball paths that are up to date and sure. They claim nothing, so they have no grade.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from goodlength.tasks.ball.player_measured_serves import matches_with_paths
from goodlength.tasks.findings.shot_place_findings import match_places
from goodlength.tasks.sharing.handout_counts_without_findings import PlainCount

if TYPE_CHECKING:
    from goodlength.findings.shot_places.shot_length_tightness_and_spread import PlaceFacts
    from goodlength.languages import Language
    from goodlength.tasks.match.lazy_match import OpenMatch

LEAST_SHOTS = 10  # fewer are not offered: a share of them says next to nothing


def place_counts(opened: OpenMatch, spoken: Language) -> tuple[PlainCount, ...]:
    """Return what may be said to the coached player of length and tightness; empty without paths."""
    if not matches_with_paths(opened.library, [opened.info]):
        return ()
    return tuple(_counts(match_places(opened, "coached").found.own, spoken))


def _counts(facts: PlaceFacts, spoken: Language) -> Iterator[PlainCount]:
    if facts.length.of >= LEAST_SHOTS:
        yield PlainCount(
            "place:length",
            spoken.phrase("Length"),
            spoken.phrase(
                "{count} of {of} of your long shots had length.",
                count=spoken.number(facts.length.count),
                of=spoken.number(facts.length.of),
            ),
            spoken.phrase(
                "They bounced behind the service box. Counted by computer from the video, only where the "
                "ball could be followed surely and bounced."
            ),
        )
    if facts.tight.of >= LEAST_SHOTS and facts.from_wall_m.median is not None:
        yield PlainCount(
            "place:tight",
            spoken.phrase("Tightness"),
            spoken.phrase(
                "{count} of {of} of your straight drives were tight.",
                count=spoken.number(facts.tight.count),
                of=spoken.number(facts.tight.of),
            ),
            spoken.phrase(
                "They ended within 50\u00a0cm of the side wall; half of all within {cm}\u00a0cm. Counted by "
                "computer from the video, only where the ball could be followed surely.",
                cm=spoken.number(round(100 * facts.from_wall_m.median)),
            ),
        )
