"""Frame accuracy of clips on videos whose frames carry their number, and speed beside a bare loop."""

from __future__ import annotations

import tempfile
import time
from dataclasses import dataclass
from fractions import Fraction
from functools import partial
from pathlib import Path

import av
import numpy as np

from goodlength.footage.edit.clip_concatenation import ReelPiece, reel
from goodlength.footage.edit.clip_export import encode_clip
from goodlength.footage.edit.h264_aac_mp4_writer import CLIP
from goodlength.synthetic.numbered_frame_video import Recipe, draw, lumas, read_card

BASE = Fraction(1, 15360)


@dataclass(frozen=True)
class CutFigures:
    """What `bench show` prints. The ratio is our wall time over the bare loop's, the median of some spans.

    A reel of spans is set beside the bare loop over each of them; joining clips made before encodes nothing,
    and its time is set beside encoding them.
    """

    cuts: int
    exact: int
    exact_of_100: float
    wrong: tuple[str, ...]
    export_ratio_to_encoder: float
    spans_timed: int
    reel_ratio_to_encoder: float
    join_share_of_encoding: float
    reel_pictures_right: bool


def bench_clips(seed: int = 20261125, cuts: int = 100, spans: int = 5, seconds: int = 40) -> CutFigures:
    """Random cuts on films with even and uneven steps, then the time of an export beside the bare loop.

    Parameters
    ----------
    seed : int
        State of the draws.
    cuts : int
        Random cuts read back picture by picture with a plain decoder.
    spans : int
        Spans of eight seconds timed, ours and the bare loop's in turn.
    seconds : int
        Length of the film whose spans are timed.
    """
    rng = np.random.default_rng(seed)
    with tempfile.TemporaryDirectory() as folder:
        films = [_film(Path(folder), rng, k) for k in range(3)]
        wrong = []
        for k in range(cuts):
            path, stamps = films[k % len(films)]
            if failure := _wrong(path, stamps, rng, Path(folder) / "cut.mp4"):
                wrong.append(failure)
        ratio = _ratio(Path(folder), rng, spans, seconds)
        reels = _reels(Path(folder), rng, spans, seconds)
    exact = cuts - len(wrong)
    return CutFigures(cuts, exact, 100.0 * exact / cuts, tuple(wrong), ratio, spans, *reels)


def _film(folder: Path, rng: np.random.Generator, k: int) -> tuple[Path, list[int]]:
    """Return a film of 240 numbered pictures: even at 30, even at 29.97, uneven steps."""
    steps = (
        np.full(240, 512),
        np.where(np.arange(240) % 2, 512, 513),
        rng.integers(300, 900, size=240),
    )[k]
    stamps = [int(s) for s in np.concatenate([[0], np.cumsum(steps)[:-1]])]
    path = folder / f"numbered-{k}.mp4"
    draw(path, Recipe(stamps=stamps, base=BASE, key_every=(12, 60, 240)[k], b_frames=2, sound=""))
    return path, stamps


def _wrong(path: Path, stamps: list[int], rng: np.random.Generator, out: Path) -> str | None:
    """Return what is wrong with one random cut, None when every picture is the one it should be."""
    times = np.array([s * 1_000_000 / BASE.denominator for s in stamps])
    begin, end = sorted(rng.uniform(0, times[-1], size=2))
    from_us, to_us = int(begin), int(max(end, begin + 2))
    encode_clip(path, from_us, to_us, out)
    first = int(np.searchsorted(times, from_us, "right")) - 1
    last = int(np.searchsorted(times, to_us, "left"))
    found = [read_card(luma) for luma in lumas(out)]
    wanted = list(range(first, last))
    return None if found == wanted else f"{path.name} {from_us}-{to_us}: {found[:2]}...{found[-2:]}"


def _ratio(folder: Path, rng: np.random.Generator, spans: int, seconds: int) -> float:
    """Our export over the bare loop, same span, same settings, same run: the median of the ratios."""
    path = folder / "long.mp4"
    stamps = [512 * k for k in range(30 * seconds)]
    draw(path, Recipe(stamps=stamps, base=BASE, width=640, height=360, key_every=60, b_frames=2, sound=""))
    ratios = []
    for _ in range(spans):
        begin = float(rng.uniform(1, seconds - 10))
        us = (int(begin * 1e6), int((begin + 8.0) * 1e6))
        bare = _timed(partial(_bare_loop, path, *us, folder / "bare.mp4"))
        ours = _timed(partial(encode_clip, path, *us, folder / "ours.mp4"))
        ratios.append(ours / bare)
    return float(np.median(ratios))


def _reels(folder: Path, rng: np.random.Generator, spans: int, seconds: int) -> tuple[float, float, bool]:
    """Return a reel of spans beside the bare loop over each, joining beside encoding, and whether all is
    there.
    """
    path = folder / "long.mp4"
    begins = [round(float(rng.uniform(1, seconds - 10)) * 1e6) for _ in range(spans)]
    begins = [us // 33_333 * 33_333 for us in begins]
    pieces = [ReelPiece(str(path), us, us + 4_000_000) for us in begins]
    bare = sum(
        _timed(partial(_bare_loop, path, piece.from_us or 0, piece.to_us or 0, folder / "bare.mp4"))
        for piece in pieces
    )
    ours = _timed(partial(reel, pieces, folder / "reel.mp4"))
    clips = []
    for n, reel_piece in enumerate(pieces):
        encode_clip(path, reel_piece.from_us or 0, reel_piece.to_us or 0, folder / f"clip{n}.mp4")
        clips.append(ReelPiece(str(folder / f"clip{n}.mp4")))
    joined = _timed(partial(reel, clips, folder / "joined.mp4"))
    alone = [read_card(luma) for clip in clips for luma in lumas(Path(clip.src))]
    right = all([read_card(x) for x in lumas(folder / name)] == alone for name in ("reel.mp4", "joined.mp4"))
    return ours / bare, joined / bare, right and None not in alone


def _bare_loop(path: Path, from_us: int, to_us: int, out: Path) -> None:
    """Decode from the key frame before the cut, encode the span: nothing else."""
    with av.open(str(path)) as source, av.open(str(out), "w") as target:
        shown = source.streams.video[0]
        shown.thread_type = "AUTO"
        made = target.add_stream("libx264", rate=30, options=CLIP.options())
        made.width, made.height, made.pix_fmt = shown.width, shown.height, "yuv420p"
        base = shown.time_base
        assert base is not None
        made.codec_context.time_base = base
        source.seek(int(from_us / 1e6 / base), stream=shown)
        for frame in source.decode(shown):
            at = float(frame.pts * base) * 1e6 if frame.pts is not None else 0.0
            if at >= to_us:
                break
            if at + 33_334 > from_us:
                target.mux(made.encode(frame))
        target.mux(made.encode(None))


def _timed(work: object) -> float:
    assert callable(work)
    began = time.perf_counter()
    work()
    return time.perf_counter() - began
