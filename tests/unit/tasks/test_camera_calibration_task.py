"""The camera of a file: clicks kept, cameras in order of time, borrowed by the next file, taken back."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from goodlength import tasks
from goodlength.errors import CalibrationError, InputError, NotFound
from goodlength.footage.camera import Drift, court_marks
from goodlength.forms.footage.camera_calibration_json import (
    camera_answer,
    camera_form,
    camera_lines,
)
from goodlength.record.store import Library
from goodlength.synthetic.numbered_frame_video import Recipe, draw
from goodlength.synthetic.simulated_camera_clicks import plain_clicks as marks_seen
from goodlength.tasks.footage import camera_calibration


@pytest.fixture(scope="module")
def films(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    recipe = Recipe(tuple(range(30)), sound="", width=480, height=360)
    folder = tmp_path_factory.mktemp("films")
    return [draw(folder / f"{name}.mp4", recipe) for name in ("one", "two")]


@pytest.fixture
def library(tmp_path: Path, films: list[Path]) -> Any:
    with Library.open(tmp_path / "library") as item:
        for player in ("a", "b"):
            tasks.add_player(item, f"Player {player.upper()}", player_id=player)
        tasks.new_match(item, ("a", "b"), match_id="m1")
        for film in films:
            tasks.add_footage(item, "m1", film)
        yield item


def ids(library: Library) -> list[str]:
    return [item.id for item in library.footage("m1")]


def test_a_camera_is_kept_as_its_clicks_and_solved_again(library: Library) -> None:
    first, second = ids(library)
    assert camera_calibration.camera_at(library, first, 0) is None and not camera_calibration.has_camera(
        library, first
    )
    kept = camera_calibration.save_camera(library, first, 300_000, marks_seen())
    assert (kept.from_us, kept.clicked_us, kept.borrowed) == (0, 300_000, False)
    again = camera_calibration.camera_at(library, first, 900_000)
    assert again is not None and again.clicked_us == 300_000
    assert np.allclose(again.camera.lens.place_m, [3.2, 13.0, 3.0], atol=0.15)
    plain = json.loads(camera_calibration.camera_file(library.folder, first).read_text())
    assert {item["mark"] for item in plain["spans"][0]["camera"]["clicks"]} == {
        m["mark"] for m in marks_seen()
    }
    # The next file of the match has the same picture and none of its own: borrowed, and said so
    lent = camera_calibration.camera_at(library, second, 0)
    assert lent is not None and lent.borrowed and lent.footage_id == first
    form = camera_answer(library, second, None, 0)
    assert any("not known" in line and "video before" in line for line in camera_lines(form))


def test_a_later_camera_ends_the_first_and_taking_it_back_mends_it(library: Library) -> None:
    first, _ = ids(library)
    camera_calibration.save_camera(library, first, 100_000, marks_seen())
    camera_calibration.save_camera(library, first, 600_000, marks_seen(off_px=1.0))
    assert [(s.from_us, s.until_us) for s in camera_calibration.camera_log(library, first).spans] == [
        (0, 600_000),
        (600_000, None),
    ]
    # The same picture clicked better takes the place of the first try
    camera_calibration.save_camera(library, first, 600_000, marks_seen(off_px=1.2))
    assert len(camera_calibration.camera_log(library, first).spans) == 2
    camera_calibration.remove_camera(library, first, 600_000)
    assert [(s.from_us, s.until_us) for s in camera_calibration.camera_log(library, first).spans] == [
        (0, None)
    ]
    with pytest.raises(NotFound, match="calibration no longer exists"):
        camera_calibration.remove_camera(library, first, 600_000)


def test_residuals_are_told_in_px_and_cm_and_so_is_what_is_not_known(library: Library) -> None:
    first, _ = ids(library)
    clicks = marks_seen()
    clicks[0]["u"] += 3.0
    form = camera_form(camera_calibration.solve_marks(library, first, clicks))
    worst = max(form["residuals"], key=lambda item: item["px"])
    assert worst["mark"] == clicks[0]["mark"] and worst["cm"] > 3.0
    flat = [click for click in clicks[1:] if court_marks()[click["mark"]].on_floor]
    told = camera_calibration.not_known(camera_calibration.solve_marks(library, first, flat))
    assert told[0].startswith("Heights and walls")


def test_the_picture_itself_tells_whether_the_camera_stands(library: Library) -> None:
    first = ids(library)[0]
    with pytest.raises(NotFound, match="no calibration for this time"):
        camera_calibration.check_drift(library, first, 0)
    camera_calibration.save_camera(library, first, 0, marks_seen())
    assert camera_calibration.check_drift(library, first, 0).state is not Drift.MOVED


def test_what_cannot_be_is_refused_in_words(library: Library, tmp_path: Path) -> None:
    first, _ = ids(library)
    with pytest.raises(CalibrationError, match="at least 4"):
        camera_calibration.solve_marks(library, first, marks_seen()[:2])
    with pytest.raises(InputError, match="clicked mark: u is missing; clicked mark: v is missing"):
        camera_calibration.solve_marks(library, first, [{"mark": "short-left"}])
    wrong = tmp_path / "marks.json"
    wrong.write_text('{"a": 1}')
    with pytest.raises(InputError, match="a list of marks"):
        camera_answer(library, first, wrong, 0)
    camera_calibration.camera_file(library.folder, first).parent.mkdir(exist_ok=True)
    camera_calibration.camera_file(library.folder, first).write_text("[1")
    with pytest.raises(InputError, match="cannot be read"):
        camera_calibration.camera_at(library, first, 0)
