"""Drawings of practice: where balls went, and hits by session."""

from __future__ import annotations

import math

import pytest

from goodlength.practice.statistics.attempt_scatter import ScatterEllipse, scatter_of
from goodlength.show.draw.court.attempt_scatter_drawing import (
    ellipse_points,
    scatter_on_floor,
    scatter_on_wall,
)
from goodlength.show.draw.hit_rate_by_session_chart import SessionMark, session_chart
from goodlength.show.draw.proportion_protocols_and_wording import CountedShare
from goodlength.show.draw.svg_primitives_and_themes import FILE

PLACES = [(1.0, 2.9), (1.2, 3.0), (1.3, 2.7), (1.1, 3.1)]


def test_every_ball_is_a_dot_and_the_next_falls_in_the_dashed_ellipse() -> None:
    seen = scatter_of(PLACES, aim_m=(1.2, 2.9))
    svg = scatter_on_wall(
        PLACES, aim=(1.2, 2.9), middle=seen.middle_m, next_ball=seen.next_ball, label="balls"
    )
    assert svg.count('r="3.2"') == len(PLACES)
    assert "stroke-dasharray" in svg
    assert "style=" not in svg


def test_an_ellipse_keeps_its_axes_and_its_turn() -> None:
    points = ellipse_points((1.0, 2.0), ScatterEllipse(2.0, 1.0, 90.0), corners=4)
    assert points[0] == pytest.approx((1.0, 4.0))  # the long axis stands upright
    assert points[1] == pytest.approx((0.0, 2.0))
    assert all(1.0 <= math.dist(p, (1.0, 2.0)) <= 2.0 + 1e-9 for p in points)


def test_the_floor_has_the_same_marks_and_stands_as_a_file() -> None:
    svg = scatter_on_floor([(1.0, 8.0)], label="one ball", theme=FILE)
    assert svg.startswith("<svg xmlns=")
    assert svg.count('r="3.2"') == 1


@pytest.mark.parametrize("line", [None, [0.4, 0.6]])
def test_sessions_say_their_counts_and_draw_a_line_only_when_given(line: list[float] | None) -> None:
    svg = session_chart(
        [
            SessionMark(0, "blocked", CountedShare(6, 15, 0.2, 0.6)),
            SessionMark(1, "mixed", CountedShare(9, 15, 0.4, 0.8)),
            SessionMark(1, "retention", CountedShare(7, 15, 0.3, 0.7)),
        ],
        ["1 Nov", "4 Nov"],
        line=line,
    )
    assert (
        "1 Nov, blocked practice: 6 of 15; 4 Nov, random practice: 9 of 15; 4 Nov, retention: 7 of 15" in svg
    )
    assert [svg.count(f"<{mark}") for mark in ("circle", "rect", "polygon")] == [1, 1, 1]
    assert ("stroke-dasharray" in svg) is (line is not None)


def test_no_session_draws_an_empty_frame() -> None:
    assert "Hits by session" in session_chart([], [])
