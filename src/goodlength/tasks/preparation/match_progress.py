"""How far a match is, read from its record, its files and its jobs, to find what comes next."""

from __future__ import annotations

from goodlength.scoring import System
from goodlength.tasks.footage.rally_detection import ListedRallies, ListedRally
from goodlength.tasks.match.lazy_match import OpenMatch
from goodlength.tasks.preparation.match_from_video import is_unnamed
from goodlength.tasks.preparation.next_step import MatchProgress
from goodlength.tasks.preparation.preparation_queue import CHECK_COURT, Preparation


def match_progress(
    opened: OpenMatch,
    detected: ListedRallies,
    preparation: Preparation,
    *,
    sending: bool = False,
    plan: bool = False,
    handout: bool = False,
) -> MatchProgress:
    """Return how far a match is.

    Parameters
    ----------
    detected : ListedRallies
        The rallies detected in its video.
    preparation : Preparation
        What goodlength does by itself.
    sending : bool
        A video has arrived in part, and nobody sends the rest now.
    plan, handout : bool
        A plan was saved, a handout made.
    """
    match = opened.match
    ends = max((rally.end_us or rally.start_us or 0 for rally in match.rallies), default=0)
    undrafted = [rally for rally in detected.played if rally.start_us >= ends] if match.winner is None else []
    tracked = any(step.name == "players" and step.state == "done" for step in preparation.steps)
    court = next((step for step in preparation.steps if step.name == "court"), None)
    return MatchProgress(
        video=opened.timeline is not None,
        sending=sending,
        unnamed=is_unnamed(opened.players),
        working=_working(preparation),
        trouble=preparation.trouble,
        court=preparation.wanted and court is not None and court.state == "person",
        court_found=court is not None and court.words == CHECK_COURT,
        unchecked=sum(_to_check(rally, tracked) for rally in undrafted),
        undrafted=len(undrafted),
        can_draft=match.info.format.system is not System.HAND_OUT,
        logged=len(match.rallies),
        unanswered=sum(not rally.complete for rally in match.rallies),
        over=match.winner is not None,
        plan=plan,
        handout=handout,
        skipped=preparation.skipped,
    )


def _to_check(rally: ListedRally, tracked: bool) -> bool:
    """Return whether a person has to look at a rally: in doubt, or nobody knows who served in it."""
    return rally.state == "" and (rally.doubtful or not tracked)


def _working(preparation: Preparation) -> str:
    """Return what goodlength does now, in a sentence; empty where it does nothing that comes first."""
    first = next((step for step in preparation.steps if step.state == "running" or step.startable), None)
    if first is None or not preparation.works or first.name not in ("copy", "listen"):
        return ""
    return f"{_DOING[first.name]}: {preparation.left}."


_DOING = {"copy": "A copy that plays in the browser is being made", "listen": "Rallies are being detected"}
