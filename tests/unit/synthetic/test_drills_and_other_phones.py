"""The learning families of drills: programmes keep, shots fit a court, phones keep time, backgrounds hold no play."""

import itertools

import numpy as np
import pytest
from scipy import signal

from goodlength.synthetic.recordings.recording_types import Activity, Surface
from goodlength.synthetic.recordings.training_drills import background_sound_mix, phone_audio_effects
from goodlength.synthetic.recordings.training_drills.background_sound_mix import KINDS, background
from goodlength.synthetic.recordings.training_drills.drill_session_play import (
    LEAST_AFTER_S,
    SHOTS,
    WARM_UPS,
    DrillSession,
)
from goodlength.synthetic.recordings.training_drills.hall_impact_sounds_and_echo import LEVELS
from goodlength.synthetic.recordings.training_drills.training_family_modal_plates import Plate, velvet_echo
from goodlength.synthetic.recordings.training_drills.training_family_particle_collisions import (
    Particles,
    comb_echo,
    delayed,
)
from goodlength.synthetic.recordings.training_drills.training_family_soft_sound_atoms import (
    Atoms,
    spectrogram_echo,
)

RATE = 16_000
CLICKS_S = np.arange(0.25, 3.9, 0.5)


def clicks() -> np.ndarray:
    """Sharp clicks in a little noise, 4 s."""
    rng = np.random.default_rng(0)
    out = 0.002 * rng.standard_normal(4 * RATE)
    for at in CLICKS_S:
        begin = round(at * RATE)
        out[begin : begin + 160] += rng.standard_normal(160) * np.exp(-np.arange(160) / 40)
    return out.astype(np.float32)


@pytest.mark.parametrize("programme", ["match", "match with a warm-up", "practice", "nobody plays"])
def test_a_session_of_drills_keeps_its_programme(programme):
    played = DrillSession(np.random.default_rng(4), 150.0, programme).play()
    kinds = {span.activity for span in played.spans}
    assert (Activity.RALLY in kinds) == programme.startswith("match")
    assert (Activity.WARM_UP in kinds) == (programme in ("practice", "match with a warm-up"))


def test_a_serve_waits_and_a_ball_flies_out_faster_than_it_comes_back():
    for seed in range(8):
        played = DrillSession(np.random.default_rng(seed), 300.0, "match").play()
        rallies = [span for span in played.spans if span.activity is Activity.RALLY]
        for a, b in itertools.pairwise(rallies):
            assert b.start_s - a.last_strike_s >= LEAST_AFTER_S - 1e-6
        rackets = sorted(k.time_s for k in played.knocks if k.surface is Surface.RACKET)
        walls = [k.time_s for k in played.knocks if k.surface is Surface.FRONT_WALL]
        shares = [
            (t - a) / (b - a)
            for rally in rallies
            for a, b in itertools.pairwise([t for t in rackets if rally.start_s <= t <= rally.last_strike_s])
            for t in walls
            if a < t < b
        ]
        assert max(shares) < 0.6
        assert np.median(shares) < 0.45


@pytest.mark.parametrize("drill", WARM_UPS)
def test_every_drill_strikes_and_goes_on(drill):
    session = DrillSession(np.random.default_rng(1), 60.0, "practice")
    before = session.at
    session.drilled(drill, 0, -3.0, 1.2)
    assert session.at > before + 0.3
    assert any(k.surface is Surface.RACKET and k.striker is not None for k in session.out.knocks)


@pytest.mark.parametrize("name", SHOTS)
def test_the_front_wall_comes_first_unless_a_side_wall_may(name):
    session = DrillSession(np.random.default_rng(2), 60.0, "practice")
    for _ in range(30):
        begin = len(session.out.knocks)
        session.at += session.shot(name, 0, 0.0)
        after = sorted(session.out.knocks[begin:], key=lambda k: k.time_s)
        kinds = [k.surface for k in after if k.surface is not Surface.RACKET]
        assert Surface.FRONT_WALL in kinds
        assert kinds.index(Surface.FRONT_WALL) <= (1 if SHOTS[name].side_before else 0)


@pytest.mark.parametrize("maker", [Plate, Particles, Atoms], ids=lambda m: m.__name__)
def test_an_impact_begins_at_once_and_dies_away(maker):
    for seed, surface in itertools.product(range(5), LEVELS):
        wave = maker(np.random.default_rng(seed), surface is Surface.TIN).struck(0.5)
        assert np.isfinite(wave).all()
        assert np.abs(wave).max() == pytest.approx(1.0)
        assert np.abs(wave[: round(0.012 * RATE)]).max() > 0.1
        assert np.abs(wave[-16:]).max() < 0.35


