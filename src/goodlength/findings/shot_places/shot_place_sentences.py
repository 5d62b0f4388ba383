"""Sentences about places: plain facts of one player, and how many shots are not in them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from goodlength.findings.shot_places.shot_length_tightness_and_spread import PlaceFacts, PlaceSpread
from goodlength.findings.shot_places.shot_table import ShotTable
from goodlength.findings.text.sentence_grammar import capital, owner, plural

CM = 100


def fact_lines(name: str, other: str, facts: PlaceFacts) -> Iterator[str]:
    """Yield plain facts about one player, with counts; nothing where nothing is known."""
    own = capital(owner(name))
    if facts.length.of:
        yield (
            f"{own} length: {facts.length.count} of {facts.length.of} drives, cross-courts and lobs "
            "bounced past the service box."
        )
    if facts.volleyed:
        yield (
            f"{facts.volleyed} more {plural(facts.volleyed, 'was', 'were')} volleyed by {other} before the "
            "bounce, so their length is not known."
        )
    if facts.second_bounce_m.median is not None:
        yield (
            f"Where nobody struck the ball, it bounced the second time {facts.second_bounce_m.median:.1f} m "
            f"from the back wall (median of {facts.second_bounce_m.of})."
        )
    if facts.tight.of:
        middle = facts.from_wall_m.median
        yield (
            f"{own} straight drives: {facts.tight.count} of {facts.tight.of} ended within 50 cm of the side "
            f"wall{'' if middle is None else f', median {middle * CM:.0f} cm'}."
        )
    if facts.tight_spread is not None:
        yield _spread_words(facts.tight_spread)
    stood = facts.stood
    if stood.from_t is not None and stood.from_t.median is not None:
        times = plural(stood.in_front, "time", "times")
        yield (
            f"When {other} struck, {name} stood {stood.from_t.median:.1f} m from the T "
            f"(median of {stood.n}, {stood.in_front} {times} in front of it)."
        )
    if facts.given_s.median is not None:
        yield (
            f"{name} gave {other} {facts.given_s.median:.2f} s between contacts "
            f"(median of {facts.given_s.of})."
        )


def _spread_words(spread: PlaceSpread) -> str:
    measured, error = spread.measured_m * CM, spread.error_m * CM
    if spread.true_m == 0:
        return (
            f"The distance varies by no more than the error of one measurement, about {error:.0f} cm "
            f"(standard deviation as measured: {measured:.0f} cm)."
        )
    return (
        f"The distance varies by {spread.true_m * CM:.0f} cm (standard deviation): {measured:.0f} cm as "
        f"measured, the error of one measurement, about {error:.0f} cm, taken out."
    )


def caution_words(players: Sequence[tuple[str, PlaceFacts]], shots: Sequence[ShotTable]) -> str:
    """Return how many shots are not in the counts, in sentences."""
    stale = sum(table.stale for table in shots)
    unknown = sum(int((table.striker < 0).sum()) for table in shots)
    parts = []
    for name, facts in players:
        counts = facts.counts
        parts.append(
            f"{capital(owner(name))} shots: {counts.shots}; counted {counts.usable}, not sure "
            f"{counts.unsure}, no path {counts.unseen}."
        )
    if unknown:
        parts.append(f"Of {unknown} more it is not known who struck.")
    if stale:
        parts.append(
            f"{stale} followed {plural(stale, 'rally is', 'rallies are')} out of date and left out: follow "
            "the ball again."
        )
    return " ".join(parts)
