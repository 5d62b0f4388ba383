"""What a coach asks for about players, matches and answers, through the public functions."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from goodlength import tasks
from goodlength.errors import ConsentMissing, InputError, NotFound, RulesError
from goodlength.forms.match_rally_and_probe_json import match_form, match_list_form
from goodlength.record import Depth, EntryKind, Footage, Player
from goodlength.record.entry_sequence_builder import EntryWriter
from goodlength.scoring import Format, Side, Start, System


@pytest.fixture
def library(tmp_path):
    with tasks.open_library(tmp_path / "lib") as opened:
        tasks.add_player(opened, "Imogen Vale", player_id="iv")
        tasks.add_player(opened, "Petra Lindqvist-Ode", hand="left", player_id="pl")
        yield opened


@pytest.fixture
def match(library):
    return tasks.new_match(
        library, ("iv", "pl"), match_id="m1", start=Start(server=Side.A), event="Tideway Open"
    )


def played(library, rallies: int = 3) -> None:
    pen = EntryWriter("m1", mark="e")
    for n in range(rallies):
        pen.rally(f"r{n + 1}", span=(n * 10**7, n * 10**7 + 8 * 10**6), box="right", kind="lob", left="tight")
        pen.write(f"r{n + 1}", EntryKind.WINNER, "b" if n % 2 else "a")
    tasks.record_answers(library, "m1", pen.entries)


def test_the_list_of_matches_has_the_form_others_rely_on(library, match):
    played(library)
    (form,) = match_list_form(tasks.list_matches(library))
    assert (form["id"], form["title"], form["rallies"]) == ("m1", "Imogen Vale v Petra Lindqvist-Ode", 3)


def test_a_match_shown_has_the_form_others_rely_on(library, match):
    played(library)
    form = match_form(tasks.show_match(library, "m1"), "title")
    assert [game["score"] for game in form["games"]] == [[2, 1]]
    first, second, _ = form["rallies"]
    keys = {"n", "game", "server", "box", "call", "serve_kind", "return_left", "start_s", "end_s"}
    assert keys <= set(first)
    assert (first["n"], first["game"], first["server"], first["box"]) == (1, 1, "iv", "right")
    assert (first["call"], first["serve_kind"], first["return_left"]) == ("1–love", "lob", "tight")
    assert (second["start_s"], second["end_s"], second["winner"]) == (10.0, 18.0, "pl")
    assert {fault["code"] for fault in form["faults"]} == {"wrong-box"}
    assert form["next"]["server"] == "iv"


def test_an_unknown_server_is_null_and_a_proposed_box_is_said_to_be_one(library):
    tasks.new_match(library, ("iv", "pl"), match_id="m1")
    shown = tasks.answer(library, "m1", "r1", EntryKind.WINNER, "a").match
    (rally,) = match_form(shown)["rallies"]
    assert (rally["server"], rally["box_known"]) == (None, False)


def test_a_match_needs_players_a_known_format_and_an_id_of_its_own(library, match):
    with pytest.raises(NotFound, match="nobody"):
        tasks.new_match(library, ("iv", "nobody"))
    with pytest.raises(RulesError, match="to 21"):
        tasks.new_match(library, ("iv", "pl"), format=Format(System.RALLY, 21))
    with pytest.raises(InputError, match="already"):
        tasks.new_match(library, ("iv", "pl"), match_id="m1")
    with pytest.raises(InputError, match="differ"):
        tasks.new_match(library, ("iv", "iv"))
    with pytest.raises(InputError, match="tin"):
        tasks.new_match(library, ("iv", "pl"), tin_height_m=0.9)


def test_changing_details_replays_the_record_under_them(library, match):
    played(library, 4)
    tasks.change_match(library, "m1", format=Format(System.HAND_OUT, 9, 5, "2001"), depth=Depth.SCORE)
    shown = tasks.show_match(library, "m1")
    assert shown.games[0].points == (1, 0)
    with pytest.raises(InputError, match="colour"):
        tasks.change_match(library, "m1", colour="red")
    with pytest.raises(RulesError):
        tasks.change_match(library, "m1", start=Start(points=(30, 2)))


def test_answers_of_another_match_are_refused(library, match):
    entry = EntryWriter("m2").write("r1", EntryKind.WINNER, "a")
    with pytest.raises(InputError, match="'m2'"):
        tasks.record_answers(library, "m1", [entry])


def test_undo_and_redo_and_a_repeated_undo_is_one(library, match):
    tasks.answer(library, "m1", "r1", EntryKind.WINNER, "a")
    tasks.answer(library, "m1", "r2", EntryKind.WINNER, "a")
    assert tasks.undo(library, "m1", key="u1").match.next.points == (1, 0)
    again = tasks.undo(library, "m1", key="u1")
    assert (again.new, again.match.next.points) == ((False,), (1, 0))
    assert tasks.redo(library, "m1").match.next.points == (2, 0)
    tasks.undo(library, "m1")
    assert tasks.undo(library, "m1").match.rallies == ()
    with pytest.raises(NotFound, match="nothing to"):
        tasks.undo(library, "m1")


def test_times_outside_the_footage_are_faults(library, match):
    library.save_footage(Footage("f1", "m1", "/one.mp4", 0, first_us=500_000, end_us=10_500_000))
    library.save_footage(Footage("f2", "m1", "/two.mp4", 1, first_us=0, end_us=5_000_000))
    assert tasks.timeline_of(library, "m1").length_us == 15_000_000
    played(library, 3)
    codes = [(fault.key, fault.code) for fault in tasks.show_match(library, "m1").faults]
    assert ("r2", "span-outside") in codes
    assert ("r1", "span-outside") not in codes


def test_rallies_after_a_film_that_was_stopped_are_not_faults(library, match):
    library.save_footage(Footage("f1", "m1", "/one.mp4", 0, first_us=0, end_us=9_000_000))
    for n, start in enumerate((1, 12, 20), 1):
        span = {"start_us": start * 1_000_000, "end_us": start * 1_000_000 + 5_000_000, "how": "marked"}
        tasks.answer(library, "m1", f"r{n}", EntryKind.SPAN, span)
    assert "span-outside" not in [fault.code for fault in tasks.show_match(library, "m1").faults]
    tasks.answer(
        library, "m1", "r4", EntryKind.SPAN, {"start_us": 7_000_000, "end_us": 8_000_000, "how": "marked"}
    )
    codes = [(fault.key, fault.code) for fault in tasks.show_match(library, "m1").faults]
    assert ("r2", "span-outside") in codes


@pytest.mark.parametrize(
    ("name", "more", "words"),
    [
        ("  ", {}, "name"),
        ("X", {"hand": "both"}, "right or left"),
        ("X", {"born_year": 1600}, "1600"),
        ("X", {"player_id": "iv"}, "already"),
        ("X", {"player_id": "a/b"}, "letters"),
    ],
)
def test_a_badly_described_player_is_refused_in_words(library, name, more, words):
    with pytest.raises(InputError, match=words):
        tasks.add_player(library, name, **more)


def test_ids_hold_no_name(library):
    assert "vale" not in tasks.add_player(library, "Ada Vale").id


def test_consent_names_who_when_and_until(library):
    agreed = tasks.consent(library, "iv", given_by=" Imogen  Vale ", when=date(2026, 1, 31), months=1).consent
    assert (agreed.given_by, agreed.until) == ("Imogen Vale", date(2026, 2, 28))
    assert tasks.has_agreed(library.player("iv"), "clips", date(2026, 2, 28))
    assert not tasks.has_agreed(library.player("iv"), "clips", date(2026, 3, 1))
    assert not tasks.has_agreed(library.player("iv"), "clips", date(2026, 1, 30))
    tasks.consent(library, "iv", given_by="Imogen Vale", purposes=())
    assert not tasks.has_agreed(library.player("iv"), "record")
    assert len(library.consents("iv")) == 2


def test_a_juniors_consent_comes_from_a_parent(library):
    child = tasks.add_player(library, "Nell Vale", junior=True)
    with pytest.raises(InputError, match="a parent must agree"):
        tasks.consent(library, child.id, given_by="nell vale")
    assert tasks.consent(library, child.id, given_by="Ada Vale").consent is not None
    assert tasks.is_junior(Player("x", "X", born_year=2010), date(2026, 1, 1))
    assert not tasks.is_junior(Player("x", "X", born_year=2000), date(2026, 1, 1))


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"given_by": "X", "purposes": ("fame",)}, "fame"),
        ({"given_by": " "}, "name of the person"),
        ({"given_by": "X", "when": date(2026, 2, 1), "until": date(2026, 1, 1)}, "cannot end before"),
    ],
)
def test_a_consent_that_cannot_be_is_refused(library, more, words):
    with pytest.raises(InputError, match=words):
        tasks.consent(library, "iv", **more)


def test_every_player_of_a_match_must_have_agreed(library, match):
    with pytest.raises(ConsentMissing, match=r"Imogen Vale and Petra.*save it on the player's page"):
        tasks.require_consent(tasks.players_of(library, match), "clips", "The clip")
    tasks.consent(library, "iv", given_by="Imogen Vale")
    with pytest.raises(ConsentMissing, match="from Petra Lindqvist-Ode"):
        tasks.require_consent(tasks.players_of(library, match), "clips", "The clip")
    tasks.consent(library, "pl", given_by="Petra Lindqvist-Ode", purposes=("record",))
    with pytest.raises(ConsentMissing, match="no consent in force"):
        tasks.require_consent(tasks.players_of(library, match), "clips", "The clip")
    tasks.consent(library, "pl", given_by="Petra Lindqvist-Ode", purposes=("clips",))
    tasks.require_consent(tasks.players_of(library, match), "clips", "The clip")


def test_consents_that_run_out_are_listed(library):
    tasks.consent(library, "iv", given_by="X", when=date(2025, 1, 1), until=date(2026, 1, 10))
    tasks.consent(library, "pl", given_by="X", when=date(2025, 1, 1), until=date(2026, 6, 1))
    (soon,) = tasks.expiring_consents(library, 30, date(2026, 1, 1))
    assert (soon.player, soon.days_left) == ("iv", 9)


def made_files(library) -> dict[str, object]:
    folder = library.folder
    outside = folder.parent / "film of imogen.mp4"
    files = {
        "proxy": folder / "proxies" / "f1.mp4",
        "proxy table": folder / "proxies" / "f1.frames.npz",
        "table": folder / "proxies" / "f1.original.frames.npz",
        "upload": folder / "uploads" / "u.mp4",
        "clip": folder.parent / "a clip.mp4",
        "original": outside,
    }
    for path in files.values():
        path.write_bytes(b"film")
    library.save_footage(
        Footage("f1", "m1", str(outside), 0, proxy="proxies/f1.mp4", frames="proxies/f1.original.frames.npz")
    )
    library.save_footage(Footage("f2", "m1", str(files["upload"]), 1, copied=True))
    from goodlength.record import Clip

    library.save_clip(Clip("c1", "m1", str(files["clip"]), "r1"))
    (folder / "jobs").mkdir(exist_ok=True)
    note = {"state": "done", "args": {"src": str(outside)}}
    (folder / "jobs" / "j1.json").write_text(json.dumps(note))
    return files


def test_erasing_takes_record_files_and_traces_and_gives_an_account(library, match):
    played(library)
    tasks.answer(library, "m1", "r1", EntryKind.NOTE, "unmistakable-note-on-imogen")
    files = made_files(library)
    looked = tasks.erase_player(library, "iv", dry_run=True)
    assert (looked.done, looked.matches, looked.entries) == (False, 1, 16)
    assert all(path.exists() for path in files.values())
    erased = tasks.erase_player(library, "iv")
    assert [name for name, path in files.items() if path.exists()] == ["clip", "original"]
    assert erased.clips_elsewhere == (str(files["clip"]),) and str(files["clip"]) in erased.words
    assert [player.id for player in library.players()] == ["pl"]
    assert not (library.folder / "jobs" / "j1.json").exists()
    for file in library.folder.glob("library.sqlite3*"):
        assert b"unmistakable-note" not in file.read_bytes()
        assert b"Imogen" not in file.read_bytes()
    assert "film of imogen.mp4" in erased.words
    kept = Path(erased.account).read_text(encoding="utf-8")
    assert "imogen" not in kept.casefold()
    assert "1 match with 16 answers" in kept


def test_handouts_reels_and_links_go_with_the_person(library, match):
    (library.folder / "handouts").mkdir()
    tasks.consent(library, "iv", given_by="Imogen Vale")
    tasks.consent(library, "pl", given_by="Petra Lindqvist-Ode")
    link = tasks.make_link(library, "m1")
    going = [
        "handouts/handout-m1.pdf",
        "handouts/handout-m1.json",
        "handouts/m1-pack-1.zip",
        "clips/m1-reel-x.mp4",
    ]
    staying = ["handouts/handout-m10.pdf", "clips/m10-reel-x.mp4"]
    for name in going + staying:
        (library.folder / name).write_bytes(b"of the person")
    erased = tasks.erase_player(library, "iv")
    assert [name for name in going + staying if (library.folder / name).exists()] == staying
    assert len(erased.files) == len(going)
    with pytest.raises(NotFound):
        tasks.match_of_link(library, link.token)


def test_originals_go_only_when_asked(library, match):
    files = made_files(library)
    tasks.erase_player(library, "iv", originals=True)
    assert not files["original"].exists()


def test_files_that_another_match_uses_stay(library, match):
    files = made_files(library)
    third = tasks.add_player(library, "Ada Reed", player_id="ar")
    tasks.new_match(library, (third.id, "pl"), match_id="m2")
    library.save_footage(replace(library.footage_file("f1"), id="f9", match="m2"))
    erased = tasks.erase_player(library, "iv", originals=True)
    assert (files["proxy"].exists(), files["original"].exists(), files["clip"].exists()) == (
        True,
        True,
        True,  # saved outside the library: named, never deleted
    )
    assert erased.originals == ()


def test_a_record_from_elsewhere_cannot_have_other_files_deleted(library, match, tmp_path):
    precious = tmp_path / "precious.txt"
    precious.write_text("x")
    library.save_footage(
        Footage("f1", "m1", str(precious), copied=True, proxy=str(precious), frames="../precious.txt")
    )
    tasks.remove_match(library, "m1")
    assert precious.exists()


def test_the_older_copies_are_named(library, match):
    copy = library.folder / "library.sqlite3.before-0001"
    copy.write_bytes(b"x")
    assert str(copy) in tasks.erase_player(library, "iv").words


def test_a_check_names_footage_that_is_gone(library, match):
    library.save_footage(Footage("f1", "m1", "/nowhere/film.mp4"))
    state = tasks.library_check(library)
    assert (state.players, state.matches) == (2, 1)
    assert any("/nowhere/film.mp4" in problem for problem in state.problems)
