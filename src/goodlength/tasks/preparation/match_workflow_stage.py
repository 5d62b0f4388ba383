"""How far a match is, read from its record, its files and its jobs, to find what comes next."""

from __future__ import annotations

from collections.abc import Sequence

from goodlength.record.effective_answers import is_to_confirm
from goodlength.scoring import System
from goodlength.tasks.draft.draft_contradictions import contradicts_draft
from goodlength.tasks.footage.detected_rallies_not_on_sheet import rallies_to_come
from goodlength.tasks.footage.player_tracking import tracked_match
from goodlength.tasks.footage.rally_detection import ListedRallies, ListedRally
from goodlength.tasks.match.lazy_match import OpenMatch
from goodlength.tasks.preparation.new_match_from_video import is_unnamed
from goodlength.tasks.preparation.next_step_for_person import MatchProgress
from goodlength.tasks.preparation.video_preparation_queue import CHECK_COURT, Preparation

LEAST_AGREEING_SERVES = 2  # a slip in the only known server would turn every rally of the match round


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
    to_come = rallies_to_come(opened, detected) if match.winner is None else ()
    undrafted = [rally for rally in to_come if rally.start_us >= ends]
    tracking = _tracking(preparation) if undrafted else ""
    known, who = _players_known(opened, preparation) if undrafted else (False, False)
    servers_known = known or (who and "who" not in preparation.skipped) or _coach_saw(undrafted)
    can_draft = match.info.format.system is not System.HAND_OUT
    court = next((step for step in preparation.steps if step.name == "court"), None)
    facts_of = {facts.key: facts for facts in opened.answers.facts}
    doubtful_keys = {key for key, facts in facts_of.items() if any(map(is_to_confirm, facts.latest.values()))}
    doubtful_keys |= {rally.key for rally in match.rallies if contradicts_draft(rally, facts_of[rally.key])}
    return MatchProgress(
        video=opened.timeline is not None,
        sending=sending,
        unnamed=is_unnamed(opened.players),
        working=_working(preparation),
        trouble=preparation.trouble,
        court=preparation.wanted and court is not None and court.state == "person",
        court_found=court is not None and court.words == CHECK_COURT,
        who=who,
        tracking=tracking,
        undrafted=len(undrafted),
        servers_known=servers_known,
        can_draft=can_draft,
        logged=len(match.rallies),
        unanswered=sum(not rally.complete or rally.key in doubtful_keys for rally in match.rallies),
        over=match.winner is not None,
        plan=plan,
        handout=handout,
        skipped=preparation.skipped,
    )


def _tracking(preparation: Preparation) -> str:
    """Return words while the players are being tracked, or will be by themselves; else empty."""
    comes = any(step.name == "players" and step.comes for step in preparation.steps)
    return f"The players are being tracked, {preparation.left}." if comes and preparation.works else ""


def _players_known(opened: OpenMatch, preparation: Preparation) -> tuple[bool, bool]:
    """Return whether it is known which tracked player is which, and whether the clothes can tell a person."""
    if not any(step.name == "players" and step.state == "done" for step in preparation.steps):
        return False, False
    tracked = tracked_match(opened)
    known = bool(tracked.identified_by)
    by_colours = bool(tracked.clothes)
    named = bool(tracked.first_is) or tracked.serves_agree >= LEAST_AGREEING_SERVES
    return known, by_colours and not (known and named)


def _coach_saw(rallies: Sequence[ListedRally]) -> bool:
    """Return whether the coach has been through the detected rallies, and said who serves."""
    return all(rally.state for rally in rallies) and any(rally.seen for rally in rallies)


def _working(preparation: Preparation) -> str:
    """Return what goodlength does now, in a sentence; empty where it does nothing that comes first."""
    first = next((step for step in preparation.steps if step.state == "running" or step.startable), None)
    if first is None or not preparation.works or first.name not in _DOING:
        return ""
    return f"{_DOING[first.name]}, {preparation.left}."


_DOING = {
    "copy": "A copy that plays in the browser is being made",
    "listen": "Rallies are being detected",
}
