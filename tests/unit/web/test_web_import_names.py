"""A file that was looked at is known by its mark again, however long its name."""

from __future__ import annotations

import json
import re
from typing import Any

from goodlength.tasks.library.table_import_columns import TEMPLATE, remembered_columns

CLUB = "Game\tServing\tSide\tPoint\tWeather\n1\tSP\tR\tSP\tdry\n1\tSP\tL\tOD\tdry\n"


def form_of(text: str) -> dict[str, str]:
    """The import form as the page shows it."""
    fields = dict(re.findall(r'<input (?!type="checkbox")[^>]*name="(\w+)" value="([^"]*)"', text))
    for name, options in re.findall(r'<select name="([\w-]+)"(.*?)</select>', text, re.DOTALL):
        chosen = re.search(r'<option value="(\w+)" selected', options)
        fields[name] = chosen[1] if chosen else ""
    return fields


def test_a_pasted_table_is_previewed_changed_agreed_to_and_remembered(client: Any, library: Any) -> None:
    looked = client.post("/matches/import", data={"pasted": CLUB})
    assert looked.status_code == 200
    sent = form_of(looked.text)
    assert [sent[f"column-{n}"] for n in range(5)] == ["game", "server", "box", "winner", ""]
    assert (sent["written_a"], sent["written_b"]) == ("SP", "OD")
    changed = {**sent, "column-4": "note", "name_a": "Sam Pell", "name_b": "Ola Dun"}
    shown = client.post("/matches/import/keep", data=changed)  # Import pressed on what was not shown yet
    assert "Nothing was saved yet" in shown.text
    assert library.matches() == ()
    assert "Game 1, rally 1: Sam" in shown.text
    done = client.post("/matches/import/keep", data=form_of(shown.text))
    assert done.status_code == 303
    assert sorted(player.name for player in library.players()) == ["Ola Dun", "Sam Pell"]
    assert remembered_columns(library)["weather"] == "note"
    again = form_of(client.post("/matches/import", data={"pasted": CLUB.replace("dry", "wet")}).text)
    assert again["column-4"] == "note"
    assert again["name_a"] == "Sam Pell"  # known by the initials


def test_what_is_not_understood_stands_with_its_line_and_can_be_skipped(client: Any, library: Any) -> None:
    table = CLUB + "1\tOD\tX\tOD\tdry\n"
    told = client.post("/matches/import", data={"pasted": table}).text
    assert (
        '<th scope="row" class="tab">4</th><td>“side”: &#39;X&#39; is not known; it can be right, left.</td>'
        in told
    )
    refused = client.post("/matches/import/keep", data=form_of(told))
    assert refused.status_code == 422
    assert library.matches() == ()
    assert client.post("/matches/import/keep", data={**form_of(told), "keep_going": "yes"}).status_code == 303


def test_the_template_reads_without_a_problem(client: Any) -> None:
    sent = client.get("/matches/import/template.csv")
    assert sent.text.lstrip("\ufeff") == TEMPLATE.lstrip("\ufeff")
    told = client.post("/matches/import", files={"file": ("t.csv", sent.content)}).text
    assert "Sam Pell v Ola Dun" in told
    assert "Not understood" not in told


def test_a_workbook_and_an_empty_form_are_refused_in_words(client: Any, library: Any) -> None:
    told = client.post("/matches/import", files={"file": ("rallies.xlsx", b"PK")})
    assert told.status_code == 422
    assert "is a workbook" in told.text
    assert "Choose a file or paste a table first" in client.post("/matches/import", data={"pasted": " "}).text
    assert list((library.folder / "uploads").iterdir()) == []


def test_a_long_name_keeps_its_mark_and_can_be_imported(client: Any, library: Any) -> None:
    plain = {
        "format": "goodlength match",
        "version": 1,
        "match": {"id": "imp", "players": ["a", "b"]},
        "players": [{"id": "a", "name": "Sam Pell"}, {"id": "b", "name": "Ola Dun"}],
        "entries": [],
    }
    file = ("x" * 100 + ".json", json.dumps(plain))
    assert client.post("/matches/import", files={"file": file}).status_code == 200
    (kept,) = (library.folder / "uploads").iterdir()
    assert "-import-" in kept.name
    assert client.post("/matches/import/keep", data={"token": kept.name}).status_code == 303
    assert [info.id for info in library.matches()] == ["imp"]
    assert not kept.exists()
