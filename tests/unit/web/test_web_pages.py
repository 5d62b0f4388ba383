"""Every page and form: what it shows, what it keeps, what it says to bad input."""

from __future__ import annotations

import html
import json
import re
from datetime import date
from typing import Any

import pytest
from starlette.testclient import TestClient

from goodlength import tasks
from goodlength.findings import Grade
from goodlength.web.coach_settings import months_on, read_settings

GLOBAL_PAGES = ("/matches", "/players", "/aim", "/practice", "/settings")
MATCH_PAGES = ("details", "footage", "record", "findings", "show", "plan", "handout")


@pytest.mark.parametrize("path", GLOBAL_PAGES)
def test_a_global_page_stands_in_an_empty_library(client: TestClient, path: str) -> None:
    answer = client.get(path)
    assert answer.status_code == 200
    assert f'href="{path}" aria-current="page"' in answer.text
    assert "<main" in answer.text
    assert "style=" not in answer.text


@pytest.mark.parametrize("step", MATCH_PAGES)
def test_a_step_can_be_opened_before_anything_is_recorded(
    client: TestClient, match_id: str, step: str
) -> None:
    answer = client.get(f"/matches/{match_id}/{step}")
    assert answer.status_code == 200
    assert "Imogen Vale v Petra Lindqvist-Ode" in answer.text
    assert "style=" not in answer.text


def test_the_first_page_is_the_list_of_matches(client: TestClient) -> None:
    assert client.get("/").headers["location"] == "/matches"


def test_an_unknown_address_is_answered_by_a_page(client: TestClient) -> None:
    answer = client.get("/nowhere")
    assert answer.status_code == 404
    assert "This page does not exist" in answer.text


# ---- matches

FORM = {"a": "Imogen Vale", "b": "Petra Lindqvist-Ode", "coached": "a", "played_on": "2026-03-07"}


def test_a_match_is_begun_with_new_players(client: TestClient, library: Any) -> None:
    answer = client.post(
        "/matches", data=FORM | {"points": "3-2", "games": "1-0", "server": "b", "tin": "0.43"}
    )
    assert answer.status_code == 303
    assert re.fullmatch(r"/matches/\w+/footage", answer.headers["location"])
    (info,) = library.matches()
    assert [player.name for player in tasks.players(library)] == ["Imogen Vale", "Petra Lindqvist-Ode"]
    assert (info.start.games, info.start.points, info.start.server) == ((1, 0), (3, 2), "b")
    assert (info.tin_height_m, info.played_on) == (0.43, date(2026, 3, 7))


def test_a_known_name_is_the_known_player(client: TestClient, library: Any, match_id: str) -> None:
    client.post("/matches", data=FORM | {"a": "  imogen   vale "})
    assert len(tasks.players(library)) == 2
    assert len(library.matches()) == 2


def test_the_same_name_twice_in_details_adds_nobody(client: TestClient, library: Any, match_id: str) -> None:
    answer = client.post(f"/matches/{match_id}/details", data=FORM | {"a": "New Name", "b": "new  name"})
    assert answer.status_code == 422 and "must differ" in answer.text
    assert len(tasks.players(library)) == 2


def test_after_a_fault_the_field_is_shown_and_equal_names_are_told_apart(client: TestClient) -> None:
    told = client.post("/matches", data=FORM | {"a": "Imogen Vale", "b": "imogen vale"}).text
    assert ">player 1</label>" in told and ">imogen vale</label>" not in told
    fault = client.post("/matches", data=FORM | {"points": "abc"}).text
    assert fault.count(" autofocus") == 1 and 'aria-invalid="true" autofocus' in fault


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"a": ""}, "A player needs a name"),
        ({"b": "imogen vale"}, "must differ"),
        ({"played_on": "7.3.26"}, "year-month-day"),
        ({"points": "three"}, "is not a score"),
        ({"system": "tennis"}, "is not one of the choices"),
        ({"points": "14-3"}, "Not saved yet"),
        ({"best_of": "four"}, "whole number"),
    ],
)
def test_a_wrong_match_is_told_and_nothing_typed_is_lost(
    client: TestClient, library: Any, wrong: dict[str, str], said: str
) -> None:
    answer = client.post("/matches", data=FORM | {"event": "Tideway Open"} | wrong)
    assert answer.status_code == 422
    assert said in answer.text
    assert 'value="Tideway Open"' in answer.text
    assert library.matches() == () and list(tasks.players(library)) == []  # before: the names stayed


