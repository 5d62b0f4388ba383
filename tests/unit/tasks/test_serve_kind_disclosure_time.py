"""A player's serves with joints over matches: which count, at which moments, and the receiver's angles."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest

from goodlength import tasks
from goodlength.errors import InputError, NotFound
from goodlength.files.library_layout import body_files
from goodlength.footage.vision.pose_estimation import Pose
from goodlength.footage.vision.pose_sequence_estimation import PoseSequence, pose_sequence_form
from goodlength.forms.footage.serve_anticipation_json import disguise_form, pressure_words
from goodlength.measure.body.serve_cue_onset import DisguiseResult, TooFewServes
from goodlength.record.model import EntryKind
from goodlength.record.store import Library
from goodlength.synthetic import simulated_poses
from goodlength.tasks.findings import serve_kind_disclosure_time


@pytest.fixture
def library(tmp_path: Any) -> Iterator[Library]:
    with tasks.open_library(tmp_path / "lib") as item:
        for player, name in (("iv", "Imogen Vale"), ("plo", "Petra Lindqvist-Ode")):
            tasks.add_player(item, name, player_id=player)
        yield item


def matches_of(library: Library, whose: str = "coached") -> tasks.OpenMatches:
    return serve_kind_disclosure_time.matches_of_server(tasks.open_match(library, "m0"), whose)


def form(uv: Any, times_s: Any) -> dict[str, Any]:
    """A kept movement with these joints, contact at two seconds."""
    at_us = 2_000_000
    joints = [Pose(item, np.full(17, 0.9), np.full(17, 2.0), np.zeros(17, bool)) for item in uv]
    made = PoseSequence(tuple(at_us + round(1e6 * t) for t in times_s), (None,) * len(uv), tuple(joints))
    return {**pose_sequence_form(made), "at_us": at_us, "footage": "f"}


def fill(library: Library, count: int, kinds: tuple[str, str] = ("lob", "hard")) -> None:
    joints, labels, match, box, _ = simulated_poses.serves(np.random.default_rng(8), count, -0.30)
    for m in range(4):
        tasks.new_match(library, ("iv", "plo"), match_id=f"m{m}")
        kept = {}
        for n in np.flatnonzero(match == m):
            key = f"r{n}"
            tasks.answer(library, f"m{m}", key, EntryKind.SERVER, "a")
            tasks.answer(library, f"m{m}", key, EntryKind.BOX, "left" if box[n] else "right")
            tasks.answer(library, f"m{m}", key, EntryKind.KIND, kinds[0] if labels[n] else kinds[1])
            tasks.answer(library, f"m{m}", key, EntryKind.WINNER, "a")
            kept[f"{key}/1/a"] = form(joints[n], simulated_poses.TIMES_S)
            kept[f"{key}/1/b"] = form(simulated_poses.BODY[None] + 100.0, [0.0])
        path = body_files(library.folder, f"m{m}")[0]
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(json.dumps(kept))


def test_serves_of_all_matches_count_and_the_tell_is_found(library: Library) -> None:
    fill(library, 24)
    told = {item.kind: item for item in serve_kind_disclosure_time.disguise_of(matches_of(library))}
    assert set(told) == {"lob", "hard"}
    found = told["lob"].found
    assert isinstance(found, DisguiseResult)
    assert (found.of_kind, found.others) == (24, 24)
    assert found.tell_s is not None
    assert -0.32 <= found.tell_s < 0
    assert "Imogen’s lob can be read about" in told["lob"].words[0]
    plain = disguise_form(told["lob"])
    assert json.loads(json.dumps(plain))["enough"] is True
    rows = serve_kind_disclosure_time.pressure_of(matches_of(library))
    assert {(row.kind, row.angle) for row in rows} >= {("lob", "knee"), ("hard", "trunk")}
    assert all(row.serves == 24 for row in rows)
    assert rows[0].low_deg == rows[0].high_deg  # the same body each time
    assert any("24 serves" in line for line in pressure_words(rows, {}))


def test_few_serves_and_none_say_so(library: Library) -> None:
    fill(library, 4)
    (item,) = serve_kind_disclosure_time.disguise_of(matches_of(library), "lob")
    assert item.found == TooFewServes(4, 4)
    assert disguise_form(item)["enough"] is False
    assert serve_kind_disclosure_time.pressure_of(matches_of(library)) == []
    assert "Not enough data" in pressure_words([], {})[0]
    for path in (body_files(library.folder, f"m{m}")[0] for m in range(4)):
        path.unlink()
    (item,) = serve_kind_disclosure_time.disguise_of(matches_of(library), "lob")
    assert (item.found, item.without_joints) == (TooFewServes(0, 0), 4)


def test_what_was_not_asked_right_is_told(library: Library) -> None:
    fill(library, 3)
    with pytest.raises(NotFound, match="'boast'"):
        serve_kind_disclosure_time.disguise_of(matches_of(library), "boast")
    with pytest.raises(InputError, match="'c' is not a player of this match"):
        matches_of(library, "c")


def test_finding_joints_tells_why_there_are_none(library: Library) -> None:
    fill(library, 3)
    with pytest.raises(InputError, match="has a time yet"):
        serve_kind_disclosure_time.find_joints(tasks.open_match(library, "m0"))
    (key,) = (rally.key for rally in tasks.show_match(library, "m0").rallies[:1])
    tasks.answer(library, "m0", key, EntryKind.SPAN, {"start_us": 0, "end_us": 10, "how": "marked"})
    with pytest.raises(InputError, match="no video"):
        serve_kind_disclosure_time.find_joints(tasks.open_match(library, "m0"))


def test_serves_enough_but_joints_seldom_seen_is_not_called_too_few(
    library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    fill(library, 24)
    rng, whole = np.random.default_rng(1), serve_kind_disclosure_time.at_moments

    def sparse(movement: PoseSequence, at_us: int) -> Any:
        joints = whole(movement, at_us)
        joints[rng.random(joints.shape[:2]) < 0.3] = np.nan
        return joints

    monkeypatch.setattr(serve_kind_disclosure_time, "at_moments", sparse)
    with pytest.raises(InputError, match="No body point was seen in four of five"):
        serve_kind_disclosure_time.disguise_of(matches_of(library), "lob")


def test_the_angles_at_a_strike_are_drawn_and_said_where_joints_are_kept(
    library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    from goodlength.tasks.footage import strike_joint_angles

    fill(library, 3)
    monkeypatch.setattr(tasks.OpenMatch, "file", lambda _opened, _id: None)
    monkeypatch.setattr(strike_joint_angles.camera_calibration, "picture_size", lambda _file: (640, 360))
    rally = tasks.show_match(library, "m0").rallies[0]
    lines, words = strike_joint_angles.marks_at_strike(tasks.open_match(library, "m0"), rally)
    assert [line.kind for line in lines] == ["angle", "angle"]
    assert all(len(line.points) == 3 for line in lines)
    assert words.startswith("server: knee ")
    assert "receiver: knee 178°" in words or "receiver: knee 17" in words
    assert "±" in words
    body_files(library.folder, "m0")[0].unlink()
    assert strike_joint_angles.marks_at_strike(tasks.open_match(library, "m0"), rally) == ((), "")
