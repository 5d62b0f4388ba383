"""The test family's ingredients against physics: filters, rooms, impacts, stroke times, voices, phone."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.signal import freqz, lfilter

from goodlength.synthetic.recordings.recording_types import Surface
from goodlength.synthetic.recordings.test_family import ray_traced_room_acoustics
from goodlength.synthetic.recordings.test_family.all_pole_filters import (
    BANDS_HZ,
    all_pole,
    gliding_lattice,
    line_spectrum_filter,
    reflection_coefficients,
)
from goodlength.synthetic.recordings.test_family.court_to_phone_sound_filter import draw_way
from goodlength.synthetic.recordings.test_family.formant_grain_voice_synthesis import (
    SPEECH_RATE,
    GrainVoice,
    draw_grain_voice,
    sentence,
)
from goodlength.synthetic.recordings.test_family.impact_sound_synthesis import (
    draw_body,
    draw_court_bodies,
    impact_sound,
)
from goodlength.synthetic.recordings.test_family.microphone_sound_rendering import (
    MicrophoneRenderer,
    MicrophoneScene,
    SoundingCourt,
    echo_of,
)
from goodlength.synthetic.recordings.test_family.phone_recording_chain import (
    AutomaticGain,
    channel_taps,
    code_and_decode,
    follow_loudness,
    gate_bands,
)
from goodlength.synthetic.recordings.test_family.rally_stroke_markov_chain import draw_pair, play_rally
from goodlength.synthetic.recordings.test_family.ray_traced_room_acoustics import draw_room, traced_energy
from goodlength.synthetic.recordings.test_family.recording_conditions import TABLE, draw_recorder
from goodlength.synthetic.recordings.test_family.shot_flight_timing import (
    DRAG_PER_M,
    CourtMoment,
    StruckBall,
    dead_ball,
    way_time_s,
)


def test_a_filter_has_the_levels_of_its_curve_and_begins_at_once():
    curve = np.array([-6.0, -3.0, 0.0, 2.0, 3.0, 0.0, -4.0, -9.0, -15.0])
    taps = all_pole(curve, 44100)
    level_db = 20.0 * np.log10(np.abs(freqz(taps, 1, BANDS_HZ[2:8], fs=44100)[1]))
    assert level_db == pytest.approx(curve[2:8], abs=2.5)
    assert abs(taps[0]) > 0.1 * np.abs(taps).max()


def test_a_lattice_that_does_not_glide_is_the_filter_of_its_lines():
    lines = np.array([200.0, 420.0, 900.0, 1100.0, 2600.0, 3500.0, 5200.0, 7000.0])
    poles = line_spectrum_filter(lines, 16000, 0.05)
    k = reflection_coefficients(poles)
    assert np.abs(k).max() < 1.0
    push = np.zeros(300)
    push[:4] = 1.0, -0.5, 0.25, -0.75
    assert gliding_lattice(push, k, k, 10, 5) == pytest.approx(lfilter([1.0], poles, push), abs=1e-5)


def test_lines_close_together_make_a_resonance_between_them():
    poles = line_spectrum_filter(np.array([300.0, 900.0, 1500.0, 1560.0, 3000.0, 5000.0]), 16000, 0.4)
    hz, response = freqz([1.0], poles, 4000, fs=16000)
    assert 1450.0 < hz[np.argmax(np.abs(response))] < 1610.0


@pytest.mark.parametrize(("treated", "seed"), [((0.05, 0.6), 1), ((0.7, 1.0), 2)])
def test_a_court_decays_as_eyring_says_and_fills_as_a_diffuse_field(treated, seed, monkeypatch):
    monkeypatch.setattr(ray_traced_room_acoustics, "RAYS", 700)
    rng = np.random.default_rng(seed)
    room = draw_room(rng, treated)
    wanted_s = room.sabine_eyring_s()
    energy = traced_energy(rng, room, (3.0, 9.7, 3.0), 1.2).mean(axis=0)
    for band in (3, 4, 5):
        left_db = 10.0 * np.log10(np.cumsum(energy[::-1, band])[::-1] / energy[:, band].sum() + 1e-12)
        fall = (np.argmax(left_db < -5.0), np.argmax(left_db < -20.0))
        assert 4.0 * (fall[1] - fall[0]) / 1000.0 == pytest.approx(wanted_s[band], rel=0.2)
    sides = np.array([9.75 * room.height_m] * 2 + [6.4 * room.height_m] * 2 + [9.75 * 6.4] * 2)
    absorbing = sides @ room.absorption[:, 4]
    diffuse = 16.0 * math.pi / absorbing * (1.0 - absorbing / sides.sum())
    assert energy[:, 4].sum() == pytest.approx(diffuse, rel=0.3)


def scene_of(rng, place, surface, body, speed=22.0):
    recorder = replace(draw_recorder(rng, TABLE["44.1 kHz without codec"]), gain=None)
    room, way = draw_room(rng, (0.5, 0.6)), draw_way(rng, "above")
    moments = [CourtMoment(0.5, surface, place, speed, body, 0 if surface is Surface.RACKET else None)]
    bodies = draw_court_bodies(rng, recorder.inner_rate)
    court = SoundingCourt(moments, bodies, room, echo_of(rng, room, way, recorder), way, True)
    return court, recorder


@pytest.mark.parametrize(
    ("place", "surface", "body"),
    [
        ((1.0, 8.9, 0.5), Surface.RACKET, "racket0"),
        ((3.0, 4.0, 1.2), Surface.RACKET, "racket1"),
        ((5.5, 0.0, 2.5), Surface.FRONT_WALL, "front"),
        ((2.0, 7.0, 0.02), Surface.FLOOR, "floor"),
    ],
)
def test_an_impact_sounds_at_its_truth_and_not_before(place, surface, body, monkeypatch):
    monkeypatch.setattr(ray_traced_room_acoustics, "RAYS", 150)
    rng = np.random.default_rng(5)
    court, recorder = scene_of(rng, place, surface, body)
    wave = np.abs(MicrophoneRenderer(rng, MicrophoneScene(2, [court]), recorder).render()[0])
    truth = (0.5 + court.way.travel_s(place)) * 44100
    first = int(np.argmax(wave > 0.1 * wave.max()))
    assert abs(first - truth) < 0.002 * 44100
    assert wave[: int(truth) - 30].max() < 0.01 * wave.max()


def test_late_sound_follows_the_direct_sound_and_dies_away(monkeypatch):
    monkeypatch.setattr(ray_traced_room_acoustics, "RAYS", 300)
    rng = np.random.default_rng(6)
    court, recorder = scene_of(rng, (3.0, 2.0, 1.0), Surface.RACKET, "racket0")
    wave = MicrophoneRenderer(rng, MicrophoneScene(2, [court]), recorder).render()[0]
    start = int((0.5 + court.way.travel_s((3.0, 2.0, 1.0))) * 44100)
    level = [float((wave[start + a : start + a + 4410] ** 2).mean()) for a in (0, 6000, 14000, 22000)]
    assert level[0] > level[1] > level[2] > level[3] > 0.0
    assert level[1] > 1e-4 * level[0]


def test_strikes_of_play_differ_in_level_by_15_db_and_more():
    rng = np.random.default_rng(1)
    body = draw_body(rng, "racket", 16000)
    pair = draw_pair(rng)
    peaks = [
        float(np.abs(impact_sound(rng, body, m.speed_m_s, 0)).max())
        for number in range(30)
        for m in play_rally(rng, pair, number % 2, 0.0).moments
        if m.striker is not None
    ]
    low, high = np.percentile(20.0 * np.log10(peaks), [4, 96])
    assert high - low > 15.0


@pytest.mark.parametrize("kind", ["racket", "front", "floor"])
def test_a_soft_hit_is_duller_than_a_hard_one_of_the_same_body(kind):
    duller = 0
    for seed in range(12):
        body = draw_body(np.random.default_rng(seed), kind, 32000)
        middle = []
        for speed in (3.0, 40.0):
            power = (
                np.abs(
                    np.fft.rfft(impact_sound(np.random.default_rng(0), body, speed, 0, rough=False), 16384)
                )
                ** 2
            )
            middle.append(float((power * np.arange(power.size)).sum() / power.sum()))
        duller += middle[0] < middle[1]
    assert duller >= 10


def test_bodies_of_two_courts_sound_unlike_each_other():
    shapes = []
    for seed in range(12):
        body = draw_body(np.random.default_rng(seed), "racket", 16000)
        power = np.abs(np.fft.rfft(impact_sound(np.random.default_rng(0), body, 20.0, 0), 4096)) ** 2
        bands = np.add.reduceat(power[16:2048], [0, 64, 160, 320, 640, 1280])
        shapes.append(10.0 * np.log10(bands / bands.sum()))
    assert float(np.std(shapes, axis=0).mean()) > 2.5


def test_a_way_takes_as_long_as_drag_as_speed_squared_lets_it():
    speed, way, time, step = 30.0, 0.0, 0.0, 1e-4
    while way < 9.0:
        way += speed * step
        speed -= DRAG_PER_M * speed**2 * step
        time += step
    assert way_time_s(9.0, 30.0) == pytest.approx(time, abs=0.001)


def test_a_dead_ball_bounces_ever_sooner():
    rng = np.random.default_rng(3)
    ball = StruckBall(0.7, 0.5)
    for _ in range(20):
        first = CourtMoment(1.0, Surface.FLOOR, (3.0, 5.0, 0.0), 6.0, "floor")
        times = [1.0, *(m.time_s for m in dead_ball(rng, ball, first))]
        gaps = np.diff(times)
        assert gaps[0] == pytest.approx(2.0 * 0.5 * 6.0 / 9.81)
        assert all(b < a for a, b in itertools.pairwise(gaps))


def test_a_voice_has_its_pitch():
    voice = GrainVoice(120.0, 1.0, 0.01, 4.0, 1.0)
    wave = sentence(np.random.default_rng(2), voice, 3.0)
    best = []
    for start in range(0, wave.size - 2400, 2400):
        piece = wave[start : start + 2400].astype(float)
        if piece.std() > 0.1:
            auto = np.correlate(piece, piece, "full")[2399:]
            best.append(SPEECH_RATE / (80 + int(np.argmax(auto[80:200]))))
    assert 95.0 < float(np.median(best)) < 165.0
    assert draw_grain_voice(np.random.default_rng(1)) != draw_grain_voice(np.random.default_rng(2))


@pytest.mark.parametrize(
    ("codec", "rate", "channels"), [("opus", 8000, 1), ("opus", 16000, 1), ("mp3", 22050, 1)]
)
def test_the_codec_moves_nothing(codec, rate, channels):
    rng = np.random.default_rng(4)
    sound = (0.003 * rng.standard_normal((channels, 5 * rate))).astype(np.float32)
    for place in range(rate // 2, 4 * rate, rate // 2):
        sound[:, place : place + rate // 100] += 0.3 * rng.standard_normal(rate // 100).astype(np.float32)
    coded = sound.copy()
    code_and_decode(coded, rate, codec, 24.0 if rate == 8000 else 64.0)
    shared = np.fft.irfft(np.fft.rfft(coded[0], 1 << 18) * np.conj(np.fft.rfft(sound[0], 1 << 18)))
    lag = int(np.argmax(shared))
    assert min(lag, shared.size - lag) <= rate // 1000
    assert not np.array_equal(coded, sound)


def test_pieces_of_a_long_recording_join_without_a_seam():
    time = np.arange(34 * 8000) / 8000
    sound = (0.3 * np.sin(2.0 * np.pi * 500.0 * time)).astype(np.float32)[None]
    code_and_decode(sound, 8000, "opus", 24.0)
    steps = np.abs(np.diff(sound[0, 8000:-8000]))
    assert float(steps.max()) < 1.6 * 0.3 * 2.0 * np.pi * 500.0 / 8000


def test_automatic_gain_turns_down_what_is_loud_and_up_what_is_soft():
    rng = np.random.default_rng(5)
    sound = (0.01 * rng.standard_normal((1, 20 * 8000))).astype(np.float32)
    sound[:, 8 * 8000 : 12 * 8000] *= 30.0
    before = sound.copy()
    follow_loudness(sound, 8000, AutomaticGain(-25.0, 200.0, 6.0, 12.0, 0.3))
    ratio = [
        float(np.std(sound[0, a * 8000 : b * 8000]) / np.std(before[0, a * 8000 : b * 8000]))
        for a, b in ((10, 12), (18, 20))
    ]
    assert ratio[0] < 0.4
    assert ratio[1] > 1.5


def test_suppression_swallows_what_is_calm_and_leaves_what_is_loud():
    rng = np.random.default_rng(6)
    sound = (0.001 * rng.standard_normal(25 * 8000)).astype(np.float32)
    sound[8 * 8000 : 8 * 8000 + 2400] += 0.2 * rng.standard_normal(2400).astype(np.float32)
    before = sound.copy()
    gate_bands(sound, 8000, 0.8)
    assert np.std(sound[:40000]) < 0.5 * np.std(before[:40000])
    assert np.std(sound[64200:66000]) > 0.9 * np.std(before[64200:66000])


def test_the_second_channel_of_opposite_phase_is_turned():
    rng = np.random.default_rng(7)
    recorder = draw_recorder(rng, TABLE["stereo, odd phase"])
    recorder = replace(recorder, phase="opposite", second_db=recorder.response_db)
    assert channel_taps(recorder, 1, 16000) == pytest.approx(-channel_taps(recorder, 0, 16000))
