"""The finished sheet beside the truth: rallies there, servers, winners, kinds."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from goodlength import tasks
from robustness.coach_workflow.simulated_match_video import FilmedMatch


def sheet_accuracy(library: Any, match_id: str, match: FilmedMatch) -> dict[str, object]:
    """Return how right the sheet of a match is."""
    return wrong_answers(tasks.show_match(library, match_id).rallies, match)


def wrong_answers(rallies: Iterable[Any], match: FilmedMatch) -> dict[str, object]:
    """Return the share of rallies right in server, winner and kind, and what is wrong in the others.

    A rally logged is the true one that it fills, or lies in; a second one in the same is none.
    """
    logged: dict[int, Any] = {}
    invented = in_part = 0
    for rally in rallies:
        n = (
            None
            if rally.start_us is None or rally.end_us is None
            else match.rally_in(rally.start_us, rally.end_us)
        )
        if n is None and rally.start_us is None:  # written in from memory of the match: the one missing here
            n = max(logged, default=-1) + 1
            n = n if n < len(match.plans) else None
        if n is None or n in logged:
            invented += 1
        else:
            logged[n] = rally
            in_part += rally.start_us is not None and match.rally_at(rally.start_us, rally.end_us) is None
    wrong = {"missing": 0, "server": 0, "winner": 0, "kind": 0}
    right = 0
    for n, plan in enumerate(match.plans):
        rally = logged.get(n)
        if rally is None:
            wrong["missing"] += 1
            continue
        faults = {
            "server": rally.server is not plan.server,
            "winner": rally.winner is not plan.winner,
            "kind": rally.serve is None or rally.serve.kind != plan.kind,
        }
        for name, is_wrong in faults.items():
            wrong[name] += is_wrong
        right += not any(faults.values())
    return {
        "right_of_100": round(100 * right / len(match.plans), 1),
        "wrong": wrong,
        "logged_and_no_rally": invented,
        "logged_with_less_than_half_of_their_time": in_part,
    }
