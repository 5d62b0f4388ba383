"""`dict[str, Any]` does not cross rooms: public functions and fields say what they take and give.

A form is a TypedDict, `Json` or a model; a row of which only the columns know the types is `object`. What stays
stands below with its reason; the list only shrinks.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

from oracles.parsed_source import parsed

SRC = Path(__file__).parents[2] / "src" / "goodlength"
MAPPINGS = ("dict", "Mapping", "MutableMapping")
REASONS = {
    "file": "a stored file is what it is until its reader has read it; damage is refused there",
    "row": "a row of the database: its types stand in record.store.database_tables",
    "job": "a job's arguments crossed a process as JSON; the job reads them",
    "terminal": "prints a form that others rely on (architecture 5), made by the module of the same subject",
    "form": "what a coach typed, and what it makes of a record, field by field",
    "schema": "a JSON Schema has no narrower type",
}
STAYS = {
    "cli.terminal.serve_flight_and_aim_lines:aim_lines": "terminal",
    "cli.terminal.serve_flight_and_aim_lines:flight_lines": "terminal",
    "cli.terminal.serve_flight_and_aim_lines:way_lines": "terminal",
    "cli.terminal.match_findings_and_plan_lines:fault_lines": "terminal",
    "cli.terminal.match_findings_and_plan_lines:match_lines": "terminal",
    "files.locked_json_file:JsonFile.read": "file",
    "files.locked_json_file:JsonFile.shown": "file",
    "files.locked_json_file:JsonFile.update": "file",
    "files.locked_json_file:JsonFile.write": "file",
    "footage.edit.handout_zip_archive:pack_job": "job",
    "footage.edit.side_by_side_video:pair_job": "job",
    "footage.edit.strike_contact_sheet:sheet_job": "job",
    "measure.players.match_tracking_job:clothing_from": "file",
    "measure.players.match_tracking_job:track_from": "file",
    "measure.players.match_tracking_job:track_job": "job",
    "measure.shots.followed_ball_storage:followed_schema": "schema",
    "record.import_export.match_json_schema:match_schema": "schema",
    "record.store.library_store:Library.settings": "row",
    "record.store.player_and_consent_rows:settings": "row",
    "record.store.row_checksums:without_sum": "row",
    "tasks.footage.camera_calibration:camera_spans": "file",
    "tasks.match.lazy_match:OpenMatch.settings": "row",
    "tasks.removal.recycle_bin:bin_contents": "row",
    "tasks.removal.removed_row_serialisation_and_restore:forget_rows": "row",
    "tasks.removal.removed_row_serialisation_and_restore:match_rows": "row",
    "tasks.removal.removed_row_serialisation_and_restore:missing_for": "row",
    "tasks.removal.removed_row_serialisation_and_restore:write_rows": "row",
    "web.routes.footage.footage_files:joined": "form",
}


def aliases(tree: ast.Module) -> set[str]:
    """Names of a module that stand for a loose mapping."""
    return {
        target.id
        for node in tree.body
        if isinstance(node, ast.Assign) and loose(node.value, set())
        for target in node.targets
        if isinstance(target, ast.Name)
    }


def loose(annotation: ast.expr | None, known: set[str]) -> int:
    """How many loose mappings an annotation holds."""
    if annotation is None:
        return 0
    count = 0
    for node in ast.walk(annotation):
        if isinstance(node, ast.Name) and node.id in known:
            count += 1
        if isinstance(node, ast.Subscript) and isinstance(node.value, ast.Name) and node.value.id in MAPPINGS:
            parts = node.slice.elts if isinstance(node.slice, ast.Tuple) else []
            count += len(parts) == 2 and isinstance(parts[1], ast.Name) and parts[1].id == "Any"
    return count


def crossings(body: list[ast.stmt], known: set[str], prefix: str = "") -> Iterator[str]:
    """Public functions and fields whose type holds a loose mapping."""
    for node in body:
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and not node.name.startswith("_"):
            given = [
                item.annotation for item in (*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs)
            ]
            if any(loose(item, known) for item in (node.returns, *given)):
                yield prefix + node.name
        elif isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            for part in node.body:
                if isinstance(part, ast.AnnAssign) and loose(part.annotation, known):
                    yield f"{prefix}{node.name}.{ast.unparse(part.target)}"
            yield from crossings(node.body, known, f"{prefix}{node.name}.")


def found() -> set[str]:
    """Every crossing of the tree, as module:name."""
    names: set[str] = set()
    for path in sorted(SRC.rglob("*.py")):
        tree = parsed(path.read_text(encoding="utf-8"))
        module = ".".join(path.relative_to(SRC).with_suffix("").parts)
        names |= {f"{module}:{name}" for name in crossings(tree.body, aliases(tree))}
    return names


def test_a_loose_mapping_is_seen_behind_its_alias() -> None:
    tree = ast.parse(
        "Plain = dict[str, Any]\n"
        "def a(x: Plain) -> None: ...\n"
        "def b() -> list[Mapping[str, Any]]: ...\n"
        "def _c() -> Plain: ...\n"
        "class D:\n    e: dict[str, Any]\n    def f(self) -> dict[str, int]: ...\n"
    )
    assert list(crossings(tree.body, aliases(tree))) == ["a", "b", "D.e"]


def test_no_loose_mapping_crosses_rooms_unsaid() -> None:
    assert set(STAYS.values()) <= set(REASONS)
    crossing = found()
    assert crossing - set(STAYS) == set(), "give it a TypedDict, Json, a model, or object"
    assert set(STAYS) - crossing == set(), "no longer needed: take it off the list"
    assert len(STAYS) < 30
