"""Tone mapping of HDR video: a colour lookup table for the decoder's filter.

A phone's HLG or PQ film looks pale or crushed where it is shown as it is. Each colour is taken to light,
from the wide primaries to the ordinary ones, its brightest part rolled off, and back to a signal.
Simple on purpose: players and lines stay where they were; only lamps lose detail.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Values = NDArray[np.float64]

PQ, HLG = 16, 18  # colour transfer codes; source: ITU-H273, table 3
NAMES = {PQ: "PQ", HLG: "HLG"}

# source: ITU-BT2100, PQ reference EOTF constants and HLG OETF constants
PQ_M1, PQ_M2 = 2610 / 16384, 2523 / 4096 * 128
PQ_C1, PQ_C2, PQ_C3 = 3424 / 4096, 2413 / 4096 * 32, 2392 / 4096 * 32
HLG_A, HLG_B, HLG_C = 0.17883277, 0.28466892, 0.55991073
HLG_GAMMA = 1.2  # system gamma at a peak of 1,000 cd/m²
HLG_PEAK_CD_M2 = 1000.0
WHITE_CD_M2 = 203.0  # HDR reference white; source: ITU-BT2408
KNEE = 0.75  # share of the ordinary range kept as it is; above it lamps are rolled off. ASSUMED
# BT.2020 to BT.709 linear light; source: ITU-BT2087, matrix M2
TO_709 = np.array([[1.6605, -0.5876, -0.0728], [-0.1246, 1.1329, -0.0083], [-0.0182, -0.1006, 1.1187]])
LUMA_2020 = np.array([0.2627, 0.6780, 0.0593])
GRID = 33


def pq_light_cd_m2(signal: Values) -> Values:
    """Return the light of a PQ signal in cd/m²; 0.5081 is about 100. source: ITU-BT2100."""
    root = np.power(np.clip(signal, 0, 1), 1 / PQ_M2)
    return 10000 * np.power(np.maximum(root - PQ_C1, 0) / (PQ_C2 - PQ_C3 * root), 1 / PQ_M1)


def hlg_scene_light(signal: Values) -> Values:
    """Return the scene light, 0 to 1, of an HLG signal; 0.5 is 1/12. source: ITU-BT2100."""
    e = np.clip(signal, 0, 1)
    return np.asarray(np.where(e <= 0.5, e**2 / 3, (np.exp((e - HLG_C) / HLG_A) + HLG_B) / 12))


def hlg_light_cd_m2(rgb: Values) -> Values:
    """Return the light of HLG signals, shape (..., 3), on a 1,000 cd/m² display; 0.75 grey is about 203."""
    scene = hlg_scene_light(rgb)
    luma = (scene @ LUMA_2020)[..., None]
    return np.asarray(HLG_PEAK_CD_M2 * np.power(np.maximum(luma, 1e-9), HLG_GAMMA - 1) * scene)


def to_ordinary(rgb: Values, transfer: int) -> Values:
    """Return ordinary (BT.709) signals, 0 to 1, for high-range signals of shape (..., 3)."""
    light = pq_light_cd_m2(rgb) if transfer == PQ else hlg_light_cd_m2(rgb)
    linear = (light / WHITE_CD_M2) @ TO_709.T
    linear = np.maximum(linear, 0.0)
    brightest = linear.max(axis=-1, keepdims=True)
    rolled = KNEE + (1 - KNEE) * (1 - np.exp(-(brightest - KNEE) / (1 - KNEE)))
    factor = np.where(brightest > KNEE, rolled / np.maximum(brightest, 1e-9), 1.0)
    # The display of an ordinary film has a gamma of 2.4; source: ITU-BT1886
    return np.asarray(np.power(np.clip(linear * factor, 0, 1), 1 / 2.4))


def write_table(path: Path, transfer: int) -> None:
    """Write the conversion as a .cube colour table, as the picture library's table filter reads it."""
    axis = np.linspace(0, 1, GRID)
    blue, green, red = np.meshgrid(axis, axis, axis, indexing="ij")
    out = to_ordinary(np.stack([red, green, blue], axis=-1).reshape(-1, 3), transfer)
    lines = [f"LUT_3D_SIZE {GRID}", *(f"{r:.5f} {g:.5f} {b:.5f}" for r, g, b in out.tolist())]
    path.write_text("\n".join(lines) + "\n", encoding="ascii")
