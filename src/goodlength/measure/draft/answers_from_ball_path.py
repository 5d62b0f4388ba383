"""Answers of the sheet as the paths of a rally suggest them, each with a chance from calibration.

Never what only a person can judge: a forced or an unforced error, a let, a stroke, an intention. Bounds
between shots are common practice, no source, put into numbers by us (ASSUMED). So are those of what a return
left: where the ball was when the server struck it, or that it was a drop or a kill. Between them nothing is
suggested, nor of boasts, which attack or defend.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

from goodlength.court import BallContact, CourtSurface, serve_verdict
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
from goodlength.record.model import Left, ReturnKind, ShotType

ASSUMED_LOB_M = 2.9  # front wall from here up: a lob
ASSUMED_SHORT_M = SHORT_LINE_FRONT_M - 1.5  # a first bounce nearer than this is short: a drop or a kill
ASSUMED_LOW_M = 1.2  # ... if it met the front wall below this
ASSUMED_KILL_M_S = 20.0  # hard from here on ...
ASSUMED_KILL_SPREAD = 0.3  # ... by observers who draw that line at other speeds: spread of its logarithm
ASSUMED_TIGHT_M = 0.5  # struck within this of a side wall: tight, as in findings from places
ASSUMED_LOOSE_M = 1.1  # struck farther than this from both: loose
STRIKE_ERROR_M = 0.1  # of the place of a strike, across: about as measured on simulated rallies
ENDINGS = {
    ContactKind.TIN: "tin",
    ContactKind.OUT: "out",
    ContactKind.SECOND_BOUNCE: "second-bounce",
}
ASSUMED_SERVE_MARGIN_M = (
    0.1  # a serve nearer to a line than this may be a fault; its touches are 5 to 7 cm off
)
SURFACES = {
    ContactKind.FRONT: CourtSurface.FRONT,
    ContactKind.LEFT: CourtSurface.LEFT,
    ContactKind.RIGHT: CourtSurface.RIGHT,
    ContactKind.BACK: CourtSurface.BACK,
    ContactKind.FLOOR: CourtSurface.FLOOR,
    ContactKind.SECOND_BOUNCE: CourtSurface.FLOOR,
    ContactKind.TIN: CourtSurface.TIN,
    ContactKind.OUT: CourtSurface.ABOVE,
}
# Intercept, weight of the log odds of the votes, and of those of the paths: fitted on simulated rallies of
# the choosing states (90 rallies; of the return's stroke, what it left and the end on up to 170 others),
# drawn towards 0, 0.7 and 0.3; judged on others (docs/bench.md).
WEIGHTS: Mapping[PathAnswerKind, tuple[float, float, float]] = {
    PathAnswerKind.SERVE_KIND: (0.31, 0.82, 0.25),
    PathAnswerKind.HOW_TAKEN: (-1.55, 1.05, 0.23),
    PathAnswerKind.RETURN_STROKE: (-0.74, 0.98, 0.22),
    PathAnswerKind.RETURN_QUARTER: (0.57, 0.64, 0.41),
    PathAnswerKind.RETURN_LEFT: (0.5, 0.8, 0.3),
    PathAnswerKind.ENDED: (1.5, 0.68, 0.28),
}
SECOND_BOUNCE_LESS = 2.26  # taken from the log odds of a second bounce: a last shot down is often missed
UNSEEN_END = 0.7  # what a second in which the end was not seen takes from its log odds
UNSEEN_GAP_US = 60_000  # a span hidden up to so near the end reaches it
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


def serve_is_good(rally: FollowedRally) -> bool:
    """Return whether the first shot is surely a good serve: `PROPOSED` of the chances of its paths and more.

    By RULES-2014, rules 5.7 to 5.9, from the box of the half it was struck in. A serve that was struck on
    before it bounced need not bounce.
    """
    paths = rally.shots[0].paths if rally.shots else ()
    volleyed = len(rally.shots) > 1
    good = sum(path.chance for path in paths if _is_good_serve(path, volleyed=volleyed))
    return bool(paths) and good >= PROPOSED * sum(path.chance for path in paths)


def _is_good_serve(path: ShotPath, *, volleyed: bool) -> bool:
    box = "left" if path.contacts[0].place_m[0] < WIDTH_M / 2 else "right"
    touched = [BallContact(SURFACES[each.kind], *each.place_m) for each in path.contacts[1:]]
    volleyed = volleyed and _first(path, ContactKind.FLOOR) is None
    return serve_verdict(box, touched, volleyed=volleyed, margin_m=ASSUMED_SERVE_MARGIN_M).good


def rally_answers(rally: FollowedRally) -> tuple[PathAnswer, ...]:
    """Return what the paths of a rally say of the sheet, sure or not; empty where they are out of date.

    Of a serve that may be a fault its kind alone: with it the rally was over, and the receiver won.
    """
    if rally.out_of_date or not rally.shots or rally.shots[0].best is None:
        return ()
    if not serve_is_good(rally):
        kind = _serve_kind(rally)
        return () if kind is None else (kind,)
    ended = _of_end(rally)
    missed = _missed(rally, ended)
    returned = [] if missed else [_taken(rally, ended), *_of_return(rally)]
    found = [_serve_kind(rally), missed, *returned, ended]
    return tuple(answer for answer in found if answer is not None)


def _serve_kind(rally: FollowedRally) -> PathAnswer | None:
    serve = rally.serve
    return None if serve is None else _answer(PathAnswerKind.SERVE_KIND, serve.kinds, serve.chance)


def _taken(rally: FollowedRally, ended: PathAnswer | None) -> PathAnswer | None:
    """Return how the return was taken; where the rally was over with it, as surely as it was not missed."""
    serve = rally.serve
    if serve is None or len(rally.shots) < 2:
        return None
    answer = _answer(PathAnswerKind.HOW_TAKEN, serve.taken, min(serve.chance, rally.shots[1].strike_chance))
    if answer is None or len(rally.shots) > 2:
        return answer
    return None if ended is None else replace(answer, chance=round(answer.chance * ended.chance, 3))


def _missed(rally: FollowedRally, ended: PathAnswer | None) -> PathAnswer | None:
    """Return that the return was missed, where nobody struck the serve or the return was down or out."""
    shots = len(rally.shots)
    if ended is None or shots > 2 or (shots == 1) != (ended.value == ENDINGS[ContactKind.SECOND_BOUNCE]):
        return None
    return PathAnswer(PathAnswerKind.HOW_TAKEN, ReturnKind.NOT_MADE.value, ended.chance)


def _of_return(rally: FollowedRally) -> list[PathAnswer | None]:
    if len(rally.shots) < 2 or rally.shots[1].best is None:
        return []
    returned = rally.shots[1]
    best, votes = rally.shots[1].best, _stroke_votes(returned)
    found = [_answer(PathAnswerKind.RETURN_STROKE, votes, best.chance)]
    bounce = _first(best, ContactKind.FLOOR)
    if bounce is not None:
        found.append(_answer(PathAnswerKind.RETURN_QUARTER, quarter_shares(bounce), best.chance))
    struck = rally.shots[2] if len(rally.shots) > 2 else None
    left = left_shares(votes, None if struck is None or struck.best is None else struck.best.contacts[0])
    found.append(_answer(PathAnswerKind.RETURN_LEFT, left, best.chance))
    return found


def _stroke_votes(shot: FollowedShot) -> dict[str, float]:
    votes: dict[str, float] = {}
    total = sum(path.chance for path in shot.paths) or 1.0
    for path in shot.paths:
        for word, share in _stroke_shares(path).items():
            votes[word] = votes.get(word, 0.0) + share * path.chance / total
    return votes


def _stroke_shares(path: ShotPath) -> dict[str, float]:
    """Return the word of a path; a drop and a kill share it by the speed, as observers differ there."""
    word = stroke_word(path)
    if word not in (ShotType.DROP, ShotType.KILL):
        return {word: 1.0} if word else {}
    hard = _below(math.log(max(path.speed_m_s, 1.0) / ASSUMED_KILL_M_S), ASSUMED_KILL_SPREAD)
    return {ShotType.KILL.value: hard, ShotType.DROP.value: 1.0 - hard}


def left_shares(strokes: Mapping[str, float], struck: PathContact | None) -> dict[str, float]:
    """Return the share of what a return left that its stroke and the place of the next strike speak for.

    A drop or a kill took the front: attacked. Else it was tight or loose by how far from the side walls the
    server struck it. Nothing is said of a boast, nor of what lies between.
    """
    short = sum(strokes.get(word.value, 0.0) for word in (ShotType.DROP, ShotType.KILL))
    shares = {Left.ATTACKED.value: short}
    if struck is not None:
        x = struck.place_m[0]
        gap, error = min(x, WIDTH_M - x), STRIKE_ERROR_M
        played = 1.0 - short - strokes.get(ShotType.BOAST.value, 0.0)
        shares[Left.TIGHT.value] = played * _below(ASSUMED_TIGHT_M - gap, error)
        shares[Left.LOOSE.value] = played * _below(gap - ASSUMED_LOOSE_M, error)
    return {word: share for word, share in shares.items() if share >= LEAST_LOGIT_SHARE}


def _of_end(rally: FollowedRally) -> PathAnswer | None:
    last: FollowedShot = rally.shots[-1]
    if last.best is None:
        return None
    votes: dict[str, float] = {}
    total = sum(path.chance for path in last.paths) or 1.0
    for path in last.paths:
        word = ENDINGS.get(path.contacts[-1].kind, "")
        if word:
            votes[word] = votes.get(word, 0.0) + path.chance / total
    if not votes:
        return None
    twice = max(votes, key=lambda word: votes[word]) == ENDINGS[ContactKind.SECOND_BOUNCE]
    more = -UNSEEN_END * unseen_end_s(last) - SECOND_BOUNCE_LESS * twice
    return _answer(PathAnswerKind.ENDED, votes, last.best.chance, more)


def unseen_end_s(shot: FollowedShot) -> float:
    """Return for how long before the last contact of a shot the ball was not seen, s, at most 1.

    An end that was not seen is where the ball would have gone: it may have been struck once more.
    """
    if shot.best is None:
        return 0.0
    end = shot.best.contacts[-1].time_us
    hidden = [begin for begin, until in shot.hidden_us if until >= end - UNSEEN_GAP_US]
    return min(1.0, max(0, end - min(hidden)) / 1e6) if hidden else 0.0


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


def _answer(
    what: PathAnswerKind, votes: Mapping[str, float], path_chance: float, more: float = 0.0
) -> PathAnswer | None:
    if not votes:
        return None
    value = max(votes, key=lambda word: votes[word])
    begin, by_votes, by_path = WEIGHTS[what]
    logit = begin + by_votes * log_odds(votes[value]) + by_path * log_odds(path_chance) + more
    return PathAnswer(what, value, round(1.0 / (1.0 + math.exp(-logit)), 3))


def log_odds(share: float) -> float:
    """Return the log odds of a share, kept within `LEAST_LOGIT_SHARE` of 0 and 1."""
    share = min(max(share, LEAST_LOGIT_SHARE), 1.0 - LEAST_LOGIT_SHARE)
    return math.log(share / (1.0 - share))
