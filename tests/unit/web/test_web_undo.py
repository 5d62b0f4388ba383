"""Every route that changes something has a way back, or a reason why there is none; the line with Undo works."""

from __future__ import annotations

import re
from datetime import date, timedelta
from typing import Any

import pytest
from lxml import html
from starlette.testclient import TestClient

from goodlength import tasks
from goodlength.record.model import Clip, Footage
from goodlength.tasks.practice.planned_sessions import sessions_in
from goodlength.web.routes import ROUTERS

LINE = "a line with Undo"  # tried below, each
ADDS = "adds something, which has a Remove of its own"
QUEUE = "what a computer works on: started, paused and stopped again on the same page"
LOG = "an answer in the log: one step back on the page, or another answer"
NOTHING = "changes nothing"
PATHS = "U undoes the corrections of a rally"
WAYS = {
    # by the line with Undo, from the bin
    "/matches/{match_id}/remove": LINE + "; a match of the demo is asked for, and made again with the demo",
    "/matches/{match_id}/details": LINE,
    "/matches/{match_id}/made/{name}/remove": LINE,
    "/matches/{match_id}/made/{job_id}/name": LINE,
    "/matches/{match_id}/handout": LINE,
    "/matches/{match_id}/handout/language": LINE,
    "/matches/{match_id}/handout/link": LINE,
    "/matches/{match_id}/talk": LINE,
    "/matches/{match_id}/between": LINE,
    "/matches/{match_id}/footage/{footage_id}/{way}": LINE,
    "/api/footage/{footage_id}/camera/forget": LINE,
    "/api/matches/{match_id}/serves/{rally}/forget": LINE + ", which saves the marks that still stand",
    "/players/{player_id}": LINE,
    "/players/{player_id}/consent": LINE,
    "/players/{player_id}/consent/withdraw": LINE + ", and a button that stays",
    "/practice/{player_id}/undo": LINE,
    "/practice/{player_id}/plans/{plan_id}/remove": LINE,
    "/practice/calendar/sessions/remove": LINE,
    "/practice/{player_id}/group": LINE,
    "/practice/{player_id}/recordings/{recording_id}/forget": LINE,
    "/practice/drills": LINE,
    "/practice/drills/retire": LINE,
    "/settings": LINE,
    "/settings/kinds": LINE,
    # another way
    "/api/settings/room": "the same button",
    "/settings/network/{state}": "the same switch",
    "/demo": "Remove the demo",
    "/demo/remove": "Add the demo: it is made again",
    "/bin/{item_id}/put-back": "Remove it again",
    "/players/{player_id}/consent/undo": "Withdraw consent",
    "/matches/{match_id}/review/adapt": "Undo: usual settings",
    "/matches/{match_id}/review/undo": "Adapt again",
    "/matches/{match_id}/review/again": ADDS,
    "/api/matches/{match_id}/review/{card_id}": LOG,
    "/api/matches/{match_id}/heard/{rally_id}": LOG,
    "/api/matches/{match_id}/heard": ADDS,
    "/api/matches/{match_id}/draft": LOG,
    "/api/matches/{match_id}/draft/accept": "Remove the draft from the sheet",
    "/api/matches/{match_id}/draft/take-back": "Add it again",
    "/api/matches/{match_id}/bulk/sample": "changes no answer; what was drawn stays, so that nobody draws again",
    "/api/matches/{match_id}/bulk/take": "Undo on the card: one step for all of them",
    "/api/matches/{match_id}/bulk/undo": "Take them again",
    "/api/matches/{match_id}/entries": LOG,
    "/api/matches/{match_id}/span": LOG,
    "/api/matches/{match_id}/serves/{rally}/kind": LOG,
    "/api/matches/{match_id}/serves/{rally}/keep": "Remove, with the line; what was measured before is in the log",
    "/api/matches/{match_id}/drawings": "Undo of the drawing",
    "/api/matches/{match_id}/drawings/{drawing_id}/remove": "Undo of the drawing",
    "/api/matches/{match_id}/body/joint": "move the joint back, or take the detected place again",
    "/api/matches/{match_id}/body/feet": NOTHING,
    "/api/matches/{match_id}/beside": "set the two serves as before; a line is taken away by itself",
    "/api/matches/{match_id}/names": "type the names before, here or on Details",
    "/matches/{match_id}/talk/shown": "a note of what took place stays, like the log of the match",
    "/api/footage/{footage_id}/camera": "Delete, with the line",
    # adds
    "/players": "Erase the player",
    "/matches": ADDS,
    "/matches/import/keep": ADDS,
    "/api/new-match-from-video": ADDS,
    "/matches/{match_id}/footage": ADDS,
    "/api/matches/{match_id}/footage/upload": ADDS,
    "/matches/{match_id}/clips": ADDS,
    "/search/highlights": ADDS,
    "/matches/{match_id}/plan": ADDS,
    "/practice/calendar/sessions": ADDS,
    "/aim/practise": ADDS,
    "/practice/{player_id}/recordings": ADDS,
    "/api/practice/{player_id}/sets": ADDS,
    "/matches/{match_id}/agree": "the other observer's log stands beside the own and changes nothing in it",
    "/settings/backup": "a file of its own; delete it like any file",
    "/api/settings/library": "open the library before again: nothing in it was changed",
    "/api/settings/restore/upload": "unpacked beside the library, which stays as it is",
    # work of the computer, and videos on their way
    "/matches/{match_id}/hear": QUEUE,
    "/matches/{match_id}/ball/{way}": QUEUE,
    "/matches/{match_id}/prepare/ball/{choice}": QUEUE,
    "/matches/{match_id}/split": QUEUE,
    "/matches/{match_id}/picture": QUEUE,
    "/matches/{match_id}/picture/cancel": QUEUE,
    "/matches/{match_id}/players": QUEUE,
    "/matches/{match_id}/prepare": QUEUE,
    "/matches/{match_id}/prepare/pause": QUEUE,
    "/matches/{match_id}/prepare/cancel": QUEUE,
    "/matches/{match_id}/prepare/skip/{step}": QUEUE,
    "/api/jobs/{job_id}/cancel": QUEUE,
    "/api/footage/{footage_id}/previews": QUEUE,
    "/api/matches/{match_id}/transfers": QUEUE,
    "/api/transfers/{transfer_id}/piece": QUEUE,
    "/api/transfers/{transfer_id}/finish": QUEUE,
    "/api/transfers/{transfer_id}/cancel": "Send it again",
    "/api/matches/{match_id}/abandon": "only an empty match whose video never came goes; send it again",
    # changes nothing
    "/matches/import": NOTHING,
    "/api/matches/{match_id}/handout/preview": NOTHING,
    "/api/matches/{match_id}/paths/{rally}/next": "press on: the paths come round again",
    "/api/matches/{match_id}/paths/{rally}/again": "works out again what is shown; corrections stay",
    "/api/matches/{match_id}/paths/{rally}/mark": PATHS,
    "/api/matches/{match_id}/paths/{rally}/strike": PATHS,
    "/api/matches/{match_id}/paths/{rally}/no-shot": PATHS,
    "/api/matches/{match_id}/paths/{rally}/undo": "nothing else is undone: mark the ball again",
    "/api/matches/{match_id}/serves/{rally}/try": NOTHING,
    "/api/matches/{match_id}/serves/{rally}/ball": NOTHING,
    "/tour/{number}": NOTHING,
    "/tour/leave": "Help starts it again",
    "/enter": NOTHING,
    "/leave": "Enter again",
    # no way back, and therefore a question
    "/players/{player_id}/erase": "none: a person's data are erased by law; the name has to be typed",
    "/bin/empty": "none: it is the end of every way back; a box has to be ticked",
    "/bin/{item_id}/delete": "none: it is the end of this way back; a box has to be ticked",
}


