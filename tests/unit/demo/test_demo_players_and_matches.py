"""The invented matches: legal, as the design's scenario tells them, written as the page writes them."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise

import pytest

from goodlength.demo.match import demo_players_and_matches
from goodlength.demo.match.scripted_games import rallies
from goodlength.demo.record_entries_of_demo_matches import demo_entries, filmed_game, random_match_entries
from goodlength.record.entry_log_replay import match_from
from goodlength.record.entry_validation_schemas import entry_faults
from goodlength.record.entry_value_types import CalledValue
from goodlength.record.keypress_count import count_presses
from goodlength.record.model import Ending, Entry, EntryKind, Left, Match
from goodlength.scoring import Side

NAMES = ("Imogen", "Petra")
FURTHER = (demo_players_and_matches.EARLIER, demo_players_and_matches.LEFT_HANDER)


@pytest.fixture(scope="module")
def log() -> tuple[Entry, ...]:
    return demo_entries(filmed_game())


@pytest.fixture(scope="module")
def match(log: tuple[Entry, ...]) -> Match:
    return match_from(demo_players_and_matches.info(demo_players_and_matches.MATCH), log, NAMES)


def test_the_four_games_end_as_the_scenario_says(match: Match) -> None:
    assert [game.points for game in match.games] == [(11, 8), (7, 11), (9, 11), (8, 11)]
    assert match.winner is Side.B
    assert match.how_over == "won"
    assert match.faults == ()


def test_seventy_eight_rallies_with_two_lets(match: Match) -> None:
    assert len(match.rallies) == 78
    assert sum(rally.let for rally in match.rallies) == 2
    assert sum(rally.server is Side.A for rally in match.rallies) == 37


def test_servers_and_boxes_of_the_plan_are_those_the_rules_give(match: Match) -> None:
    planned = [(plan.server, plan.box) for plan in rallies()]
    assert [(rally.server, rally.box) for rally in match.rallies] == planned


def test_every_planted_oddity_is_there_once(match: Match) -> None:
    skipped = [rally.key for rally in match.rallies if rally.skipped]
    assert skipped == ["demo-g3-r16"]
    endings = Counter(rally.ending for rally in match.rallies)
    assert endings[Ending.STROKE] == 1
    assert endings[Ending.SERVICE_FAULT] == 1
    otherwise = [rally for rally in match.rallies if rally.called_otherwise]
    assert [rally.called_otherwise for rally in otherwise] == [CalledValue(decision="no-let", to="b")]
    assert otherwise[0].ending is Ending.NO_LET
    assert any(rally.note for rally in match.rallies)
    assert sum(rally.keep for rally in match.rallies) >= 8


def test_the_lob_draws_weak_returns_as_in_the_scenario(match: Match) -> None:
    def weak(kind: str) -> tuple[int, int]:
        served = [r for r in match.rallies if r.server is Side.A and r.serve.kind == kind]
        return sum(r.ret.left in (Left.LOOSE, Left.NOT_MADE) for r in served), len(served)

    assert weak("lob") == (11, 17)
    assert weak("hard") == (1, 12)


def test_every_entry_may_be_written_and_has_an_id_of_its_own(log: tuple[Entry, ...]) -> None:
    everything = [*log, *(entry for item in FURTHER for entry in random_match_entries(item))]
    assert not [fault for entry in everything for fault in entry_faults(entry)]
    assert len({entry.id for entry in everything}) == len(everything)
    assert all(a.at_utc < b.at_utc for a, b in pairwise(log))


def test_game_one_has_every_shot_and_the_others_none(match: Match) -> None:
    for rally in match.rallies:
        decided = rally.ending is not Ending.SERVICE_FAULT
        assert bool(rally.shots) == (rally.game == 1 and decided)
        assert [shot.n for shot in rally.shots] == list(range(1, len(rally.shots) + 1))
        assert rally.complete


def test_only_what_was_filmed_has_a_time(match: Match) -> None:
    timed = [rally for rally in match.rallies if rally.start_us is not None]
    assert {rally.game for rally in timed} == {1}
    assert len(timed) == 19
    ends = [rally.end_us or 0 for rally in timed]
    assert max(ends) < filmed_game().length_s * 1e6


@pytest.mark.parametrize("match_id", FURTHER)
def test_further_matches_are_over_and_without_fault(match_id: str) -> None:
    match = match_from(demo_players_and_matches.info(match_id), random_match_entries(match_id), NAMES)
    assert match.faults == ()
    assert match.how_over == "won"
    assert all(rally.start_us is not None and rally.complete for rally in match.rallies)


def test_a_rally_takes_at_most_seven_presses_at_serve_and_return(match: Match) -> None:
    logs = {demo_players_and_matches.MATCH: match}
    for match_id in FURTHER:
        logs[match_id] = match_from(
            demo_players_and_matches.info(match_id), random_match_entries(match_id), NAMES
        )
    for name, item in logs.items():
        presses = count_presses(item).by_rally
        counted = [n for n, rally in zip(presses, item.rallies, strict=True) if not rally.shots]
        assert max(counted) <= 7, name


def test_all_players_are_invented_adults_who_agreed() -> None:
    for player in demo_players_and_matches.PLAYERS:
        assert not player.junior
        assert player.born_year is not None
        assert player.consent is not None
        assert "invented" in player.consent.given_by
        assert "Invented" in player.notes
    assert {player.name: player.hand for player in demo_players_and_matches.PLAYERS}[
        "Oona Marsh-Tallis"
    ] == "left"


def test_an_answer_passed_over_is_written_as_nothing(log: tuple[Entry, ...]) -> None:
    passed = [entry for entry in log if entry.value is None]
    assert [(entry.rally, entry.what) for entry in passed] == [("demo-g3-r16", EntryKind.LEFT)]
