"""Films frame by frame: poses at three moments of each exposure, meshes by depth, ball, shadows, layers."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from goodlength.court.dimensions import WIDTH_M
from goodlength.synthetic.recordings.test_family_films import frame_compositing as layers
from goodlength.synthetic.recordings.test_family_films.bodies import implicit_surface_body_mesh as body
from goodlength.synthetic.recordings.test_family_films.bodies.mesh_rasterising import (
    draw_triangles,
    gather_moment,
    moment_vertices,
)
from goodlength.synthetic.recordings.test_family_films.bodies.mesh_skinning_and_lighting import (
    BONE_ENDS,
    bone_frames,
    light_vertices,
    project_mirrored,
    skin,
)
from goodlength.synthetic.recordings.test_family_films.bodies.person_and_racket_meshes import (
    FilmPerson,
    build_racket,
)
from goodlength.synthetic.recordings.test_family_films.bodies.person_motion_synthesis import unit
from goodlength.synthetic.recordings.test_family_films.court_picture.camera_pose_and_lens_projection import (
    FilmCamera,
)
from goodlength.synthetic.recordings.test_family_films.court_picture.court_materials_and_lamps import (
    FLOOR,
    FRONT,
    LEFT,
    RIGHT,
)
from goodlength.synthetic.recordings.test_family_films.court_picture.empty_court_rendering import (
    CourtPlate,
    render_plate,
)
from goodlength.synthetic.recordings.test_family_films.depth_layer_and_posed_mesh_buffers import (
    MovingLayer,
    PosedMesh,
    seen_points,
    turned_plate,
)
from goodlength.synthetic.recordings.test_family_films.frame_ground_truth import (
    BallTruth,
    Box,
    FrameTruth,
    PersonTruth,
    marks_in,
)
from goodlength.synthetic.recordings.test_family_films.motion_blurred_ball import BallInFrame
from goodlength.synthetic.recordings.test_family_films.scene_description import FilmScene

Floats = NDArray[np.float64]
Picture = NDArray[np.float32]
FRONT_FACE = -1.0  # sign of the area of a triangle that faces the camera; a mirror turns it round
MARGIN_PX = 96  # a knocked camera looks at a wider plate
PIXELS_A_MOMENT = 2.5
THICK_M = 0.2  # a joint lies so deep in the body
_SPHERES = ((body.HEAD, 0.1), (body.NECK, 0.09), (body.CHEST, 0.17), (body.PELVIS, 0.16))
_LIMBS = (
    (body.L_SHOULDER, body.L_ELBOW, 0.05),
    (body.L_ELBOW, body.L_WRIST, 0.04),
    (body.L_HIP, body.L_KNEE, 0.085),
    (body.L_KNEE, body.L_ANKLE, 0.055),
    (body.L_ANKLE, body.L_TOE, 0.05),
)


@dataclass(frozen=True)
class _LayerMesh:
    """One mesh in one layer: its pixels at three moments, what hides it, which way its faces turn."""

    mesh: PosedMesh
    pixels: list[Picture]
    before: Picture
    turned: float


class FilmRenderer:
    """Renders a scene's frames in order of time."""

    def __init__(self, scene: FilmScene, plate_rays: int = 5) -> None:
        camera = scene.camera
        self.scene = scene
        self.rays = plate_rays
        self.layers = {
            name: MovingLayer.empty(camera.height, camera.width)
            for name in ("beyond", "mirror", "inside", "front")
        }
        self.shadow = np.ones(layers.SHADOW_SHAPE, np.float32)
        lamps = scene.court.lamp_rows()
        self.lamps = lamps[lamps[:, 5] > 0.0]
        self._racket = build_racket()
        poles = _rest_poles()
        self._rest = [bone_frames(p.mesh.joints, BONE_ENDS, poles) for p in scene.people]
        self._wide: CourtPlate | None = None
        self._plate: tuple[FilmCamera, CourtPlate] | None = None
        self.open = np.full((camera.height, camera.width), np.inf, np.float32)

    def frames(self, count: int, first: int = 0) -> Iterator[tuple[Picture, FrameTruth]]:
        """Yield the light on the sensor, shape (height, width, 3), and the truth, of frames in order."""
        for index in range(first, first + count):
            yield self.frame(index)

    def frame(self, index: int) -> tuple[Picture, FrameTruth]:
        """Return one frame's light and truth."""
        scene, t = self.scene, self.scene.timing
        start = index / t.frames_per_s
        moments = [start, start + 0.5 * t.span_s, start + t.span_s]
        cameras = [scene.camera_at(m) for m in moments]
        plate = self.plate_for(cameras)
        present = [n for n, p in enumerate(scene.people) if p.from_s <= moments[1] < p.until_s]
        posed = [mesh for n in present for mesh in self._posed(n, moments, cameras)]
        for layer in self.layers.values():
            layer.clear()
        ball = self._draw(posed, moments, cameras, plate)
        self._soften_mirror()
        self._shadows(present, moments[1], ball)
        people = tuple(self._person_truth(n, posed, moments, cameras[1], plate) for n in present)
        truth = FrameTruth(index, start + 0.5 * t.span_s, cameras[1], people, ball, marks_in(cameras[1]))
        return self._composed(plate, start), truth

    def _composed(self, plate: CourtPlate, start: float) -> Picture:
        scene, t = self.scene, self.scene.timing
        rows = start + t.readout_s * np.arange(scene.camera.height) / scene.camera.height
        gain = scene.light_at(rows + 0.5 * t.exposure_s).astype(np.float32)
        out = np.empty((scene.camera.height, scene.camera.width, 3), np.float32)
        beyond, mirror, inside, front = (
            self.layers[k].total for k in ("beyond", "mirror", "inside", "front")
        )
        layers.compose(
            plate.direct,
            plate.mirrored,
            plate.weight,
            plate.veil,
            plate.passing,
            plate.surface,
            plate.place,
            self.shadow,
            beyond,
            mirror,
            inside,
            front,
            gain,
            out,
        )
        return out

    def plate_for(self, cameras: list[FilmCamera]) -> CourtPlate:
        """Return the plate of a still camera, or, while it swings, the wider first plate turned to fit."""
        if cameras[0] == cameras[2]:
            if self._plate is None or self._plate[0] != cameras[1]:
                self._plate = (cameras[1], render_plate(self.scene.court, cameras[1], self.rays))
            return self._plate[1]
        first = self.scene.camera
        wide = replace(first, width=first.width + 2 * MARGIN_PX, height=first.height + 2 * MARGIN_PX)
        if self._wide is None:
            self._wide = render_plate(self.scene.court, wide, self.rays)
        return turned_plate(self._wide, wide, cameras[1])

    def _posed(self, n: int, moments: list[float], cameras: list[FilmCamera]) -> list[PosedMesh]:
        """Return a person's mesh, and the racket's, at the three moments."""
        person = self.scene.people[n]
        mesh = person.mesh
        points, rackets, normals = [], [], []
        for moment in moments:
            joints, poles, racket, _ = person.motion.at(moment)
            frames = bone_frames(joints, BONE_ENDS, poles)
            place, turned = skin(
                mesh.vertices,
                mesh.normals,
                mesh.bones,
                mesh.weights,
                BONE_ENDS,
                mesh.joints,
                self._rest[n],
                joints,
                frames,
                -1.0,
            )
            points.append(place)
            normals.append(turned)
            if racket is not None and person.racket_appearance is not None:
                hand = joints[body.R_HAND if person.right_handed else body.L_HAND]
                rackets.append(self._racket_at(hand, racket))
        out = [
            self._lit(
                n, points, normals[1], mesh.triangles, mesh.vertices, mesh.labels, person.appearance, cameras
            )
        ]
        if rackets and person.racket_appearance is not None:
            rigid = self._racket
            places = [r[0] for r in rackets]
            out.append(
                self._lit(
                    n,
                    places,
                    rackets[1][1],
                    rigid.triangles,
                    rigid.vertices,
                    rigid.labels,
                    person.racket_appearance,
                    cameras,
                )
            )
        return out

    def _lit(
        self,
        n: int,
        points: list[Floats],
        normals: Floats,
        triangles: NDArray[np.int32],
        rest: Floats,
        labels: Floats,
        appearance: Floats,
        cameras: list[FilmCamera],
    ) -> PosedMesh:
        court = self.scene.court
        light = light_vertices(self.lamps, court.ambient, np.array(court.floor), points[1], normals)
        pixels = [project_mirrored(c.packed, p, -1, 0.0) for c, p in zip(cameras, points, strict=True)]
        return PosedMesh(n, triangles, points, pixels, light, rest, labels, appearance, normals)

    def _racket_at(self, hand: Floats, ways: Floats) -> tuple[Floats, Floats]:
        """Return a racket's vertices and normals in the court's frame."""
        shaft = unit(ways[0])
        face = unit(ways[1] - (ways[1] @ shaft) * shaft)
        axes = np.stack([shaft, face, -np.cross(shaft, face)])
        return hand + self._racket.vertices @ axes, self._racket.normals @ axes

    def _moments(self, posed: list[PosedMesh]) -> int:
        """Return into how many moments the exposure is cut: more for faster movement in the picture."""
        fastest = 0.0
        for item in posed:
            way = np.abs(item.pixels[2][::7, :2] - item.pixels[0][::7, :2])
            if np.isfinite(way).any():
                fastest = max(fastest, float(np.nanmax(way)))
        blur = fastest * self.scene.timing.exposure_s / self.scene.timing.span_s
        return int(np.clip(math.ceil(blur / PIXELS_A_MOMENT), 4, 10))

    def _mirrors(self) -> list[tuple[int, int, float]]:
        """Return the mirrors: surface, axis, place."""
        out = [(FLOOR, 2, 0.0)] if self.scene.court.floor_reflectance > 0.004 else []
        if self.scene.court.glass_walls:
            out += [(LEFT, 0, 0.0), (RIGHT, 0, WIDTH_M), (FRONT, 1, 0.0)]
        return out

    def _to_draw(
        self, posed: list[PosedMesh], cameras: list[FilmCamera], plate: CourtPlate
    ) -> dict[str, list[_LayerMesh]]:
        """Return what is drawn into each layer; a mirror shows only where its surface is seen."""
        out: dict[str, list[_LayerMesh]] = {"beyond": [], "inside": [], "front": [], "mirror": []}
        for item in posed:
            layer = self.scene.people[item.person].layer
            before = self.open if layer == "front" else plate.depth
            out[layer].append(_LayerMesh(item, item.pixels, before, FRONT_FACE))
        for surface, axis, at_m in self._mirrors():
            mask = np.where(plate.surface == surface, np.inf, -np.inf).astype(np.float32)
            for layer_mesh in out["inside"]:
                points = zip(cameras, layer_mesh.mesh.points, strict=True)
                pixels = [project_mirrored(c.packed, p, axis, at_m) for c, p in points]
                out["mirror"].append(_LayerMesh(layer_mesh.mesh, pixels, mask, -FRONT_FACE))
        return out

    def _draw(
        self, posed: list[PosedMesh], moments: list[float], cameras: list[FilmCamera], plate: CourtPlate
    ) -> BallTruth | None:
        """Draw everything that moves into its layer, moment by moment; return the ball's truth."""
        t = self.scene.timing
        count = self._moments(posed)
        todo = self._to_draw(posed, cameras, plate)
        track = BallInFrame(self.scene, moments[0], cameras[1])
        floor_mirror = self.scene.court.floor_reflectance > 0.004
        for moment in range(count):
            when = (moment + 0.5) / count * t.exposure_s
            du, dv = (moment * 0.618 + 0.25) % 1.0 - 0.5, (moment + 0.5) / count - 0.5
            for name, items in todo.items():
                layer = self.layers[name]
                layer.begin_moment()
                for item in items:
                    self._draw_one(layer, item, when, du, dv, moment)
                gather_moment(layer.depth, layer.colour, 1.0 / count, layer.box, layer.total)
                if name == "inside" or (name == "mirror" and floor_mirror):
                    track.draw(layer, self.lamps, name == "mirror", moment, count, plate)
        return track.truth()

    def _draw_one(
        self, layer: MovingLayer, item: _LayerMesh, when: float, du: float, dv: float, moment: int
    ) -> None:
        t, mesh = self.scene.timing, item.mesh
        uvz = np.empty_like(item.pixels[1])
        first, middle, last = item.pixels
        height = self.scene.camera.height
        moment_vertices(first, middle, last, t.span_s, t.readout_s / height, when, height, uvz)
        draw_triangles(
            uvz,
            mesh.triangles,
            mesh.light,
            mesh.rest,
            mesh.labels,
            mesh.appearance,
            item.turned,
            du,
            dv,
            moment,
            layer.depth,
            layer.colour,
            item.before,
            layer.box,
        )

    def _soften_mirror(self) -> None:
        """Blur the mirror's layer, more up and down than across, as a floor's grain does."""
        layer = self.layers["mirror"]
        sigma = self.scene.mirror_blur * self.scene.camera.height / 720.0
        b = layer.touched()
        if b[2] < b[0] or sigma < 0.3:
            return
        pad = int(6 * sigma) + 1
        v0, v1 = max(0, b[1] - pad), min(layer.total.shape[0], b[3] + pad + 1)
        u0, u1 = max(0, b[0] - pad), min(layer.total.shape[1], b[2] + pad + 1)
        part = np.ascontiguousarray(layer.total[v0:v1, u0:u1])
        layer.total[v0:v1, u0:u1] = cv2.GaussianBlur(part, (0, 0), 0.6 * sigma + 0.05, sigmaY=1.6 * sigma)
        layer.dirty[:] = (u0, v0, u1 - 1, v1 - 1)

    def _shadows(self, present: list[int], time_s: float, ball: BallTruth | None) -> None:
        rows: list[list[float]] = []
        for n in present:
            person = self.scene.people[n]
            if person.layer == "inside":
                rows += _shadow_balls(person, time_s)
        if ball is not None:
            rows.append([*ball.place_m, layers.BALL_RADIUS_M])
        balls = np.array(rows, dtype=np.float64).reshape(-1, 4)
        layers.floor_shadows(self.lamps, self.scene.court.ambient, balls, self.shadow)

    def _person_truth(
        self, n: int, posed: list[PosedMesh], moments: list[float], camera: FilmCamera, plate: CourtPlate
    ) -> PersonTruth:
        """Return what is true of one person at the middle of its rows' exposure."""
        person, t = self.scene.people[n], self.scene.timing
        item = next(p for p in posed if p.person == n)
        row_s = t.readout_s / camera.height
        uvz = np.empty_like(item.pixels[1])
        first, middle, last = item.pixels
        moment_vertices(first, middle, last, t.span_s, row_s, 0.5 * t.exposure_s, camera.height, uvz)
        row = float(np.nan_to_num(np.nanmean(np.clip(uvz[:, 1], 0, camera.height))))
        joints, _, _, soles = person.motion.at(moments[0] + row_s * row + 0.5 * t.exposure_s)
        pixels = camera.project(np.concatenate([joints, soles]))
        depth = self.layers[person.layer].depth
        before = self.open if person.layer == "front" else plate.depth
        visible = seen_points(pixels, depth, before, THICK_M)
        heads = (item.rest[:, 2] > 0.87 * person.mesh.shape.stature_m) & (np.abs(item.rest[:, 0]) < 0.09)
        facing = np.sum(item.normals * (np.asarray(camera.place_m) - item.points[1]), axis=1) > 0.0
        seen = seen_points(uvz.astype(np.float64), depth, before, 0.06)
        across = joints[body.R_SHOULDER] - joints[body.L_SHOULDER]
        ahead = unit(np.array([across[1], -across[0], 0.0]))
        return PersonTruth(
            name=person.name,
            role=person.role,
            place_m=(float(soles[:, 0].mean()), float(soles[:, 1].mean())),
            feet_m=soles,
            feet_px=pixels[20:, :2],
            feet_visible=visible[20:],
            joints_m=joints,
            joints_px=pixels[:20, :2],
            joints_visible=visible[:20],
            box=_box(uvz),
            head_box=_box(uvz[heads]),
            head_share=float(seen[heads & facing].mean()) if (heads & facing).any() else 0.0,
            body_share=float(seen[facing].mean()) if facing.any() else 0.0,
            facing_camera=float(ahead @ unit(np.asarray(camera.place_m) - joints[body.HEAD])),
        )


def _shadow_balls(person: FilmPerson, time_s: float) -> list[list[float]]:
    """Return balls (x, y, z, radius) that stand for a person's body where shadows are thrown."""
    joints = person.motion.at(time_s)[0]
    scale = person.mesh.shape.stature_m / 1.75 * person.mesh.shape.build
    rows = [[*joints[j], r * scale] for j, r in _SPHERES]
    for a, b, r in _LIMBS:
        for side in (0, 1):
            for share in (0.25, 0.75):
                rows.append([*((1 - share) * joints[a + side] + share * joints[b + side]), r * scale])
    return rows


def _box(uvz: Picture) -> Box:
    """Return the least and the greatest u and v."""
    known = uvz[np.isfinite(uvz).all(axis=1), :2]
    if not len(known):
        return (math.nan, math.nan, math.nan, math.nan)
    low, high = known.min(axis=0), known.max(axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def _rest_poles() -> Floats:
    """Return the rest pose's poles of bones, as the poses give them."""
    right, ahead, up = np.eye(3)
    out = np.zeros((len(body.BONES), 3))
    out[:3] = right
    out[3:9] = -ahead - 0.3 * up
    out[9:13], out[13:] = ahead, up
    return out
