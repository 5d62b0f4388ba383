"""Compiled: the picture of the empty court from one camera, in the layers that moving things are set into.

Each pixel's rays go through the lens, the back wall's plane, the court and perhaps the hall. One ray more
follows the mirror of a shiny floor or a wall of glass. The layers are kept apart, so that a player hides the
wall but not the glass's veil, and replaces the floor's reflection by his own.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numba import njit
from numpy.typing import NDArray

from goodlength.court.dimensions import FRONT_OUT_M, LENGTH_M, SIDE_LINE_TALL_M, WIDTH_M
from goodlength.synthetic.recordings.test_family_films.court_picture import court_ray_shading as at
from goodlength.synthetic.recordings.test_family_films.court_picture.camera_pose_and_lens_projection import (
    FilmCamera,
    pixel_ray,
)
from goodlength.synthetic.recordings.test_family_films.court_picture.court_materials_and_lamps import (
    BACK,
    FLOOR,
    FRONT,
    HALL,
    HALL_FLOOR,
    LEFT,
    RIGHT,
    CourtScene,
)
from goodlength.synthetic.recordings.test_family_films.court_picture.court_ray_shading import (
    frame_at,
    hall_hit,
    hash01,
    inside_hit,
    plane_coordinates,
    smooth_noise,
    surface_light,
    through_back,
)

Floats = NDArray[np.float64]
Picture = NDArray[np.float32]
Triple = tuple[float, float, float]
Hit = tuple[int, float, float, float, float, bool]
GLASS_LETS = 0.88


@dataclass(frozen=True)
class CourtPlate:
    """The empty court's layers; pictures of shape (height, width, 3), linear light.

    `direct` is what matt surfaces send, `mirrored` what a mirror there shows (already weighted), `weight` the
    mirror's share, `veil` what the back glass adds, `passing` the share of light from behind the back
    wall's plane that reaches the camera. `surface` names what is seen, `place` where on it in its own
    metres (two numbers), `depth` the distance along the view to what stands before the court, else infinity.
    """

    direct: Picture
    mirrored: Picture
    weight: Picture
    veil: Picture
    passing: Picture
    surface: NDArray[np.int8]
    place: Picture
    depth: Picture


@njit(cache=True, error_model="numpy")
def into_court(
    p: Floats, rows: Floats, o: Triple, d: Triple
) -> tuple[int, Triple, float]:  # pragma: no cover - compiled
    """Return what a ray from the hall meets on its way (-1: it is in the court), where, and the light let by.

    -2 says that it passed beside a court of glass and never enters it.
    """
    ox, oy, oz = o
    dx, dy, dz = d
    if oy <= LENGTH_M:
        return -1, o, 1.0
    surface, far = hall_hit(p, ox, oy, oz, dx, dy, dz)
    if dy >= 0.0:
        return surface, (ox + far * dx, oy + far * dy, oz + far * dz), 1.0
    way = (LENGTH_M - oy) / dy
    if surface == HALL_FLOOR and far < way:
        return surface, (ox + far * dx, oy + far * dy, oz + far * dz), 1.0
    x, z = ox + way * dx, oz + way * dz
    kind, passing = through_back(p, rows, x, z)
    if kind == -1 and (x < 0.0 or x > WIDTH_M) and p[at.OTHER_COURTS] == 0.0:
        kind = -2
    return kind, (x, LENGTH_M, z), passing


@njit(cache=True, error_model="numpy")
def follow(
    p: Floats, rows: Floats, o: Triple, d: Triple
) -> tuple[int, Triple, float, int]:  # pragma: no cover
    """Follow a ray from inside the court: surface seen, its place, light let by, mirror met (or 0)."""
    far_surface, far = inside_hit(p, o[0], o[1], o[2], d[0], d[1], d[2])
    x, y, z = o[0] + far * d[0], o[1] + far * d[1], o[2] + far * d[2]
    passing, mirror = 1.0, far_surface if far_surface == FLOOR else -1
    glass = p[at.GLASS_WALLS] > 0.0 and far_surface in {LEFT, RIGHT, FRONT}
    if far_surface == BACK:
        glass = p[at.BACK_GLASS] > 0.0 or z > p[at.BACK_HIGH]
    if not glass:
        return far_surface, (x, y, z), passing, mirror
    s, t = plane_coordinates(far_surface, x, y, z)
    top = p[at.BACK_HIGH] if far_surface == BACK else p[at.GLASS_TOP]
    if z < top:
        on_line = FRONT_OUT_M - at.SLOPE * s
        slanted = far_surface in {LEFT, RIGHT} and on_line <= t <= on_line + SIDE_LINE_TALL_M
        painted = slanted or at.painted_albedo(p, rows, far_surface, s, t, (0.0, 0.0, 0.0))[1]
        if painted and far_surface != BACK:
            return far_surface, (x, y, z), passing, mirror
        if far_surface == BACK and frame_at(rows, BACK, s, t) >= 0:
            return far_surface, (x, y, z), passing, mirror
        passing, mirror = GLASS_LETS, far_surface
    surface, further = hall_hit(p, x + 1e-4 * d[0], y + 1e-4 * d[1], z, d[0], d[1], d[2])
    return surface, (x + further * d[0], y + further * d[1], z + further * d[2]), passing, mirror


@njit(cache=True, error_model="numpy")
def mirror_share(p: Floats, mirror: int, d: Triple) -> float:  # pragma: no cover - compiled
    """Return the share of light a mirror throws back, growing at grazing angles.

    The given reflectance holds at 60 degrees from the normal; the growth follows source: SCHLICK-1994.
    """
    if mirror == FLOOR:
        cosine, base = abs(d[2]), p[at.MIRROR]
    elif mirror == FRONT:
        cosine, base = abs(d[1]), p[at.GLASS_MIRROR]
    else:
        cosine, base = abs(d[0]), p[at.GLASS_MIRROR]
    return float(min(0.9, base * (1.0 + 8.0 * (1.0 - cosine) ** 5) / 1.25))


@njit(cache=True, error_model="numpy")
def mirrored_light(
    p: Floats, rows: Floats, lamps: Floats, mirror: int, q: Triple, d: Triple, jitter: Triple
) -> Triple:  # pragma: no cover - compiled
    """Return what a mirror at a place shows of the empty court."""
    dx, dy, dz = d
    if mirror == FLOOR:
        dx, dy, dz = dx + jitter[0], dy + jitter[1], -dz - jitter[2]
    elif mirror in {LEFT, RIGHT}:
        dx = -dx
    else:
        dy = -dy
    n = 1.0 / math.sqrt(dx * dx + dy * dy + dz * dz)
    dx, dy, dz = dx * n, dy * n, dz * n
    o = (min(max(q[0], 1e-3), WIDTH_M - 1e-3), min(max(q[1], 1e-3), LENGTH_M - 1e-3), max(q[2], 1e-3))
    surface, hit, passing, _ = follow(p, rows, o, (dx, dy, dz))
    r, g, b = surface_light(p, rows, lamps, surface, hit[0], hit[1], hit[2], False)
    return passing * r, passing * g, passing * b


@njit(cache=True, error_model="numpy")
def one_ray(
    p: Floats, rows: Floats, lamps: Floats, o: Triple, d: Triple, jitter: Triple
) -> tuple[Triple, Triple, float, float, float, int, Triple]:  # pragma: no cover - compiled
    """Return direct and mirrored light, mirror's share, veil, light let by, surface and place of one ray."""
    kind, entry, passing = into_court(p, rows, o, d)
    veil = 0.0
    if passing < 1.0:
        slanting = (1.0 - min(1.0, abs(d[1]))) ** 3
        dirt = smooth_noise(entry[0] * 3.0, entry[2] * 3.0, int(p[at.SEED]) + 61)
        lamp = hash01(math.floor(entry[0] / 0.9), math.floor(entry[2] / 0.25), int(p[at.SEED]) + 62)
        glare = 2.5 if lamp > 0.93 and entry[2] > 1.2 else 0.0
        veil = p[at.VEIL] * (0.5 + 0.6 * dirt + slanting + glare)
    if kind >= 0:
        light = surface_light(p, rows, lamps, kind, entry[0], entry[1], entry[2], True)
        return light, (0.0, 0.0, 0.0), 0.0, 0.0, 0.0, kind + 20, entry
    if kind == -2:
        surface, far = hall_hit(p, entry[0], entry[1], entry[2], d[0], d[1], d[2])
        q = (entry[0] + far * d[0], entry[1] + far * d[1], entry[2] + far * d[2])
        return (
            surface_light(p, rows, lamps, surface, q[0], q[1], q[2], False),
            (0.0, 0.0, 0.0),
            0.0,
            0.0,
            1.0,
            surface,
            q,
        )
    if p[at.OTHER_COURTS] > 0.0:
        wide = WIDTH_M + 0.3
        entry = (entry[0] - wide * math.floor(entry[0] / wide), entry[1], entry[2])
    start = (entry[0], min(entry[1], LENGTH_M - 1e-6), entry[2])
    surface, q, let, mirror = follow(p, rows, start, d)
    r, g, b = surface_light(p, rows, lamps, surface, q[0], q[1], q[2], False)
    if surface >= HALL - 1:
        r, g, b = r * p[at.TINT] * let, g * p[at.TINT + 1] * let, b * p[at.TINT + 2] * let
    share, shown = 0.0, (0.0, 0.0, 0.0)
    if mirror >= 0:
        share = mirror_share(p, mirror, d)
        if share > 0.002:
            mr, mg, mb = mirrored_light(p, rows, lamps, mirror, glass_place(mirror, start, d, q), d, jitter)
            shown = (mr * share * passing, mg * share * passing, mb * share * passing)
    return (
        (r * passing, g * passing, b * passing),
        shown,
        share * passing,
        veil,
        passing,
        mirror if mirror >= 0 else surface,
        glass_place(mirror, start, d, q),
    )


