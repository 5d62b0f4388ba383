"""Picture and sound put into one file that any browser plays."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import av
import cv2
import numpy as np

from goodlength.demo.courtpicture import Picture
from goodlength.demo.filmed import Filmed
from goodlength.demo.frames import FRAMES_A_S, Pictures
from goodlength.demo.place import Camera
from goodlength.demo.sound import RATE, Sound

Progress = Callable[[float, str], None]
SAMPLES_A_FRAME = RATE // FRAMES_A_S
PICTURE_OPTIONS = {"preset": "veryfast", "crf": "21", "bf": "0", "g": str(FRAMES_A_S), "sc_threshold": "0"}
SOUND_BITS_A_S = 128_000


def write_film(
    filmed: Filmed,
    camera: Camera,
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
    pictures = Pictures(filmed, camera)
    sound = Sound(filmed, camera, seed)
    first, last = frames or (0, pictures.count)
    with av.open(str(to), "w", format="mp4", options={"movflags": "+faststart"}) as box:
        picture_stream = box.add_stream("libx264", rate=FRAMES_A_S, options=PICTURE_OPTIONS)
        picture_stream.width, picture_stream.height = camera.width, camera.height
        picture_stream.pix_fmt = "yuv420p"
        picture_stream.time_base = Fraction(1, FRAMES_A_S)
        sound_stream = box.add_stream("aac", rate=RATE, layout="mono")
        sound_stream.bit_rate = SOUND_BITS_A_S
        for n, picture in enumerate(pictures.frames(first, last)):
            planes: Picture = np.asarray(cv2.cvtColor(picture, cv2.COLOR_BGR2YUV_I420), dtype=np.uint8)
            frame = av.VideoFrame.from_ndarray(planes, format="yuv420p")
            frame.pts, frame.time_base = n, Fraction(1, FRAMES_A_S)
            box.mux(picture_stream.encode(frame))
            if n % FRAMES_A_S == 0:
                _sound_from(box, sound_stream, sound, first + n, min(first + n + FRAMES_A_S, last), first)
                if progress is not None:
                    progress(n / max(1, last - first), f"second {n // FRAMES_A_S} of the film")
        box.mux(picture_stream.encode(None))
        box.mux(sound_stream.encode(None))
    return last - first


def _sound_from(
    box: av.container.OutputContainer,
    stream: av.AudioStream,
    sound: Sound,
    first: int,
    last: int,
    zero: int,
) -> None:
    """The sound that belongs to some frames."""
    a, b = first * SAMPLES_A_FRAME, last * SAMPLES_A_FRAME
    wave = sound.block(a, b)
    frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(wave[None, :]), format="fltp", layout="mono")
    frame.sample_rate = RATE
    frame.pts, frame.time_base = a - zero * SAMPLES_A_FRAME, Fraction(1, RATE)
    box.mux(stream.encode(frame))
