"""The learning and the choosing families: truth stands where the sound is, draws repeat, conditions differ."""

import itertools

import numpy as np
import pytest

from goodlength.synthetic.recordings import (
    phone_recording_chain,
    training_family_fm_impacts,
    training_family_image_source,
    training_family_noise_bursts,
    validation_recording_family,
)
from goodlength.synthetic.recordings.image_source_family_match_play import Impact
from goodlength.synthetic.recordings.recording_types import Activity, Surface, WorldRecording
from goodlength.synthetic.recordings.training_background_levels import draw_setting
from goodlength.synthetic.recordings.training_drills import (
    training_family_modal_plates,
    training_family_particle_collisions,
    training_family_soft_sound_atoms,
)
from goodlength.synthetic.recordings.training_family_image_source import RATE, ImageRoom
from goodlength.synthetic.recordings.training_flights import (
    training_family_minimum_phase_impacts,
    training_family_play_crossed_with_halls,
    training_family_waveguides,
)
from goodlength.synthetic.recordings.training_mixtures import (
    training_family_plan_rays_play,
    training_family_pressure_play_in_halls,
)
from goodlength.synthetic.recordings.training_random_session_play import RandomSession

FAMILIES = (
    training_family_image_source,
    training_family_noise_bursts,
    training_family_fm_impacts,
    training_family_minimum_phase_impacts,
    training_family_play_crossed_with_halls,
    training_family_waveguides,
    training_family_modal_plates,
    training_family_particle_collisions,
    training_family_soft_sound_atoms,
    training_family_plan_rays_play,
    training_family_pressure_play_in_halls,
    validation_recording_family,
)


def made(family, seed=3, condition=None, seconds=40.0) -> WorldRecording:
    return family.draw_world(np.random.default_rng(seed), condition, seconds)


@pytest.mark.parametrize("family", FAMILIES, ids=lambda f: f.FAMILY)
def test_the_same_seed_gives_the_same_recording(family):
    a, b = made(family, seconds=20.0), made(family, seconds=20.0)
    assert np.array_equal(a.samples, b.samples)
    assert a.contacts == b.contacts
    assert a.spans == b.spans


@pytest.mark.parametrize("family", FAMILIES, ids=lambda f: f.FAMILY)
def test_a_rally_begins_and_ends_with_a_strike_of_the_truth(family):
    strikes = []
    for seed in range(6):
        if seed > 2 and strikes:  # players who drill for long may play no rally in so short a time
            break
        world = made(family, seed, seconds=45.0)
        own = np.array([c.time_s for c in world.contacts if c.surface is Surface.RACKET and c.own_court])
        for rally in world.rallies:
            assert rally.start_s <= rally.last_strike_s <= rally.end_s
            strikes += [float(np.abs(own - at).min()) for at in (rally.start_s, rally.last_strike_s)]
    assert strikes
    assert max(strikes) < 0.03  # the mean delay to the microphone stands for each strike's own


