"""The bin as a page: what was removed is listed, put back, deleted."""

from __future__ import annotations

import pytest

from goodlength import tasks
from goodlength.errors import DamagedFile
from goodlength.files.library_layout import bin_folder, frame_drawings_file
from goodlength.files.locked_json_file import JsonFile
from goodlength.record.model import Clip, Footage


def removed(client, library, match_id: str) -> str:
    client.post(f"/matches/{match_id}/remove")
    return tasks.bin_items(library)[0].id


def test_a_removal_is_undone_on_the_page(client, library, match_id, say) -> None:
    say("r1", "winner", "a")
    item = removed(client, library, match_id)
    assert "Imogen Vale" in client.get("/bin").text
    assert client.post(f"/bin/{item}/put-back").headers["location"] == "/bin?done=back"
    assert client.get("/bin?done=back").text.count("Restored.") == 1
    assert len(tasks.show_match(library, match_id).rallies) == 1
    assert client.post(f"/bin/{item}/put-back").status_code == 422


def test_the_bin_is_emptied_by_hand_only_when_sure(client, library, match_id) -> None:
    removed(client, library, match_id)
    assert client.post("/bin/empty", data={}).status_code == 422
    assert len(tasks.bin_items(library)) == 1
    assert client.post("/bin/empty", data={"sure": "yes"}).status_code == 303
    assert "The bin is empty." in client.get("/bin").text


def test_one_thing_is_deleted(client, library, match_id) -> None:
    item = removed(client, library, match_id)
    client.post(f"/bin/{item}/delete", data={"sure": "yes"})
    assert tasks.bin_items(library) == ()


def test_the_footage_page_says_what_goes_before_it_removes(client, library, match_id) -> None:
    library.save_footage(Footage("f1", match_id, "game 1.mp4"))
    text = client.get(f"/matches/{match_id}/footage").text
    assert "stays where it is" in text and "for 30 days" in text
    assert "only its name is known" in text  # and the page offers to add it
    assert "Take off the list" not in text
    client.post(f"/matches/{match_id}/footage/f1/remove")
    assert [bin_item.title for bin_item in tasks.bin_items(library)] == ["game 1.mp4"]


def test_settings_lead_to_the_bin(client) -> None:
    assert 'href="/bin"' in client.get("/settings").text


def test_a_clip_is_removed_on_the_show_page_and_undone(client, library, match_id) -> None:
    path = library.folder / "clips" / "a-clip.mp4"
    path.parent.mkdir(exist_ok=True)
    path.write_text("x")
    library.save_clip(Clip("c1", match_id, str(path)))
    show = client.get(f"/matches/{match_id}/show").text
    assert f'action="/matches/{match_id}/made/c1/remove"' in show
    done = client.post(f"/matches/{match_id}/made/c1/remove")
    assert "Removed: a-clip.mp4." in client.get(done.headers["location"]).text
    assert not path.exists()
    assert "Clip or other file with 1 file." in client.get("/bin").text
    client.post(f"/bin/{tasks.bin_items(library)[0].id}/put-back")
    assert path.exists()
    assert client.post(f"/matches/{match_id}/made/none/remove").status_code == 422


def test_plans_and_sets_are_removed_and_undone(client, library) -> None:
    player = tasks.add_player(library, "Imogen Vale").id
    plan = {"items": [], "sessions": 2, "begins": "2026-11-16", "check_on": "2026-12-16", "cautions": []}
    first = tasks.save_plan(library, player, plan)
    tasks.log_set(library, player, "six-corners", 5, 8, set_id="s1")
    for way, form in ((f"plans/{first}/remove", {}), ("undo", {"set": "s1"})):
        done = client.post(f"/practice/{player}/{way}", data=form)
        assert "Removed: " in client.get(done.headers["location"]).text
    assert tasks.plans_of(library, player) == ()
    kinds = {bin_item.kind: bin_item.id for bin_item in tasks.bin_items(library)}
    assert set(kinds) == {"plan", "set"}
    for item in kinds.values():
        client.post(f"/bin/{item}/put-back")
    assert [element for element, _ in tasks.plans_of(library, player)] == [first]
    assert client.post(f"/practice/{player}/plans/none/remove").status_code == 404


def test_a_withdrawal_says_what_it_holds_back_and_is_undone(client, library, match_id) -> None:
    info = library.match_info(match_id)
    player = info.players[0]
    tasks.consent(library, player, given_by="A parent", purposes=("clips",))
    tasks.remove_match(library, match_id)
    address = f"/players/{player}"
    assert "Held back until consent is given again: 1 thing in the bin." in client.get(address).text
    assert client.post(f"{address}/consent/undo").status_code == 422
    client.post(f"{address}/consent/withdraw")
    page = client.get(address).text
    assert "given by A parent on" in page and "Undo the withdrawal" in page
    assert client.post(f"{address}/consent/undo").headers["location"].endswith("?done=given-back")
    assert library.player(player).consent.purposes == ("clips",)
    assert [item.refusal for item in tasks.bin_items(library) if item.kind == "match"] == [""]


def test_no_folder_of_this_computer_is_named_where_the_bin_cannot_be_read(client, library, match_id) -> None:
    """Before: the error named the folder, on another device too."""
    item = removed(client, library, match_id)
    (path,) = (bin_folder(library.folder) / item).glob("*.json")
    plain = JsonFile(path).read()
    JsonFile(path).write({**plain, "rows": {}})
    answer = client.post(f"/bin/{item}/put-back")
    assert answer.status_code == 422
    assert "what the bin holds of it cannot be read" in answer.text
    assert str(library.folder) not in answer.text
    path.write_text("{")
    with pytest.raises(DamagedFile) as refused:
        JsonFile(path).read()
    assert str(path) in str(refused.value) and str(library.folder) not in refused.value.page_words


def test_details_say_that_an_export_goes_without_its_drawings(client, library, match_id) -> None:
    path = frame_drawings_file(library.folder, match_id)
    assert "Drawings are not in it" not in client.get(f"/matches/{match_id}/details").text
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("{")
    text = client.get(f"/matches/{match_id}/details").text
    assert "Drawings are not in it" in text and str(library.folder) not in text
    assert client.get(f"/matches/{match_id}/export/json").status_code == 200
