"""People and their rackets as meshes with colours, drawn anew: skin, hair, cloth, shoes."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from goodlength.synthetic.recordings.test_family_films.bodies import mesh_rasterising as at
from goodlength.synthetic.recordings.test_family_films.bodies.implicit_surface_body_mesh import (
    BodyMesh,
    BodyShape,
    build_body,
)
from goodlength.synthetic.recordings.test_family_films.bodies.person_motion_synthesis import (
    RACKET_M,
    BodyMotion,
)
from goodlength.synthetic.recordings.test_family_films.court_picture.court_materials_and_lamps import Colour

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
_SKINS = (
    (0.62, 0.43, 0.33),
    (0.55, 0.36, 0.26),
    (0.45, 0.28, 0.19),
    (0.3, 0.17, 0.11),
    (0.17, 0.09, 0.06),
    (0.1, 0.055, 0.04),
)
_HAIRS = (
    (0.02, 0.016, 0.014),
    (0.05, 0.03, 0.02),
    (0.12, 0.07, 0.04),
    (0.3, 0.2, 0.09),
    (0.28, 0.27, 0.26),
    (0.15, 0.05, 0.02),
)
WHITE: Colour = (0.78, 0.78, 0.77)
BLACK: Colour = (0.025, 0.025, 0.03)


@dataclass(frozen=True)
class RigidMesh:
    """A mesh without bones: vertices, normals, triangles, labels."""

    vertices: Floats
    normals: Floats
    triangles: Ints
    labels: Floats


@dataclass(frozen=True)
class FilmPerson:
    """One person of a film: mesh, colours, movement; `role` says who it is, `layer` where it is drawn.

    Roles: "player", "spectator", "passer", "coach". Layers: "inside", "beyond" (through a glass wall),
    "front" (between the camera and the court). A person is shown from `from_s` to `until_s`.
    """

    name: str
    role: str
    layer: str
    mesh: BodyMesh
    appearance: Floats
    motion: BodyMotion
    right_handed: bool = True
    racket_appearance: Floats | None = None
    from_s: float = 0.0
    until_s: float = 1e9


def any_colour(rng: np.random.Generator) -> Colour:
    """Return a colour of cloth: one of strong, dark or pale ones, in linear light."""
    hue, deep = rng.random(3) ** 1.2, float(rng.choice([0.06, 0.25, 0.6]))
    mixed = hue / (hue.max() + 1e-6) * deep
    return (float(mixed[0]), float(mixed[1]), float(mixed[2]))


def draw_shape(rng: np.random.Generator, child: bool = False) -> BodyShape:
    """Return a body: about half women's and half men's proportions, or a child's."""
    woman = bool(rng.random() < 0.45)
    stature = float(rng.normal(1.66, 0.06) if woman else rng.normal(1.78, 0.07))
    if child:
        stature = float(rng.uniform(1.12, 1.42))
    shape = BodyShape(
        stature_m=min(max(stature, 1.1), 2.0),
        build=float(np.clip(rng.normal(0.98 if woman else 1.03, 0.08), 0.85, 1.3)),
        hips=float(rng.uniform(1.04, 1.16) if woman else rng.uniform(0.94, 1.04)),
        chest=float(rng.uniform(0.88, 0.96) if woman else rng.uniform(0.97, 1.08)),
        belly=float(max(0.0, rng.normal(0.1, 0.5))),
        shirt_loose_m=float(rng.uniform(0.012, 0.035)),
        sleeve=float(rng.choice([0.3, 0.55, 0.75, 0.95], p=[0.15, 0.5, 0.25, 0.1])),
        hem=float(rng.uniform(0.455, 0.485)),
        shorts_loose_m=float(rng.uniform(0.02, 0.05)),
        shorts_length=float(rng.uniform(0.45, 0.85)),
        hair=str(rng.choice(["short", "long", "tail", "bald"], p=[0.55, 0.1, 0.22, 0.13])),
        cap=bool(rng.random() < 0.06),
    )
    if woman and rng.random() < 0.4:
        return replace(shape, skirt=True, shorts_length=float(rng.uniform(0.4, 0.6)))
    return shape


