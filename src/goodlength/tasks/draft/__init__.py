"""The sheet drafted: the score from who served, answers from the ball's path, sure rallies taken in bulk."""

from goodlength.tasks.draft.score_draft_proposal_and_acceptance import (
    MatchDraft,
    accept_draft,
    draft_match,
    rallies_in_draft,
    withdraw_draft,
)

__all__ = [
    "MatchDraft",
    "accept_draft",
    "draft_match",
    "rallies_in_draft",
    "withdraw_draft",
]
