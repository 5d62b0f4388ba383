"""What was seen, as likelihoods."""

from __future__ import annotations

import pytest

from goodlength.errors import OutOfRange
from goodlength.measure import FeetObservation, Observation, no_rally_given_feet, observe, observe_from_feet
from goodlength.measure.score.server_and_box_likelihoods import ASSUMED_REACH_M, ASSUMED_STANDING_SO, TRUTHS
from goodlength.scoring import Box, Side


def best(sighting: Observation) -> tuple[Side, Box]:
    return TRUTHS[max(range(4), key=sighting.likely.__getitem__)]


def share(sighting: Observation, side: Side) -> float:
    """Weight of one server among the four."""
    mine = sum(x for x, truth in zip(sighting.likely, TRUTHS, strict=True) if truth[0] is side)
    return mine / sum(sighting.likely)


def test_nothing_seen_says_nothing() -> None:
    assert observe("r").blank
    assert observe_from_feet("r", None, None).likely[0] == pytest.approx(1.0)
    assert not observe("r", Side.A).blank


@pytest.mark.parametrize(("server", "box"), TRUTHS)
def test_what_was_seen_is_the_likeliest_and_doubts_multiply(server: Side, box: Box) -> None:
    sighting = observe("r", server, box, server_error_rate=0.1, box_error_rate=0.2)
    assert best(sighting) == (server, box)
    assert max(sighting.likely) == pytest.approx(0.9 * 0.8)
    assert min(sighting.likely) == pytest.approx(0.1 * 0.2)


def test_a_doubt_of_zero_still_lets_a_slip_through() -> None:
    assert min(observe("r", Side.A, server_error_rate=0.0).likely) == pytest.approx(0.001)


@pytest.mark.parametrize("doubt", [-0.01, 0.6, float("nan")])
def test_a_doubt_that_is_none_is_refused_in_words(doubt: float) -> None:
    with pytest.raises(OutOfRange, match=r"from 0 to 0\.5"):
        observe("r", Side.A, server_error_rate=doubt)


def test_lost_rallies_cannot_be_negative() -> None:
    with pytest.raises(OutOfRange, match="0 or more"):
        observe("r", missed_before=-1.0)
    with pytest.raises(OutOfRange, match="no_rally is a chance"):
        observe("r", no_rally=1.5)


@pytest.mark.parametrize("server", list(Side))
@pytest.mark.parametrize("box", list(Box))
def test_feet_in_a_box_name_server_and_box(server: Side, box: Box) -> None:
    x = 0.8 if box is Box.LEFT else 5.6
    serving, receiving = FeetObservation(x, 6.3), FeetObservation(6.4 - x + (0.4 if x > 3 else -0.4), 7.8)
    a, b = (serving, receiving) if server is Side.A else (receiving, serving)
    sighting = observe_from_feet("r", a, b)
    assert best(sighting) == (server, box)
    assert share(sighting, server) > 0.9


def test_mirroring_the_court_mirrors_the_box_and_naming_the_other_way_round_the_server() -> None:
    straight = observe_from_feet("r", FeetObservation(1.1, 6.0), FeetObservation(4.9, 7.4)).likely
    mirrored = observe_from_feet("r", FeetObservation(5.3, 6.0), FeetObservation(1.5, 7.4)).likely
    renamed = observe_from_feet("r", FeetObservation(4.9, 7.4), FeetObservation(1.1, 6.0)).likely
    assert mirrored == pytest.approx((straight[1], straight[0], straight[3], straight[2]))
    assert renamed == pytest.approx((*straight[2:], *straight[:2]))


def test_a_player_near_the_line_gives_a_weaker_sighting_than_one_in_the_middle() -> None:
    middle = observe_from_feet("r", FeetObservation(0.8, 6.3), None)
    on_line = observe_from_feet("r", FeetObservation(1.6 + ASSUMED_REACH_M, 6.3, 0.3), None)
    assert share(middle, Side.A) > share(on_line, Side.A) > 0.5


def test_two_players_alike_and_in_one_box_leave_the_server_open() -> None:
    both = observe_from_feet("r", FeetObservation(5.6, 6.3), FeetObservation(5.6, 6.3))
    assert share(both, Side.A) == pytest.approx(0.5)


def test_feet_that_are_no_place_are_refused() -> None:
    with pytest.raises(OutOfRange, match="two numbers in metres"):
        observe_from_feet("r", FeetObservation(float("nan"), 6.0), None)
    with pytest.raises(OutOfRange, match="error above zero"):
        observe_from_feet("r", FeetObservation(1.0, 6.0, 0.0), None)
    with pytest.raises(OutOfRange, match="swap_rate"):
        observe_from_feet("r", FeetObservation(1.0, 6.0), None, swap_rate=0.7)


def test_players_who_stand_as_at_a_serve_speak_for_a_rally_and_no_place_speaks_against_one() -> None:
    serving = FeetObservation(5.35, 6.2, 0.08), FeetObservation(1.75, 7.7, 0.07)
    for before in (0.02, 0.5):
        for feet in (serving, serving[::-1]):
            odds = no_rally_given_feet(before, *feet) / (1 - no_rally_given_feet(before, *feet))
            # at most 1 / ASSUMED_STANDING_SO times less likely: the assumption bounds what feet can say
            assert ASSUMED_STANDING_SO < odds * (1 - before) / before < 1.2 * ASSUMED_STANDING_SO
        assert no_rally_given_feet(before, FeetObservation(3.2, 5.0), FeetObservation(3.0, 2.0)) == before
        assert no_rally_given_feet(before, serving[0], None) == before
