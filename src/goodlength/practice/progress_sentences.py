"""Progress in words a coach can say, no stronger than the log."""

from __future__ import annotations

from goodlength.practice.statistics.progress import OrderComparison, PracticeOrder, Progress

_NAMES = {
    PracticeOrder.BLOCKED: "The same each time",
    PracticeOrder.MIXED: "Mixed with other drills",
    PracticeOrder.RETENTION: "First thing on a later day",
}
_TOLD = {
    "better": "That is better, and hardly luck or a good day, however often one looked.",
    "worse": "That is worse than at first, and hardly luck or a bad day. Was the ball or the place another?",
    "cannot-tell": "Too few days to say whether that is a change and not a good or a bad day.",
    "one-session": "One session is a beginning; nothing can be compared yet.",
    "unlike": "Later sets were made in another order than the first, so the two are not compared.",
}


HEADS = {
    "better": "Better",
    "worse": "Worse",
    "cannot-tell": "Too few to say",
    "one-session": "First session",
    "unlike": "Not yet compared",
}


def progress_sentences(one: Progress, target: str = "the target") -> tuple[str, ...]:
    """Sentences on one drill, the surest measure first.

    Parameters
    ----------
    one : Progress
        What the sets say.
    target : str
        How sentences name what was hit.
    """
    said = [*_distances(one), *_rates(one, target)]
    said.append(_TOLD[one.told])
    if one.told == "cannot-tell":
        said.append(
            f"If hits go on as since then, about {one.more} more attempts would tell."
            if one.more
            else "If hits go on as since then, more attempts would not settle it: the first day was "
            "too short, or the gap is too small."
        )
    return (*said, *_order_sentences(one.by_order), *_now(one), *_curve(one))


def _rates(one: Progress, target: str) -> list[str]:
    said = []
    for compared in one.by_order:
        hits, of = compared.first
        lead = "" if len(one.by_order) == 1 else f"{_NAMES[compared.order]}: "
        verb = f"{hits} of {of} met {target}"
        said.append(f"{lead}{verb} in the first session{_later(compared)}.")
    return said


def _later(compared: OrderComparison) -> str:
    return f", {compared.since[0]} of {compared.since[1]} since" if compared.since[1] else ""


def _distances(one: Progress) -> list[str]:
    said = []
    for order, seen in one.distances:
        first, since = (round(100 * mean) for mean in (seen.first_mean_m, seen.since_mean_m))
        low, high = round(100 * seen.low_m), round(100 * seen.high_m)
        lead = "" if len(one.distances) == 1 else f" ({_NAMES[order].lower()})"
        said.append(
            f"Distance from the aim{lead}: {first} cm on average over {seen.first} balls at first, "
            f"{since} cm over {seen.since} since (change {low:+d} to {high:+d} cm)."
        )
    return [*said, "Distances tell more than hit or miss, and count in what follows."] if said else []


def _order_sentences(by_order: tuple[OrderComparison, ...]) -> list[str]:
    apart = [one for one in by_order if one.order is not PracticeOrder.BLOCKED]
    if not apart:
        return [
            "All sets repeated the same shot again and again, which flatters. Mix them to see what holds."
        ]
    return ["Judge by the sets that were mixed or came first on a later day: they are nearer to a match."]


def _now(one: Progress) -> list[str]:
    if len(one.sessions) < 2:
        return []
    of = 20
    low, now, high = (round(of * share) for share in (one.now.low, one.now.rate, one.now.high))
    return [f"Now, with older balls fading: about {now} of {of} (range {low} to {high})."]


def _curve(one: Progress) -> list[str]:
    if one.curve is None:
        return []
    if one.curve.shape == "curved" and one.curve.levels_off_at is not None:
        return [f"The sessions bend towards about {round(20 * one.curve.levels_off_at)} of 20."]
    if one.curve.shape == "straight":
        return ["A straight line describes the sessions better than a level one."]
    return ["A level line describes the sessions as well as any curve: no learning curve is drawn."]
