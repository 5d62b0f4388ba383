"""The judging family's films: geometry, mirrors, exposure, truth against pixels, determinism, codec."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import av
import cv2
import numpy as np
import pytest

from goodlength.court import dimensions as dim
from goodlength.errors import OutOfRange
from goodlength.synthetic.recordings.test_family_films import (
    KINDS,
    ODD,
    choices,
    draw_scene,
    frames_of,
    render_film,
)
from goodlength.synthetic.recordings.test_family_films.bodies.implicit_surface_body_mesh import (
    BodyShape,
    build_body,
)
from goodlength.synthetic.recordings.test_family_films.bodies.mesh_rasterising import moment_vertices
from goodlength.synthetic.recordings.test_family_films.bodies.person_motion_synthesis import (
    RATE_HZ,
    plan_steps,
)
from goodlength.synthetic.recordings.test_family_films.court_picture.camera_pose_and_lens_projection import (
    FilmCamera,
    focal_for,
    pixel_ray,
)
from goodlength.synthetic.recordings.test_family_films.court_picture.empty_court_rendering import render_plate
from goodlength.synthetic.recordings.test_family_films.frame_by_frame_rendering import FilmRenderer
from goodlength.synthetic.recordings.test_family_films.frame_ground_truth import court_marks, scaled_truth
from goodlength.synthetic.recordings.test_family_films.random_court_and_camera import draw_court
from goodlength.synthetic.recordings.test_family_films.random_filming_conditions import draw_conditions
from goodlength.synthetic.recordings.test_family_films.scene_description import Timing

PLAIN = {
    "wall": "plaster",
    "back": "glass",
    "place": "behind, high",
    "lens": "72 to 90 degrees",
    "shape": "landscape",
    "lights": "steady",
    "spectators": "none",
    "crossing": "none",
    "nudge": "none",
    "adverts": "none",
    "size": "640x360",
    "ball": "black",
    "rate": "30",
}
SECONDS = 6.0


@cache
def plain_film(seed=3, floor="pale matt", **chosen):
    return draw_scene(seed, seconds=SECONDS, **{**PLAIN, "floor": floor, **chosen})


def without_people(film):
    """Return the film of an empty court, no joint of the back glass before it."""
    court = replace(film.scene.court, painted=())
    return replace(film, scene=replace(film.scene, court=court, people=[], knocks=[]))


def opencv_pixels(camera, points):
    """Return pixels by OpenCV; the court's frame is left-handed, so y is turned round for it."""
    flip = np.array([1.0, -1.0, 1.0])
    turn = camera.axes * flip
    shift = -turn @ (np.array(camera.place_m) * flip)
    k = np.array(
        [
            [camera.focal_px, 0, (camera.width - 1) / 2],
            [0, camera.focal_px, (camera.height - 1) / 2],
            [0, 0, 1.0],
        ]
    )
    lens = np.array([camera.k1, camera.k2, 0.0, 0.0])
    return cv2.projectPoints(np.asarray(points) * flip, cv2.Rodrigues(turn)[0], shift, k, lens)[0][:, 0]


@pytest.mark.parametrize("seed", range(6))
def test_marks_are_where_another_projection_puts_them(seed):
    """OpenCV's camera, written by others, agrees to a hundredth of a pixel for drawn poses and lenses."""
    camera = draw_scene(seed, seconds=0.5).scene.camera
    marks = np.array(list(court_marks().values()))
    own = camera.project(marks)
    ahead = (own[:, 2] > 0.5) & np.isfinite(own).all(axis=1)
    assert ahead.sum() >= 8
    np.testing.assert_allclose(own[ahead, :2], opencv_pixels(camera, marks[ahead]), atol=0.01)


def test_a_pixel_s_ray_meets_the_point_it_came_from():
    camera = FilmCamera(
        (2.9, 11.5, 1.8), 0.1, -0.1, 0.03, 1280, 720, focal_for(1.9, 1280, -0.08, 0.01), -0.08, 0.01
    )
    for point in np.random.default_rng(1).uniform([0, 0, 0], [6.4, 9.0, 4.0], (20, 3)):
        u, v, _ = camera.project(point)[0]
        way = point - camera.place_m
        np.testing.assert_allclose(pixel_ray(camera.packed, u, v), way / np.linalg.norm(way), atol=1e-6)


def test_the_lens_spans_the_angle_it_was_drawn_for():
    for degrees in (60, 75, 110):
        camera = FilmCamera(
            (0, 0, 0), 0, 0, 0, 1281, 721, focal_for(math.radians(degrees), 1281, -0.05, 0.004), -0.05, 0.004
        )
        edge = math.tan(math.radians(degrees / 2))
        u = camera.project(np.array([[edge, -1.0, 0.0]]))[0, 0]
        assert u == pytest.approx(1280.5, abs=0.01)


