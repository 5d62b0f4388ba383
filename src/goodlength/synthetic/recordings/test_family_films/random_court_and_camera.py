"""A court and a camera before it, drawn from the names of a film's conditions."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from goodlength.court import dimensions as dim
from goodlength.synthetic.recordings.test_family_films.court_picture.camera_pose_and_lens_projection import (
    FilmCamera,
    focal_for,
)
from goodlength.synthetic.recordings.test_family_films.court_picture.court_materials_and_lamps import (
    ADVERT,
    BACK,
    FLOOR,
    FRAME,
    FRONT,
    LEFT,
    RIGHT,
    CeilingLamp,
    Colour,
    CourtScene,
    PaintedRectangle,
    racketball_like_lines,
    singles_lines,
)
from goodlength.synthetic.recordings.test_family_films.random_filming_conditions import FilmConditions

_FLOORS: dict[str, Colour] = {"pale": (0.6, 0.45, 0.28), "mid": (0.42, 0.27, 0.15), "dark": (0.17, 0.1, 0.06)}
_PAINTS: tuple[Colour, ...] = (
    (0.03, 0.1, 0.33),
    (0.04, 0.19, 0.12),
    (0.2, 0.2, 0.21),
    (0.16, 0.05, 0.2),
    (0.3, 0.06, 0.05),
)
_TINTS: tuple[Colour, ...] = (
    (0.75, 0.68, 0.5),
    (0.55, 0.66, 0.74),
    (0.6, 0.72, 0.6),
    (0.74, 0.6, 0.58),
    (0.45, 0.45, 0.46),
)
_LINES: tuple[Colour, ...] = (
    (0.58, 0.03, 0.03),
    (0.34, 0.02, 0.03),
    (0.03, 0.08, 0.45),
    (0.02, 0.02, 0.02),
    (0.02, 0.25, 0.1),
    (0.65, 0.2, 0.02),
)
_SHINE = {"matt": (0.0, 0.012), "shiny": (0.03, 0.075), "mirror": (0.08, 0.2), "painted": (0.0, 0.12)}
_ROUGH = {"matt": (0.1, 0.25), "shiny": (0.03, 0.09), "mirror": (0.004, 0.03), "painted": (0.02, 0.1)}
_LENS_DEG = {
    "60 to 72 degrees": (60.0, 72.0),
    "72 to 90 degrees": (72.0, 90.0),
    "90 to 110 degrees": (90.0, 110.0),
}


def between(rng: np.random.Generator, limits: tuple[float, float]) -> float:
    """Return a number drawn evenly between two limits."""
    return float(rng.uniform(*limits))


def varied(rng: np.random.Generator, colour: Colour, by: float = 0.08) -> Colour:
    """Return a colour a little lighter or darker, and of another hue."""
    scaled = np.clip(
        np.array(colour) * rng.uniform(1 - by, 1 + by) * rng.uniform(1 - by, 1 + by, 3), 0.0, 0.92
    )
    return (float(scaled[0]), float(scaled[1]), float(scaled[2]))


def _any_bright(rng: np.random.Generator) -> Colour:
    mixed = rng.random(3) * 0.75
    return (float(mixed[0]), float(mixed[1]), float(mixed[2]))


def _lamps(rng: np.random.Generator, c: FilmConditions, height: float) -> tuple[CeilingLamp, ...]:
    """Return the lamps: rows of panels or tubes, at times uneven; for half dark one half alone."""
    across, along = int(rng.integers(2, 4)), int(rng.integers(2, 5))
    half = (0.62, 0.09) if rng.random() < 0.4 else (between(rng, (0.25, 0.6)), between(rng, (0.15, 0.3)))
    if rng.random() < 0.5:
        half = (half[1], half[0])
    tint = np.array([1.0, between(rng, (0.93, 1.0)), between(rng, (0.8, 1.0))])
    power = 0.75 * height**2 / math.sqrt(across * along) / 1.9
    dark_axis, dark_side = int(rng.integers(0, 2)), bool(rng.random() < 0.5)
    out = []
    for i in range(across):
        for j in range(along):
            x, y = dim.WIDTH_M * (i + 0.5) / across, dim.LENGTH_M * (j + 0.5) / along
            share = between(rng, (0.93, 1.07))
            if c.lights == "uneven":
                share *= float(rng.choice([0.15, 0.6, 1.0, 1.3]))
            place, middle = ((x, dim.WIDTH_M / 2), (y, dim.LENGTH_M / 2))[dark_axis]
            if c.kind == "half dark" and (place > middle) == dark_side:
                continue
            r, g, b = (float(v) for v in power * share * tint)
            out.append(CeilingLamp((x, y, height - 0.02), half, (r, g, b)))
    return tuple(out)


def _fittings(rng: np.random.Generator, c: FilmConditions, high: float) -> list[PaintedRectangle]:
    """Return joints of the back wall's panes, its rail, and a door with hinges and a handle."""
    if c.back == "plaster":
        return []
    grey: Colour = (0.25, 0.25, 0.26)
    thin = between(rng, (0.004, 0.012))
    out = (
        [PaintedRectangle(BACK, (0.0, dim.WIDTH_M, high - 0.03, high), grey, FRAME)]
        if rng.random() < 0.6
        else []
    )
    left = 2.75 if c.back == "glass with door" else 3.2
    joints = [1.5, left, left + 0.9, 4.9] if c.back == "glass with door" else [1.6, 3.2, 4.8]
    out += [PaintedRectangle(BACK, (x - thin, x + thin, 0.0, high), grey, FRAME) for x in joints]
    for x in joints:
        out += [
            PaintedRectangle(BACK, (x - 0.05, x + 0.05, z, z + 0.09), grey, FRAME) for z in (0.25, high - 0.4)
        ]
    if c.back == "glass with door":
        out.append(PaintedRectangle(BACK, (left + 0.8, left + 0.84, 0.95, 1.2), grey, FRAME))
        out.append(
            PaintedRectangle(
                BACK,
                (left, left + 0.9, dim.SINGLES.door_height.value_m - 0.02, dim.SINGLES.door_height.value_m),
                grey,
                FRAME,
            )
        )
    return out


