"""Times of a library that has grown: pages at 2,000 matches, answers at 500 rallies from 50 devices at once.

Each match of the library has all its entries, written through the store, not through the page.
"""

from __future__ import annotations

import http.client
import json
import os
import tempfile
import threading
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING
from uuid import uuid4

import numpy as np

from goodlength.bench.response_times_and_keypresses import page_process
from goodlength.errors import GoodlengthError
from goodlength.record.entry_sequence_builder import EntryWriter
from goodlength.record.model import Entry, MatchInfo, Player
from goodlength.scoring.scoring_types import Side, Start
from goodlength.synthetic.simulated_matches import null_match
from goodlength.synthetic.simulated_season_library import written_entries
from goodlength.tasks.findings.season_search import SeasonQuestion, forget_season, search

if TYPE_CHECKING:
    from goodlength.record.store import Library

COACHED = "p0"  # plays every eighth match: a coach's own player
PLAYERS = 200
MODELS = 20  # different simulated matches; the library repeats them with other players and days
PIECE = 50
FIRST_DAY = date(2020, 1, 1)
LONG_MATCH = "long"
LISTS = {
    "matches": "/matches",
    "players": "/players",
    "player": f"/players/{COACHED}",
    "practice": "/practice",
    "practice of one player": f"/practice/{COACHED}",
    "calendar": "/practice/calendar",
    "search form": "/search",
    "search": f"/search?player={COACHED}&kind=lob&outcome=lost",
    "scouting brief": f"/players/{COACHED}/brief",
    "aim": "/aim",
    "drills": "/practice/drills",
    "bin": "/bin",
    "settings": "/settings",
    "trust": "/trust",
}
OF_A_MATCH = ("details", "record", "footage", "findings", "show", "plan", "handout", "talk")


@dataclass(frozen=True)
class ScaleFigures:
    """What was measured; milliseconds from the request to the whole answer, kilobytes as sent.

    `first_reading_s` is a search that replays every match of the library. `answer_500_p95_ms` are answers
    from many devices at once that change one row each; `score_500_p95_ms` those of one device that change
    the score of every row after the first. Processor times are the server's, for each request; empty where
    the system does not tell them.
    """

    matches: int
    entries: int
    load: float | None  # of the machine, before: waiting times count only on one that is idle
    pages_p95_ms: dict[str, float]
    pages_processor_ms: dict[str, float]
    pages_first_ms: dict[str, float]
    pages_kb: dict[str, float]
    over_150_ms: tuple[str, ...]
    over_200_kb: tuple[str, ...]
    first_reading_s: float
    answer_500_p95_ms: float
    answer_500_processor_ms: float | None
    score_500_p95_ms: float
    answer_clients: int
    answer_rallies: int


def bench_scale(
    seed: int = 20261125,
    matches: int = 2_000,
    *,
    times: int = 20,
    clients: int = 50,
    answers: int = 10,
    rallies: int = 500,
    folder: Path | None = None,
) -> ScaleFigures:
    """Make a library, serve its pages from a process of their own, and ask for each.

    Parameters
    ----------
    folder : Path, optional
        Where the library is kept for the next run; in a temporary folder otherwise.
    """
    load = os.getloadavg()[0] if hasattr(os, "getloadavg") else None
    with tempfile.TemporaryDirectory() as temporary:
        place = folder or Path(temporary) / "library"
        entries = large_library(place, np.random.default_rng(seed), matches)
        long_match(place, rallies)
        reading = _first_reading_s(place)
        with page_process(place) as (port, process):
            pages = page_figures(port, process, pages_of("m0"), times)
            before = processor_ms(process)
            answered = answers_ms(port, clients, answers)
            used = _spent_ms(process, before, len(answered))
            corrected = corrections_ms(port, answers)
    return ScaleFigures(
        matches=matches,
        entries=entries,
        load=load,
        pages_p95_ms=pages.p95_ms,
        pages_processor_ms=pages.processor_ms,
        pages_first_ms=pages.first_ms,
        pages_kb=pages.kb,
        over_150_ms=tuple(name for name, value in pages.p95_ms.items() if value > 150),
        over_200_kb=tuple(name for name, value in pages.kb.items() if value > 200),
        first_reading_s=reading,
        answer_500_p95_ms=float(np.percentile(answered, 95)),
        answer_500_processor_ms=used,
        score_500_p95_ms=float(np.percentile(corrected, 95)),
        answer_clients=clients,
        answer_rallies=rallies,
    )


