"""The way of a recording tried on every file of a folder: what is done, what is refused, what is compared."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from goodlength.bench.footage.video_folder_pipeline_trial import try_films
from goodlength.errors import InputError
from goodlength.synthetic.numbered_frame_video import Recipe, draw


def test_films_go_through_every_step_and_others_are_refused_in_words(tmp_path: Path) -> None:
    draw(tmp_path / "good.mp4", Recipe(tuple(range(30)), sound=""))
    (tmp_path / "text.mp4").write_text("hello")
    found = try_films(tmp_path)
    assert (found["files"], found["refused_in_words"], found["all_steps_done"]) == (2, 1, 1)
    assert found["unchanged"] == 2
    good, text = found["films"]
    assert good["pictures"] == 30
    assert good["steps"] == dict.fromkeys(("still", "cut", "copy", "hear"), "done")
    assert "text.mp4" in text["messages"][0]
    if shutil.which("ffprobe"):
        assert (found["compared"], found["same_count"], found["same_times"]) == (1, 1, 1)


def test_a_folder_without_films_is_told(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="holds no file"):
        try_films(tmp_path / "nowhere")
