"""Search over matches against plain reading of the replayed record, and a player's matches for findings."""

from __future__ import annotations

import dataclasses
import shutil
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from goodlength import tasks
from goodlength.errors import InputError, NotFound, UnclearError
from goodlength.forms.findings.season_search_json import search_form
from goodlength.record import EntryKind
from goodlength.record.tables.rally_table_building import rally_table
from goodlength.scoring import Side, Start
from goodlength.tasks.findings.season_search import (
    SeasonQuestion,
    count_each,
    forget_season,
    matches_of,
    search,
)
from goodlength.tasks.people.player_records_and_consent import player_called

IMOGEN, PETRA, OONA = "demo-imogen-vale", "demo-petra-lindqvist-ode", "demo-oona-marsh-tallis"


@pytest.fixture(scope="module")
def library(tmp_path_factory, demo_library):
    folder = tmp_path_factory.mktemp("season")
    shutil.copytree(demo_library, folder, dirs_exist_ok=True)
    with tasks.open_library(folder) as opened:
        yield opened


class Replayed(list):
    """The demo's matches, replayed."""

    def __repr__(self):
        return "the demo's matches"


@pytest.fixture(scope="module")
def replayed(library):
    return Replayed(tasks.show_match(library, row.id) for row in tasks.list_matches(library))


def fits(match, rally, asked: SeasonQuestion) -> bool:
    """The same question, asked of a replayed rally without any database."""
    ids = match.info.players
    server, winner = ids[rally.server.place], None if rally.winner is None else ids[rally.winner.place]
    me = asked.player
    wins = winner is not None and not rally.let and winner == (me or server)
    loses = winner is not None and not rally.let and winner != (me or server)
    mine = rally.before[ids.index(me)] - rally.before[1 - ids.index(me)] if me in ids else 0
    total, least = sum(rally.before), min(rally.before)
    left = None if rally.ret.left is None else rally.ret.left.value
    checks = [
        me is None or me in ids,
        asked.opponent is None or asked.opponent in ids,
        asked.role is None or (server == me) is (asked.role == "serving"),
        asked.outcome is None or (wins if asked.outcome == "won" else loses),
        asked.kind is None or rally.serve.kind == asked.kind,
        asked.box is None or (rally.box_known and rally.box.value == asked.box),
        asked.how is None or (rally.ret.how is not None and rally.ret.how.value == asked.how),
        asked.left is None or (left in ("loose", "not-made") if asked.left == "weak" else left == asked.left),
        asked.ending is None or (rally.ending is not None and rally.ending.value == asked.ending),
        asked.stroke is None
        or (rally.ending_stroke is not None and rally.ending_stroke.value == asked.stroke),
        asked.game is None or rally.game == asked.game,
        asked.since is None or match.info.played_on >= asked.since,
        asked.phase != "first-points" or total < 4,
        asked.phase != "late" or least >= 8,
        asked.phase != "middle" or (total >= 4 and least < 8),
        asked.phase != "ahead" or mine > 0,
        asked.phase != "level" or mine == 0,
        asked.phase != "behind" or mine < 0,
    ]
    return all(checks)


def some(*values):
    return st.sampled_from([None, None, *values])


QUESTIONS = st.builds(
    SeasonQuestion,
    player=some(IMOGEN, PETRA),
    opponent=some(OONA, PETRA),
    role=some("serving", "receiving"),
    outcome=some("won", "lost"),
    kind=some("lob", "hard", "body-feet"),
    box=some("right", "left"),
    how=some("volleyed", "not-made"),
    left=some("weak", "tight", "attacked"),
    ending=some("winner", "let", "unforced-error"),
    stroke=some("drop", "drive"),
    game=some(1, 3, 7),
    phase=some("first-points", "middle", "late", "ahead", "level", "behind"),
    since=some(date(2025, 10, 1)),
)


