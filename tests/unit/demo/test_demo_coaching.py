"""A coach's work on the demo: what is shipped fits the film's truth, and all of it can be removed."""

from __future__ import annotations

import random
import shutil
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from goodlength import demo, tasks
from goodlength.demo.coaching import practice_sessions
from goodlength.demo.coaching.demo_film_analysis_run import CLICK_SEED, MEASURED_KINDS, serve_clicks
from goodlength.demo.coaching.precomputed_video_results import shipped_court, shipped_paths, shipped_tracks
from goodlength.demo.demo_library import FOOTAGE_ID, TRY_FOOTAGE_ID
from goodlength.demo.film.game_timeline import Filmed
from goodlength.demo.match.demo_players_and_matches import IMOGEN, MATCH, PLAYERS, TRY
from goodlength.demo.play.court_camera import CAMERA
from goodlength.demo.play.player_walking import places
from goodlength.demo.record_entries_of_demo_matches import filmed_game
from goodlength.files.library_layout import files_in
from goodlength.footage.ball_detection.ball_candidate_storage import read_balls
from goodlength.footage.camera import CameraCalibration, Click, calibrate_camera
from goodlength.measure.serves.serve_marks_and_strike_prior import MarkKind, ServeMark
from goodlength.measure.serves.serve_measurement import measure_serve
from goodlength.measure.shots.followed_ball_types import FORMAT, MODEL
from goodlength.record.store import Library
from goodlength.scoring.scoring_types import Side
from goodlength.tasks.ball.ball_path_queries import followed_lines


@pytest.fixture(scope="module")
def filmed() -> Filmed:
    return filmed_game()


@pytest.fixture(scope="module")
def camera() -> CameraCalibration:
    clicks = [Click(mark["mark"], mark["u"], mark["v"], True) for mark in shipped_court()["marks"]]
    return calibrate_camera(clicks, CAMERA.width, CAMERA.height, "standard")


def test_the_shipped_court_is_the_one_of_the_film(camera: CameraCalibration) -> None:
    spots = np.array([(1.0, 9.0, 0.0), (5.4, 9.0, 0.0), (3.2, 5.5, 0.0), (2.0, 0.0, 3.0)])
    (found, _) = camera.lens.project(spots)
    true = np.array([CAMERA.see(*spot)[:2] for spot in spots])
    assert np.abs(found - true).max() < 2.0


def test_the_shipped_paths_are_those_of_the_players(filmed: Filmed) -> None:
    spans = [
        (f"r:demo-g1-r{n:02d}", round(rally.start_s * 1e6), round(rally.end_s * 1e6))
        for n, rally in enumerate(filmed.rallies, 1)
    ]
    tracks = shipped_tracks(MATCH, FOOTAGE_ID, spans)
    assert [rally["key"] for rally in tracks["rallies"]] == [key for key, *_ in spans]
    fewer = shipped_tracks(MATCH, FOOTAGE_ID, spans[:4] + spans[5:])
    assert [rally["key"] for rally in fewer["rallies"]] == [key for key, *_ in spans[:4] + spans[5:]]
    strikes = {
        side: tuple(s.time_s for r in filmed.rallies for s in r.strikes if s.by is side) for side in Side
    }
    apart = []
    for rally in tracks["rallies"]:
        times = np.array(rally["times_us"]) / 1e6
        true = places(filmed.walks, strikes, times)
        at = np.array(rally["xy_cm"], dtype=float).reshape(-1, 2, 2) / 100.0
        each = [np.hypot(*(at[:, k] - true[side]).T) for k in (0, 1) for side in (Side.A, Side.B)]
        one_way, other_way = np.r_[each[0], each[3]], np.r_[each[1], each[2]]
        apart.append(min(np.nanmedian(one_way), np.nanmedian(other_way)))
    assert len(apart) == 19
    assert max(apart) < 0.25  # metres: within a rally, half of all places lie nearer


def test_the_shipped_ball_lies_where_it_flew(filmed: Filmed, demo_data: Path) -> None:
    stored = read_balls(demo_data / "ball.npz")
    assert stored is not None
    assert len(stored.spans) == 19
    near = []
    for found in stored.spans.values():
        for at_us, (u, v) in zip(found.times_us, found.uv[:, 0], strict=True):
            ball = filmed.ball(at_us / 1e6)
            if ball is not None and np.isfinite(u):
                true = CAMERA.see(*ball)
                near.append(np.hypot(u - true[0], v - true[1]) < 12.0)
    assert len(near) > 2000
    assert np.mean(near) > 0.7


def test_the_shipped_paths_of_the_ball_touch_where_it_touched(filmed: Filmed) -> None:
    paths = shipped_paths()
    assert (paths.match, {rally.footage for rally in paths.rallies}) == (MATCH, {FOOTAGE_ID})
    assert paths.format == FORMAT
    assert [rally.key for rally in paths.rallies] == [f"r:demo-g1-r{n:02d}" for n in range(1, 20)]
    assert {rally.rests_on.method for rally in paths.rallies if rally.rests_on} == {MODEL}
    strikes = [s.time_s for rally in filmed.rallies for s in rally.strikes]
    struck, far = [], []
    for rally in paths.rallies:
        for shot in rally.shots:
            struck.append(shot.struck_us / 1e6)
            for contact in shot.paths[0].contacts:
                true = filmed.ball(contact.time_us / 1e6)
                if true is not None:
                    far.append(np.linalg.norm(np.subtract(contact.place_m, true)))
    found = [min(abs(np.array(struck) - true)) < 0.06 for true in strikes]
    assert np.mean(found) > 0.9
    assert len(far) > 300
    assert np.median(far) < 0.2  # metres


