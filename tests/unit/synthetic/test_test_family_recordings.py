"""The judging family: its truth agrees with itself and with its sound, and every condition can be drawn."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import scipy.fft
from scipy.signal import butter, sosfilt

from goodlength.court.dimensions import LENGTH_M, TIN_M, WIDTH_M
from goodlength.errors import NotFound, OutOfRange
from goodlength.synthetic.recordings.recording_types import Activity, Surface
from goodlength.synthetic.recordings.test_family import CONDITIONS, ODD, draw_world
from goodlength.synthetic.recordings.test_family import phone_microphone as phone_parts
from goodlength.synthetic.recordings.test_family.audio_rendering import Renderer
from goodlength.synthetic.recordings.test_family.ball_flight import BallInFlight, fly
from goodlength.synthetic.recordings.test_family.impact_synthesis import draw_bodies, sound_of
from goodlength.synthetic.recordings.test_family.rally_simulation import ENDINGS, play_rally
from goodlength.synthetic.recordings.test_family.recording_conditions import TABLE
from goodlength.synthetic.recordings.test_family.room_acoustics import draw_room, late_field
from goodlength.synthetic.recordings.test_family.session_timeline import SessionHabits, match
from goodlength.synthetic.recordings.test_family.shot_simulation import draw_player


@cache
def world(condition, seconds, seed):
    return draw_world(np.random.default_rng(seed), condition, seconds)


@pytest.fixture
def silent(monkeypatch):
    """Put a constant for the sound, where a test looks at the truth alone."""

    def nothing(renderer):
        return np.ones((renderer.phone.channels, renderer.scene.seconds * renderer.rate), dtype=np.float32)

    monkeypatch.setattr(Renderer, "render", nothing)


def strikes_in(recording, span):
    return [
        c
        for c in recording.contacts
        if c.own_court and c.surface is Surface.RACKET and span.start_s <= c.time_s <= span.end_s
    ]


@pytest.mark.slow
@pytest.mark.parametrize("condition", CONDITIONS)
def test_every_condition_gives_finite_sound_of_the_length_asked_for(condition):
    recording = draw_world(np.random.default_rng(17), condition, 20.0)  # the least a recording may last
    assert recording.family == "judging"
    assert recording.condition == condition
    assert recording.samples.dtype == np.float32
    assert np.isfinite(recording.samples).all()
    assert 0.001 < np.abs(recording.samples).max() <= 1.0
    assert abs(recording.samples.shape[1] / recording.rate - 20.0) < 1.0
    assert all(0.0 <= c.time_s < 20.0 for c in recording.contacts)


@pytest.mark.slow
def test_the_same_generator_gives_the_same_recording_and_another_does_not():
    item, two, other = (draw_world(np.random.default_rng(s), "16 kHz", 30.0) for s in (3, 3, 4))
    assert np.array_equal(item.samples, two.samples)
    assert (item.contacts, item.spans, item.details) == (two.contacts, two.spans, two.details)
    assert item.contacts != other.contacts
    assert item.details["decay_s"] != other.details["decay_s"]


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, 2])
def test_strikes_alternate_and_lie_in_order_within_their_rally(seed, silent):
    recording = draw_world(np.random.default_rng(seed), "44.1 kHz without codec", 600.0)
    assert len(recording.rallies) >= 8
    times = [c.time_s for c in recording.contacts]
    assert times == sorted(times)
    for span in recording.rallies:
        strikes = strikes_in(recording, span)
        assert strikes[0].time_s == span.start_s
        assert strikes[-1].time_s == span.last_strike_s
        assert all(a.striker != b.striker for a, b in itertools.pairwise(strikes))
        ball = (Surface.FLOOR, Surface.TIN, Surface.FRONT_WALL, Surface.OTHER_WALL)
        assert any(c.time_s == span.end_s and c.surface in ball for c in recording.contacts)


def test_spans_of_play_do_not_overlap():
    for seed in range(6):
        session = match(np.random.default_rng(seed), SessionHabits(), 0.0, 1500.0)
        spans = sorted(session.spans, key=lambda s: s.start_s)
        assert all(a.end_s <= b.start_s for a, b in itertools.pairwise(spans))


def test_rallies_end_by_the_impact_that_ended_them():
    rng = np.random.default_rng(8)
    ball = BallInFlight(0.5, 0.62)
    players = (draw_player(rng, (0.8, 1.1)), draw_player(rng, (0.8, 1.1)))
    seen = set()
    for i in range(120):
        ending = ENDINGS[i % len(ENDINGS)]
        rally = play_rally(rng, players, ball, 0, int(rng.integers(2, 12)), ending, 5.0)
        last = next(h for h in rally.hits if h.time_s == rally.end_s and h.striker is None)
        after = [h for h in rally.hits if rally.last_strike_s < h.time_s <= rally.end_s]
        floors = sum(h.surface is Surface.FLOOR for h in after)
        seen.add(rally.ending)
        if rally.ending == "tin":
            assert last.surface is Surface.TIN
            assert last.place[2] < TIN_M["standard"]
        if rally.ending == "down":
            assert last.surface is Surface.FLOOR
            assert not any(h.surface is Surface.FRONT_WALL for h in after)
        if rally.ending == "bounce":
            assert last.surface is Surface.FLOOR
            assert floors == 2
        if rally.ending == "out":
            assert last.surface in {Surface.FRONT_WALL, Surface.OTHER_WALL}
    assert seen == set(ENDINGS)


def test_gaps_between_strikes_are_those_of_a_court():
    """Plausibility only: the middle half between about one and two seconds, as courts of this length give."""
    rng = np.random.default_rng(9)
    gaps = []
    for _ in range(60):
        players = (draw_player(rng, (0.72, 1.1)), draw_player(rng, (0.72, 1.1)))
        rally = play_rally(rng, players, BallInFlight(0.5, 0.62), 0, 12, "bounce", 0.0)
        gaps += np.diff([h.time_s for h in rally.hits if h.striker is not None]).tolist()
    low, middle, high = np.percentile(gaps, [5, 50, 95])
    assert 0.5 < low < 1.1 < middle < 1.9 < high < 3.2


def test_a_dropped_ball_falls_and_bounces_as_a_falling_body_does():
    """s = g t^2 / 2 from 1 m less the ball's radius; the second fall lasts twice its rise at restitution e."""
    ball = BallInFlight(0.5, 0.62, drag_per_m=0.0)
    first, second = fly(ball, 0.0, (3.0, 5.0, 1.02), (0.0, 0.0, 0.0), floor_bounces=2)
    assert first.end_s == pytest.approx(math.sqrt(2.0 / 9.81), rel=1e-6)
    speed = 9.81 * first.end_s
    assert second.end_s - second.start_s == pytest.approx(2 * ball.rebound(speed) * speed / 9.81, rel=1e-6)