def _first_reading_s(folder: Path) -> float:
    """Return seconds of a search that has to replay every match."""
    from goodlength.record.store import Library

    with Library.open(folder) as library:
        forget_season(library)
        began = time.perf_counter()
        search(library, SeasonQuestion(kind="lob"))
        return time.perf_counter() - began


def pages_of(match_id: str) -> dict[str, str]:
    """Return the pages asked for, by name: the lists, and those of one match."""
    return {**LISTS, **{f"match: {name}": f"/matches/{match_id}/{name}" for name in OF_A_MATCH}}


def large_library(folder: Path, rng: np.random.Generator, matches: int) -> int:
    """Make a library with whole matches, unless it is there; return the number of entries in it."""
    from goodlength.record.store import Library

    with Library.open(folder) as library:
        return whole_matches(library, rng, matches)


def whole_matches(library: Library, rng: np.random.Generator, matches: int) -> int:
    """Fill a library with whole matches, unless they are there; return the number of entries in it."""
    models = [null_match(rng) for _ in range(MODELS)]
    written = [written_entries("", model) for model in models]
    if len(library.match_heads()) < matches:
        for n in range(PLAYERS):
            library.save_player(Player(f"p{n}", f"Player {n} of {PLAYERS}"))
        for at in range(0, matches, PIECE):
            _write(library, rng, range(at, min(at + PIECE, matches)), written)
    return sum(len(written[n % MODELS]) for n in range(matches))


def _write(
    library: Library, rng: np.random.Generator, numbers: range, written: Sequence[Sequence[Entry]]
) -> None:
    from goodlength.record.store import entry_log, match_rows

    with library._write() as connection:
        for n in numbers:
            info = _info(n, rng)
            match_rows.save(connection, info)
            entries = [
                replace(entry, id=f"{info.id}-{k}", match=info.id)
                for k, entry in enumerate(written[n % MODELS])
            ]
            entry_log.append(connection, entries)


def _info(n: int, rng: np.random.Generator) -> MatchInfo:
    a, b = (int(number) for number in rng.choice(PLAYERS, 2, replace=False))
    if n % 8 == 0:
        a, b = 0, b or 1
    day = FIRST_DAY + timedelta(days=int(rng.integers(0, 2500)))
    event = f"League, round {n % 30 + 1}"
    return MatchInfo(f"m{n}", (f"p{a}", f"p{b}"), event=event, played_on=day, start=Start(server=Side.A))