@settings(max_examples=40, deadline=None)
@given(asked=QUESTIONS)
def test_a_search_finds_what_plain_reading_finds(library, replayed, asked):
    if asked.player is None:
        phase = None if asked.phase in ("ahead", "level", "behind") else asked.phase
        asked = dataclasses.replace(asked, role=None, phase=phase)
    wanted = {
        (match.info.id, rally.key)
        for match in replayed
        for rally in match.rallies
        if rally.key != match.open_key and fits(match, rally, asked)
    }
    found = search(library, asked, limit=1000)
    assert {(row.match, row.key) for row in found.rows} == wanted
    assert (found.total, found.matches) == (len(wanted), len({match for match, _ in wanted}))
    assert found.lets == sum(row.let for row in found.rows)
    assert found.decided == sum(row.winner is not None for row in found.rows)
    assert found.won <= found.decided <= found.total


def test_rows_carry_call_time_and_number_as_the_record_page_says_them(library, replayed):
    found = search(library, SeasonQuestion(match="demo"))
    match = next(item for item in replayed if item.info.id == "demo")
    assert [row.call for row in found.rows] == [rally.call for rally in match.rallies]
    assert [row.n for row in found.rows] == [rally.n for rally in match.rallies]
    for row, rally in zip(found.rows, match.rallies, strict=True):
        assert row.start_s == (None if rally.start_us is None else rally.start_us / 1e6)
    assert found.rows[0].title == "Imogen Vale v Petra Lindqvist-Ode"


def test_the_words_name_what_the_counts_are_out_of(library):
    found = search(library, SeasonQuestion(player=IMOGEN, match="demo"))
    assert found.lets
    assert f"Imogen Vale won {found.won} of {found.decided}" in found.words
    assert "excluded" in found.words
    assert found.decided == found.total - found.lets
    assert search(library, SeasonQuestion(game=9)).words.startswith("No rally matches")
    assert search(library, SeasonQuestion(), limit=3).words.endswith("The newest 3 are listed.")


def test_players_are_found_by_id_name_or_part_of_it(library):
    people = library.players()
    assert player_called(people, IMOGEN).id == IMOGEN
    assert player_called(people, "petra").id == PETRA
    assert player_called(people, "Oona Marsh-Tallis ").id == OONA
    with pytest.raises(UnclearError, match="Imogen Vale"):
        player_called(people, "a")
    with pytest.raises(NotFound, match="'Zed'"):
        player_called(people, "Zed")
    with pytest.raises(NotFound):
        player_called(people, " ")


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"kind": "smash"}, "lob"),
        ({"box": "middle"}, "right, left"),
        ({"left": "soft"}, "tight"),
        ({"phase": "end"}, "first-points"),
        ({"ending": "ace"}, "winner"),
        ({"stroke": "smash"}, "drop"),
        ({"place": "moon"}, "front-left"),
        ({"to": "moon"}, "cross-court"),
        ({"how": "badly"}, "volleyed"),
        ({"role": "umpire"}, "serving"),
        ({"outcome": "drawn"}, "won, lost"),
        ({"role": "serving"}, "--player"),
        ({"phase": "ahead"}, "--player"),
    ],
)
def test_an_option_that_means_nothing_is_refused_with_what_would_do(library, asked, words):
    with pytest.raises(InputError, match=words):
        search(library, SeasonQuestion(**asked))


def test_no_such_match_and_no_rallies_to_show(library):
    with pytest.raises(NotFound, match="'nope'"):
        search(library, SeasonQuestion(match="nope"))
    with pytest.raises(InputError, match="1 or more"):
        search(library, SeasonQuestion(), limit=0)


def test_an_empty_library_finds_nothing_and_says_so(tmp_path):
    with tasks.open_library(tmp_path / "new") as empty:
        found = search(empty, SeasonQuestion())
        assert (found.total, found.rows, found.demo_left_out) == (0, (), False)


def test_kinds_by_the_coachs_words(library):
    by_words = search(library, SeasonQuestion(kind="Body, bouncing at the feet"))
    assert by_words.total == search(library, SeasonQuestion(kind="body-feet")).total > 0


@pytest.fixture
def mixed(tmp_path, demo_library):
    """The demo beside a match of the coach's own."""
    shutil.copytree(demo_library, tmp_path / "lib")
    with tasks.open_library(tmp_path / "lib") as opened:
        tasks.add_player(opened, "Ada Own", player_id="ada")
        tasks.add_player(opened, "Bo Own", player_id="bo")
        tasks.new_match(opened, ("ada", "bo"), match_id="own", start=Start(server=Side.A))
        tasks.answer(opened, "own", "r1", EntryKind.WINNER, "a")
        yield opened


