"""What a coach reads when a command is given something wrong: the value, and what is accepted."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from goodlength.cli.root_command import root


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("match", "new", "x", "x"), "The two players must differ."),
        (("match", "new", "x", "y", "--on", "2025-02-30"), "There is no day 2025-02-30."),
        (("match", "new", "x", "y", "--on", "11/10/2025"), "A day is written like 2026-11-25"),
        (("player", "export", "x", "--to", "x.csv"), "'x.csv' should end in .json."),
        (("match", "import", "gone.csv"), "Cannot find gone.csv. Check its name and folder."),
        (("show", "stills", "m", "4", "--finding", "f", "--out", "s.png"), "not both"),
    ],
)
def test_a_slip_is_told_in_plain_words(tmp_path: Path, arguments: tuple[str, ...], words: str) -> None:
    result = CliRunner().invoke(root, ["--library", str(tmp_path / "lib"), *arguments])
    assert result.exit_code != 0
    assert words in result.output + str(result.exception)


def test_a_library_made_on_the_way_is_said_once(tmp_path: Path) -> None:
    place = tmp_path / "mistyped"
    first, second = (CliRunner().invoke(root, ["match", "list", "--library", str(place)]) for _ in range(2))
    assert f"There was no library in {place}; an empty one was made." in first.output
    assert "There was no library" not in second.output
