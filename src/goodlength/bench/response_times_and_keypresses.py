"""Response times of answers, pages, the handout and the command line, and key presses a rally.

The page runs as it does for a coach, in a process of its own, and is asked over HTTP.
"""

from __future__ import annotations

import http.client
import json
import random
import re
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from uuid import uuid4

import numpy as np

from goodlength import demo, tasks
from goodlength.errors import GoodlengthError
from goodlength.record.keypress_count import count_presses
from goodlength.record.store.library_store import now_utc
from goodlength.synthetic.random_match_oracle import replay_many

PAGES = ("record", "findings", "show", "footage", "handout")
DEMO = "demo"


@dataclass(frozen=True)
class PageFigures:
    """Milliseconds and seconds as a coach waits for them, on the demo match of 78 rallies.

    `answer_ms_*` are from sending an answer to the reply that it is stored, with the whole match replayed.
    `presses_*` are for the depth "serve and return"; `presses_every_shot` for the game recorded shot by shot.
    """

    rallies: int
    answers: int
    answer_ms_p50: float
    answer_ms_p95: float
    page_ms: dict[str, float]
    pdf_first_s: float
    pdf_again_s: float
    help_s: float
    presses_mean: float
    presses_most: int
    presses_every_shot: float
    replayed_matches: int
    replay_ms_per_100_rallies: float
    laws_broken: int


def bench_page(seed: int = 20261125, answers: int = 200, matches: int = 10_000) -> PageFigures:
    """Measure it all; the 10,000 random matches take most of the time.

    Parameters
    ----------
    seed : int
        State of the random matches.
    answers : int
        Answers sent one after the other.
    matches : int
        Random legal matches replayed against their truth and the laws of scoring.
    """
    with tempfile.TemporaryDirectory() as folder:
        demo.build(folder, footage=False)
        with tasks.open_library(folder) as library:
            match = tasks.show_match(library, DEMO)
        with page_on(Path(folder)) as port:
            stored = answer_times_ms(port, answers, match.rallies[-1].key)
            pages = {name: page_time_ms(port, f"/matches/{DEMO}/{name}") for name in PAGES}
        with tasks.open_library(folder) as library:
            first, again = (
                _timed(lambda: tasks.make_handout(tasks.open_match(library, DEMO), folder)) for _ in range(2)
            )
    presses = count_presses(match).by_rally
    plain = [n for n, rally in zip(presses, match.rallies, strict=True) if not rally.shots]
    shots = [n for n, rally in zip(presses, match.rallies, strict=True) if rally.shots]
    checked = replay_many(matches, random.Random(seed))
    return PageFigures(
        rallies=len(match.rallies),
        answers=len(stored),
        answer_ms_p50=float(np.percentile(stored, 50)),
        answer_ms_p95=float(np.percentile(stored, 95)),
        page_ms=pages,
        pdf_first_s=first,
        pdf_again_s=again,
        help_s=min(_timed(_help) for _ in range(3)),
        presses_mean=float(np.mean(plain)),
        presses_most=max(plain),
        presses_every_shot=float(np.mean(shots)),
        replayed_matches=checked.matches,
        replay_ms_per_100_rallies=checked.replay_s / checked.rallies * 1e5,
        laws_broken=len(checked.broken),
    )


@contextmanager
def page_on(folder: Path) -> Iterator[int]:
    """Run the page in a process of its own on a library folder; yield its port, and end it after use."""
    with page_process(folder) as (port, _):
        yield port


@contextmanager
def page_process(folder: Path) -> Iterator[tuple[int, int]]:
    """Run the page in the same way; yield its port and the number of its process."""
    command = [sys.executable, "-m", "goodlength", "open", "--no-browser", "--library", str(folder)]
    page = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    try:
        assert page.stdout is not None
        output = ""
        for line in page.stdout:
            output += line
            if found := re.search(r"http://[\d.]+:(\d+)", line):
                yield int(found.group(1)), page.pid
                return
        raise GoodlengthError(f"The page did not start. It said: {output.strip() or 'nothing'}")
    finally:
        page.terminate()
        page.wait(10)
        if page.stdout is not None:
            page.stdout.close()


def answer_times_ms(port: int, count: int, rally: str) -> list[float]:
    """Milliseconds from sending one answer (a note to a rally) to the reply that it is stored."""
    page = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
    headers = {"content-type": "application/json", "origin": f"http://127.0.0.1:{port}"}
    times = []
    for n in range(count):
        entry = {
            "id": str(uuid4()),
            "observer": "coach",
            "at_utc": now_utc().isoformat().replace("+00:00", "Z"),
            "rally": rally,
            "what": "note",
            "value": f"note {n}",
            "replaces": None,
        }
        body = json.dumps({"entries": [entry]})
        began = time.perf_counter()
        page.request("POST", f"/api/matches/{DEMO}/entries", body, headers)
        answer = page.getresponse()
        body_read = answer.read()
        times.append((time.perf_counter() - began) * 1e3)
        if answer.status != 200:
            raise GoodlengthError(f"An answer was not stored: {body_read.decode()[:300]}")
    page.close()
    return times


def page_time_ms(port: int, path: str, times: int = 5) -> float:
    """Return median milliseconds until a page has come whole from the server, the first call left out."""
    page = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
    taken = []
    for _ in range(times + 1):
        began = time.perf_counter()
        page.request("GET", path)
        answer = page.getresponse()
        answer.read()
        taken.append((time.perf_counter() - began) * 1e3)
        if answer.status != 200:
            raise GoodlengthError(f"{path} answered {answer.status}")
    page.close()
    return float(np.median(taken[1:]))


def _timed(work: object) -> float:
    began = time.perf_counter()
    assert callable(work)
    work()
    return time.perf_counter() - began


def _help() -> None:
    subprocess.run([sys.executable, "-m", "goodlength", "--help"], check=True, stdout=subprocess.DEVNULL)