def test_details_are_changed_and_the_score_worked_out_again(
    client: TestClient, library: Any, match_id: str, say: Any
) -> None:
    say("r1", "winner", "a")
    data = FORM | {"points": "5-5", "server": "a", "event": "Final", "depth": "score"}
    assert client.post(f"/matches/{match_id}/details", data=data).status_code == 303
    assert library.match_info(match_id).event == "Final"
    assert tasks.show_match(library, match_id).rallies[0].before == (5, 5)


@pytest.mark.parametrize(
    ("kind", "beginning"), [("json", b"{"), ("csv", b"\xef\xbb\xbf"), ("vtt", b"WEBVTT")]
)
def test_a_match_is_taken_out(
    client: TestClient, match_id: str, say: Any, kind: str, beginning: bytes
) -> None:
    say("r1", "span", {"start_us": 1_000_000, "end_us": 2_000_000, "how": "marked"})
    say("r1", "winner", "a")
    answer = client.get(f"/matches/{match_id}/export/{kind}")
    assert answer.status_code == 200
    assert answer.content.startswith(beginning) or kind == "csv"
    assert "attachment" in answer.headers["content-disposition"]


def test_another_kind_of_export_is_refused(client: TestClient, match_id: str) -> None:
    answer = client.get(f"/matches/{match_id}/export/xlsx")
    assert answer.status_code == 404
    assert "json, csv, vtt" in answer.text


def test_a_match_is_removed(client: TestClient, library: Any, match_id: str) -> None:
    assert client.post(f"/matches/{match_id}/remove").status_code == 303
    assert library.matches() == ()


# ---- import


def test_a_match_is_looked_at_before_it_is_imported(
    client: TestClient, library: Any, match_id: str, say: Any
) -> None:
    say("r1", "winner", "a")
    taken = client.get(f"/matches/{match_id}/export/json").content
    client.post(f"/matches/{match_id}/remove")
    looked = client.post("/matches/import", files={"file": ("a match.json", taken)})
    assert looked.status_code == 200
    assert "1 rally" in looked.text
    assert library.matches() == ()
    token = re.search(r'name="token" value="([^"]+)"', looked.text).group(1)
    kept = client.post("/matches/import/keep", data={"token": token})
    assert kept.headers["location"] == "/matches/m1/record"
    assert len(library.entries("m1")) == 1
    assert list((library.folder / "uploads").iterdir()) == []


def test_a_looked_at_file_can_be_left(client: TestClient, library: Any, match_id: str) -> None:
    taken = client.get(f"/matches/{match_id}/export/json").content
    looked = client.post("/matches/import", files={"file": ("m.json", taken)})
    token = re.search(r'name="token" value="([^"]+)"', looked.text).group(1)
    assert client.post("/matches/import/keep", data={"token": token, "leave": "yes"}).status_code == 303
    assert list((library.folder / "uploads").iterdir()) == []


@pytest.mark.parametrize(
    ("name", "data"), [("m.json", b"hello"), ("m.exe", b"MZ"), ("m.csv", b"\x00\x01\x02"), ("m.json", b"")]
)
def test_what_is_no_match_is_refused_in_words_and_not_kept(
    client: TestClient, library: Any, name: str, data: bytes
) -> None:
    answer = client.post("/matches/import", files={"file": (name, data)})
    assert answer.status_code == 422, answer.text
    assert 'role="alert"' in answer.text
    assert "Traceback" not in answer.text
    assert list((library.folder / "uploads").iterdir()) == []


