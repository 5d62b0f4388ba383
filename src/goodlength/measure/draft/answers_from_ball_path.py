"""Answers of the sheet as the paths of a rally suggest them, each with a chance from calibration.

Never what only a person can judge: a forced or an unforced error, a let, a stroke, an intention. Bounds
between shots are common practice, no source, put into numbers by us (ASSUMED).
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from goodlength.court.dimensions import SERVICE_LINE_M, SHORT_LINE_FRONT_M, WIDTH_M
from goodlength.measure.shots.followed_ball_types import (
    ContactKind,
    FollowedRally,
    FollowedShot,
    PathAnswer,
    PathAnswerKind,
    PathContact,
    ShotPath,
)
from goodlength.record.model import ShotType

ASSUMED_LOB_M = 2.9  # front wall from here up: a lob
ASSUMED_SHORT_M = SHORT_LINE_FRONT_M - 1.5  # a first bounce nearer than this is short: a drop or a kill
ASSUMED_LOW_M = 1.2  # ... if it met the front wall below this
ASSUMED_KILL_M_S = 20.0  # hard from here on
ENDINGS = {
    ContactKind.TIN: "tin",
    ContactKind.OUT: "out",
    ContactKind.SECOND_BOUNCE: "second-bounce",
}
# Intercept, weight of the log odds of the votes, and of those of the paths: fitted on simulated rallies of
# the choosing states (90 rallies), drawn towards 0, 0.7 and 0.3; judged on others (docs/bench.md).
WEIGHTS: Mapping[PathAnswerKind, tuple[float, float, float]] = {
    PathAnswerKind.SERVE_KIND: (0.31, 0.82, 0.25),
    PathAnswerKind.HOW_TAKEN: (-1.55, 1.05, 0.23),
    PathAnswerKind.RETURN_STROKE: (-1.48, 0.79, 0.16),
    PathAnswerKind.RETURN_QUARTER: (0.57, 0.64, 0.41),
    PathAnswerKind.ENDED: (0.79, 0.7, 0.0),
}
LEAST_LOGIT_SHARE = 0.02  # votes are never taken to be surer than that
PROPOSED = 0.9  # from this chance on an answer is proposed; below it is left empty


SERVE_LIKE_RATIO = 5.0
"""How much oftener a serve's path is like a serve than that of another shot: 15 of 19 serves and 16 of 107
other shots of one made-up game (random state 1), 5.3 times."""


def starts_like_a_serve(rally: FollowedRally) -> bool:
    """Return whether the first path goes as a serve does, wherever it was struck.

    Straight to the front wall above the service line, then to the other half behind the short line. It says
    whether a sound was the begin of a rally, not whether the serve was good.
    """
    best = rally.shots[0].best if rally.shots else None
    if best is None or len(best.contacts) < 2 or best.contacts[1].kind is not ContactKind.FRONT:
        return False
    if best.contacts[1].place_m[2] < SERVICE_LINE_M:
        return False
    from_left, bounce = best.contacts[0].place_m[0] < WIDTH_M / 2, _first(best, ContactKind.FLOOR)
    if bounce is not None and bounce.place_m[1] <= SHORT_LINE_FRONT_M:
        return False
    end = bounce.place_m if bounce is not None else best.samples[-1].place_m if best.samples else None
    return end is not None and (end[0] < WIDTH_M / 2) != from_left


def rally_answers(rally: FollowedRally) -> tuple[PathAnswer, ...]:
    """Return what the paths of a rally say of the sheet, sure or not; empty where they are out of date."""
    if rally.out_of_date or not rally.shots or rally.shots[0].best is None:
        return ()
    found = [*_of_serve(rally), *_of_return(rally), *_of_end(rally)]
    return tuple(answer for answer in found if answer is not None)


def _of_serve(rally: FollowedRally) -> list[PathAnswer | None]:
    serve = rally.serve
    if serve is None:
        return []
    found = [_answer(PathAnswerKind.SERVE_KIND, serve.kinds, serve.chance)]
    if len(rally.shots) > 1 and not _return_failed(rally):
        chance = min(serve.chance, rally.shots[1].strike_chance)
        found.append(_answer(PathAnswerKind.HOW_TAKEN, serve.taken, chance))
    return found


def _return_failed(rally: FollowedRally) -> bool:
    """Return whether the return was the last shot, so that it may have been missed."""
    return len(rally.shots) == 2


def _of_return(rally: FollowedRally) -> list[PathAnswer | None]:
    if len(rally.shots) < 2 or rally.shots[1].best is None:
        return []
    returned = rally.shots[1]
    if returned.best is None:
        return []
    votes: dict[str, float] = {}
    total = sum(path.chance for path in returned.paths) or 1.0
    for path in returned.paths:
        word = stroke_word(path)
        if word:
            votes[word] = votes.get(word, 0.0) + path.chance / total
    found = [_answer(PathAnswerKind.RETURN_STROKE, votes, returned.best.chance)]
    bounce = _first(returned.best, ContactKind.FLOOR)
    if bounce is not None:
        found.append(_answer(PathAnswerKind.RETURN_QUARTER, quarter_shares(bounce), returned.best.chance))
    return found


def _of_end(rally: FollowedRally) -> list[PathAnswer | None]:
    last: FollowedShot = rally.shots[-1]
    if last.best is None:
        return []
    votes: dict[str, float] = {}
    total = sum(path.chance for path in last.paths) or 1.0
    for path in last.paths:
        word = ENDINGS.get(path.contacts[-1].kind, "")
        if word:
            votes[word] = votes.get(word, 0.0) + path.chance / total
    return [_answer(PathAnswerKind.ENDED, votes, last.best.chance)]


def stroke_word(path: ShotPath) -> str:
    """Return which shot a path is, as a `ShotType`; "" where it does not come to the front wall, or is down.

    Where it was struck before its bounce, straight or across is told by where it was then.
    """
    kinds = [contact.kind for contact in path.contacts[1:]]
    if ContactKind.FRONT not in kinds:
        return ""
    at = kinds.index(ContactKind.FRONT)
    before, front = kinds[:at], path.contacts[1 + at]
    if ContactKind.FLOOR in before:
        return ""
    if before:
        return ShotType.BOAST.value
    if front.place_m[2] >= ASSUMED_LOB_M:
        return ShotType.LOB.value
    bounce = _first(path, ContactKind.FLOOR)
    if bounce is not None and bounce.place_m[1] < ASSUMED_SHORT_M and front.place_m[2] < ASSUMED_LOW_M:
        return (ShotType.KILL if path.speed_m_s >= ASSUMED_KILL_M_S else ShotType.DROP).value
    last_x = (
        bounce.place_m[0] if bounce is not None else path.samples[-1].place_m[0] if path.samples else None
    )
    if last_x is None:
        return ""
    same = (path.contacts[0].place_m[0] < WIDTH_M / 2) == (last_x < WIDTH_M / 2)
    return (ShotType.DRIVE if same else ShotType.CROSS_COURT).value


def quarter_shares(bounce: PathContact) -> dict[str, float]:
    """Return the share of each quarter that a bounce's place and error leave: "front-left" and so on."""
    (x, y, _), covariance = bounce.place_m, bounce.covariance_m2
    off_x, off_y = (0.1, 0.1) if covariance is None else (covariance[0][0] ** 0.5, covariance[1][1] ** 0.5)
    left, front = _below(WIDTH_M / 2 - x, off_x), _below(SHORT_LINE_FRONT_M - y, off_y)
    return {
        "front-left": front * left,
        "front-right": front * (1.0 - left),
        "back-left": (1.0 - front) * left,
        "back-right": (1.0 - front) * (1.0 - left),
    }


def _below(gap_m: float, error_m: float) -> float:
    return 0.5 * (1.0 + math.erf(gap_m / (max(error_m, 0.01) * math.sqrt(2.0))))


def _first(path: ShotPath, kind: ContactKind) -> PathContact | None:
    return next((contact for contact in path.contacts if contact.kind is kind), None)


def _answer(what: PathAnswerKind, votes: Mapping[str, float], path_chance: float) -> PathAnswer | None:
    if not votes:
        return None
    value = max(votes, key=lambda word: votes[word])
    begin, by_votes, by_path = WEIGHTS[what]
    logit = begin + by_votes * log_odds(votes[value]) + by_path * log_odds(path_chance)
    return PathAnswer(what, value, round(1.0 / (1.0 + math.exp(-logit)), 3))


def log_odds(share: float) -> float:
    """Return the log odds of a share, kept within `LEAST_LOGIT_SHARE` of 0 and 1."""
    share = min(max(share, LEAST_LOGIT_SHARE), 1.0 - LEAST_LOGIT_SHARE)
    return math.log(share / (1.0 - share))