def draw_appearance(
    rng: np.random.Generator, stature_m: float, shirt: Colour, lower: Colour, pattern: int
) -> Floats:
    """Return a person's colours as the rasteriser takes them."""
    appearance = np.zeros(at.APPEARANCE_SIZE)
    tone = _SKINS[int(rng.choice(len(_SKINS), p=[0.25, 0.25, 0.2, 0.15, 0.1, 0.05]))]
    appearance[at.SKIN_RGB : at.SKIN_RGB + 3] = np.array(tone) * rng.uniform(0.9, 1.1)
    appearance[at.SHIRT_RGB : at.SHIRT_RGB + 3] = shirt
    appearance[at.SECOND_RGB : at.SECOND_RGB + 3] = any_colour(rng)
    appearance[at.LOWER_RGB : at.LOWER_RGB + 3] = lower
    hair = _HAIRS[int(rng.integers(0, 3 if tone[0] < 0.35 else len(_HAIRS)))]
    appearance[at.HAIR_RGB : at.HAIR_RGB + 3] = hair
    shoe = WHITE if rng.random() < 0.5 else any_colour(rng)
    appearance[at.SHOE_RGB : at.SHOE_RGB + 3] = shoe
    appearance[at.SOCK_RGB : at.SOCK_RGB + 3] = WHITE if rng.random() < 0.75 else BLACK
    appearance[at.BAND_RGB : at.BAND_RGB + 3] = WHITE if rng.random() < 0.5 else any_colour(rng)
    appearance[at.PATTERN], appearance[at.STATURE] = pattern, stature_m
    appearance[at.BAND], appearance[at.CREASE_SEED] = float(rng.random() < 0.2), int(rng.integers(0, 10000))
    appearance[at.SOCK_TOP], appearance[at.CREASES] = (
        float(rng.uniform(0.06, 0.14)),
        float(rng.uniform(0.08, 0.3)),
    )
    return appearance


def draw_visitor(rng: np.random.Generator, cells: int = 56) -> tuple[BodyMesh, Floats]:
    """Return the mesh and colours of somebody in everyday clothes."""
    shape = replace(draw_shape(rng), shorts_length=1.9, sleeve=float(rng.uniform(0.9, 1.6)), skirt=False)
    appearance = draw_appearance(
        rng, shape.stature_m, any_colour(rng), BLACK if rng.random() < 0.5 else any_colour(rng), 0
    )
    return build_body(shape, cells), appearance


def build_racket() -> RigidMesh:
    """Return a racket along x from the hand: shaft, ring of the head, strings; y is the face's normal."""
    parts: list[tuple[Floats, Floats, Ints]] = []
    head, long, wide = RACKET_M - 0.165, 0.15, 0.098
    parts.append(_tube([np.array([x, 0.0, 0.0]) for x in (-0.1, 0.0, 0.1, 0.18)], 0.013, False))
    parts.append(_tube([np.array([x, 0.0, 0.0]) for x in (0.1, 0.2, head - long)], 0.008, False))
    ring = [
        np.array([head - long * math.cos(a), 0.0, wide * math.sin(a)])
        for a in np.linspace(0.0, 2.0 * math.pi, 29)[:-1]
    ]
    parts.append(_tube(ring, 0.008, True))
    frames = sum(len(p[0]) for p in parts)
    centre = np.array([[head, 0.0, 0.0]])
    fan = np.concatenate([centre, np.stack(ring)])
    index = np.arange(1, len(ring) + 1)
    front = np.stack([np.zeros_like(index), index, np.roll(index, -1)], axis=1)
    both = np.concatenate([front, front[:, ::-1]]).astype(np.int32)
    parts.append((fan, np.tile([0.0, 1.0, 0.0], (len(fan), 1)), both))
    vertices, normals, triangles, at_ = [], [], [], 0
    for v, m, t in parts:
        vertices.append(v)
        normals.append(m)
        triangles.append(t + at_)
        at_ += len(v)
    labels = np.zeros((at_, 4))
    labels[frames:, 0] = 1.0
    labels[: len(parts[0][0]), 1] = 1.0
    return RigidMesh(
        np.concatenate(vertices), np.concatenate(normals), np.concatenate(triangles).astype(np.int32), labels
    )


def _tube(line: list[Floats], radius: float, closed: bool, sides: int = 6) -> tuple[Floats, Floats, Ints]:
    points = np.stack(line)
    ways = np.roll(points, -1, 0) - np.roll(points, 1, 0) if closed else np.gradient(points, axis=0)
    ways /= np.linalg.norm(ways, axis=1, keepdims=True)
    across = np.tile([0.0, 1.0, 0.0], (len(points), 1))
    third = np.cross(ways, across)
    angles = np.linspace(0.0, 2.0 * math.pi, sides + 1)[:-1]
    normals = np.stack([math.cos(a) * across + math.sin(a) * third for a in angles], axis=1)
    vertices = points[:, None] + radius * normals
    count = len(points)
    triangles = []
    for i in range(count if closed else count - 1):
        k = (i + 1) % count
        for s in range(sides):
            n = (s + 1) % sides
            a, b, c, d = i * sides + s, i * sides + n, k * sides + n, k * sides + s
            triangles += [(a, c, b), (a, d, c), (a, b, c), (a, c, d)]
    return vertices.reshape(-1, 3), normals.reshape(-1, 3), np.array(triangles, dtype=np.int32)


def racket_appearance(rng: np.random.Generator) -> Floats:
    """Return a racket's colours: frame, grip, strings."""
    appearance = np.zeros(at.APPEARANCE_SIZE)
    appearance[at.KIND] = at.RACKET
    appearance[at.SHIRT_RGB : at.SHIRT_RGB + 3] = any_colour(rng)
    appearance[at.SECOND_RGB : at.SECOND_RGB + 3] = BLACK if rng.random() < 0.5 else any_colour(rng)
    appearance[at.STATURE] = 1.0
    return appearance
