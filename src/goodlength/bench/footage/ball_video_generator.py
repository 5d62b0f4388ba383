"""Short coded films with the truth of the ball, of the choosing and of the judging family.

A film begins about when the ball is in play and is coded at its own rate, as its codec would. It counts as
good with at least 25 frames a second, a shutter of 1/60 s or shorter, `GOOD_BITS` bits a pixel or more and no
messenger's copy, else as bad.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass
from fractions import Fraction
from itertools import islice
from pathlib import Path
from typing import cast

import av
import numpy as np
from numpy.typing import NDArray

from goodlength.synthetic.recordings.test_family_films import draw_scene, frames_of
from goodlength.synthetic.recordings.training_films.ground_truth_label_types import BallLabel
from goodlength.synthetic.recordings.training_films.sensor_and_codec_simulation import copy_size, write_frames
from goodlength.synthetic.recordings.training_films.training_video_generator import FilmFamily, generate_film

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]
GOOD_EXPOSURE_S = 1 / 60 + 1e-6
GOOD_BITS = 0.05  # bits a pixel of a frame: 3.1 Mb/s for 1080p at 30 frames a second
LEAST_SEEN = 0.35  # share of the ball that must be seen for a frame to count
LEAST_SPAN_S = 1.0


@dataclass(frozen=True)
class BallFilm:
    """A film as written: file, truth by frame, and how it was filmed.

    `truth` has shape (n, 4): u and v of the ball's middle in pixels of the file, the share of it that can be
    seen, and its radius in pixels; NaN where no ball is in play.
    """

    path: Path
    family: str
    seed: int
    good: bool
    frames_per_s: float
    truth: Floats
    conditions: dict[str, str]

    def save(self) -> None:
        """Write the truth beside the film."""
        fields = {**asdict(self), "path": self.path.name, "truth": np.round(self.truth, 3).tolist()}
        self.path.with_suffix(".json").write_text(json.dumps(fields), encoding="utf-8")

    @classmethod
    def load(cls, path: Path) -> BallFilm:
        """Read a film that was saved."""
        fields = json.loads(path.with_suffix(".json").read_text(encoding="utf-8"))
        truth = np.array(fields["truth"], float).reshape(-1, 4)
        return cls(**{**fields, "path": path, "truth": truth})


def is_good(exposure_s: float, frames_per_s: float, megabits_s: float, size: tuple[int, int]) -> bool:
    """Return whether a film that is no messenger's copy counts as good.

    Examples
    --------
    >>> is_good(1 / 100, 30.0, 8.0, (1920, 1080)), is_good(1 / 50, 30.0, 8.0, (1920, 1080))
    (True, False)
    """
    bits = megabits_s * 1e6 / (frames_per_s * size[0] * size[1])
    return exposure_s <= GOOD_EXPOSURE_S and frames_per_s >= 25 and bits >= GOOD_BITS


def write_family_film(
    family: FilmFamily,
    seed: int,
    path: Path,
    seconds: float = 1.5,
    long_side: int = 1920,
    **wanted: object,
) -> BallFilm:
    """Draw and code a film of a training family or of the choosing family; settings as `generate_film`."""
    film = generate_film(family, seed, seconds + 3.0, long_side, **wanted)  # type: ignore[arg-type]
    settings = film.scene.settings
    rate = settings.frames_per_second
    begin = round(2.0 * rate)
    rows: list[Floats] = []
    share = np.ones(2)
    if settings.messenger:
        share = np.array(copy_size(film.scene.size)) / np.array(film.scene.size)

    def frames() -> Iterator[Bytes]:
        for frame, label in film.frames(numbers=range(begin, begin + round(seconds * rate))):
            rows.append(_row(label.ball, share))
            yield frame

    write_frames(path, frames(), settings, None)
    good = not settings.messenger and is_good(settings.exposure_s, rate, settings.megabits_s, film.scene.size)
    conditions = {k: str(v) for k, v in settings.as_conditions().items()}
    return BallFilm(path, family.name, seed, good, rate, np.array(rows), conditions)


def _row(ball: BallLabel | None, share: Floats) -> Floats:
    if ball is None:
        return np.full(4, np.nan)
    u, v = ball.centre_px * share
    return np.array([u, v, ball.seen_share, ball.radius_px * float(share.mean())])


def write_judging_film(seed: int, path: Path, seconds: float = 1.5, kind: str = "singles") -> BallFilm:
    """Draw and code a film of the judging family; its truth is that of frames in play."""
    film = draw_scene(seed, kind, seconds + 3.0)
    rate = film.scene.timing.frames_per_s
    rendered = list(islice(_in_play(frames_of(film), rate), round(seconds * rate)))
    frames = [frame for frame, _ in rendered]
    codec = film.codec
    coder = "libx265" if "HEVC" in codec.codec.upper() else "libx264"
    encode(path, frames, coder, codec.mb_s, rate)
    scale, size = 1.0, (frames[0].shape[1], frames[0].shape[0])
    if codec.copy_height:
        scale = codec.copy_height / min(size)
        small = (round(size[0] * scale / 2) * 2, round(size[1] * scale / 2) * 2)
        with av.open(str(path)) as file:
            copied = [
                np.asarray(frame.to_ndarray(format="rgb24", width=small[0], height=small[1]), np.uint8)
                for frame in file.decode(video=0)
            ]
        encode(path, copied, "libx264", codec.copy_mb_s, rate)
    rows = [
        (np.nan,) * 4 if not ball.in_play
        else (ball.centre_px[0] * scale, ball.centre_px[1] * scale, ball.share_seen, ball.radius_px * scale)
        for _, ball in rendered
    ]  # fmt: skip
    exposure = film.scene.timing.exposure_s
    good = not codec.copy_height and is_good(exposure, rate, codec.mb_s, size)
    conditions = {k: str(v) for k, v in asdict(film.conditions).items()}
    return BallFilm(path, "judging", seed, good, rate, np.array(rows, float), conditions)


def _in_play(rendered: Iterable[tuple[Bytes, object]], rate: float) -> Iterator[tuple[Bytes, _Ball]]:
    """Skip frames until the ball is in play, two seconds at most."""
    started = False
    for i, (frame, truth) in enumerate(rendered):
        ball = cast(_Ball, truth.ball)  # type: ignore[attr-defined]
        started = started or ball.in_play or i >= 2 * rate
        if started:
            yield frame, ball


class _Ball:
    """What is read of the judging family's truth of the ball."""

    centre_px: tuple[float, float]
    share_seen: float
    radius_px: float
    in_play: bool


def encode(path: Path, frames: Iterable[Bytes], codec: str, megabits_s: float, rate: float) -> None:
    """Code frames of red, green, blue at so many megabits a second."""
    options = {"preset": "veryfast"} | ({"x265-params": "log-level=none"} if codec == "libx265" else {})
    fraction = Fraction(rate).limit_denominator(1001)
    with av.open(str(path), "w") as file:
        stream = cast("av.VideoStream", file.add_stream(codec, rate=fraction, options=options))
        stream.pix_fmt, stream.bit_rate = "yuv420p", int(megabits_s * 1e6)
        for i, picture in enumerate(frames):
            if i == 0:
                stream.height, stream.width = picture.shape[:2]
            frame = av.VideoFrame.from_ndarray(np.ascontiguousarray(picture), "rgb24")
            frame.pts, frame.time_base = i, 1 / fraction
            file.mux(stream.encode(frame))
        file.mux(stream.encode())
