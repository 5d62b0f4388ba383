"""Names adapted to the recording: what sounds like this court's strikes is one, whatever it was called."""

from dataclasses import astuple

import numpy as np
import pytest

from goodlength.footage.audio.impact_class_adaptation import (
    adapted,
    impact_spectra,
    moved,
    renamed,
    spectral_odds,
)
from goodlength.footage.audio.impact_classifier_network import STATES, SURFACES, Impacts
from goodlength.footage.audio.log_mel import BANDS, HOP_S
from goodlength.footage.audio.rally_decoding import decode_rallies

RACKET, WALL, FLOOR = (SURFACES.index(name) for name in ("racket", "front wall", "floor"))


def recording(rng, rallies=12, mistaken=0.25) -> tuple[Impacts, np.ndarray, np.ndarray]:
    """Impacts, frames, and the moments of the strikes; a share of the strikes is called a floor."""
    rows = []
    for start in np.arange(rallies) * 15.0 + 2:
        for k in range(6):
            at = start + 1.2 * k
            rows += [(at, RACKET, k == 0, k == 5), (at + 0.35, WALL, 0, 0), (at + 0.8, FLOOR, 0, 0)]
    at = np.array([row[0] for row in rows])
    kind = np.array([row[1] for row in rows])
    border = np.array([row[2:] for row in rows], bool)
    frames = np.full((round((at[-1] + 3) / HOP_S), BANDS), 40, np.uint8)
    shapes = {RACKET: (4, 90), WALL: (14, 86), FLOOR: (24, 80)}
    for t, k in zip(at.tolist(), kind.tolist(), strict=True):
        place, (band, level) = round(t / HOP_S), shapes[k]
        curve = level - 2.0 * np.abs(np.arange(BANDS) - band) + rng.normal(0, 2, BANDS)
        for step in range(12):
            frames[place + step] = np.maximum(frames[place + step], curve - 3 * step).astype(np.uint8)
    called = np.where(
        (kind == RACKET) & (rng.random(len(kind)) < mistaken) & ~border.any(axis=1), FLOOR, kind
    )
    surface = np.full((len(at), len(SURFACES)), 0.02, np.float32)
    surface[np.arange(len(at)), called] = 0.86
    odds = np.where(called == RACKET, 2.5, -2.5).astype(np.float32)
    state = np.tile(np.array([0.1, 0.85, 0.05], np.float32), (len(at), 1))
    first, last = np.where(border, 3.0, -4.0).astype(np.float32).T
    assert len(STATES) == 3
    heard = Impacts(at.astype(np.float32), surface, odds, first, last, state, np.zeros(len(at), np.float32))
    return heard, frames, at[kind == RACKET]


def strikes_found(impacts: Impacts, true_s: np.ndarray) -> float:
    found = np.concatenate([rally.strikes_s for rally in decode_rallies(impacts)])
    return float((np.abs(found[None] - true_s[:, None]).min(axis=1) < 0.01).mean())


def test_strikes_called_something_else_are_found_by_what_they_sound_like():
    heard, frames, true_s = recording(np.random.default_rng(1))
    before = strikes_found(heard, true_s)
    assert before < 0.9
    assert strikes_found(adapted(heard, frames), true_s) > 0.98


def test_what_was_named_rightly_stays():
    heard, frames, true_s = recording(np.random.default_rng(2), mistaken=0.0)
    after = adapted(heard, frames)
    assert strikes_found(after, true_s) == 1.0
    assert (after.surface.argmax(axis=1) == heard.surface.argmax(axis=1)).mean() > 0.95
    assert np.allclose(after.surface.sum(axis=1), 1, atol=1e-4)


@pytest.mark.parametrize("rallies", [0, 1])
def test_a_recording_too_short_to_learn_from_is_left_as_it_is(rallies):
    heard, frames, _ = recording(np.random.default_rng(3), rallies=1)
    kept = heard.where(np.full(len(heard), bool(rallies)))
    assert adapted(kept, frames) is kept


def test_silence_around_impacts_and_the_ends_of_a_recording_hold():
    frames = np.zeros((30, BANDS), np.uint8)
    assert impact_spectra(frames, np.array([0.0, 0.145])).shape == (2, 3 * BANDS)
    assert np.isfinite(impact_spectra(frames, np.array([0.0, 0.145]))).all()


def test_spectra_alike_tell_nothing_and_unlike_ones_much():
    rng = np.random.default_rng(4)
    marks = [np.arange(80) % 2 == 0, np.arange(80) % 2 == 1]
    noise = rng.normal(0, 1, (80, 40))
    unlike = noise + np.where(marks[0], 3.0, 0.0)[:, None]
    assert np.abs(spectral_odds(unlike, marks)).mean() > 3 * np.abs(spectral_odds(noise * 0, marks)).mean()
    assert (spectral_odds(unlike, marks)[marks[0], 0] > 0).all()
    assert moved(np.array([0.5]), np.array([0.0])) == pytest.approx([0.5])


def test_few_walls_and_few_others_are_one_kind_beside_the_strikes():
    """Before: with both below the least number nothing was beside the strikes, and no chance was a number."""
    rng = np.random.default_rng(3)
    spectra = rng.normal(0, 1, (40, 96))
    spectra[:20] += 1.0
    marks = [np.zeros(40, bool) for _ in range(3)]
    marks[0][:20], marks[1][20:27], marks[2][27:34] = True, True, True
    heard, _, _ = recording(rng, rallies=3)
    few = Impacts(*(part[:40] for part in astuple(heard)))
    named = renamed(few, spectra, tuple(marks))
    assert np.isfinite(named.surface).all()
    assert np.isfinite(named.strike).all()
    assert (named.strike - few.strike)[:20].mean() > (named.strike - few.strike)[20:].mean() + 1
