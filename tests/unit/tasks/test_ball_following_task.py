"""The ball followed through the rallies of a match: kept, resumed, followed again, and from the command."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from goodlength import tasks
from goodlength.bench.ball.simulated_ball_candidate_generator import (
    CONDITIONS,
    RallyWithTruth,
    simulate_rally,
)
from goodlength.errors import Cancelled, InputError
from goodlength.files.library_layout import ball_corrections_file, ball_file, followed_ball_file
from goodlength.footage.ball_detection.ball_candidate_selection import BallCandidates
from goodlength.footage.ball_detection.ball_candidate_storage import (
    BallSpan,
    StoredBalls,
    ball_summary,
    found_digest,
    read_balls,
)
from goodlength.measure.shots.followed_ball_storage import write_followed
from goodlength.measure.shots.followed_ball_types import (
    MODEL,
    BallMark,
    FollowedMatch,
    FollowedRally,
    PathSources,
    RallyCorrections,
)
from goodlength.record.model import Footage, MatchInfo, Player
from goodlength.scoring import Side
from goodlength.tasks.ball import (
    ball_detection,
    ball_following_and_corrections,
    ball_following_inputs,
    ball_following_job,
    ball_path_queries,
)
from goodlength.tasks.ball.stored_ball_paths_rekeyed_to_rallies import followed_ball
from goodlength.tasks.footage.camera_calibration import SavedCamera
from goodlength.tasks.match.lazy_match import OpenMatch
from tests.oracles.followed_shots import SECOND, SOURCES, made_match, made_rally, unchanged_inputs

MARK = BallMark(2 * SECOND, 10.0, 20.0)


@pytest.fixture(scope="module")
def rally() -> RallyWithTruth:
    return simulate_rally(np.random.default_rng([11, 3]), CONDITIONS[0], varied=False)


@pytest.fixture
def opened(tmp_path: Path) -> Iterator[OpenMatch]:
    with tasks.open_library(tmp_path / "library") as library:
        library.save_player(Player("p1", "Petra"))
        library.save_player(Player("p2", "Opal"))
        library.save_match(MatchInfo("m1", ("p1", "p2")))
        library.save_footage(Footage("f1", "m1", "/films/one.mp4", 0, first_us=0, end_us=100 * SECOND))
        yield tasks.open_match(library, "m1")


@pytest.fixture
def made(monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """Every rally asked for, followed at once as `made_rally`."""
    asked: list[Any] = []

    def follow(_self: object, wanted: Any, corrections: RallyCorrections, *_: Any) -> FollowedRally:
        asked.append((wanted, corrections))
        return made_rally(wanted.key, begin_us=wanted.searched["from_us"] - SECOND)

    monkeypatch.setattr(ball_following_job.RallyFollower, "__init__", lambda *_: None)
    monkeypatch.setattr(ball_following_job.RallyFollower, "model", "made")
    monkeypatch.setattr(ball_following_job.RallyFollower, "sources", lambda *_: PathSources())
    monkeypatch.setattr(ball_following_job.RallyFollower, "follow", follow)
    return asked


def inputs(key: str, begin_us: int = 0) -> ball_following_job.RallyInputs:
    span = BallSpan(key, "f1", begin_us + SECOND, begin_us + 9 * SECOND)
    return ball_following_job.RallyInputs(key, "f1", asdict(span), {}, None, [], "", ("", ""))


def job_args(opened: OpenMatch, *rallies: ball_following_job.RallyInputs, again: bool) -> dict[str, Any]:
    folder = opened.library.folder
    files = {
        "balls": str(ball_file(folder, "m1")),
        "tracks": "",
        "corrections": str(ball_corrections_file(folder, "m1")),
        "to": str(followed_ball_file(folder, "m1")),
    }
    ball = {"dot": "double-yellow", "warmth": "warm", "tin": "standard"}
    wanted = [asdict(rally) for rally in rallies]
    return {"match": "m1", "rallies": wanted, "files": files, "ball": ball, "again": again}


def store(opened: OpenMatch, *rallies: FollowedRally) -> None:
    write_followed(followed_ball_file(opened.library.folder, "m1"), made_match("m1", *rallies))


def turned(rally: FollowedRally) -> FollowedRally:
    """A rally whose first shot has its second path first, by the coach."""
    return replace(rally, shots=(ball_following_job.path_chosen(rally.shots[0], 1), *rally.shots[1:]))


def test_a_detected_rally_keeps_paths_and_corrections_once_it_is_recorded(
    opened: OpenMatch, made: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    store(opened, made_rally("h:m1"), made_rally("h:m2", begin_us=20 * SECOND))
    corrections = ball_corrections_file(opened.library.folder, "m1")
    ball_following_job.change_corrections(corrections, "h:m1", lambda _: RallyCorrections((MARK,)))
    now = [("r:k", 1_700_000, 8_500_000), ("h:m2", 22 * SECOND, 28 * SECOND)]
    monkeypatch.setattr(ball_detection, "_rallies", lambda _: now)
    assert [line.key for line in ball_path_queries.followed_lines(opened)] == ["r:k", "h:m2"]
    for module in (ball_following_and_corrections, ball_following_inputs):
        monkeypatch.setattr(module, "rallies_to_follow", lambda *_: [inputs("r:k")])
    monkeypatch.setattr(ball_path_queries, "camera_at", lambda *_: None)
    ball_following_and_corrections.remove_shot(opened, "r:k", 1, 0)
    said = ball_following_job.corrections_of(corrections, "r:k")
    assert said.marks == (MARK,) and said.not_strikes_us == (2 * SECOND,)
    assert not ball_following_job.corrections_of(corrections, "h:m1")
    assert [wanted.key for wanted, _ in made] == ["r:k"]
    assert made[0][1] == said


def test_a_job_that_knows_the_old_key_adds_no_second_copy(opened: OpenMatch, made: list[Any]) -> None:
    store(opened, replace(made_rally("r:k"), rests_on=PathSources()))
    none = ball_following_job.follow_match_job(
        **job_args(opened, inputs("h:m1"), again=False), progress=lambda *_: None, cancel=lambda: False
    )
    assert none["rallies"] == 0 and made == []


def test_followed_again_each_rally_stays_until_its_new_path_is_there_and_choices_stand(
    opened: OpenMatch, made: list[Any]
) -> None:
    store(opened, turned(made_rally("h:m1")), turned(made_rally("h:m2", begin_us=20 * SECOND)))
    args = job_args(opened, inputs("h:m1"), inputs("h:m2", 20 * SECOND), again=True)
    with pytest.raises(Cancelled):
        ball_following_job.follow_match_job(**args, progress=lambda *_: None, cancel=lambda: len(made) == 1)
    followed = followed_ball(opened)
    assert followed is not None and {rally.key for rally in followed.rallies} == {"h:m1", "h:m2"}
    assert [rally.shots[0].paths[0].chance for rally in followed.rallies] == [0.04, 0.04]


def test_what_is_corrected_while_it_is_followed_is_followed_once_more(
    opened: OpenMatch, made: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    corrections = ball_corrections_file(opened.library.folder, "m1")
    plain = ball_following_job.RallyFollower.follow

    def follow(self: Any, wanted: Any, corrected: RallyCorrections, *_: Any) -> FollowedRally:
        if not made:
            ball_following_job.change_corrections(corrections, "h:m1", lambda _: RallyCorrections((MARK,)))
        return plain(self, wanted, corrected)

    monkeypatch.setattr(ball_following_job.RallyFollower, "follow", follow)
    args = job_args(opened, inputs("h:m1"), again=True)
    ball_following_job.follow_match_job(**args, progress=lambda *_: None, cancel=lambda: False)
    assert len(made) == 2


def test_a_rally_that_cannot_be_followed_is_noted_and_the_rest_is_followed(
    opened: OpenMatch, made: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    """One serve into the side wall ended the job, and no later rally of the match was followed."""
    plain, none = ball_following_job.RallyFollower.follow, float("nan")
    wrong: dict[str, Any] = {
        "h:m1": ValueError("shape"),
        "h:m2": none,
        "h:m3": InputError("Reload the page."),
    }

    def follow(self: Any, wanted: Any, corrected: RallyCorrections, *_: Any) -> FollowedRally:
        found = plain(self, wanted, corrected)
        fault = wrong.get(wanted.key)
        if isinstance(fault, Exception):
            raise fault
        if fault is none:
            path = replace(found.shots[0].paths[0], speed_m_s=none)
            return replace(found, shots=(replace(found.shots[0], paths=(path,)),))
        return found

    monkeypatch.setattr(ball_following_job.RallyFollower, "follow", follow)
    monkeypatch.setattr(ball_following_job.RallyFollower, "sources", lambda *_: SOURCES)
    keys = ("h:m1", "h:m2", "h:m3", "h:m4")
    args = job_args(opened, *(inputs(key, n * 20 * SECOND) for n, key in enumerate(keys)), again=False)

    def run() -> dict[str, FollowedRally]:
        ball_following_job.follow_match_job(**args, progress=lambda *_: None, cancel=lambda: False)
        followed = followed_ball(opened)
        assert followed is not None
        return {rally.key: rally for rally in followed.rallies}

    found = run()
    assert [bool(found[key].shots) for key in keys] == [False, False, False, True]
    assert "ValueError" in found["h:m1"].reason and "ValidationError" in found["h:m2"].reason
    assert "Reload the page." in found["h:m3"].reason
    run()
    assert len(made) == 4  # with the same sources it would fail again
    wrong.clear()
    args["again"] = True
    assert all(rally.shots and not rally.reason and rally.version <= 1 for rally in run().values())
    wrong["h:m4"] = ValueError("shape")
    kept = run()["h:m4"]
    assert kept.shots and "could not be followed again:" in kept.missing[-1]
    assert run()["h:m4"].missing == kept.missing


def test_a_path_that_cannot_be_stored_leaves_the_file_of_all_rallies_as_it_is(
    opened: OpenMatch, made: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A value that is no number was written by a correction on the page, and no rally could be read again."""
    store(opened, made_rally("h:m1", begin_us=0))
    before = followed_ball(opened)
    assert before is not None
    plain = ball_following_job.RallyFollower.follow

    def follow(self: Any, wanted: Any, corrected: RallyCorrections, *_: Any) -> FollowedRally:
        found = plain(self, wanted, corrected)
        path = replace(found.shots[0].paths[0], speed_m_s=float("nan"))
        return replace(found, shots=(replace(found.shots[0], paths=(path,)),))

    monkeypatch.setattr(ball_following_job.RallyFollower, "follow", follow)
    monkeypatch.setattr(ball_following_and_corrections, "settle_keys", lambda _: None)
    monkeypatch.setattr(ball_following_and_corrections, "rallies_to_follow", lambda *_: (inputs("h:m1"),))
    with pytest.raises(InputError, match="nothing was changed"):
        ball_following_and_corrections.follow_rally_again(opened, "h:m1", before.rallies[0].version)
    assert followed_ball(opened) == before