@pytest.mark.parametrize(
    "token", ["", "../library.sqlite", "deadbeef-import-../x", "0" * 8 + "-import-none.json"]
)
def test_a_token_reaches_only_what_was_looked_at(client: TestClient, token: str) -> None:
    assert client.post("/matches/import/keep", data={"token": token}).status_code == 404


def test_no_file_is_said(client: TestClient) -> None:
    answer = client.post("/matches/import", data={"file": ""})
    assert answer.status_code == 422
    assert "Choose a file or paste a table first" in answer.text


# ---- players


def test_a_player_is_added_changed_and_listed(client: TestClient, library: Any) -> None:
    answer = client.post("/players", data={"name": "Oona Marsh-Tallis", "hand": "left", "junior": "yes"})
    (player,) = tasks.players(library)
    assert answer.headers["location"] == f"/players/{player.id}"
    assert (player.hand, player.junior) == ("left", True)
    client.post(f"/players/{player.id}", data={"name": "Oona Tallis", "hand": "right", "born_year": "1990"})
    (player,) = tasks.players(library)
    assert (player.name, player.hand, player.junior, player.born_year) == (
        "Oona Tallis",
        "right",
        False,
        1990,
    )
    assert "Oona Tallis" in client.get("/players").text


@pytest.mark.parametrize(
    ("data", "said"),
    [
        ({"name": " "}, "needs a name"),
        ({"name": "A", "born_year": "x"}, "whole number"),
        ({"name": "A", "born_year": "1700"}, "Born in 1700"),
        ({"name": "A", "hand": "both"}, "right or left"),
    ],
)
def test_a_wrong_player_is_told(client: TestClient, library: Any, data: dict[str, str], said: str) -> None:
    answer = client.post("/players", data=data)
    assert answer.status_code == 422
    assert said in answer.text
    assert tasks.players(library) == ()


def test_a_name_is_never_markup(client: TestClient) -> None:
    client.post("/players", data={"name": "<script>alert(1)</script>"})
    html = client.get("/players").text
    assert "<script>alert" not in html
    assert "&lt;script&gt;alert" in html


def test_consent_is_written_down_taken_back_and_told(client: TestClient, library: Any, match_id: str) -> None:
    data = {
        "given_by": "Imogen Vale",
        "when": "2026-03-01",
        "until": "2099-03-01",
        "purposes": ["record", "clips"],
    }
    assert client.post("/players/iv/consent", data=data).status_code == 303
    assert library.player("iv").consent.purposes == ("record", "clips")
    assert "<details><summary>New consent</summary>" in client.get("/players/iv").text  # folded
    assert "Given by Imogen Vale on 1 March 2026, valid until 1 March 2099" in client.get("/players/iv").text
    assert client.post("/players/iv/consent/withdraw").status_code == 303
    assert library.player("iv").consent.purposes == ()
    assert "Withdrawn on" in client.get("/players/iv").text
    assert client.get("/players/iv").text.count("for record, clips") == 1  # the history keeps it


@pytest.mark.parametrize(
    ("data", "said"),
    [
        ({"given_by": "", "purposes": ["clips"]}, "name of the person"),
        ({"given_by": "X", "purposes": []}, "Choose at least one purpose"),
        (
            {"given_by": "X", "when": "2026-05-01", "until": "2026-04-01", "purposes": ["clips"]},
            "before it is given",
        ),
        ({"given_by": "X", "when": "soon", "purposes": ["clips"]}, "year-month-day"),
        ({"given_by": "X", "purposes": ["posters"]}, "posters"),
    ],
)
def test_a_consent_that_cannot_be_is_told(
    client: TestClient, library: Any, match_id: str, data: dict[str, Any], said: str
) -> None:
    answer = client.post("/players/iv/consent", data=data)
    assert answer.status_code == 422
    assert said in answer.text
    assert library.player("iv").consent is None


def test_a_junior_needs_a_parent(client: TestClient, library: Any) -> None:
    player = tasks.add_player(library, "Robin Vale", junior=True)
    answer = client.post(
        f"/players/{player.id}/consent", data={"given_by": "Robin Vale", "purposes": ["clips"]}
    )
    assert answer.status_code == 422
    assert "parent must agree" in answer.text