@njit(cache=True, error_model="numpy")
def glass_place(mirror: int, o: Triple, d: Triple, q: Triple) -> Triple:  # pragma: no cover - compiled
    """Return the place on the mirror, where the surface seen lies behind it."""
    if mirror == LEFT:
        way = -o[0] / d[0]
    elif mirror == RIGHT:
        way = (WIDTH_M - o[0]) / d[0]
    elif mirror == FRONT:
        way = -o[1] / d[1]
    else:
        return q
    return (o[0] + way * d[0], o[1] + way * d[1], o[2] + way * d[2])


@njit(cache=True, error_model="numpy")
def fill_plate(
    c: Floats,
    p: Floats,
    rows: Floats,
    lamps: Floats,
    samples: int,
    direct: Picture,
    mirrored: Picture,
    weight: Picture,
    veil: Picture,
    passing: Picture,
    surface: NDArray[np.int8],
    place: Picture,
    depth: Picture,
) -> None:  # pragma: no cover - compiled
    """Fill the layers; `samples` rays a pixel at places spread inside it."""
    high, wide = surface.shape
    o = (c[0], c[1], c[2])
    share = 1.0 / samples
    for v in range(high):
        for u in range(wide):
            for k in range(samples):
                du = (k + 0.5) * share - 0.5
                dv = ((k * 0.618034) % 1.0) + 0.5 * share - 0.5
                d = pixel_ray(c, u + du, v + dv)
                rough = p[at.ROUGH]
                jitter = (
                    rough * (hash01(u, v, 2 * k) - 0.5),
                    rough * (hash01(u, v, 2 * k + 1) - 0.5),
                    0.5 * rough * (hash01(v, u, k) - 0.5),
                )
                a, m, w, e, t, kind, q = one_ray(p, rows, lamps, o, d, jitter)
                for i in range(3):
                    direct[v, u, i] += share * a[i]
                    mirrored[v, u, i] += share * m[i]
                weight[v, u] += share * w
                veil[v, u] += share * e
                passing[v, u] += share * t
                if k == samples // 2:
                    known = kind - 20 if kind >= 20 else kind
                    surface[v, u] = known
                    s, r = plane_coordinates(known, q[0], q[1], q[2])
                    place[v, u, 0], place[v, u, 1] = s, r
                    depth[v, u] = np.inf
                    if kind >= 20:
                        depth[v, u] = (q[0] - o[0]) * c[9] + (q[1] - o[1]) * c[10] + (q[2] - o[2]) * c[11]


