"""The command line: clean data on stdout, words on stderr, 0, 1 or 2, never a traceback."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from goodlength.cli import main
from goodlength.cli.root_command import HIDDEN, NOUNS


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory, demo_library: Path) -> Path:
    folder = tmp_path_factory.mktemp("library")
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


def test_help_names_every_noun(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "--help")
    assert code == 0
    assert all((noun in out) == (noun not in HIDDEN) for noun in NOUNS)
    assert "Example:" in out


@pytest.mark.parametrize("noun", [noun for noun in NOUNS if noun not in {"open", "demo"}])
def test_every_verb_ends_its_help_in_an_example(noun: str, capsys: pytest.CaptureFixture[str]) -> None:
    from goodlength.cli.root_command import root

    group = root.get_command(None, noun)  # type: ignore[arg-type]
    for verb, command in group.commands.items():  # type: ignore[union-attr]
        if command.hidden:  # an old name: its help is that of the new one
            assert run(capsys, noun, verb, "--help")[0] == 0
            continue
        code, out, _ = run(capsys, noun, verb, "--help")
        assert code == 0
        assert f"Example: goodlength {noun} {verb}" in out


def test_match_list_in_the_form_others_rely_on(library: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "match", "list", "--json", "--library", str(library))
    rows = {row["id"]: row for row in json.loads(out)}
    assert code == 0
    assert rows["demo"]["rallies"] == 78
    assert {"id", "title", "rallies"} <= rows["demo"].keys()


def test_match_show_in_the_form_others_rely_on(library: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = run(capsys, "--library", str(library), "match", "show", "demo", "--json")
    shown = json.loads(out)
    assert [game["score"] for game in shown["games"]] == [[11, 8], [7, 11], [9, 11], [8, 11]]
    wanted = {"n", "game", "server", "box", "call", "serve_kind", "return_left", "start_s", "end_s"}
    assert all(wanted <= rally.keys() for rally in shown["rallies"])
    assert not any("“" in rally["call"] or '"' in rally["call"] for rally in shown["rallies"])


def test_findings_show_in_the_form_others_rely_on(library: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = run(capsys, "findings", "show", "demo", "--json", "--library", str(library))
    found = json.loads(out)
    wanted = {"words", "grade", "count", "of", "interval", "q", "rallies"}
    assert found["findings"]
    assert all(wanted <= finding.keys() for finding in found["findings"])
    assert {f["grade"] for f in found["findings"]} <= {"clear", "leaning", "too-few", "no-difference"}
    assert "tables" in found


def test_a_match_that_is_not_there_ends_with_one_and_a_sentence(
    library: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, err = run(capsys, "match", "show", "nope", "--library", str(library))
    assert (code, out) == (1, "")
    assert "'nope'" in err
    assert "Traceback" not in err


def test_a_word_that_is_no_verb_ends_with_two(capsys: pytest.CaptureFixture[str]) -> None:
    code, _, err = run(capsys, "match", "shoot")
    assert code == 2
    assert "shoot" in err


@pytest.mark.parametrize("time", ["soon", "-1", "1:2:3:4", ""])
def test_a_time_that_is_none_ends_with_two(
    time: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, _, err = run(
        capsys, "show", "clip", "a.mp4", "--from", time, "--to", "1:00", "--out", str(tmp_path / "b.mp4")
    )
    assert code == 2
    assert "time" in err


@pytest.mark.parametrize("ending", ["json", "csv"])
def test_export_and_import_round_trip_the_demo_without_a_difference(
    ending: str, library: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / f"demo.{ending}"
    assert run(capsys, "match", "export", "demo", "--to", str(file), "--library", str(library))[0] == 0
    other = tmp_path / "other"
    code, out, err = run(capsys, "match", "import", str(file), "--json", "--library", str(other))
    assert code == 0, err
    name = json.loads(out)["match"]
    shown = [
        json.loads(run(capsys, "match", "show", match, "--json", "--library", str(folder))[1])
        for match, folder in (("demo", library), (name, other))
    ]
    keep = ("n", "game", "box", "call", "serve_kind", "return_left", "return_how", "let", "before", "after")
    first, second = ([[rally[key] for key in keep] for rally in item["rallies"]] for item in shown)
    assert first == second
    assert [g["score"] for g in shown[0]["games"]] == [g["score"] for g in shown[1]["games"]]


def test_a_dry_run_writes_nothing(library: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "demo.json"
    run(capsys, "match", "export", "demo", "--to", str(file), "--library", str(library))
    other = tmp_path / "other"
    assert run(capsys, "match", "import", str(file), "--dry-run", "--library", str(other))[0] == 0
    assert json.loads(run(capsys, "match", "list", "--json", "--library", str(other))[1]) == []


def test_handout_makes_a_pdf_and_a_page(
    library: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, _ = run(capsys, "handout", "make", "demo", "--to", str(tmp_path), "--library", str(library))
    assert code == 0
    pdf, html = (Path(line) for line in out.split())
    assert pdf.read_bytes().startswith(b"%PDF")
    assert "Imogen" in html.read_text(encoding="utf-8")


def test_footage_look_names_a_file_that_is_none(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "notes.mp4"
    file.write_text("hello")
    code, out, err = run(capsys, "footage", "look", str(file))
    assert (code, out) == (1, "")
    assert "notes.mp4" in err
    assert "Traceback" not in err


def test_the_page_needs_a_door_that_can_start_it(library: Path, capsys: pytest.CaptureFixture[str]) -> None:
    started: list[tuple[object, ...]] = []
    main(lambda *given: started.append(given), ["open", "--no-browser", "--library", str(library)])
    assert started == [(library, 0, False, None)]


def test_demo_with_no_open_only_builds(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, _, err = run(capsys, "demo", "--no-open", "--no-footage", "--library", str(tmp_path / "new"))
    assert code == 0
    assert "demo is in" in err
