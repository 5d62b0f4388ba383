"""Sentences on progress, no stronger than the log supports."""

from __future__ import annotations

from goodlength.practice.statistics.drill_progress import (
    OrderComparison,
    PracticeOrder,
    Progress,
)

SAME_RATE = 0.05  # a smaller difference between two rates is said as none

_NAMES = {
    PracticeOrder.BLOCKED: "Blocked practice",
    PracticeOrder.MIXED: "Random (mixed) practice",
    PracticeOrder.RETENTION: "Retention (first thing on a later day)",
}
_VERDICT_SENTENCES = {
    "better": "Better than at first, and unlikely to be chance or a good day.",
    "worse": "Worse than at first, and unlikely to be chance or a bad day. Was it a different ball or court?",
    "cannot-tell": "Too few days to say whether this is a real change or just a good or bad day.",
    "one-session": "First session: nothing to compare yet.",
    "unlike": "Later sets used another practice type than the first, so they are not compared.",
}


HEADS = {
    "better": "Better",
    "worse": "Worse",
    "cannot-tell": "Not enough data",
    "one-session": "First session",
    "unlike": "Not yet compared",
}


def progress_sentences(drill_progress: Progress, target: str = "the target") -> tuple[str, ...]:
    """Return sentences on one drill, the surest measure first.

    Parameters
    ----------
    one : Progress
        What the sets say.
    target : str
        How sentences name what was hit; empty for a drill without a place to hit.
    """
    sentences = [*_distances(drill_progress), *_rates(drill_progress, target)]
    if drill_progress.verdict == "cannot-tell" and _shows_no_change(drill_progress):
        sentences.append("So far any change is smaller than the usual difference between days.")
        return (
            *sentences,
            *_order_sentences(drill_progress.by_order),
            *_now(drill_progress),
            *_curve(drill_progress),
        )
    if drill_progress.verdict == "cannot-tell" and not drill_progress.more:
        sentences += [
            "This may be a real change or just a good or bad day.",
            "This comparison cannot be settled: the first day was too short, or the difference is too small. "
            "Log a longer first day next time.",
        ]
    else:
        sentences.append(_VERDICT_SENTENCES[drill_progress.verdict])
    if drill_progress.verdict == "cannot-tell" and drill_progress.more:
        sentences.append(f"At the current rate, about {drill_progress.more} more attempts would show it.")
    return (
        *sentences,
        *_order_sentences(drill_progress.by_order),
        *_now(drill_progress),
        *_curve(drill_progress),
    )


def _shows_no_change(drill_progress: Progress) -> bool:
    """Return whether every practice type has about the rate it began with, and no distance says otherwise."""
    gaps = [
        compared.since[0] / compared.since[1] - compared.first[0] / compared.first[1]
        for compared in drill_progress.by_order
        if compared.since[1]
    ]
    apart = [seen for _, seen in drill_progress.distances if not seen.low_m <= 0 <= seen.high_m]
    return not apart and all(abs(gap) < SAME_RATE for gap in gaps)


def _rates(drill_progress: Progress, target: str) -> list[str]:
    sentences = []
    for compared in drill_progress.by_order:
        lead = "" if len(drill_progress.by_order) == 1 else f"{_NAMES[compared.order]}: "
        hits, of = compared.first
        first = f"{hits} of {of} {f'hit {target}' if target else 'were hits'} on the first day"
        if of == 1:
            first = f"{'the' if lead else 'The'} only attempt on the first day {_did(hits, target)}"
        sentences.append(f"{lead}{first}{_later(compared, target)}.")
    return sentences


def _did(hits: int, target: str) -> str:
    if target:
        return f"{'hit' if hits else 'missed'} {target}"
    return "was a hit" if hits else "was a miss"


def _later(compared: OrderComparison, target: str) -> str:
    hits, of = compared.since
    if of == 1:
        return f"; the only one since {_did(hits, target)}"
    return f", {hits} of {of} since" if of else ""


def _distances(drill_progress: Progress) -> list[str]:
    sentences = []
    for order, seen in drill_progress.distances:
        first, since = (round(100 * mean) for mean in (seen.first_mean_m, seen.since_mean_m))
        low, high = round(100 * seen.low_m), round(100 * seen.high_m)
        lead = "" if len(drill_progress.distances) == 1 else f" ({_NAMES[order].lower()})"
        sentences.append(
            f"Distance from the aim{lead}: {first} cm on average over {seen.first} balls at first, "
            f"{since} cm over {seen.since} since (change {low:+d} to {high:+d} cm if all days were alike)."
        )
    return [*sentences, "Distances tell more than hit or miss, so they are used below."] if sentences else []


def _order_sentences(by_order: tuple[OrderComparison, ...]) -> list[str]:
    apart = [comparison for comparison in by_order if comparison.order is not PracticeOrder.BLOCKED]
    if not apart:
        return [
            "All sets were blocked practice, which makes results look better. Mix the shots to "
            "see what lasts."
        ]
    return ["Judge by the random (mixed) and retention sets: they are closer to a match."]


def _now(drill_progress: Progress) -> list[str]:
    if len(drill_progress.sessions) < 2:
        return []
    of = 20
    low, now, high = (
        round(of * share)
        for share in (drill_progress.now.low, drill_progress.now.rate, drill_progress.now.high)
    )
    return [f"Current rate (recent balls count more): about {now} of {of} (95% range {low} to {high})."]


def _curve(drill_progress: Progress) -> list[str]:
    """Return how results move over the days; without a change that is shown a shape would deny that."""
    if drill_progress.curve is None:
        return []
    if drill_progress.curve.shape != "flat" and drill_progress.shown_curve is None:
        return []
    if drill_progress.curve.shape == "curved" and drill_progress.curve.levels_off_at is not None:
        return [f"Results are levelling off at about {round(20 * drill_progress.curve.levels_off_at)} of 20."]
    if drill_progress.curve.shape == "straight":
        return ["Results are changing steadily from session to session."]
    return ["There is no clear learning curve yet."]