def test_what_is_held_about_a_player_is_handed_over(client: TestClient, match_id: str) -> None:
    answer = client.get("/players/iv/export")
    assert json.loads(answer.content)["player"]["name"] == "Imogen Vale"
    assert "attachment" in answer.headers["content-disposition"]


def test_erasing_asks_for_the_name_and_gives_an_account(
    client: TestClient, library: Any, match_id: str
) -> None:
    assert client.post("/players/iv/erase", data={"sure": "somebody"}).status_code == 422
    assert len(library.matches()) == 1
    answer = client.post("/players/iv/erase", data={"sure": "imogen vale"})
    assert answer.status_code == 200
    assert "1 matches" in answer.text or "1 match" in answer.text
    assert library.matches() == ()
    assert [player.id for player in tasks.players(library)] == ["plo"]


# ---- settings


def test_settings_are_kept_and_bad_ones_are_told(client: TestClient, library: Any) -> None:
    data = {"part": "recording", "observer": "Ness", "lead_s": "1,5", "extras": ["ending.stroke"]}
    assert client.post("/settings", data=data).status_code == 303
    kept = read_settings(library)
    assert (kept.observer, kept.lead_s, kept.extras) == ("Ness", 1.5, ("ending.stroke",))
    for wrong in (
        {"lead_s": "long"},
        {"lead_s": "-1"},
        {"observer": "a/b"},
        {"observer": ""},
        {"extras": ["all"]},
    ):
        answer = client.post("/settings", data=data | wrong)
        assert answer.status_code == 422
        assert read_settings(library) == kept


def test_a_setting_that_cannot_be_read_falls_back(library: Any) -> None:
    library.set_setting("lead_s", "never")
    library.set_setting("room", 7)
    assert (read_settings(library).lead_s, read_settings(library).room) == (2.0, "system")


def test_extra_questions_come_into_the_script(client: TestClient, match_id: str) -> None:
    client.post(
        "/settings",
        data={"part": "recording", "observer": "coach", "lead_s": "2", "extras": ["ending.stroke"]},
    )
    script = client.get(f"/api/matches/{match_id}/sheet").json()["script"]
    assert [item["id"] for item in script["questions"] if item["extra"]] == ["ending.stroke"]


def test_kinds_of_serve_are_renamed_added_and_retired(client: TestClient, library: Any) -> None:
    known = library.kinds()
    ids = [kind.id for kind in known] + [""]
    words = ["High lob"] + [kind.words for kind in known[1:]] + ["Off the side wall"]
    used = [kind.id for kind in known if kind.id != "hard"]
    answer = client.post("/settings/kinds", data={"id": ids, "words": words, "used": used})
    assert answer.status_code == 303
    kinds = {kind.id: kind for kind in library.kinds()}
    assert kinds["lob"].words == "High lob"
    assert kinds["hard"].retired
    assert kinds["off-the-side-wall"].words == "Off the side wall"


def test_a_new_kind_sent_twice_is_one_kind(client: TestClient, library: Any) -> None:
    """Before: the second post, of a page that had not heard of the first, retired it and made "nick-2"."""
    known = library.kinds()
    ids = [kind.id for kind in known] + [""]
    words = [kind.words for kind in known] + ["Nick"]
    for said in (words, ["High lob", *words[1:-1], "nick"]):
        answer = client.post("/settings/kinds", data={"id": ids, "words": said, "used": ids[:-1]})
        assert answer.status_code == 303
    kinds = library.kinds()
    assert [(kind.id, kind.retired) for kind in kinds] == [(name, False) for name in (*ids[:-1], "nick")]
    assert (kinds[0].words, kinds[-1].words) == ("High lob", "nick")


def test_kinds_that_cannot_be_are_told(client: TestClient, library: Any) -> None:
    before = library.kinds()
    ids = [kind.id for kind in before]
    answer = client.post("/settings/kinds", data={"id": ids, "words": [""] * len(ids), "used": ids})
    assert answer.status_code == 422
    assert "Not saved yet" in answer.text
    assert library.kinds() == before


