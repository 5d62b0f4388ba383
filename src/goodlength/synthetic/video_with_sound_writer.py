"""A synthetic video with a given sound track."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import cast

import av
import numpy as np
from av.audio.frame import AudioFrame
from av.audio.stream import AudioStream
from av.video.frame import VideoFrame

from goodlength.synthetic.simulated_court_audio import RATE, Wave


def write_film(path: Path, samples: Wave, codec: str = "aac", repeat: int = 1) -> Path:
    """Return a film with a tiny picture each second and the given sound, over and over if wished."""
    with av.open(str(path), "w") as container:
        video = container.add_stream("libx264", 1, {"preset": "ultrafast"})
        video.width, video.height, video.pix_fmt = 64, 64, "yuv420p"
        audio = cast(AudioStream, container.add_stream(codec, RATE, layout="mono"))
        grey = np.full((96, 64), 120, np.uint8)
        per = len(samples) // RATE * RATE
        for second in range(per // RATE * repeat):
            frame = VideoFrame.from_ndarray(grey, format="yuv420p")
            frame.pts, frame.time_base = second, Fraction(1)
            container.mux(video.encode(frame))
            at = second * RATE % per
            sound = AudioFrame.from_ndarray(samples[None, at : at + RATE], format="fltp", layout="mono")
            sound.sample_rate, sound.pts, sound.time_base = RATE, second * RATE, Fraction(1, RATE)
            container.mux(audio.encode(sound))
        container.mux(video.encode(None))
        container.mux(audio.encode(None))
    return path