def test_demo_matches_stay_out_unless_asked_for_or_alone(mixed):
    out = search(mixed, SeasonQuestion())
    assert (out.total, out.demo_left_out) == (1, True)
    everything = search(mixed, SeasonQuestion(with_demo=True))
    assert everything.total > 200
    assert not everything.demo_left_out
    of_demo_player = search(mixed, SeasonQuestion(player=IMOGEN))
    assert of_demo_player.total > 200
    assert search(mixed, SeasonQuestion(with_demo=False, player=IMOGEN)).total == 0
    assert search(mixed, SeasonQuestion(match="demo")).total == 78


def test_a_new_name_stands_in_the_calls_at_once(mixed):
    search(mixed, SeasonQuestion())
    player = next(item for item in mixed.players() if item.id == IMOGEN)
    tasks.change_player(mixed, IMOGEN, name="Ines Vale")
    rows = search(mixed, SeasonQuestion(player=IMOGEN)).rows
    assert all("Imogen" not in row.call and "\ue00a" not in row.call for row in rows)
    assert any("Ines" in row.call for row in rows)
    assert player.name == "Imogen Vale"


def test_erasing_a_player_takes_the_columns_along(mixed):
    search(mixed, SeasonQuestion())
    folder = mixed.folder / "season"
    assert any(folder.iterdir())
    tasks.erase_player(mixed, PETRA)
    assert list(folder.iterdir()) == []
    assert search(mixed, SeasonQuestion(with_demo=True)).matches == 2
    assert forget_season(mixed) == ()


def test_matches_of_a_player_are_those_findings_read(library):
    found = matches_of(library, PETRA).matches
    assert [(item.table.match, item.side, item.opponent) for item in found] == [
        ("demo-earlier", "b", "Imogen Vale"),
        ("demo", "b", "Imogen Vale"),
    ]
    table = rally_table(tasks.show_match(library, "demo"), library.kinds())
    assert found[1].table.key == table.key
    assert (found[1].table.winner == table.winner).all()
    assert [match.table.match for match in matches_of(library, IMOGEN, opponent=OONA).matches] == [
        "demo-left"
    ]
    assert [match.table.match for match in matches_of(library, IMOGEN, since=date(2025, 10, 5)).matches] == [
        "demo"
    ]
    assert [match.table.match for match in matches_of(library, IMOGEN, until=date(2025, 10, 1)).matches] == [
        "demo-earlier"
    ]
    assert matches_of(library, IMOGEN, with_demo=False).matches == ()


def test_the_form_holds_plain_values(library):
    import json

    asked = SeasonQuestion(player="imogen", kind="lob", since=date(2025, 1, 1))
    form = search_form(asked, search(library, asked, limit=4))
    again = json.loads(json.dumps(form))
    assert again["question"] == {"player": "imogen", "kind": "lob", "since": "2025-01-01"}
    assert len(again["rallies"]) == 4
    assert {"match", "n", "call", "start_s", "end_s", "title", "day"} <= again["rallies"][0].keys()
    assert "chance" in again["caution"]


def test_several_questions_are_counted_as_each_is_found(library):
    asked = [
        SeasonQuestion(),
        SeasonQuestion(player=IMOGEN, role="serving", kind="lob"),
        SeasonQuestion(left="weak", outcome="lost"),
        SeasonQuestion(player=PETRA, phase="behind", with_demo=True),
        SeasonQuestion(text="nobody ever wrote this"),
    ]
    (counts, alone, none) = count_each(library, [asked, asked[1:2], []])
    assert counts == tuple(search(library, question).total for question in asked)
    assert counts[0] > counts[1] > counts[4] == 0
    assert (alone, none) == (counts[1:2], ())


def test_a_row_names_server_serve_return_and_end_apart(library):
    found = search(library, SeasonQuestion(kind="lob", left="loose", ending="unforced-error"))
    row = found.rows[0]
    assert row.served.endswith("box")
    assert ": lob, " in row.served
    assert row.returned.endswith(", loose")
    assert " won: unforced error" in row.ended
