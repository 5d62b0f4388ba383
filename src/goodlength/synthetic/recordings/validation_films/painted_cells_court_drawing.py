"""Empty court painted cell by cell: every face cut into small patches of one tone each; all ASSUMED."""

from __future__ import annotations

from collections.abc import Iterator

import cv2
import numpy as np
from numpy.typing import NDArray

from goodlength.court import dimensions as court
from goodlength.synthetic.recordings.training_films.frame_composition import EmptyCourtPicture
from goodlength.synthetic.recordings.training_films.radial_lens_projection_and_warp_maps import PhoneCamera
from goodlength.synthetic.recordings.training_films.random_court_camera_and_codec_settings import FilmSettings

Picture = NDArray[np.float32]
Points = NDArray[np.float64]
CELL_M, OVERSIZE, BITS = 0.16, 2, 5
ASSUMED_ROOF_M = 5.9
W, L = court.WIDTH_M, court.LENGTH_M
ASSUMED_WOODS = (
    (0.62, 0.47, 0.31),
    (0.55, 0.36, 0.20),
    (0.70, 0.58, 0.42),
    (0.35, 0.24, 0.16),
    (0.45, 0.46, 0.48),
)
ASSUMED_PAINTS = ((0.83, 0.83, 0.80), (0.72, 0.76, 0.80), (0.80, 0.74, 0.66), (0.60, 0.63, 0.60))
ASSUMED_LINE_PAINTS = ((0.48, 0.05, 0.03), (0.30, 0.03, 0.08), (0.04, 0.10, 0.30), (0.03, 0.03, 0.03))


