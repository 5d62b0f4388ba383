"""Transfer of practice: the same measure in matches before and after a plan, within strata."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

from goodlength.findings.rally_masks import RallyMasks
from goodlength.findings.text.effect_shrinkage import turned_by_mix
from goodlength.findings.text.sentence_grammar import plural
from goodlength.practice.match_measure_counts_by_service_box import counted, measure_named
from goodlength.practice.statistics.practice_transfer import CarryOver, Counts, carried_over
from goodlength.record.model import MatchInfo
from goodlength.tasks.practice.practice_plans_and_log import plans_of, sets_of

if TYPE_CHECKING:
    from goodlength.record.store import Library
    from goodlength.tasks.match.lazy_player_matches import OpenMatches

Condition = tuple[str, str, str]  # opponent, ball, box


@dataclass(frozen=True)
class TransferResult:
    """One measure of a plan, before and after.

    `clean` leaves the match the finding came from out of "before": what was picked for being low is not in
    it. None where there was no other match before.
    """

    drill: str
    name: str
    measure: str
    kind: str | None
    measure_words: str
    before: tuple[str, ...]  # ids of matches
    after: tuple[str, ...]
    during: int  # matches left out because they were played while the plan ran
    undated: int
    whole: CarryOver
    clean: CarryOver | None
    words: tuple[str, ...]


def practice_transfer(matches: OpenMatches, plan_id: str | None = None) -> tuple[TransferResult, ...]:
    """Return what became, in matches, of each thing a plan set out to change; empty without a plan.

    Parameters
    ----------
    plan_id : str, optional
        The newest plan when left out.
    """
    library, player_id = matches.library, matches.player_id
    plans = plans_of(library, player_id)
    plan = next((value for key, value in plans if plan_id in (None, key)), None)
    if plan is None or "begins" not in plan:
        return ()
    begins = date.fromisoformat(plan["begins"])
    wanted = [item for item in plan["items"] if item.get("carry")]
    last = _last_day(library, player_id, plan, begins)
    before, after, during, undated = _parted(matches, begins, last)
    views = {info.id: RallyMasks(matches.match(info.id).table) for info in (*before, *after)}
    kinds = {kind.id: kind.words for kind in library.kinds()}
    return tuple(
        _carried(item, plan.get("match"), player_id, kinds, (before, after), (during, undated), views)
        for item in wanted
    )


def _last_day(library: Library, player_id: str, plan: Mapping[str, Any], begins: date) -> date:
    """Return the last day practised for a plan; its first day where nothing was logged."""
    planned = {item["drill"] for item in plan["items"]}
    check_on = date.fromisoformat(plan["check_on"])
    days = [
        practice_set.on
        for drill, sets in sets_of(library, player_id).items()
        for practice_set in sets
        if drill in planned and begins <= practice_set.on <= check_on
    ]
    return max(days, default=begins)


def _parted(
    matches: OpenMatches, begins: date, last: date
) -> tuple[list[MatchInfo], list[MatchInfo], int, int]:
    """Matches up to the plan's first day, those after the last day practised, and how many fell between."""
    played = list(matches.infos)
    if not all(info.demo for info in played):
        played = [info for info in played if not info.demo]
    dated = [(info.played_on, info) for info in played if info.played_on is not None]
    before = [info for day, info in dated if day <= begins]
    after = [info for day, info in dated if day > last and day > begins]
    return before, after, len(dated) - len(before) - len(after), len(played) - len(dated)


def _counts(
    infos: Sequence[MatchInfo], player_id: str, key: str, kind: str | None, views: Mapping[str, RallyMasks]
) -> dict[Condition, Counts]:
    """Return the measure added up over matches, by opponent, ball and box."""
    found: dict[Condition, Counts] = {}
    for info in infos:
        side = info.players.index(player_id)
        for box, (hits, of) in counted(views[info.id], side, key, kind).items():
            condition = (info.players[1 - side], info.ball, box)
            before = found.get(condition, (0, 0))
            found[condition] = (before[0] + hits, before[1] + of)
    return found


def _by_match(
    parts: tuple[Sequence[MatchInfo], Sequence[MatchInfo]],
    player_id: str,
    key: str,
    kind: str | None,
    views: Mapping[str, RallyMasks],
) -> tuple[list[Counts], list[Counts]]:
    """Return the measure match by match, before and after."""

    def of(info: MatchInfo) -> Counts:
        boxes = counted(views[info.id], info.players.index(player_id), key, kind).values()
        return sum(hits for hits, _ in boxes), sum(of for _, of in boxes)

    before, after = ([of(info) for info in part] for part in parts)
    return before, after


