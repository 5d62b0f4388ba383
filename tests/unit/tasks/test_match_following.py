"""The ball followed through the stored rallies of a match, resumed where it stopped, and from the command."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from goodlength import tasks
from goodlength.bench.ball.simulated_rallies import CONDITIONS, RallyWithTruth, simulate_rally
from goodlength.errors import InputError
from goodlength.files.library_layout import ball_file
from goodlength.footage.ball_detection.ball_storage import BallSpan, StoredBalls
from goodlength.measure.shots import rally_following  # compiled here, before a test is timed
from goodlength.record.model import MatchInfo, Player
from goodlength.tasks.ball import match_following
from goodlength.tasks.ball.followed_ball_export import followed_ball
from goodlength.tasks.footage.camera_calibration import SavedCamera


@pytest.fixture(scope="module")
def rally() -> RallyWithTruth:
    return simulate_rally(np.random.default_rng([11, 3]), CONDITIONS[0], varied=False)


def test_rallies_are_followed_once_and_stored(
    tmp_path: Path, rally: RallyWithTruth, monkeypatch: pytest.MonkeyPatch
) -> None:
    with tasks.open_library(tmp_path / "library") as library:
        library.save_player(Player("p1", "Petra"))
        library.save_player(Player("p2", "Opal"))
        library.save_match(MatchInfo("m1", ("p1", "p2")))
        opened = tasks.open_match(library, "m1")
        with pytest.raises(InputError, match="not detected in this match yet"):
            match_following.follow_match(opened)
        end_us = int(rally.found.times_us[-1])
        stored = StoredBalls("m1", "network-1-x", 2)
        stored.spans[BallSpan("r:1", "f1", 0, end_us)] = rally.found
        stored.spans[BallSpan("r:2", "f2", 0, end_us)] = rally.found
        stored.write(ball_file(library.folder, "m1"))

        def camera_at(_library: object, footage: str, _us: int) -> SavedCamera | None:
            return SavedCamera(rally.camera, 0, 0, "f1") if footage == "f1" else None

        monkeypatch.setattr(match_following, "camera_at", camera_at)
        words: list[str] = []
        followed = match_following.follow_match(opened, lambda _, text="": words.append(text))
        assert words == ["rally 1 of 2", "rally 2 of 2"]
        assert followed_ball(opened) == followed
        assert followed.model == f"{rally_following.MODEL}+network-1-x"
        first, second = followed.rallies
        assert len(first.shots) >= 3 and first.missing[0].startswith("No sound")
        assert second.shots == () and "not calibrated" in second.reason

        def refused(*_: object, **__: object) -> None:
            raise AssertionError("followed again")

        monkeypatch.setattr(match_following, "_followed", refused)
        assert match_following.follow_match(opened) == followed
        with pytest.raises(AssertionError, match="followed again"):
            match_following.follow_match(opened, again=True)
