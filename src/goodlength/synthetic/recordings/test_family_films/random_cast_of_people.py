"""Who is in a film: players in their clothes, spectators, people who cross, a coach, more players."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.synthetic.recordings.test_family_films.bodies import implicit_surface_body_mesh as body
from goodlength.synthetic.recordings.test_family_films.bodies import mesh_rasterising as looks
from goodlength.synthetic.recordings.test_family_films.bodies.implicit_surface_body_mesh import build_body
from goodlength.synthetic.recordings.test_family_films.bodies.person_and_racket_meshes import (
    BLACK,
    WHITE,
    FilmPerson,
    any_colour,
    draw_appearance,
    draw_shape,
    draw_visitor,
    racket_appearance,
)
from goodlength.synthetic.recordings.test_family_films.bodies.person_motion_synthesis import (
    RATE_HZ,
    BodyMotion,
    move_player,
    unit,
)
from goodlength.synthetic.recordings.test_family_films.court_picture.camera_pose_and_lens_projection import (
    FilmCamera,
    pixel_ray,
)
from goodlength.synthetic.recordings.test_family_films.court_picture.court_materials_and_lamps import (
    Colour,
    CourtScene,
)
from goodlength.synthetic.recordings.test_family_films.match_play_and_running_simulation import (
    FilmPlay,
    split_doubles,
)
from goodlength.synthetic.recordings.test_family_films.random_court_and_camera import between, varied
from goodlength.synthetic.recordings.test_family_films.random_filming_conditions import FilmConditions

Floats = NDArray[np.float64]
ROOM_M = 1.3  # so much between camera and court lets somebody pass


@dataclass(frozen=True)
class Outfit:
    """Shirt, what is worn below, and the shirt's pattern."""

    shirt: Colour
    lower: Colour
    pattern: int


def _outfits(rng: np.random.Generator, c: FilmConditions, court: CourtScene, count: int) -> list[Outfit]:
    """Return the players' clothes as the condition names them."""
    out: list[Outfit] = []
    for who in range(count):
        shirt, lower = any_colour(rng), BLACK if rng.random() < 0.5 else any_colour(rng)
        pattern = looks.PLAIN if rng.random() < 0.6 else int(rng.integers(1, 6))
        if c.clothes == "both white":
            shirt, lower, pattern = (
                varied(rng, WHITE, 0.04),
                WHITE if rng.random() < 0.6 else BLACK,
                looks.PLAIN,
            )
        elif c.clothes == "both dark":
            shirt, lower, pattern = varied(rng, (0.03, 0.03, 0.045), 0.3), BLACK, looks.PLAIN
        elif c.clothes == "like the floor" and who == 0:
            shirt, pattern = varied(rng, court.floor, 0.1), looks.PLAIN
        elif c.clothes == "like the wall" and who == 0:
            shirt, pattern = varied(rng, court.walls, 0.06), looks.PLAIN
        elif c.clothes == "patterned":
            pattern = int(rng.integers(1, 6))
        elif c.clothes == "unlike" and who % 2 == 1:
            first = np.mean(out[who - 1].shirt)
            shirt = WHITE if first < 0.15 else ((0.05, 0.06, 0.3) if rng.random() < 0.5 else BLACK)
        out.append(Outfit(shirt, lower, pattern))
    return out


def cast_players(
    rng: np.random.Generator, c: FilmConditions, court: CourtScene, play: FilmPlay
) -> list[FilmPerson]:
    """Return the players with their movement; for doubles four, two of them for each side."""
    paths, facings, strokes, hands = play.paths, play.facings, play.strokes, list(play.right_handed)
    if c.kind == "doubles":
        paths, facings, strokes = split_doubles(rng, play)
        hands = [play.right_handed[k % 2] for k in range(4)]
    people = []
    for who, outfit in enumerate(_outfits(rng, c, court, len(paths))):
        shape = draw_shape(rng, child=c.kind == "children")
        motion = move_player(
            rng, paths[who], facings[who], shape.stature_m, shape.hips, hands[who], strokes[who], play.watched
        )
        appearance = draw_appearance(rng, shape.stature_m, outfit.shirt, outfit.lower, outfit.pattern)
        people.append(
            FilmPerson(
                f"player {who + 1}",
                "player",
                "inside",
                build_body(shape),
                appearance,
                motion,
                hands[who],
                racket_appearance(rng),
            )
        )
    return people