def test_every_contact_of_the_ball_lies_on_a_surface_of_the_court():
    session = match(np.random.default_rng(3), SessionHabits(), 0.0, 400.0)
    for hit in session.hits:
        x, y, z = hit.place
        assert -0.01 <= x <= WIDTH_M + 0.01
        assert -0.01 <= y <= LENGTH_M + 0.01
        assert z >= 0.0
        if hit.surface in {Surface.FRONT_WALL, Surface.TIN}:
            assert y < 0.03
        if hit.surface is Surface.FLOOR:
            assert z < 0.03


def rises_db(recording, low_hz=1000.0, high_hz=6000.0):
    """How far the energy of 5 ms after each own strike stands over that of the 5 ms before, and its level."""
    rate = recording.rate
    band = butter(2, [low_hz, min(high_hz, 0.45 * rate)], "bandpass", fs=rate, output="sos")
    power = np.concatenate([[0.0], np.cumsum(sosfilt(band, recording.samples[0].astype(float)) ** 2)])
    width = round(0.005 * rate)
    floor = np.percentile(power[width::width] - power[:-width:width], 5) + 1e-14
    out = []
    for c in recording.contacts:
        if (
            c.own_court
            and c.surface is Surface.RACKET
            and 0.1 < c.time_s < recording.samples.shape[1] / rate - 0.1
        ):
            i = int(c.time_s * rate)
            after, before = power[i + width] - power[i], power[i - 2] - power[i - 2 - width]
            out.append(
                (10 * math.log10((after + 1e-14) / (before + 1e-14)), 10 * math.log10(after / floor + 1e-14))
            )
    return np.array(out)


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, 2])
def test_energy_rises_within_5_ms_of_own_strikes_where_it_is_quiet(seed):
    rises = rises_db(world("quiet", 240.0, seed))
    heard = rises[rises[:, 1] > 20.0, 0]
    assert heard.size > 30
    assert (heard > 1.5).mean() > 0.95


