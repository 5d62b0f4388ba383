"""The family of pressure play's ingredients against physics: impacts, rooms, ways to the phone, voices, codecs."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import scipy.fft
from scipy.signal import butter, sosfilt

from goodlength.synthetic.recordings.recording_types import Surface
from goodlength.synthetic.recordings.retired_test_families.pressure_play import phone_recording_chain as chain
from goodlength.synthetic.recordings.retired_test_families.pressure_play.ball_impact_force import (
    Contact,
    contact_forces,
    unit_impact,
)
from goodlength.synthetic.recordings.retired_test_families.pressure_play.court_to_phone_sound_paths import (
    draw_path_to_phone,
)
from goodlength.synthetic.recordings.retired_test_families.pressure_play.microphone_sound_mixing import (
    CourtSound,
    MixedScene,
    SceneMixer,
    reverberation,
)
from goodlength.synthetic.recordings.retired_test_families.pressure_play.pressure_rally_simulation import (
    CourtImpact,
)
from goodlength.synthetic.recordings.retired_test_families.pressure_play.recording_conditions import (
    TABLE,
    draw_recording_phone,
)
from goodlength.synthetic.recordings.retired_test_families.pressure_play.session_event_timeline import (
    PlayHabits,
    match_evening,
)
from goodlength.synthetic.recordings.retired_test_families.pressure_play.sound_absorption_and_decay import (
    CENTRES_HZ,
    air_loss_db_m,
    draw_surfaces,
)
from goodlength.synthetic.recordings.retired_test_families.pressure_play.struck_body_vibration_modes import (
    draw_court_bodies,
    free_beam_hz,
    impact_spectra,
    string_lattice_hz,
)
from goodlength.synthetic.recordings.retired_test_families.pressure_play.vocal_tract_voice_synthesis import (
    tract_filters,
)
from goodlength.synthetic.recordings.retired_test_families.pressure_play.waveguide_reverberation import (
    zone_responses,
)


def one_strike(rng, place, impact, surfaces):
    """Return the rate, the wave and the truth of one impact without noise."""
    phone = replace(draw_recording_phone(rng, TABLE["44.1 kHz without codec"]), channels=1)
    path = draw_path_to_phone(rng, place)
    bodies = draw_court_bodies(rng, phone.inner_rate)
    late = reverberation(rng, surfaces, path.portal, phone)
    court = CourtSound([impact], bodies, surfaces, path, True, late)
    wave = SceneMixer(rng, MixedScene(12, [court]), phone).mix()[0]
    return phone.inner_rate, wave, impact.time_s + path.travel_s(impact.place)


@pytest.mark.parametrize("place", ["above", "gallery", "corner", "door gap", "glass"])
@pytest.mark.parametrize("surface", [Surface.RACKET, Surface.FRONT_WALL, Surface.FLOOR])
def test_an_impact_is_heard_at_its_truth_and_not_before(place, surface):
    """The first sample over 3 of 100 of the peak lies within 2 ms of the truth, travel included."""
    rng = np.random.default_rng(11)
    spot = {Surface.FRONT_WALL: (2.0, 0.02, 1.5), Surface.FLOOR: (4.0, 6.0, 0.02)}.get(
        surface, (1.0, 3.0, 1.0)
    )
    impact = CourtImpact(1.0, surface, spot, 20.0, 0 if surface is Surface.RACKET else None)
    rate, wave, truth_s = one_strike(rng, place, impact, draw_surfaces(rng, (0.1, 0.4)))
    peak = np.abs(wave).max()
    first = np.argmax(np.abs(wave) > 0.03 * peak) / rate
    assert truth_s - 0.0005 < first < truth_s + 0.002
    assert np.abs(wave[: int((truth_s - 0.0005) * rate)]).max() < 0.03 * peak


def test_strikes_differ_in_level_by_15_db_and_more():
    """The middle of six matches: from the fifth to the ninety-fifth of a hundred strikes of one racket."""
    rate, size = 16000, 4096
    spreads = []
    for seed in range(6):
        rng = np.random.default_rng(seed)
        bodies = draw_court_bodies(rng, rate)
        impacts = match_evening(rng, PlayHabits(), 0.0, 900.0).impacts
        speeds = [i.speed_m_s for i in impacts if i.striker is not None]
        waves = scipy.fft.irfft(impact_spectra(rng, bodies["racket0"], speeds, rate, size), size)
        spreads.append(np.ptp(np.percentile(20 * np.log10(np.abs(waves).max(axis=1)), [5, 95])))
    assert np.median(spreads) > 15.0


def test_a_soft_hit_is_duller_than_a_hard_one():
    rng = np.random.default_rng(6)
    rate, size = 32000, 8192
    grid = np.fft.rfftfreq(size, 1 / rate)
    duller = 0
    for _ in range(6):
        bodies = draw_court_bodies(rng, rate)
        soft, hard = (
            (np.abs(impact_spectra(rng, bodies["racket0"], [v] * 30, rate, size)) ** 2).mean(axis=0)
            for v in (6.0, 30.0)
        )
        duller += (soft * grid).sum() / soft.sum() < (hard * grid).sum() / hard.sum()
    assert duller >= 5


@pytest.mark.parametrize("restitution", [0.35, 0.5, 0.7, 0.9])
def test_the_contact_gives_back_the_restitution_asked_for(restitution):
    """Flores and others (2011): damping 8 (1 - e) / (5 e) returns about e over its whole range."""
    assert unit_impact(round(100 * restitution))[2] == pytest.approx(restitution, abs=0.05)


def test_contact_is_shorter_and_force_greater_for_faster_balls_as_hertz_says():
    """Hertz: length as v to the power -1/5, peak as v to 6/5 (any textbook of contact mechanics)."""
    rate = 192_000
    slow, fast = contact_forces(Contact(4.5, 0.5, 1.0), np.array([5.0, 40.0]), rate, rate // 20)
    assert fast.max() / slow.max() == pytest.approx(8.0**1.2, rel=0.01)
    assert (fast > 0).sum() / (slow > 0).sum() == pytest.approx(8.0**-0.2, rel=0.02)


def test_a_free_beam_rings_at_the_textbook_frequency():
    """Free-free Euler beam: (4.7300)^2 / 2 pi sqrt(EI / m L^4), from any textbook of vibration."""
    hz, _ = free_beam_hz(1.0, 1.0, 1.0, 0.0)
    assert hz[0] == pytest.approx(4.7300**2 / (2 * math.pi), rel=1e-3)
    assert hz[1] == pytest.approx(7.8532**2 / (2 * math.pi), rel=1e-3)


def test_the_string_lattice_rings_about_as_a_membrane_of_its_tension_and_mass():
    """A round skin of radius a: 2.405 / (2 pi a) sqrt(T / sigma), within 8 of 100 for 19 strings a side."""
    tension, line, size = 100.0, 0.0014, 0.25
    gap = size / 20
    sheet = math.sqrt((tension / gap) / (2 * line / gap))
    hz, _, _ = string_lattice_hz(tension, 19, 19, size, size, line)
    assert hz[0] == pytest.approx(2.405 / (math.pi * size) * sheet, rel=0.08)


def test_air_absorbs_as_the_standard_tabulates():
    """ISO 9613-2:1996, table 2, 20 C and 70 of 100: dB/km by octave (from memory)."""
    hz = np.array([125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0])
    table = np.array([0.3, 1.1, 2.8, 5.0, 9.0, 22.9, 76.6])
    assert 1000 * air_loss_db_m(hz, 20.0, 70.0) == pytest.approx(table, rel=0.03, abs=0.05)


@pytest.mark.parametrize("treated", [(0.0, 0.0), (0.05, 0.55), (0.65, 1.0)])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_court_decays_as_eyring_says(treated, seed):
    """Slope of the backward integral (Schroeder) from -5 to -25 dB in the octaves of 500 Hz to 2 kHz."""
    rng = np.random.default_rng(seed)
    surfaces, rate = draw_surfaces(rng, treated), 16000
    decay = surfaces.eyring_decay_s()
    response = zone_responses(rng, surfaces, (3.0, 9.7, 2.8), rate, int(decay[2:5].max() * rate))[1]
    for band in (2, 3, 4):
        octave = CENTRES_HZ[band] * np.array([2**-0.5, 2**0.5])
        wave = sosfilt(butter(3, octave, "bandpass", fs=rate, output="sos"), response.astype(float))
        left = 10 * np.log10(np.cumsum(wave[::-1] ** 2)[::-1] / (wave**2).sum() + 1e-12)
        measured = 3.0 * (np.argmax(left < -25.0) - np.argmax(left < -5.0)) / rate
        assert measured == pytest.approx(decay[band], rel=0.2)


def test_reverberation_has_the_energy_of_a_diffuse_field():
    """16 pi / A beside a direct sound of 1 at 1 m, over all bands within 1.5 dB."""
    rng = np.random.default_rng(4)
    surfaces = draw_surfaces(rng, (0.1, 0.4))
    response = zone_responses(rng, surfaces, (3.0, 9.7, 2.8), 16000, 24000)[0].astype(float)
    power = np.abs(np.fft.rfft(response)) ** 2
    hz = np.fft.rfftfreq(response.size, 1 / 16000)
    area = float(surfaces.absorbing_area_m2()[3])
    level = power[(hz > 900) & (hz < 1100)].mean()
    assert 10 * math.log10(level * area / (16 * math.pi)) == pytest.approx(0.0, abs=1.5)


def test_an_even_tube_has_the_formants_of_the_textbook():
    """A tube of 17.5 cm open at the lips: 500, 1,500 and 2,500 Hz (Fant), within 12 of 100."""
    poles = np.roots(tract_filters(16, np.array([0.5]), np.array([0.0]), np.array([1.0]))[0])
    formants = sorted(np.angle(poles[poles.imag > 0]) / (2 * math.pi) * 16000)[:3]
    assert formants == pytest.approx([500.0, 1500.0, 2500.0], rel=0.12)


@pytest.mark.parametrize("codec", list(chain.CODECS))
@pytest.mark.parametrize(("rate", "channels"), [(16000, 1), (44100, 2), (48000, 1)])
def test_the_codec_moves_nothing(codec, rate, channels):
    rng = np.random.default_rng(1)
    sound = (0.02 * rng.normal(0, 1, (channels, 2 * rate))).astype(np.float32)
    coded = sound.copy()
    chain.coded_and_decoded(coded, rate, codec, 96.0)
    match = np.fft.irfft(np.fft.rfft(coded[0]) * np.conj(np.fft.rfft(sound[0])))
    assert match.argmax() == 0
    assert np.std(coded[:, -rate // 10 :]) > 0.005


def test_the_codec_is_coarser_for_fewer_bits():
    rng = np.random.default_rng(1)
    rough = rng.normal(0, 0.1, (1, 96_000))
    sound = sosfilt(butter(2, 4000, fs=48000, output="sos"), rough).astype(np.float32)
    errors = []
    for kb_s in (160.0, 96.0, 48.0):
        coded = sound.copy()
        chain.coded_and_decoded(coded, 48000, "aac", kb_s)
        errors.append(float(np.std(coded - sound)))
    assert errors[0] < errors[1] < errors[2]


def test_companding_errs_by_at_most_a_step_of_its_level():
    sound = np.linspace(-0.99, 0.99, 5001).astype(np.float32)
    out = sound.copy()
    chain.mu_law(out)
    assert 0.0 < np.abs(out - sound).max() < 0.03
    assert np.abs(out - sound)[np.abs(sound) < 0.01].max() < 0.0006


def test_noise_suppression_swallows_what_is_quiet_and_keeps_what_is_loud():
    rate = 16000
    rng = np.random.default_rng(2)
    sound = rng.normal(0, 0.001, 6 * rate).astype(np.float32)
    sound[3 * rate : 3 * rate + 1600] += 0.3 * rng.normal(0, 1, 1600).astype(np.float32)
    out = sound.copy()
    chain.wiener_suppression(out, rate, 1.0)
    assert np.std(out[rate : 2 * rate]) < 0.3 * np.std(sound[rate : 2 * rate])
    late = slice(3 * rate + 800, 3 * rate + 1500)
    assert np.std(out[late]) > 0.5 * np.std(sound[late])


def test_gain_control_turns_down_what_is_loud():
    rate = 16000
    sound = np.full((1, 4 * rate), 0.01, dtype=np.float32)
    sound[:, 2 * rate :] = 0.5
    chain.apply_level_control(sound, rate, chain.LevelControl(-25.0, 3.0, 0.02, 0.3, 10.0))
    before, after = sound[0, 2 * rate - 10], sound[0, -10]
    assert 20 * math.log10(after / before) == pytest.approx(20 * math.log10(50.0) / 3.0, abs=1.5)


def test_the_second_channel_of_opposite_phase_is_turned():
    rng = np.random.default_rng(1)
    phone = replace(
        draw_recording_phone(rng, TABLE["stereo, odd phase"]), phase="opposite", second_delay_s=0.0
    )
    first, second = (chain.capsule_response(phone, 4096, i) for i in (0, 1))
    assert second == pytest.approx(-phone.second_gain * first, abs=1e-5)