def _adverts(rng: np.random.Generator, c: FilmConditions, tin_m: float) -> list[PaintedRectangle]:
    """Return made-up notices: blocks of made-up letters on tin, walls and floor."""
    count = {"none": 0, "some": int(rng.integers(2, 5)), "many": int(rng.integers(6, 13))}[c.adverts]
    places = (
        (FRONT, (0.2, 6.0), (0.07, 0.08), (0.8, 1.8), (tin_m - 0.2, tin_m - 0.18)),
        (FRONT, (0.3, 4.2), (2.0, 3.4), (0.8, 2.2), (0.3, 0.9)),
        (LEFT, (0.5, 6.5), (1.0, 2.1), (0.8, 2.0), (0.3, 0.8)),
        (RIGHT, (0.5, 6.5), (1.0, 2.1), (0.8, 2.0), (0.3, 0.8)),
        (FLOOR, (0.4, 4.0), (0.5, 4.0), (0.8, 2.4), (0.4, 1.2)),
        (FLOOR, (0.5, 4.2), (7.4, 8.6), (0.6, 1.6), (0.3, 0.8)),
    )
    out = []
    for _ in range(count):
        surface, s, t, wide, high = places[int(rng.integers(0, len(places)))]
        a, b = between(rng, s), between(rng, t)
        across = min(between(rng, wide), (dim.WIDTH_M if surface in {FRONT, FLOOR} else 8.5) - a - 0.1)
        span = (a, a + across, b, b + between(rng, high))
        ground = (0.8, 0.8, 0.8) if rng.random() < 0.3 else _any_bright(rng)
        out.append(
            PaintedRectangle(surface, span, ground, ADVERT, _any_bright(rng), int(rng.integers(0, 9999)))
        )
    return out


def _wall_door(rng: np.random.Generator, walls: Colour) -> list[PaintedRectangle]:
    """Return, at times, a door painted like the wall, in a side wall near the back."""
    if rng.random() > 0.2:
        return []
    side, y = int(rng.choice([LEFT, RIGHT])), between(rng, (8.0, 8.7))
    rim, leaf = varied(rng, walls, 0.3), varied(rng, walls, 0.1)
    return [
        PaintedRectangle(side, (y, y + 0.86, 0.0, 2.06), rim),
        PaintedRectangle(side, (y + 0.03, y + 0.83, 0.02, 2.03), leaf),
        PaintedRectangle(side, (y + 0.06, y + 0.12, 0.98, 1.04), (0.3, 0.3, 0.3)),
    ]


