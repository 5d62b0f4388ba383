"""The Aim page in process: the form, an answer with its ranges, a path at once, a drill from it, and words."""

from __future__ import annotations

import re
from typing import Any

import pytest
from click import UsageError
from starlette.testclient import TestClient

from goodlength import tasks
from goodlength.cli.terminal.shared_options import BallTemperature
from goodlength.show.draw.court.front_wall_contours import rings_of
from goodlength.web.submitted_forms.match_import_and_search_forms import warmth_options

ASKED = "box=right&kind=mid-height&level=county&warmth=warm"


def test_the_page_is_there_at_once_with_an_example_and_answers_when_asked(client: TestClient) -> None:
    empty = client.get("/aim").text
    assert "Calculate the target" in empty
    assert "An example: a lob from the right box" in empty
    assert "Of 100 lobs aimed here" in empty
    assert "An example" not in client.get("/aim?kind=lob&box=right").text
    full = client.get(f"/aim?{ASKED}").text
    assert "Of 100 mid-height serves aimed here" in full
    assert "above the service line" in full
    assert "is assumed" in full
    assert "until your court is calibrated" in full
    assert full.count("farther") == 2
    assert "A guess by level" in full or "a guess by level" in full


def test_a_path_is_drawn_without_odds(client: TestClient) -> None:
    drawn = client.get(f"/aim/path?{ASKED}&across=2.9&above=1.6&pace=19").text
    assert drawn.startswith("<svg")
    assert "front wall, 1.60 m above the service line" in drawn
    own = client.get(f"/aim/answer?{ASKED}&across=2.9&above=1.6&pace=19").text
    assert "Back to the best" in own
    assert "Practise this" not in own


def test_an_own_aim_keeps_the_question_without_scripts(client: TestClient) -> None:
    drawn = client.get("/aim?box=left&kind=hard&warmth=cold&across=3.3&above=0.5&pace=40").text
    own = drawn.split('<form id="own"')[1].split("</form>")[0]
    sent = dict(re.findall(r'name="([a-z_]+)"[^>]*? value="([^"]*)"', own))
    assert {"box": "left", "kind": "hard", "warmth": "cold"}.items() <= sent.items()
    assert all(own.count(f'name="{name}"') == 1 for name in ("across", "above", "speed"))
    again = client.get("/aim", params=sent).text
    assert "Of 100 hard serves aimed here" in again


def test_an_aim_becomes_a_drill_once(client: TestClient, library: Any) -> None:
    client.headers["origin"] = "http://127.0.0.1:8765"
    player = tasks.add_player(library, "Imogen Vale", player_id="iv").id
    for _ in range(2):
        went = client.post("/aim/practise", data={"question": f"{ASKED}&player={player}"})
        assert went.status_code == 303
        assert went.headers["location"].startswith("/practice/iv/log?of=own-")
    made = tasks.own_drills(library)
    assert len(made) == 1
    assert made[0].box is not None
    assert 2.0 < made[0].box.middle_m[1] < 4.0
    assert "inside the tape" in client.get(went.headers["location"]).text


def test_marked_places_give_the_scatter(client: TestClient, library: Any) -> None:
    player = tasks.add_player(library, "Imogen Vale", player_id="iv").id
    places = [[1.0 + 0.1 * n, 2.8 + 0.05 * (n % 3)] for n in range(8)]
    tasks.log_set(library, player, "lob-to-the-box", 4, 8, places=places, aim=[1.3, 2.9])
    assert tasks.scatter_of_player(tasks.open_matches(library, player)).balls == 8
    page = client.get(f"/aim?player={player}&kind=lob").text
    assert "from 8 balls marked" in page
    assert "the scatter of the speed is a guess" in page


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ("altitude=99999", "altitude"),
        ("kind=boomerang", "kind of serve"),
        ("box=middle", "box"),
        ("contact_x=99&contact_y=5&contact_z=1", "contact point"),
        ("scatter=abc", "must be a number"),
        ("fault_cost=-3", "cost of a fault"),
        ("across=3&above=2.5&pace=9", "Choose a higher speed"),
        ("player=nobody", "player is not in this library"),
        ("dies_within_m=nan", "must be a number"),
    ],
)
def test_what_cannot_be_is_said(client: TestClient, asked: str, words: str) -> None:
    said = client.get(f"/aim?{asked}")
    assert said.status_code in (404, 422)
    assert words in said.text
    assert "Traceback" not in said.text


def test_rings_go_around_the_highest_place() -> None:
    import numpy as np

    x, z = np.arange(2.0, 4.0, 0.1), np.arange(3.0, 4.5, 0.1)
    hill = np.exp(-((x[:, None] - 3.1) ** 2 + (z[None] - 3.8) ** 2) / 0.1)
    rings = rings_of(x, z, hill)
    assert len(rings) == 3
    sizes = [max(px for px, _ in ring) - min(px for px, _ in ring) for ring in rings]
    assert sizes == sorted(sizes, reverse=True)
    for ring in rings:
        assert min(px for px, _ in ring) < 3.1 < max(px for px, _ in ring)
        assert min(pz for _, pz in ring) < 3.8 < max(pz for _, pz in ring)
    assert rings_of(x, z, -hill) == ()


def test_the_ball_is_as_warm_in_one_list_of_words_everywhere(client: TestClient) -> None:
    words = ["hot", "warm", "lukewarm", "cold", "not sure"]
    aim = client.get("/aim").text.split(">Ball temperature<")[1].split("</fieldset>")[0]
    assert re.findall(r'value="\w+"(?: checked)?>([^<]+)</label>', aim) == [
        word.capitalize() for word in words
    ]
    match = client.get("/matches").text.split('id="f-ball_warmth"')[1].split("</select>")[0]
    assert re.findall(r">([^<>]+)</option>", match) == words
    command = BallTemperature()
    assert [command.convert(word, None, None) for word in ("lukewarm", "club", "cold", "unsure", "")] == [
        "club",
        "club",
        "cold",
        "unsure",
        "",
    ]
    with pytest.raises(UsageError, match="Choose hot, warm, lukewarm, cold or unsure"):
        command.convert("tepid", None, None)


def test_a_ball_temperature_stored_earlier_stays_readable() -> None:
    assert warmth_options("cool")[-1] == ("cool", "cool")
    assert warmth_options("unknown")[-1] == ("unknown", "not sure")