@pytest.mark.slow
def test_the_painted_lines_are_seen_at_their_marks():
    """The plate's reddest column or row across a line lies within a pixel of the projected middle."""
    film = plain_film()
    court = replace(film.scene.court, line=(0.8, 0.0, 0.0), ambient=1.0, floor_reflectance=0.0, veil=0.0)
    painted = tuple(replace(p, colour=(0.8, 0.0, 0.0)) for p in court.painted if p.surface == 0)
    camera = replace(film.scene.camera, width=1280, height=720, focal_px=2 * film.scene.camera.focal_px)
    plate = render_plate(replace(court, painted=painted), camera, 3)
    red = plate.direct[..., 0] - plate.direct[..., 1]
    for x in (0.5, 2.4, 4.6):  # the short line, cut from above to below
        u, v, _ = camera.project(np.array([[x, dim.SHORT_LINE_FRONT_M + dim.LINE_M / 2, 0.0]]))[0]
        column = np.clip(red[round(v) - 6 : round(v) + 7, round(u)], 0, None)
        column = np.where(column > 0.5 * column.max(), column, 0)
        assert np.average(np.arange(-6, 7) + round(v), weights=column) == pytest.approx(v, abs=0.7)
    for y in (6.5, 8.0):  # the half-court line, cut from left to right
        u, v, _ = camera.project(np.array([[dim.MIDDLE_M, y, 0.0]]))[0]
        row = np.clip(red[round(v), round(u) - 9 : round(u) + 10], 0, None)
        row = np.where(row > 0.5 * row.max(), row, 0)
        assert np.average(np.arange(-9, 10) + round(u), weights=row) == pytest.approx(u, abs=0.7)


@pytest.mark.slow
def test_a_shiny_floor_shows_the_tin_upside_down_where_its_mirror_image_is():
    """The tin's top is at 0.48 m, so its mirror image at -0.48 m: white above it in the court, dark below."""
    film = plain_film(floor="pale mirror")
    tin = replace(
        next(p for p in film.scene.court.painted if p.surface == 1), span=(0, 6.4, 0, 0.48), colour=(0, 0, 0)
    )
    court = replace(film.scene.court, walls=(0.9, 0.9, 0.9), painted=(tin,), floor_reflectance=0.2,
                    floor_roughness=0.0, mark_density=0.0)  # fmt: skip
    camera = replace(film.scene.camera, width=1280, height=720, focal_px=2 * film.scene.camera.focal_px)
    plate = render_plate(court, camera, 3)
    u, edge, _ = camera.project(np.array([[3.0, 0.0, -0.48]]))[0]
    shown = plate.mirrored[:, round(u)].mean(axis=1)
    assert shown[round(edge) + 3] > 4 * shown[round(edge) - 3] + 1e-3


@pytest.mark.slow
def test_a_player_s_mirror_image_hangs_from_his_feet():
    """What the mirror's layer shows of a player is the projection of his joints with heights turned round."""
    film = plain_film(floor="pale mirror")
    renderer = FilmRenderer(film.scene, 1)
    _, truth = renderer.frame(30)
    person = truth.people[0]
    upside = person.joints_m * [1, 1, -1]
    mirrored = truth.camera.project(upside)[:, :2]
    alpha = renderer.layers["mirror"].total[..., 3]
    h, w = alpha.shape
    inside = (mirrored >= 4).all(1) & (mirrored < [w - 4, h - 4]).all(1)
    chosen = [j for j in (14, 15, 16, 17) if inside[j]]
    assert chosen
    assert all(alpha[round(mirrored[j, 1]), round(mirrored[j, 0])] > 0.3 for j in chosen)


def still_and_moving(exposure_s, readout_s=0.0):
    """Return the ball's width along its streak, for a ball crossing at 20 m/s before an empty court."""
    film = without_people(plain_film(seed=5))
    times = np.arange(2000) / 1000.0
    ball = np.column_stack([0.6 + 20.0 * (times - 0.25), np.full(2000, 5.0), np.full(2000, 1.2)])
    scene = replace(
        film.scene, ball=ball, timing=Timing(30.0, exposure_s, readout_s), ball_albedo=(1.0, 1.0, 1.0)
    )
    renderer = FilmRenderer(scene, 1)
    _, truth = renderer.frame(10)
    return renderer.layers["inside"].total[..., 3], truth.ball, scene


