"""Players followed: kept paths laid on match time, named by serves or by the coach, asked at hits, for the draft."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from goodlength import tasks
from goodlength.cli import main
from goodlength.errors import FootageGone, InputError
from goodlength.forms.footage.player_tracking_json import tracking_form
from goodlength.jobs.job_queue import Jobs
from goodlength.measure.players.match_tracking_job import TrackSpan, track_form, track_from
from goodlength.measure.players.player_tracking import Tracks
from goodlength.measure.players.track_identity_and_movement import RallyTrack
from goodlength.measure.score.server_and_box_likelihoods import TRUTHS
from goodlength.record.model import EntryKind, Footage
from goodlength.record.store import Library
from goodlength.scoring import Box, Side
from goodlength.tasks.draft import score_draft_proposal_and_acceptance
from goodlength.tasks.footage import player_tracking
from goodlength.tasks.footage.player_time_maps import player_time_maps, tracked_games
from goodlength.tasks.preparation.match_workflow_stage import match_progress
from goodlength.tasks.preparation.next_step_for_person import next_step
from goodlength.tasks.preparation.preparation_step_state_and_time_left import PreparationStep
from goodlength.tasks.preparation.video_preparation_queue import Preparation

SECOND = 1_000_000
DARK, LIGHT = np.full(12, 40.0), np.full(12, 200.0)


@pytest.fixture
def library(tmp_path: Path) -> Any:
    with Library.open(tmp_path / "library") as item:
        for player in ("a", "b"):
            tasks.add_player(item, f"Player {player.upper()}", player_id=player)
        tasks.new_match(item, ("a", "b"), match_id="m1")
        item.save_footage(Footage("f1", "m1", "/one.mp4", 0, first_us=0, end_us=100 * SECOND))
        yield item


def heard(library: Library, count: int = 3) -> list[str]:
    """Rallies heard at 2, 22, 42 s, each with four hits; their ids."""
    films = [{"id": "f1", "path": "/one.mp4", "starts_us": 0, "first_us": 0, "end_us": 100 * SECOND}]
    rallies = [
        {
            "start_us": (20 * n + 2) * SECOND,
            "end_us": (20 * n + 8) * SECOND,
            "hits_us": [(20 * n + 2) * SECOND + k * 1_500_000 for k in range(4)],
            "doubtful": False,
            "why": "",
        }
        for n in range(count)
    ]
    (library.folder / "heard").mkdir()
    (library.folder / "heard" / "m1.json").write_text(json.dumps({"films": films, "rallies": rallies}))
    return [f"f1-{(20 * n + 2) * 1000}" for n in range(count)]


def track(key: str, start_s: float, *, serves: int = 0, hidden: str = "", sure: float = 12.0) -> RallyTrack:
    """Player `serves` stands in the right service box, the other waits in the left quarter; both go to the T."""
    n = 90
    times = start_s - 1.0 + 0.08 * np.arange(n)
    go = np.clip((times - start_s - 0.5) / 3.0, 0.0, 1.0)[:, None]
    server = np.array([5.6, 6.2]) * (1 - go) + np.array([3.2, 5.6]) * go
    receiver = np.array([1.3, 7.6]) * (1 - go) + np.array([3.0, 6.4]) * go
    pair = [server, receiver] if serves == 0 else [receiver, server]
    full = np.ones((n, 2))
    paths = Tracks(
        times,
        np.stack(pair, axis=1),
        0.2 * full,
        full > 0,
        full > 0,
        np.stack([DARK, LIGHT]),
        np.ones(12),
        0.97,
    )
    return RallyTrack(key, paths, 0.9, False, sure, hidden)


def kept(library: Library, tracks: list[RallyTrack]) -> None:
    rallies = [track_form(item, TrackSpan(item.key, "f1", 0, 1)) for item in tracks]
    clothing = {"middle": [DARK.tolist(), LIGHT.tolist()], "spread": [6.0] * 12}
    path = player_tracking.track_files(library.folder, "m1")[0]
    path.parent.mkdir()
    path.write_text(json.dumps({"format": 1, "match": "m1", "clothing": clothing, "rallies": rallies}))


def recorded(library: Library, server: str = "a", box: str = "right") -> None:
    span = {"start_us": 2 * SECOND, "end_us": 8 * SECOND, "how": "heard"}
    for what, value in (
        (EntryKind.SPAN, span),
        (EntryKind.SERVER, server),
        (EntryKind.BOX, box),
        (EntryKind.WINNER, "a"),
    ):
        tasks.answer(library, "m1", "r1", what, value)


def test_paths_read_again_are_those_written() -> None:
    item = track("h:x", 2.0)
    again = track_from(json.loads(json.dumps(track_form(item, TrackSpan("h:x", "f1", 0, 1)))))
    assert again.paths.xy == pytest.approx(item.paths.xy, abs=0.006)
    assert again.paths.times_s == pytest.approx(item.paths.times_s, abs=1e-6)
    assert (again.key, again.sure, again.hidden) == ("h:x", 12.0, "")


def test_a_recorded_serve_names_the_players_in_all_rallies(library: Library) -> None:
    ids = heard(library)
    recorded(library, server="b")
    kept(library, [track(f"h:{ids[0]}", 2.0), track(f"h:{ids[1]}", 22.0), track(f"h:{ids[2]}", 42.0)])
    found = player_tracking.tracked_match(tasks.open_match(library, "m1"))
    assert (found.identified_by, len(found.identified), found.stale) == ("the logged serves", 3, False)
    # Player 0 served; the record says B served: B is the first, so A stands second, waiting.
    assert found.rallies[1].track.paths.xy[0, 0] == pytest.approx([1.3, 7.6])
    assert found.rallies[0].rally is not None


def test_the_coach_names_them_where_nothing_is_recorded(library: Library) -> None:
    ids = heard(library)
    kept(
        library,
        [
            track(f"h:{ids[0]}", 2.0),
            track(f"h:{ids[1]}", 22.0, hidden="feet were seen at only 20 of 100 places"),
        ],
    )
    assert player_tracking.tracked_match(tasks.open_match(library, "m1")).identified == ()
    found = player_tracking.name_players(tasks.open_match(library, "m1"), "a")
    assert (found.identified_by, [item.key for item in found.identified]) == ("you", [f"h:{ids[0]}"])
    assert found.stale
    with pytest.raises(InputError, match="'a' or 'b'"):
        player_tracking.name_players(tasks.open_match(library, "m1"), "c")


def test_serves_told_in_the_rallies_heard_name_the_players(library: Library) -> None:
    ids = heard(library)
    for item in ids:
        tasks.correct_rally(tasks.open_match(library, "m1"), item, seen="b-right", state="kept")
    kept(library, [track(f"h:{element}", 20.0 * n + 2.0) for n, element in enumerate(ids)])
    found = player_tracking.tracked_match(tasks.open_match(library, "m1"))
    assert len(found.identified) == 3
    assert found.rallies[1].track.paths.xy[0, 0] == pytest.approx([1.3, 7.6])  # B served, A waits


def test_a_name_that_contradicts_the_serves_is_said(library: Library) -> None:
    ids = heard(library)
    for item in ids:
        tasks.correct_rally(tasks.open_match(library, "m1"), item, seen="b-right", state="kept")
    kept(library, [track(f"h:{element}", 20.0 * n + 2.0) for n, element in enumerate(ids)])
    wrong = player_tracking.name_players(tasks.open_match(library, "m1"), "a")
    assert "contradicts the serves: in 3 of 3" in " ".join(wrong.words)
    assert "contradicts" not in " ".join(
        player_tracking.name_players(tasks.open_match(library, "m1"), "b").words
    )


def test_places_at_hits_alternate_from_the_server_on(library: Library) -> None:
    ids = heard(library)
    recorded(library)
    kept(library, [track(f"h:{ids[0]}", 2.0)])
    hits = player_tracking.hit_places(player_tracking.tracked_match(tasks.open_match(library, "m1")))
    assert [hit.by for hit in hits] == ["a", "b", "a", "b"]
    assert hits[0].striker_m == pytest.approx((5.6, 6.2), abs=0.02)
    assert hits[1].other_m is not None and hits[1].other_m[0] < 5.3
    stood = player_tracking.positions_at_opponent_strikes(
        player_tracking.tracked_match(tasks.open_match(library, "m1"))
    )
    assert (stood["a"].n, stood["b"].n) == (2, 2)
    assert stood["a"].from_t is None  # two hits are too few for a range
    work = player_tracking.work_done(player_tracking.tracked_match(tasks.open_match(library, "m1")))
    assert work["a"][0].way_m == pytest.approx(2.5, abs=0.2)


def test_where_they_stood_at_the_serve_goes_into_the_draft(library: Library) -> None:
    ids = heard(library)
    kept(library, [track(f"h:{item}", 20.0 * n + 2.0, serves=n % 2) for n, item in enumerate(ids)])
    player_tracking.name_players(tasks.open_match(library, "m1"), "a")
    feet = player_tracking.feet_at_serves(tasks.open_match(library, "m1"))
    assert set(feet) == set(ids)
    rallies = tasks.listed_rallies(tasks.open_match(library, "m1")).played
    looked = score_draft_proposal_and_acceptance.observations_of(rallies, feet)
    best = [max(range(4), key=item.likely.__getitem__) for item in looked]
    assert [TRUTHS[k] for k in best] == [(Side.A, Box.RIGHT), (Side.B, Box.RIGHT), (Side.A, Box.RIGHT)]
    # What the coach saw stands over what the machine did.
    told = tasks.correct_rally(tasks.open_match(library, "m1"), ids[0], seen="b-left").played
    first = score_draft_proposal_and_acceptance.observations_of(told, feet)[0]
    assert TRUTHS[max(range(4), key=first.likely.__getitem__)] == (Side.B, Box.LEFT)


def test_players_standing_at_a_serve_and_its_path_speak_for_a_rally(library: Library) -> None:
    ids = heard(library)
    kept(library, [track(f"h:{item}", 20.0 * n + 2.0, serves=n % 2) for n, item in enumerate(ids)])
    player_tracking.name_players(tasks.open_match(library, "m1"), "a")
    feet = player_tracking.feet_at_serves(tasks.open_match(library, "m1"))
    sure = tasks.listed_rallies(tasks.open_match(library, "m1")).played
    doubtful = tuple(
        replace(rally, doubtful=True, chance=chance)
        for rally, chance in zip(sure, (None, 0.8, 1.0), strict=True)
    )

    def chances(rallies: Any, *more: Any) -> list[float]:
        return [item.no_rally for item in score_draft_proposal_and_acceptance.observations_of(rallies, *more)]  # type: ignore[misc]

    assert chances(sure, {}) == [0.02, 0.02, 0.02]
    assert chances(doubtful, {}) == pytest.approx([0.5, 0.2, 0.02])  # what the detection says of each
    standing = chances(doubtful, feet)
    assert all(0.0 < after < before / 5 for after, before in zip(standing, (0.5, 0.2, 0.02), strict=True))
    served = chances(doubtful, feet, frozenset(ids[:1]))
    assert served[0] < standing[0] / 4 and served[1:] == standing[1:]


def test_everything_as_plain_values(library: Library) -> None:
    ids = heard(library)
    kept(library, [track(f"h:{ids[0]}", 2.0), track(f"h:{ids[1]}", 22.0, hidden="too few frames")])
    form = json.loads(json.dumps(tracking_form(tasks.open_match(library, "m1"))))
    assert [item["paths"] is None for item in form["rallies"]] == [False, True]
    assert form["rallies"][1]["hidden"] == "too few frames"


def test_the_command_prints_what_was_followed(library: Library, capsys: pytest.CaptureFixture[str]) -> None:
    ids = heard(library)
    recorded(library)
    kept(library, [track(f"h:{ids[0]}", 2.0), track(f"h:{ids[1]}", 22.0, hidden="too few frames")])
    args = ["--library", str(library.folder)]
    main(args=["footage", "players", "m1", *args])
    said = capsys.readouterr().out
    assert "Players tracked in 1 of 2 rallies. 1 is not shown: tracked too poorly." in said
    assert "not shown: too few frames" in said
    assert "Player A, 1 rally:" in said
    assert "Which player is which: set by the logged serves." in said
    assert "track again with --again" in said
    main(args=["footage", "players", "m1", "--first", "b", "--json", *args])
    assert json.loads(capsys.readouterr().out)["told_by"] == "you"


def test_nothing_followed_is_nothing(library: Library) -> None:
    found = player_tracking.tracked_match(tasks.open_match(library, "m1"))
    assert (found.rallies, found.words) == ((), ())
    assert player_tracking.feet_at_serves(tasks.open_match(library, "m1")) == {}


def test_without_rallies_or_film_the_next_step_is_said(library: Library, tmp_path: Path) -> None:
    with Jobs(tmp_path / "jobs") as jobs:
        with pytest.raises(InputError, match="No rally has a time"):
            player_tracking.start_tracking(tasks.open_match(library, "m1"), jobs)
        heard(library)
        with pytest.raises(FootageGone, match="cannot be found"):
            player_tracking.start_tracking(tasks.open_match(library, "m1"), jobs)


def test_court_lines_and_paths_lie_in_the_picture_where_the_camera_sees_them(
    library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The feet of the receiver at the end of the track, by the camera's own projection; hidden tracks stay out."""
    from goodlength.synthetic.simulated_camera_clicks import plain_clicks
    from goodlength.tasks.footage.camera_calibration import SavedCamera, solve_marks
    from goodlength.tasks.playback import court_player_and_pose_overlay, overlay_at

    keys = heard(library)
    kept(library, [track(f"h:{keys[0]}", 2.0), track(f"h:{keys[1]}", 22.0, hidden="too few frames")])
    recorded(library)
    opened = tasks.open_match(library, "m1")
    monkeypatch.setattr(court_player_and_pose_overlay, "camera_at", lambda *_: None)
    assert "not calibrated" in overlay_at(opened, 4 * SECOND).missing.court
    camera = solve_marks(library, "f1", plain_clicks(480, 360), size=(480, 360))
    monkeypatch.setattr(
        court_player_and_pose_overlay, "camera_at", lambda *_: SavedCamera(camera, 0, 0, "f1")
    )
    found = overlay_at(opened, 4 * SECOND)
    assert len(found.lines) > 10 and found.missing.court == found.missing.paths == ""
    assert all(-0.06 <= value <= 1.06 for line in found.lines for point in line for value in point)
    assert [path.who for path in found.paths] == ["a", "b"]
    seen, _ = camera.lens.project(np.array([[3.0, 6.4, 0.0]]))
    assert found.paths[1].points[-1] == pytest.approx((seen[0] / (480, 360)).tolist(), abs=1e-3)
    assert list(found.paths[0].times_us) == sorted(found.paths[0].times_us)
    hidden = overlay_at(opened, 24 * SECOND)
    assert hidden.paths == () and "not tracked here" in hidden.missing.paths
    assert overlay_at(opened, 500 * SECOND).lines == ()


