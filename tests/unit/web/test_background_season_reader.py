"""The season's columns are read in the background, and a page says how far a first reading is."""

from __future__ import annotations

import threading
import time
from typing import Any

import pytest
from starlette.testclient import TestClient

from goodlength.errors import StoreError
from goodlength.record.entry_sequence_builder import EntryWriter
from goodlength.tasks.findings import season_search
from goodlength.tasks.findings.season_search import unread_matches
from goodlength.web import background_season_reader
from goodlength.web.background_season_reader import SeasonReader

READING = "Your matches are being read for the first time"


@pytest.fixture
def logged(library: Any, match_id: str) -> str:
    """A match with rallies; one more by player A and it is over."""
    pen = EntryWriter(match_id)
    for n in range(1, 33):
        pen.rally(f"r{n}", server="a", kind="lob", how="volleyed", winner="a", ending="winner")
    library.append(pen.entries)
    return match_id


def until(holds: Any) -> None:
    for _ in range(500):
        if holds():
            return
        time.sleep(0.02)
    raise AssertionError("it never came to be")


def test_a_match_that_is_over_is_read_without_being_asked(
    client: TestClient, library: Any, logged: str
) -> None:
    version = client.get(f"/api/matches/{logged}/sheet?follow=true").json()["version"]
    assert unread_matches(library) == 1
    for what in ("serve.kind", "winner"):
        value = "lob" if what == "serve.kind" else "a"
        entry = {"id": f"last-{what}", "observer": "coach", "at_utc": "2026-03-07T18:30:00Z", "rally": "r33"}
        body = {"entries": [{**entry, "what": what, "value": value, "replaces": None}], "since": version}
        said = client.post(f"/api/matches/{logged}/entries", json=body).json()["changes"]
        version = said["version"]
    assert said["parts"]["winner"] == "a"
    until(lambda: unread_matches(library) == 0)


def test_a_long_first_reading_is_said_and_not_waited_for(
    client: TestClient, library: Any, logged: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    going_on, read = threading.Event(), background_season_reader.up_to_date

    def slowly(of: Any, progress: Any) -> Any:
        progress(0.5, "1 of 2 matches read")
        assert going_on.wait(20)
        return read(of, progress)

    monkeypatch.setattr(background_season_reader, "LONG_READING", 1)
    monkeypatch.setattr(background_season_reader, "up_to_date", slowly)
    client.get("/search?kind=lob")
    until(lambda: "(1 of 2 matches read)" in client.get("/search?kind=lob").text)
    for address in ("/search?kind=lob", "/search", "/players/plo/brief", "/players/plo/trend"):
        page = client.get(address)
        assert page.status_code == 200 and READING in page.text
    going_on.set()
    until(lambda: READING not in client.get("/search?kind=lob").text)
    assert "32 rallies in one match" in client.get("/search?kind=lob").text


def test_readings_asked_for_meanwhile_become_one_more(library: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    going_on, readings = threading.Event(), []

    def counted(*_: Any) -> None:
        readings.append(1)
        going_on.wait(20)

    monkeypatch.setattr(background_season_reader, "up_to_date", counted)
    reader = SeasonReader(library)
    for _ in range(5):
        reader.start()
    going_on.set()
    until(lambda: len(readings) == 2)
    reader.close()
    reader.start()
    assert len(readings) == 2


def test_what_goes_wrong_in_the_background_is_left_to_the_search(
    library: Any, logged: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: Any) -> None:
        raise StoreError("The disk is full.")

    monkeypatch.setattr(background_season_reader, "up_to_date", full)
    reader = SeasonReader(library)
    reader.start()
    reader.close()
    assert unread_matches(library) == 1


def test_two_searches_at_once_read_each_match_once(
    library: Any, logged: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    read, everything = [], type(library).everything
    monkeypatch.setattr(
        type(library), "everything", lambda of, match: read.append(match) or everything(of, match)
    )
    threads = [threading.Thread(target=season_search.up_to_date, args=(library,)) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert read == [logged]
