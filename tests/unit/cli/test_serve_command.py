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
    assert "not calibrated" in flown["assumed"]


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