@pytest.mark.parametrize(
    ("months", "day"), [(12, date(2027, 8, 31)), (1, date(2026, 9, 30)), (6, date(2027, 2, 28))]
)
def test_months_on(months: int, day: date) -> None:
    assert months_on(date(2026, 8, 31), months) == day


def test_the_font_comes_from_its_package(client: TestClient) -> None:
    answer = client.get("/fonts/700-normal.ttf")
    assert answer.headers["content-type"] == "font/ttf"
    assert answer.content[:4] == b"\x00\x01\x00\x00"
    assert client.get("/fonts/900-normal.ttf").status_code == 404


# ---- findings and handout


def answered(client: TestClient, library: Any, match_id: str, say: Any) -> tuple[list[str], dict[str, str]]:
    """Eight lobs answered, the player's consent written down: findings by key, and the page's own words."""
    for n in range(8):
        say(f"r{n}", "serve.kind", "lob")
        say(f"r{n}", "return.left", "loose" if n % 2 else "tight")
        say(f"r{n}", "winner", "a")
    tasks.consent(library, "iv", given_by="Imogen Vale", purposes=("handout",))
    page = client.get(f"/matches/{match_id}/handout").text
    was = dict(re.findall(r'name="(was:[^"]+)" value="([^"]*)"', page))
    return re.findall(r'name="chosen" value="([^"]+)"', page), {k: html.unescape(v) for k, v in was.items()}


def test_a_handout_takes_no_finding_without_enough_data_unless_chosen(
    client: TestClient, library: Any, match_id: str, say: Any
) -> None:
    """Before: the first three findings were ticked whatever their grade."""
    keys, _was = answered(client, library, match_id, say)
    page = client.get(f"/matches/{match_id}/handout").text
    opened = tasks.open_match(library, match_id)
    without = {finding.key for finding in opened.findings().all if finding.grade is Grade.TOO_FEW}
    assert without & set(keys)
    assert not without & set(re.findall(r'name="chosen" value="([^"]+)" checked', page))
    assert {finding.grade for finding in tasks.draft_handout(opened).data.findings} == {"plain"}
    data = {"chosen": keys[:1], "own": "Well played."}
    assert client.post(f"/matches/{match_id}/handout", data=data).status_code == 303
    assert f'value="{keys[0]}" checked' in client.get(f"/matches/{match_id}/handout").text


def test_findings_and_handout_of_a_written_match(
    client: TestClient, library: Any, match_id: str, say: Any
) -> None:
    keys, was = answered(client, library, match_id, say)
    for side in ("a", "b", "nonsense"):
        assert client.get(f"/matches/{match_id}/findings?side={side}").status_code == 200
    assert "has not agreed to be named" in client.get(f"/matches/{match_id}/handout").text
    data = {**was, "chosen": keys[:1], f"headline:{keys[0]}": "Good lobs.", "own": "Well played."}
    assert client.post(f"/matches/{match_id}/handout", data=data).status_code == 303
    made = client.get(f"/matches/{match_id}/handout/file/html")
    assert "Good lobs." in made.text
    assert "Petra" not in made.text  # she has not agreed
    assert client.get(f"/matches/{match_id}/handout/file/pdf").content[:5] == b"%PDF-"
    assert ">Good lobs.</textarea>" in client.get(f"/matches/{match_id}/handout").text
    client.post(f"/matches/{match_id}/remove")
    left = {path.name: path.stat().st_size for path in (library.folder / "handouts").iterdir()}
    assert left in ({}, {".json.lock": 0})  # erased with the match; the lock of the folder is empty