@pytest.mark.parametrize(
    ("family", "quiet"),
    [
        (training_family_image_source, "quiet"),
        (training_family_noise_bursts, "quiet"),
        (training_family_fm_impacts, "quiet"),
        (training_family_minimum_phase_impacts, "quiet"),
        (training_family_play_crossed_with_halls, "quiet"),
        (training_family_waveguides, "quiet"),
        (training_family_modal_plates, "quiet"),
        (training_family_particle_collisions, "quiet"),
        (training_family_soft_sound_atoms, "quiet"),
        (training_family_plan_rays_play, "quiet"),
        (training_family_pressure_play_in_halls, "quiet"),
        (validation_recording_family, "clean"),
    ],
)
def test_the_sound_rises_where_the_truth_says_a_racket_struck(family, quiet):
    """In a quiet recording the mean level just after a strike stands well above that just before."""
    rises = []
    sparse = any(folder in family.__name__ for folder in ("training_drills", "training_mixtures"))
    seconds = 120.0 if sparse else 40.0  # few strikes in long drills and pauses
    for seed in range(3):
        world = made(family, seed, quiet, seconds)
        wave = world.samples[0].astype(float)
        for contact in world.contacts:
            at = round(contact.time_s * world.rate)
            n = round(0.006 * world.rate)
            if contact.surface is Surface.RACKET and contact.own_court and n < at < len(wave) - n:
                before, after = (wave[a : a + n] ** 2 for a in (at - n - n // 3, at))
                rises.append(10 * np.log10((after.mean() + 1e-12) / (before.mean() + 1e-12)))
    assert len(rises) > 15
    assert np.median(rises) > 6.0


@pytest.mark.parametrize("family", FAMILIES, ids=lambda f: f.FAMILY)
def test_every_condition_can_be_drawn_and_stays_in_range(family):
    for condition in family.CONDITIONS:
        world = made(family, 11, condition, 8.0)
        assert np.isfinite(world.samples).all()
        assert 1e-4 < np.abs(world.samples).max() <= 1.6  # a codec may overshoot


def test_no_echo_of_the_room_comes_before_the_sound_itself():
    """Behind the court the mirrored source of the back wall lay nearer than the source."""
    rng = np.random.default_rng(2)
    room = ImageRoom(rng, draw_setting(rng, "quiet", 10.0))
    room.mic = np.array([3.0, 12.5, 2.0])
    out, send = np.zeros(RATE, np.float32), np.zeros(RATE, np.float32)
    heard = room.strike(out, send, Impact(0.2, Surface.RACKET, (3.0, 6.0, 1.0), 0.0), 0.0)
    first = int(np.flatnonzero(np.abs(out) > 1e-4 * np.abs(out).max())[0]) / RATE
    assert first == pytest.approx(heard, abs=0.002)


def test_a_long_warm_up_is_named_and_holds_strikes():
    world = made(training_family_image_source, 5, "long warm-up", 60.0)
    warm = next(span for span in world.spans if span.activity is Activity.WARM_UP)
    inside = [
        c for c in world.contacts if c.surface is Surface.RACKET and warm.start_s <= c.time_s <= warm.end_s
    ]
    assert len(inside) >= 5


def test_a_court_next_door_is_marked_as_another():
    world = made(training_family_noise_bursts, 5, "next court", 40.0)
    assert {c.own_court for c in world.contacts} == {True, False}


def test_the_codec_keeps_the_sound_in_step_and_adds_noise_as_far_below_as_told():
    rng = np.random.default_rng(0)
    wave = rng.standard_normal(32_000).astype(np.float32) * 0.1
    for below in (10.0, 25.0):
        error = phone_recording_chain.coded(wave, below) - wave
        inner = slice(2000, -2000)
        assert 10 * np.log10((error[inner] ** 2).mean() / (wave[inner] ** 2).mean()) == pytest.approx(
            -below, abs=2
        )


def test_no_rally_of_the_choosing_family_is_cut_by_the_recordings_end(monkeypatch):
    """A rally heard but not told counted every right answer at the end as a wrong one."""
    monkeypatch.setattr(
        validation_recording_family, "encoded", lambda wave, _rate, _bits: wave
    )  # its truth alone
    for seed in range(6):
        world = made(validation_recording_family, seed, "clean", 60.0)
        after = max((span.end_s for span in world.spans), default=0.0)
        strikes = [c for c in world.contacts if c.surface is Surface.RACKET and c.time_s > after + 0.1]
        assert len(strikes) <= 1  # a ball sent back
        assert world.samples.shape[1] / world.rate <= 60.0


@pytest.mark.parametrize("programme", ["match", "match with a warm-up", "practice", "nobody plays"])
def test_a_session_keeps_its_programme(programme):
    played = RandomSession(np.random.default_rng(4), 120.0, programme).play()
    kinds = {span.activity for span in played.spans}
    assert (Activity.RALLY in kinds) == programme.startswith("match")
    assert (Activity.WARM_UP in kinds) == (programme in ("practice", "match with a warm-up"))
    assert bool({k.striker for k in played.knocks} - {None}) == (programme != "nobody plays")


def test_a_ball_flies_out_faster_than_it_comes_back():
    """From strike to strike the front wall comes before the middle, by and large, in every session."""
    for seed in range(8):
        played = RandomSession(np.random.default_rng(seed), 300.0, "match").play()
        shares = []
        rackets = [k.time_s for k in played.knocks if k.surface is Surface.RACKET]
        walls = [k.time_s for k in played.knocks if k.surface is Surface.FRONT_WALL]
        for rally in played.spans:
            inside = [t for t in rackets if rally.start_s <= t <= (rally.last_strike_s or 0)]
            for a, b in itertools.pairwise(sorted(inside)):
                shares += [(t - a) / (b - a) for t in walls if a < t < b]
        assert np.median(shares) < 0.5


def test_what_begins_after_the_end_of_a_recording_is_not_told():
    """A ball kept warm after a rally that the end cuts was told, so that the cut rally counted as no play."""
    for seed in range(12):
        world = made(training_family_modal_plates, seed, "", 30.0)
        assert all(span.start_s < 29.5 for span in world.spans)
