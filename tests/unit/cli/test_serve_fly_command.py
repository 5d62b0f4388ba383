"""`serve fly`: any launch, in the form others rely on; what cannot be is said."""

from __future__ import annotations

import json

import pytest

from goodlength.cli import main

GOOD = ("serve", "fly", "--box", "right", "--contact", "4.6,5.8,0.8", "--velocity=-5,-15.5,9.5")


def run(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    code = 0
    try:
        main(args=words)
    except SystemExit as left:
        code = int(left.code or 0)
    said = capsys.readouterr()
    return code, said.out, said.err


def test_a_lob_is_flown_with_its_contacts_and_verdict(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, *GOOD, "--json")
    flown = json.loads(out)
    assert code == 0
    assert flown["legal"] is True
    assert flown["contacts"][0]["surface"] == "front-wall"
    assert {"surface", "t_s", "x_m", "y_m", "z_m", "speed_m_s"} <= flown["contacts"][0].keys()
    assert "room_m" in flown
    warm = 'Ball at 38 °C (assumed from the ball temperature "warm"), '
    assert any(line.startswith(warm) for line in flown["assumed"])
    assert any("until your court is calibrated" in line for line in flown["assumed"])
    assert [touch["n"] for touch in flown["contacts"]] == [2, 3, 4, 5]
    second = flown["second_bounce"]
    assert flown["room_m"] == pytest.approx(-second["from_back_m"])
    assert second["from_left_m"] + second["from_right_m"] == pytest.approx(6.40)
    assert {v["y_m"] for v in flown["volleys"]} <= {6.95, 7.75, 8.55}


def test_a_serve_is_told_in_words(capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = run(capsys, *GOOD)
    lines = out.splitlines()
    assert lines[0] == "Hit 30° upwards, 18° to the left of straight at the front wall."
    assert lines[1].split() == ["Time", "From", "left", "From", "front", "Height", "Speed"]
    assert lines[2].split() == [
        "1",
        "racket",
        "0.00",
        "s",
        "4.60",
        "m",
        "5.80",
        "m",
        "0.80",
        "m",
        "68",
        "km/h",
        "(18.9",
        "m/s)",
    ]
    assert lines[3].startswith("2 front wall")
    assert lines[3].endswith(" m/s)")
    assert "Good." in lines
    assert any(line.startswith("Does not die: second bounce 0.") and "short of" in line for line in lines)
    assert any(line.startswith("Level with the receiver 1.") and "not yet bounced" in line for line in lines)
    assert any(line.startswith("Could be volleyed 6.95 m") for line in lines)


@pytest.mark.parametrize(
    ("velocity", "good", "words"),
    [("-0.2,-7,2.4", True, "from the front wall"), ("-0.2,-7,-1", False, "touched the floor before")],
)
def test_any_other_shot_has_no_box(
    velocity: str, good: bool, words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    shot = ("serve", "fly", "--contact", "1.2,3.0,0.7", f"--velocity={velocity}", "--spin", "0,0,20")
    flown = json.loads(run(capsys, *shot, "--json")[1])
    assert flown["good"] is good
    assert flown["spin_rad_s"] == [0.0, 0.0, 20.0]
    assert not {"box", "legal", "volleys"} & flown.keys()
    said = run(capsys, *shot)[1]
    assert words in said
    assert "dies" not in said.lower()


def test_the_way_back_gives_every_way_or_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    ask = ("serve", "inverse", "--contact", "4.6,5.6,1.2", "--box", "right", "--speed")
    code, out, _ = run(capsys, *ask, "25", "--feet", "--json")
    found = json.loads(out)
    assert code == 0
    assert len(found["ways"]) == 2
    for way in found["ways"]:
        first = next(touch for touch in way["contacts"] if touch["surface"] == "floor")
        assert (first["x_m"], first["y_m"]) == pytest.approx((1.75, 7.75), abs=1e-3)
        assert way["legal"] is True
    _, out, _ = run(capsys, *ask, "9", "--side", "left,9.5,4.0")
    assert out.startswith("No shot from there at 9 m/s reaches")
    assert "\nNearest shot: at" in out


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("--side", "left,9.5"), 2, "a wall and two numbers"),
        (("--side", "back,9.5,1"), 1, "one of left, right"),
        (("--feet",), 1, "Say the box"),
        (("--front", "3,3"), 1, "Many different shots"),
        (("--front", "3,nan"), 1, "not a number"),
    ],
)
def test_a_way_that_cannot_be_asked(
    words: tuple[str, ...], code: int, said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    got, out, err = run(capsys, "serve", "inverse", "--contact", "4.6,5.6,1.2", *words)
    assert (got, out) == (code, "")
    assert said in err


def test_neither_kind_nor_launch_is_wrong_usage(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(capsys, "serve", "fly", "--kind", "lob")[0] == 2
    assert run(capsys, "serve", "fly", "--velocity", "0,-9,2")[0] == 2


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("--contact", "4.6,5.8"), 2, "three numbers"),
        (("--contact", "4.6,5.8,nan"), 1, "must be numbers"),
        (("--ball", "pink"), 1, "pink"),
        (("--contact", "40,5.8,1"), 1, "40"),
    ],
)
def test_what_cannot_fly_is_said(
    words: tuple[str, ...], code: int, said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    got, out, err = run(capsys, *GOOD, *words)
    assert (got, out) == (code, "")
    assert said in err
