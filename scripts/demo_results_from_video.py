"""Makes the results shipped with the demo from its film, by the tasks that a coach's own video goes through.

Usage: python scripts/demo_results_from_video.py LIBRARY [--check]

LIBRARY holds the demo with its film (`goodlength demo --no-open --library LIBRARY`). It takes about five
minutes. Without --check the files in src/goodlength/demo/data are written anew; with it they are compared,
and the command ends with 1 where they differ by more than another computer's rounding.
"""

from __future__ import annotations

import argparse
import gzip
import json
import shutil
import sys
import tempfile
from pathlib import Path
from typing import Any

import numpy as np

from goodlength import tasks
from goodlength.demo.coaching.precomputed_video_results import BALL, COURT, DATA, PATHS, TRACKS, shipped_court
from goodlength.demo.demo_library import FOOTAGE_ID
from goodlength.demo.match.demo_players_and_matches import MATCH
from goodlength.files import library_layout
from goodlength.footage.ball_detection.ball_candidate_storage import read_balls
from goodlength.footage.court_detection.court_detection_in_video import court_detection_job
from goodlength.record.store import Library
from goodlength.tasks.ball.ball_detection import detect_ball
from goodlength.tasks.ball.ball_following_and_corrections import follow_here
from goodlength.tasks.footage.camera_calibration import tin_of
from goodlength.tasks.footage.player_tracking import track_players

ALIKE_PX, ALIKE_CM, ALIKE_SHARE = 0.5, 5.0, 0.99


def make_court(library: Library, to: Path) -> dict[str, Any]:
    """Look for the court in the film and write what is shipped of it."""
    file = library.footage_file(FOOTAGE_ID)
    found = to.with_name("found.json")
    court_detection_job(
        path=str(file.where),
        frames=str(library.folder / (file.frames or "")),
        tin=tin_of(library.match_info(MATCH)),
        sha256="",
        to=str(found),
        progress=lambda _share, _words: None,
        cancel=lambda: False,
    )
    court: dict[str, Any] = json.loads(found.read_text(encoding="utf-8"))
    for name in ("sha256", "crc32"):
        court.pop(name, None)
    to.write_text(json.dumps(court, indent=1) + "\n", encoding="utf-8")
    return court


def make_tracks(library: Library, to: Path) -> dict[str, Any]:
    """Track both players through the filmed rallies and write what is shipped of it."""
    track_players(tasks.open_match(library, MATCH))
    stored = library_layout.track_files(library.folder, MATCH)[0]
    tracks: dict[str, Any] = json.loads(stored.read_text(encoding="utf-8"))
    tracks.pop("crc32", None)
    to.write_bytes(gzip.compress(json.dumps(tracks, separators=(",", ":")).encode(), 9, mtime=0))
    return tracks


def make_ball(library: Library, to: Path) -> None:
    """Detect the ball in the filmed rallies and write what is shipped of it."""
    detect_ball(tasks.open_match(library, MATCH), again=True)
    shutil.copyfile(library_layout.ball_file(library.folder, MATCH), to)


def make_paths(library: Library, to: Path) -> None:
    """Follow the ball through the filmed rallies and write what is shipped of it."""
    follow_here(tasks.open_match(library, MATCH), lambda _share, _words: None, again=True)
    stored = library_layout.followed_ball_file(library.folder, MATCH)
    paths: dict[str, Any] = json.loads(stored.read_text(encoding="utf-8"))
    paths.pop("crc32", None)
    to.write_bytes(gzip.compress(json.dumps(paths, separators=(",", ":")).encode(), 9, mtime=0))


def differences(made: Path) -> list[str]:
    """Return what differs between the files made and those shipped, in words."""
    found = []
    court = {mark["mark"]: (mark["u"], mark["v"]) for mark in json.loads((made / COURT).read_text())["marks"]}
    for mark in shipped_court()["marks"]:
        at = court.get(mark["mark"], (np.inf, np.inf))
        if max(abs(at[0] - mark["u"]), abs(at[1] - mark["v"])) > ALIKE_PX:
            found.append(f"court: {mark['mark']}")
    for now, then in zip(_rallies(made / TRACKS), _rallies(DATA / TRACKS), strict=True):
        a, b = (np.array(rally["xy_cm"], dtype=float) for rally in (now, then))
        close = a.shape == b.shape and np.mean(np.abs(a - b) <= ALIKE_CM) >= ALIKE_SHARE
        if not close:
            found.append(f"tracks: {then['key']}")
    now_balls, then_balls = read_balls(made / BALL), read_balls(DATA / BALL)
    assert now_balls is not None and then_balls is not None
    for span, then_found in then_balls.spans.items():
        best = now_balls.spans[span].uv[:, 0] if span in now_balls.spans else np.zeros((0, 2))
        apart = np.abs(best - then_found.uv[:, 0]) if len(best) == len(then_found) else np.array([np.inf])
        if np.mean(np.isnan(apart) | (apart <= ALIKE_PX)) < ALIKE_SHARE:
            found.append(f"ball: {span.key}")
    for now, then in zip(_rallies(made / PATHS), _rallies(DATA / PATHS), strict=True):
        if not _same_path(now, then):
            found.append(f"paths: {then['key']}")
    return found


def _rallies(path: Path) -> list[dict[str, Any]]:
    read: list[dict[str, Any]] = json.loads(gzip.decompress(path.read_bytes()))["rallies"]
    return read


def _same_path(now: dict[str, Any], then: dict[str, Any]) -> bool:
    a, b = (
        [(*c["place_m"], c["kind"]) for s in r["shots"] for c in s["paths"][0]["contacts"]]
        for r in (now, then)
    )
    if [kind for *_, kind in a] != [kind for *_, kind in b]:
        return False
    apart = np.abs(np.array([at[:3] for at in a]) - np.array([at[:3] for at in b]))
    return bool(np.mean(apart <= ALIKE_CM / 100.0) >= ALIKE_SHARE)


def main() -> None:
    """Make or compare the files."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("library", type=Path)
    parser.add_argument("--check", action="store_true")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        made = Path(folder)
        with Library.open(given.library, create=False) as library:
            for make, name in (
                (make_court, COURT),
                (make_tracks, TRACKS),
                (make_ball, BALL),
                (make_paths, PATHS),
            ):
                print(f"making {name} ...", flush=True)
                make(library, made / name)
        if given.check:
            found = differences(made)
            print("\n".join(found) or "What is shipped with the demo is what its film gives.")
            sys.exit(1 if found else 0)
        for name in (COURT, TRACKS, BALL, PATHS):
            shutil.copyfile(made / name, DATA / name)


if __name__ == "__main__":
    main()
