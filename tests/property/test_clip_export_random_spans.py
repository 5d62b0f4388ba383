"""Random films, random spans: a clip holds exactly the pictures a plain reading of the stamps says."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from goodlength.footage.edit.clip_export import encode_clip
from goodlength.footage.edit.proxy_video import make_proxy
from goodlength.synthetic.numbered_frame_video import Recipe, draw, lumas, read_card


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(4))
def test_clips_of_films_and_of_their_proxies_hold_the_same_pictures(tmp_path: Path, seed: int) -> None:
    rng = np.random.default_rng(seed)
    base = [Fraction(1, 15360), Fraction(1, 30000), Fraction(1, 1000), Fraction(1, 90000)][seed]
    steps = rng.choice([1, 1, 1, 2, 3], 70) * round(Fraction(1, 30) / base) + rng.integers(0, 7, 70)
    ticks = (np.cumsum(steps) - steps[0] + int(rng.integers(0, 3)) * steps[0]).tolist()
    name = ["film.mp4", "film.mov", "film.mkv", "film.ts"][seed]
    if name == "film.ts":
        ticks = [t + 130_000 for t in ticks]
    path = draw(
        tmp_path / name,
        Recipe(ticks, base, key_every=int(rng.integers(5, 40)), b_frames=int(rng.integers(0, 4)), sound=""),
    )
    proxy = make_proxy(path, tmp_path / "proxy.mp4")
    starts = [Fraction(t) * base * 1_000_000 for t in ticks]
    for _ in range(6):
        a, b = sorted(int(v) for v in rng.uniform(float(starts[0]), float(starts[-1]), 2))
        wanted = [
            i
            for i, s in enumerate(starts)
            if round(s) < b + 1 and (i + 1 == len(starts) or round(starts[i + 1]) > a)
        ]
        for source in (path, Path(proxy.path)):
            encode_clip(source, a, b + 1, tmp_path / "clip.mp4", table=proxy.table)
            assert [read_card(luma) for luma in lumas(tmp_path / "clip.mp4")] == wanted
