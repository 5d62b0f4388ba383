"""`goodlength show reel|side-by-side|stills`: by number, by finding, those kept; whole files or none."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import date
from fractions import Fraction
from pathlib import Path

import av
import pytest

from goodlength import tasks
from goodlength.cli import main
from goodlength.record.model import EntryKind
from goodlength.synthetic.numbered_frame_video import Recipe, draw, lumas, read_card


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Six serves of one kind, half a second apart on a film of ten numbered pictures a second."""
    folder = tmp_path_factory.mktemp("show")
    film = draw(folder / "film.mp4", Recipe(tuple(range(90)), base=Fraction(1, 10), sound=""))
    with tasks.open_library(folder / "lib") as item:
        for player, name in (("iv", "Imogen Vale"), ("plo", "Petra Lindqvist-Ode")):
            tasks.add_player(item, name, player_id=player)
            tasks.consent(item, player, given_by=name)
        tasks.new_match(item, ("iv", "plo"), match_id="m1", played_on=date(2026, 3, 7))
        tasks.add_footage(item, "m1", film)
        for n in range(6):
            start = 1_500_000 * n
            span = {"start_us": start, "end_us": start + 300_000, "how": "marked"}
            tasks.answer(item, "m1", f"r{n}", EntryKind.SPAN, span)
            tasks.answer(item, "m1", f"r{n}", EntryKind.KIND, "lob")
            tasks.answer(item, "m1", f"r{n}", EntryKind.WINNER, "a")
        tasks.answer(item, "m1", "r4", EntryKind.KEEP, True)
    return folder / "lib"


@pytest.fixture
def run(library: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Iterator[object]:
    """A command of `show`; gives its code, its data and its words."""

    def said(*words: str) -> tuple[int, str, str]:
        code = 0
        try:
            main(args=["--library", str(library), "show", *words])
        except SystemExit as left:
            code = int(left.code or 0)
        heard = capsys.readouterr()
        return code, heard.out, heard.err

    return said


def numbers(path: Path) -> list[int | None]:
    return [read_card(luma) for luma in lumas(path)]


def test_a_reel_holds_the_rallies_named(run, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    out = tmp_path / "reel.mp4"
    code, data, _ = run("reel", "m1", "6", "2", "--out", str(out), "--json")
    assert code == 0
    assert json.loads(data)["words"].startswith("2 rallies")
    shown = numbers(out)
    assert shown[:3] == [65, 66, 67]  # a second before the sixth
    assert shown[-1] == 15 + 2 + 15
    assert out.with_suffix(".vtt").read_text().count("Lob") == 2


def test_what_a_reel_leaves_out_is_said(run, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    """Before: of seven rallies named, five were shown without a word."""
    out = tmp_path / "reel.mp4"
    code, _, said = run("highlights", "m1", "1", "2", "3", "4", "5", "6", "--out", str(out))
    assert code == 0
    assert "Highlights hold at most 5 rallies. Left out: rally 6. --all takes every rally." in said
    assert "Left out" not in run("highlights", "m1", "1", "2", "--out", str(out))[2]
    assert "Left out" not in run("highlights", "m1", "--all", "--out", str(out))[2]


def test_without_numbers_those_kept_and_every_one_bare(run, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    out = tmp_path / "reel.mp4"
    assert run("reel", "m1", "--out", str(out))[0] == 0
    assert numbers(out)[0] == 50
    assert run("reel", "m1", "--every", "--out", str(out))[0] == 0
    assert numbers(out) == [15 * n + k for n in range(6) for k in range(3)]


def test_two_serves_meet_at_contact(run, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    out = tmp_path / "two.mp4"
    code, data, _ = run("side-by-side", "m1", "2", "3", "--slower", "2", "--out", str(out), "--json")
    assert code == 0
    assert json.loads(data)["strike_us"] == 2_000_000
    with av.open(str(out)) as made:
        assert made.streams.video[0].width > 2 * 540


def test_stills_are_one_picture(run, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    out = tmp_path / "stills.png"
    assert run("stills", "m1", "1", "2", "--out", str(out))[0] == 0
    assert out.read_bytes()[:4] == b"\x89PNG"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("reel", "m1", "9", "--out", "r.mp4"), "numbers them 1 to 6"),
        (("reel", "m1", "1", "--out", "r.mkv"), "end in .mp4"),
        (("reel", "m1", "--finding", "gone", "--out", "r.mp4"), "no finding 'gone'"),
        (("side-by-side", "m1", "1", "--out", "r.mp4"), "Two rallies"),
        (("stills", "none", "1", "--out", "r.png"), "none"),
    ],
)
def test_what_cannot_be_made_is_told(run, words: tuple[str, ...], said: str) -> None:  # type: ignore[no-untyped-def]
    code, data, told = run(*words)
    assert (code, data) == (1, "")
    assert said in told