def progress_after_tracking(library: Library, *skipped: str, state: Any = "done") -> Any:
    step = PreparationStep("players", "Track the players", state, "", 1.0, 0.0)
    opened = tasks.open_match(library, "m1")
    preparation = Preparation(True, False, (step,), frozenset(skipped))
    return match_progress(opened, tasks.listed_rallies(opened), preparation)


def test_after_tracking_the_coach_says_who_is_who_before_a_draft(library):
    keys = heard(library)
    kept(library, [track(f"h:{key}", 20 * n + 2.0) for n, key in enumerate(keys)])
    assert next_step(progress_after_tracking(library)).button == "Say who is who"
    assert next_step(progress_after_tracking(library, "who")).button == "Log 3 rallies"
    player_tracking.name_players(tasks.open_match(library, "m1"), "a")
    assert next_step(progress_after_tracking(library)).button == "Check the draft"


def test_one_known_server_does_not_say_who_is_who_through_a_match_and_two_do(library):
    """A slip in the one answer would turn the players round in every rally."""
    keys = heard(library)
    kept(library, [track(f"h:{key}", 20 * n + 2.0) for n, key in enumerate(keys)])
    tasks.correct_rally(tasks.open_match(library, "m1"), keys[0], seen="a-right", state="kept")
    assert player_tracking.tracked_match(tasks.open_match(library, "m1")).identified_by == "the logged serves"
    assert next_step(progress_after_tracking(library)).button == "Say who is who"
    tasks.correct_rally(tasks.open_match(library, "m1"), keys[1], seen="a-right", state="kept")
    assert next_step(progress_after_tracking(library)).button == "Check the draft"