def draw_court(rng: np.random.Generator, c: FilmConditions) -> CourtScene:
    """Return a court as the conditions name it."""
    shade, _, shine = c.floor.partition(" ")
    shine = shine or "painted"
    floor = varied(rng, _PAINTS[int(rng.integers(0, len(_PAINTS)))] if shade == "painted" else _FLOORS[shade])
    glass = c.wall == "glass"
    walls = varied(rng, (0.78, 0.77, 0.74), 0.05)
    if c.wall == "tinted plaster":
        walls = varied(rng, _TINTS[int(rng.integers(0, len(_TINTS)))])
    line: Colour = varied(rng, _LINES[int(rng.choice(len(_LINES), p=[0.5, 0.15, 0.1, 0.08, 0.07, 0.1]))])
    floor_line = line
    if glass or (shade in {"dark", "painted"} and rng.random() < 0.5):
        floor_line = varied(rng, (0.8, 0.8, 0.78)) if rng.random() < 0.7 else (0.7, 0.6, 0.05)
        line = floor_line if glass else line  # nobody paints a pale line on pale plaster
    tin_m = dim.TIN_M["tour" if glass and rng.random() < 0.5 else "standard"]
    height = between(rng, (5.7, 7.4))
    back_high = between(rng, (2.13, 2.9)) if c.back != "plaster" else between(rng, (2.2, 2.6))
    lines = (
        racketball_like_lines(line)
        if c.kind == "court of other lines"
        else singles_lines(line, floor_line, _any_bright(rng) if rng.random() < 0.6 else walls, tin_m)
    )
    painted = [*_adverts(rng, c, tin_m), *lines, *_fittings(rng, c, back_high)]
    if not glass:
        painted = [*_wall_door(rng, walls), *painted]
    return CourtScene(
        floor=floor,
        walls=walls if not glass else (0.3, 0.3, 0.3),
        ceiling=varied(rng, (0.5, 0.5, 0.48), 0.4),
        hall=varied(rng, (0.05, 0.05, 0.055) if glass else (0.16, 0.15, 0.14), 0.4),
        line=line,
        glass_walls=glass,
        back_glass=c.back != "plaster",
        back_height_m=back_high,
        court_height_m=height,
        glass_top_m=between(rng, (4.65, 5.0)),
        glass_tint=varied(rng, (0.85, 0.9, 0.88), 0.05),
        floor_reflectance=between(rng, _SHINE[shine]),
        floor_roughness=between(rng, _ROUGH[shine]),
        glass_reflectance=between(rng, (0.06, 0.14)),
        veil=between(rng, (0.0, 0.05)) if c.back != "plaster" else 0.0,
        plank_m=0.0 if shade == "painted" else float(rng.choice([0.05, 0.07, 0.09, 0.12])),
        plank_contrast=between(rng, (0.08, 0.5)),
        mark_density=between(rng, (0.4, 0.9)) if c.wall == "marked plaster" else between(rng, (0.0, 0.25)),
        panel_m=float(rng.choice([1.0, 1.2, 1.22])) if c.wall == "panels" else 0.0,
        panel_contrast=between(rng, (0.05, 0.3)),
        seed=int(rng.integers(1, 30000)),
        hall_floor_m=0.0,
        ambient=between(rng, (0.3, 0.6)),
        side_lines=c.kind != "court of other lines",
        back_line=False,
        lamps=_lamps(rng, c, 8.5 if glass else height),
        painted=tuple(painted),
        other_courts=c.kind == "two courts in view",
        no_court=c.kind == "no court",
    )


def draw_camera(
    rng: np.random.Generator, c: FilmConditions, court: CourtScene
) -> tuple[CourtScene, FilmCamera]:
    """Return the camera in its place, and the court with the floor of the hall or gallery it stands on."""
    wide, high = (int(n) for n in c.size.split("x"))
    view = math.radians(between(rng, _LENS_DEG[c.lens]))
    k1 = between(rng, (-0.09, 0.02)) if c.lens == "90 to 110 degrees" else between(rng, (-0.06, 0.05))
    k2 = between(rng, (0.0, 0.012))
    focal = focal_for(view, wide, k1, k2)
    if c.shape == "portrait":
        wide, high = high, wide
    across = math.atan(0.5 * wide / focal)
    x, aim = dim.WIDTH_M / 2 + float(rng.normal(0.0, 0.25)), dim.WIDTH_M / 2 + float(rng.normal(0.0, 0.2))
    if c.place.startswith("behind"):
        y = float(np.clip(3.2 / math.tan(across) - between(rng, (1.2, 2.4)), 0.35, 6.0))
        z = (
            between(rng, (0.95, 1.5))
            if c.place == "behind, low"
            else between(rng, (1.5, max(1.6, court.back_height_m - 0.2)))
        )
        if c.place == "behind, to one side":
            x += float(rng.choice([-1.0, 1.0])) * between(rng, (0.8, 2.0))
        target, floor = (aim, 3.0, between(rng, (0.9, 1.5))), 0.0
    else:
        y, z = between(rng, (0.15, 1.1)), between(rng, (3.0, 4.6))
        if c.place == "above, to one side":
            x += float(rng.choice([-1.0, 1.0])) * between(rng, (0.8, 2.0))
        if c.place == "above, corner":
            x, aim = float(rng.choice([0.4, dim.WIDTH_M - 0.4])), dim.WIDTH_M / 2
        target, floor = (
            (aim, between(rng, (3.8, 5.0)), 0.4),
            0.0 if court.glass_walls else z - between(rng, (1.3, 1.6)),
        )
    if c.kind == "two courts in view":
        x = dim.WIDTH_M + between(rng, (-1.2, 1.0))
        target = (x, 2.0, 1.0)
    way = (target[0] - x, -(dim.LENGTH_M + y) + target[1], target[2] - z)
    yaw = math.atan2(way[0], -way[1])
    pitch = math.atan2(way[2], math.hypot(way[0], way[1]))
    roll = float(rng.normal(0.0, math.radians(1.0)))
    camera = FilmCamera((x, dim.LENGTH_M + y, z), yaw, pitch, roll, wide, high, focal, k1, k2)
    return replace(court, hall_floor_m=floor), camera
