"""The filmed game: legal serves and returns, truth that agrees with the record."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

from goodlength.court import BallContact, CourtSurface, return_verdict, serve_verdict
from goodlength.demo.film.audio_synthesis import SOUND_M_S
from goodlength.demo.film.frame_sequence import FRAMES_A_S, FrameRenderer
from goodlength.demo.film.game_timeline import DEAD_S
from goodlength.demo.film.ground_truth import truth_of
from goodlength.demo.match import demo_players_and_matches
from goodlength.demo.play.ball_flight import DemoFlight
from goodlength.demo.play.court_camera import CAMERA
from goodlength.demo.play.rally_simulation import ASSUMED_FASTEST_M_S
from goodlength.demo.record_entries_of_demo_matches import demo_entries, filmed_game, place_of
from goodlength.record.entry_log_replay import match_from
from goodlength.record.model import Ending, ReturnKind
from goodlength.scoring import Side


def touched(path: DemoFlight, until_s: float) -> list[BallContact]:
    return [BallContact(CourtSurface(c.surface.value), *c.at) for c in path.contacts if c.time_s < until_s]


def test_every_serve_is_good_but_the_planned_fault() -> None:
    for rally in filmed_game().rallies:
        first = rally.strikes[0]
        until = rally.strikes[1].time_s - first.time_s if len(rally.strikes) > 1 else 9.0
        verdict = serve_verdict(
            rally.plan.box.value, touched(first.path, until), volleyed=rally.plan.how in VOLLEYS
        )
        assert verdict.good == (rally.plan.ending is not Ending.SERVICE_FAULT), (rally.plan, verdict)


VOLLEYS = (ReturnKind.VOLLEYED, ReturnKind.AFTER_SIDE_WALL)


def test_every_shot_before_the_last_is_a_good_return() -> None:
    for rally in filmed_game().rallies:
        for strike, following in zip(rally.strikes[1:], rally.strikes[2:], strict=False):
            verdict = return_verdict(touched(strike.path, following.time_s - strike.time_s))
            assert verdict.good, (rally.plan.n_in_game, strike.n, verdict)


def test_a_rally_ends_as_its_plan_says() -> None:
    for rally in filmed_game().rallies:
        last = rally.strikes[-1]
        errs = rally.plan.ending in (Ending.FORCED_ERROR, Ending.UNFORCED_ERROR)
        assert rally.end_how == ("out" if len(rally.strikes) == 1 else "tin" if errs else "second-bounce")
        assert last.by is rally.plan.last_striker
        assert len(rally.strikes) == rally.plan.shots


def test_players_strike_in_turn_where_the_ball_is() -> None:
    for rally in filmed_game().rallies:
        for a, b in zip(rally.strikes, rally.strikes[1:], strict=False):
            assert b.by is a.by.other
            assert a.path.at(b.time_s - a.time_s) == pytest.approx(b.ball, abs=1e-6)
            assert math.dist(b.body, b.ball[:2]) < 1.2
            assert 0.4 < b.time_s - a.time_s < 3.5


def test_dead_time_is_five_to_eight_seconds() -> None:
    rallies = filmed_game().rallies
    for a, b in pairwise(rallies):
        assert DEAD_S[0] <= b.start_s - a.end_s <= DEAD_S[1]
    assert 4 * 60 <= filmed_game().length_s <= 6 * 60


def test_players_move_like_people() -> None:
    pictures = FrameRenderer(filmed_game(), CAMERA)
    for side in Side:
        steps = pictures.places[side]
        speed = ((steps[1:] - steps[:-1]) ** 2).sum(axis=1) ** 0.5 * FRAMES_A_S
        assert speed.max() < 2.1 * ASSUMED_FASTEST_M_S
        assert steps[:, 0].min() > 0.2
        assert steps[:, 0].max() < 6.2


def test_servers_stand_in_their_box_when_they_serve() -> None:
    pictures = FrameRenderer(filmed_game(), CAMERA)
    for rally in filmed_game().rallies:
        x, y = pictures.places[rally.plan.server][round(rally.start_s * FRAMES_A_S)]
        assert 5.49 < y < 7.09
        assert (x > 4.8) if rally.plan.box.value == "right" else (x < 1.6)


def test_truth_and_record_tell_the_same_story() -> None:
    filmed = filmed_game()
    truth = truth_of(filmed, CAMERA, demo_players_and_matches.MATCH)
    match = match_from(
        demo_players_and_matches.info(demo_players_and_matches.MATCH),
        demo_entries(filmed),
        ("Imogen", "Petra"),
    )
    game = [rally for rally in match.rallies if rally.game == 1]
    assert len(truth["rallies"]) == len(game) == 19
    for said, rally, played in zip(truth["rallies"], game, filmed.rallies, strict=True):
        assert said["start_s"] * 1e6 == pytest.approx(rally.start_us, abs=1)
        assert said["end_s"] * 1e6 == pytest.approx(rally.end_us, abs=1)
        assert (said["server"], said["box"], said["winner"]) == (rally.server, rally.box, rally.winner)
        assert said["serve_kind"] == rally.serve.kind
        rackets = [h for h in truth["hits"] if h["rally"] == said["n"] and h["kind"] == "racket"]
        assert len(rackets) == said["shots"] == len(played.strikes)
        for hit, shot in zip(rackets, rally.shots, strict=False):
            assert hit["time_s"] * 1e6 == pytest.approx(shot.at_us, abs=1)
            assert hit["by"] == shot.by
        for strike, shot in zip(played.strikes, rally.shots, strict=False):
            assert (strike.stroke, place_of(strike)) == (shot.stroke, shot.place)


def test_truth_holds_a_place_for_every_frame_and_sound_its_travel() -> None:
    filmed = filmed_game()
    truth = truth_of(filmed, CAMERA, demo_players_and_matches.MATCH)
    assert len(truth["ball_at"]) == truth["frames"]
    assert len(truth["players"]["a"]) == -(-truth["frames"] // truth["players"]["every_frames"])
    for hit in truth["hits"]:
        away = math.dist((hit["x"], hit["y"], hit["z"]), (CAMERA.x_m, CAMERA.y_m, CAMERA.z_m))
        assert hit["heard_s"] - hit["time_s"] == pytest.approx(away / SOUND_M_S, abs=2e-6)
    kinds = {hit["kind"] for hit in truth["hits"]}
    assert kinds == {"racket", "front-wall", "side-wall", "back-wall", "floor", "tin"}
