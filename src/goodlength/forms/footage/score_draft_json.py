"""JSON form of a drafted score."""

from __future__ import annotations

from typing import TYPE_CHECKING

from goodlength.files.json_types import Json
from goodlength.tasks.draft.score_draft_proposal_and_acceptance import MatchDraft

if TYPE_CHECKING:
    pass


def draft_form(drafted: MatchDraft) -> dict[str, Json]:
    """Return a draft as plain values; times in seconds of match time."""
    from goodlength.measure import DraftRefused

    sheet = drafted.sheet
    form: dict[str, Json] = {"words": drafted.words, "scores": drafted.scores, "written": drafted.written}
    if isinstance(sheet, DraftRefused):
        return {**form, "rallies": [], "lost": [], "first": [], "at": sheet.at}
    by_id = {rally.id: rally for rally in drafted.rallies}
    return {
        **form,
        "rallies": [
            {
                "id": proposal.key,
                "start_s": by_id[proposal.key].start_us / 1e6,
                "end_s": by_id[proposal.key].end_us / 1e6,
                "game": proposal.game,
                "before": list(proposal.before),
                "server": proposal.server.value,
                "box": proposal.box.value,
                "winner": None if proposal.winner is None else proposal.winner.value,
                "chance": round(proposal.chance, 4),
                "offered": proposal.offered,
                "sound_doubtful": proposal.key in drafted.doubtful_sounds and not proposal.offered,
                "told": by_id[proposal.key].outcome,
            }
            for proposal in sheet.proposals
        ],
        "lost": [
            {
                "after": rally.after,
                "game": rally.game,
                "before": list(rally.before),
                "winner": rally.winner.value,
            }
            for rally in sheet.lost
        ],
        "first": list(sheet.first),
        "expected_right": round(sheet.expected_right, 4),
    }
