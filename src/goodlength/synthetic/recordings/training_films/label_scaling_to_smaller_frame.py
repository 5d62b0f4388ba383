"""Truth of a frame in the pixels of a smaller copy."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from goodlength.synthetic.recordings.training_films.ground_truth_label_types import BallLabel, FrameLabel

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
    ball = None if frame.ball is None else _scaled_ball(frame.ball, share)
    more = tuple(_scaled_ball(each, share) for each in frame.more_balls)
    return replace(frame, people=people, ball=ball, more_balls=more, marks_px=frame.marks_px * share)


def _scaled_ball(ball: BallLabel, share: Points) -> BallLabel:
    return replace(
        ball,
        centre_px=ball.centre_px * share,
        streak_px=ball.streak_px * share,
        radius_px=ball.radius_px * float(share.mean()),
    )