def render_plate(scene: CourtScene, camera: FilmCamera, samples: int = 5) -> CourtPlate:
    """Return the empty court as this camera sees it, with so many rays a pixel."""
    shape = (camera.height, camera.width)
    plate = CourtPlate(
        direct=np.zeros((*shape, 3), np.float32),
        mirrored=np.zeros((*shape, 3), np.float32),
        weight=np.zeros(shape, np.float32),
        veil=np.zeros(shape, np.float32),
        passing=np.zeros(shape, np.float32),
        surface=np.zeros(shape, np.int8),
        place=np.zeros((*shape, 2), np.float32),
        depth=np.zeros(shape, np.float32),
    )
    fill_plate(
        camera.packed,
        scene.parameters(),
        scene.painted_rows(),
        scene.lamp_rows(),
        samples,
        plate.direct,
        plate.mirrored,
        plate.weight,
        plate.veil,
        plate.passing,
        plate.surface,
        plate.place,
        plate.depth,
    )
    _smooth(plate, scene.floor_roughness, camera)
    return plate


def _smooth(plate: CourtPlate, roughness: float, camera: FilmCamera) -> None:
    """Spread what a rough floor mirrors: few rays a pixel would leave it grainy."""
    sigma = roughness * camera.focal_px / 25.0
    if sigma > 0.3:
        floor = (plate.surface == FLOOR)[..., None]
        spread = cv2.GaussianBlur(plate.mirrored, (0, 0), 0.7 * sigma, sigmaY=1.5 * sigma)
        np.copyto(plate.mirrored, spread, where=floor)