def test_every_route_that_changes_something_names_its_way_back() -> None:
    routes = {route.path for router in ROUTERS for route in router.routes if "POST" in route.methods}
    assert {"no way named": routes - WAYS.keys(), "no such route": WAYS.keys() - routes} == {
        "no way named": set(),
        "no such route": set(),
    }


def undo(client: TestClient, answer: Any) -> None:
    """Press Undo of the line on the page that an answer leads to."""
    address = answer.headers["location"]
    assert re.search(r"undo=[0-9a-f]{12}", address), address
    page = html.fromstring(client.get(address).content)
    (form,) = page.xpath("//div[@id='undo-place' and @role='status']//form")
    assert form.xpath("string(.//button)").split() == ["Undo", "Z"]
    fields = {field.get("name"): field.get("value") for field in form.xpath(".//input")}
    back = client.post(form.get("action"), data=fields)
    assert back.status_code == 303
    assert back.headers["location"] == re.sub(r"[?&](undo|done|made|kept)=[^&#]*|#.*", "", address)


@pytest.fixture
def player(library: Any, match_id: str) -> str:
    """The coached player, who has agreed to everything."""
    player_id = str(library.match_info(match_id).players[0])
    tasks.consent(library, player_id, given_by="Imogen Vale", purposes=("record", "clips", "handout"))
    return player_id


