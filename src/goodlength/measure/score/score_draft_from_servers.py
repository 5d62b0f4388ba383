"""Draft the score from who serves: in rally scoring the next server has won the rally.

What is seen at each strike is doubtful; the rules are not. So the draft is the legal way through the
whole match that gets most rallies right, given every sighting and whatever scores the coach knows, and
each rally carries the chance that it is right. Everything is a proposal: nothing is recorded here.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from goodlength.errors import InputError, OutOfRange
from goodlength.measure.score.score_lattice import Floats, Lattice, Scores, lattice
from goodlength.measure.score.score_state_decoding import (
    DecodedPath,
    NoLegalPath,
    Posterior,
    PriorRates,
    Trellis,
)
from goodlength.measure.score.server_and_box_likelihoods import TRUTHS, Observation
from goodlength.scoring import Box, Format, Outcome, Points, Side, Start

OFFERED_RIGHT = 0.991  # rallies are offered without doubt as long as this share of them is expected right
LEAST_OFFERED = 0.97  # ... and none with a smaller chance of its own; measured in bench: 99 in 100 hold
LET_SHARE = 0.05  # ASSUMED: serves that end without a point
NO_RALLY_SHARE = 0.01  # ASSUMED: sounds taken for a rally that were none
NOTHING_SEEN = ((0.5, 0.5, 0.5), (0.5, 0.5, 0.5))  # of a rally's end: it fits everything alike
PASSES = 3  # how often the shares of lets and lost rallies are worked out anew from the match itself
SIDES, BOXES = (Side.A, Side.B), (Box.RIGHT, Box.LEFT)


@dataclass(frozen=True)
class CoachAnswer:
    """What the coach has said of one rally; None is not said. It stands, and the draft fits round it.

    `no_point` is a let, or a sound that was no rally. `before` is the score called before the serve, A's
    points first, and `game` the number of the game in the match.
    """

    key: str
    winner: Side | None = None
    no_point: bool = False
    server: Side | None = None
    box: Box | None = None
    before: Points | None = None
    game: int | None = None


@dataclass(frozen=True)
class Proposal:
    """One rally as the draft has it, with the chance that each part is right.

    `winner` None means that no point was played: a let, or no rally at all. `offered` is true where the
    coach need not look first: the chance is above `OFFERED_WITHOUT_DOUBT`, or the coach said it.
    """

    key: str
    winner: Side | None
    chance: float
    server: Side
    server_chance: float
    box: Box
    box_chance: float
    game: int
    before: Points
    before_chance: float
    offered: bool
    answered: bool = False


@dataclass(frozen=True)
class UnplacedRally:
    """A rally the score needs though nobody heard it: who won it, and after which rally it was."""

    after: str | None
    winner: Side
    game: int
    before: Points
    chance: float


@dataclass(frozen=True)
class ScoreDraft:
    """A whole match proposed: a legal score path with the doubt of every rally.

    `first` names the doubtful rallies, the most doubtful first. `lost` are rallies the score asks for
    that are not among those heard; `expected_right` is the share of rallies the draft expects to have
    right. `missed` is the chance that at least one rally was lost before each, and after the last.
    """

    proposals: tuple[Proposal, ...]
    lost: tuple[UnplacedRally, ...]
    first: tuple[str, ...]
    expected_right: float
    over: bool
    missed: tuple[float, ...] = ()

    @property
    def words(self) -> str:
        """What the draft is, in one line."""
        n, doubtful = len(self.proposals), len(self.first)
        words = f"{n} rallies drafted: {n - doubtful} suggested, {doubtful} to check first"
        if self.lost:
            words += f"; the score needs {len(self.lost)} more that were not detected"
        return words + ". Nothing counts until you add it to the sheet."

    def outcomes(self) -> tuple[Outcome, ...]:
        """Return the path as outcomes for `scoring.replay`, lost rallies among them (keys `lost-1`, ...)."""
        after: dict[str | None, list[Outcome]] = {}
        for n, lost in enumerate(self.lost, 1):
            after.setdefault(lost.after, []).append(Outcome(f"lost-{n}", lost.winner))
        made = list(after.get(None, ()))
        for proposal in self.proposals:
            no_point = proposal.winner is None
            made.append(
                Outcome(proposal.key, proposal.winner, let=no_point, server=proposal.server, box=proposal.box)
            )
            made += after.get(proposal.key, ())
        return tuple(made)


@dataclass(frozen=True)
class DraftRefused:
    """No draft could be made; `why` says so to the coach, `at` names the rally where it broke down."""

    why: str
    at: str | None = None


def draft_scores(
    fmt: Format,
    start: Start,
    sightings: Sequence[Observation],
    scores: Scores | None = None,
    answers: Sequence[CoachAnswer] = (),
    *,
    let_share: float = LET_SHARE,
    no_rally_share: float = NO_RALLY_SHARE,
    missed_after: float = 0.01,
    right_at_choice: tuple[float, float] = (0.5, 0.5),
) -> ScoreDraft | DraftRefused:
    """Return the legal score path that gets most rallies right, given who was seen serving from where.

    Call it again with what the coach has told since: each answer settles its neighbours too.

    Parameters
    ----------
    fmt, start : Format, Start
        Rally scoring without setting; where the recording begins.
    sightings : sequence of Sighting
        One for each rally heard, in order.
    scores : Scores, optional
        Game scores and the end, as far as known.
    answers : sequence of Told
        What the coach has said of single rallies.
    let_share, no_rally_share : float
        Shares expected of serves without a point and of sounds that were no rally; assumed values.
    missed_after : float
        Decided rallies expected to be lost after the last one heard.
    right_at_choice : (float, float)
        How often A and B choose the right box at hand-out.

    Returns
    -------
    Draft or NoDraft
        `DraftRefused` when nothing was seen, or nothing legal fits what was said.

    Raises
    ------
    RulesError
        For hand-out scoring, a setting, or scores no such game can have.
    InputError
        For two sightings of one key, or something told of a rally that is not there.

    Limits
    ------
    Conduct strokes and rallies served by the wrong player are not proposed; the path goes round them.
    Measured on simulated matches only, with the doubts that were put in; see docs/reasons/draft-sheet.md.

    Examples
    --------
    >>> from goodlength.measure.score.server_and_box_likelihoods import observe
    >>> seen = [observe("r1", Side.A), observe("r2", Side.B), observe("r3", Side.B)]
    >>> sheet = draft_scores(Format(), Start(), seen)
    >>> [one.winner.value for one in sheet.proposals[:2]], sheet.proposals[0].chance > 0.9
    (['b', 'b'], True)
    """
    _check_shares(let_share, no_rally_share, right_at_choice)
    by_key = _answers_by_key(sightings, answers)
    if not sightings or (not answers and all(sighting.blank for sighting in sightings)):
        return DraftRefused(
            "There is nothing to draft from yet: no server is known. "
            "Name the server in a few rallies, or log the match yourself."
        )
    states = lattice(fmt, start, scores or Scores(), right_at_choice=right_at_choice)
    trellis = _trellis(states, sightings, by_key, PriorRates(let_share, no_rally_share), missed_after)
    chances = trellis.chances()
    for _ in range(PASSES):
        if isinstance(chances, NoLegalPath):
            return _stuck(chances, sightings)
        trellis.settle(chances)
        chances = trellis.chances()
    if isinstance(chances, NoLegalPath):
        return _stuck(chances, sightings)
    return _drafted(states, sightings, by_key, chances, trellis.best(chances))


def _check_shares(let_share: float, no_rally_share: float, right: tuple[float, float]) -> None:
    """Raise OutOfRange for shares that are none."""
    for name, share in (("let_share", let_share), ("no_rally_share", no_rally_share)):
        if not 0.0 <= share < 0.5:
            raise OutOfRange(f"{name} is a share of rallies, from 0 to below 0.5; got {share:g}.")
    for share in right:
        if not 0.0 <= share <= 1.0:
            raise OutOfRange(f"The value right_at_choice holds two shares from 0 to 1; got {share:g}.")


def _answers_by_key(
    sightings: Sequence[Observation], answers: Sequence[CoachAnswer]
) -> dict[str, CoachAnswer]:
    """Return what was told, by key; raises for keys that are twice there or not at all."""
    keys = [sighting.key for sighting in sightings]
    if len(set(keys)) < len(keys):
        twice = next(key for key in keys if keys.count(key) > 1)
        raise InputError(f"Rally {twice!r} is there twice; each rally has one sighting. Leave one out.")
    for answer in answers:
        if answer.key not in set(keys):
            raise InputError(
                f"There is an entry for rally {answer.key!r}, which is not among the sightings.",
                page="One of the answers belongs to a rally that is no longer in the list. Reload the page.",
            )
        if answer.no_point and answer.winner is not None:
            raise InputError(
                f"Rally {answer.key!r} is entered as won and as without a point. Choose one of the two.",
                page="One rally is entered as won and as without a point. Choose one of the two.",
            )
    return {coach_answer.key: coach_answer for coach_answer in answers}


def _trellis(
    states: Lattice,
    sightings: Sequence[Observation],
    answers: dict[str, CoachAnswer],
    odds: PriorRates,
    missed_after: float,
) -> Trellis:
    """Return the trellis with what was seen and told laid along it."""
    likely = np.array([sighting.likely for sighting in sightings], dtype=float)
    likely /= likely.max(axis=1, keepdims=True)
    allowed = np.ones((len(sightings), 3))
    masks: dict[int, Floats] = {}
    for k, observation in enumerate(sightings):
        answer = answers.get(observation.key)
        if answer is None:
            continue
        if answer.winner is not None:
            allowed[k] = [answer.winner is Side.A, answer.winner is Side.B, 0.0]
        elif answer.no_point:
            allowed[k] = [0.0, 0.0, 1.0]
        mask = _mask(states, answer)
        if mask is not None:
            masks[k] = mask
    missed = np.array([*(sighting.missed_before for sighting in sightings), missed_after])
    none = np.array([math.nan if sighting.no_rally is None else sighting.no_rally for sighting in sightings])
    endings = np.array([sighting.ending or NOTHING_SEEN for sighting in sightings], dtype=float)
    return Trellis(states, likely, missed, odds, allowed, masks, none, endings)


def _mask(states: Lattice, answer: CoachAnswer) -> Floats | None:
    """Return the states that agree with what was told of a rally; None if it says nothing of them."""
    at, fits = states.at, np.ones(len(states.at), dtype=bool)
    if answer.server is not None:
        fits &= at[:, 4] == answer.server.place
    if answer.box is not None:
        fits &= at[:, 5] == BOXES.index(answer.box)
    if answer.before is not None:
        fits &= (at[:, 2] == answer.before[0]) & (at[:, 3] == answer.before[1])
    if answer.game is not None:
        fits &= at[:, 0] + at[:, 1] + 1 == answer.game
    return None if bool(fits.all()) else fits.astype(float)


def _stuck(stuck: NoLegalPath, sightings: Sequence[Observation]) -> DraftRefused:
    """Return words for a match that nothing legal fits."""
    advice = (
        "Check the game scores and the answers for single rallies, or leave the scores out and try again."
    )
    if stuck.at >= len(sightings):
        return DraftRefused(
            f"No possible run of {len(sightings)} rallies gives these scores, even if some were "
            f"missed. {advice}"
        )
    key = sightings[stuck.at].key
    return DraftRefused(f"Nothing possible fits from rally {stuck.at + 1} ({key}) on. {advice}", key)


def _drafted(
    states: Lattice,
    sightings: Sequence[Observation],
    answers: dict[str, CoachAnswer],
    chances: Posterior,
    path: DecodedPath,
) -> ScoreDraft:
    """Return the path in words a sheet can show."""
    made = [
        _proposal(states, observation.key, answers.get(observation.key), chances, path, k)
        for k, observation in enumerate(sightings)
    ]
    limit = _limit([proposal.chance for proposal in made if not proposal.answered])
    proposals = tuple(
        replace(proposal, offered=proposal.answered or proposal.chance >= limit) for proposal in made
    )
    doubtful = sorted(
        (proposal for proposal in proposals if not proposal.offered), key=lambda proposal: proposal.chance
    )
    keys: list[str | None] = [None, *(sighting.key for sighting in sightings)]
    lost = tuple(
        _lost(states, keys[gap], state, who, float(chances.missed[gap][1:].sum()))
        for gap, run in enumerate(path.lost)
        for state, who in run
    )
    return ScoreDraft(
        proposals=proposals,
        lost=lost,
        first=tuple(proposal.key for proposal in doubtful),
        expected_right=float(np.mean([proposal.chance for proposal in proposals])),
        over=path.end == states.over,
        missed=tuple(float(run[1:].sum()) for run in chances.missed),
    )


def _limit(chances: list[float]) -> float:
    """Return the least chance at which a rally of this match is offered without doubt."""
    limit, total = 2.0, 0.0
    for n, chance in enumerate(sorted(chances, reverse=True), 1):
        total += chance
        if chance < LEAST_OFFERED or total < OFFERED_RIGHT * n:
            break
        limit = chance
    return limit


def _lost(states: Lattice, after: str | None, state: int, who: int, chance: float) -> UnplacedRally:
    """Return a rally that nobody heard."""
    won_a, won_b, a, b, _, _ = (int(x) for x in states.at[state])
    return UnplacedRally(after, SIDES[who], won_a + won_b + 1, (a, b), chance)


def _proposal(
    states: Lattice, key: str, answer: CoachAnswer | None, chances: Posterior, path: DecodedPath, k: int
) -> Proposal:
    """Return one rally of the path."""
    state, outcome, before = path.states[k], path.outcomes[k], chances.before[k]
    at = states.at
    won_a, won_b, a, b, server, box = (int(x) for x in at[state])
    chance = float(chances.outcome[k][outcome])
    answered = answer is not None and (answer.winner is not None or answer.no_point)
    same_score = (at[:, :4] == at[state, :4]).all(axis=1)
    return Proposal(
        key=key,
        winner=SIDES[outcome] if outcome < 2 else None,
        chance=chance,
        server=SIDES[server],
        server_chance=float(before[at[:, 4] == server].sum()),
        box=BOXES[box],
        box_chance=float(before[at[:, 5] == box].sum()),
        game=won_a + won_b + 1,
        before=(a, b),
        before_chance=float(before[same_score].sum()),
        offered=answered,
        answered=answered,
    )


assert tuple((side, box) for side in SIDES for box in BOXES) == TRUTHS  # the order the lattice counts in
