"""Accuracy of answers proposed from the ball's path, and whether their chances hold, on simulated rallies."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from goodlength.bench.ball.simulated_ball_candidate_generator import RallyWithTruth, TrueShot
from goodlength.court.dimensions import SHORT_LINE_FRONT_M, WIDTH_M
from goodlength.files.json_types import Json
from goodlength.measure.draft.answers_from_ball_path import PROPOSED, rally_answers
from goodlength.measure.draft.winner_likelihood_from_rally_ending import ending_seen
from goodlength.measure.shots.followed_ball_types import FollowedRally, PathAnswerKind
from goodlength.record.model import Ending, ReturnKind, ShotType
from goodlength.scoring import Side

SIDES = (Side.A, Side.B)
AGREES = 0.8  # from this fit on an end speaks for a player, as Record takes it
NOT_READ = 0.5  # the fit of an end that could not be read
STOPPED = (Ending.LET.value, Ending.STROKE.value)


@dataclass
class DraftTally:
    """Chance (0 where nothing was answered) and rightness of each answer, by question.

    `winners` are, by how a rally ended, the fit of the end to each player's having won, the likelier first
    (0.5 where no end could be read), and whether that player did; of a let nobody did.
    `after_faults` counts answers but the kind of serve that were suggested of a service fault.
    """

    cases: dict[PathAnswerKind, list[tuple[float, bool]]] = field(default_factory=dict)
    winners: dict[str, list[tuple[float, bool]]] = field(default_factory=dict)
    after_faults: int = 0

    def figures(self) -> dict[str, Json]:
        """Return by question the shares right (an empty one is wrong), proposed, and right of those.

        `winner` has by how the rally ended how often the end speaks for a player (a fit of 0.8 and more), and
        how often of those the player won.
        """
        by_question = {what.value: _figures(cases) for what, cases in self.cases.items()}
        winners: dict[str, Json] = {ending: _winner_figures(rows) for ending, rows in self.winners.items()}
        return {**by_question, "winner": winners, "after_faults": self.after_faults}


def _winner_figures(rows: list[tuple[float, bool]]) -> dict[str, Json]:
    spoken = [right for fit, right in rows if fit >= AGREES]
    return {
        "n": len(rows),
        "read": sum(fit != NOT_READ for fit, _ in rows),
        "speaks": len(spoken),
        "speaks_right": sum(spoken),
        "right": sum(right for fit, right in rows if fit != NOT_READ),
        "mean_fit": round(float(np.mean([fit for fit, _ in rows])), 3),
    }


def _figures(cases: list[tuple[float, bool]]) -> dict[str, Json]:
    chance, right = np.array([case[0] for case in cases]), np.array([case[1] for case in cases])
    proposed = chance >= PROPOSED
    return {
        "n": len(cases),
        "right": round(float(right.mean()), 3),
        "mean_chance": round(float(chance.mean()), 3),
        "proposed": round(float(proposed.mean()), 3),
        "proposed_right": round(float(right[proposed].mean()), 3) if proposed.any() else None,
    }


def judge_draft(rally: RallyWithTruth, followed: FollowedRally, tally: DraftTally) -> None:
    """Add what the paths of a rally suggest to the counts."""
    given = {answer.what: answer for answer in rally_answers(followed)}
    for what, true in true_answers(rally).items():
        answer = given.get(what)
        case = (0.0, False) if answer is None else (answer.chance, answer.value == true)
        tally.cases.setdefault(what, []).append(case)
    _judge_winner(rally, followed, tally)
    if rally.ending == Ending.SERVICE_FAULT:
        tally.after_faults += sum(what is not PathAnswerKind.SERVE_KIND for what in given)


def _judge_winner(rally: RallyWithTruth, followed: FollowedRally, tally: DraftTally) -> None:
    """Add for whom the end of a rally speaks, given who truly served, and whether that player won."""
    seen, server = ending_seen(followed), SIDES[rally.shots[0].by]
    fits = {side: NOT_READ if seen is None else seen.fit(server, side) for side in SIDES}
    likelier = max(SIDES, key=lambda side: fits[side])
    right = rally.winner is not None and SIDES[rally.winner] is likelier
    tally.winners.setdefault(rally.ending or rally.ended, []).append((fits[likelier], right))


def true_answers(rally: RallyWithTruth) -> dict[PathAnswerKind, str]:
    """Return what each question's answer was; without those that the rally does not raise.

    A serve that nobody struck, and a return into the tin, are a missed return. What a return left is what the
    demo played it for. A drive that went across is a
    cross-court, as the glossary has it, whatever was meant; a boast that met the front wall first is none.
    """
    truth = {PathAnswerKind.SERVE_KIND: rally.kind}
    if rally.ended not in STOPPED:  # play stopped: what the ball did then is no end of the rally
        truth[PathAnswerKind.ENDED] = rally.ended
    missed = rally.ended == "second-bounce" if len(rally.shots) == 1 else rally.ended != "second-bounce"
    if len(rally.shots) < 3 and missed:
        truth[PathAnswerKind.HOW_TAKEN] = ReturnKind.NOT_MADE.value
    elif len(rally.shots) > 1:
        truth[PathAnswerKind.HOW_TAKEN] = rally.how
    if rally.left:
        truth[PathAnswerKind.RETURN_LEFT] = rally.left
    if len(rally.shots) > 1 and not any(contact.kind == "tin" for contact in rally.shots[1].contacts):
        returned = rally.shots[1]
        truth[PathAnswerKind.RETURN_STROKE] = _stroke(returned)
        bounce = next((contact for contact in returned.contacts if contact.kind == "floor"), None)
        if bounce is not None:
            depth = "front" if bounce.place_m[1] < SHORT_LINE_FRONT_M else "back"
            side = "left" if bounce.place_m[0] < WIDTH_M / 2 else "right"
            truth[PathAnswerKind.RETURN_QUARTER] = f"{depth}-{side}"
    return truth


def _stroke(shot: TrueShot) -> str:
    walls = [contact.kind for contact in shot.free]
    if shot.stroke == ShotType.BOAST.value and walls[:1] != ["front-wall"]:
        return shot.stroke
    if shot.stroke not in (ShotType.DRIVE.value, ShotType.CROSS_COURT.value, ShotType.BOAST.value):
        return shot.stroke
    bounce = next((contact for contact in shot.free if contact.kind == "floor"), None)
    x = shot.place_m[0] if bounce is None else bounce.place_m[0]
    same = (shot.place_m[0] < WIDTH_M / 2) == (x < WIDTH_M / 2)
    return (ShotType.DRIVE if same else ShotType.CROSS_COURT).value