def test_a_match_goes_without_a_question_and_comes_back(
    client: TestClient, library: Any, match_id: str
) -> None:
    assert 'name="sure"' not in client.get(f"/matches/{match_id}/details").text
    gone = client.post(f"/matches/{match_id}/remove")
    assert not library.match_infos([match_id])
    undo(client, gone)
    assert library.match_info(match_id).id == match_id


def test_details_of_a_player_and_the_language_come_back(
    client: TestClient, library: Any, player: str
) -> None:
    before = library.player(player)
    changed = client.post(f"/players/{player}", data={"name": "Imogen Vail", "language": "de"})
    assert library.player(player).name == "Imogen Vail"
    undo(client, changed)
    assert library.player(player) == before
    assert tasks.player_language(library, player) == "en"


def test_a_consent_comes_back_as_it_was(client: TestClient, library: Any, player: str) -> None:
    before = library.player(player).consent
    form = {"given_by": "Imogen Vale", "on": "2026-01-02", "until": "2027-01-02", "purposes": "record"}
    undo(client, client.post(f"/players/{player}/consent", data=form))
    assert library.player(player).consent == before
    undo(client, client.post(f"/players/{player}/consent/withdraw"))
    assert library.player(player).consent == before


def test_details_of_a_match_come_back(client: TestClient, library: Any, match_id: str) -> None:
    before = library.match_info(match_id)
    form = {"a": "Imogen Vale", "b": "Oona Marsh", "coached": "a", "event": "Tideway Open"}
    changed = client.post(f"/matches/{match_id}/details", data=form)
    assert library.match_info(match_id).event == "Tideway Open"
    undo(client, changed)
    assert library.match_info(match_id) == before


def test_what_the_players_wear_tells_who_is_who_and_goes_with_the_match(
    client: TestClient, library: Any, match_id: str
) -> None:
    base = f"/matches/{match_id}"
    form = {"a": "Imogen Vale", "b": "Petra Lindqvist-Ode", "clothes_a": "red <shirt>"}
    changed = client.post(f"{base}/details", data=form)
    assert "Imogen Vale (red &lt;shirt&gt;), right-handed; Petra" in client.get(f"{base}/record").text
    assert 'value="red &lt;shirt&gt;"' in client.get(f"{base}/details").text
    exported = client.get(f"{base}/export/json").json()
    assert (exported["match"]["clothes_a"], "clothes_b" in exported["match"]) == ("red <shirt>", False)
    long = client.post(f"{base}/details", data={**form, "clothes_b": "x" * 61})
    assert (long.status_code, "at most 60 letters" in long.text) == (422, True)
    undo(client, changed)
    assert library.match_info(match_id).clothes_a == ""


def test_settings_kinds_and_drills_come_back(client: TestClient, library: Any) -> None:
    undo(client, client.post("/settings", data={"part": "handout", "club": "Saltmarsh Racquets"}))
    assert "club" not in library.settings()
    kinds = library.kinds()
    rows = {"id": [kind.id for kind in kinds], "words": ["High lob", *(kind.words for kind in kinds[1:])]}
    changed = client.post("/settings/kinds", data={**rows, "used": [kind.id for kind in kinds]})
    assert library.kinds()[0].words == "High lob"
    undo(client, changed)
    assert library.kinds() == kinds


def test_a_group_comes_back(client: TestClient, library: Any, player: str) -> None:
    client.post(f"/practice/{player}/group", data={"group": "Squad"})
    changed = client.post(f"/practice/{player}/group", data={"group": "Juniors"})
    assert tasks.groups_of(library) == {player: "Juniors"}
    undo(client, changed)
    assert tasks.groups_of(library) == {player: "Squad"}


def test_the_order_of_videos_and_a_start_time_come_back(
    client: TestClient, library: Any, match_id: str
) -> None:
    for n in (1, 2):
        file = Footage(f"f{n}", match_id, f"game {n}.mp4", n - 1, first_us=0, end_us=60_000_000)
        library.save_footage(file)
    before = library.footage(match_id)
    base = f"/matches/{match_id}/footage/f2"
    moved = client.post(f"{base}/earlier")
    assert [file.id for file in library.footage(match_id)] == ["f2", "f1"]
    undo(client, moved)
    assert library.footage(match_id) == before
    placed = client.post(f"{base}/place", data={"starts-f2": "2:00"})
    assert library.footage_file("f2").starts_us == 120_000_000
    client.post(f"{base}/place", data={"starts-f2": "3:00"})
    item = placed.headers["location"].rpartition("undo=")[2]
    assert client.post(f"/bin/{item}/put-back").status_code == 422  # it was changed again since
    assert library.footage_file("f2").starts_us == 180_000_000


