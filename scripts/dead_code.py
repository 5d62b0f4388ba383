"""Names in src that nothing in src uses: dead code, or code that tests alone keep alive.

vulture finds them. Left out are what frameworks call by name (routes, commands, validators), fields of
classes (they travel whole, as JSON or rows) and attributes set on objects of other libraries. What stays
although nothing in src names it stands below with its reason; a reason that is needed no more fails too.
"""

from __future__ import annotations

import sys
from pathlib import Path

from vulture import Vulture

ROOT = Path(__file__).resolve().parent.parent
# Public lists say what may be imported, not that somebody does; only these are made for people's own code.
PUBLIC = ("tasks/__init__.py", "tasks/*/__init__.py", "web/page_json_types/__init__.py")
DECORATORS = [
    "@router.*",
    "@*.command",
    "@*_command.*",
    "@click.*",
    "@*.listens_for",
    "@model_validator",
    "@field_validator",
    "@app.exception_handler",
    "@property",
]
SHAPES = [
    "*Json"
]  # what is sent to the page: scripts/typescript_message_types.py writes them for its scripts
EXCEPTIONS = {
    "__dir__": "Python calls it, where names are completed in a notebook",
    "list_commands": "click calls it",
    "capture_signals": "uvicorn calls it",
    "format_commands": "click calls it",
    "get_metavar": "click calls it",
    "process_bind_param": "SQLAlchemy calls it",
    "process_result_value": "SQLAlchemy calls it",
    "schema_text": "writes docs/reference/match.schema.json anew",
    "followed_schema_text": "writes docs/reference/followed-ball.schema.json anew",
    "keys_page": "writes docs/reference/keys.md anew",
    "aim_many": "for people's own programs: docs/how-to/process-many-videos.md",
    "report_many": "for people's own programs: docs/how-to/work-in-batches.md",
    "VIDEO_MARGIN_M": "for people's own programs: the margin of measured touches",
    "at_altitude": "for people's own programs: the air of a room by its altitude",
    "is_built": "for people's own programs: whether a library holds the demo",
    "read_score_list": "for people's own programs: a list of results of many matches",
    "bench_season": "a benchmark run by hand; its figures stand in docs/bench.md",
    "generated": "every sentence, for the test of all of them",
    "way_up": "what a drawn film holds, for tests of films",
    "flashing": "what a drawn film holds, for tests of films",
    "beeps_in": "what a drawn film holds, for tests of films",
    "plain_clicks": "clicks on a known camera, for tests of pages",
    "from_file": "the rates that were measured, for the test that holds them",
    "clift_gauvin": "the published formula that the fraction that flies is held to, by its tests",
    "render_film": "films of the test family: nothing that is shipped may draw from it",
    "draw_odd": "odd recordings, for tests and for choosing the bounds of recording_anomaly_warnings",
    "JOINT_NAMES": "films to learn on: the names of the joints in their truth",
    "write_plain_film": "a drawn film with its sound, for tests of sound and picture together",
}


def unused() -> dict[str, str]:
    """Return what nothing in src uses: name to place."""
    source = ROOT / "src" / "goodlength"
    fronts = [p for p in source.rglob("__init__.py") if not any(p.match(element) for element in PUBLIC)]
    finder = Vulture(ignore_names=SHAPES, ignore_decorators=DECORATORS)
    finder.scavenge(
        [str(source), str(ROOT / "scripts")], exclude=[*(str(p) for p in fronts), "*/migrations/*"]
    )
    found = {}
    for item in finder.get_unused_code():
        field = item.typ == "variable" and _inside(item.filename, item.first_lineno)
        if item.typ != "attribute" and not field and Path(item.filename).is_relative_to(source):
            found[item.name] = f"{Path(item.filename).relative_to(ROOT)}:{item.first_lineno} {item.typ}"
    return found


def _inside(path: Path, line: int) -> bool:
    """Whether a line is indented: part of a class."""
    return Path(path).read_text(encoding="utf-8").splitlines()[line - 1][:1] in (" ", "\t")


def main() -> int:
    """Print what is dead, and which exceptions are needed no more."""
    found = unused()
    dead = {name: place for name, place in found.items() if name not in EXCEPTIONS}
    stale = sorted(set(EXCEPTIONS) - set(found))
    for name, place in sorted(dead.items(), key=lambda pair: pair[1]):
        print(
            f"{place} {name}: nothing in src uses it. Take it out, or say in {Path(__file__).name} why not."
        )
    for name in stale:
        print(f"{name}: an exception in {Path(__file__).name} that is needed no more. Take it out.")
    print(f"{len(dead)} dead names, {len(EXCEPTIONS) - len(stale)} exceptions, {len(stale)} stale ones")
    return 1 if dead or stale else 0


if __name__ == "__main__":
    sys.exit(main())
