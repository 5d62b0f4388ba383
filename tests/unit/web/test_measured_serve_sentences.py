"""A measured serve in words."""

from __future__ import annotations

import pytest

from goodlength.demo.coaching.precomputed_video_results import shipped_paths
from goodlength.web.views.measured_serve_sentences import measured_lines


@pytest.mark.parametrize(
    ("room_m", "best", "between"),
    [
        ((0.52, 0.29, 0.72), "0.52 m after hitting it", "0.29 to 0.72"),
        ((-0.40, -0.60, -0.20), "0.40 m in front of it", "0.20 to 0.60"),
        ((0.10, -0.20, 0.30), "0.10 m after hitting it", "0.20 m in front of it to 0.30 m after hitting it"),
    ],
)
def test_a_range_on_one_side_of_the_back_wall_says_so_once(
    room_m: tuple[float, float, float], best: str, between: str
) -> None:
    serve = shipped_paths().rallies[0].serve
    assert serve is not None
    lines = {name: rest for name, *rest in measured_lines(serve.value.model_copy(update={"room_m": room_m}))}
    assert lines["Second bounce from back wall"] == [best, between]