def test_a_planned_session_comes_back(client: TestClient, library: Any, player: str) -> None:
    day = date.today() + timedelta(days=3)
    planned = {"player": player, "on": day.isoformat(), "words": "18:00,  court 2"}
    address = client.post("/practice/calendar/sessions", data=planned).headers["location"]
    assert "18:00, court 2" in client.get(address).text
    (session,) = sessions_in(library.practice(player))
    removed = {"player": player, "session": session.id, "month": f"{day:%Y-%m}"}
    gone = client.post("/practice/calendar/sessions/remove", data=removed)
    assert sessions_in(library.practice(player)) == ()
    undo(client, gone)
    assert sessions_in(library.practice(player)) == (session,)


def test_a_change_on_top_of_a_change_is_undone_first(client: TestClient, library: Any) -> None:
    first = client.post("/settings", data={"part": "handout", "club": "Saltmarsh"})
    client.post("/settings", data={"part": "handout", "club": "Tideway"})
    item = first.headers["location"].rpartition("undo=")[2]
    assert "Undo the newer change first." in client.get("/bin").text
    assert client.post(f"/bin/{item}/put-back").status_code == 422
    assert library.settings()["club"] == "Tideway"


def test_words_and_links_of_a_handout_come_back(
    client: TestClient, library: Any, match_id: str, player: str
) -> None:
    base = f"/matches/{match_id}/handout"
    client.post(base, data={"own": "First."})
    undo(client, client.post(base, data={"own": "Second."}))
    assert "First." in client.get(base).text and "Second." not in client.get(base).text
    undo(
        client,
        client.post(f"{base}/language", data={"own": "First.", "was_language": "en", "language": "de"}),
    )
    assert tasks.player_language(library, player) == "en"
    link = tasks.make_link(library, match_id)
    undo(client, client.post(f"{base}/link", data={"back": "1"}))
    assert tasks.match_of_link(library, link.token) == match_id


def test_a_video_and_a_clip_come_back(client: TestClient, library: Any, match_id: str) -> None:
    library.save_footage(Footage("f1", match_id, "game 1.mp4"))
    undo(client, client.post(f"/matches/{match_id}/footage/f1/remove"))
    assert [file.id for file in library.footage(match_id)] == ["f1"]
    path = library.folder / "clips" / "a-clip.mp4"
    path.parent.mkdir(exist_ok=True)
    path.write_text("x")
    library.save_clip(Clip("c1", match_id, str(path)))
    undo(client, client.post(f"/matches/{match_id}/made/c1/remove"))
    assert path.exists()


def test_a_list_to_show_comes_back(client: TestClient, library: Any, match_id: str, say: Any) -> None:
    say("r1", "winner", "a")
    form = {"rally-0": "r1", "role-0": "good", "cue-0": "Watch."}
    undo(client, client.post(f"/matches/{match_id}/talk", data=form))
    assert "Watch." not in client.get(f"/matches/{match_id}/talk").text


def test_the_line_leads_only_to_this_page(client: TestClient, library: Any, match_id: str) -> None:
    item = client.post(f"/matches/{match_id}/remove").headers["location"].rpartition("undo=")[2]
    back = client.post(f"/bin/{item}/put-back", data={"to": "https://example.org/"})
    assert back.headers["location"] == "/bin?done=back"
    assert "undo-line" not in client.get("/matches?undo=000000000000").text
    assert "undo-line" not in client.get("/matches?undo=../../x").text


def test_what_has_no_way_back_asks(client: TestClient, library: Any, match_id: str) -> None:
    item = client.post(f"/matches/{match_id}/remove").headers["location"].rpartition("undo=")[2]
    assert client.post(f"/bin/{item}/delete").status_code == 422
    assert client.post("/bin/empty").status_code == 422
    assert len(tasks.bin_items(library)) == 1


def test_an_erased_player_s_changes_go_from_the_bin(client: TestClient, library: Any, player: str) -> None:
    client.post(f"/players/{player}", data={"name": "Imogen Vail"})
    assert len(tasks.bin_items(library)) == 1
    tasks.erase_player(library, player)
    assert tasks.bin_items(library) == ()