@pytest.fixture
def demo_data() -> Path:
    return Path(demo.__file__).parent / "data"


def test_serves_are_clicked_and_measured_as_they_flew(filmed: Filmed, camera: CameraCalibration) -> None:
    rng = random.Random(CLICK_SEED)
    inside, count = 0, 0
    for n, rally in enumerate(filmed.rallies, 1):
        clicks = list(serve_clicks(filmed, n, rng))
        plan = rally.plan
        if plan.server is not Side.A or plan.kind not in MEASURED_KINDS or plan.how is None:
            continue
        marks = [ServeMark(MarkKind(c.what), c.at_us / 1e6, c.u, c.v) for c in clicks]
        found = measure_serve(camera, marks, plan.box.value, PLAIN)
        true = float(np.linalg.norm(rally.strikes[0].path.knots[0][4:7]))
        inside += found.speed_m_s.low <= true <= found.speed_m_s.high
        count += 1
    assert count == 10
    assert inside >= 8


def _plain() -> Any:
    from goodlength.ball import Air, Ball, Court, PlayConditions

    return PlayConditions(Ball("double-yellow", "unsure"), Court(), Air())


PLAIN = _plain()


def test_practice_is_logged_and_leaves_with_the_demo(tmp_path: Path, demo_library: Path) -> None:
    folder = tmp_path / "library"
    shutil.copytree(demo_library, folder)
    with Library.open(folder) as library:
        practice_sessions.log_practice(library)
        practice_sessions.log_practice(library)  # a build that was interrupted is taken up: nothing twice
        sets = tasks.sets_of(library, IMOGEN.id)
        days = {each.on for of_drill in sets.values() for each in of_drill}
        assert len(days) == 6
        for lobs in sets["lob-to-the-box"]:
            inside = [
                round(abs(x - 3.3), 2) <= 0.15 and round(abs(z - 4.0), 2) <= 0.25 for x, z in lobs.places
            ]
            assert lobs.hits == sum(inside)
        plan = tasks.current_plan(library, IMOGEN.id)
        assert plan is not None
        assert plan["match"] == MATCH
        tasks.add_player(library, "Own Player", player_id="mine")
        tasks.new_match(library, ("mine", IMOGEN.id), match_id="own")
        tasks.log_set(library, IMOGEN.id, "lob-to-the-box", 9, 15, set_id="own-set")
    assert demo.remove(folder).still_named == (IMOGEN.id,)
    with Library.open(folder) as library:
        assert [entry.id for entry in library.practice(IMOGEN.id)] == ["own-set"]


@pytest.mark.slow
@pytest.mark.timeout(900)
def test_the_whole_demo_is_built_within_its_time_and_removed_whole(tmp_path: Path) -> None:
    shares: list[float] = []
    folder = tmp_path / "library"
    built = demo.build(folder, lambda share, _words: shares.append(share))
    assert built.film is not None
    assert all(before <= after for before, after in pairwise(shares))
    assert demo.is_built(folder)
    with Library.open(folder) as library:
        opened = tasks.open_match(library, MATCH)
        assert 18 <= len(tasks.listed_rallies(opened).rallies) <= 19  # a rally fewer on some computers
        assert sum(rally.serve.measured is not None for rally in opened.match.rallies) == 10
        lines = followed_lines(opened)
        assert len(lines) == 19 and not any(line.out_of_date for line in lines)
        assert (folder / "handouts" / "handout-demo.pdf").is_file()
        assert (
            len(library.clips(MATCH)) >= 2
        )  # the handout's files; clips are taken in when a page lists them
        drafted = tasks.draft_match(tasks.open_match(library, TRY)).sheet
        winners = [proposal.winner for proposal in drafted.proposals]  # type: ignore[union-attr]
        played = [rally.plan.winner for rally in filmed_game().rallies]
        assert winners == played if len(winners) == len(played) else len(winners) == 18
        assert {file.id for match in (MATCH, TRY) for file in library.footage(match)} == {
            FOOTAGE_ID,
            TRY_FOOTAGE_ID,
        }
        assert tasks.library_check(library).problems == ()
    before = {path: path.stat().st_mtime_ns for path in folder.rglob("*") if path.is_file()}
    assert demo.build(folder).new_entries == 0
    again = {path: path.stat().st_mtime_ns for path in folder.rglob("*.json")}
    assert all(before[path] == changed for path, changed in again.items())
    demo.remove(folder)
    left = [name for name, _, kind in files_in(folder) if kind is None or kind.folder not in ("", "*")]
    assert left == []
    with Library.open(folder) as library:
        assert library.matches() == ()
        assert not {player.id for player in library.players()} & {player.id for player in PLAYERS}
        assert library.practice_logs() == {}
