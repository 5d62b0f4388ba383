"""Films of the training and validation families: their truth agrees with their picture, and settings have their effect."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import av
import cv2
import numpy as np
import pytest

from goodlength.errors import OutOfRange
from goodlength.synthetic import recordings
from goodlength.synthetic.recordings.recording_types import Surface, WorldContact, WorldRecording
from goodlength.synthetic.recordings.training_films.frame_composition import frames_of
from goodlength.synthetic.recordings.training_films.ground_truth_label_types import JOINT_NAMES, MARK_PLACES_M
from goodlength.synthetic.recordings.training_films.radial_lens_projection_and_warp_maps import camera_towards
from goodlength.synthetic.recordings.training_films.sensor_and_codec_simulation import PhoneSensor
from goodlength.synthetic.recordings.training_films.training_video_family_registry import (
    TRAINING_FILM_FAMILIES,
)
from goodlength.synthetic.recordings.training_films.training_video_generator import (
    GeneratedFilm,
    generate_film,
)
from goodlength.synthetic.recordings.validation_films.validation_video_renderer import VALIDATION_FILM_FAMILY

ALL = {**TRAINING_FILM_FAMILIES, VALIDATION_FILM_FAMILY.name: VALIDATION_FILM_FAMILY}
FAMILIES = sorted(ALL)
PACKAGES = {
    "rasterised": "training_films/rasterised",
    "layered": "training_films/layered",
    "choosing": "validation_films",
}
ROOT = Path(recordings.__file__).parent
QUIET = {
    "noise": 0.0, "flicker": 0.0, "spectators": 0, "crossing": False, "nudges": 0, "messenger": False,
    "portrait": False, "frames_per_second": 25.0, "exposure_s": 0.004, "readout_s": 0.01, "walls": "plaster",
    "place": "balcony", "field_deg": 80.0, "corner_loss": 0.08, "adverts": False, "floor": 0.4,
}  # fmt: skip


def film(
    family: str, seed: int = 5, seconds: float = 2.0, side: int = 480, **wanted: object
) -> GeneratedFilm:
    """Return a small film with quiet settings."""
    settings = {**QUIET, **wanted}
    return generate_film(ALL[family], seed, seconds, side, **settings)


def test_projection_agrees_with_that_of_the_vision_library() -> None:
    """The lens is pin-hole times 1 + k r^2, as OpenCV's first radial term; the court frame is mirrored."""
    camera = camera_towards(np.array([2.5, 12.0, 2.0]), np.array([3.2, 3.0, 1.0]), 90.0, 0.15, (960, 540))
    places = np.random.default_rng(1).uniform([0, 0, 0], [6.4, 9, 4], (50, 3))
    flipped = np.diag([-1.0, 1, 1])  # into a right-handed frame
    matrix = np.array([[camera.focal_px, 0, 480], [0, camera.focal_px, 270], [0, 0, 1.0]])
    rotation = camera.rotation @ flipped
    shift = -rotation @ (flipped @ camera.place_m)
    theirs, _ = cv2.projectPoints(
        places @ flipped, cv2.Rodrigues(rotation)[0], shift, matrix, np.array([camera.radial, 0, 0, 0])
    )
    near = ((places - camera.place_m) @ camera.rotation.T)[:, :2]
    near = (near / ((places - camera.place_m) @ camera.rotation.T)[:, 2:]) ** 2
    ours, _ = camera.project(places)
    usable = near.sum(1) < camera.most_radius2
    assert usable.sum() > 30
    assert np.abs(ours - theirs[:, 0])[usable].max() < 1e-6
    back = camera.flat_directions(ours[usable])
    assert np.abs((back**2).sum(1) - near.sum(1)[usable]).max() < 1e-6


@pytest.mark.parametrize("family", FAMILIES)
def test_same_seed_same_film(family: str) -> None:
    """Two films of a seed agree to the byte; another seed gives another."""
    first, second, other = (next(film(family, seed, 0.1).frames()) for seed in (5, 5, 6))
    assert np.array_equal(first[0], second[0])
    assert np.array_equal(first[1].people[0].joints_m, second[1].people[0].joints_m)
    assert not np.array_equal(first[0], other[0])