class CellCourt:
    """The court of one film of this family."""

    def __init__(self, rng: np.random.Generator, settings: FilmSettings) -> None:
        self.settings, self.seed = settings, int(rng.integers(2**31))
        self.line = np.array(ASSUMED_LINE_PAINTS[rng.integers(len(ASSUMED_LINE_PAINTS))])
        self.wood = np.array(ASSUMED_WOODS[rng.integers(len(ASSUMED_WOODS))])
        self.wood = self.wood * settings.floor / self.wood.mean()
        self.paint = np.array(ASSUMED_PAINTS[rng.integers(len(ASSUMED_PAINTS))])
        self.glassy = settings.walls == "glass"
        if self.glassy:
            self.paint, self.line = np.full(3, rng.uniform(0.02, 0.09)), np.array([0.9, 0.9, 0.9])
        self.tin = rng.uniform(0.02, 0.5, 3)
        self.lamps = np.column_stack(
            [
                rng.uniform(1, 5.4, settings.lamps),
                np.linspace(1.2, 8.6, settings.lamps),
                np.full(settings.lamps, 5.8),
            ]
        )
        self.everywhere = float(rng.uniform(0.35, 0.7))
        self.surround = rng.uniform(0.01, 0.12, 3)
        self.exposure = float(rng.uniform(0.75, 1.15))
        self.pane_loss, self.pane_gleam = float(rng.uniform(0.03, 0.16)), float(rng.uniform(0, 0.05))
        self.pane_joints_m = (float(rng.uniform(1.5, 2.6)), float(rng.uniform(3.8, 5.0)))

    def light_at(self, places_m: Points) -> Points:
        """Return the light at places of shape (n, 3): from everywhere, and from lamps by distance."""
        away = ((places_m[:, None] - self.lamps[None]) ** 2).sum(2)
        near = (14.0 / np.maximum(away, 1.5)).mean(1)
        return np.asarray(self.exposure * (self.everywhere + (1 - self.everywhere) * near))

    # ---- painting --------------------------------------------------------------------------------------

    def plate(self, camera: PhoneCamera) -> EmptyCourtPicture:
        """Return the empty court."""
        lit = self._painted(camera, upside_down=False)
        mirror = self._painted(camera, upside_down=True)
        size = 0.6 + self.settings.mirror_blur * camera.size[0] / 640
        mirror = np.asarray(cv2.GaussianBlur(mirror, (0, 0), size, sigmaY=2 * size), np.float32)
        floor, through = self._masks(camera)
        gain, light = self._pane(camera)
        return EmptyCourtPicture(lit, mirror, self._mirror_share(camera, floor), floor, through, gain, light)

    def _mirror_share(self, camera: PhoneCamera, floor: Picture) -> Picture:
        """Return the mirroring: more where the floor is seen flat, the mean over it as asked."""
        rows = np.arange(camera.size[1], dtype=np.float32)
        weight = floor.sum(1)
        if weight.sum() < 1:
            return np.zeros_like(floor)
        shape = 1.25 - 0.5 * (rows - rows.min()) / max(1.0, float(np.ptp(rows)))
        shape = shape / float((shape * weight).sum() / weight.sum())
        return np.asarray(floor * (self.settings.mirror_share * shape)[:, None], np.float32)

    def _painted(self, camera: PhoneCamera, upside_down: bool) -> Picture:
        canvas = np.zeros((camera.size[1] * OVERSIZE, camera.size[0] * OVERSIZE, 3), np.float32)
        canvas[:] = self.surround
        rng = np.random.default_rng(self.seed)
        turn = np.array([1, 1, -1]) if upside_down else np.ones(3)
        for corner, across, along, wide, tall, colour in self._patches(rng):
            steps_x, steps_y = max(1, round(wide / CELL_M)), max(1, round(tall / CELL_M))
            x, y = np.linspace(0, wide, steps_x + 1), np.linspace(0, tall, steps_y + 1)
            grid = corner + x[None, :, None] * across + y[:, None, None] * along
            middles = 0.25 * (grid[:-1, :-1] + grid[1:, :-1] + grid[:-1, 1:] + grid[1:, 1:])
            tone = self.light_at(middles.reshape(-1, 3)) if colour.max() < 1.5 else np.ones(steps_x * steps_y)
            tones = tone[:, None] * colour * (1 + 0.025 * rng.standard_normal((len(tone), 1)))
            fill_cells(camera, canvas, grid * turn, tones)
        return np.asarray(cv2.resize(canvas, camera.size, interpolation=cv2.INTER_AREA), np.float32)

    def _patches(
        self, rng: np.random.Generator
    ) -> Iterator[tuple[Points, Points, Points, float, float, Points]]:
        """Yield what is painted, in order: corner, two directions, their lengths, colour."""
        ex, ey, ez = np.eye(3)
        yield np.array([0, 0, ASSUMED_ROOF_M]), ex, ey, W, L, np.full(3, 0.35)
        for lamp in self.lamps:
            yield lamp - np.array([0.5, 0.2, 0]), ex, ey, 1.0, 0.4, np.full(3, 2.6)
        yield np.zeros(3), ex, ez, W, ASSUMED_ROOF_M, self.paint
        yield np.zeros(3), ey, ez, L, ASSUMED_ROOF_M, 0.93 * self.paint
        yield np.array([W, 0, 0]), ey, ez, L, ASSUMED_ROOF_M, 0.97 * self.paint
        yield from self._on_walls(rng, ex, ey, ez)
        board = float(rng.uniform(0.12, 0.3))
        for x in np.arange(0, W, board):
            wide = min(board, W - x)
            yield np.array([x, 0, 0]), ex, ey, wide, L, self.wood * (1 + 0.07 * rng.standard_normal())
        for _ in range(round(50 * self.settings.marks)):
            at = np.array([*rng.uniform([0.3, 1.0], [6.0, 9.4]), 0])
            yield at, ex, ey, float(rng.uniform(0.02, 0.05)), float(rng.uniform(0.05, 0.3)), 0.6 * self.wood
        for x0, x1, y0, y1 in self._floor_bands():
            yield np.array([x0, y0, 0]), ex, ey, x1 - x0, y1 - y0, self.line

    def _on_walls(
        self, rng: np.random.Generator, ex: Points, ey: Points, ez: Points
    ) -> Iterator[tuple[Points, Points, Points, float, float, Points]]:
        """Yield panels' joints, ball marks, adverts, door, lines and the tin."""
        if self.settings.walls != "plaster":
            for y in np.arange(1.0, L, float(rng.uniform(1.3, 2.1))):
                for x in (0.0, W):
                    yield np.array([x, y, 0]), ey, ez, 0.015, ASSUMED_ROOF_M, 0.75 * self.paint
        if not self.glassy:
            for _ in range(round(260 * self.settings.marks)):
                size, dark = float(rng.uniform(0.02, 0.055)), self.paint * rng.uniform(0.35, 0.8)
                height = float(rng.gamma(2.0, 0.8))
                if rng.random() < 0.5:
                    yield np.array([rng.uniform(0.1, 6.2), 0, height]), ex, ez, size, size, dark
                else:
                    yield (
                        np.array([rng.choice([0.0, W]), rng.uniform(0.2, 9.5), height]),
                        ey,
                        ez,
                        size,
                        size,
                        dark,
                    )
        if self.settings.adverts:
            for x in rng.uniform(0.4, 4.5, 2):
                back, ink = rng.uniform(0.05, 0.8, 3), rng.uniform(0.05, 0.8, 3)
                yield np.array([x, 0, 0.8]), ex, ez, 1.5, 0.5, back
                for k in range(7):
                    tall = float(rng.uniform(0.1, 0.34))
                    yield np.array([x + 0.1 + 0.19 * k, 0, 0.9]), ex, ez, 0.11, tall, ink
        tin, line = court.SINGLES.tin.value_m, court.LINE_M
        yield np.zeros(3), ex, ez, W, tin, self.tin
        for low in (tin - 0.05, court.SERVICE_LINE_M, court.FRONT_OUT_M):
            yield np.array([0, 0, low]), ex, ez, W, line, self.line
        slope = np.array([0, L, court.BACK_OUT_M - court.FRONT_OUT_M])
        length = float(np.linalg.norm(slope))
        for x in (0.0, W):
            yield (
                np.array([x, 0, court.FRONT_OUT_M]),
                slope / length,
                ez,
                length,
                court.SIDE_LINE_TALL_M,
                self.line,
            )

    @staticmethod
    def _floor_bands() -> list[tuple[float, float, float, float]]:
        front, rear, deep, line = (
            court.SHORT_LINE_FRONT_M,
            court.SHORT_LINE_REAR_M,
            court.BOX_REAR_M,
            court.LINE_M,
        )
        bands = [(0, W, front, rear), (court.HALF_COURT_LEFT_M, court.HALF_COURT_RIGHT_M, rear, L)]
        for inner in (court.BOX_M, W - court.BOX_M - line):
            bands.append((inner, inner + line, rear, deep + line))
        return [
            *bands,
            (0, court.BOX_M + line, deep, deep + line),
            (W - court.BOX_M - line, W, deep, deep + line),
        ]

    def _masks(self, camera: PhoneCamera) -> tuple[Picture, Picture]:
        """Return the floor's cover and what glass walls let through."""
        ex, ey, ez = np.eye(3)
        canvas = np.zeros((camera.size[1] * OVERSIZE, camera.size[0] * OVERSIZE, 3), np.float32)
        parts = [(np.zeros(3), ex, ey, W, L, np.array([1.0, 0, 0]))]
        if self.glassy:
            clear, solid, tin = np.array([0, 0.82, 0]), np.zeros(3), court.SINGLES.tin.value_m
            parts += [
                (np.zeros(3), ex, ez, W, ASSUMED_ROOF_M, clear),
                (np.zeros(3), ey, ez, L, ASSUMED_ROOF_M, clear),
            ]
            parts += [
                (np.array([W, 0, 0]), ey, ez, L, ASSUMED_ROOF_M, clear),
                (np.zeros(3), ex, ez, W, tin, solid),
            ]
            parts += [
                (np.array([0, 0, z]), ex, ez, W, court.LINE_M, solid)
                for z in (court.SERVICE_LINE_M, court.FRONT_OUT_M)
            ]
        for corner, across, along, wide, tall, value in parts:
            x, y = (
                np.linspace(0, wide, round(wide / CELL_M) + 1),
                np.linspace(0, tall, max(2, round(tall / CELL_M) + 1)),
            )
            grid = corner + x[None, :, None] * across + y[:, None, None] * along
            fill_cells(camera, canvas, grid, np.tile(value, ((len(x) - 1) * (len(y) - 1), 1)))
        small = cv2.resize(canvas, camera.size, interpolation=cv2.INTER_AREA)
        return np.ascontiguousarray(small[..., 0]), np.ascontiguousarray(small[..., 1])

    def _pane(self, camera: PhoneCamera) -> tuple[Picture, Picture]:
        """Return the back glass: an even loss and gleam, joints and a rail."""
        height, width = camera.size[1], camera.size[0]
        if camera.place_m[1] < L + 0.1:
            return np.ones((height, width), np.float32), np.zeros((height, width, 3), np.float32)
        canvas = np.zeros((height * OVERSIZE, width * OVERSIZE, 3), np.float32)
        ex, _, ez = np.eye(3)
        parts = [(0.0, 0.0, W, court.BACK_OUT_M, (self.pane_loss, self.pane_gleam, 0.0))]
        parts += [(x, 0.0, 0.012, court.BACK_OUT_M, (0.7, 0.02, 0)) for x in self.pane_joints_m]
        parts.append((0.0, court.BACK_OUT_M, W, 0.035, (0.9, 0.06, 0)))
        for left, low, wide, tall, value in parts:
            x, z = np.linspace(0, wide, max(2, round(wide / CELL_M) + 1)), np.linspace(0, tall, 12)
            grid = np.array([left, L, low]) + x[None, :, None] * ex + z[:, None, None] * ez
            fill_cells(camera, canvas, grid, np.tile(np.array(value), ((len(x) - 1) * 11, 1)))
        small = np.asarray(cv2.resize(canvas, camera.size, interpolation=cv2.INTER_AREA), np.float32)
        return np.ascontiguousarray(1 - small[..., 0]), np.repeat(small[..., 1:2], 3, axis=2)


def fill_cells(camera: PhoneCamera, canvas: Picture, grid: Points, values: Points) -> None:
    """Fill the cells of a grid of places (rows, columns, 3) with values (cells, 3), seen by a camera."""
    pixels, distance = camera.project(grid)
    fixed = np.round((pixels * OVERSIZE - 0.5) * 2**BITS).clip(-(2**24), 2**24).astype(np.int32)
    near = distance > 0.12
    columns = grid.shape[1] - 1
    for i in range(grid.shape[0] - 1):
        for j in range(columns):
            corners = [(i, j), (i, j + 1), (i + 1, j + 1), (i + 1, j)]
            if not all(near[corner] for corner in corners):
                continue
            polygon = np.array([fixed[corner] for corner in corners])
            cv2.fillConvexPoly(canvas, polygon, values[i * columns + j].tolist(), cv2.LINE_8, BITS)