def long_match(folder: Path, rallies: int) -> None:
    """Write a match of so many rallies; each is a let, so that no game ends."""
    from goodlength.record.store import Library

    with Library.open(folder) as library:
        if LONG_MATCH in {info.id for info in library.matches()}:
            return
        library.save_match(MatchInfo(LONG_MATCH, ("p0", "p1"), start=Start(server=Side.A)))
        pen = EntryWriter(LONG_MATCH)
        for n in range(rallies):
            pen.rally(f"r{n}", server="ab"[n // 7 % 2], kind="lob", how="volleyed", ending="let")
        library.append(pen.entries)


@dataclass(frozen=True)
class PageTimes:
    """Of each page by name: milliseconds of the first answer and of the next, and kilobytes."""

    first_ms: dict[str, float]
    p95_ms: dict[str, float]
    processor_ms: dict[str, float]
    kb: dict[str, float]


def page_figures(port: int, process: int, pages: dict[str, str], times: int) -> PageTimes:
    """Ask for each page once, and so many times more."""
    found = PageTimes({}, {}, {}, {})
    page = http.client.HTTPConnection("127.0.0.1", port, timeout=300)
    for name, path in pages.items():
        found.first_ms[name], size = _page_ms(page, path)
        before = processor_ms(process)
        taken = [_page_ms(page, path)[0] for _ in range(times)]
        spent = _spent_ms(process, before, times)
        if spent is not None:
            found.processor_ms[name] = spent
        found.p95_ms[name], found.kb[name] = float(np.percentile(taken, 95)), size
    page.close()
    return found


def _page_ms(page: http.client.HTTPConnection, path: str) -> tuple[float, float]:
    """Return milliseconds and kilobytes of one answer."""
    began = time.perf_counter()
    page.request("GET", path)
    answer = page.getresponse()
    body = answer.read()
    taken = (time.perf_counter() - began) * 1e3
    if answer.status != 200:
        raise GoodlengthError(f"{path} answered {answer.status}")
    return taken, len(body) / 1e3


def processor_ms(process: int) -> float | None:
    """Return the processor time a process used so far, to 10 ms; None where the system does not tell it."""
    stat_file = Path(f"/proc/{process}/stat")
    if not stat_file.exists():
        return None
    try:
        fields = stat_file.read_text(encoding="ascii").rpartition(")")[2].split()
    except OSError:  # the process ended in between
        return None
    return (int(fields[11]) + int(fields[12])) * 10.0  # Linux counts in hundredths of a second


def _spent_ms(process: int, before: float | None, requests: int) -> float | None:
    now = processor_ms(process)
    return None if before is None or now is None else (now - before) / requests


def answers_ms(port: int, clients: int, each: int) -> list[float]:
    """Return milliseconds of answers to the long match, sent by several devices at the same time.

    Each device holds the sheet and asks for what its answer changed, as the page does.
    """
    taken: list[float] = []
    faults: list[str] = []

    def client(number: int) -> None:
        page = http.client.HTTPConnection("127.0.0.1", port, timeout=300)
        page.request("GET", f"/api/matches/{LONG_MATCH}/sheet?follow=true")
        version = json.loads(page.getresponse().read())["version"]
        start.wait()
        time.sleep(number / clients)
        for n in range(each):
            milliseconds, version, fault = _answer(page, port, version, f"r{number + 1}", n)
            taken.append(milliseconds)
            faults.extend(fault)
            time.sleep(max(0.0, 1.0 - milliseconds / 1e3))  # a quick observer: an answer a second
        page.close()

    start = threading.Event()
    threads = [threading.Thread(target=client, args=(number,)) for number in range(clients)]
    for thread in threads:
        thread.start()
    time.sleep(2.0)
    start.set()
    for thread in threads:
        thread.join()
    if faults:
        raise GoodlengthError(f"An answer was not stored: {faults[0]}")
    return taken


# What the devices answer in turn. Each changes its own row, as answers to the newest rally do.
_ANSWERS = (("note", "note"), ("serve.kind", "hard"), ("return.how", "after-the-bounce"), ("ending", "let"))


def corrections_ms(port: int, times: int) -> list[float]:
    """Return milliseconds of answers to the first rally that change the score of every row after it."""
    page = http.client.HTTPConnection("127.0.0.1", port, timeout=300)
    page.request("GET", f"/api/matches/{LONG_MATCH}/sheet?follow=true")
    version = json.loads(page.getresponse().read())["version"]
    taken, faults = [], []
    _post(page, port, version, "r1", "winner", "a")
    for n in range(times):
        ending = "winner" if n % 2 else "let"
        milliseconds, version, fault = _post(page, port, version, "r1", "ending", ending)
        taken.append(milliseconds)
        faults += fault
    page.close()
    if faults:
        raise GoodlengthError(f"An answer was not stored: {faults[0]}")
    return taken


def _answer(
    page: http.client.HTTPConnection, port: int, version: str, rally: str, n: int
) -> tuple[float, str, list[str]]:
    what, value = _ANSWERS[n % len(_ANSWERS)]
    return _post(page, port, version, rally, what, f"{value} {n}" if what == "note" else value)


def _post(
    page: http.client.HTTPConnection, port: int, version: str, rally: str, what: str, value: str
) -> tuple[float, str, list[str]]:
    """Return milliseconds of an answer, the version of the sheet afterwards, and what went wrong."""
    from goodlength.record.store.library_store import now_utc

    entry = {
        "id": str(uuid4()),
        "observer": "coach",
        "at_utc": now_utc().isoformat().replace("+00:00", "Z"),
        "rally": rally,
        "what": what,
        "value": value,
        "replaces": None,
    }
    headers = {"content-type": "application/json", "origin": f"http://127.0.0.1:{port}"}
    body = json.dumps({"entries": [entry], "since": version})
    began = time.perf_counter()
    page.request("POST", f"/api/matches/{LONG_MATCH}/entries", body, headers)
    answer = page.getresponse()
    text = answer.read().decode()
    taken = (time.perf_counter() - began) * 1e3
    if answer.status != 200:
        return taken, version, [text[:300]]
    return taken, json.loads(text)["changes"]["version"], []
