"""A phone's chain: capsules, noise suppression, gain control, limiter or clipping, rate, codec.

The capsules are cascades of second-order filters; suppression is a Wiener gain over a running low percentile;
gain control works on levels in dB with a ratio; the codec is a real one: AAC (with its quick search), MPEG
audio layer II or, for telephone sound, mu-law companding. Its delay is cut off, so that no onset moves.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Literal

import av
import numpy as np
import scipy.fft
from scipy.signal import butter, freqz, lfilter, resample_poly, sosfreqz

if TYPE_CHECKING:
    from numpy.typing import NDArray

FRAME_S = 0.008
STRETCH_S = 30
MU = 255.0


@dataclass(frozen=True)
class LevelControl:
    """A gain control: threshold in dB of full scale, ratio, times to turn down and up, most gain in dB."""

    threshold_db: float
    ratio: float
    down_s: float
    up_s: float
    most_db: float


@dataclass(frozen=True)
class RecordingPhone:
    """A recorder: rate, channels, band, resonance, effects on the sound, how its second capsule differs."""

    rate: int
    channels: int
    low_hz: float
    high_hz: float
    resonance_hz: float
    resonance_db: float
    level: float
    control: LevelControl | None
    suppression: float
    codec: str
    codec_kb_s: float
    soft_clip: bool
    phase: str
    second_gain: float
    second_delay_s: float

    @property
    def inner_rate(self) -> int:
        """The rate at which the scene is made; a file of 8 kHz is cut down from 16."""
        return max(self.rate, 16000)


@lru_cache(maxsize=8)  # asked for by each mixer of a recording, of the whole scene and of a single strike
def capsule_response(phone: RecordingPhone, size: int, channel: int) -> NDArray[np.complex64]:
    """Return a capsule's response over the bins of a transform; the second is late, softer, and out of phase.

    "same" and "delay" keep its sign, "opposite" turns it, "any" turns the phase differently at each pitch.
    """
    rate = phone.inner_rate
    turn = np.exp(-2j * math.pi * np.arange(size // 2 + 1) / size)
    grid = np.angle(np.conj(turn))
    grid[-1] = min(grid[-1], math.pi - 1e-9)
    high = butter(2, phone.low_hz, "highpass", fs=rate, output="sos")
    low = butter(4, min(phone.high_hz, 0.48 * rate), "lowpass", fs=rate, output="sos")
    response = sosfreqz(np.concatenate([high, low]), grid)[1] * _bell(phone, grid)
    if channel:
        response = response * phone.second_gain
        if phone.phase != "same":
            response = response * turn ** (phone.second_delay_s * rate)
        if phone.phase == "opposite":
            response = -response
        if phone.phase == "any":
            for pole in (-0.6, 0.2, 0.75):
                response = response * freqz([pole, 1.0], [1.0, pole], grid)[1]
    out: NDArray[np.complex64] = response.astype(np.complex64)
    out.flags.writeable = False
    return out


def _bell(phone: RecordingPhone, grid: NDArray[np.float64]) -> NDArray[np.complex128]:
    """Return the response of one peaking filter (bilinear, width about an octave)."""
    w = 2.0 * math.pi * min(phone.resonance_hz, 0.4 * phone.inner_rate) / phone.inner_rate
    gain, wide = 10.0 ** (phone.resonance_db / 40.0), math.sin(w) / 2.8
    b = [1.0 + wide * gain, -2.0 * math.cos(w), 1.0 - wide * gain]
    a = [1.0 + wide / gain, -2.0 * math.cos(w), 1.0 - wide / gain]
    out: NDArray[np.complex128] = freqz(b, a, grid)[1]
    return out


def apply_level_control(samples: NDArray[np.float32], rate: int, control: LevelControl) -> None:
    """Apply a gain control in place, all channels alike; a frame's gain is reached at its end."""
    hop = int(FRAME_S * rate)
    frames = samples.shape[1] // hop
    if frames < 3:
        return
    shaped = samples[:, : frames * hop].reshape(samples.shape[0], frames, hop)
    power = np.zeros(frames)
    for start in range(0, frames, 2000):
        power[start : start + 2000] = np.einsum("cfs,cfs->f", *(shaped[:, start : start + 2000],) * 2)
    level = 10.0 * np.log10(power / (hop * samples.shape[0]) + 1e-10)
    gains = _gains(level, control)
    ramp = np.arange(1, hop + 1, dtype=np.float32) / hop
    before = np.concatenate([gains[:1], gains[:-1]])
    for start in range(0, frames, 2000):
        some = slice(start, start + 2000)
        rise = (gains[some] - before[some])[:, None] * ramp
        shaped[:, some] *= (before[some][:, None] + rise).astype(np.float32)
    samples[:, frames * hop :] *= np.float32(gains[-1])


