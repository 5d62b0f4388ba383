"""The published schema is the generated one, and what is written satisfies it."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import jsonschema
import jsonschema_rs
import pytest

from goodlength.record import DEFAULT_KINDS, Entry, EntryKind, MatchInfo, Player
from goodlength.record.entry_validation_schemas import VALUES, value_faults
from goodlength.record.import_export import Document, to_json
from goodlength.record.import_export.match_json_schema import match_schema, schema_text

PAGES = Path(__file__).parents[3] / "docs" / "reference"
VALIDATOR = jsonschema_rs.validator_for(match_schema())
GOOD = {
    EntryKind.SPAN: {"start_us": 1, "end_us": None, "how": "heard"},
    EntryKind.SHOT: {"n": 3, "by": "a", "stroke": "drop", "volley": True, "at_us": 5},
    EntryKind.CALLED: {"decision": "stroke", "to": "b", "points": [3, 4]},
    EntryKind.CONDUCT: {"to": "a", "game": True},
    EntryKind.RETIRED: {"side": "b", "why": "injured"},
    EntryKind.PLACE: {"after": None},
    EntryKind.REMOVE: True,
    EntryKind.MATCH: {"event": "Tideway Open"},
    EntryKind.KEEP: True,
    EntryKind.WINNER: "a",
    EntryKind.BOX: "left",
}


def document(*entries: Entry) -> dict:
    info = MatchInfo("m1", ("a1", "b1"))
    players = (Player("a1", "A"), Player("b1", "B"))
    return json.loads(to_json(Document(info, players, DEFAULT_KINDS, entries)))


def entry(what: EntryKind, value: object, replaces: str | None = None) -> Entry:
    return Entry("e1", "m1", "coach/t", datetime(2026, 3, 7, tzinfo=UTC), "r1", what, value, replaces)


def test_the_published_schema_is_the_generated_one():
    """To write it anew: `schema_text()` into docs/reference/match.schema.json."""
    assert (PAGES / "match.schema.json").read_text(encoding="utf-8") == schema_text()


def test_the_schema_is_a_schema():
    jsonschema.Draft202012Validator.check_schema(match_schema())


@pytest.mark.parametrize("what", [what for what in EntryKind if what in VALUES])
def test_what_may_be_stored_satisfies_the_schema_and_what_may_not_does_not(what):
    samples = [
        None,
        GOOD.get(what),
        "lob",
        "tight",
        "volleyed",
        "winner",
        "usual",
        "drive",
        "choice",
        "straight",
        9,
    ]
    samples += ["back-left", {"n": 0}, {"points": [1]}, 3.5, [], "x" * 3000]
    for value in samples:
        undo = "e0" if what is EntryKind.UNDO else None
        allowed = value_faults(what, value) == []
        plain = document(entry(what, value, undo))
        says = VALIDATOR.is_valid(plain)
        if what is EntryKind.CALLED and value == {"points": [1]}:
            assert not allowed
        assert says == allowed, (what, value)


def test_every_entry_is_explained_for_readers():
    page = (PAGES / "entries.md").read_text(encoding="utf-8")
    missing = [what.value for what in VALUES if f"`{what.value}`" not in page]
    assert missing == []
