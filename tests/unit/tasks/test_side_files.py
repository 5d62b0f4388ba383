"""JSON files beside the database: whatever happens to one, it is refused in words and never overwritten."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from goodlength import tasks
from goodlength.errors import DamagedFile, GoodlengthError
from goodlength.files import library_layout
from goodlength.files.locked_json_file import CHECKSUM, FORM, JsonFile
from goodlength.footage.audio.merge_of_detected_and_confirmed_rallies import save_detection
from goodlength.record.store import Library
from goodlength.tasks.footage import player_tracking, strike_pose_estimation_and_correction
from goodlength.tasks.footage.rally_detection import save_scores
from goodlength.tasks.footage.rally_detection_audit import review_detection
from goodlength.tasks.match.lazy_match import OpenMatch
from goodlength.tasks.sharing.handout_text_typed_by_coach import HandoutText, save_handout_text
from goodlength.tasks.sharing.serve_pair_alignment_and_mirroring import save_side_by_side
from goodlength.tasks.sharing.video_session_playlist import note_review, save_review_list

CONTENT = {
    "name": "Imogen – 31",
    "at_us": 1250000,
    "chance": 0.75,
    "rows": [{"state": "yes"}, []],
    "none": None,
}
KINDS = {
    "list for the player": "clips/m1-talk-list.json",
    "lines on a pair": "clips/m1-beside-lines.json",
    "names of clips": "clips/m1-clip-names.json",
    "notes between games": "clips/m1-between-notes.json",
    "drawings on frames": "clips/m1-frame-drawings.json",
    "rallies heard": "heard/m1.json",
    "rallies corrected": "heard/m1.said.json",
    "answers to a review": "heard/m1.review.json",
    "players tracked": "tracks/m1.json",
    "tracks corrected": "tracks/m1.said.json",
    "ball followed": "balls/m1.json",
    "ball corrected": "balls/m1.said.json",
    "joints found": "bodies/m1.json",
    "joints corrected": "bodies/m1.said.json",
    "cameras of a file": "cameras/f1.json",
    "court found in a file": "cameras/f1.court.json",
    "handout as typed": "handouts/handout-m1.json",
    "preparation as asked for": "preparation/m1.json",
    "list of a long task": "jobs/0badc0de.json",
    "state of a transfer": f"transfers/m1.{'0badc0de' * 3}.json",
    "record of what was removed": "bin/0badc0de0bad/item.json",
}
Damage = Callable[[bytes], bytes]


def replaced(old: bytes, new: bytes) -> Damage:
    """Return the damage that puts bytes in place of others, which must be there."""

    def damage(stored: bytes) -> bytes:
        assert old in stored
        return stored.replace(old, new, 1)

    return damage


DAMAGES: dict[str, Damage] = {
    "truncated": lambda stored: stored[: len(stored) // 2],
    "empty": lambda _: b"",
    "not JSON": lambda _: b"\x00\xff rally",
    "not text": replaced(b"Imogen", b"Imog\xffn"),
    "newer form": replaced(b'"form": 2', b'"form": 3'),
    "no form that was ever written": replaced(b'"form": 2', b'"form": 0'),
    "form of another type": replaced(b'"form": 2', b'"form": true'),
    "a list": lambda _: b"[1, 2]",
    "nested without end": lambda _: b"[" * 100_000,
    "a digit flipped": replaced(b"1250000", b"1250001"),
    "a bit flipped inside a string": replaced(b"Imogen", b"Imofen"),
    "a key renamed": replaced(b'"chance"', b'"change"'),
    "the checksum changed": lambda stored: (
        stored[:-3] + (b"0" if stored[-3:-2] != b"0" else b"1") + stored[-2:]
    ),
    "the checksum cut out": lambda stored: stored[: stored.rindex(b', "crc32"')] + b"}",
}


def test_every_kind_of_json_file_is_tried() -> None:
    small = {kind.name for kind in library_layout.KINDS if kind.pattern.endswith(r"\.json")}
    assert set(KINDS) == small
    for name, path in KINDS.items():
        kind = library_layout.kind_of(path)
        assert kind is not None and kind.name == name


@pytest.mark.parametrize("damage", DAMAGES)
@pytest.mark.parametrize("name", KINDS)
def test_damage_is_refused_in_words_and_the_file_left(tmp_path: Path, name: str, damage: str) -> None:
    """Before: a digit or letter flipped, a key renamed, and forms 0 and true were believed."""
    file = JsonFile(tmp_path / KINDS[name])
    file.write(CONTENT)
    assert file.read() == CONTENT
    damaged = DAMAGES[damage](file.path.read_bytes())
    file.path.write_bytes(damaged)
    with pytest.raises(DamagedFile, match=r"cannot be read.*Restore it from a back-up"):
        file.read()
    with pytest.raises(DamagedFile):
        file.update(lambda plain: {**plain, "more": 1})
    assert (file.path.read_bytes(), file.shown()) == (damaged, {})


def test_no_flipped_bit_changes_what_is_read(tmp_path: Path) -> None:
    file = JsonFile(tmp_path / "a.json")
    file.write(CONTENT)
    stored = file.path.read_bytes()
    believed = []
    for bit in range(8 * len(stored)):
        flipped = bytearray(stored)
        flipped[bit // 8] ^= 1 << bit % 8
        file.path.write_bytes(flipped)
        if file.shown():
            believed.append(bit)
    assert believed == []


@pytest.mark.parametrize("form", [{}, {FORM: 1}])
def test_a_file_from_before_checksums_is_read_and_then_has_one(tmp_path: Path, form: dict[str, int]) -> None:
    file = JsonFile(tmp_path / "a.json")
    file.path.write_text(json.dumps({**form, **CONTENT}), encoding="utf-8")
    assert file.read() == CONTENT
    file.update(lambda plain: plain)
    assert {FORM, CHECKSUM} < set(json.loads(file.path.read_bytes()))
    assert file.read() == CONTENT


def test_a_file_changed_by_hand_is_read_once_its_checksum_and_form_are_out(tmp_path: Path) -> None:
    file = JsonFile(tmp_path / "a.json")
    file.write(CONTENT)
    plain = {**json.loads(file.path.read_bytes()), "name": "Nadia"}
    file.path.write_text(json.dumps(plain), encoding="utf-8")
    with pytest.raises(DamagedFile, match='without its "form" and "crc32"'):
        file.read()
    file.path.write_text(
        json.dumps({k: v for k, v in plain.items() if k not in (FORM, CHECKSUM)}), encoding="utf-8"
    )
    assert file.read()["name"] == "Nadia"


@pytest.fixture
def opened(demo_library: Path, tmp_path: Path) -> Iterator[OpenMatch]:
    shutil.copytree(demo_library, tmp_path / "library")
    with Library.open(tmp_path / "library") as library:
        yield tasks.open_match(library, "demo")


def two(opened: OpenMatch) -> list[str]:
    """Two rallies of the match."""
    return [rally.key for rally in opened.match.rallies[:2]]


PAIR = {"nudge_us": [0, 0], "mirrored": False, "lines": [[], []]}

CHANGES: dict[str, Callable[[OpenMatch], object]] = {
    "list for the player: kept": lambda o: save_review_list(o, [{"rally": two(o)[0], "role": "good"}], None),
    "list for the player: shown": lambda o: note_review(o, "said"),
    "lines on a pair": lambda o: save_side_by_side(o, two(o), PAIR),
    "rallies corrected: scores": lambda o: save_scores(o, "11-8"),
    "answers to a review": review_detection,
    "tracks corrected": lambda o: player_tracking.name_players(o, "a"),
    "joints corrected": lambda o: strike_pose_estimation_and_correction.correct_joint(
        o, two(o)[0], "a", 0, 1, (1.0, 2.0)
    ),
    "handout as typed": lambda o: save_handout_text(o, HandoutText(chosen=[], fields={}, own="new")),
}


@pytest.mark.parametrize("damage", ["truncated", "a digit flipped", "newer form", "a list"])
@pytest.mark.parametrize("change", CHANGES)
def test_no_change_by_the_coach_overwrites_a_damaged_file(
    opened: OpenMatch, change: str, damage: str
) -> None:
    name = KINDS[change.partition(":")[0]].replace("m1", opened.id)
    file = JsonFile(opened.library.folder / name)
    file.write(CONTENT)
    damaged = DAMAGES[damage](file.path.read_bytes())
    file.path.write_bytes(damaged)
    with pytest.raises(GoodlengthError, match="cannot be read"):
        CHANGES[change](opened)
    assert file.path.read_bytes() == damaged
    assert any(file.path.name in problem for problem in tasks.library_check(opened.library).problems)


def test_detecting_again_refuses_damaged_corrections(tmp_path: Path) -> None:
    """Before: they counted as none, and the rallies that the coach had confirmed went from the list."""
    to = tmp_path / "heard" / "m1.json"
    film = {"id": "f1", "starts_us": 0, "first_us": 0, "end_us": 60_000_000}
    rally = {"start_us": 5_000_000, "end_us": 9_000_000}
    JsonFile(to).write({"match": "m1", "films": [film], "rallies": [rally]})
    found, said = to.read_bytes(), to.with_suffix(".said.json")
    JsonFile(said).write({"rallies": {"f1-5000": {"state": "yes"}}})
    said.write_bytes(said.read_bytes().replace(b"yes", b"yew"))
    with pytest.raises(DamagedFile, match=r"m1\.said\.json"):
        save_detection(to, "m1", [film], {"rallies": []})
    assert to.read_bytes() == found
