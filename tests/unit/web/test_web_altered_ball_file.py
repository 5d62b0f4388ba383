"""A followed ball altered by hand: refused in words where no court can give it, and every reader answers.

The bytes are whole (right form, checksum written anew), so that only the form of the stored paths can tell.
"""

from __future__ import annotations

import copy
import json
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from starlette.testclient import TestClient

from goodlength import tasks
from goodlength.errors import DamagedFile, GoodlengthError
from goodlength.files.library_layout import followed_ball_file
from goodlength.files.locked_json_file import CHECKSUM, JsonFile
from goodlength.measure.shots.followed_ball_storage import followed_json, read_followed, read_followed_lightly
from goodlength.measure.shots.followed_ball_types import PathSample
from goodlength.record.store import Library
from goodlength.tasks.ball import ball_following_inputs
from goodlength.tasks.ball.ball_path_queries import all_followed, followed_lines, rally_drawing
from goodlength.tasks.ball.followed_ball_export import export_followed
from goodlength.tasks.ball.serve_statistics_by_kind import measured_kinds
from goodlength.tasks.draft.answer_proposals_from_ball_path import path_proposals
from goodlength.tasks.draft.sure_rally_acceptance_after_sample_check import bulk_offer
from goodlength.tasks.findings.shot_place_findings import match_places, player_places
from goodlength.tasks.match.lazy_match import open_match
from tests.oracles.followed_shots import SECOND, made_match, made_serve, unchanged_inputs
from tests.unit.tasks.test_place_findings_task import rally
from tests.unit.web.test_web_place_findings import followed as followed  # noqa: PLC0414 - a fixture

PAGES = (
    "/matches/p1/findings/places?side=b",
    "/matches/p1/findings?side=b",
    "/players/plo1",
    "/players/plo1/brief",
    "/matches/p1/record",
    "/matches/p1/ball",
    "/matches/p1/measure",
    "/api/matches/p1/bulk",
    "/api/matches/p1/proposals",
)
HOSTILE = (-1, 0, 2, 99_999, 10**30, -(10**30), 1e308, -1e308, 0.5, True, None, "", "x", [], {}, [[]])
DRAWN = 25  # altered files of some 7,000
Alteration = Callable[[Any], object]
READERS: dict[str, Callable[[Library], object]] = {
    "places of a match": lambda library: match_places(open_match(library, "p1"), "b"),
    "places of a player": lambda library: player_places(library, "plo1"),
    "measured serves": lambda library: measured_kinds(tasks.open_matches(library, "iv1")),
    "rallies at once": lambda library: bulk_offer(open_match(library, "p1")),
    "list": lambda library: followed_lines(open_match(library, "p1")),
    "progress": lambda library: all_followed(open_match(library, "p1")),
    "drawing": lambda library: rally_drawing(open_match(library, "p1"), "r:r0"),
    "proposals": lambda library: path_proposals(open_match(library, "p1")),
    "contacts": lambda library: export_followed(open_match(library, "p1"), library.folder / "x.csv"),
    "serves": lambda library: export_followed(
        open_match(library, "p1"), library.folder / "x.csv", serves=True
    ),
}


def shots(plain: Any) -> list[Any]:
    return [shot for rally in plain["rallies"] for shot in rally["shots"]]


def contacts(plain: Any) -> list[Any]:
    return [contact for shot in shots(plain) for path in shot["paths"] for contact in path["contacts"]]


def set_all(parts: Callable[[Any], list[Any]], name: str, value: object) -> Alteration:
    def change(plain: Any) -> None:
        for part in parts(plain):
            part[name] = copy.deepcopy(value)

    return change


def paths(plain: Any) -> list[Any]:
    return [path for shot in shots(plain) for path in shot["paths"]]


REFUSED: dict[str, Alteration] = {
    "a number beyond any rally": set_all(shots, "number", 99_999),
    "numbers alike": set_all(shots, "number", 2),
    "no contact": set_all(paths, "contacts", []),
    "no racket": set_all(contacts, "kind", "floor"),
    "contacts backwards": lambda plain: [path["contacts"].reverse() for path in paths(plain)],
    "samples backwards": lambda plain: [path["samples"].reverse() for path in paths(plain)],
    "ends before its strike": set_all(shots, "until_us", 0),
    "hidden backwards": set_all(shots, "hidden_us", [[9, 3]]),
    "struck when no film lasts so long": set_all(shots, "struck_us", 10**30),
    "a third player": set_all(shots, "track", 2),
    "a place beyond any court": set_all(contacts, "place_m", [1e200, 1.0, 1.0]),
    "an error beyond any court": set_all(contacts, "covariance_m2", [[1e308, 0, 0], [0, 1, 0], [0, 0, 1]]),
    "a variance below nought": set_all(contacts, "covariance_m2", [[-1, 0, 0], [0, 1, 0], [0, 0, 1]]),
    "a rally twice": lambda plain: plain["rallies"].append(copy.deepcopy(plain["rallies"][0])),
    "a count beyond any match": lambda plain: plain.update(asked=10**30),
}


