"""Wall time keeps its zone."""

from __future__ import annotations

import os
import subprocess
import sys
from datetime import UTC, datetime, timedelta

import pytest

from goodlength import tasks
from goodlength.clock import WallTime, local_zone
from goodlength.errors import InputError


def test_local_time_follows_the_zone_over_a_change_of_clocks():
    summer = WallTime(datetime(2025, 10, 26, 0, 30, tzinfo=UTC), "Europe/Lisbon").local()
    winter = WallTime(datetime(2025, 10, 26, 1, 30, tzinfo=UTC), "Europe/Lisbon").local()
    assert (summer.hour, winter.hour) == (1, 1)
    assert winter - summer == timedelta(0)  # same words on the wall: only UTC tells them apart
    assert winter.utcoffset() != summer.utcoffset()


def test_a_time_without_zone_is_refused():
    with pytest.raises(InputError, match="says no zone"):
        WallTime(datetime(2025, 3, 1), "UTC")


@pytest.mark.parametrize("name", ["Mars/Olympus", "", "../etc/passwd"])
def test_a_zone_that_does_not_exist_is_refused(name):
    with pytest.raises(InputError, match="no time zone"):
        WallTime(datetime(2025, 3, 1, tzinfo=UTC), name)


def test_now_is_in_the_zone_asked_for(monkeypatch):
    assert WallTime.now("UTC").zone == "UTC"
    monkeypatch.setenv("TZ", "Europe/Lisbon")
    assert WallTime.now().zone == "Europe/Lisbon"
    monkeypatch.setenv("TZ", "Not/AZone")
    assert local_zone()


def test_zones_are_known_where_the_system_has_none() -> None:
    # Windows keeps no zones of its own: an empty path of zones stands for it
    code = (
        "from datetime import UTC, datetime; from goodlength.clock import WallTime; "
        "t = datetime(2025, 7, 1, 18, tzinfo=UTC); "
        "print(*(WallTime(t, z).local().strftime('%H:%M') for z in ('UTC', 'Europe/Lisbon', 'Asia/Kolkata')))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        check=False,
        env=os.environ | {"PYTHONTZPATH": ""},
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.split() == ["18:00", "19:00", "23:30"]


def test_a_zone_that_cannot_be_found_out_is_called_unknown(monkeypatch, tmp_path) -> None:
    """As on Windows, which names its zones otherwise: "UTC" would be untrue. Simulated."""
    monkeypatch.delenv("TZ", raising=False)
    monkeypatch.setattr("goodlength.clock.SYSTEM_ZONE", tmp_path / "none")
    assert local_zone() is None
    assert WallTime.now().zone == "UTC"  # a moment needs one; UTC is right for every moment
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