@pytest.mark.slow
def test_the_streak_is_as_long_as_the_exposure_says():
    """At 20 m/s the ball goes 20 cm in 1/100 s: the streak's length in pixels, plus its width."""
    for exposure in (0.004, 0.01, 0.02):
        alpha, ball, scene = still_and_moving(exposure)
        columns = np.nonzero(alpha.max(axis=0) > 0.2 * alpha.max())[0]
        way = abs(ball.streak_px[2] - ball.streak_px[0])
        depth = abs(5.0 - scene.camera.place_m[1])
        assert way == pytest.approx(20.0 * exposure * scene.camera.focal_px / depth, rel=0.12)
        assert columns[-1] - columns[0] + 1 == pytest.approx(way + 2 * ball.radius_px, abs=2.6)


@pytest.mark.slow
def test_rows_are_read_one_after_another():
    """A ball in the lower half of the picture is seen later than the frame's first row, by its row's time."""
    _, early, _ = still_and_moving(0.001)
    _, late, scene = still_and_moving(0.001, readout_s=0.02)
    share = late.centre_px[1] / scene.camera.height
    assert late.place_m[0] - early.place_m[0] == pytest.approx(20.0 * 0.02 * share, abs=0.01)


@pytest.mark.slow
def test_the_ball_s_blob_is_where_the_truth_says():
    film = plain_film(seed=5)
    renderer = FilmRenderer(replace(film.scene, people=[], ball_albedo=(50.0, 0.0, 50.0)), 1)
    looked_at = 0
    for index in range(60, 150, 7):
        light, truth = renderer.frame(index)
        if truth.ball is None or truth.ball.seen_px is None or truth.ball.share_seen < 0.9:
            continue
        purple = np.clip(light[..., 0] + light[..., 2] - 2 * light[..., 1] - 2.0, 0, None)
        _, u = np.unravel_index(np.argmax(purple), purple.shape)
        part = purple.copy()
        part[:, : max(0, u - 25)] = 0
        part[:, u + 26 :] = 0
        vs, us = np.nonzero(part > 0.1 * part.max())
        middle = np.average(us, weights=part[vs, us]), np.average(vs, weights=part[vs, us])
        assert middle == pytest.approx(truth.ball.seen_px, abs=1.0)
        assert truth.ball.centre_px == pytest.approx(truth.ball.seen_px, abs=4.0)
        looked_at += 1
    assert looked_at >= 3


@pytest.mark.slow
def test_a_ball_behind_a_player_is_hidden():
    film = plain_film()
    scene = film.scene
    chest = scene.people[0].motion.joints[100, 1]
    to_camera = np.asarray(scene.camera.place_m) - chest
    for share, seen in ((-0.12, False), (0.2, True)):
        ball = np.tile(chest + share * to_camera, (2000, 1))
        _, truth = FilmRenderer(replace(scene, ball=ball, people=scene.people[:1]), 1).frame(30)
        assert (truth.ball.share_seen > 0.5) is seen


@pytest.mark.slow
@pytest.mark.parametrize("index", [20, 75, 120])
def test_feet_and_joints_lie_on_pixels_of_the_player(index):
    """Where the truth says a joint or foot is seen, the layer of the people is filled."""
    film = plain_film(seed=9, shutter="1/200 to 1/500")
    renderer = FilmRenderer(film.scene, 1)
    _, truth = renderer.frame(index)
    alpha = renderer.layers["inside"].total[..., 3]
    for person in truth.people:
        points = np.concatenate(
            [person.joints_px[person.joints_visible], person.feet_px[person.feet_visible]]
        )
        assert len(points) >= 8
        filled = [
            alpha[round(v) - 1 : round(v) + 2, round(u) - 1 : round(u) + 2].max() > 0.3 for u, v in points
        ]
        assert np.mean(filled) > 0.9
        u0, v0, u1, v1 = person.box
        assert alpha[max(0, int(v0) - 12) : int(v1) + 12, max(0, int(u0) - 12) : int(u1) + 12].sum() > 50
        assert person.place_m[0] == pytest.approx(person.feet_m[:, 0].mean())


@pytest.mark.slow
def test_a_player_s_box_holds_what_is_drawn_of_him():
    film = plain_film(seed=4, shutter="1/200 to 1/500")
    person = replace(film.scene.people[0], racket_appearance=None)
    renderer = FilmRenderer(replace(film.scene, people=[person], ball=None), 1)
    _, truth = renderer.frame(50)
    rows, columns = np.nonzero(renderer.layers["inside"].total[..., 3] > 0.6)
    u0, v0, u1, v1 = truth.people[0].box
    drawn = (columns.min(), rows.min(), columns.max(), rows.max())
    assert drawn == pytest.approx((u0, v0, u1, v1), abs=3.0)