@pytest.mark.parametrize("family", FAMILIES)
def test_the_ball_is_where_the_truth_says(family: str) -> None:
    """With and without ball, frames differ at the true place and nowhere far from it."""
    made = film(family, seconds=3.0, mirror_share=0.0)
    found, numbers = 0, range(22, 75, 5)
    pairs = zip(made.frames(numbers=numbers), made.frames(False, numbers), strict=True)
    for with_ball, without in pairs:
        changed = np.abs(with_ball[0].astype(int) - without[0].astype(int)).max(2)
        ball = with_ball[1].ball
        if ball is None:
            assert changed.max() == 0
            continue
        reach = 4 + ball.radius_px + np.abs(ball.streak_px - ball.centre_px).max()
        rows, columns = np.nonzero(changed > 12)
        shadow = ball.place_m[2] < 1.1
        if ball.seen_share > 0.9 and len(rows) and not shadow:
            away = np.hypot(columns + 0.5 - ball.centre_px[0], rows + 0.5 - ball.centre_px[1])
            assert away.max() < reach
            found += 1
        if ball.seen_share < 0.02 and not shadow:
            assert changed.max() < 25
    assert found > 2


@pytest.mark.parametrize("family", FAMILIES)
def test_feet_stand_on_the_floor_and_bodies_are_where_the_joints_are(family: str) -> None:
    """Soles are planted at height 0 most of the time, and visible joints lie on pixels of a person."""
    made = film(family, seconds=2.0)
    scene = made.scene
    lowest = []
    for _, label in made.frames(numbers=range(0, 50, 4)):
        for person in label.people:
            lowest.append(person.feet_m[:, 2].min())
            assert person.joints_m.shape == (len(JOINT_NAMES), 3)
    assert np.median(lowest) < 0.01
    assert max(lowest) < 0.08
    renderer = made.family.renderer(scene)
    camera = scene.cameras[0][1]
    renderer.plate(camera)
    layer = renderer.people(scene.people_on("court"), camera, 0.4, False)
    assert layer is not None
    label = next(made.frames(numbers=[10]))[1]
    hit = []
    for person in label.people:
        for (u, v), seen in zip(person.joints_px, person.joints_visible, strict=True):
            row, column = int(v) - layer.top, int(u) - layer.left
            if seen and 0 <= row < layer.cover.shape[0] and 0 <= column < layer.cover.shape[1]:
                hit.append(layer.cover[row, column] > 0.3)
    assert len(hit) > 20
    assert np.mean(hit) > 0.85


@pytest.mark.parametrize("family", FAMILIES)
def test_court_marks_lie_on_edges(family: str) -> None:
    """Around a visible mark on a line the picture is much less even than bare floor and wall are."""
    made = film(family, seed=9, seconds=0.1, marks=0.05, mirror_share=0.0)
    made.scene.people_on("court").clear()
    renderer = made.family.renderer(made.scene)
    picture = renderer.plate(made.scene.cameras[0][1]).base().mean(2)
    _, label = next(made.frames())
    edges = np.hypot(cv2.Sobel(picture, cv2.CV_32F, 1, 0), cv2.Sobel(picture, cv2.CV_32F, 0, 1))
    usual = float(np.median(edges))
    strong = []
    for name, (u, v) in zip(MARK_PLACES_M, label.marks_px, strict=True):
        if not (4 <= u < 476 and 4 <= v < 266) or "back wall" in name or "back out" in name:
            continue
        strong.append(edges[int(v) - 2 : int(v) + 3, int(u) - 2 : int(u) + 3].max() > 4 * usual)
    assert len(strong) >= 8
    assert np.mean(strong) > 0.85


@pytest.mark.parametrize("family", FAMILIES)
def test_the_floor_mirrors_as_much_as_asked(family: str) -> None:
    """The mirror image's share of the floor's light is the share that was asked for."""
    made = film(family, seconds=0.1, mirror_share=0.12)
    plate = made.family.renderer(made.scene).plate(made.scene.cameras[0][1])
    share = plate.mirror_share[plate.floor > 0.9]
    assert abs(float(share.mean()) - 0.12) < 0.02
    assert plate.mirror_share[plate.floor == 0].max() == 0
    matt = film(family, seconds=0.1, mirror_share=0.0)
    light, glossy = (next(frames_of(m.scene, m.family.renderer(m.scene)))[0] for m in (matt, made))
    assert np.abs(light - glossy).max() > 0.02


MOMENTS = (20, 60, 70, 79)
EFFECTS: list[tuple[str, object, object]] = [
    ("floor", 0.12, 0.55), ("walls", "plaster", "glass"), ("marks", 0.05, 0.9), ("adverts", False, True),
    ("clothes", "any", "both white"), ("ball", "black", "white"), ("flicker", 0.0, 0.2), ("noise", 0.0, 6.0),
    ("exposure_s", 0.002, 0.02), ("spectators", 0, 3), ("lamps", 2, 7), ("field_deg", 70.0, 105.0),
    ("corner_loss", 0.0, 0.14), ("nudges", 0, 1), ("place", "balcony", "behind glass"),
]  # fmt: skip