def test_other_rallies_than_those_searched_are_not_all(
    opened: OpenMatch, monkeypatch: pytest.MonkeyPatch
) -> None:
    store(opened, made_rally("h:m1"))
    spans = [BallSpan("h:m1", "f1", SECOND, 9 * SECOND), BallSpan("h:m2", "f1", 21 * SECOND, 29 * SECOND)]
    for module in (ball_path_queries, ball_detection):
        monkeypatch.setattr(module, "ball_spans", lambda _: [(spans[0], spans[0])], raising=False)
    assert ball_path_queries.all_followed(opened)
    for module in (ball_path_queries, ball_detection):
        monkeypatch.setattr(module, "ball_spans", lambda _: [(spans[1], spans[1])], raising=False)
    assert not ball_path_queries.all_followed(opened)


def test_rallies_are_followed_once_and_stored(
    opened: OpenMatch, rally: RallyWithTruth, monkeypatch: pytest.MonkeyPatch
) -> None:
    words: list[str] = []

    def follow(*, again: bool = False) -> FollowedMatch:
        return ball_following_and_corrections.follow_here(
            opened, lambda _, text="": words.append(text), again=again
        )

    with pytest.raises(InputError, match="not searched yet"):
        follow()
    end_us = int(rally.found.times_us[-1])
    stored = StoredBalls("m1", "network-1-x", 2)
    stored.spans[BallSpan("r:1", "f1", 0, end_us)] = rally.found
    stored.spans[BallSpan("r:2", "f1", 20 * SECOND, 20 * SECOND + end_us)] = rally.found
    stored.write(ball_file(opened.library.folder, "m1"))
    now = [("r:1", 500_000, end_us - 2 * SECOND), ("r:2", 21 * SECOND, 19 * SECOND + end_us)]
    monkeypatch.setattr(ball_detection, "_rallies", lambda _: now)

    def camera_at(_library: object, _footage: str, us: int) -> SavedCamera | None:
        return SavedCamera(rally.camera, 0, 0, "f1") if us < 10 * SECOND else None

    monkeypatch.setattr(ball_following_inputs, "camera_at", camera_at)
    followed = follow()
    assert words == ["rally 1 of 2", "rally 2 of 2"]
    bare = tuple(replace(each, answers=()) for each in followed.rallies)  # worked out on reading
    assert followed_ball(opened) == replace(followed, rallies=bare)
    assert followed.rallies[0].answers
    assert followed.model == f"{MODEL}+network-1-x"
    first, second = followed.rallies
    assert len(first.shots) >= 3 and second.shots == () and "not calibrated" in second.reason

    def refused(*_: object, **__: object) -> None:
        pytest.fail("followed again")

    monkeypatch.setattr(ball_following_job.RallyFollower, "follow", refused)
    assert follow() == followed
    with pytest.raises(pytest.fail.Exception, match="followed again"):
        follow(again=True)


