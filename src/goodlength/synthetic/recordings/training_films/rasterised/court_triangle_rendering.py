"""Empty court by filled triangles: faces in small quads, lamps, and a second pass mirrored in the floor."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from goodlength.court import dimensions as court
from goodlength.synthetic.recordings.training_films.frame_composition import EmptyCourtPicture
from goodlength.synthetic.recordings.training_films.radial_lens_projection_and_warp_maps import PhoneCamera
from goodlength.synthetic.recordings.training_films.random_court_camera_and_codec_settings import FilmSettings
from goodlength.synthetic.recordings.training_films.rasterised.court_surface_textures import (
    HEIGHT_M,
    TEXELS_M,
    FaceTextures,
    draw_faces,
    draw_glass,
    smooth_noise,
)
from goodlength.synthetic.recordings.training_films.rasterised.triangle_rasterisation import fill_triangles

Picture = NDArray[np.float32]
Points = NDArray[np.float64]
QUAD_M, FINER, NEAREST_M = 0.11, 2, 0.1
W, L, H = court.WIDTH_M, court.LENGTH_M, HEIGHT_M
# Face: corner at texel (0, 0), directions of columns and rows, their lengths, inward normal
FACES: dict[str, tuple[NDArray[Any], NDArray[Any], NDArray[Any], float, float, NDArray[Any]]] = {
    "floor": (np.zeros(3), np.array([1.0, 0, 0]), np.array([0, 1.0, 0]), W, L, np.array([0, 0, 1.0])),
    "ceiling": (np.array([0, 0, H]), np.array([1, 0, 0]), np.array([0, 1, 0]), W, L, np.array([0, 0, -1])),
    "front": (np.zeros(3), np.array([1.0, 0, 0]), np.array([0, 0, 1.0]), W, H, np.array([0, 1.0, 0])),
    "left": (np.zeros(3), np.array([0, 1.0, 0]), np.array([0, 0, 1.0]), L, H, np.array([1.0, 0, 0])),
    "right": (np.array([W, 0, 0]), np.array([0, 1, 0]), np.array([0, 0, 1]), L, H, np.array([-1, 0, 0])),
}  # fmt: skip


@dataclass(frozen=True)
class CourtLamps:
    """Lamps under the ceiling: places (n, 3), sizes (n, 2), strengths (n,), and light from everywhere."""

    places_m: Points
    sizes_m: Points
    strengths: Points
    ambient: float

    def shade(self, places_m: Points, normals: Points) -> Points:
        """Return the light on surfaces, about 1 on a floor's middle; shapes (n, 3) and (n,)."""
        out = self.ambient * (0.8 + 0.2 * normals[:, 2])
        for lamp, strength in zip(self.places_m, self.strengths, strict=True):
            way = lamp - places_m
            squared = np.maximum((way**2).sum(1), 0.05)
            facing = (way * normals).sum(1).clip(0) * way[:, 2].clip(0)
            out = out + strength * facing / squared**2
        return np.asarray(out)


def draw_lamps(rng: np.random.Generator, count: int) -> CourtLamps:
    """Return lamps in rows across or along the court."""
    along = rng.random() < 0.5
    places = np.array([
        [(1.6 if i % 2 else 4.8) if along else rng.uniform(2.6, 3.8), 0.8 + 8 * (i + 0.5) / count, H - 0.02]
        for i in range(count)
    ])  # fmt: skip
    size = rng.uniform([0.2, 0.9], [0.4, 1.6]) if along else rng.uniform([0.9, 0.2], [1.6, 0.4])
    strengths = rng.uniform(0.7, 1.3, count)
    ambient = float(rng.uniform(0.3, 0.6))
    lamps = CourtLamps(places, np.tile(size, (count, 1)), strengths, 0.0)
    middle = float(lamps.shade(np.array([[3.2, 5.0, 0.0]]), np.array([[0, 0, 1.0]]))[0])
    return CourtLamps(places, lamps.sizes_m, strengths * (1 - ambient) / middle, ambient)


