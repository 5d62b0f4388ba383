"""Compose a frame: figures, their shadows and the ball over the empty court."""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np

from goodlength.demo.film.court_background import Picture
from goodlength.demo.film.player_skeleton import FigureJoints
from goodlength.demo.play.court_camera import RADIUS_M, PinholeCamera, Point

Colour = tuple[int, int, int]
SHIFT = 4
SMALLEST_BALL_PX = 1.3
SHUTTER_S = 1 / 120


@dataclass(frozen=True)
class Clothes:
    """Colours of a figure, blue-green-red."""

    shirt: Colour
    shorts: Colour
    skin: Colour
    hair: Colour
    tail: bool  # hair tied back


NAVY = Clothes((102, 76, 45), (234, 239, 240), (115, 152, 201), (34, 58, 91), True)
OCHRE = Clothes((43, 133, 201), (44, 41, 38), (143, 180, 224), (42, 74, 110), False)
SHOE: Colour = (242, 244, 244)
FRAME: Colour = (51, 46, 42)
BALL: Colour = (26, 24, 21)


def _darker(c: Colour, by: float) -> Colour:
    return (int(c[0] * by), int(c[1] * by), int(c[2] * by))


class Brush:
    """Draws things of the court into one picture."""

    def __init__(self, picture: Picture, camera: PinholeCamera) -> None:
        self.picture = picture
        self.camera = camera
        self.eye = (camera.x_m, camera.y_m, camera.z_m)
        self.cos, self.sin = math.cos(camera.tilt_rad), math.sin(camera.tilt_rad)
        self.focal16 = 16 * camera.focal_px
        self.middle16 = (8 * camera.width - 8, 8 * camera.height - 8)

    def to_px(self, p: Point) -> tuple[int, int]:
        """Return picture point in sixteenths of a pixel, as the camera sees it."""
        eye = self.eye
        dy, dz = p[1] - eye[1], p[2] - eye[2]
        f = self.focal16 / (-self.cos * dy - self.sin * dz)
        u, v = f * (p[0] - eye[0]), f * (self.sin * dy - self.cos * dz)
        return (int(self.middle16[0] + u + 0.5), int(self.middle16[1] + v + 0.5))

    def scale(self, p: Point) -> float:
        """Return the pixels a metre at a point."""
        eye = self.eye
        return self.focal16 / 16 / (-self.cos * (p[1] - eye[1]) - self.sin * (p[2] - eye[2]))

    def limb(self, a: Point, b: Point, width_m: float, colour: Colour) -> None:
        """A thick line between two points, with a lighter stripe where the light falls."""
        wide = max(1, round(width_m * self.scale(a)))
        cv2.line(self.picture, self.to_px(a), self.to_px(b), _darker(colour, 0.86), wide, cv2.LINE_AA, SHIFT)
        if wide >= 4:
            lit = max(1, wide // 2)
            shift = -0.18 * width_m
            a2, b2 = (a[0] + shift, a[1], a[2]), (b[0] + shift, b[1], b[2])
            cv2.line(self.picture, self.to_px(a2), self.to_px(b2), colour, lit, cv2.LINE_AA, SHIFT)

    def disc(self, p: Point, radius_m: float, colour: Colour, tall: float = 1.0) -> None:
        """A filled ellipse round a point."""
        r = radius_m * self.scale(p) * 16
        axes = (max(8, round(r)), max(8, round(r * tall)))
        cv2.ellipse(self.picture, self.to_px(p), axes, 0, 0, 360, colour, -1, cv2.LINE_AA, SHIFT)

    def shadow(self, x: float, y: float) -> None:
        """A soft shadow on the floor under a figure."""
        u, v, depth = self.camera.see(x, y, 0.0)
        rx = 0.40 * self.camera.focal_px / depth
        ry = rx * 0.30
        u0, u1 = max(0, int(u - rx - 2)), min(self.camera.width, int(u + rx + 3))
        v0, v1 = max(0, int(v - ry - 2)), min(self.camera.height, int(v + ry + 3))
        if u0 >= u1 or v0 >= v1:
            return
        yy, xx = np.ogrid[v0:v1, u0:u1]
        r2 = ((xx + 0.5 - u) / rx) ** 2 + ((yy + 0.5 - v) / ry) ** 2
        dim = (1.0 - 0.42 * np.clip(1.25 - r2, 0.0, 1.0)).astype(np.float32)
        part = self.picture[v0:v1, u0:u1]
        part[:] = (part * dim[:, :, None]).astype(np.uint8)

    def figure(self, pose: FigureJoints, clothes: Clothes) -> None:
        """A whole figure; parts farther from the camera first."""
        left_first = pose.shoulders[0][1] < pose.shoulders[1][1]
        far, near = (0, 1) if left_first else (1, 0)
        racket_far = pose.racket[1] < pose.neck[1]
        if racket_far:
            self.racket(pose)
        self.arm(pose, far, clothes)
        for side in (far, near):
            self.leg(pose, side, clothes)
        self.trunk(pose, clothes)
        self.head(pose, clothes)
        self.arm(pose, near, clothes)
        if not racket_far:
            self.racket(pose)

    def leg(self, pose: FigureJoints, side: int, clothes: Clothes) -> None:
        """Thigh in shorts, shin, shoe."""
        hip, knee, foot, toe = pose.hips[side], pose.knees[side], pose.feet[side], pose.toes[side]
        ankle = (foot[0], foot[1], foot[2] + 0.07)
        self.limb(knee, ankle, 0.095, clothes.skin)
        self.limb(hip, knee, 0.125, clothes.skin)
        mid = tuple(0.42 * hip[k] + 0.58 * knee[k] for k in range(3))
        self.limb(hip, (mid[0], mid[1], mid[2]), 0.175, clothes.shorts)
        shin = (
            0.25 * knee[0] + 0.75 * ankle[0],
            0.25 * knee[1] + 0.75 * ankle[1],
            0.25 * knee[2] + 0.75 * ankle[2],
        )
        self.limb(shin, ankle, 0.10, SHOE)
        self.limb((foot[0], foot[1], foot[2] + 0.04), (toe[0], toe[1], toe[2] + 0.035), 0.085, SHOE)

    def trunk(self, pose: FigureJoints, clothes: Clothes) -> None:
        """The shirt, as one filled shape with a lighter back."""
        left, right = pose.shoulders
        a, b = pose.hips
        up = [(a[0], a[1], a[2] + 0.06), left, right, (b[0], b[1], b[2] + 0.06)]
        points = np.array([self.to_px(p) for p in up], dtype=np.int32)
        edge = _darker(clothes.shirt, 0.88)
        wide = max(1, round(0.10 * self.scale(left)))
        cv2.polylines(self.picture, [points], True, edge, wide, cv2.LINE_AA, SHIFT)
        cv2.fillPoly(self.picture, [points], clothes.shirt, cv2.LINE_AA, SHIFT)
        waist = [(h[0], h[1], h[2] + 0.02) for h in pose.hips]
        self.limb(waist[0], waist[1], 0.15, clothes.shorts)

    def arm(self, pose: FigureJoints, side: int, clothes: Clothes) -> None:
        """Sleeve, upper arm, forearm, hand."""
        shoulder, elbow, hand = pose.shoulders[side], pose.elbows[side], pose.hands[side]
        self.limb(shoulder, elbow, 0.085, clothes.skin)
        self.limb(elbow, hand, 0.07, clothes.skin)
        sleeve = tuple(0.45 * shoulder[k] + 0.55 * elbow[k] for k in range(3))
        self.limb(shoulder, (sleeve[0], sleeve[1], sleeve[2]), 0.12, clothes.shirt)
        self.disc(hand, 0.04, clothes.skin)

    def head(self, pose: FigureJoints, clothes: Clothes) -> None:
        """Neck and head seen from behind."""
        self.limb(pose.neck, pose.head, 0.10, clothes.skin)
        self.disc(pose.head, 0.095, clothes.hair, 1.22)
        towards = -float(np.cos(pose.facing_rad))  # 1: facing the camera
        if towards > -0.3:
            face = 0.05 * float(np.sin(pose.facing_rad))
            self.disc(
                (pose.head[0] + face, pose.head[1] + 0.02, pose.head[2] - 0.035), 0.075, clothes.skin, 1.15
            )
        if clothes.tail and towards < 0.3:
            end = (pose.head[0] - 0.07 * np.sin(pose.facing_rad), pose.head[1] + 0.12, pose.head[2] - 0.20)
            self.limb(
                (pose.head[0], pose.head[1] + 0.06, pose.head[2]),
                (float(end[0]), end[1], end[2]),
                0.055,
                clothes.hair,
            )

    def racket(self, pose: FigureJoints) -> None:
        """Handle, throat, and the head as a ring seen at a slant."""
        hand, head = pose.hands[1], pose.racket
        throat = tuple(hand[k] + 0.70 * (head[k] - hand[k]) for k in range(3))
        self.limb(hand, (throat[0], throat[1], throat[2]), 0.022, FRAME)
        u0, v0 = self.to_px(hand)
        u1, v1 = self.to_px(head)
        angle = float(np.degrees(np.arctan2(v1 - v0, u1 - u0)))
        long = max(24, round(0.155 * self.scale(head) * 16))
        short = max(14, round(0.095 * self.scale(head) * 16))
        part = (u1, v1), (long, short), angle, 0, 360
        wide = 1 if self.scale(head) < 105 else 2
        cv2.ellipse(self.picture, *part, FRAME, wide, cv2.LINE_AA, SHIFT)

    def ball(self, before: Point, after: Point) -> None:
        """The ball as the open shutter saw it: a dot, or a streak where it is fast."""
        r = max(SMALLEST_BALL_PX, RADIUS_M * self.scale(after))
        a, b = self.to_px(before), self.to_px(after)
        if abs(a[0] - b[0]) + abs(a[1] - b[1]) > 16:
            cv2.line(self.picture, a, b, BALL, max(1, round(2 * r - 0.6)), cv2.LINE_AA, SHIFT)
        else:
            cv2.circle(self.picture, b, round(r * 16), BALL, -1, cv2.LINE_AA, SHIFT)

    def ball_shadow(self, at: Point) -> None:
        """A faint dot on the floor under a low ball."""
        if at[2] < 1.2:
            u, v = self.to_px((at[0], at[1], 0.0))
            i, j = v // 16, u // 16
            if 0 <= i < self.camera.height and 1 <= j < self.camera.width - 1:
                part = self.picture[i : i + 1, j - 1 : j + 2]
                part[:] = (part * 0.78).astype(np.uint8)
