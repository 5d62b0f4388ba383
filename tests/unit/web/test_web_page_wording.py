"""No command, id or raw date on a page; what the pages say agrees with what is done."""

from __future__ import annotations

from datetime import date
from types import SimpleNamespace
from typing import Any

import pytest
from starlette.testclient import TestClient

from goodlength import tasks
from goodlength.errors import ConsentMissing
from goodlength.jobs.job_queue import Jobs
from goodlength.record.model import Player
from goodlength.web.page_rendering import day_words, sentence
from goodlength.web.routes.match.findings import rallies_behind


@pytest.fixture
def started(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Kinds of the jobs that would have begun."""
    kinds: list[str] = []

    def start(_jobs: Jobs, kind: str, _function: Any, _args: Any) -> str:
        kinds.append(kind)
        return "x"

    monkeypatch.setattr(Jobs, "start", start)
    return kinds


def test_an_empty_library_offers_the_demo_by_a_button(
    client: TestClient, library: Any, started: list[str]
) -> None:
    page = client.get("/matches").text
    assert 'action="/demo"' in page
    assert "goodlength demo" not in page
    said = client.post("/demo", follow_redirects=True).text
    assert "The demo was added." in said
    assert len(tasks.list_matches(library)) == 3
    assert started == ["demo"]  # its video, and what a coach makes of it


def test_a_refusal_without_consent_shows_no_command_and_no_id(library: Any, match_id: str) -> None:
    info = library.match_info(match_id)
    with pytest.raises(ConsentMissing) as told:
        tasks.require_consent(tasks.players_of(library, info), "clips", "The clip")
    said = str(told.value)
    assert "goodlength player" not in said
    assert "--" not in said
    assert not [player for player in info.players if player in said]
    assert "--given-by NAME --for clips" in told.value.command


def test_an_import_of_a_name_that_two_share_shows_no_option_and_no_id(
    client: TestClient, library: Any
) -> None:
    for player_id in ("p1", "p2"):
        library.save_player(Player(player_id, "Rosa Kell"))
    table = "game,server,winner\n1,Rosa Kell,Rosa Kell\n1,Rosa Kell,Dana Wood\n"
    looked = client.post("/matches/import", files={"file": ("own.csv", table)}, follow_redirects=True)
    assert "--" not in looked.text.split("<main", 1)[1].replace("<!--", "").replace("-->", "")


@pytest.mark.parametrize("day", [date(2026, 11, 28), "2026-11-28"])
def test_one_form_of_dates(day: Any) -> None:
    assert day_words(day) == "28 November 2026"
    assert day_words(None) == day_words("") == ""


def test_one_rally_is_not_counted() -> None:
    finding: Any = SimpleNamespace(rallies=("r1",), against=None)
    assert rallies_behind(finding, (), frozenset(["r1"]))[1] == "Show the rally"
    finding = SimpleNamespace(rallies=("r1", "r2"), against=None)
    assert rallies_behind(finding, (), frozenset(["r1"]))[1] == "Show the 2 rallies (1 with video)"


def test_the_players_page_says_one_thing_after_consent_is_taken_back(
    client: TestClient, library: Any
) -> None:
    library.save_player(Player("p1", "Rosa Kell"))
    given = {"given_by": "Rosa Kell", "when": "2026-11-01", "until": "", "purposes": ["clips", "handout"]}
    client.post("/players/p1/consent", data=given)
    page = client.post("/players/p1/consent/withdraw", follow_redirects=True).text
    assert "Withdrawn on" in page
    assert page.count("no clip unless all faces are hidden") == 2
    assert "no clip and no handout" not in page.casefold()


def test_begun_is_said_only_while_it_is_made(client: TestClient, match_id: str) -> None:
    assert "Begun" not in client.get(f"/matches/{match_id}/show?made=1").text


@pytest.mark.usefixtures("started")
def test_a_match_of_any_name_is_removed_alone_and_only_when_ticked(client: TestClient, library: Any) -> None:
    """The demo's match had an address that removed the whole demo, without the tick."""
    client.post("/demo")
    before = {info.id for info in library.matches()}
    assert "demo" in before
    assert client.post("/matches/demo/remove").status_code == 422
    assert {info.id for info in library.matches()} == before
    assert client.post("/matches/demo/remove", data={"sure": "yes"}).status_code == 303
    assert {info.id for info in library.matches()} == before - {"demo"}


def test_faults_of_a_table_are_sentences_on_the_page(client: TestClient) -> None:
    page = client.post("/matches/import", files={"file": ("a.csv", b"winner,kind of serve\nzz,lob\n")}).text
    told = page.split("Not understood</h2>", 1)[1].split("</table>", 1)[0]
    faults = [item.partition("</td>")[0] for item in told.split("<td>")[1:]]
    assert faults
    for words in faults:
        assert words[0].isupper(), words
        assert words.endswith("."), words


@pytest.mark.parametrize(
    ("words", "shown"),
    [
        ("line 2: no winner", "Line 2: no winner."),
        ("Done?", "Done?"),
        ("", ""),
        ("goodlength reads it", "goodlength reads it."),
    ],
)
def test_a_line_of_a_list_is_a_sentence(words: str, shown: str) -> None:
    assert sentence(words) == shown