def test_standing_feet_do_not_slide():
    """A foot that carries weight stays where it was put: between samples it moves less than a millimetre."""
    n = 600
    path = np.column_stack([2.0 + 0.4 * np.sin(np.arange(n) / 120), np.linspace(7.0, 5.0, n)])
    feet, _, _ = plan_steps(np.arange(n) / RATE_HZ, path, np.tile([0.0, -1.0], (n, 1)), 1.75, [])
    moved = np.hypot(*np.moveaxis(np.diff(feet[:, :, :2], axis=0), 2, 0))
    standing = feet[1:, :, 2] == 0.0
    assert standing.mean() > 0.4
    assert moved[standing].max() < 0.03
    assert np.median(moved[standing]) < 1e-3


def test_the_racket_meets_the_ball():
    """At the strikes the middle of the strings is near the ball: median under 6 cm."""
    errors = []
    for seed in (3, 9):
        film = plain_film(seed=seed)
        for person, strokes in zip(film.scene.people, film.play.strokes, strict=True):
            for stroke in strokes:
                if stroke.time_s < SECONDS:
                    joints, _, racket, _ = person.motion.at(stroke.time_s)
                    middle = joints[11 if person.right_handed else 10] + 0.47 * racket[0]
                    errors.append(np.linalg.norm(middle - stroke.ball_m))
    assert len(errors) >= 4
    assert np.median(errors) < 0.06


def test_what_moves_outside_the_picture_is_not_drawn_into_it():
    """A row far below the last one is never read: its moment is the last row's, not one long after."""
    poses = [np.array([[u, 3000.0, 2.0]], np.float32) for u in (800.0, 1500.0, 3100.0)]
    out = np.empty((1, 3), np.float32)
    moment_vertices(*poses, 0.03, 0.02 / 720, 0.01, 720, out)
    assert 800.0 <= out[0, 0] <= 3100.0


def test_a_point_beyond_the_lens_is_not_folded_back_into_the_picture():
    """With k1 = -0.09 the polynomial turns back at r = 1.92; a point further out has no pixel."""
    camera = FilmCamera((3.2, 10.0, 1.5), 0, 0, 0, 1280, 720, focal_for(1.9, 1280, -0.09, 0.0), -0.09, 0.0)
    for x, shown in ((3.2 + 1.85, True), (3.2 + 2.5, False), (3.2 + 3.3, False)):
        assert np.isfinite(camera.project(np.array([[x, 9.0, 1.5]]))).all() == shown


def test_bodies_are_closed_and_as_tall_as_drawn():
    mesh = build_body(BodyShape(1.8))
    edges = np.sort(
        np.concatenate([mesh.triangles[:, [0, 1]], mesh.triangles[:, [1, 2]], mesh.triangles[:, [2, 0]]]), 1
    )
    _, counts = np.unique(edges, axis=0, return_counts=True)
    assert np.mean(counts == 2) > 0.999
    assert np.ptp(mesh.vertices[:, 2]) == pytest.approx(1.8, abs=0.04)
    a, b, c = (mesh.vertices[mesh.triangles[:, k]] for k in range(3))
    volume = np.abs(np.einsum("ij,ij->i", a, np.cross(b, c)).sum()) / 6.0
    assert 0.055 < volume < 0.13  # a body of 60 to 90 kg, and its clothes


@pytest.mark.slow
def test_the_same_seed_gives_the_same_film_and_another_seed_another():
    first, second, other = (
        next(frames_of(draw_scene(s, seconds=0.5, size="640x360"), 1, 1)) for s in (7, 7, 8)
    )
    assert np.array_equal(first[0], second[0])
    assert np.array_equal(first[1].people[0].joints_m, second[1].people[0].joints_m)
    assert first[0].shape != other[0].shape or not np.array_equal(first[0], other[0])


@pytest.mark.slow
def test_a_still_camera_gives_still_walls_and_a_knock_moves_the_marks():
    film = draw_scene(12, seconds=4.0, **{**PLAIN, "nudge": "one"})
    knock = film.scene.knocks[0]
    renderer = FilmRenderer(film.scene, 1)
    rate = film.scene.timing.frames_per_s
    before, after = renderer.frame(1)[1], renderer.frame(int((knock.start_s + knock.seconds) * rate) + 3)[1]
    moved = np.hypot(*(np.array(after.marks_px["T"]) - before.marks_px["T"]))
    assert moved > 0.5
    assert film.scene.camera_at(knock.start_s - 0.01) == film.scene.camera


