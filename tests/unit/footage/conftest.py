"""Small films drawn by code: every picture carries its number as bars, so that which one is shown can be read."""

from __future__ import annotations

import hashlib
import random
from collections.abc import Callable, Iterator
from fractions import Fraction
from pathlib import Path

import av
import pytest
from av.stream import Stream

from goodlength.synthetic.numbered_frame_video import Recipe, draw

Film = Callable[..., Path]


@pytest.fixture(scope="session")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("films")


@pytest.fixture(scope="session")
def film(folder: Path) -> Film:
    """`film("even.mp4", stamps=range(30), ...)`: drawn once for the whole run, never to be changed by a test."""
    drawn: dict[str, Path] = {}

    def make(name: str, **recipe: object) -> Path:
        key = f"{name} {sorted((k, str(v)) for k, v in recipe.items())}"
        if key not in drawn:
            home = folder / hashlib.sha256(key.encode()).hexdigest()[:10]
            home.mkdir()
            drawn[key] = draw(home / name, Recipe(**recipe))  # type: ignore[arg-type]
        return drawn[key]

    return make


@pytest.fixture(scope="session")
def even(film: Film) -> Path:
    """Two seconds at 30 pictures a second, a key picture every half, beeps and flashes at 0.5 and 1.5 s."""
    return film("even.mp4", stamps=range(60), key_every=15, beeps_s=(0.5, 1.5), flash_s=(0.5, 1.5))


@pytest.fixture
def untouched(even: Path) -> Iterator[Path]:
    """The even film, with its bytes compared before and after the test."""
    before = hashlib.sha256(even.read_bytes()).hexdigest()
    yield even
    assert hashlib.sha256(even.read_bytes()).hexdigest() == before


def remux(
    src: Path,
    dst: Path,
    shift: Callable[[str, Fraction], Fraction] = lambda _, time: time,
    decoding_order: bool = False,
    options: dict[str, str] | None = None,
    skip: Callable[[str, int], bool] = lambda *_: False,
) -> Path:
    """Copy packets into another file with other times, nothing decoded: how recorders' odd files are made here."""
    with av.open(f"file:{src}") as old, av.open(f"file:{dst}", "w", container_options=options or {}) as new:
        pairs: dict[int, Stream] = {s.index: new.add_stream_from_template(s) for s in old.streams}
        for packet in old.demux():
            if packet.dts is None or packet.pts is None:
                continue
            base, kind, index = packet.time_base, packet.stream.type, packet.stream.index
            packet.dts = round(shift(kind, packet.dts * base) / base)
            packet.pts = (
                packet.dts
                if decoding_order and kind == "video"
                else round(shift(kind, packet.pts * base) / base)
            )
            packet.stream = pairs[index]
            new.mux(packet)
    return dst


@pytest.fixture
def recopy() -> Callable[..., Path]:
    return remux


@pytest.fixture
def noisy() -> Callable[[Path, Path, float, int], Path]:
    """A copy with `count` bytes of noise at a share of its length."""

    def spoil(src: Path, dst: Path, share: float, count: int) -> Path:
        data = bytearray(src.read_bytes())
        at = int(len(data) * share)
        data[at : at + count] = random.Random(7).randbytes(count)
        dst.write_bytes(data)
        return dst

    return spoil
