"""`court add|list|calibrate`, and serves flown on a calibrated court."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from goodlength.ball import Ball, PlayConditions
from goodlength.ball.ball_and_court_coefficient_fit import Drop
from goodlength.ball.model.ball_and_court_calibration_result import Calibration
from goodlength.cli.root_command import root
from goodlength.errors import InputError
from goodlength.synthetic.simulated_bounce_recordings import simulated_hits
from goodlength.tasks.footage.court_properties_register import add_court, calibrate_court, courts
from goodlength.tasks.library.library_opening_and_check import open_library


def run(library: Path, *words: str) -> object:
    return CliRunner().invoke(root, ["--library", str(library), *words])


def test_a_court_is_kept_calibrated_and_used(tmp_path: Path) -> None:
    library = tmp_path / "library"
    assert run(library, "court", "add", "Tideway court 2", "--altitude", "35").exit_code == 0
    again = run(library, "court", "add", "Tideway  Court 2")
    assert "another name" in str(again.exception)
    hits = simulated_hits(np.random.default_rng(4), PlayConditions().coefficients())
    file = tmp_path / "recordings.json"
    plain = [
        {
            "contact_m": list(h.contact_m),
            "wall_s": h.wall_s,
            "floor_s": h.floor_s,
            "wall_mark_m": list(h.wall_mark_m or ()),
            "landing_m": list(h.landing_m or ()),
        }
        for h in hits
    ]
    file.write_text(json.dumps({"drops": [], "hits": plain}), encoding="utf-8")
    form = json.loads(run(library, "court", "calibrate", "tideway-court-2", str(file), "--json").output)
    assert form["hits"] == 20
    assert {row["name"] for row in form["learnt"] if row["learnt"]} >= {"e7", "speed_power"}
    lines = run(library, "court", "calibrate", "tideway-court-2", str(file)).output.splitlines()
    assert lines[0].startswith("bounce off the front wall") and lines[0].endswith("; measured.")
    (drag,) = (line for line in lines if line.startswith("drag beside a smooth ball"))
    assert drag.endswith("; not enough data, usual value used.")
    assert lines[6] == "These are 90% ranges, not 95% as elsewhere: 90% is the level their tests measured."
    listed = json.loads(run(library, "court", "list", "--json").output)
    assert listed[0]["calibration"]["court"] == "Tideway court 2"
    said = run(
        library,
        "serve",
        "spread",
        "--box",
        "right",
        "--kind",
        "mid-height",
        "--at",
        "3,3.4",
        "--speed",
        "19",
        "--court",
        "tideway-court-2",
    ).output
    assert "Calibrated on Tideway court 2" in said
    fly = (
        "serve",
        "fly",
        "--contact",
        "4.6,5.6,1.2",
        "--velocity=-5.5,-19,5",
        "--court",
        "tideway-court-2",
        "--json",
    )
    flown, blue = (json.loads(run(library, *fly, "--ball", dot).output) for dot in ("double-yellow", "blue"))
    assert any("Calibrated on Tideway court 2" in line for line in flown["assumed"])
    assert not any("until your court is calibrated" in line for line in flown["assumed"])
    assert any("calibrated with another ball (double-yellow)" in line for line in blue["assumed"])
    assert any("until your court is calibrated" in line for line in blue["assumed"])


def test_each_ball_keeps_its_newest_calibration(tmp_path: Path) -> None:
    with open_library(tmp_path / "library") as library:
        add_court(library, "One")
        drops = [Drop(2.0, (0.64, 1.29, 1.65))] * 3
        for day, dot in ((1, "double-yellow"), (2, "blue"), (3, "double-yellow")):
            calibrate_court(library, "one", drops, [], Ball(dot), on=date(2026, 1, day))
        found = courts(library)[0]
        assert [(c.made_with, c.date) for c in found.calibrations] == [
            ("blue", "2026-01-02"),
            ("double-yellow", "2026-01-03"),
        ]
        assert found.setting(Ball("blue")).calibration == found.calibrations[0]
        assert found.setting(Ball("red")).calibration is None
        older = replace(found.calibrations[0], dot="")
        assert Calibration.from_json(older.to_json()).made_with == "blue"


def test_bad_recordings_are_said(tmp_path: Path) -> None:
    library = tmp_path / "library"
    run(library, "court", "add", "One")
    file = tmp_path / "bad.json"
    for text, words in (
        ("[", "is not JSON"),
        ("[]", "recordings: named values are needed"),
        ('{"hits": [{"contact_m": [1, 2]}]}', "hit 1: contact_m.2 is missing"),
        ('{"drops": [{"thuds_s": ["a", 2]}]}', "drop 1: thuds_s.0 is 'a'; a number is needed"),
        ('{"drops": [{"thuds_s": [0, NaN]}]}', "thuds_s.1 is nan; a number is needed"),
        ('{"drops": 3}', "drops is 3; a list is needed"),
        ('{"drops": [{"thuds_s": [1, 2]}]}', "at least two drops"),
    ):
        file.write_text(text, encoding="utf-8")
        assert words in str(run(library, "court", "calibrate", "one", str(file)).exception)
    file.write_text('{"drops": [{"height_m": 2, "thuds_s": [0, 0.5]}, {"height_m": 2, "thuds_s": [0, 0.5]}]}')
    unsure = run(library, "court", "calibrate", "one", str(file), "--warmth", "unsure")
    assert "a ball whose warmth is known" in str(unsure.exception)
    assert "no court 'two'" in str(run(library, "court", "calibrate", "two", str(file)).exception)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"id": None}, "stored court 1: id is None; a text is needed"),
        ({"altitude_m": "high"}, "stored court 1: altitude_m is 'high'; a number is needed"),
        ({"built": {"roof": "tin"}}, "built.roof is 'tin'; no value of this name is known"),
        ({"calibrations": 3}, "stored court 1: calibrations is 3; a list is needed"),
    ],
)
def test_a_damaged_court_is_told_in_words(tmp_path: Path, change: dict[str, object], said: str) -> None:
    """Before: a court without an id was called 'None', the others ended in ValueError or TypeError."""
    with open_library(tmp_path / "library") as library:
        add_court(library, "One")
        (kept,) = library.settings()["courts"]
        library.set_setting("courts", [{**kept, **change}])
        with pytest.raises(InputError, match=said):
            courts(library)
        with pytest.raises(InputError, match=said):
            add_court(library, "Two")
