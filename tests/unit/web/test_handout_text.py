"""What was typed on the handout page: read back as stored; damage is told and never overwritten."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from lxml import html
from starlette.testclient import TestClient

from goodlength import tasks
from goodlength.record.entry_sequence_builder import EntryWriter

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
    told = '"fields": {}, "own": "Well played.", "stills": false, "week": true, "turning": false, '
    told += '"back": false, "watched": false, "language": "", "grades": {}}'
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


def test_the_preview_is_shown_in_a_frame_of_this_page_only(client: TestClient, match_id: str) -> None:
    page = client.get(f"/matches/{match_id}/handout").text
    assert f'src="/matches/{match_id}/handout/preview"' in page
    frame = client.get(f"/matches/{match_id}/handout/preview")
    assert "frame-ancestors 'self'" in frame.headers["content-security-policy"]
    assert "script-src" not in frame.headers["content-security-policy"]
    assert frame.headers["x-frame-options"] == "SAMEORIGIN"
    assert client.get(f"/matches/{match_id}/handout").headers["x-frame-options"] == "DENY"


def test_the_preview_takes_what_is_typed_and_saves_nothing(
    client: TestClient, library: Any, match_id: str
) -> None:
    answer = client.post(f"/api/matches/{match_id}/handout/preview", data={"own": "A <b>lob</b>."})
    assert answer.status_code == 200
    assert "A &lt;b&gt;lob&lt;/b&gt;." in answer.json()["body"]
    assert not (Path(library.folder) / "handouts").exists()
    stored(library, match_id, DAMAGED[0])
    assert client.get(f"/matches/{match_id}/handout/preview").status_code == 200


def test_the_language_is_chosen_beside_the_preview(client: TestClient, library: Any, match_id: str) -> None:
    player = library.match_info(match_id).players[0]
    pen = EntryWriter(match_id)
    for n in range(8):
        pen.rally(f"r{n}", kind=("lob", "hard")[n % 2], how="volleyed", left="loose", winner="ab"[n % 2])
    library.append(pen.entries)
    typed = {"own": "Gut.", "was_language": "en", "words:plain:well": "Mine.", "was:words:plain:well": "Old."}
    base = f"/matches/{match_id}/handout"
    assert client.post(f"{base}/language", data={**typed, "language": "de"}).status_code == 303
    assert tasks.player_language(library, player) == "de"
    page = client.get(base).text
    assert "Gut." in page and "You wrote “Mine.” for the handout in English." in page
    assert '<html lang="de">' in client.get(f"{base}/preview").text
    # Create with another language than the sentences sent are in only changes the language
    created = client.post(base, data={"own": "Gut.", "was_language": "de", "language": "en"})
    assert created.headers["location"].partition("?undo=")[0] == base
    assert tasks.player_language(library, player) == "en"
    refused = client.post(f"{base}/language", data={**typed, "language": "tlh"})
    assert refused.status_code == 422 and "There is no language" in refused.text
    assert tasks.player_language(library, player) == "en"


def test_nothing_without_enough_data_is_chosen_by_itself(
    client: TestClient, library: Any, match_id: str
) -> None:
    pen = EntryWriter(match_id)
    for n in range(8):
        pen.rally(f"r{n}", kind=("lob", "hard")[n % 2], how="volleyed", left="loose", winner="ab"[n % 2])
    library.append(pen.entries)
    base = f"/matches/{match_id}/handout"
    tree = html.fromstring(client.get(base).content)
    chosen = tree.xpath("//input[@name='chosen' and @checked]/@value")
    assert chosen and all(key.startswith("plain:") for key in chosen)
    few = next(key for key in tree.xpath("//input[@name='chosen']/@value") if not key.startswith("plain:"))
    kept = {"own": "", "chosen": few, f"grade:{few}": "too-few"}  # the coach's own choice stays
    client.post(base, data=kept)
    tree = html.fromstring(client.get(base).content)
    assert tree.xpath("//input[@name='chosen' and @checked]/@value") == [few]
    client.post(base, data={**kept, f"grade:{few}": "leaning"})  # it had a grade when it was chosen
    page = client.get(base)
    assert not html.fromstring(page.content).xpath("//input[@name='chosen' and @checked]")
    assert "is not chosen any more" in page.text


def test_a_handout_that_waits_for_a_consent_leads_to_where_it_is_saved(
    client: TestClient, library: Any, match_id: str
) -> None:
    player = tasks.open_match(library, match_id).coached
    where = f"/players/{player.id}#consent"
    assert where in client.get(f"/matches/{match_id}/handout").text
    tasks.consent(library, player.id, given_by=player.name)
    assert where not in client.get(f"/matches/{match_id}/handout").text
