"""`serve fly --kind`, `serve aim` and `serve spread` in the terminal."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from goodlength.cli.root_command import root
from goodlength.cli.terminal.serve_flight_and_aim_lines import NAMES, aim_lines


def run(*words: str) -> object:
    return CliRunner().invoke(root, list(words))


def test_a_kind_is_flown_legal() -> None:
    done = run("serve", "fly", "--box", "right", "--kind", "lob", "--warmth", "hot", "--json")
    form = json.loads(done.output)
    assert form["legal"]
    assert form["contacts"][0]["surface"] == "front-wall"
    assert set(form["contacts"][0]) >= {"surface", "t_s", "x_m", "y_m", "z_m", "speed_m_s"}


def test_aim_has_the_form_of_the_doors() -> None:
    form = json.loads(
        run("serve", "aim", "--box", "left", "--kind", "hard", "--level", "county", "--json").output
    )
    assert set(form["front_wall"]) == {"x_m", "z_m"}
    assert 20 < form["speed_m_s"] < 45
    assert form["of_100"].keys() == form["bands"].keys()
    for name, (low, high) in form["bands"].items():
        assert low <= form["of_100"][name] <= high
    assert any("guess" in words for words in form["assumed"])
    window = form["window"]
    assert [len(window["met"]), len(window["met"][0])] == [len(window["across_m"]), len(window["up_m"])]
    assert abs(window["speed_m_s"] - form["speed_m_s"]) <= 0.25 + 1e-9
    assert any(map(any, window["met"]))


def test_spread_says_what_comes_of_a_hundred_in_words() -> None:
    said = run(
        "serve",
        "spread",
        "--box",
        "right",
        "--kind",
        "mid-height",
        "--at",
        "2.9,3.4",
        "--speed",
        "19",
        "--scatter",
        "0.1,0.1,0.5",
    ).output
    assert "Aim 1.57 m above the service line, 2.90 m from the left wall" in said
    assert "are faults" in said
    assert "30 cm lower" in said
    assert "set by the coach" in said


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("serve", "fly", "--box", "right"), "Give --kind"),
        (("serve", "spread", "--box", "right", "--kind", "lob", "--at", "3", "--speed", "19"), "two numbers"),
    ],
)
def test_wrong_usage_is_said(words: tuple[str, ...], told: str) -> None:
    done = run(*words)
    assert done.exit_code == 2
    assert told in done.output


def test_an_aim_out_of_reach_is_said() -> None:
    done = run("serve", "spread", "--box", "right", "--kind", "lob", "--at", "3,4.2", "--speed", "9")
    assert "Choose a higher speed" in str(done.exception)


@pytest.mark.parametrize(
    ("number", "name", "said"),
    [
        (1.0, "goal", "1 meets the goal"),
        (2.0, "goal", "2 meet the goal"),
        (1.2, "fault", "1 is a fault"),
        (0.0, "fault", "0 are faults"),
        (1.0, "good", "1 is a good serve (no fault)"),
        (1.0, "dies", "1 dies at the back wall"),
        (1.0, "off_back", "1 comes off the back wall"),
        (1.0, "volley", "1 could be volleyed"),
    ],
)
def test_of_one_serve_the_verb_is_singular(number: float, name: str, said: str) -> None:
    of_100 = {key: 1.0 if key == name else 50.0 for key in NAMES} | {name: number}
    form = {
        "front_wall": {"x_m": 3.0},
        "speed_m_s": 19.0,
        "above_service_line_m": 2.0,
        "box_to_tape": None,
        "of_100": of_100,
        "bands": dict.fromkeys(NAMES, (0.0, 100.0)),
        "window": {"edges": [{"way": "too fast", "distance": 0.1, "beyond": "out"}]},
        "misses": [],
        "assumed": [],
    }
    lines = [line.strip() for line in aim_lines(form)]
    assert f"{said} (0 to 100)" in lines
    assert "Too fast by less than 1 km/h: out." in lines