def _carried(
    item: Mapping[str, Any],
    source: str | None,
    player_id: str,
    kind_words: Mapping[str, str],
    parts: tuple[Sequence[MatchInfo], Sequence[MatchInfo]],
    left_out: tuple[int, int],
    views: Mapping[str, RallyMasks],
) -> TransferResult:
    measure = measure_named(item["carry"])
    kinds = list(item.get("kinds") or ())
    kind = kinds[0] if kinds and measure.of_kind else None
    serve = f"the serve “{kind_words.get(kind, kind)}”" if kind else "any serve"
    before, after = parts
    first, since = (_counts(part, player_id, measure.key, kind, views) for part in parts)
    others = [info for info in before if info.id != source]
    whole = carried_over(first, since, matches=_by_match(parts, player_id, measure.key, kind, views))
    clean = None
    if others and len(others) < len(before):
        clean = carried_over(
            _counts(others, player_id, measure.key, kind, views),
            since,
            False,
            _by_match((others, after), player_id, measure.key, kind, views),
        )
    measure_words = measure.words.format(serve=serve)
    return TransferResult(
        item["drill"],
        item["name"],
        measure.key,
        kind,
        measure_words,
        tuple(info.id for info in before),
        tuple(info.id for info in after),
        *left_out,
        whole,
        clean,
        transfer_words(measure_words, measure.more_is_better, len(after), whole, clean, left_out[0]),
    )


def transfer_words(
    measure_words: str,
    more_is_better: bool,
    matches_after: int,
    whole: CarryOver,
    clean: CarryOver | None,
    during: int,
) -> tuple[str, ...]:
    """Return the transfer in sentences: what was counted, the change with its range, and what it cannot say.

    Examples
    --------
    >>> from goodlength.practice.statistics.practice_transfer import carried_over
    >>> told = carried_over({"Petra": (48, 80)}, {"Petra": (56, 70)})
    >>> transfer_words("rallies won", True, 1, told, None, 0)[1]
    'Change +20 percentage points, 95% range -16 to +56: not enough data to say whether it changed.'
    """
    lead = measure_words[:1].upper() + measure_words[1:]
    if not matches_after:
        return (f"{lead}: no match after the practice yet. Log one to compare.",)
    if whole.change is None or whole.low is None or whole.high is None:
        return (
            f"{lead}: there is no like-for-like comparison. "
            "You need a match against the same opponent, with the same ball, before and after.",
        )
    (h0, n0), (h1, n1) = whole.before, whole.after
    words = [
        f"{lead}: {h0} of {n0} before, {h1} of {n1} after, against the same opponent with the same ball."
    ]
    words.append(_change_words(whole.change, whole.low, whole.high, more_is_better))
    if turned_by_mix(whole.change, h1 / n1 - h0 / n0):
        words.append("The change is that within each opponent, ball and box: the counts together hide it.")
    if whole.left_out:
        words.append(
            f"Another {whole.left_out} {plural(whole.left_out, 'was', 'were')} left out: against another "
            "opponent, with another ball, or from the other box."
        )
    if during:
        some = plural(during, "1 match", f"{during} matches")
        words.append(f"{some} played while the plan ran {plural(during, 'was', 'were')} left out.")
    if whole.low <= 0 <= whole.high or (whole.change > 0) == more_is_better:
        words.append(
            "It was practised because it had looked bad, so part of any improvement would have come anyway "
            "(regression to the mean)."
        )
    if clean is not None and clean.change is not None and clean.low is not None and clean.high is not None:
        words.append(
            "Without the match that gave the finding: "
            + _change_words(clean.change, clean.low, clean.high, more_is_better).lower()
        )
    words.append(
        "The range allows for good and bad days as far as possible, but one match afterwards says little."
        if matches_after == 1
        else "The range allows for good and bad days, as far as these matches show them."
    )
    return tuple(words)


def _change_words(change: float, low: float, high: float, more_is_better: bool) -> str:
    figures = (
        f"Change {round(100 * change):+d} percentage points, 95% range "
        f"{round(100 * low):+d} to {round(100 * high):+d}"
    )
    if low <= 0 <= high:
        return f"{figures}: not enough data to say whether it changed."
    better = (change > 0) == more_is_better
    return f"{figures}: {'better' if better else 'worse'}, allowing for good and bad days."