def test_what_is_out_of_date_is_followed_again_and_the_rest_left(
    opened: OpenMatch, made: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    now = {"h:m1": PathSources("camera"), "h:m2": PathSources("moved")}
    monkeypatch.setattr(ball_following_job.RallyFollower, "sources", lambda _, rally: now[rally.key])
    rests = PathSources("camera")
    store(
        opened,
        replace(made_rally("h:m1"), rests_on=rests),
        replace(made_rally("h:m2", begin_us=20 * SECOND), rests_on=rests, version=4),
    )
    args = job_args(opened, inputs("h:m1"), inputs("h:m2", 20 * SECOND), again=False)
    ball_following_job.follow_match_job(**args, progress=lambda *_: None, cancel=lambda: False)
    assert [wanted.key for wanted, _ in made] == ["h:m2"]
    followed = followed_ball(opened)
    assert followed is not None
    assert {rally.key: rally.version for rally in followed.rallies} == {"h:m1": 0, "h:m2": 5}


def test_digests_tell_camera_tracks_sounds_and_ball_apart() -> None:
    ball = {"dot": "double-yellow", "warmth": "warm", "tin": "standard"}
    track = {"key": "h:m1", "times_us": [0, 80_000], "xy_cm": [[1, 2, 3, 4]] * 2, "varied": [0.5]}
    rally = replace(inputs("h:m1"), camera={"focal": 1000.0}, hits=[5], named=[(5, "racket", 0.9)])
    before = ball_following_job.sources_of(rally, track, ball, "found")
    assert before == ball_following_job.sources_of(replace(rally, sides=("b", "a")), track, ball, "found")
    near = replace(rally, camera={"focal": 1000.0 * (1 + 1e-12)})
    assert before == ball_following_job.sources_of(near, {**track, "varied": []}, ball, "found")
    changes = {
        "camera": ball_following_job.sources_of(
            replace(rally, camera={"focal": 1000.1}), track, ball, "found"
        ),
        "players": ball_following_job.sources_of(
            rally, {**track, "xy_cm": [[1, 2, 3, 5]] * 2}, ball, "found"
        ),
        "sounds": ball_following_job.sources_of(
            replace(rally, named=[(5, "front", 0.9)]), track, ball, "found"
        ),
        "ball": ball_following_job.sources_of(rally, track, {**ball, "tin": "tour"}, "found"),
        "search": ball_following_job.sources_of(rally, track, ball, "found anew"),
    }
    for name, after in changes.items():
        assert ball_following_job.changed_sources(before, after) == (name,)
    gone = ball_following_job.sources_of(replace(rally, camera=None), None, ball, "found")
    assert ball_following_job.changed_sources(before, gone) == ("camera", "players")
    searched_anew = ball_following_job.sources_of(replace(rally, hits=None), track, ball, "found")
    assert ball_following_job.changed_sources(before, searched_anew) == ()
    assert before.method == MODEL
    assert ball_following_job.changed_sources(replace(before, method="paths-1", ball=""), before) == (
        "method",
    )
    assert ball_following_job.changed_sources(None, before) == ("method",)


def test_paths_of_an_earlier_version_stay_until_each_is_replaced_with_what_the_coach_chose(
    opened: OpenMatch, made: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    """They were deleted all at once when the first was followed again, and the coach's choices with them."""
    monkeypatch.setattr(ball_following_job.RallyFollower, "sources", lambda *_: PathSources(method=MODEL))
    keys = ("h:m1", "h:m2")
    old = [turned(made_rally(key, begin_us=n * 20 * SECOND)) for n, key in enumerate(keys)]
    to = followed_ball_file(opened.library.folder, "m1")
    write_followed(
        to, replace(made_match("m1", *(replace(r, version=3) for r in old)), model="paths-1+older")
    )
    args = job_args(opened, *(inputs(key, n * 20 * SECOND) for n, key in enumerate(keys)), again=False)
    with pytest.raises(Cancelled):
        ball_following_job.follow_match_job(**args, progress=lambda *_: None, cancel=lambda: len(made) == 1)
    followed = followed_ball(opened)
    assert followed is not None and followed.model == "made"
    assert {rally.key: rally.version for rally in followed.rallies} == {"h:m1": 4, "h:m2": 3}
    assert all(rally.shots[0].chosen for rally in followed.rallies)
    monkeypatch.setattr(ball_following_inputs, "inputs_now", unchanged_inputs(old, PathSources(method=MODEL)))
    now = ball_following_inputs.followed_now(opened)
    assert now is not None
    words = {rally.key: rally.out_of_date_words for rally in now.rallies}
    assert "followed by an earlier version" in words["h:m2"] and "calibration" not in words["h:m2"]


def test_a_new_search_of_the_ball_makes_its_paths_out_of_date(
    opened: OpenMatch, rally: RallyWithTruth, monkeypatch: pytest.MonkeyPatch
) -> None:
    end_us = int(rally.found.times_us[-1])
    span, to = BallSpan("r:1", "f1", 0, end_us), ball_file(opened.library.folder, "m1")
    monkeypatch.setattr(ball_detection, "_rallies", lambda _: [("r:1", 500_000, end_us - 2 * SECOND)])

    def camera_at(*_: object) -> SavedCamera:
        return SavedCamera(rally.camera, 0, 0, "f1")

    def searched(found: BallCandidates) -> PathSources:
        stored = StoredBalls("m1", "network-1-x", 1)
        stored.spans[span] = found
        stored.write(to)
        wanted = ball_following_inputs.rallies_to_follow(opened)
        files, ball = (
            ball_following_inputs.following_files(opened),
            ball_following_inputs.ball_settings(opened),
        )
        sources = ball_following_job.RallyFollower(files, ball).sources(wanted[0])
        assert ball_following_inputs.inputs_now(opened, {"r:1"})["r:1"][1] == sources
        return sources

    monkeypatch.setattr(ball_following_inputs, "camera_at", camera_at)
    before = searched(rally.found)
    assert before.search and searched(rally.found) == before
    other = replace(rally.found, uv=rally.found.uv + 0.3)
    assert ball_following_job.changed_sources(before, searched(other)) == ("search",)
    with np.load(to, allow_pickle=False) as archive:
        arrays = dict(archive)
    about = json.loads(str(arrays["about"]))
    for form in about["spans"]:
        del form["digest"]  # as an earlier version stored it
    np.savez_compressed(to, **{**arrays, "about": np.array(json.dumps(about))})
    again = read_balls(to)
    assert again is not None
    assert ball_summary(to).digests == {span: found_digest(again.spans[span])}
    assert found_digest(again.spans[span]) == found_digest(other)


def test_who_struck_is_told_by_what_is_known_of_the_players_now(
    opened: OpenMatch, monkeypatch: pytest.MonkeyPatch
) -> None:
    rally = made_rally("h:m1")
    unnamed = replace(rally, shots=tuple(replace(shot, striker=None) for shot in rally.shots))
    store(opened, unnamed)
    monkeypatch.setattr(ball_following_inputs, "inputs_now", unchanged_inputs([unnamed]))
    now = ball_following_inputs.followed_now(opened)
    assert now is not None and [shot.striker for shot in now.rallies[0].shots] == [Side.A, Side.B]