@pytest.mark.slow
def test_while_it_swings_the_picture_is_the_turned_camera_s():
    """The turned plate agrees with one rendered anew from the turned camera."""
    film = draw_scene(12, seconds=4.0, **{**PLAIN, "nudge": "one", "floor": "pale matt"})
    knock = film.scene.knocks[0]
    turned = film.scene.camera_at(knock.start_s + 0.4 * knock.seconds)
    fast = FilmRenderer(film.scene, 3).plate_for([film.scene.camera, turned, turned])
    anew = render_plate(film.scene.court, turned, 3)
    error = np.abs(fast.direct - anew.direct).mean(axis=2)
    still = np.abs(render_plate(film.scene.court, film.scene.camera, 3).direct - anew.direct).mean(axis=2)
    assert error.mean() < 0.3 * still.mean()


def test_every_kind_and_condition_can_be_drawn():
    rng = np.random.default_rng(1)
    for kind in KINDS:
        assert draw_conditions(rng, kind).kind == kind
    for name in ("floor", "wall", "clothes", "lens", "codec", "nudge", "spectators", "shutter"):
        for value in choices(name):
            drawn = draw_conditions(rng, **{name: value})
            assert drawn.names()[name] == value
    assert len(ODD) == 9


def test_a_wall_s_lines_stand_out_from_its_plaster():
    """On pale plaster the lines are dark or strong in colour, whatever the floor's are."""
    for seed in range(40):
        rng = np.random.default_rng(seed)
        court = draw_court(rng, draw_conditions(rng, wall="plaster", floor="painted", adverts="none"))
        assert max(abs(a - b) for a, b in zip(court.line, court.walls, strict=True)) > 0.25


def test_what_does_not_exist_is_refused():
    with pytest.raises(OutOfRange, match="carpet"):
        draw_scene(1, floor="carpet")
    with pytest.raises(OutOfRange, match="there is no condition 'weather'"):
        choices("weather")
    with pytest.raises(OutOfRange, match="a film of 0 s"):
        draw_scene(1, seconds=0.0)


@pytest.mark.slow
def test_who_is_there_in_odd_films():
    def roles(kind):
        return [p.role for p in draw_scene(2, kind, 3.0, **PLAIN).scene.people]

    assert roles("nobody on court") == []
    assert roles("doubles") == ["player"] * 4
    assert roles("coach walks in").count("coach") == 1
    assert roles("two courts in view").count("neighbour") == 2
    children = draw_scene(2, "children", 3.0, **PLAIN).scene.people
    assert max(p.mesh.shape.stature_m for p in children) < 1.45


@pytest.mark.slow
def test_a_mirrored_film_is_mirrored_with_its_truth():
    plain, mirrored = (
        next(frames_of(replace(f, sensor=replace(f.sensor, corner_fall=0.0)), 1, 1))
        for f in (draw_scene(5, kind, 1.0, **PLAIN) for kind in ("singles", "mirrored film"))
    )
    assert np.array_equal(plain[0], mirrored[0][:, ::-1])
    u, v = plain[1].marks_px["T"]
    assert mirrored[1].marks_px["T"] == pytest.approx((plain[0].shape[1] - 1 - u, v))


def test_a_copy_s_truth_is_in_its_own_pixels():
    _, truth = next(frames_of(plain_film(), 1, 1))
    small = scaled_truth(truth, 0.5)
    pixels = small.camera.project(np.array([court_marks()["T"]]))[0]
    assert small.marks_px["T"] == pytest.approx(tuple(pixels[:2]), abs=1e-6)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("codec", "name", "height"),
    [("H.264 low", "h264", 360), ("HEVC low", "hevc", 360), ("messenger copy", "h264", None)],
)
def test_the_file_is_coded_as_its_conditions_say(tmp_path, codec, name, height):
    truth = render_film(6, tmp_path / "film.mp4", seconds=0.3, **{**PLAIN, "codec": codec, "size": "640x360"})
    with av.open(str(tmp_path / "film.mp4")) as container:
        stream = container.streams.video[0]
        assert stream.codec_context.name == name
        assert float(stream.average_rate) == pytest.approx(truth.frames_per_s, rel=1e-3)
        pictures = [f.to_ndarray(format="gray") for f in container.decode(video=0)]
    assert len(pictures) == len(truth.frames) == round(0.3 * truth.frames_per_s)
    assert pictures[0].shape == (truth.frames[0].camera.height, truth.frames[0].camera.width)
    assert height is None or pictures[0].shape[0] == height
    assert list(tmp_path.iterdir()) == [tmp_path / "film.mp4"]
