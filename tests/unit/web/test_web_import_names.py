"""A file that was looked at is known by its mark again, however long its name."""

from __future__ import annotations

import json
from typing import Any


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