@cache
def quiet_frames(family: str) -> list[np.ndarray]:
    """Return frames of the film that most effects are compared with, drawn once."""
    return [picture for picture, _ in film(family, 21, 3.2, 320).frames(numbers=MOMENTS)]


def frames_with(family: str, name: str, value: object) -> Iterator[np.ndarray]:
    """Yield frames of the film with one setting as said, each drawn when it is asked for."""
    if QUIET.get(name) == value:
        yield from quiet_frames(family)
    else:
        yield from (
            picture for picture, _ in film(family, 21, 3.2, 320, **{name: value}).frames(numbers=MOMENTS)
        )


@pytest.mark.parametrize(("name", "low", "high"), EFFECTS)
def test_each_setting_changes_the_picture(name: str, low: object, high: object) -> None:
    """Two films that differ in one setting differ in what is seen."""
    for family in FAMILIES:
        pairs = zip(*(frames_with(family, name, value) for value in (low, high)), strict=True)
        assert any(np.abs(a.astype(int) - b.astype(int)).max() > 10 for a, b in pairs)


def test_rows_are_read_one_after_another() -> None:
    """With a slow readout a moving joint stands at another place than with a fast one."""
    places = []
    for readout_s in (0.0, 0.03):
        made = film("rasterised", 5, 2.0, readout_s=readout_s)
        places.append(
            np.array([label.people[0].joints_m for _, label in made.frames(numbers=range(20, 50, 6))])
        )
    moved = np.linalg.norm(places[0] - places[1], axis=2)
    assert 0.005 < moved.max() < 0.5


def test_a_portrait_film_stands_upright() -> None:
    """Its height is the longer side."""
    picture, label = next(film("rasterised", 5, 0.1, portrait=True).frames())
    assert picture.shape == (480, 270, 3)
    assert len(label.people) == 2


@pytest.mark.parametrize(("codec", "messenger"), [("libx264", False), ("libx265", False), ("libx264", True)])
def test_a_film_is_written_with_its_truth(tmp_path: Path, codec: str, messenger: bool) -> None:
    """The file has as many frames as the truth, of the size that the truth says."""
    family = TRAINING_FILM_FAMILIES["rasterised"]
    made = generate_film(family, 5, 0.3, 640, **{**QUIET, "codec": codec, "messenger": messenger})
    labels = made.write(tmp_path / "film.mp4")
    with av.open(str(tmp_path / "film.mp4")) as container:
        frames = [frame.to_ndarray(format="rgb24") for frame in container.decode(video=0)]
    assert len(frames) == len(labels.frames) == 7
    assert frames[0].shape[:2] == labels.size[::-1]
    assert labels.size == ((480, 270) if messenger else (640, 360))
    plain = next(made.frames())[1]
    ratio = labels.size[0] / 640
    assert np.allclose(labels.frames[0].marks_px, plain.marks_px * ratio)


def test_noise_is_as_strong_as_asked() -> None:
    """The sensor's noise has the standard deviation of the settings."""
    made = film("rasterised", noise=5.0)
    sensor = PhoneSensor(np.random.default_rng(1), made.scene.settings, (480, 270))
    grey = sensor.expose(np.full((270, 480, 3), 0.2, np.float32), 0.0)
    assert abs(float(grey.std()) - 5.0) < 0.3


def test_an_unknown_setting_is_named() -> None:
    """A setting that there is not is refused by its name."""
    with pytest.raises(OutOfRange, match="'flor'"):
        film("rasterised", flor=0.3)


def sources(family: str) -> dict[str, ast.Module]:
    """Return the parsed modules of a family's own package."""
    return {
        path.name: ast.parse(path.read_text(encoding="utf-8"))
        for path in (ROOT / PACKAGES[family]).glob("*.py")
    }


def test_families_import_nothing_of_each_other_or_of_the_test_family() -> None:
    """What is seen in one family comes from no module of another."""
    names = {name: f"recordings.{package.replace('/', '.')}" for name, package in PACKAGES.items()}
    for family in FAMILIES:
        imported = {
            node.module or ""
            for tree in sources(family).values()
            for node in ast.walk(tree)
            if isinstance(node, ast.ImportFrom)
        }
        foreign = [name for other, name in names.items() if other != family] + ["test_family"]
        assert [module for module in imported for name in foreign if name in module] == []


