"""The bin as a page: what was removed is listed, put back, deleted."""

from __future__ import annotations

from goodlength import tasks
from goodlength.record.model import Footage


def removed(client, library, match_id: str) -> str:
    client.post(f"/matches/{match_id}/remove", data={"sure": "yes"})
    return tasks.bin_items(library)[0].id


def test_a_removal_is_undone_on_the_page(client, library, match_id, say) -> None:
    say("r1", "winner", "a")
    item = removed(client, library, match_id)
    assert "undo this" in client.get("/matches?done=removed").text
    assert "Imogen Vale" in client.get("/bin").text
    assert client.post(f"/bin/{item}/put-back").headers["location"] == "/bin?done=back"
    assert client.get("/bin?done=back").text.count("It is back in its place.") == 1
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
    client.post(f"/bin/{item}/delete")
    assert tasks.bin_items(library) == ()


def test_the_footage_page_says_what_goes_before_it_removes(client, library, match_id) -> None:
    library.save_footage(Footage("f1", match_id, "game 1.mp4"))
    text = client.get(f"/matches/{match_id}/footage").text
    assert "stays where it is" in text and "for 30 days" in text
    assert "only its name is known" in text  # and the page offers to add it
    assert "Take off the list" not in text
    client.post(f"/matches/{match_id}/footage/f1/remove")
    assert [one.title for one in tasks.bin_items(library)] == ["game 1.mp4"]


def test_settings_lead_to_the_bin(client) -> None:
    assert 'href="/bin"' in client.get("/settings").text
