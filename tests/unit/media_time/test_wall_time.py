"""The zone of this machine, and that every zone is known where the system has none."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from goodlength import tasks
from goodlength.media_time import local_zone


@pytest.mark.parametrize(
    ("said", "zone"), [("Europe/Lisbon", "Europe/Lisbon"), (":Asia/Kolkata", "Asia/Kolkata")]
)
def test_the_zone_asked_for_is_this_machines(monkeypatch: pytest.MonkeyPatch, said: str, zone: str) -> None:
    monkeypatch.setenv("TZ", said)
    assert local_zone() == zone


def test_a_zone_that_does_not_exist_is_passed_over(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TZ", "Not/AZone")
    assert local_zone() not in ("", "Not/AZone")


def test_zones_are_known_where_the_system_has_none() -> None:
    # Windows keeps no zones of its own: an empty path of zones stands for it
    done = subprocess.run(
        [sys.executable, "-c", "from goodlength.media_time import local_zone; print(local_zone())"],
        check=False,
        env=os.environ | {"PYTHONTZPATH": "", "TZ": "Asia/Kolkata"},
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.split() == ["Asia/Kolkata"]


def test_a_zone_that_cannot_be_found_out_is_called_unknown(monkeypatch, tmp_path) -> None:
    """As on Windows, which names its zones otherwise: "UTC" would be untrue. Simulated."""
    monkeypatch.delenv("TZ", raising=False)
    monkeypatch.setattr("goodlength.media_time.SYSTEM_ZONE", tmp_path / "none")
    assert local_zone() is None
    with tasks.open_library(tmp_path / "lib") as library:
        for player in ("p1", "p2"):
            tasks.add_player(library, player, player_id=player)
        info = tasks.new_match(library, ("p1", "p2"), match_id="m1")
        assert info.zone == "unknown"
        assert library.match_info("m1").zone == "unknown"
        (out,) = tasks.export_match(library, "m1", tmp_path / "m1.json")
    with tasks.open_library(tmp_path / "other") as library:
        tasks.import_match(library, out)
        assert library.match_info("m1").zone == "unknown"
