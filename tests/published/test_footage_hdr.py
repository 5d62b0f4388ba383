"""Light of high-range signals against the values the recommendations print.

ITU-BT2408 (from memory): reference white, 203 cd/m², is a signal of 58 % in PQ and 75 % in HLG on a 1,000 cd/m²
display; a grey card (26 cd/m²) is 38 % in both. ITU-BT2100: a PQ signal of 1 is 10,000 cd/m², an HLG signal of 0.5
is a twelfth of the scene's peak. The tolerance is half a percent of signal, as the values are printed in percent.
"""

from __future__ import annotations

import numpy as np
import pytest

from goodlength.footage.media.hdr_tone_mapping_lut import (
    HLG,
    PQ,
    hlg_light_cd_m2,
    hlg_scene_light,
    pq_light_cd_m2,
    to_ordinary,
)


def grey(value: float) -> np.ndarray:
    return np.full((1, 3), value)


@pytest.mark.parametrize(("signal", "light_cd_m2"), [(0.58, 203), (0.38, 26)])
def test_pq_levels(signal: float, light_cd_m2: float) -> None:
    low, high = pq_light_cd_m2(np.array([signal - 0.005, signal + 0.005]))
    assert low < light_cd_m2 < high


@pytest.mark.parametrize(("signal", "light_cd_m2"), [(0.75, 203), (0.38, 26)])
def test_hlg_levels(signal: float, light_cd_m2: float) -> None:
    low, high = (float(hlg_light_cd_m2(grey(signal + d))[0, 0]) for d in (-0.005, 0.005))
    assert low < light_cd_m2 < high


def test_ends_and_the_joint_of_the_curves() -> None:
    assert pq_light_cd_m2(np.array([0.0, 1.0])) == pytest.approx([0.0, 10_000.0])
    assert hlg_scene_light(np.array([0.0, 0.5, 1.0])) == pytest.approx([0.0, 1 / 12, 1.0], abs=1e-6)


@pytest.mark.parametrize("transfer", [PQ, HLG])
def test_greys_stay_grey_rise_and_fit_the_ordinary_range(transfer: int) -> None:
    """White of both primaries is the same; the matrix is printed to four digits, so a per mille is allowed."""
    ramp = np.repeat(np.linspace(0, 1, 101)[:, None], 3, axis=1)
    out = to_ordinary(ramp, transfer)
    assert out.min() >= 0
    assert out.max() <= 1
    assert np.abs(out - out.mean(axis=1, keepdims=True)).max() < 1e-3
    assert np.all(np.diff(out[:, 0]) > -1e-9)


@pytest.mark.parametrize(("transfer", "white"), [(PQ, 0.58), (HLG, 0.75)])
def test_reference_white_is_bright_and_not_clipped(transfer: int, white: float) -> None:
    assert 0.9 < float(to_ordinary(grey(white), transfer)[0, 0]) < 0.98
