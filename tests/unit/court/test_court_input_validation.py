"""Bad input."""

from __future__ import annotations

import math

import pytest

from goodlength.court import (
    BallContact,
    CourtSurface,
    Delivery,
    Result,
    return_verdict,
    serve_verdict,
    side_wall_line_m,
)
from goodlength.errors import InputError, OutOfRange

HIGH = BallContact(CourtSurface.FRONT, 3.1, 0.0, 3.0)


@pytest.mark.parametrize("y", [-0.1, 9.76, math.nan])
def test_no_side_wall_there(y):
    with pytest.raises(OutOfRange, match=r"side wall runs from 0 to 9\.75 m"):
        side_wall_line_m(y)


def test_a_serve_comes_from_a_box():
    with pytest.raises(InputError, match="'right' or the 'left' box"):
        serve_verdict("centre", [HIGH])


def test_what_was_not_seen_is_unclear():
    assert serve_verdict("right", []).result is Result.UNCLEAR
    assert serve_verdict("right", [HIGH]).why == "the first bounce was not seen"
    assert return_verdict([]).result is Result.UNCLEAR
    lost = BallContact(CourtSurface.FLOOR, math.nan, math.nan, 0.0)
    assert serve_verdict("right", [HIGH, lost]).result is Result.UNCLEAR
    assert (
        serve_verdict("right", [BallContact(CourtSurface.FRONT, 3.1, 0.0, math.nan), lost]).result
        is Result.UNCLEAR
    )
    assert (
        serve_verdict(
            "right",
            [
                HIGH,
                BallContact(CourtSurface.LEFT, 0.0, math.nan, 2.0),
                BallContact(CourtSurface.FLOOR, 1.0, 8.0, 0.0),
            ],
        ).result
        is Result.UNCLEAR
    )


def test_a_sure_fault_outweighs_what_is_too_close():
    near = BallContact(CourtSurface.FRONT, 3.1, 0.0, 1.84)
    wide = BallContact(CourtSurface.FLOOR, 5.0, 8.0, 0.0)
    assert serve_verdict("right", [near, wide], margin_m=0.025).result is Result.FAULT


def test_touches_after_the_second_bounce_do_not_matter():
    bounce, again = (
        BallContact(CourtSurface.FLOOR, 1.5, 7.0, 0.0),
        BallContact(CourtSurface.FLOOR, 1.2, 9.0, 0.0),
    )
    over = BallContact(CourtSurface.BACK, 1.0, 9.75, 3.0)
    assert serve_verdict("right", [HIGH, bounce, again, over]).good
    assert serve_verdict("right", [HIGH, bounce, over]).result is Result.OUT


def test_off_the_front_wall_onto_the_tin_or_a_lamp():
    bounce = BallContact(CourtSurface.FLOOR, 1.5, 7.0, 0.0)
    assert (
        serve_verdict("right", [HIGH, BallContact(CourtSurface.TIN, 3.0, 0.0, 0.2), bounce]).result
        is Result.FAULT
    )
    assert (
        serve_verdict("right", [HIGH, BallContact(CourtSurface.ABOVE, 3.0, 5.0, 5.7), bounce]).result
        is Result.OUT
    )
    assert serve_verdict("right", [BallContact(CourtSurface.ABOVE, 3.0, 5.0, 5.7)]).result is Result.OUT


def test_the_nearest_deciding_edge_is_told():
    verdict = serve_verdict("right", [HIGH, BallContact(CourtSurface.FLOOR, 3.0, 7.0, 0.0)])
    assert verdict.clearance_m == pytest.approx(0.175)


def test_a_foot_touching_the_side_wall_touches_the_box():
    feet = (((6.4, 6.0), (6.3, 6.0)),)
    verdict = serve_verdict("right", [HIGH], delivery=Delivery(feet))
    assert verdict.result is Result.FAULT
    assert verdict.why.startswith("no foot was on the floor inside the box")