def free_hand_places(person: FilmPerson) -> Floats:
    """Return the places of the hand without the racket, shape (n, 3)."""
    return np.asarray(person.motion.joints[:, body.L_HAND if person.right_handed else body.R_HAND])


def _lifted(motion: BodyMotion, by_m: float) -> BodyMotion:
    up = np.array([0.0, 0.0, by_m])
    return replace(motion, joints=motion.joints + up, soles=motion.soles + up)


def visitor(
    rng: np.random.Generator,
    name: str,
    role: str,
    layer: str,
    path: Floats,
    facing: Floats,
    floor_m: float,
    cells: int = 52,
) -> FilmPerson:
    """Return somebody in everyday clothes who follows a path (n, 2) on a floor."""
    mesh, appearance = draw_visitor(rng, cells)
    motion = move_player(
        rng, path, facing, mesh.shape.stature_m, mesh.shape.hips, True, [], None, with_racket=False
    )
    return FilmPerson(name, role, layer, mesh, appearance, _lifted(motion, floor_m))


def _unrest(rng: np.random.Generator, count: int, size_m: float) -> Floats:
    noise = rng.normal(0.0, 1.0, (count, 2))
    return np.asarray(gaussian_filter1d(noise, 50, axis=0) * math.sqrt(2 * math.sqrt(math.pi) * 50) * size_m)


def _standing(rng: np.random.Generator, count: int, place: Floats, towards: Floats) -> tuple[Floats, Floats]:
    path = place + _unrest(rng, count, float(rng.choice([0.03, 0.1, 0.25])))
    facing = unit(np.tile(towards - place, (count, 1)) + 2.0 * _unrest(rng, count, 0.3))
    return path, facing


def cast_spectators(
    rng: np.random.Generator, c: FilmConditions, court: CourtScene, camera: FilmCamera, seconds: float
) -> list[FilmPerson]:
    """Return the spectators: behind walls of glass, or heads before the camera."""
    count = int((seconds + 0.5) * RATE_HZ) + 1
    out: list[FilmPerson] = []
    if c.spectators.endswith("behind glass"):
        number = int(rng.integers(2, 5)) if c.spectators.startswith("few") else int(rng.integers(7, 12))
        for k in range(number):
            side = int(rng.integers(0, 3))
            x = (-between(rng, (0.6, 4.0)), WIDTH_M + between(rng, (0.6, 4.0)), between(rng, (0.3, 6.1)))[
                side
            ]
            y = (between(rng, (0.0, 8.0)), between(rng, (0.0, 8.0)), -between(rng, (0.6, 3.5)))[side]
            path, facing = _standing(rng, count, np.array([x, y]), np.array([3.2, 4.0]))
            if rng.random() < 0.35:
                path, facing = _walk(rng, count, np.array([x, y]), along=1 if side < 2 else 0)
            out.append(
                visitor(
                    rng, f"spectator {k + 1}", "spectator", "beyond", path, facing, court.hall_floor_m, 40
                )
            )
    if c.spectators == "before the camera":
        room = camera.place_m[1] - LENGTH_M
        for k in range(int(rng.integers(1, 4))):
            u, v = rng.uniform(0.05, 0.95) * camera.width, rng.uniform(0.72, 0.97) * camera.height
            ray = np.array(pixel_ray(camera.packed, float(u), float(v)))
            far = between(rng, (0.7, max(0.75, min(room - 0.3, 2.5))))
            head = np.asarray(camera.place_m) + far / max(-float(ray[1]), 0.2) * ray
            path, facing = _standing(rng, count, head[:2], np.array([3.2, 3.0]))
            person = visitor(rng, f"spectator {k + 1}", "spectator", "front", path, facing, 0.0)
            top = person.mesh.shape.stature_m
            out.append(replace(person, motion=_lifted(person.motion, float(head[2]) - top)))
    return out


