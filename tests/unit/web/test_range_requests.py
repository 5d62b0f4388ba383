"""Footage in pieces, byte for byte (odd-files case C32)."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route
from starlette.testclient import TestClient

from goodlength.web.http.range_requests import CHUNK_BYTES, FootageResponse

SIZE = CHUNK_BYTES * 2 + 12_345


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("film") / "bytes.mp4"
    i = np.arange(SIZE)
    path.write_bytes(((i * 31 + i // 251) % 256).astype(np.uint8).tobytes())
    return path


@pytest.fixture(scope="module")
def asked(film: Path) -> Iterator[TestClient]:
    def answer(_: Request) -> Response:
        return FootageResponse(film)

    with TestClient(Starlette(routes=[Route("/film", answer, methods=["GET", "HEAD"])])) as client:
        yield client


@pytest.mark.parametrize(
    ("wanted", "first", "end"),
    [
        ("bytes=0-1", 0, 2),
        ("bytes=0-0", 0, 1),
        ("bytes=1048575-1048576", 1_048_575, 1_048_577),
        (f"bytes={SIZE - 5}-", SIZE - 5, SIZE),
        ("bytes=-5", SIZE - 5, SIZE),
        (f"bytes=0-{SIZE * 9}", 0, SIZE),
        ("bytes=17-", 17, SIZE),
        (f"bytes=-{SIZE * 2}", 0, SIZE),
        ("Bytes = 3-9", 3, 10),
    ],
)
def test_one_range_is_answered_exactly(
    asked: TestClient, film: Path, wanted: str, first: int, end: int
) -> None:
    answer = asked.get("/film", headers={"range": wanted})
    assert answer.status_code == 206
    assert answer.headers["content-range"] == f"bytes {first}-{end - 1}/{SIZE}"
    assert answer.headers["content-length"] == str(end - first)
    assert answer.content == film.read_bytes()[first:end]


@pytest.mark.parametrize("wanted", [f"bytes={SIZE}-", f"bytes={SIZE * 3}-{SIZE * 4}", "bytes=-0"])
def test_a_range_beyond_the_file_is_416_with_its_size(asked: TestClient, wanted: str) -> None:
    answer = asked.get("/film", headers={"range": wanted})
    assert answer.status_code == 416
    assert answer.headers["content-range"] == f"bytes */{SIZE}"


@pytest.mark.parametrize(
    "wanted",
    [
        "bytes=5-2",
        "abc",
        "bytes=a-b",
        "bytes=",
        "bytes=-",
        "items=0-1",
        "bytes=0-1,5-6",
        "bytes=0-1," * 500,
        "bytes=--5",
    ],
)
def test_what_is_no_plain_range_gets_the_whole_file_never_wrong_bytes(
    asked: TestClient, film: Path, wanted: str
) -> None:
    """RFC-9110 14.2: a server may ignore the Range header."""
    answer = asked.get("/film", headers={"range": wanted})
    assert answer.status_code == 200
    assert answer.content == film.read_bytes()


def test_head_says_the_length_and_that_ranges_are_taken(asked: TestClient) -> None:
    answer = asked.head("/film")
    assert (answer.status_code, answer.content) == (200, b"")
    assert answer.headers["content-length"] == str(SIZE)
    assert answer.headers["accept-ranges"] == "bytes"
    part = asked.head("/film", headers={"range": "bytes=0-9"})
    assert (part.status_code, part.headers["content-length"]) == (206, "10")


def test_past_four_gigabytes_the_bytes_are_still_right(tmp_path: Path) -> None:
    """A sparse file of 5 GiB with marked bytes: offsets do not wrap at 2 to the 32."""
    path = tmp_path / "long.mp4"
    at = 2**32 + 7
    with path.open("wb") as file:
        file.seek(at)
        file.write(b"squash")
        file.truncate(5 * 2**30)

    def answer(_: Request) -> Response:
        return FootageResponse(path)

    with TestClient(Starlette(routes=[Route("/film", answer)])) as client:
        got = client.get("/film", headers={"range": f"bytes={at}-{at + 5}"})
    assert got.status_code == 206
    assert got.content == b"squash"
    assert got.headers["content-range"] == f"bytes {at}-{at + 5}/{5 * 2**30}"


def test_a_changed_file_is_not_continued(asked: TestClient) -> None:
    answer = asked.get("/film", headers={"range": "bytes=0-1", "if-range": '"another"'})
    assert answer.status_code == 200
