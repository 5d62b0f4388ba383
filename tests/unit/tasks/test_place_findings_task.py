"""Shots of the followed ball as columns, and what the command prints of them."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from goodlength import tasks
from goodlength.cli import main
from goodlength.files.library_layout import followed_ball_file
from goodlength.forms.findings.opponent_report_json import brief_form, brief_lines
from goodlength.measure.shots.followed_ball_storage import write_followed
from goodlength.measure.shots.followed_ball_types import (
    ContactKind,
    FollowedRally,
    FollowedShot,
    PathContact,
    PathSample,
    PathSources,
    ShotPath,
)
from goodlength.record.model import EntryKind, Footage
from goodlength.record.store import Library
from goodlength.scoring import Side
from goodlength.tasks.ball import ball_following_inputs
from goodlength.tasks.findings.opponent_report import brief_about
from goodlength.tasks.findings.shot_place_findings import match_places, player_places, shot_table
from goodlength.tasks.match.lazy_match import open_match
from tests.oracles.followed_shots import SECOND, SOURCES, SPHERE, made_match, unchanged_inputs

DAMAGED = "{"


def run(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    code = 0
    try:
        main(args=words)
    except SystemExit as left:
        code = int(left.code or 0)
    printed = capsys.readouterr()
    return code, printed.out, printed.err


def path(struck_us: int, x: float, y: float, *, second: bool = False) -> ShotPath:
    contacts = [
        PathContact(ContactKind.RACKET, struck_us, (x, 6.0, 1.0), SPHERE),
        PathContact(ContactKind.FRONT, struck_us + 300_000, (x, 0.02, 1.5), SPHERE),
        PathContact(ContactKind.FLOOR, struck_us + 900_000, (x, y, 0.02), SPHERE),
    ]
    if second:
        contacts.append(PathContact(ContactKind.SECOND_BOUNCE, struck_us + 1_300_000, (x, 9.0, 0.02), SPHERE))
    return ShotPath(0.95, struck_us, 30.0, tuple(contacts), ())


def rally(key: str, begin_us: int = 0) -> FollowedRally:
    """A serve, a drive of B, an unsure shot of A, a drive of B that bounces twice."""
    at = [begin_us + (2 + n) * SECOND for n in range(5)]
    shots = [
        FollowedShot(1, at[0], at[1], Side.A, 0, 0.9, (path(at[0], 1.0, 8.0),), True),
        FollowedShot(2, at[1], at[2], Side.B, 1, 0.9, (path(at[1], 0.3, 7.5),), True),
        FollowedShot(3, at[2], at[3], Side.A, 0, 0.9, (path(at[2], 0.4, 6.0),), False, reason="Unsure."),
        FollowedShot(4, at[3], at[4], Side.B, 1, 0.9, (path(at[3], 5.5, 6.9, second=True),), True),
    ]
    return FollowedRally(key, "f1", begin_us + SECOND, begin_us + 9 * SECOND, tuple(shots), rests_on=SOURCES)


@pytest.fixture
def library(tmp_path: Path) -> Iterator[Library]:
    with tasks.open_library(tmp_path / "lib") as item:
        tasks.add_player(item, "Imogen Vale", player_id="iv")
        tasks.add_player(item, "Petra Lindqvist-Ode", player_id="plo")
        tasks.new_match(item, ("iv", "plo"), match_id="m1")
        item.save_footage(Footage("f1", "m1", "/films/x.mp4", 0, first_us=0, end_us=100 * SECOND))
        for n in range(3):
            tasks.answer(item, "m1", f"r{n}", EntryKind.SERVER, "a")
            tasks.answer(item, "m1", f"r{n}", EntryKind.KIND, "lob")
            tasks.answer(item, "m1", f"r{n}", EntryKind.WINNER, "b")
        yield item


@pytest.fixture
def followed(library: Library, monkeypatch: pytest.MonkeyPatch) -> list[FollowedRally]:
    rallies = [rally("r:r0"), rally("r:r1", 20 * SECOND), rally("h:x", 40 * SECOND)]
    write_followed(followed_ball_file(library.folder, "m1"), made_match("m1", *rallies))
    monkeypatch.setattr(ball_following_inputs, "inputs_now", unchanged_inputs(rallies))
    return rallies


def test_shots_of_logged_rallies_become_rows(library: Library, followed: list[FollowedRally]) -> None:
    shots = shot_table(open_match(library, "m1"))
    assert (shots.n, shots.logged, shots.followed, shots.stale) == (8, 3, 2, 0)
    assert shots.rally.tolist() == [0] * 4 + [1] * 4
    assert shots.striker.tolist() == [0, 1, 0, 1] * 2
    assert shots.usable.tolist() == [True, True, False, True] * 2
    assert shots.bounce[1].tolist() == [0.3, 7.5] and np.isnan(shots.bounce[2]).all()
    assert np.isnan(shots.end[1]).all()  # the next strike is not sure, so it is not known where it was
    assert shots.end[3].tolist() == [5.5, 9.0] and not shots.struck_back[3]
    assert shots.bounce_error[1].tolist() == pytest.approx([0.02, 0.02])
    assert shots.given_s[0] == 1.0 and np.isnan(shots.given_s[3])
    assert np.isnan(shots.other).all()  # no tracks


def test_a_shot_ends_where_its_own_path_was_struck(library: Library, monkeypatch: pytest.MonkeyPatch) -> None:
    """Not where the next path begins: that lies towards where a racket is expected."""
    made = rally("r:r0")
    drive, back = made.shots[1], replace(made.shots[2], sure=True)
    assert drive.best is not None
    near = PathSample(back.struck_us - 30_000, (0.2, 7.0, 0.5), True)
    far = PathSample(back.struck_us - 300_000, (0.2, 7.0, 0.5), True)
    for sample, x in ((near, 0.2), (far, 0.4)):
        shot = replace(drive, paths=(replace(drive.best, samples=(sample,)),))
        changed = replace(made, shots=(made.shots[0], shot, back, made.shots[3]))
        write_followed(followed_ball_file(library.folder, "m1"), made_match("m1", changed))
        monkeypatch.setattr(ball_following_inputs, "inputs_now", unchanged_inputs([changed]))
        assert shot_table(open_match(library, "m1")).end[1, 0] == x


def test_what_is_out_of_date_is_counted_and_left_out(
    library: Library, followed: list[FollowedRally], monkeypatch: pytest.MonkeyPatch
) -> None:
    other = PathSources("another camera", "p", "s", "b")
    monkeypatch.setattr(ball_following_inputs, "inputs_now", unchanged_inputs(followed, other))
    shots = shot_table(open_match(library, "m1"))
    assert (shots.n, shots.followed, shots.stale) == (0, 0, 2)


def test_a_damaged_file_gives_no_shots(library: Library) -> None:
    file = followed_ball_file(library.folder, "m1")
    file.parent.mkdir(exist_ok=True)
    file.write_text(DAMAGED)
    assert shot_table(open_match(library, "m1")).n == 0


def test_a_rally_whose_video_is_gone_is_not_followed(
    library: Library, followed: list[FollowedRally], monkeypatch: pytest.MonkeyPatch
) -> None:
    rallies = [followed[0], replace(followed[1], footage="gone")]
    monkeypatch.setattr(ball_following_inputs, "inputs_now", unchanged_inputs(rallies))
    write_followed(followed_ball_file(library.folder, "m1"), made_match("m1", *rallies))
    shots = shot_table(open_match(library, "m1"))
    assert (shots.n, shots.followed, shots.stale) == (4, 1, 0)


def test_facts_of_one_match_and_of_several(library: Library, followed: list[FollowedRally]) -> None:
    found = match_places(open_match(library, "m1"), "opponent").found
    assert (found.name, found.other) == ("Petra", "Imogen")
    assert (found.own.length.count, found.own.length.of) == (2, 4)
    assert "2 of 4 drives" in found.lines[0]
    hidden = match_places(open_match(library, "m1"), "coached", name_opponent=False).found
    assert "Petra" not in " ".join((*hidden.lines, hidden.caution, *(each.words for each in hidden.all)))
    over = player_places(library, "plo")
    assert over is not None and over.own.length == found.own.length
    assert player_places(library, "plo", {"another"}) is None
    page = brief_about(library, "plo")
    assert page.places == over
    assert any("2 of 4 drives" in line for line in brief_lines(page))
    places = brief_form(page)["places"]
    assert isinstance(places, dict) and places["followed"] == 2


def test_the_command_prints_words_and_json(
    library: Library, followed: list[FollowedRally], capsys: pytest.CaptureFixture[str]
) -> None:
    at = ("--library", str(library.folder))
    code, said, _ = run(capsys, "findings", "places", "m1", *at)
    assert code == 0
    assert "Ball followed in 2 of 3 logged rallies." in said
    assert "Imogen’s shots: 4; counted 2, not sure 2, no path 0." in said
    code, out, _ = run(capsys, "findings", "places", "m1", "--json", "--player", "opponent", *at)
    form = json.loads(out)
    assert form["followed"] == 2 and form["facts"]["player"]["length"]["of"] == 4
    assert {each["grade"] for each in form["findings"]} == {"too-few"}
    code, _, error = run(capsys, "findings", "places", "m1", "--player", "nobody", *at)
    assert code == 1 and "not a player of this match" in error


def test_with_nothing_followed_the_command_says_the_next_step(
    library: Library, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, _ = run(capsys, "findings", "places", "m1", "--library", str(library.folder))
    assert code == 0 and "Follow the ball first" in out


def test_unknown_strikers_are_counted(library: Library, monkeypatch: pytest.MonkeyPatch) -> None:
    made = rally("r:r0")
    shots = tuple(replace(shot, striker=None, track=None) for shot in made.shots)
    nobody = replace(made, shots=shots)
    write_followed(followed_ball_file(library.folder, "m1"), made_match("m1", nobody))
    monkeypatch.setattr(ball_following_inputs, "inputs_now", unchanged_inputs([nobody]))
    assert "Of 4 more it is not known who struck." in match_places(open_match(library, "m1")).found.caution