class RasterCourt:
    """The court of one film; `plate` fills it as a camera sees it."""

    def __init__(self, rng: np.random.Generator, settings: FilmSettings) -> None:
        self.settings = settings
        self.lamps = draw_lamps(rng, settings.lamps)
        self.faces: FaceTextures = draw_faces(rng, settings)
        self.glass = draw_glass(rng, settings.door)
        self.hall_seed = int(rng.integers(2**31))
        self.hall = rng.uniform(0.01, 0.16) * rng.uniform(0.8, 1.2, 3)
        self.brightness = float(rng.uniform(0.28, 0.5))
        self.gain = 1.0
        ceiling = self.faces.colour["ceiling"]
        for place, size in zip(self.lamps.places_m, self.lamps.sizes_m, strict=True):
            low = ((place[:2] - size / 2) * TEXELS_M).astype(int).clip(0)
            high = ((place[:2] + size / 2) * TEXELS_M).astype(int)
            ceiling[low[1] : high[1], low[0] : high[0]] = 3.5

    def plate(self, camera: PhoneCamera) -> EmptyCourtPicture:
        """Return the empty court; the first plate sets the exposure."""
        lit = self._pass(camera, self.faces.colour, mirrored=False, lit=True)
        if self.gain == 1.0:
            usual, bright = (float(share) for share in np.percentile(lit.mean(2), [60, 92]))
            self.gain = min(self.brightness / max(usual, 0.02), 0.72 / max(bright, 0.02))
        mirror = self._pass(camera, self.faces.colour, mirrored=True, lit=True)
        blur = self.settings.mirror_blur * max(camera.size) / 640
        mirror = np.asarray(cv2.GaussianBlur(mirror, (0, 0), max(0.3, blur)), np.float32)
        ones = {name: np.zeros_like(face) for name, face in self.faces.colour.items()}
        ones["floor"][..., 0] = 1
        for name, through in self.faces.through.items():
            ones[name][..., 1] = through
        masks = self._pass(camera, ones, mirrored=False, lit=False)
        floor = np.ascontiguousarray(masks[..., 0])
        gain, light = self._back_glass(camera)
        return EmptyCourtPicture(
            lit=lit * np.float32(self.gain),
            mirror=mirror * np.float32(self.gain),
            mirror_share=floor * np.float32(self.settings.mirror_share),
            floor=floor,
            through=np.ascontiguousarray(masks[..., 1]),
            glass_gain=gain,
            glass_light=light,
        )

    def _pass(self, camera: PhoneCamera, textures: dict[str, Picture], mirrored: bool, lit: bool) -> Picture:
        """Fill all faces at twice the size; return the picture at its size."""
        width, height = camera.size[0] * FINER, camera.size[1] * FINER
        rng = np.random.default_rng(self.hall_seed)
        colour = np.zeros((height, width, 3), np.float32)
        if lit:
            tone = 1 + 0.6 * smooth_noise(rng, height, width, 8)
            colour[:] = np.clip(tone, 0, None)[..., None] * self.hall
        depth = np.full((height, width), np.inf, np.float32)
        for name, texture in textures.items():
            if mirrored and name == "floor":
                continue
            shade = 1.0 if name == "ceiling" or not lit else None
            vertices, triangles = self._quads(camera, name, mirrored, shade)
            fill_triangles(colour, depth, vertices, triangles, texture[None], NEAREST_M)
        return np.asarray(cv2.resize(colour, camera.size, interpolation=cv2.INTER_AREA))

    def _quads(
        self, camera: PhoneCamera, name: str, mirrored: bool, shade: float | None
    ) -> tuple[Picture, NDArray[np.int32]]:
        """Return a face in small quads, cut into triangles."""
        corner, across, along, wide, long, normal = FACES[name]
        columns, rows = int(np.ceil(wide / QUAD_M)), int(np.ceil(long / QUAD_M))
        x = np.linspace(0, wide, columns + 1)
        y = np.linspace(0, long, rows + 1)
        grid_x, grid_y = (g.ravel() for g in np.meshgrid(x, y))
        places = corner + grid_x[:, None] * across + grid_y[:, None] * along
        light = (
            self.lamps.shade(places, np.broadcast_to(normal, places.shape))
            if shade is None
            else np.full(len(places), shade)
        )
        return project_quads(camera, places * [1, 1, -1 if mirrored else 1], light, (grid_x, grid_y), columns)

    def _back_glass(self, camera: PhoneCamera) -> tuple[Picture, Picture]:
        """Return what the back glass takes and adds."""
        height, width = camera.size[1], camera.size[0]
        gain, light = np.ones((height, width), np.float32), np.zeros((height, width, 3), np.float32)
        if camera.place_m[1] < L + 0.1:
            return gain, light
        columns, rows = 40, 20
        x, z = np.linspace(0, W, columns + 1), np.linspace(0, court.BACK_OUT_M, rows + 1)
        grid_x, grid_z = (g.ravel() for g in np.meshgrid(x, z))
        places = np.column_stack([grid_x, np.full(len(grid_x), L), grid_z])
        vertices, triangles = project_quads(camera, places, np.ones(len(places)), (grid_x, grid_z), columns)
        colour = np.zeros((height * FINER, width * FINER, 3), np.float32)
        depth = np.full(colour.shape[:2], np.inf, np.float32)
        colour[..., 0] = 1
        fill_triangles(colour, depth, vertices, triangles, self.glass[None], NEAREST_M)
        small = cv2.resize(colour, camera.size, interpolation=cv2.INTER_AREA)
        light[:] = small[..., 1:2]
        return np.ascontiguousarray(small[..., 0]), light


def project_quads(
    camera: PhoneCamera, places: Points, light: Points, texels_m: tuple[Points, Points], columns: int
) -> tuple[Picture, NDArray[np.int32]]:
    """Return vertices and triangles of a grid of quads for `fill_triangles`, at twice the size."""
    pixels, distance = camera.project(places)
    texel_x = np.minimum(texels_m[0] * TEXELS_M, texels_m[0].max() * TEXELS_M - 0.51)
    texel_y = np.minimum(texels_m[1] * TEXELS_M, texels_m[1].max() * TEXELS_M - 0.51)
    vertices = np.column_stack([pixels * FINER, distance, light, texel_x, texel_y]).astype(np.float32)
    stride = columns + 1
    first = np.arange(len(places) - stride)
    first = first[first % stride != columns]
    upper = np.column_stack([first, first + 1, first + stride])
    lower = np.column_stack([first + 1, first + stride + 1, first + stride])
    corners = np.concatenate([upper, lower])
    whole = np.column_stack([corners, np.zeros(len(corners), int)])
    return vertices, whole.astype(np.int32)
