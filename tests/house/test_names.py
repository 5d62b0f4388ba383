"""Names in the code: no public class twice, and none of the retired words in what modules define."""

from __future__ import annotations

import ast
import re
from collections import defaultdict
from functools import cache
from pathlib import Path
from typing import NamedTuple

from oracles.parsed_source import parsed

ROOT = Path(__file__).parents[2]
SOURCE = ROOT / "src" / "goodlength"
RETIRED = frozenset(
    [
        "told",
        "said",
        "heard",
        "kept",
        "held",
        "tried",
        "brought",
        "drawn",
        "begun",
        "beside",
        "blunder",
        "burnt",
        "doubt",
        "doubts",
        "look",
        "looked",
        "telling",
        "watcher",
        "stamp",
        "ticks",
        "akin",
    ]
)
"""Past participles as nouns and riddles that once stood for the field's own terms."""

CODE_FOLDERS = ("src", "scripts", "robustness", "tests/oracles")
KEYS = {
    "src/goodlength/record/entry_value_types.py MeasuredValue.heard": "key of a stored entry",
    "src/goodlength/record/model.py Footage.look": "column of the record and key of an exported match",
    "src/goodlength/record/import_export/match_json_schema.py FootagePart.look": "key of an exported match",
    "src/goodlength/forms/footage/camera_calibration_json.py CameraAnswerJson.kept": "key of `camera --json`",
    "src/goodlength/forms/footage/player_tracking_json.py TrackedRallyJson.told": "key of `track --json`",
    "src/goodlength/forms/footage/player_tracking_json.py TrackingJson.told_by": "key of `track --json`",
    "src/goodlength/forms/footage/serve_measurement_json.py MeasuredForm.kept": "key of `measure --json`",
    "src/goodlength/tasks/findings/season_search.py SeasonQuestion.kept": "option and key of a season search",
    "src/goodlength/web/submitted_forms/match_import_and_search_forms.py SearchForm.kept": "name in the address of a search",
    "src/goodlength/tasks/sharing/handout_text_typed_by_coach.py EditedField.said": "key of a stored side file",
    "src/goodlength/web/submitted_forms/clip_handout_and_passcode_forms.py TalkForm.look_again": "name of a form's field",
    "src/goodlength/web/page_json_types/detected_rallies_and_score_draft.py DetectedRallyJson.told": "key sent to the page",
    "src/goodlength/web/page_json_types/detected_rallies_and_score_draft.py DetectedRalliesJson.looked_at": "key sent to the page",
    "src/goodlength/web/page_json_types/detected_rallies_and_score_draft.py DraftRallyJson.told": "key sent to the page",
    "src/goodlength/web/page_json_types/camera_and_serve_clicks.py MeasurePageJson.kept": "key sent to the page",
    "src/goodlength/web/page_json_types/camera_and_serve_clicks.py FoundBallJson.looked": "key sent to the page",
    "src/goodlength/web/page_json_types/camera_and_serve_clicks.py MeasurementSavedJson.kept": "key sent to the page",
    "src/goodlength/web/routes/footage/detected_rallies.py CorrectionIn.told": "key that the page sends",
    "src/goodlength/web/routes/match/score_draft.py DraftIn.told": "key that the page sends",
    "src/goodlength/cli/footage.py look": "the verb of `footage look`",
    "robustness/access_control_and_load.py Doors.tried": "key of `bench trust --json`",
    "robustness/input_fuzzing.py Fuzzed.tried": "key of `bench fuzz --json`",
}
"""Names that somebody outside the code reads or has stored, each with where."""


class Definition(NamedTuple):
    """What a module defines at its top."""

    path: Path
    line: int
    name: str
    is_class: bool


@cache
def definitions() -> list[Definition]:
    return [
        Definition(path.relative_to(SOURCE), node.lineno, node.name, isinstance(node, ast.ClassDef))
        for path in sorted(SOURCE.rglob("*.py"))
        for node in parsed(path.read_text(encoding="utf-8")).body
        if isinstance(node, ast.FunctionDef | ast.ClassDef)
    ]


def words_of(name: str) -> set[str]:
    """Return the words of an identifier, in small letters."""
    return set(re.findall(r"[a-z0-9]+", re.sub(r"(?<=[a-z0-9])(?=[A-Z])", "_", name).lower()))


def test_words_of_an_identifier() -> None:
    assert words_of("_TrackedMatch_of") == {"tracked", "match", "of"}