def _walk(
    rng: np.random.Generator, count: int, start: Floats, along: int, speed: float = 0.0
) -> tuple[Floats, Floats]:
    """Return a straight walk along an axis, to and fro where it is long."""
    times = np.arange(count) / RATE_HZ
    pace = speed or between(rng, (0.7, 1.4)) * float(rng.choice([-1.0, 1.0]))
    reach = 3.0
    phase = (pace * times + reach) % (4.0 * reach)
    offset = np.where(phase < 2.0 * reach, phase - reach, 3.0 * reach - phase) if not speed else pace * times
    path = np.tile(start, (count, 1))
    path[:, along] += offset
    way = np.zeros((count, 2))
    way[:, along] = np.sign(np.gradient(offset))
    return path, unit(gaussian_filter1d(way, 15, axis=0) + 1e-6)


def cast_crossings(
    rng: np.random.Generator, c: FilmConditions, court: CourtScene, camera: FilmCamera, seconds: float
) -> list[FilmPerson]:
    """Return people who cross between camera and court, each for some seconds."""
    room = camera.place_m[1] - LENGTH_M
    out: list[FilmPerson] = []
    for k in range({"none": 0, "one": 1, "two": 2}[c.crossing]):
        if room < ROOM_M:
            break
        y = LENGTH_M + between(rng, (0.5, max(0.55, room - 0.7)))
        speed = between(rng, (0.9, 1.5)) * float(rng.choice([-1.0, 1.0]))
        takes = (WIDTH_M + 5.0) / abs(speed)
        begin = between(rng, (0.5, max(0.6, seconds - 0.6 * takes)))
        start = np.array([-2.5 if speed > 0 else WIDTH_M + 2.5, y])
        count = int((seconds + 0.5) * RATE_HZ) + 1
        path, facing = _walk(rng, count, start - [speed * begin, 0.0], 0, speed)
        person = visitor(rng, f"passer {k + 1}", "passer", "front", path, facing, court.hall_floor_m)
        out.append(replace(person, from_s=begin, until_s=begin + takes))
    return out


def cast_coach(rng: np.random.Generator, seconds: float) -> FilmPerson:
    """Return a coach who comes in by the back, stands for a while, and goes out again."""
    count = int((seconds + 0.5) * RATE_HZ) + 1
    begin, stay = between(rng, (0.15, 0.35)) * seconds, between(rng, (0.3, 0.5)) * seconds
    door, stand = (
        np.array([3.2, LENGTH_M - 0.3]),
        np.array([between(rng, (1.0, 5.4)), between(rng, (4.5, 8.0))]),
    )
    times = np.arange(count) / RATE_HZ
    walk_s = float(np.hypot(*(stand - door))) / 1.1 + 0.3
    share = np.clip(
        np.minimum((times - begin) / walk_s, (begin + stay + 2 * walk_s - times) / walk_s), 0.0, 1.0
    )
    share = share * share * (3.0 - 2.0 * share)
    path = door + share[:, None] * (stand - door) + 0.3 * _unrest(rng, count, 0.05)
    velocity = np.gradient(path, axis=0) * RATE_HZ
    facing = unit(gaussian_filter1d(velocity, 15, axis=0) + np.array([0.0, -0.3]))
    person = visitor(rng, "coach", "coach", "inside", path, facing, 0.0, 64)
    return replace(person, from_s=begin, until_s=begin + stay + 2 * walk_s)


def cast_walkers(rng: np.random.Generator, camera: FilmCamera, seconds: float) -> list[FilmPerson]:
    """Return people who walk about a place that is no court."""
    count, out = int((seconds + 0.5) * RATE_HZ) + 1, []
    room = camera.place_m[1] - LENGTH_M
    for k in range(int(rng.integers(1, 4))):
        start = np.array([between(rng, (0.0, 6.4)), LENGTH_M + between(rng, (0.2, max(0.3, room - 1.5)))])
        path, facing = _walk(rng, count, start, 0)
        out.append(visitor(rng, f"passer {k + 1}", "passer", "front", path, facing, camera.place_m[2] - 1.5))
    return out
