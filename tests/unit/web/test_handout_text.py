"""What was typed on the handout page: read back as stored; damage is told and never overwritten."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from goodlength import tasks
from goodlength.record.sequential_entry_writer import EntryWriter

STORED = (
    '{"form": 1, "chosen": [], "fields": {"headline:x": {"said": "Good lobs.", "was": "Lobs."}}, '
    '"own": "Well played.", "stills": false, "week": true}'
)
DAMAGED = ("{", '{"chosen": [1], "fields": {}, "own": ""}', '{"chosen": [], "fields": {"a": 3}, "own": ""}')


def stored(library: Any, match_id: str, text: str) -> Path:
    """Write what the page kept before."""
    path = Path(library.folder) / "handouts" / f"handout-{match_id}.json"
    path.parent.mkdir(exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize("text", DAMAGED)
def test_damaged_text_is_told_and_not_overwritten(
    client: TestClient, library: Any, match_id: str, text: str
) -> None:
    """Before: shown as if nothing had been typed, and what was JSON of another shape overwritten."""
    path = stored(library, match_id, text)
    shown = client.get(f"/matches/{match_id}/handout")
    assert "typed for this handout cannot be read" in shown.text and path.name in shown.text
    refused = client.post(f"/matches/{match_id}/handout", data={"own": "Typed anew."})
    assert (refused.status_code, "Typed anew." in refused.text) == (422, True)
    assert "typed for this handout cannot be read" in refused.text
    assert path.read_text(encoding="utf-8") == text


def test_stored_text_is_read_as_before(client: TestClient, library: Any, match_id: str) -> None:
    stored(library, match_id, STORED)
    shown = client.get(f"/matches/{match_id}/handout")
    assert shown.status_code == 200 and "Well played." in shown.text and "Good lobs." in shown.text
    path = stored(library, match_id, STORED.replace(', "stills": false, "week": true', ""))
    assert "Well played." in client.get(f"/matches/{match_id}/handout").text
    client.post(f"/matches/{match_id}/handout", data={"own": "Well played.", "week": "1"})
    told = '"fields": {}, "own": "Well played.", "stills": false, "week": true, "turning": false}'
    written = path.read_text(encoding="utf-8")
    assert written.startswith('{"form": 2, "chosen": [], ' + told[:-1] + ', "crc32": "')


def test_the_language_is_chosen_on_the_player_s_page_and_read_on_the_handout(
    client: TestClient, library: Any, match_id: str
) -> None:
    pen = EntryWriter(match_id)
    for n in range(8):
        pen.rally(f"r{n}", kind=("lob", "hard")[n % 2], how="volleyed", left="loose", winner="ab"[n % 2])
    library.append(pen.entries)
    player = library.match_info(match_id).players[0]
    details = {"name": library.player(player).name, "hand": "right"}
    assert client.post(f"/players/{player}", data={**details, "language": "de"}).status_code == 303
    assert 'name="language" value="de" checked' in client.get(f"/players/{player}").text
    page = client.get(f"/matches/{match_id}/handout").text
    assert "Worauf folgen öfter schwache Returns" in page
    assert "Which draws weak returns more often" in page  # what the finding is, for the coach
    client.post(f"/players/{player}", data=details)
    assert tasks.player_language(library, player) == "de"  # a form without the question changes nothing
    answer = client.post(f"/players/{player}", data={**details, "language": "tlh"})
    assert answer.status_code == 422
    assert tasks.player_language(library, player) == "de"
    client.post(f"/players/{player}", data={**details, "language": "en"})
    assert tasks.player_language(library, player) == "en"
