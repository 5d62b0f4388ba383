"""Long lists: pages with the ones before and after, and a search box, without any script."""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest

from goodlength.record import MatchInfo, Player
from goodlength.record.store import match_rows
from goodlength.web.list_pagination import ROWS_A_PAGE

MATCHES = 120


@pytest.fixture
def long_list(library):
    for n in range(MATCHES):
        library.save_player(Player(f"p{n}", f"Player {n:03} Ashby"))
    library.save_player(Player("zm", "Zoë Müller"))
    with library._write() as connection:
        for n in range(MATCHES):
            pair = (f"p{n}", "zm" if n < 60 else f"p{(n + 1) % MATCHES}")
            day = date(2026, 6, 1) - timedelta(days=n)
            match_rows.save(connection, MatchInfo(f"m{n}", pair, event=f"Round {n}", played_on=day))
    return library


def matches_on(page: str) -> list[str]:
    return re.findall(r'href="/matches/(m\d+)/record"', page)


def test_every_match_is_on_exactly_one_page_and_each_page_leads_to_the_next(client, long_list):
    found, path = [], "/matches"
    for number in (1, 2, 3):
        page = client.get(path).text
        assert f"Page {number} of 3" in page
        assert f"<p>{MATCHES} in this library</p>" in page
        assert len(matches_on(page)) <= ROWS_A_PAGE
        found += matches_on(page)
        following = re.search(r'rel="next" href="([^"]+)"', page)
        path = following.group(1).replace("&amp;", "&") if following else ""
    assert path == ""
    assert found == [f"m{n}" for n in range(MATCHES)]
    assert 'rel="prev" href="/matches?page=2"' in page


def test_a_search_stays_from_page_to_page(client, long_list):
    page = client.get("/matches", params={"find": "zoe muller"}).text
    assert "60 matches fit." in page
    assert 'href="/matches?find=zoe+muller&amp;page=2"' in page
    assert 'value="zoe muller"' in page
    second = client.get("/matches?find=zoe+muller&page=2").text
    assert matches_on(second) == [f"m{n}" for n in range(50, 60)]
    assert matches_on(client.get("/matches?find=ashby+2026-03-16").text) == ["m77"]


def test_a_search_without_a_match_says_so_and_leads_back(client, long_list):
    page = client.get("/matches?find=<b>nobody").text
    assert "No match fits." in page
    assert "&lt;b&gt;nobody" in page
    assert 'href="/matches">Show all</a>' in page
    assert "No matches yet" not in page


@pytest.mark.parametrize(
    ("number", "shown"), [("", 1), ("0", 1), ("-3", 1), ("two", 1), ("99", 3), ("9" * 400, 1), ("²", 1)]
)
def test_a_page_that_is_not_there_is_the_nearest_one(client, long_list, number, shown):
    answer = client.get("/matches", params={"page": number})
    assert answer.status_code == 200
    assert f"Page {shown} of 3" in answer.text


@pytest.mark.parametrize("path", ["/players", "/practice"])
def test_players_have_pages_and_a_search_too(client, long_list, path):
    page = client.get(path).text
    assert "Page 1 of 3" in page
    assert page.count("Ashby</a>") == ROWS_A_PAGE
    found = client.get(path, params={"find": "ashby 017"}).text
    assert "1 player fits." in found
    assert "Player 017 Ashby" in found
    assert "Page " not in found
    assert "No player fits." in client.get(path, params={"find": "nobody"}).text


def test_a_short_list_has_neither_pages_nor_a_search_box(client, match_id):
    for path in ("/matches", "/players", "/practice"):
        page = client.get(path).text
        assert 'name="find"' not in page
        assert "Page 1" not in page


def test_a_page_reads_the_details_of_its_own_matches_only(client, long_list, monkeypatch):
    read = []
    before = match_rows.info_from_plain
    monkeypatch.setattr(
        match_rows, "info_from_plain", lambda plain: read.append(plain["id"]) or before(plain)
    )
    client.get("/matches?page=2")
    assert read == [f"m{n}" for n in range(50, 100)]
    read.clear()
    client.get("/practice/calendar?month=2026-05")
    assert sorted(read) == sorted(f"m{n}" for n in range(1, 32))
