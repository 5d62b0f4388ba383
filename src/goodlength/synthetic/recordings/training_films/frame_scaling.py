"""Truth of a frame in the pixels of a smaller copy."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from goodlength.synthetic.recordings.training_films.film_labels import FrameLabel

Points = NDArray[np.float64]
Box = tuple[float, float, float, float]


def scaled_frame(frame: FrameLabel, share: Points) -> FrameLabel:
    """Return the truth with all pixels multiplied by a share of shape (2,)."""

    def box(sides: Box) -> Box:
        left, top, right, bottom = np.array(sides) * np.tile(share, 2)
        return float(left), float(top), float(right), float(bottom)

    people = tuple(
        replace(
            person,
            feet_px=person.feet_px * share,
            joints_px=person.joints_px * share,
            box=box(person.box),
            head_box=box(person.head_box),
        )
        for person in frame.people
    )
    ball = frame.ball
    if ball is not None:
        ball = replace(
            ball,
            centre_px=ball.centre_px * share,
            streak_px=ball.streak_px * share,
            radius_px=ball.radius_px * float(share.mean()),
        )
    return replace(frame, people=people, ball=ball, marks_px=frame.marks_px * share)
