"""Textures of the court's faces: floor, walls, tin, ceiling, back glass; everything ASSUMED."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from goodlength.court import dimensions as court
from goodlength.synthetic.recordings.training_films.random_court_camera_and_codec_settings import FilmSettings

Picture = NDArray[np.float32]
TEXELS_M = 80
HEIGHT_M = 5.7
ASSUMED_FLOOR_TINTS = (
    (1.0, 0.80, 0.56),
    (1.0, 0.74, 0.50),
    (0.96, 0.86, 0.70),
    (1.0, 0.70, 0.42),
    (0.9, 0.9, 0.88),
)
ASSUMED_WALL_TINTS = ((1.0, 0.99, 0.96), (0.97, 0.98, 1.0), (1.0, 0.96, 0.88), (0.94, 0.97, 0.93))
ASSUMED_LINE_COLOURS = (
    (0.55, 0.03, 0.04),
    (0.40, 0.02, 0.05),
    (0.65, 0.10, 0.05),
    (0.05, 0.08, 0.35),
    (0.02, 0.02, 0.02),
)


@dataclass(frozen=True)
class FaceTextures:
    """Textures in linear reflectance by face, with what glass walls let through (same shape, one channel)."""

    colour: dict[str, Picture]
    through: dict[str, Picture]


def smooth_noise(
    rng: np.random.Generator, rows: int, columns: int, cells: int, aspect: float = 1.0
) -> Picture:
    """Return smooth noise between about -1 and 1, `cells` over the width."""
    small = rng.uniform(-1, 1, (max(2, round(cells * aspect * rows / columns)) + 2, cells + 2))
    return np.asarray(cv2.resize(small.astype(np.float32), (columns, rows), interpolation=cv2.INTER_CUBIC))


def _rows(width_m: float, height_m: float) -> tuple[int, int]:
    return round(height_m * TEXELS_M), round(width_m * TEXELS_M)


def _band(texture: Picture, low_m: float, high_m: float, colour: tuple[float, ...] | Picture) -> None:
    """Paint a horizontal band of a wall between two heights; row 0 is at the floor."""
    texture[round(low_m * TEXELS_M) : round(high_m * TEXELS_M)] = colour


def draw_faces(rng: np.random.Generator, settings: FilmSettings) -> FaceTextures:
    """Return the textures of one court."""
    line = np.array(ASSUMED_LINE_COLOURS[rng.integers(len(ASSUMED_LINE_COLOURS))], np.float32)
    tint = np.array(ASSUMED_WALL_TINTS[rng.integers(len(ASSUMED_WALL_TINTS))], np.float32)
    glass = settings.walls == "glass"
    tint = tint * rng.uniform(0.62, 0.86) if not glass else tint * 0.06
    if glass:
        line = np.array((0.85, 0.85, 0.8), np.float32)
    faces = {"floor": _floor(rng, settings, line), "front": _front(rng, settings, tint, line)}
    through = {"floor": np.zeros(faces["floor"].shape[:2], np.float32)}
    through["front"] = _glass_part(faces["front"], tint, glass)
    through["front"][: round(court.SINGLES.tin.value_m * TEXELS_M)] = 0  # a tin as dark as the glass is solid
    for name in ("left", "right"):
        faces[name] = _side(rng, settings, tint, line)
        through[name] = _glass_part(faces[name], tint, glass)
    faces["ceiling"] = np.full((*_rows(court.WIDTH_M, court.LENGTH_M), 3), rng.uniform(0.15, 0.6), np.float32)
    through["ceiling"] = np.zeros(faces["ceiling"].shape[:2], np.float32)
    return FaceTextures(faces, through)


def _glass_part(texture: Picture, tint: Picture, glass: bool) -> Picture:
    """Return what is let through: much of it where the wall is bare."""
    if not glass:
        return np.zeros(texture.shape[:2], np.float32)
    bare = np.abs(texture - tint).max(2) < 0.06
    return np.where(bare, np.float32(0.85), np.float32(0))


def _floor(rng: np.random.Generator, settings: FilmSettings, line: Picture) -> Picture:
    """Return planks along the court with joints, wear and the lines."""
    rows, columns = _rows(court.WIDTH_M, court.LENGTH_M)
    tint = np.array(ASSUMED_FLOOR_TINTS[rng.integers(len(ASSUMED_FLOOR_TINTS))], np.float32)
    wide = int(rng.integers(4, 11))
    tone = np.ones((rows, columns), np.float32)
    contrast = float(rng.uniform(0.02, 0.13))
    for begin in range(0, columns, wide):
        cuts = np.sort(rng.integers(0, rows, 5))
        for piece in np.split(np.arange(rows), cuts):
            tone[piece, begin : begin + wide] *= 1 + contrast * float(rng.normal())
        tone[:, begin] *= 1 - float(rng.uniform(0, 0.12))
    tone *= 1 + 0.05 * smooth_noise(rng, rows, columns, 200, 0.03)
    tone *= 1 + 0.06 * smooth_noise(rng, rows, columns, 5)
    out = settings.floor * tone[..., None] * tint
    _smudge(rng, out, round(60 * settings.marks), 0.35)
    floor_lines(out, line)
    return out


def floor_lines(texture: Picture, line: Picture) -> None:
    """Paint short line, half-court line and boxes; row 0 lies at the front wall."""

    def paint(x0: float, x1: float, y0: float, y1: float) -> None:
        texture[round(y0 * TEXELS_M) : round(y1 * TEXELS_M), round(x0 * TEXELS_M) : round(x1 * TEXELS_M)] = (
            line
        )

    front, rear, box, width = court.SHORT_LINE_FRONT_M, court.SHORT_LINE_REAR_M, court.BOX_M, court.WIDTH_M
    wide = court.LINE_M
    paint(0, width, front, rear)
    paint(court.HALF_COURT_LEFT_M, court.HALF_COURT_RIGHT_M, rear, court.LENGTH_M)
    for inner, outer, wall in ((box, box + wide, 0.0), (width - box - wide, width - box, width)):
        paint(inner, outer, rear, court.BOX_REAR_M + wide)
        paint(min(wall, inner), max(wall, outer), court.BOX_REAR_M, court.BOX_REAR_M + wide)


def _smudge(rng: np.random.Generator, texture: Picture, count: int, strength: float) -> None:
    """Darken a texture by round marks of balls and streaks of shoes."""
    rows, columns = texture.shape[:2]
    mask = np.zeros((rows, columns), np.float32)
    for _ in range(count):
        at = (int(rng.integers(columns)), int(rows * rng.beta(1.2, 2.0)))
        axes = (int(rng.integers(1, 3)), int(rng.integers(1, 4)))
        cv2.ellipse(mask, at, axes, float(rng.uniform(0, 180)), 0, 360, float(rng.uniform(0.2, 1)), -1)
    texture *= 1 - strength * cv2.GaussianBlur(mask, (0, 0), 1.0)[..., None]


def _wall(rng: np.random.Generator, settings: FilmSettings, tint: Picture, width_m: float) -> Picture:
    rows, columns = _rows(width_m, HEIGHT_M)
    tone = 1 + 0.03 * smooth_noise(rng, rows, columns, 6) + 0.015 * smooth_noise(rng, rows, columns, 120)
    out = np.asarray(tone[..., None] * tint, np.float32)
    if settings.walls != "plaster":
        step = round(TEXELS_M * float(rng.uniform(1.1, 1.6)))
        out[:, step // 2 :: step] *= 0.72
        if settings.walls == "panels":
            out[round(2.4 * TEXELS_M) :: round(2.4 * TEXELS_M)] *= 0.8
    if settings.walls != "glass":
        _smudge(rng, out, round(500 * settings.marks), 0.6)
    return out


def _front(rng: np.random.Generator, settings: FilmSettings, tint: Picture, line: Picture) -> Picture:
    out = _wall(rng, settings, tint, court.WIDTH_M)
    if settings.adverts:
        _advert(rng, out, (0.75, 1.45), float(rng.uniform(1.2, 5.2)), 1.5)
    tin = np.array(
        rng.choice([[0.03, 0.03, 0.03], [0.45, 0.04, 0.05], [0.5, 0.5, 0.5], [0.05, 0.1, 0.3]]), np.float32
    )
    _band(out, 0, court.SINGLES.tin.value_m, tin)
    if settings.adverts:
        for x in (1.2, 3.2, 5.2):
            _advert(rng, out, (0.08, 0.38), x, 1.5)
    _band(out, court.SINGLES.tin.value_m - 0.05, court.SINGLES.tin.value_m, line)
    _band(out, court.SERVICE_LINE_M, court.SERVICE_LINE_TOP_M, line)
    _band(out, court.FRONT_OUT_M, court.FRONT_OUT_M + court.LINE_M, line)
    return out


def _side(rng: np.random.Generator, settings: FilmSettings, tint: Picture, line: Picture) -> Picture:
    """Return a side wall; column 0 lies at the front wall."""
    out = _wall(rng, settings, tint, court.LENGTH_M)
    if settings.adverts and rng.random() < 0.6:
        _advert(rng, out, (0.5, 1.1), float(rng.uniform(1.5, 7)), 1.8)
    columns = np.arange(out.shape[1])
    low = court.FRONT_OUT_M - (court.FRONT_OUT_M - court.BACK_OUT_M) * columns / (court.LENGTH_M * TEXELS_M)
    rows = np.arange(out.shape[0])[:, None] / TEXELS_M
    above, below = (rows - low) * TEXELS_M + 0.5, (low + court.SIDE_LINE_TALL_M - rows) * TEXELS_M + 0.5
    cover = (above.clip(0, 1) * below.clip(0, 1))[..., None].astype(np.float32)
    return np.asarray(out * (1 - cover) + line * cover, np.float32)


def _advert(
    rng: np.random.Generator, texture: Picture, heights_m: tuple[float, float], x_m: float, wide_m: float
) -> None:
    """Paint a plate with blocks that look like letters."""
    top, bottom = round(heights_m[0] * TEXELS_M), round(heights_m[1] * TEXELS_M)
    left, right = round((x_m - wide_m / 2) * TEXELS_M), round((x_m + wide_m / 2) * TEXELS_M)
    plate = texture[top:bottom, max(0, left) : right]
    plate[:] = rng.uniform(0.02, 0.8, 3)
    ink = rng.uniform(0.02, 0.9, 3)
    rows, columns = plate.shape[:2]
    if rows < 8:
        return
    step = max(5, rows // 2)
    for begin in range(4, columns - step, step):
        letter = plate[rows // 4 : 3 * rows // 4, begin : begin + step - 2]
        letter[np.asarray(cv2.resize((rng.random((4, 3)) < 0.6).astype(np.uint8), letter.shape[1::-1],
                                     interpolation=cv2.INTER_NEAREST)) > 0] = ink  # fmt: skip


def draw_glass(rng: np.random.Generator, door: bool) -> Picture:
    """Return the back glass: gain, added light, nothing; row 0 lies at the floor, column 0 at the left."""
    rows, columns = _rows(court.WIDTH_M, court.BACK_OUT_M)
    out = np.zeros((rows, columns, 3), np.float32)
    dirt = np.clip(smooth_noise(rng, rows, columns, 24), 0, 1) * float(rng.uniform(0, 0.07))
    out[..., 0] = float(rng.uniform(0.86, 0.97)) - dirt
    glare = np.clip(smooth_noise(rng, rows, columns, 4), 0.2, 1) - 0.2
    out[..., 1] = 0.3 * dirt + glare * float(rng.choice([0.0, rng.uniform(0, 0.08)]))
    joints = [round(x * TEXELS_M) for x in (court.WIDTH_M / 3, 2 * court.WIDTH_M / 3)]
    if door:
        joints += [round((3.2 - 0.45) * TEXELS_M), round((3.2 + 0.45) * TEXELS_M)]
    for column in joints:
        out[:, column : column + 2] = (0.25, 0.05, 0)
    out[-4:] = (0.05, float(rng.uniform(0.02, 0.4)), 0)
    return out