def store(plain: Any, library: Library) -> None:
    content = {key: value for key, value in plain.items() if key != CHECKSUM}
    JsonFile(followed_ball_file(library.folder, "p1")).write(content)


@pytest.fixture
def plain(followed: Library, monkeypatch: pytest.MonkeyPatch) -> Any:
    """What is stored of two rallies: with other paths, samples, hidden spans and a measured serve."""
    rallies = []
    for number in range(2):
        made = rally(f"r:r{number}", number * 20 * SECOND)
        first, *others = made.shots
        best = first.paths[0]
        samples = tuple(PathSample(first.struck_us + n * 40_000, (1.0, 6.0, 1.0), True) for n in range(3))
        first = replace(
            first,
            paths=(replace(best, samples=samples), replace(best, chance=0.1)),
            hidden_us=((first.struck_us, first.until_us),),
        )
        serve = replace(made_serve(), kinds={"lob": 1.0}, taken={"volleyed": 0.7, "after-the-bounce": 0.3})
        rallies.append(
            replace(made, footage="fp", shots=(first, *others), serve=serve, unused_us=(3 * SECOND,))
        )
    monkeypatch.setattr(ball_following_inputs, "inputs_now", unchanged_inputs(rallies))
    stored = json.loads(json.dumps(followed_json(made_match("p1", *rallies))))
    store(stored, followed)
    assert read_followed(followed_ball_file(followed.folder, "p1")) == made_match("p1", *rallies)
    return stored


@pytest.mark.parametrize("name", REFUSED)
def test_what_no_court_gives_is_refused_with_its_place(followed: Library, plain: Any, name: str) -> None:
    REFUSED[name](plain)
    store(plain, followed)
    file = followed_ball_file(followed.folder, "p1")
    with pytest.raises(DamagedFile, match=r"the first at [a-z]+.*follow the ball again") as caught:
        read_followed(file)
    assert "Follow the ball again" in caught.value.page_words
    if name != "samples backwards":  # a light reading has the last sample alone
        with pytest.raises(DamagedFile):
            read_followed_lightly(file)


@pytest.mark.parametrize("name", ["a number beyond any rally", "no contact"])
def test_pages_answer_beside_a_refused_file(
    client: TestClient, followed: Library, plain: Any, name: str
) -> None:
    REFUSED[name](plain)
    store(plain, followed)
    assert {page: client.get(page).status_code for page in PAGES} == dict.fromkeys(PAGES, 200)
    answer = client.get("/api/matches/p1/paths/r:r0")
    assert answer.status_code == 422 and "Follow the ball again" in answer.text


def places_in(value: Any, at: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Yield where anything stands in plain values; of a list the first and the last part."""
    if at:
        yield at
    if isinstance(value, dict):
        for key in value:
            yield from places_in(value[key], (*at, key))
    elif isinstance(value, list) and value:
        for n in sorted({0, len(value) - 1}):
            yield from places_in(value[n], (*at, n))


def altered(plain: Any, at: tuple[Any, ...], value: object) -> Any:
    changed = copy.deepcopy(plain)
    here = changed
    for part in at[:-1]:
        here = here[part]
    here[at[-1]] = copy.deepcopy(value)
    return changed


@pytest.mark.parametrize("seed", [20261130])
def test_every_reader_answers_or_refuses_in_words_whatever_value_is_altered(
    followed: Library, plain: Any, seed: int
) -> None:
    """One value of a file at a time, in every second one of the only rally; half of those drawn are read."""
    file, rng = followed_ball_file(followed.folder, "p1"), np.random.default_rng(seed)
    every = [(at, value) for at in places_in(plain) for value in HOSTILE]
    accepted = refused = 0
    for n in rng.permutation(len(every)):
        at, value = every[n]
        changed = altered(plain, at, value)
        if n % 2 and len(at) > 1:  # the altered rally alone: the file has no other
            changed["rallies"] = changed["rallies"][-1:] if at[1] else changed["rallies"][:1]
        store(changed, followed)
        try:
            read_followed(file)
            accepted += 1
        except DamagedFile:
            refused += 1
            if refused > DRAWN:
                continue
        for name, read in READERS.items():
            try:
                read(followed)
            except GoodlengthError as error:
                assert error.page_words
            except Exception as error:
                raise AssertionError(f"{name}: {every[n]}") from error
        if accepted >= DRAWN:
            break
    assert accepted == DRAWN and refused
