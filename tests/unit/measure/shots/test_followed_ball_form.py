"""The followed ball as data: stored, read, refused when damaged, exported as JSON, CSV and Parquet."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import jsonschema
import pytest

from goodlength.errors import DamagedFile
from goodlength.files.locked_json_file import JsonFile
from goodlength.measure.shots.followed_ball_storage import (
    followed_from_json,
    followed_json,
    followed_schema,
    followed_schema_text,
    read_followed,
    read_followed_lightly,
    write_followed,
)
from goodlength.measure.shots.followed_ball_tables import (
    CONTACT_COLUMNS,
    SAMPLE_COLUMNS,
    SERVE_COLUMNS,
    contact_rows,
    sample_rows,
    serve_rows,
)
from goodlength.measure.shots.followed_ball_types import (
    ContactKind,
    FollowedMatch,
    FollowedRally,
    FollowedShot,
    PathContact,
    PathSample,
    ShotPath,
)
from goodlength.record.store.parquet_writer import write_parquet
from goodlength.scoring.scoring_types import Side
from tests.oracles.followed_shots import SOURCES, made_serve, unchanged_inputs

REFERENCE = Path(__file__).parents[4] / "docs" / "reference"
COVARIANCE = ((0.01, 0.0, 0.0), (0.0, 0.04, 0.0), (0.0, 0.0, 0.0))
PATH = ShotPath(
    0.9,
    1_000_000,
    31.5,
    (
        PathContact(ContactKind.RACKET, 1_000_000, (1.0, 6.0, 1.2), None, True),
        PathContact(ContactKind.FRONT, 1_300_000, (2.0, 0.02, 2.5), COVARIANCE, False),
    ),
    (PathSample(1_020_000, (1.0, 5.5, 1.3), True),),
)
SHOT = FollowedShot(1, 1_000_000, 2_500_000, Side.A, 0, 0.99, (PATH,), True, ((1_100_000, 1_200_000),))
LOST = FollowedShot(2, 2_500_000, 4_000_000, None, None, 0.5, (), False, reason="The ball was not seen.")
RALLY = FollowedRally("r:k", "f1", 900_000, 5_000_000, (SHOT, LOST), rests_on=SOURCES)
MATCH = FollowedMatch("m1", "paths-1", 2, (RALLY,))


def test_what_is_stored_is_read_again(tmp_path: Path) -> None:
    path = tmp_path / "balls" / "m1.json"
    assert read_followed(path) is None
    write_followed(path, MATCH)
    assert read_followed(path) == MATCH


def test_read_lightly_is_the_same_but_for_samples_and_follows_the_file(tmp_path: Path) -> None:
    path = tmp_path / "balls" / "m1.json"
    assert read_followed_lightly(path) is None
    two = replace(PATH, samples=(*PATH.samples, PathSample(1_050_000, (1.0, 5.0, 1.4), True)))
    match = replace(MATCH, rallies=(replace(RALLY, shots=(replace(SHOT, paths=(two,)), LOST)),))
    write_followed(path, match)
    last = replace(PATH, samples=two.samples[-1:])
    light = replace(MATCH, rallies=(replace(RALLY, shots=(replace(SHOT, paths=(last,)), LOST)),))
    assert read_followed_lightly(path) == light and read_followed(path) == match
    write_followed(path, replace(match, asked=7))
    assert read_followed_lightly(path) == replace(light, asked=7)
    path.write_bytes(path.read_bytes()[:-40])
    with pytest.raises(DamagedFile):
        read_followed_lightly(path)


@pytest.mark.parametrize(
    ("at", "value"),
    [
        (("rallies", 0, "shots", 0, "paths", 0, "chance"), 1.5),
        (("rallies", 0, "shots", 0, "paths", 0, "contacts", 0, "place_m"), [1.0, "x", 2.0]),
        (("rallies", 0, "shots", 0, "paths", 0, "contacts", 0, "kind"), "ceiling"),
        (("rallies", 0, "from_us"), -1),
        (
            ("rallies", 0, "shots", 0, "paths"),
            [followed_json(MATCH)["rallies"][0]["shots"][0]["paths"][0]] * 4,
        ),
    ],
)
def test_what_cannot_be_is_refused_with_its_place(tmp_path: Path, at: tuple, value: object) -> None:
    plain = followed_json(MATCH)
    here = plain
    for part in at[:-1]:
        here = here[part]
    here[at[-1]] = value
    path = tmp_path / "m1.json"
    JsonFile(path).write(plain)
    with pytest.raises(
        DamagedFile, match=r"does not hold a followed ball .*rallies\.0\..*follow the ball again"
    ):
        read_followed(path)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(json.loads(path.read_text()), followed_schema())


@pytest.mark.parametrize("read", [read_followed, read_followed_lightly])
@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("covariance_m2", [[-0.01, 0, 0], [0, 1, 0], [0, 0, 1]]),
        ("place_m", [1.0, "x", 2.0]),
        ("kind", "ceiling"),
    ],
)
def test_one_rally_that_cannot_be_read_leaves_the_others_as_they_are(
    tmp_path: Path, read: Callable[[Path], FollowedMatch | None], name: str, value: object
) -> None:
    others = (replace(RALLY, key="r:a"), replace(RALLY, key="r:z"))
    plain = followed_json(replace(MATCH, rallies=(others[0], RALLY, others[1])))
    plain["rallies"][1]["shots"][0]["paths"][0]["contacts"][1][name] = value
    path = tmp_path / "m1.json"
    JsonFile(path).write(plain)
    found = read(path)
    assert found is not None and (found.rallies[0], found.rallies[2]) == others
    damaged = found.rallies[1]
    assert (damaged.key, damaged.shots, damaged.serve, damaged.rests_on) == ("r:k", (), None, None)
    assert "cannot be read" in damaged.reason and "Follow the ball again" in damaged.reason
    write_followed(path, found)
    assert read(path) == found


def test_what_another_version_stored_counts_as_nothing(tmp_path: Path) -> None:
    path = tmp_path / "m1.json"
    JsonFile(path).write({**followed_json(MATCH), "format": 2})
    assert read_followed(path) is None


def test_the_published_schema_is_the_generated_one_and_holds_for_what_is_written() -> None:
    """To write it anew: `followed_schema_text()` into docs/reference/followed-ball.schema.json."""
    published = (REFERENCE / "followed-ball.schema.json").read_text(encoding="utf-8")
    assert published == followed_schema_text()
    jsonschema.Draft202012Validator.check_schema(followed_schema())
    jsonschema.validate(json.loads(json.dumps(followed_json(MATCH))), followed_schema())


def test_tables_have_a_line_a_contact_and_a_line_a_sample() -> None:
    contacts = [dict(zip(CONTACT_COLUMNS, row, strict=True)) for row in contact_rows(MATCH, {"r:k": 7})]
    assert [line["contact"] for line in contacts] == ["racket", "front-wall", None]
    assert contacts[1] == {
        "rally": 7, "rally_key": "r:k", "video": "f1", "shot": 1, "path": 1, "chance": 0.9, "sure": True,
        "striker": "a", "track": 0, "speed_m_s": 31.5, "contact": "front-wall", "media_s": 1.3, "x_m": 2.0,
        "y_m": 0.02, "z_m": 2.5, "error_x_m": 0.1, "error_y_m": 0.2, "error_z_m": 0.0, "with_sound": False,
        "reason": "", "out_of_date": False,
    }  # fmt: skip
    assert contacts[2]["reason"] == "The ball was not seen." and contacts[2]["rally"] == 7
    (sample,) = (dict(zip(SAMPLE_COLUMNS, row, strict=True)) for row in sample_rows(MATCH, {}))
    assert (sample["rally"], sample["media_s"], sample["seen"]) == (None, 1.02, True)


def test_a_measured_serve_has_a_line_with_its_ranges() -> None:
    serve = replace(RALLY, serve=made_serve())
    (line,) = (
        dict(zip(SERVE_COLUMNS, row, strict=True))
        for row in serve_rows(replace(MATCH, rallies=(serve, RALLY)), {"r:k": 7})
    )
    assert (line["rally"], line["measured_by"], line["level"], line["chance"]) == (7, "path", 0.9, 0.93)
    assert [line[f"speed_m_s{end}"] for end in ("", "_low", "_high")] == [40.0, 39.0, 41.0]
    assert (line["receiver_z_m"], line["second_x_m"]) == (1.31, None)
    old = replace(serve, out_of_date=("the camera’s calibration",))
    assert list(serve_rows(replace(MATCH, rallies=(old,)), {})) == []
    stored = replace(MATCH, rallies=(serve,))
    assert followed_from_json(followed_json(stored)) == stored
    jsonschema.validate(json.loads(json.dumps(followed_json(stored))), followed_schema())


def test_parquet_holds_the_same_rows(tmp_path: Path) -> None:
    import duckdb

    path = tmp_path / "it's.parquet"
    rows = list(contact_rows(MATCH, {}))
    write_parquet(path, CONTACT_COLUMNS, rows)
    target = str(path).replace("'", "''")
    assert duckdb.sql(f"SELECT * FROM '{target}'").fetchall() == rows


def test_every_column_is_explained() -> None:
    page = (REFERENCE / "csv.md").read_text(encoding="utf-8")
    columns = {**CONTACT_COLUMNS, **SAMPLE_COLUMNS, **SERVE_COLUMNS}
    names = {name.removesuffix("_low").removesuffix("_high") for name in columns}
    assert sorted(name for name in names if f"`{name}`" not in page) == []


def test_export_by_ending(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from goodlength import tasks
    from goodlength.errors import InputError, NotFound
    from goodlength.files.library_layout import followed_ball_file
    from goodlength.record.model import MatchInfo, Player
    from goodlength.tasks.ball import ball_following_inputs
    from goodlength.tasks.ball.followed_ball_export import export_followed

    monkeypatch.setattr(ball_following_inputs, "inputs_now", unchanged_inputs([RALLY]))
    with tasks.open_library(tmp_path / "library") as library:
        library.save_player(Player("p1", "Petra"))
        library.save_player(Player("p2", "Opal"))
        library.save_match(MatchInfo("m1", ("p1", "p2")))
        opened = tasks.open_match(library, "m1")
        with pytest.raises(NotFound, match="not been followed"):
            export_followed(opened, tmp_path / "a.json")
        write_followed(followed_ball_file(library.folder, "m1"), MATCH)
        with pytest.raises(InputError, match=r"\.json .*\.csv or \.parquet"):
            export_followed(opened, tmp_path / "a.xml")
        export_followed(opened, tmp_path / "a.json")
        assert json.loads((tmp_path / "a.json").read_text()) == json.loads(json.dumps(followed_json(MATCH)))
        export_followed(opened, tmp_path / "a.csv")
        with (tmp_path / "a.csv").open(encoding="utf-8-sig", newline="") as file:
            lines = list(csv.DictReader(file))
        assert [line["contact"] for line in lines] == ["racket", "front-wall", ""]
        assert lines[0]["sure"] == "yes" and lines[0]["with_sound"] == "yes"
        export_followed(opened, tmp_path / "p.parquet", samples=True)
        assert (tmp_path / "p.parquet").read_bytes()[:4] == b"PAR1"
        monkeypatch.setattr(ball_following_inputs, "inputs_now", unchanged_inputs([]))
        export_followed(opened, tmp_path / "b.csv")
        with (tmp_path / "b.csv").open(encoding="utf-8-sig", newline="") as file:
            lines = list(csv.DictReader(file))
        assert {(line["sure"], line["out_of_date"]) for line in lines} == {("no", "yes")}
        export_followed(opened, tmp_path / "b.json")
        rallies = json.loads((tmp_path / "b.json").read_text())["rallies"]
        assert rallies[0]["out_of_date"] and not rallies[0]["shots"][0]["sure"]