def _gains(level_db: NDArray[np.float64], control: LevelControl) -> NDArray[np.float64]:
    """Return the gain of each frame: towards the threshold by the ratio, down and up at their own pace."""
    wanted = (control.threshold_db - level_db) * (1.0 - 1.0 / control.ratio)
    wanted = np.minimum(wanted, control.most_db)
    down, up = (1.0 - math.exp(-FRAME_S / t) for t in (control.down_s, control.up_s))
    now = float(np.median(wanted))
    out = np.empty(wanted.size)
    for i, want in enumerate(wanted.tolist()):
        now += (down if want < now else up) * (want - now)
        out[i] = now
    return np.asarray(10.0 ** (out / 20.0))


def wiener_suppression(channel: NDArray[np.float32], rate: int, strength: float) -> None:
    """Take away in place what stands little above a low percentile of 2.4 s; the gain opens over frames."""
    hop = int(FRAME_S * rate)
    window = np.sin(math.pi * (np.arange(2 * hop) + 0.5) / (2 * hop)).astype(np.float32)
    stretch = STRETCH_S * rate // hop * hop
    tail = np.zeros(hop, dtype=np.float32)
    for start in range(0, channel.size, stretch):
        end = min(start + stretch, channel.size)
        piece = np.zeros(-(-(end - start) // hop) * hop + hop, dtype=np.float32)
        have = channel[start : min(start + piece.size, channel.size)]
        piece[: have.size] = have
        views = np.lib.stride_tricks.sliding_window_view(piece, 2 * hop)[::hop]
        spectrum = scipy.fft.rfft(views * window, axis=1)
        back = scipy.fft.irfft(spectrum * _wiener_gain(np.abs(spectrum) ** 2, strength), 2 * hop, axis=1)
        parts = back.astype(np.float32) * window
        mixed = parts[:, :hop].copy()
        mixed[1:] += parts[:-1, hop:]
        mixed[0] += tail
        tail = parts[-1, hop:].copy()
        channel[start:end] = mixed.ravel()[: end - start]


def _wiener_gain(power: NDArray[np.float32], strength: float) -> NDArray[np.float32]:
    calm = np.float32(0.4)
    smooth = lfilter([1.0 - calm], [1.0, -calm], power, axis=0).astype(np.float32)
    group = 300
    starts = range(0, power.shape[0], group)
    floors = np.stack([np.quantile(smooth[s : s + group : 4], 0.15, axis=0) for s in starts])
    noise = np.repeat(floors, group, axis=0)[: power.shape[0]] * 1.8 + 1e-14
    excess = np.maximum(smooth / noise - 1.0, 0.0)
    gain = np.maximum(excess / (excess + 4.0 * strength), 10.0 ** (-0.9 * strength))
    slow = np.float32(0.55)
    return lfilter([1.0 - slow], [1.0, -slow], gain, axis=0).astype(np.float32)


def mu_law(channel: NDArray[np.float32]) -> None:
    """Apply telephone companding of 8 bits in place (ITU-T G.711's mu-law, continuous form)."""
    small = np.sign(channel) * np.log1p(MU * np.abs(channel)) / math.log1p(MU)
    small = np.rint(small * 127.0) / 127.0
    channel[:] = np.sign(small) * np.expm1(np.abs(small) * math.log1p(MU)) / MU


@dataclass(frozen=True)
class _Codec:
    """A codec of the library: its name, the samples of delay to cut off, its sample format."""

    name: Literal["aac", "mp2"]
    delay: int
    sample_format: str


CODECS = {"aac": _Codec("aac", 1024, "fltp"), "layer II": _Codec("mp2", 481, "s16")}
LAYER_TWO_KB_S = (64, 96, 112, 128, 160)  # rates allowed in mono and stereo, at low and high sample rates


def _context(codec: _Codec, mode: Literal["r", "w"], rate: int, layout: str) -> av.AudioCodecContext:
    context = av.CodecContext.create(codec.name, mode)
    context.sample_rate, context.layout, context.thread_count = rate, layout, 1
    return context


def _open_encoder(codec: _Codec, rate: int, layout: str, kb_s: float) -> av.AudioCodecContext:
    encoder = _context(codec, "w", rate, layout)
    encoder.format = codec.sample_format
    if codec.name == "aac":
        most = int(5.5 * rate * (2 if layout == "stereo" else 1))  # the standard allows 6,144 bits a frame
        encoder.bit_rate, encoder.options = min(int(1000 * kb_s), most), {"aac_coder": "fast"}
    else:
        encoder.bit_rate = 1000 * min(LAYER_TWO_KB_S, key=lambda allowed: abs(allowed - kb_s))
    encoder.open()
    return encoder


def _frame(piece: NDArray[np.float32], codec: _Codec, rate: int, layout: str, pts: int) -> av.AudioFrame:
    if codec.sample_format == "s16":
        packed = np.rint(32767.0 * piece.T.reshape(1, -1)).astype(np.int16)
        frame = av.AudioFrame.from_ndarray(packed, format="s16", layout=layout)
    else:
        frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(piece), format="fltp", layout=layout)
    frame.sample_rate, frame.pts = rate, pts
    return frame


def _decoded(frame: av.AudioFrame, channels: int) -> NDArray[np.float32]:
    wave = frame.to_ndarray()
    if wave.shape[0] != channels:
        wave = wave.reshape(-1, channels).T
    return np.asarray(wave * np.float32(1.0 / 32768.0) if wave.dtype == np.int16 else wave, dtype=np.float32)


def coded_and_decoded(samples: NDArray[np.float32], rate: int, codec_name: str, kb_s: float) -> None:
    """Encode with one of `CODECS` and decode again, in place; the codec's delay is cut off.

    What is decoded is written behind what is still to be encoded.
    """
    codec = CODECS[codec_name]
    layout = "stereo" if samples.shape[0] == 2 else "mono"
    encoder = _open_encoder(codec, rate, layout, kb_s)
    decoder = _context(codec, "r", rate, layout)
    if encoder.extradata:
        decoder.extradata = encoder.extradata
    size, place, total = encoder.frame_size, -codec.delay, samples.shape[1]
    for start in range(0, total + 2 * size, size):
        piece = samples[:, start : start + size]
        if piece.shape[1] < size:
            piece = np.pad(piece, ((0, 0), (0, size - piece.shape[1])))
        for packet in encoder.encode(_frame(piece, codec, rate, layout, start)):
            for back in decoder.decode(packet):
                place = _put(samples, _decoded(back, samples.shape[0]), place)
    rest = [back for packet in encoder.encode(None) for back in decoder.decode(packet)]
    for back in [*rest, *decoder.decode(None)]:
        place = _put(samples, _decoded(back, samples.shape[0]), place)


def _put(samples: NDArray[np.float32], wave: NDArray[np.float32], place: int) -> int:
    """Write decoded samples at a place; return the next place."""
    skip = max(-place, 0)
    end = min(place + wave.shape[1], samples.shape[1])
    if end > place + skip:
        samples[:, place + skip : end] = wave[:, skip : end - place]
    return place + int(wave.shape[1])


def record_scene(samples: NDArray[np.float32], phone: RecordingPhone) -> NDArray[np.float32]:
    """Return what the phone's file holds of the sound at its capsules; works in place where it can."""
    rate = phone.inner_rate
    samples *= np.float32(phone.level)
    if phone.suppression > 0.0:
        for channel in samples:
            wiener_suppression(channel, rate, phone.suppression)
    if phone.control is not None:
        apply_level_control(samples, rate, phone.control)
    if phone.soft_clip:
        for channel in samples:
            np.tanh(channel, out=channel)
    np.clip(samples, -0.998, 0.998, out=samples)
    if phone.rate != rate:
        samples = np.asarray(resample_poly(samples, 1, rate // phone.rate, axis=1), dtype=np.float32)
    if phone.codec in CODECS:
        coded_and_decoded(samples, phone.rate, phone.codec, phone.codec_kb_s)
    elif phone.codec == "mu-law":
        for channel in samples:
            mu_law(channel)
    np.clip(samples, -1.0, 1.0, out=samples)
    return samples
