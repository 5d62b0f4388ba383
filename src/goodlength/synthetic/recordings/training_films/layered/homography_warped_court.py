"""Empty court from flat pictures of its faces, warped by homographies and bent by the lens; all ASSUMED."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from goodlength.court import dimensions as court
from goodlength.synthetic.recordings.training_films.frame_composition import EmptyCourtPicture
from goodlength.synthetic.recordings.training_films.radial_lens_projection_and_warp_maps import PhoneCamera
from goodlength.synthetic.recordings.training_films.random_court_camera_and_codec_settings import FilmSettings

Picture = NDArray[np.float32]
Points = NDArray[np.float64]
DOTS_M = 64
ASSUMED_TALL_M = 6.1
ASSUMED_LIGHT_LOSS = (0.25, 0.6)  # from the brightest place of a face to its darkest
W, L = court.WIDTH_M, court.LENGTH_M
# Face: a corner, directions of columns and rows
PLANES = {
    "ceiling": ((0, 0, ASSUMED_TALL_M), (1, 0, 0), (0, 1, 0)),
    "front": ((0, 0, 0), (1, 0, 0), (0, 0, 1)),
    "left": ((0, 0, 0), (0, 1, 0), (0, 0, 1)),
    "right": ((W, 0, 0), (0, 1, 0), (0, 0, 1)),
    "floor": ((0, 0, 0), (1, 0, 0), (0, 1, 0)),
}


def _soft(rng: np.random.Generator, shape: tuple[int, int], spots: int, low: float, high: float) -> Picture:
    """Return blurred light between two levels: bright pools at random places."""
    out = np.zeros((32, 32), np.float32)
    for _ in range(spots):
        cv2.circle(out, tuple(int(c) for c in rng.integers(3, 29, 2)), int(rng.integers(2, 7)), 1.0, -1)
    out = np.asarray(cv2.GaussianBlur(out, (0, 0), 5.0), np.float32)
    out = low + (high - low) * out / max(float(out.max()), 1e-3)
    return np.asarray(cv2.resize(out, shape[::-1], interpolation=cv2.INTER_CUBIC), np.float32)


def _colour(rng: np.random.Generator, level: float, spread: float) -> Picture:
    return np.asarray(level * (1 + rng.uniform(-spread, spread, 3)), np.float32)


class LayeredCourt:
    """The court of one film of this family."""

    def __init__(self, rng: np.random.Generator, settings: FilmSettings) -> None:
        self.settings = settings
        self.line = _colour(
            rng, float(rng.choice([0.03, 0.22, 0.6])), 0.9 if rng.random() < 0.8 else 0.1
        ).clip(0, 1)
        self.wall = _colour(rng, float(rng.uniform(0.45, 0.85)), 0.06)
        self.glassy = settings.walls == "glass"
        self.outside = _colour(rng, float(rng.uniform(0.02, 0.2)), 0.3)
        self.faces = {name: self._face(rng, name) for name in PLANES}
        self.through = {name: self._see_through(name) for name in PLANES}
        self.glass_loss, self.glass_glow = float(rng.uniform(0.02, 0.12)), float(rng.uniform(0, 0.06))
        self.joints_m = np.sort(rng.uniform(0.6, 5.8, int(rng.integers(1, 5))))
        self.glow = _soft(rng, (64, 64), 3, 0.0, 1.0)

    # ---- flat pictures ---------------------------------------------------------------------------------

    def _face(self, rng: np.random.Generator, name: str) -> Picture:
        wide = L if name in ("left", "right") else W
        tall = L if name in ("floor", "ceiling") else ASSUMED_TALL_M
        shape = (round(tall * DOTS_M), round(wide * DOTS_M))
        light = _soft(rng, shape, int(rng.integers(2, 9)), 1 - float(rng.uniform(*ASSUMED_LIGHT_LOSS)), 1.15)
        if name == "ceiling":
            return self._ceiling(rng, shape)
        if name == "floor":
            out = self._floor(rng, shape)
        else:
            ground = self.wall if not self.glassy else self.outside
            out = np.ones((*shape, 3), np.float32) * ground
            grain = rng.normal(0, 0.02, shape).astype(np.float32)
            out *= 1 + np.asarray(cv2.GaussianBlur(grain, (0, 0), 1.2))[..., None]
            if self.settings.walls == "panels":
                step = round(DOTS_M * float(rng.uniform(0.9, 2.2)))
                out[:, ::step] *= 0.8
            self._ball_marks(rng, out)
            self._wall_lines(rng, out, name)
        return np.asarray(cv2.GaussianBlur(out * light[..., None], (0, 0), 0.6), np.float32)

    def _ceiling(self, rng: np.random.Generator, shape: tuple[int, int]) -> Picture:
        out = np.ones((*shape, 3), np.float32) * _colour(rng, float(rng.uniform(0.1, 0.7)), 0.05)
        for k in range(self.settings.lamps):
            row = round(shape[0] * (k + 0.5) / self.settings.lamps)
            middle = (shape[1] // 2 + int(rng.integers(-40, 40)), row)
            cv2.ellipse(
                out, middle, (int(rng.integers(20, 110)), int(rng.integers(8, 16))), 0, 0, 360, (3.0,) * 3, -1
            )
        return out

    def _floor(self, rng: np.random.Generator, shape: tuple[int, int]) -> Picture:
        """Return boards as long noise, worn in the middle, with lines."""
        tint = np.array([1.0, rng.uniform(0.72, 0.95), rng.uniform(0.45, 0.9)], np.float32)
        grain = cv2.resize(rng.normal(0, 1, (9, shape[1] // 7)).astype(np.float32), shape[::-1])
        fine = cv2.resize(rng.normal(0, 1, (shape[0] // 30, shape[1])).astype(np.float32), shape[::-1])
        out = self.settings.floor * tint * (1 + 0.07 * grain + 0.025 * fine)[..., None]
        worn = _soft(rng, shape, 2, 0.0, 1.0)
        out = out * (1 + 0.12 * float(rng.uniform(-1, 1)) * worn)[..., None]
        for _ in range(round(90 * self.settings.marks)):
            begin = rng.integers(0, shape[::-1])
            end = begin + rng.normal(0, 9, 2)
            cv2.line(
                out, _dot(begin), _dot(end), tuple(float(c) for c in 0.7 * self.settings.floor * tint), 1
            )
        for x0, x1, y0, y1 in _floor_lines():
            out[round(y0 * DOTS_M) : round(y1 * DOTS_M), round(x0 * DOTS_M) : round(x1 * DOTS_M)] = self.line
        return np.asarray(out.clip(0.01, 1), np.float32)

    def _ball_marks(self, rng: np.random.Generator, out: Picture) -> None:
        if self.glassy:
            return
        dark = np.ones(out.shape[:2], np.float32)
        for _ in range(round(700 * self.settings.marks)):
            at = (int(rng.integers(out.shape[1])), int(rng.gamma(2.2, 70)))
            cv2.circle(dark, at, int(rng.integers(1, 3)), float(rng.uniform(0.3, 0.9)), -1)
        out *= np.asarray(cv2.GaussianBlur(dark, (0, 0), 0.9))[..., None]

    def _wall_lines(self, rng: np.random.Generator, out: Picture, name: str) -> None:
        def heights(low: float, high: float) -> slice:
            return slice(round(low * DOTS_M), round(high * DOTS_M))

        if self.settings.adverts:
            left = int(rng.integers(0, out.shape[1] - 150))
            plate = out[heights(0.7, 1.3), left : left + 140]
            plate[:] = rng.uniform(0.05, 0.7, 3)
            for k in range(6):
                cv2.circle(
                    plate, (15 + 22 * k, 19), int(rng.integers(4, 10)), tuple(rng.uniform(0, 0.9, 3)), 2
                )
        if name == "front":
            out[heights(0, court.SINGLES.tin.value_m)] = _colour(rng, float(rng.uniform(0.02, 0.5)), 0.5)
            out[heights(court.SINGLES.tin.value_m - 0.05, court.SINGLES.tin.value_m)] = self.line
            out[heights(court.SERVICE_LINE_M, court.SERVICE_LINE_TOP_M)] = self.line
            out[heights(court.FRONT_OUT_M, court.FRONT_OUT_M + court.LINE_M)] = self.line
            return
        thick, shift = court.SIDE_LINE_TALL_M, 8
        ends = [
            (0.0, court.FRONT_OUT_M),
            (L, court.BACK_OUT_M),
            (L, court.BACK_OUT_M + thick),
            (0.0, court.FRONT_OUT_M + thick),
        ]
        corners = np.round(np.array(ends) * DOTS_M * 2**shift).astype(np.int32)
        cv2.fillConvexPoly(out, corners, tuple(float(c) for c in self.line), cv2.LINE_8, shift)

    def _see_through(self, name: str) -> Picture:
        face = self.faces[name]
        if not self.glassy or name in ("floor", "ceiling"):
            return np.zeros(face.shape[:2], np.float32)
        near = np.abs(face - self.outside).max(2) < 0.12 + 0.5 * float(self.outside.max())
        share = np.where(near, np.float32(0.8), np.float32(0))
        if name == "front":
            share[: round(court.SINGLES.tin.value_m * DOTS_M)] = 0
        return share

    # ---- warping ---------------------------------------------------------------------------------------

    def plate(self, camera: PhoneCamera) -> EmptyCourtPicture:
        """Return the empty court."""
        bend = LensBend(camera)
        lit = bend.warp(self.faces, self.outside, list(PLANES), upside_down=False)
        above = [name for name in PLANES if name != "floor"]
        mirror = bend.warp(self.faces, self.outside, above, upside_down=True)
        mirror = np.asarray(cv2.blur(mirror, (1, 1 + 2 * round(2 * self.settings.mirror_blur))), np.float32)
        ones = {name: np.zeros(face.shape[:2], np.float32) for name, face in self.faces.items()}
        ones["floor"][:] = 1
        nothing = np.zeros(1, np.float32)
        floor = bend.warp(ones, nothing, list(PLANES), upside_down=False)
        through = bend.warp(self.through, nothing, list(PLANES), upside_down=False)
        gain, light = self._glass(camera)
        share = floor * np.float32(self.settings.mirror_share)
        return EmptyCourtPicture(lit, mirror, share, floor, through, gain, light)

    def _glass(self, camera: PhoneCamera) -> tuple[Picture, Picture]:
        """Return the back glass: an even loss, a glow, joints and a top edge drawn as lines."""
        width, height = camera.size
        gain = np.ones((height, width), np.float32)
        light = np.zeros((height, width, 3), np.float32)
        if camera.place_m[1] < L + 0.1:
            return gain, light
        x, top = np.linspace(0, W, 60), np.full(60, court.BACK_OUT_M)
        rim = np.concatenate([np.column_stack([x, np.full(60, L), top]), [[W, L, 0.0], [0, L, 0.0]]])
        pixels, _ = camera.project(rim)
        pane = np.zeros((height, width), np.float32)
        cv2.fillPoly(pane, [np.round(pixels.clip(-9000, 9000)).astype(np.int32)], 1.0)
        gain -= np.float32(self.glass_loss) * pane
        light += (pane * cv2.resize(self.glow, (width, height)) * self.glass_glow)[..., None]
        thick = max(1, round(0.012 * camera.focal_px / max(0.3, camera.place_m[1] - L)))
        for joint in self.joints_m:
            z = np.linspace(0, court.BACK_OUT_M, 30)
            self._rule(camera, gain, np.column_stack([np.full(30, joint), np.full(30, L), z]), thick)
        self._rule(camera, gain, rim[:60], 2 * thick)
        return gain, light

    def _rule(self, camera: PhoneCamera, gain: Picture, places: Points, thick: int) -> None:
        pixels, _ = camera.project(places)
        cv2.polylines(gain, [np.round(pixels.clip(-9000, 9000)).astype(np.int32)], False, 0.3, thick)


class LensBend:
    """Warps flat pictures into a camera's view: a homography each, then the lens by a map."""

    def __init__(self, camera: PhoneCamera) -> None:
        self.camera = camera
        width, height = camera.size
        u, v = np.meshgrid(np.arange(width) + 0.5, np.arange(height) + 0.5)
        flat = camera.flat_directions(np.stack([u, v], axis=-1))
        self.scale = 1.4 * camera.focal_px
        low, high = flat.reshape(-1, 2).min(0), flat.reshape(-1, 2).max(0)
        self.shift = -low * self.scale
        self.canvas = tuple(int(c) for c in np.ceil((high - low) * self.scale).clip(1, 4000))
        lens = (flat * self.scale + self.shift - 0.5).astype(np.float32)
        self.lens = (np.ascontiguousarray(lens[..., 0]), np.ascontiguousarray(lens[..., 1]))

    def warp(
        self, faces: dict[str, Picture], ground: Picture, names: list[str], upside_down: bool
    ) -> Picture:
        """Return the faces over a ground, upside down as a floor mirrors them if asked for."""
        channels = len(ground)
        out = np.ones((self.canvas[1], self.canvas[0], channels), np.float32) * ground
        for name in names:
            face = faces[name].reshape(*faces[name].shape[:2], -1)
            matrix = self.homography(name, upside_down)
            cover = np.ones(face.shape[:2], np.float32)
            there = cv2.warpPerspective(cover, matrix, self.canvas, flags=cv2.INTER_LINEAR) > 0.5
            seen = cv2.warpPerspective(
                face, matrix, self.canvas, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
            ).reshape(*out.shape)
            out[there] = seen[there]
        bent = cv2.remap(np.asarray(out, np.float32), *self.lens, cv2.INTER_LINEAR)
        return np.asarray(bent, np.float32)

    def homography(self, name: str, upside_down: bool) -> Points:
        """Return the matrix from dots of a face to dots of the canvas."""
        turn = np.array([1, 1, -1]) if upside_down else np.ones(3)
        corner, across, along = (np.array(part, float) * turn for part in PLANES[name])
        columns = np.column_stack([across / DOTS_M, along / DOTS_M, corner - self.camera.place_m])
        columns[:, 2] += 0.5 * (columns[:, 0] + columns[:, 1])
        to_canvas = np.array(
            [[self.scale, 0, self.shift[0] - 0.5], [0, self.scale, self.shift[1] - 0.5], [0, 0, 1.0]]
        )
        return np.asarray(to_canvas @ self.camera.rotation @ columns)


def _dot(place: NDArray[np.floating] | NDArray[np.integer]) -> tuple[int, int]:
    return int(place[0]), int(place[1])


def _floor_lines() -> list[tuple[float, float, float, float]]:
    """Return the floor's lines as left, right, front and back edges in metres."""
    rear, box, wide = court.SHORT_LINE_REAR_M, court.BOX_M, court.LINE_M
    deep = court.BOX_REAR_M
    return [
        (0, W, court.SHORT_LINE_FRONT_M, rear),
        (court.HALF_COURT_LEFT_M, court.HALF_COURT_RIGHT_M, rear, L),
        (box, box + wide, rear, deep + wide),
        (W - box - wide, W - box, rear, deep + wide),
        (0, box + wide, deep, deep + wide),
        (W - box - wide, W, deep, deep + wide),
    ]
