"""A camera whose picture can be worked out with pencil and paper, by similar triangles.

It stands in the middle of the court's width, 4 m behind the back wall, 1 m high, level, looking straight at
the front wall; one metre at one metre's distance is 1000 px. So a point x m across, y m from the front
wall and z m high is seen at

    u = 960 + 1000 (x - 3.2) / (13.75 - y),    v = 540 + 1000 (1 - z) / (13.75 - y)

for the front wall: 13.75 m away, 1 m is 72.727 px; for the short line: 8.26 m away, 1 m is 121.065 px.
"""

from __future__ import annotations

import pytest

from goodlength.court import CourtSurface
from goodlength.footage.camera import Click, CourtPoint, ImagePoint, OutOfView, calibrate_camera

# Worked out by hand to a thousandth of a pixel.
HAND = {
    "front-left-floor": (727.273, 612.727),
    "front-right-floor": (1192.727, 612.727),
    "tin-left": (727.273, 577.818),
    "tin-right": (1192.727, 577.818),
    "service-left": (727.273, 483.273),
    "service-right": (1192.727, 483.273),
    "out-left": (727.273, 280.364),
    "out-right": (1192.727, 280.364),
    "short-left": (572.591, 661.065),
    "short-right": (1347.409, 661.065),
    "left-box-front": (766.295, 661.065),
    "right-box-front": (1153.705, 661.065),
    "left-box-corner": (719.760, 690.150),
    "right-box-corner": (1200.240, 690.150),
    "left-box-wall": (479.520, 690.150),
    "right-box-wall": (1440.480, 690.150),
}


@pytest.fixture(scope="module")
def camera():  # type: ignore[no-untyped-def]
    return calibrate_camera([Click(n, u, v) for n, (u, v) in HAND.items()], 1920, 1080)


def test_the_camera_is_where_it_was_put(camera) -> None:  # type: ignore[no-untyped-def]
    """Tolerance: clicks are rounded to 0.001 px; the weak expectation of k1 pulls by millimetres."""
    assert camera.rms_px < 0.1
    assert camera.lens.place_m == pytest.approx([3.2, 13.75, 1.0], abs=0.02)
    assert camera.lens.focal_px == pytest.approx(1000.0, rel=2e-3)
    assert camera.lens.k1 == pytest.approx(0.0, abs=5e-3)
    assert camera.lens.axes[2] == pytest.approx([0.0, -1.0, 0.0], abs=1e-3)


@pytest.mark.parametrize(
    ("uv", "surface", "place"),
    [
        # 960 - 1000 * 2 / 10 = 760; 540 + 1000 / 10 = 640: a point 3.75 m from the front wall, 2 m left
        ((760.0, 640.0), CourtSurface.FLOOR, (1.2, 3.75, 0.0)),
        # 960 + 1000 / 13.75; 540 - 2000 / 13.75: the front wall 3 m up, 1 m right of the middle
        ((1032.727, 394.545), CourtSurface.FRONT, (4.2, 0.0, 3.0)),
        # a side wall: 3.2 m across at 8 m away is 400 px; 1 m above the camera 125 px
        ((560.0, 415.0), CourtSurface.LEFT, (0.0, 5.75, 2.0)),
        ((1360.0, 415.0), CourtSurface.RIGHT, (6.4, 5.75, 2.0)),
    ],
)
def test_places_follow_from_similar_triangles(  # type: ignore[no-untyped-def]
    camera, uv: tuple[float, float], surface: CourtSurface, place: tuple[float, float, float]
) -> None:
    """Tolerance: 2 cm, the pull of the weak expectation of the lens on exact clicks."""
    found = camera.place(surface, *uv)
    assert isinstance(found, CourtPoint)
    assert (found.x_m, found.y_m, found.z_m) == pytest.approx(place, abs=0.02)


def test_the_way_back_gives_the_same_pixels(camera) -> None:  # type: ignore[no-untyped-def]
    spot = camera.spot(4.2, 0.0, 3.0)
    assert isinstance(spot, ImagePoint)
    assert (spot.u, spot.v) == pytest.approx((1032.727, 394.545), abs=0.3)


def test_level_with_the_lens_no_floor_is_seen(camera) -> None:  # type: ignore[no-untyped-def]
    """At v = 540 the ray is level: it meets the floor nowhere; at 545 it would 186 m beyond the wall."""
    for v in (539.0, 545.0):
        assert isinstance(camera.place(CourtSurface.FLOOR, 960.0, v), OutOfView)


def test_one_pixel_of_depth_is_what_the_triangle_says(camera) -> None:  # type: ignore[no-untyped-def]
    """Along the court one pixel is d² / (f h): 10² / 1000 = 10 cm at 10 m; across it is d / f = 1 cm."""
    item = camera.place(CourtSurface.FLOOR, 960.0, 640.0, click_px=1.0)
    assert isinstance(item, CourtPoint)
    (across, _), (_, along) = item.covariance_m2
    exact = camera.place(CourtSurface.FLOOR, 960.0, 640.0)
    assert isinstance(exact, CourtPoint)
    assert (along - exact.covariance_m2[1][1]) ** 0.5 == pytest.approx(0.10, rel=0.02)
    assert (across - exact.covariance_m2[0][0]) ** 0.5 == pytest.approx(0.01, rel=0.02)