def test_a_handout_made_before_consent_was_withdrawn_is_held_back(
    client: TestClient, library: Any, match_id: str, say: Any
) -> None:
    """Before: the PDF that names her stayed one press away."""
    keys, was = answered(client, library, match_id, say)
    tasks.consent(library, "plo", given_by="Petra Lindqvist-Ode")
    file = f"/matches/{match_id}/handout/file/pdf"
    client.post(f"/matches/{match_id}/handout", data={**was, "chosen": keys[:1], "own": "Beat Petra."})
    assert client.get(file).status_code == 200
    tasks.consent(library, "plo", given_by="Petra Lindqvist-Ode", purposes=())
    refused = client.get(file)
    assert (refused.status_code, "it names Petra Lindqvist-Ode" in refused.text) == (403, True)
    page = client.get(f"/matches/{match_id}/handout").text
    assert "Held back: it names Petra" in page and file not in page
    client.post(f"/matches/{match_id}/handout", data={**was, "chosen": keys[:1], "own": "Well played."})
    assert client.get(file).status_code == 200  # made again without the name
    tasks.consent(library, "iv", given_by="Imogen Vale", purposes=())
    assert "Held back: Imogen Vale" in client.get(file).text


def test_words_typed_over_figures_that_changed_are_put_back(
    client: TestClient, library: Any, match_id: str, say: Any
) -> None:
    keys, was = answered(client, library, match_id, say)
    words = f"words:{keys[0]}"
    data = {**was, "chosen": keys[:1], words: was[f"was:{words}"], f"headline:{keys[0]}": "Good lobs."}
    client.post(f"/matches/{match_id}/handout", data=data)
    say("r8", "serve.kind", "lob")
    say("r8", "return.left", "loose")
    say("r8", "winner", "a")
    fresh = client.get(f"/matches/{match_id}/handout").text
    assert was[f"was:{words}"] not in html.unescape(fresh)  # the program's old count does not stand
    typed = {**data, words: "All eight lobs were good."}
    client.post(f"/matches/{match_id}/handout", data=typed)
    assert "The data changed after you wrote “All eight" in client.get(f"/matches/{match_id}/handout").text


def test_no_handout_without_consent_and_no_name_in_own_words(
    client: TestClient, library: Any, match_id: str, say: Any
) -> None:
    keys, was = answered(client, library, match_id, say)
    named = client.post(
        f"/matches/{match_id}/handout", data={**was, "chosen": keys[:1], "own": "Beat Petra."}
    )
    assert named.status_code == 422
    assert "Your words name the opponent (Petra)" in named.text
    tasks.consent(library, "iv", given_by="Imogen Vale", purposes=())
    refused = client.post(f"/matches/{match_id}/handout", data={**was, "chosen": keys[:1]})
    assert refused.status_code == 422
    assert "No handout of Imogen Vale can be made" in refused.text
    assert client.get(f"/matches/{match_id}/handout/file/pdf").status_code == 404


def test_a_handout_that_cannot_be_made_is_told(
    client: TestClient, library: Any, match_id: str, say: Any
) -> None:
    tasks.consent(library, "iv", given_by="Imogen Vale", purposes=("handout",))
    for n in range(8):
        say(f"r{n}", "serve.kind", "lob")
        say(f"r{n}", "winner", "a")
    keys = re.findall(r'name="chosen" value="([^"]+)"', client.get(f"/matches/{match_id}/handout").text)
    many = client.post(f"/matches/{match_id}/handout", data={"chosen": [*keys, "a", "b", "c"]})
    assert many.status_code == 422
    assert "at most 3" in many.text
    gone = client.post(f"/matches/{match_id}/handout", data={"chosen": ["nothing"]})
    assert gone.status_code == 422
    assert "choose again" in gone.text
    assert client.get(f"/matches/{match_id}/handout/file/pdf").status_code == 404
    long = client.post(f"/matches/{match_id}/handout", data={"own": "far too long. " * 2000})
    assert long.status_code == 422
    assert "far too long." in long.text


@pytest.mark.parametrize(
    ("chosen", "media"),
    [(None, "(prefers-color-scheme: dark)"), ("light", "not all"), ("dim", "all")],
)
def test_the_screen_is_dark_as_the_device_says_until_the_coach_chooses(
    client: TestClient, library: Any, chosen: str | None, media: str
) -> None:
    if chosen:
        library.set_setting("room", chosen)
    page = client.get("/settings").text
    assert f'id="dark-tokens" media="{media}"' in page
    assert "Switch to dark" in page  # the button says what it does, not what is
