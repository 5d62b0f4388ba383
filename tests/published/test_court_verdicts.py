"""Serves and returns at the edges (sources: RULES-2014 rules 5.7 to 5.9 and 6.2; edges COURT-2014)."""

from __future__ import annotations

import pytest

from goodlength.court import (
    VIDEO_MARGIN_M,
    BallContact,
    CourtSurface,
    Delivery,
    return_verdict,
    serve_verdict,
)

FRONT, TIN, BACK, FLOOR = CourtSurface.FRONT, CourtSurface.TIN, CourtSurface.BACK, CourtSurface.FLOOR
NEAR, FAR = CourtSurface.RIGHT, CourtSurface.LEFT  # for a serve from the right box
HIGH = (FRONT, 3100, 0, 3000)
BOUNCE = (FLOOR, 1500, 7000, 0)

# Served from the right box, in mm; the bounce must be in the left quarter.
SERVES = [
    ("clears the service line by 1 mm", [(FRONT, 3100, 0, 1831), BOUNCE], "good"),
    ("touches the upper edge of the service line", [(FRONT, 3100, 0, 1830), BOUNCE], "fault"),
    ("touches the lower edge of the service line", [(FRONT, 3100, 0, 1780), BOUNCE], "fault"),
    ("below the service line", [(FRONT, 3100, 0, 1779), BOUNCE], "fault"),
    ("1 mm under the out line", [(FRONT, 3100, 0, 4569), BOUNCE], "good"),
    ("touches the out line", [(FRONT, 3100, 0, 4570), BOUNCE], "out"),
    ("bounce 1 mm from the half-court line", [HIGH, (FLOOR, 3174, 8000, 0)], "good"),
    ("bounce on the half-court line", [HIGH, (FLOOR, 3175, 8000, 0)], "fault"),
    ("bounce 1 mm behind the short line", [HIGH, (FLOOR, 1000, 5491, 0)], "good"),
    ("bounce on the short line", [HIGH, (FLOOR, 1000, 5490, 0)], "fault"),
    ("bounce in the wrong quarter", [HIGH, (FLOOR, 4000, 8000, 0)], "fault"),
    ("side wall 1 mm under its line", [HIGH, (FAR, 0, 8000, 2567), BOUNCE], "good"),
    ("side wall on its line", [HIGH, (FAR, 0, 8000, 2568), BOUNCE], "out"),
    ("back wall full, under its line", [HIGH, (BACK, 1500, 9750, 2129), BOUNCE], "good"),
    ("back wall on its line", [HIGH, (BACK, 1500, 9750, 2130), BOUNCE], "out"),
    ("front and side wall at once", [(FRONT, 0, 0, 3000, FAR), BOUNCE], "fault"),
    ("tin first", [(TIN, 3100, 0, 300), BOUNCE], "fault"),
    ("floor first", [(FLOOR, 3100, 100, 0), HIGH, BOUNCE], "fault"),
    ("floor at the same moment as the front wall", [(FRONT, 3100, 0, 0, FLOOR), BOUNCE], "fault"),
    ("side wall before the front wall", [(NEAR, 6400, 3000, 2000), HIGH, BOUNCE], "fault"),
]


def contact(mm, mirror=False):
    surface, x, y, z = mm[:4]
    also = mm[4] if len(mm) > 4 else None
    if mirror:
        turned = {CourtSurface.LEFT: CourtSurface.RIGHT, CourtSurface.RIGHT: CourtSurface.LEFT}
        surface, x, also = turned.get(surface, surface), 6400 - x, turned.get(also, also)
    return BallContact(surface, x / 1000, y / 1000, z / 1000, also)


@pytest.mark.parametrize("box", ["right", "left"])
@pytest.mark.parametrize(("what", "touches", "result"), SERVES, ids=[row[0] for row in SERVES])
def test_serve(what, touches, result, box):
    """The left box by mirror."""
    verdict = serve_verdict(box, [contact(mm, mirror=box == "left") for mm in touches])
    assert verdict.result == result
    assert verdict.why


@pytest.mark.parametrize(
    ("z_mm", "why", "clearance_mm"),
    [
        (1829, "the ball touched the service line", -1),
        (1780, "the ball touched the service line", -50),
        (1779, "the ball hit below the service line", -51),
        (481, "the ball hit below the service line", -1349),
        (480, "the ball touched the tin", None),
    ],
)
def test_a_low_serve_is_told_for_what_it_touched(z_mm, why, clearance_mm):
    verdict = serve_verdict("right", [contact((FRONT, 3100, 0, z_mm)), contact(BOUNCE)])
    assert (verdict.result, verdict.why, verdict.contact) == ("fault", why, 0)
    found = None if verdict.clearance_m is None else round(verdict.clearance_m * 1000, 6)
    assert found == clearance_mm


def test_the_wrong_quarter_does_not_matter_when_the_receiver_volleys():
    """Rule 5.7.4: unless volleyed."""
    touches = [contact(HIGH), contact((FLOOR, 4000, 8000, 0))]
    assert serve_verdict("right", touches, volleyed=True).good
    assert serve_verdict("right", touches[:1], volleyed=True).good


