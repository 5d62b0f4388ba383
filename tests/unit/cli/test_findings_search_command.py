"""`findings search`: rallies under their matches, the same as JSON, wrong words told in a sentence."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from goodlength.cli import main


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory, demo_library: Path) -> Path:
    folder = tmp_path_factory.mktemp("search")
    shutil.copytree(demo_library, folder, dirs_exist_ok=True)
    return folder


def run(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    code = 0
    try:
        main(args=words)
    except SystemExit as left:
        code = int(left.code or 0)
    said = capsys.readouterr()
    return code, said.out, said.err


def test_rallies_stand_under_their_matches(library: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ("--player", "imogen", "--serving", "--kind", "lob", "--left", "weak", "--lost")
    code, out, _ = run(capsys, "findings", "search", *words, "--library", str(library))
    assert code == 0
    assert "Imogen Vale v Oona Marsh-Tallis, 2 October 2025 (demo-left)" in out
    assert "Imogen Vale won 0 of" in out
    assert "%" not in out
    assert "chance" in out


def test_as_data(library: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(
        capsys,
        "findings",
        "search",
        "--text",
        "length",
        "--since",
        "2025-10-01",
        "--json",
        "--library",
        str(library),
    )
    found = json.loads(out)
    assert code == 0
    assert found["total"] == len(found["rallies"]) > 0
    assert all("length" in rally["note"].lower() for rally in found["rallies"])


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("--player", "nobody"), 1, "player list"),
        (("--kind", "smash"), 1, "lob"),
        (("--since", "tomorrow"), 2, "tomorrow"),
        (("--limit", "0"), 1, "1 or more"),
        (("--match", "nope"), 1, "match list"),
    ],
)
def test_what_cannot_be_asked_is_told(
    words: tuple[str, ...], code: int, said: str, library: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    left, out, err = run(capsys, "findings", "search", *words, "--library", str(library))
    assert (left, out) == (code, "")
    assert said in err


def test_all_matches_of_a_player_as_lines(library: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(
        capsys,
        "findings",
        "show",
        "--player",
        "imogen",
        "--change-on",
        "2025-10-05",
        "--library",
        str(library),
    )
    assert code == 0
    assert out.startswith("Imogen Vale: 3 matches, 20 September 2025 to 11 October 2025")
    assert "Clear, over 3 matches: Imogen’s lob draws weak returns more often than the hard serve." in out
    assert "with lets counted as not won" in out
    assert out.count("A very bad day is usually followed by a better one anyway") == 1
    sentences = out.partition("Usual values, match by match")[0]  # rates of many matches are percentages
    assert "%" not in sentences.replace("95% range", "")  # the level of a range, no result


def test_all_matches_of_a_player_as_data(library: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(
        capsys,
        "findings",
        "show",
        "--player",
        "imogen",
        "--against",
        "oona",
        "--json",
        "--library",
        str(library),
    )
    found = json.loads(out)
    assert code == 0
    assert found["matches"] == ["demo-left"]
    wanted = {"words", "grade", "grade_words", "count", "of", "interval", "q", "rallies"}
    assert all(wanted <= finding.keys() for finding in found["findings"])
    assert all("lets" in row["out_of"] for row in found["rows"])
    assert {"level", "sex", "era", "scoring", "source"} <= found["context"][0].keys()


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        ((), 2, "--player"),
        (("demo", "--since", "2025-01-01"), 2, "go without a match"),
        (("demo", "--player", "oona"), 1, "Choose Imogen Vale or Petra Lindqvist-Ode."),
        (("--player", "nobody"), 1, "player list"),
        (("--player", "imogen", "--since", "2030-01-01"), 1, "No match of Imogen Vale"),
        (("--player", "imogen", "--change-on", "2030-01-01"), 1, "from 2030-01-01"),
    ],
)
def test_over_matches_what_cannot_be_shown_is_told(
    words: tuple[str, ...], code: int, said: str, library: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    left, out, err = run(capsys, "findings", "show", *words, "--library", str(library))
    assert (left, out) == (code, "")
    assert said in err