@pytest.mark.parametrize("echo", [velvet_echo, comb_echo, spectrogram_echo], ids=lambda e: e.__name__)
def test_an_echo_follows_the_sound_and_fades_as_told(echo):
    for seed in range(4):
        late = echo(np.random.default_rng(seed), 1.0, -10.0)
        assert late[0] == 1.0
        early, end = (float((late[a:b] ** 2).mean()) for a, b in ((800, 3200), (12_000, 14_400)))
        assert 10 * np.log10(early / end) > 15  # 60 dB a second, the high bands faster


def test_a_delay_line_is_the_filter_of_scipy_to_the_bit():
    wave = np.random.default_rng(1).standard_normal(5000)
    for delay, direct, back, later in ((240, 0.0, -0.5, -0.3), (960, 0.0, -0.9, -0.02), (8, -0.6, -0.6, 0.0)):
        above, below = np.zeros(delay + 2), np.zeros(delay + 2)
        above[[0, delay]], below[[0, delay, delay + 1]] = (direct, 1.0), (1.0, back, later)
        assert np.array_equal(delayed(wave, delay, direct, back, later), signal.lfilter(above, below, wave))


@pytest.mark.parametrize(
    "through",
    [
        lambda rng, w: (phone_audio_effects.squeezed(rng, w, RATE), RATE),
        lambda rng, w: (phone_audio_effects.gated(rng, w, RATE), RATE),
        lambda rng, w: (phone_audio_effects.clipped(rng, w), RATE),
        lambda _, w: (phone_audio_effects.in_few_bits(w, 4), RATE),
        lambda _, w: (phone_audio_effects.voice_coded(w, RATE, 8), RATE),
        lambda rng, w: phone_audio_effects.thinned(rng, w, RATE),
        lambda rng, w: (phone_audio_effects.placed(rng, "behind glass", w, RATE), RATE),
        lambda rng, w: phone_audio_effects.taken_by(rng, "all at once", w, RATE),
    ],
)
def test_what_a_phone_does_keeps_sounds_where_they_were(through):
    """The sound rises within 8 ms of every click, whatever was done to it."""
    for seed in range(4):
        wave, rate = through(np.random.default_rng(seed), clicks())
        assert np.isfinite(wave).all()
        power = np.convolve(wave.astype(float) ** 2, np.ones(rate // 500), mode="full")[: len(wave)]
        for at in CLICKS_S[1:]:
            before = power[round((at - 0.03) * rate) : round((at - 0.008) * rate)].max()
            after = power[round((at - 0.008) * rate) : round((at + 0.03) * rate)].max()
            assert after > 2 * before


def test_no_curve_of_a_phone_grows_for_ever():
    """A peak wider than half the rate was a filter that overflowed."""
    wave = clicks()
    for seed in range(150):
        out = phone_audio_effects.placed(np.random.default_rng(seed), "", wave, RATE)
        assert np.isfinite(out).all()
        assert np.abs(out).max() < 300


def test_few_bits_leave_noise_that_falls_6_db_a_bit():
    wave = np.random.default_rng(0).standard_normal(32_000).astype(np.float32)
    noise = [float(((phone_audio_effects.in_few_bits(wave, bits) - wave) ** 2).mean()) for bits in (4, 5, 6)]
    falls = 10 * np.log10(np.array(noise[:-1]) / noise[1:])
    assert falls == pytest.approx([6.02, 6.02], abs=0.5)


def test_a_voice_codec_with_every_pulse_gives_back_nearly_what_went_in():
    wave = signal.lfilter([1], [1, -0.9], np.random.default_rng(0).standard_normal(16_000)).astype(np.float32)
    wave /= np.abs(wave).max()
    errors = [
        float(((phone_audio_effects.voice_coded(wave, RATE, pulses) - wave) ** 2).mean() / (wave**2).mean())
        for pulses in (80, 4)
    ]
    assert errors[0] < 0.15 < errors[1]


@pytest.mark.parametrize("kind", KINDS)
def test_a_background_is_heard_and_repeats(kind, monkeypatch):
    monkeypatch.setattr(background_sound_mix, "PIECE_S", 6.0)  # of 30: two pieces all the same
    a, b = (background(np.random.default_rng(3), 8.0, kind) for _ in range(2))
    assert np.array_equal(a[0], b[0])
    assert a[0].shape == (8 * a[1],)
    assert np.isfinite(a[0]).all()
    assert np.abs(a[0]).max() == pytest.approx(1.0)