CLEAR_FOOT = ((4.95, 5.95), (5.05, 6.05))
ON_THE_LINE = ((4.80, 6.00), (4.95, 6.00))
OUTSIDE = ((4.40, 6.00), (4.50, 6.10))


@pytest.mark.parametrize(
    ("what", "delivery", "result"),
    [
        ("one foot clear of the lines, the other outside", Delivery((CLEAR_FOOT, OUTSIDE)), "good"),
        ("that foot touches the box line", Delivery((ON_THE_LINE, OUTSIDE)), "fault"),
        ("one foot on the line, the other clear", Delivery((ON_THE_LINE, CLEAR_FOOT)), "good"),
        ("both feet off the floor", Delivery(()), "fault"),
        ("dropped, no swing", Delivery(swings=0, struck=False), "no-serve"),
        ("missed, then struck before it touched anything", Delivery(swings=2), "good"),
        ("missed, and fell to the floor", Delivery(swings=1, struck=False), "fault"),
        ("struck after it touched the floor", Delivery(swings=2, touched=True), "fault"),
    ],
)
def test_delivery(what, delivery, result):
    """Rules 5.7.1, 5.7.2, 5.9; a foot lifted after the strike is never asked about."""
    touches = [contact(HIGH), contact(BOUNCE)]
    assert serve_verdict("right", touches, delivery=delivery).result == result


# Every line case of the table within a ball's width of its edge; the margin is ours (25 mm).
@pytest.mark.parametrize(
    ("touches", "result"),
    [
        ([(FRONT, 3100, 0, 1831), BOUNCE], "unclear"),
        ([(FRONT, 3100, 0, 1800), BOUNCE], "fault"),
        ([(FRONT, 3100, 0, 1856), BOUNCE], "good"),
        ([(FRONT, 3100, 0, 4570), BOUNCE], "unclear"),
        ([(FRONT, 3100, 0, 4596), BOUNCE], "out"),
        ([HIGH, (FLOOR, 3174, 8000, 0)], "unclear"),
        ([HIGH, (FLOOR, 3149, 8000, 0)], "good"),
        ([HIGH, (FLOOR, 3201, 8000, 0)], "fault"),
        ([(FRONT, 3100, 0, 1831), (FLOOR, 4000, 8000, 0)], "fault"),
    ],
)
def test_measured_serves_near_a_line_are_too_close_to_call(touches, result):
    verdict = serve_verdict("right", [contact(mm) for mm in touches], margin_m=VIDEO_MARGIN_M)
    assert verdict.result == result


def test_too_close_says_by_how_much():
    verdict = serve_verdict(
        "right", [contact(HIGH), contact((FLOOR, 3160, 8000, 0))], margin_m=VIDEO_MARGIN_M
    )
    assert verdict.why.startswith("too close to call, 15 mm from the edge")
    assert (verdict.contact, round(verdict.clearance_m, 4)) == (1, 0.015)


@pytest.mark.parametrize(
    ("touches", "tin_mm", "result"),
    [
        ([(FRONT, 1000, 0, 481)], 480, "good"),
        ([(FRONT, 1000, 0, 480)], 480, "down"),
        ([(FRONT, 1000, 0, 430)], 480, "down"),
        ([(FRONT, 1000, 0, 431)], 430, "good"),
        ([(FRONT, 1000, 0, 430)], 430, "down"),
        ([(TIN, 1000, 0, 200)], 480, "down"),
        ([(BACK, 1000, 9750, 1000), (FRONT, 1000, 0, 1000)], 480, "good"),
        ([(FLOOR, 1000, 3000, 0), (FRONT, 1000, 0, 1000)], 480, "down"),
        ([(FAR, 0, 0, 4570), (FRONT, 1000, 0, 1000)], 480, "out"),
        ([(FAR, 0, 9750, 2130), (FRONT, 1000, 0, 1000)], 480, "out"),
        ([(NEAR, 6400, 9750, 2129), (FRONT, 1000, 0, 1000)], 480, "good"),
        ([(FRONT, 1000, 0, 4570)], 480, "out"),
        ([(FRONT, 1000, 0, 2000), (BACK, 1000, 9750, 2130)], 480, "out"),
        ([(FRONT, 1000, 0, 2000), (CourtSurface.ABOVE, 1000, 5000, 5640)], 480, "out"),
        ([(FRONT, 1000, 0, 2000), (FLOOR, 1000, 5000, 0)], 480, "good"),
    ],
)
def test_return(touches, tin_mm, result):
    """Rule 6.2, and the definitions of down and out."""
    verdict = return_verdict([contact(mm) for mm in touches], tin_m=tin_mm / 1000)
    assert verdict.result == result


@pytest.mark.parametrize(
    ("how", "result"),
    [
        ({"bounces_before": 2}, "not-up"),
        ({"bounces_before": 1}, "good"),
        ({"bounces_before": 0}, "good"),
        ({"struck_correctly": False}, "not-up"),
    ],
)
def test_struck_after_two_bounces_twice_or_carried_is_not_up(how, result):
    """Rule 6.2 and the definitions of correctly and not up."""
    assert return_verdict([contact((FRONT, 1000, 0, 1000))], **how).result == result
