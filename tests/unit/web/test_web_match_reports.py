"""Between games, the brief, the search and two observers as pages, in process."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from goodlength import tasks
from goodlength.web import create_app

PETRA, IMOGEN = "demo-petra-lindqvist-ode", "demo-imogen-vale"


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory, demo_library: Path):
    folder: Path = tmp_path_factory.mktemp("library")
    shutil.copytree(demo_library, folder, dirs_exist_ok=True)
    with TestClient(create_app(folder), base_url="http://127.0.0.1", follow_redirects=False) as client:
        client.headers["origin"] = "http://127.0.0.1"
        yield client


def test_between_games_has_at_most_three_lines(page: TestClient) -> None:
    told = page.get("/matches/demo/between?game=1").text
    assert "After game 1" in told
    assert 1 <= told.count('class="line"') <= 3
    assert "Petra" in page.get("/matches/demo/between?of=opponent").text
    assert page.get("/matches/demo/between?game=two").status_code == 422
    assert page.get("/matches/none/between").status_code == 404


def test_a_note_between_games_is_saved_shown_after_the_next_game_and_undone(page: TestClient) -> None:
    note = {"game": "1", "of": "coached", "note": "Lob <more>.\r\nStay off the left wall."}
    saved = page.post("/matches/demo/between", data=note)
    assert saved.status_code == 303
    there = page.get(saved.headers["location"]).text
    assert (
        "Your note after game 1" in there and "Lob &lt;more&gt;.\nStay off the left wall.</textarea>" in there
    )
    assert "After game 1</dt>" in page.get("/matches/demo/between?game=2").text
    too_long = page.post("/matches/demo/between", data={**note, "note": "x" * 601})
    assert (too_long.status_code, "at most 600 letters; this one has 601" in too_long.text) == (422, True)
    assert "x" * 601 in too_long.text  # nothing typed is lost
    no_game = page.post("/matches/demo/between", data={**note, "game": "9"})
    assert (no_game.status_code, "There is no game 9 in this match" in no_game.text) == (422, True)
    assert page.post("/matches/demo/between", data={**note, "game": "one"}).status_code == 422
    item = saved.headers["location"].rpartition("undo=")[2]
    assert page.post(f"/bin/{item}/put-back", data={"to": "/matches/demo/between"}).status_code == 303
    assert "Lob &lt;more" not in page.get("/matches/demo/between?game=1").text


def test_the_brief_names_habits_what_to_serve_and_its_limits(page: TestClient) -> None:
    told = page.get(f"/players/{PETRA}/brief").text
    assert told.count("<h2>") <= 3
    assert "What to serve" in told
    assert "Note." in told
    assert "/show?rallies=" in told
    assert page.get(f"/players/{PETRA}/brief?since=2099-01-01").status_code == 422
    assert "is not a date" in page.get(f"/players/{PETRA}/brief?since=soon").text


def test_a_search_counts_lists_and_refuses_in_words(page: TestClient) -> None:
    told = page.get(f"/search?player={IMOGEN}&role=serving&kind=lob&left=weak").text
    assert "These are counts, not findings" in told
    assert told.count("/show?rallies=") > 5
    wrong = page.get("/search?box=middle")
    assert wrong.status_code == 422
    assert "Please check the search" in wrong.text
    assert page.get("/search").status_code == 200
    everything = page.get("/search").text  # with nothing chosen, every rally
    assert everything.count("/show?rallies=") > told.count("/show?rallies=")


def test_conditions_are_chips_that_go_and_choices_that_say_what_they_would_leave(page: TestClient) -> None:
    told = page.get(f"/search?player={IMOGEN}&role=serving&phase=ahead&kind=lob").text
    chips = dict(re.findall(r'data-chip="(\w+)" href="([^"]+)"', told))
    assert chips["kind"] == f"/search?player={IMOGEN}&amp;role=serving&amp;phase=ahead"
    assert chips["player"] == "/search?kind=lob"  # role and ahead mean nothing without a player
    hard = re.search(r'href="(/search\?[^"]*kind=hard[^"]*)"><span>Hard</span><span class="tab">(\d+)', told)
    assert hard is not None
    found = page.get(hard[1].replace("&amp;", "&")).text
    assert f"<b>{hard[2]} rallies in" in found
    row = re.search(r'<tr data-match="demo".*?</tr>', page.get("/search?kind=lob&left=loose").text, re.DOTALL)
    assert row is not None
    words = " ".join(re.sub(r"<[^>]+>", " ", row[0]).split())
    assert words.startswith(
        "Game 1, 0–0 0:04.0 Imogen Vale v Petra Lindqvist-Ode 11 October 2025 Imogen: lob, "
    )


def test_a_search_without_a_fit_still_offers_its_conditions(page: TestClient) -> None:
    told = page.get("/search?kind=lob&text=nobody+ever+wrote+this").text
    assert "No rally matches" in told
    assert "Words in the note: <b>nobody ever wrote this</b>" in told
    assert 'href="/search?kind=lob"' in told


def test_highlights_of_found_rallies_are_begun_for_each_match(page: TestClient) -> None:
    nothing = page.post("/search/highlights", data={"asked": "kind=lob"})
    assert nothing.status_code == 422
    assert "Tick the rallies" in nothing.text
    assert "Serve: <b>Lob</b>" in nothing.text  # the search stays
    many = page.post("/search/highlights", data={"rally": [f"demo/r{n}" for n in range(61)]})
    assert "61 rallies are too many" in many.text
    gone = page.post("/search/highlights", data={"rally": ["demo/never", "nowhere/r1"]}).text
    assert "That rally is no longer in this match" in gone
    assert gone.count("no video.") == 2


def test_an_unknown_player_leads_to_the_list_of_players(page: TestClient) -> None:
    gone = page.get("/players/nobody")
    assert gone.status_code == 404
    assert '<a class="button" href="/players">All players</a>' in gone.text
    assert '<a class="button" href="/matches">All matches</a>' in page.get("/matches/nothing/findings").text


def test_another_persons_record_is_brought_in_and_compared(page: TestClient, tmp_path: Path) -> None:
    library = page.app.state.library  # type: ignore[attr-defined]
    assert "Only “" in page.get("/matches/demo/agree").text
    file = tmp_path / "theirs.json"
    tasks.export_match(library, "demo", file)
    sent = {"file": ("theirs.json", file.read_bytes(), "application/json")}
    done = page.post("/matches/demo/agree", data={"observer": "helper"}, files=sent)
    assert done.status_code == 303
    told = page.get(done.headers["location"]).text
    assert "The other log was added." in told
    assert "compared with <b>helper</b>" in told
    assert "78 of 78" in told or "76 of 76" in told
    assert "None: in every rally that both logged" in told
    assert "of the way from guessing to always the same" in told
    assert "Is it your own export?" in told
    assert "95% range 100% to 100%" not in told and "(95% range unknown)" in told
    assert "1.0 of" not in told and "How taken" not in told  # a count, and words instead of names of columns
    wrong = {"file": ("theirs.json", b"nonsense", "application/json")}
    assert page.post("/matches/demo/agree", data={"observer": "x"}, files=wrong).status_code == 422
    assert not list((library.folder / "uploads").glob("*"))


def test_rallies_on_which_two_observers_differ_are_listed_with_both_answers(page: TestClient) -> None:
    library = page.app.state.library  # type: ignore[attr-defined]
    other = next(head.id for head in library.match_heads() if head.id != "demo")
    assert "Download the match for them" in page.get(f"/matches/{other}/agree").text
    file = page.get(f"/matches/{other}/agree/file")
    assert file.headers["content-disposition"].startswith("attachment")
    assert b"serve.kind" not in file.content
    plain = json.loads(page.get(f"/matches/{other}/export/json").content)
    quality = [entry for entry in plain["entries"] if entry["what"] == "return.left"]
    next(entry for entry in quality if entry["value"] == "loose")["value"] = "not-made"
    sent = {"file": ("theirs.json", json.dumps(plain).encode(), "application/json")}
    page.post(f"/matches/{other}/agree", data={"observer": "helper"}, files=sent)
    told = page.get(f"/matches/{other}/agree?second=helper").text
    assert "Look at these rallies again" in told
    assert "<td>return quality</td>" in told
    assert "<td>missed</td>" in told
    assert "1 rally with a different answer" in told
    assert "Is it your own export?" not in told


def test_a_players_figures_over_the_matches_say_how_little_few_matches_show(page: TestClient) -> None:
    whole = page.get(f"/players/{IMOGEN}").text
    order = [whole.index(f'id="{name}"') for name in ("matches", "plan", "over", "consent", "about", "erase")]
    assert order == sorted(order)  # plan first, danger last
    told = page.get(f"/players/{IMOGEN}/trend").text
    assert "Three matches are too few for a trend" in told
    assert told.count("<figure>") == 5
    across = tasks.over_matches(page.app.state.library, IMOGEN)  # type: ignore[attr-defined]
    serving = next(row for row in across.rows if row.measure == "serving")
    total = [sum(getattr(figure.share, name) for figure in serving.figures) for name in ("count", "of")]
    assert f"{total[0]} of {total[1]}, usually" in told
    assert "Rallies won when serving, match by match." in told
    assert page.get("/players/nobody/trend").status_code == 404