@pytest.mark.parametrize("state", ["running", "waiting"])
def test_while_the_players_are_tracked_doubtful_rallies_wait_for_record_however_many(library, state):
    """Each rally is watched there: to look at a doubtful one before was to watch it twice."""
    heard(library)
    path = library.folder / "heard" / "m1.json"
    plain = json.loads(path.read_text())
    plain["rallies"][1]["doubtful"] = True
    path.write_text(json.dumps(plain))
    assert next_step(progress_after_tracking(library, state=state)).name == "wait"
    assert next_step(progress_after_tracking(library, state="failed")).button == "Log 3 rallies"
    plain["rallies"][2]["doubtful"] = True
    path.write_text(json.dumps(plain))
    assert next_step(progress_after_tracking(library, state=state)).name == "wait"


def test_players_in_like_clothes_are_told_by_the_servers_of_the_rallies(library):
    keys = heard(library)
    kept(library, [track(f"h:{key}", 20 * n + 2.0) for n, key in enumerate(keys)])
    path = player_tracking.track_files(library.folder, "m1")[0]
    path.write_text(json.dumps({**json.loads(path.read_text()), "clothing": None}))
    assert next_step(progress_after_tracking(library)).button == "Log 3 rallies"


def test_time_counts_by_game_and_only_where_it_is_sure_who_is_who(library: Any) -> None:
    ids = heard(library)
    recorded(library)
    third = track(f"h:{ids[2]}", 42.0)
    error = third.paths.error_m.copy()
    error[40:, 1] = 0.7  # too unsure a place for the second player
    unsure = replace(third, paths=replace(third.paths, error_m=error))
    kept(library, [track(f"h:{ids[0]}", 2.0), track(f"h:{ids[1]}", 22.0, hidden="too dark"), unsure])
    opened = tasks.open_match(library, "m1")
    tracked = player_tracking.tracked_match(opened)
    assert tracked_games(tracked) == (1,)
    whole, first = player_time_maps(opened, tracked), player_time_maps(opened, tracked, 1)
    assert (whole.rallies, whole.all_rallies, whole.seconds) == (2, 3, pytest.approx(18.0))
    assert (first.rallies, first.all_rallies, first.seconds) == (1, 1, pytest.approx(6.0))
    assert first.of["a"] is not None and first.of["b"] is not None
    assert first.of["a"].seconds == pytest.approx(6.0, abs=0.1)
    assert first.share("a") == pytest.approx(1.0, abs=0.02)
    assert first.of["a"].left < 0.5 < first.of["b"].left  # A serves from the right, B waits on the left
    assert whole.share("b") < whole.share("a") == pytest.approx(2 / 3, abs=0.02)
    assert player_time_maps(opened, tracked, 2).of == {"a": None, "b": None}
    assert player_time_maps(opened, tracked, 2).share("a") == 0.0


def test_a_part_left_out_is_no_time_stood_still(library: Any) -> None:
    ids = heard(library)
    recorded(library)
    whole = track(f"h:{ids[0]}", 2.0)
    paths = whole.paths
    left = np.r_[0:20, 60:90]  # 3.2 s in the middle are not there
    gap = replace(
        paths, **{name: getattr(paths, name)[left] for name in ("times_s", "xy", "error_m", "seen", "feet")}
    )
    kept(library, [replace(whole, paths=gap)])
    opened = tasks.open_match(library, "m1")
    found = player_time_maps(opened, player_tracking.tracked_match(opened)).of["a"]
    assert found is not None and found.seconds == pytest.approx(6.0 - 3.2 + 0.16, abs=0.1)