def test_no_two_public_classes_share_a_name() -> None:
    homes: dict[str, list[str]] = defaultdict(list)
    for definition in definitions():
        if definition.is_class and not definition.name.startswith("_"):
            homes[definition.name].append(str(definition.path))
    assert {name: where for name, where in homes.items() if len(where) > 1} == {}


def test_no_retired_word_in_a_definition() -> None:
    """Commands keep the verbs that coaches type (`footage look`)."""
    found = [
        f"{definition.path}:{definition.line} {definition.name}"
        for definition in definitions()
        if words_of(definition.name) & RETIRED and definition.path.parts[0] != "cli"
    ]
    assert found == []


def test_no_retired_word_in_a_module() -> None:
    found = [str(path.relative_to(SOURCE)) for path in SOURCE.rglob("*.py") if words_of(path.stem) & RETIRED]
    assert found == []


class Name(NamedTuple):
    """A name that a file gives: where, and whether it is a field of a class or one within a function."""

    line: int
    name: str
    is_field: bool = False


@cache
def names_given(path: Path) -> list[Name]:
    """Return every name that a file gives: variables, parameters, functions, classes, fields, attributes."""
    nodes = list(ast.walk(parsed(path.read_text(encoding="utf-8"))))
    parts = {
        id(part): Name(part.lineno, f"{node.name}.{name}", True)
        for node in nodes
        if isinstance(node, ast.ClassDef)
        for part, name in fields_and_methods(node)
    }
    fields = {name.name.partition(".")[2] for name in parts.values()}
    return [
        parts.get(id(node), Name(getattr(node, "lineno", 0), name))
        for node in nodes
        if (name := name_of(node)) and not (isinstance(node, ast.Attribute) and name in fields)
    ]


def name_of(node: ast.AST) -> str | None:
    """Return the name that a node gives; None where it gives none."""
    match node:
        case ast.Name(id=name, ctx=ast.Store()) | ast.arg(arg=name):
            return name
        case ast.Attribute(value=ast.Name(id="self"), attr=name, ctx=ast.Store()):
            return name
        case ast.ClassDef(name=name) | ast.FunctionDef(name=name) | ast.AsyncFunctionDef(name=name):
            return name
        case ast.ExceptHandler(name=name) | ast.MatchAs(name=name) | ast.MatchStar(name=name):
            return name
    return None


def fields_and_methods(node: ast.ClassDef) -> list[tuple[ast.stmt | ast.expr, str]]:
    """Return the annotated fields and the methods of a class with their names."""
    found: list[tuple[ast.stmt | ast.expr, str]] = []
    for part in node.body:
        if isinstance(part, ast.AnnAssign) and isinstance(part.target, ast.Name):
            found.append((part.target, part.target.id))
        elif isinstance(part, ast.FunctionDef | ast.AsyncFunctionDef):
            found.append((part, part.name))
    return found


def files_of(*folders: str) -> list[Path]:
    return [path for folder in folders for path in sorted((ROOT / folder).rglob("*.py"))]


def test_names_given_by_a_file(tmp_path: Path) -> None:
    code = tmp_path / "code.py"
    code.write_text(
        "class A:\n    held: int\n\n    def told(self, said):\n        self.kept = [look for look in said]\n"
        "try:\n    pass\nexcept OSError as heard:\n    pass\n"
    )
    assert {name.name for name in names_given(code)} == {
        *("A", "A.held", "A.told", "self", "said", "kept", "look", "heard"),
    }


@cache
def retired_names() -> dict[str, str]:
    """Return every name of the code that holds a retired word: file and name, with its line."""
    return {
        f"{path.relative_to(ROOT).as_posix()} {name.name}": f"{path.relative_to(ROOT).as_posix()}:{name.line}"
        for path in files_of(*CODE_FOLDERS)
        for name in names_given(path)
        if words_of(name.name.rpartition(".")[2]) & RETIRED
    }


def test_no_retired_word_in_a_variable_parameter_or_field() -> None:
    found = {name: line for name, line in retired_names().items() if name not in KEYS}
    assert found == {}, "name it by what it holds; a key that others read goes into KEYS with its reason"


def test_every_key_that_keeps_a_retired_word_is_still_there() -> None:
    assert set(KEYS) - set(retired_names()) == set()


def test_no_variable_is_called_one() -> None:
    found = [
        f"{path.relative_to(ROOT)}:{name.line}"
        for path in files_of("src", "tests", "scripts", "robustness")
        for name in names_given(path)
        if name.name == "one" and not name.is_field
    ]
    assert found == [], "name a variable by what it holds"
