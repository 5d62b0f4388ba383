"""Mux picture and sound into one file that any browser plays."""

from __future__ import annotations

from collections import deque
from concurrent.futures import Future, ThreadPoolExecutor
from fractions import Fraction
from pathlib import Path

import av
import cv2
import numpy as np

from goodlength.demo.film.audio_synthesis import RATE, GameSound
from goodlength.demo.film.court_background import Picture
from goodlength.demo.film.frame_sequence import FRAMES_A_S, FrameRenderer
from goodlength.demo.film.game_timeline import Filmed
from goodlength.demo.play.court_camera import PinholeCamera
from goodlength.jobs.progress_callback import Progress

SAMPLES_A_FRAME = RATE // FRAMES_A_S
PICTURE_OPTIONS = {"preset": "veryfast", "crf": "21", "bf": "0", "g": str(FRAMES_A_S), "sc_threshold": "0"}
SOUND_BITS_A_S = 128_000
MOST_WAITING = 50  # pictures drawn and not yet encoded: 35 MB
# blue, green, red to the two colour planes in studio range; source: BT-601-7
COLOUR = np.array([[112.0, -74.203, -37.797, 128 * 255], [-18.214, -93.786, 112.0, 128 * 255]]) / 255


def write_film(
    filmed: Filmed,
    camera: PinholeCamera,
    to: Path,
    seed: int,
    frames: tuple[int, int] | None = None,
    progress: Progress | None = None,
) -> int:
    """Write the film, or some frames of it, and say how many frames it has.

    Frame n has the stamp n / 25 s counted from the first one written; sound begins with the picture.
    Key frames stand a second apart and no frame waits for a later one, so that stepping is quick.

    Parameters
    ----------
    filmed, camera, seed
        What is filmed, from where, and where the draws of the sound begin.
    to : Path
        An MP4 file: H.264, 640 by 360, 25 frames a second, with AAC sound.
    frames : (first, last), optional
        Only these frames of the film, the last left out.
    progress : callable (share, words), optional
        Called about once a second of film; what it raises stops the writing.

    Returns
    -------
    int
        Number of frames.
    """
    pictures = FrameRenderer(filmed, camera)
    sound = GameSound(filmed, camera, seed)
    first, last = frames or (0, pictures.count)
    with av.open(str(to), "w", format="mp4", options={"movflags": "+faststart"}) as box:
        writer = _Writer(box, camera, sound, first)
        with ThreadPoolExecutor(1) as encoder:
            waiting: deque[Future[None]] = deque()
            for n, picture in enumerate(pictures.frames(first, last)):
                waiting.append(encoder.submit(writer.picture, n, picture))
                if n % FRAMES_A_S == 0:
                    waiting.append(encoder.submit(writer.sound, first + n, min(first + n + FRAMES_A_S, last)))
                    if progress is not None:
                        progress(n / max(1, last - first), f"second {n // FRAMES_A_S}")
                while len(waiting) > MOST_WAITING:
                    waiting.popleft().result()
            for done in waiting:
                done.result()
        writer.finish()
    return last - first


class _Writer:
    """The file being written; pictures are drawn in one thread and encoded here in another."""

    def __init__(
        self, box: av.container.OutputContainer, camera: PinholeCamera, sound: GameSound, zero: int
    ) -> None:
        self.box = box
        self.sounds = sound
        self.zero = zero
        self.pictures = box.add_stream("libx264", rate=FRAMES_A_S, options=PICTURE_OPTIONS)
        self.pictures.width, self.pictures.height = camera.width, camera.height
        self.pictures.pix_fmt = "yuv420p"
        self.pictures.time_base = Fraction(1, FRAMES_A_S)
        self.waves = box.add_stream("aac", rate=RATE, layout="mono")
        self.waves.bit_rate = SOUND_BITS_A_S

    def picture(self, n: int, picture: Picture) -> None:
        """The n-th picture of the file."""
        frame = av.VideoFrame.from_ndarray(_planes(picture), format="yuv420p")
        frame.pts, frame.time_base = n, Fraction(1, FRAMES_A_S)
        self.box.mux(self.pictures.encode(frame))

    def sound(self, first: int, last: int) -> None:
        """The sound that belongs to some frames of the film."""
        wave = self.sounds.block(first * SAMPLES_A_FRAME, last * SAMPLES_A_FRAME)
        frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(wave[None, :]), format="fltp", layout="mono")
        frame.sample_rate = RATE
        frame.pts, frame.time_base = (first - self.zero) * SAMPLES_A_FRAME, Fraction(1, RATE)
        self.box.mux(self.waves.encode(frame))

    def finish(self) -> None:
        """What the encoders still hold."""
        self.box.mux(self.pictures.encode(None))
        self.box.mux(self.waves.encode(None))


def _planes(picture: Picture) -> Picture:
    """Return the picture as the encoder takes it: brightness whole, colour at half the size.

    Colour is averaged over two by two pixels; taking one of the four, as the plain conversion does,
    turned the thin red short line brown.
    """
    height, width = picture.shape[:2]
    out: Picture = np.asarray(cv2.cvtColor(picture, cv2.COLOR_BGR2YUV_I420), dtype=np.uint8)
    half = cv2.resize(picture, (width // 2, height // 2), interpolation=cv2.INTER_AREA)
    out[height:] = np.moveaxis(cv2.transform(half, COLOUR), 2, 0).reshape(height // 2, width)
    return out