def test_families_share_no_table_of_constants() -> None:
    """No table (of more than three entries) or range of settings stands in two families."""
    homes: dict[str, set[str]] = {}
    for family in FAMILIES:
        for tree in sources(family).values():
            for node in tree.body:
                value = getattr(node, "value", None)
                if (
                    isinstance(value, ast.Tuple | ast.Dict | ast.List)
                    and len(list(ast.iter_child_nodes(value))) > 3
                ):
                    homes.setdefault(ast.dump(value), set()).add(family)
    assert len(homes) >= 8
    assert [table[:80] for table, where in homes.items() if len(where) > 1] == []
    ranges = [ALL[family].ranges for family in FAMILIES]
    assert len({(r.floor, r.mirror_share, r.noise, r.readout_s, r.shutters) for r in ranges}) == len(FAMILIES)


def test_somebody_behind_the_tin_of_a_glass_court_has_no_visible_feet() -> None:
    """Spectators behind the front wall's tin are seen above it only."""
    feet, heads = [], []
    for family in FAMILIES:
        for seed in range(4):
            made = film(family, seed, 0.1, walls="glass", place="balcony", spectators=3, adverts=False)
            label = next(made.frames())[1]
            for person in label.people:
                behind = -float(person.feet_m[:, 1].max())
                if person.name.startswith("spectator") and behind > 0.5:
                    _, y, z = label.pose[:, 3]
                    hidden = z * behind / (y + behind) < 0.4  # the sight passes the wall below the tin's edge
                    feet += person.feet_visible[:].tolist() if hidden else []
                    heads.append(person.head_share)
    assert len(heads) >= 4
    assert len(feet) >= 4
    assert not any(feet)
    assert np.median(heads) > 0.5


def test_a_lens_that_would_fold_the_corners_is_refused() -> None:
    """One radial term cannot shrink the picture's ends by more than about a sixth."""
    with pytest.raises(OutOfRange, match=r"by 0\.2"):
        film("layered", corner_loss=0.2)


def test_a_recording_is_shown_and_heard(tmp_path: Path) -> None:
    """A film of a given recording shows its contacts and carries its sound."""
    samples = np.random.default_rng(3).normal(0, 0.1, (1, 8000)).astype(np.float32)
    contacts = (WorldContact(0.1, Surface.RACKET, 1), WorldContact(0.4, Surface.FRONT_WALL))
    recording = WorldRecording("any", "usual", samples, 16_000, contacts, ())
    family = TRAINING_FILM_FAMILIES["rasterised"]
    labels = generate_film(family, 4, 0.3, 480, recording, **QUIET).write(tmp_path / "film.mp4")
    assert labels.contacts == contacts
    assert labels.frames[4].ball is not None
    with av.open(str(tmp_path / "film.mp4")) as container:
        heard = np.concatenate([frame.to_ndarray()[0] for frame in container.decode(audio=0)])
    assert len(heard) > 7000
    assert abs(float(heard.std()) - 0.1) < 0.05


@pytest.mark.parametrize("family", FAMILIES)
def test_further_balls_change_nothing_but_their_places(family: str) -> None:
    """The same film with four balls more: same people, same ball, and every change near a ball that is told."""
    settings = {**QUIET, "mirror_share": 0.0}
    usual = generate_film(ALL[family], 5, 2.0, 480, **settings)
    more = generate_film(ALL[family], 5, 2.0, 480, more_balls=4, **settings)
    numbers = [20, 30, 40]
    told = 0
    for (a, label), (b, with_more) in zip(
        usual.frames(numbers=numbers), more.frames(numbers=numbers), strict=True
    ):
        assert label.more_balls == ()
        for person, same in zip(label.people, with_more.people, strict=True):
            assert np.array_equal(person.joints_px, same.joints_px)
        assert (label.ball is None) == (with_more.ball is None)
        told += len(with_more.more_balls)
        for ball in with_more.more_balls:
            if (
                ball.seen_share < 0.9
                or not (ball.centre_px > 8).all()
                or not (ball.centre_px < (472, 262)).all()
            ):
                continue
            u, v = ball.centre_px.astype(int)
            changed = np.abs(a.astype(int) - b.astype(int)).max(axis=2)[v - 3 : v + 4, u - 3 : u + 4]
            assert changed.max() > 0
    assert told > 0