@pytest.mark.slow
def test_times_that_are_wrong_by_a_tenth_of_a_second_would_not_pass():
    recording = world("quiet", 240.0, 1)
    rate = recording.rate
    late = np.roll(recording.samples, rate // 10, axis=1)
    moved = type(recording)(**{**recording.__dict__, "samples": late})
    rises = rises_db(moved)
    assert (rises[:, 0] > 1.5).mean() < 0.5


def test_strikes_differ_in_level_by_15_db_and_more():
    rng = np.random.default_rng(5)
    rate, size = 16000, 4096
    bodies = draw_bodies(rng, rate)
    speeds = [h.speed_m_s for h in match(rng, SessionHabits(), 0.0, 900.0).hits if h.striker is not None]
    waves = scipy.fft.irfft(sound_of(rng, bodies["racket0"], "racket0", speeds, rate, size), size)
    level = 20 * np.log10(np.abs(waves).max(axis=1))
    low, high = np.percentile(level, [5, 95])
    assert high - low > 15.0


@pytest.mark.slow
def test_a_soft_hit_is_duller_than_a_hard_one():
    rng = np.random.default_rng(6)
    rate, size = 32000, 8192
    grid = np.fft.rfftfreq(size, 1 / rate)
    duller = 0
    for _ in range(6):
        bodies = draw_bodies(rng, rate)
        soft, hard = (
            (np.abs(sound_of(rng, bodies["racket0"], "racket0", [v] * 30, rate, size)) ** 2).mean(axis=0)
            for v in (8.0, 40.0)
        )
        duller += (soft * grid).sum() / soft.sum() < (hard * grid).sum() / hard.sum()
    assert duller >= 5


@pytest.mark.parametrize("absorption", [(0.03, 0.04), (0.25, 0.3)])
def test_the_late_field_decays_as_its_room_says(absorption):
    """The slope of the backward sum of squares at 1 kHz (reverberation by integration, from memory)."""
    rng = np.random.default_rng(7)
    for _ in range(4):
        room, rate = draw_room(rng, absorption), 16000
        field = late_field(rng, room, rate, int(1.2 * room.decay_s[4] * rate)).astype(float)
        band = sosfilt(butter(2, [800, 1250], "bandpass", fs=rate, output="sos"), field)
        left = 10 * np.log10(np.cumsum(band[::-1] ** 2)[::-1] / (band**2).sum() + 1e-12)
        measured = 3.0 * (np.argmax(left < -25.0) - np.argmax(left < -5.0)) / rate
        assert measured == pytest.approx(room.decay_s[4], rel=0.35)


def test_the_codec_gives_the_sound_back_where_nothing_is_rounded(monkeypatch):
    monkeypatch.setattr(phone_parts, "_coarse", lambda lines, *_: lines)
    sound = np.random.default_rng(1).normal(0, 0.1, 50_001).astype(np.float32)
    coded = sound.copy()
    phone_parts.code(coded, 48000, 96.0, 1)
    assert np.abs(coded - sound).max() < 1e-5


def test_the_codec_is_coarser_for_fewer_bits():
    rng = np.random.default_rng(1)
    sound = sosfilt(butter(2, 4000, fs=48000, output="sos"), rng.normal(0, 0.1, 96_000)).astype(np.float32)
    errors = []
    for kb_s in (160.0, 96.0, 48.0):
        coded = sound.copy()
        phone_parts.code(coded, 48000, kb_s, 1)
        errors.append(float(np.std(coded - sound)))
    assert errors[0] < errors[1] < errors[2] < 0.1


def test_noise_suppression_swallows_what_is_quiet_and_keeps_what_is_loud():
    rate = 16000
    rng = np.random.default_rng(2)
    sound = rng.normal(0, 0.001, 4 * rate).astype(np.float32)
    sound[2 * rate : 2 * rate + 800] += 0.3 * rng.normal(0, 1, 800).astype(np.float32)
    out = sound.copy()
    phone_parts.suppress_noise(out, rate, 1.0)
    assert np.std(out[rate : int(1.8 * rate)]) < 0.3 * np.std(sound[rate : int(1.8 * rate)])
    assert np.std(out[2 * rate + 400 : 2 * rate + 800]) > 0.5 * np.std(sound[2 * rate + 400 : 2 * rate + 800])


@pytest.mark.slow
@pytest.mark.parametrize("condition", [c for c in ODD if c in {"speech only", "music only", "street"}])
def test_films_without_squash_hold_no_span_and_no_contact(condition):
    recording = world(condition, 45.0, 5)
    assert recording.spans == ()
    assert recording.contacts == ()


@pytest.mark.slow
def test_a_doubles_warm_up_holds_a_warm_up_and_no_rally():
    recording = world("doubles warm-up", 120.0, 5)
    assert {s.activity for s in recording.spans} == {Activity.WARM_UP}
    assert sum(c.surface is Surface.RACKET for c in recording.contacts) > 20


@pytest.mark.slow
def test_a_silent_half_is_silent_and_its_truth_left_out():
    for seed in (1, 2):
        recording = world("half silent", 140.0, seed)
        edge, after = float(recording.details["cut_s"]), recording.details["silent"] == "after"
        cut = round(edge * recording.rate)
        silent = recording.samples[:, cut:] if after else recording.samples[:, :cut]
        assert silent.shape[1] > 30 * recording.rate
        assert not silent.any()
        assert all((c.time_s < edge) is after for c in recording.contacts)
        for span in recording.rallies:
            assert (span.end_s <= edge) if after else (span.start_s >= edge)


@pytest.mark.slow
def test_two_matches_hold_two_sets_of_rallies_apart(silent):
    recording = draw_world(np.random.default_rng(4), "two matches", 900.0)
    half = recording.samples.shape[1] / recording.rate / 2
    assert any(s.end_s < half for s in recording.rallies)
    assert any(s.start_s > half for s in recording.rallies)
    assert max(b.start_s - a.end_s for a, b in itertools.pairwise(recording.rallies)) > 45.0


@pytest.mark.slow
def test_a_loud_neighbour_is_listed_and_heard_6_db_below(monkeypatch):
    """The middle peaks of both courts' strikes, all equally hard, over 40 ms, without gain control."""
    plain = replace(
        TABLE["loud neighbour"],
        level_share=0.0,
        gain_control=0.0,
        codec=None,
        coach_busy=(0.0, 0.0),
        crowd_db=None,
        rates=(16000,),
    )
    monkeypatch.setitem(TABLE, "loud neighbour", plain)
    below = []
    for seed in range(4):
        recording = draw_world(np.random.default_rng(seed), "loud neighbour", 90.0)
        peaks = {True: [], False: []}
        for c in recording.contacts:
            if c.surface is Surface.RACKET and c.time_s < 89.0:
                start = int(c.time_s * recording.rate)
                peaks[c.own_court].append(np.abs(recording.samples[0, start : start + 640]).max())
        assert min(len(peaks[True]), len(peaks[False])) > 5
        below.append(20 * math.log10(np.median(peaks[False]) / np.median(peaks[True])))
    assert np.mean(below) == pytest.approx(-6.0, abs=3.0)


@pytest.mark.slow
def test_behind_glass_nearly_all_lies_below_500_hz():
    recording = world("behind glass", 60.0, 3)
    power = np.abs(np.fft.rfft(recording.samples[0])) ** 2
    hz = np.fft.rfftfreq(recording.samples.shape[1], 1 / recording.rate)
    assert power[hz < 500].sum() > 0.85 * power.sum()


def test_a_condition_that_is_none_and_a_length_that_is_none_are_refused():
    with pytest.raises(NotFound, match="there is no condition 'moon'"):
        draw_world(np.random.default_rng(1), "moon", 60.0)
    for seconds in (1.0, math.nan, 1e6):
        with pytest.raises(OutOfRange, match="20 to 5400 s"):
            draw_world(np.random.default_rng(1), "usual", seconds)
