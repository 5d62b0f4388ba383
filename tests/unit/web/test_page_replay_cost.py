"""What a page of a match costs: one replay at most, and few reads of the store."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

import goodlength.findings
from goodlength import tasks
from goodlength.record.model import EntryKind
from goodlength.synthetic.numbered_frame_video import Recipe, draw
from goodlength.tasks.sharing.video_session_playlist import save_review_list

PAGES = ("record", "findings", "footage", "plan", "show", "handout", "rallies", "camera")
MOST_READS = 5


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A film of one second."""
    return draw(tmp_path_factory.mktemp("film") / "f.mp4", Recipe(tuple(range(30)), sound=""))


@pytest.fixture
def full(library: Any, match_id: str, film: Path) -> str:
    """A match with a film, rallies logged and heard, consents, and a clip list."""
    footage = tasks.add_footage(library, match_id, film)
    for n in range(1, 12):
        tasks.answer(library, match_id, f"r{n}", EntryKind.KIND, "lob" if n % 2 else "drive")
        tasks.answer(library, match_id, f"r{n}", EntryKind.WINNER, "a" if n % 3 else "b")
    span = {"start_us": 100_000, "end_us": 400_000, "how": "marked"}
    tasks.answer(library, match_id, "r1", EntryKind.SPAN, span)
    for player, name in (("iv", "Imogen Vale"), ("plo", "Petra Lindqvist-Ode")):
        tasks.consent(library, player, given_by=name)
    (part,) = tasks.timeline_of(library, match_id).parts
    placed = {"id": footage.id, "starts_us": 0, "first_us": part.first_us, "end_us": part.end_us}
    heard = {"start_us": 100_000, "end_us": 400_000, "hits_us": [100_000], "doubtful": False, "why": ""}
    (library.folder / "heard").mkdir(exist_ok=True)
    (library.folder / "heard" / f"{match_id}.json").write_text(
        json.dumps({"films": [placed], "rallies": [heard], "by": "sound", "words": "", "knock_up_us": None})
    )
    return match_id


@pytest.mark.parametrize("page", PAGES)
def test_a_match_page_replays_once_and_reads_little(
    client: TestClient, full: str, page: str, cost: Any
) -> None:
    """Asked for the first time, with nothing kept from before."""
    cost.begin()
    answer = client.get(f"/matches/{full}/{page}")
    assert answer.status_code == 200
    assert cost.replays <= 1 and cost.reads <= MOST_READS


def test_an_answer_replays_once(client: TestClient, full: str, say: Any, cost: Any) -> None:
    """Stored, replayed, and the sheet made of that replay; ten reads before."""
    cost.begin()
    say("r12", "winner", "a")
    assert cost.replays == 1 and cost.reads <= MOST_READS


def test_a_handout_with_stills_replays_once(client: TestClient, library: Any, full: str, cost: Any) -> None:
    """Before: four times, by draft, findings, stills and the list of clips."""
    chosen = [{"rally": "r1", "role": "good", "cue": "Racket up"}]
    save_review_list(tasks.open_match(library, full), chosen, None)
    cost.begin()
    answer = client.post(f"/matches/{full}/handout", data={"stills": "1", "week": "1"})
    assert answer.headers["location"].endswith("made=1")  # with its still: else "full"
    assert cost.replays == 1 and cost.reads <= MOST_READS + 2  # what stood before and after, to be undone


def test_findings_are_worked_out_once_while_the_record_is_unchanged(
    client: TestClient, full: str, say: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On the handout's page, when it is made, on the plan's page; four times before."""
    counted, find = [], goodlength.findings.find
    monkeypatch.setattr(
        goodlength.findings, "find", lambda *given, **named: counted.append(1) or find(*given, **named)
    )
    for page in ("handout", "findings", "plan"):
        assert client.get(f"/matches/{full}/{page}").status_code == 200
    for _ in range(2):
        answer = client.post(f"/matches/{full}/handout", data={"week": "1"})
        assert answer.headers["location"].endswith("made=1")
    assert len(counted) == 1
    say("r13", "winner", "b")
    assert client.post(f"/matches/{full}/handout", data={"week": "1"}).status_code == 303
    assert len(counted) == 2
    tasks.consent(client.app.state.library, "plo", given_by="Petra", purposes=("clips",))  # type: ignore[attr-defined]
    client.get(f"/matches/{full}/handout")
    assert len(counted) == 3  # with the opponent unnamed now
