"""The page "How early does it show?": too few said so, and both movements drawn where there are enough."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest
from starlette.testclient import TestClient

from goodlength import tasks
from goodlength.files.library_layout import body_files
from goodlength.footage.vision.pose_estimation import Pose
from goodlength.footage.vision.pose_sequence_estimation import PoseSequence, pose_sequence_form
from goodlength.record.model import EntryKind
from goodlength.synthetic import simulated_poses


def test_few_say_so(client: TestClient, library: Any, match_id: str) -> None:
    assert "has a kind logged yet" in client.get(f"/matches/{match_id}/tell").text
    tasks.answer(library, match_id, "r0", EntryKind.KIND, "lob")
    tasks.answer(library, match_id, "r0", EntryKind.WINNER, "a")
    page = client.get(f"/matches/{match_id}/tell").text
    assert "Not enough data for Imogen’s lob" in page
    assert "<p>Imogen’s serves, in 1 match:" in page  # not only of the match whose name stands above
    assert "No lob has a time in a video yet (1 lob in 1 match)." in page
    row = page.partition('<tr><th scope="row">Lob</th>')[2].partition("</tr>")[0]
    assert [part.partition("<")[0] for part in row.split('tab">')[1:]] == ["1", "0", "0"]
    assert page.count(f'<a class="button" href="/matches/{match_id}/body">Find body points</a>') == 1
    assert f"/matches/{match_id}/tell" in client.get(f"/matches/{match_id}/show").text


@pytest.mark.slow
def test_enough_are_told_and_drawn(client: TestClient, library: Any, match_id: str) -> None:
    joints, labels, _, box, _ = simulated_poses.serves(np.random.default_rng(8), 24, -0.30)
    kept = {}
    for n, lob in enumerate(labels):
        tasks.answer(library, match_id, f"r{n}", EntryKind.SERVER, "a")
        tasks.answer(library, match_id, f"r{n}", EntryKind.BOX, "left" if box[n] else "right")
        tasks.answer(library, match_id, f"r{n}", EntryKind.KIND, "lob" if lob else "hard")
        tasks.answer(library, match_id, f"r{n}", EntryKind.WINNER, "a")
        seen = [Pose(joint, np.full(17, 0.9), np.full(17, 2.0), np.zeros(17, bool)) for joint in joints[n]]
        times = tuple(2_000_000 + round(1e6 * t) for t in simulated_poses.TIMES_S)
        made = pose_sequence_form(PoseSequence(times, (None,) * len(seen), tuple(seen)))
        kept[f"r{n}/1/a"] = {**made, "at_us": 2_000_000, "footage": "f"}
    path = body_files(library.folder, match_id)[0]
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(json.dumps(kept))
    page = client.get(f"/matches/{match_id}/tell").text
    assert "can be read about" in page
    assert page.count("Average movement of 24") == 2
