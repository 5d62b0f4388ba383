"""What is stored and what is sent stay as they were, byte for byte.

`tests/data/before-typed-values` holds a back-up and an exported match made by an earlier program, and every
JSON form that program made of them. Today's program opens both, makes the demo library again, and must make
the same bytes. Only doors that stay are used (commands, addresses), so the same code ran on the old one.
One thing is let pass: the digits of a float after the twelfth, since the linear algebra library sums in an
order that depends on the number of its threads. And of the ball's flight the digits past a hundredth of a
millimetre, which the method of integration decides.
"""

from __future__ import annotations

import contextlib
import io
import json
import re
import warnings
import zipfile
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

DATA = Path(__file__).parent.parent / "data" / "before-typed-values"
ADDRESS = "http://127.0.0.1:8765"
MATCHES = ("demo", "demo-left")
PLAYER = "demo-imogen-vale"
GROWING = (
    "person.json",
    "brief.json",
    "between.json",
    "search.json",
    "findings.json",
    "over-matches.json",
)  # forms that grow: keys are added, none goes
FLOWN = ("fly.json",)  # the ball's flight: to the hundredth of a millimetre, of a millisecond
LONG_FLOAT = re.compile(rb"(?<![\w.])-?\d+\.\d{13,}(?:e-?\d+)?")
Forms = dict[str, bytes]


def command(library: Path, *words: str) -> bytes:
    """What a command prints, with its exit status where that is not 0."""
    from goodlength.cli import main

    out, err, code = io.StringIO(), io.StringIO(), 0
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            main(args=["--library", str(library), *words])
        except SystemExit as left:
            code = int(left.code or 0)
    return (f"exit {code}: {err.getvalue()}\n" if code else "").encode() + out.getvalue().encode()


def match_forms(library: Path, match: str) -> Forms:
    """One match as commands print it."""
    asked = {
        "show": ("match", "show", match, "--json"),
        "check": ("match", "check", match, "--json"),
        "between": ("match", "between", match, "--json"),
        "findings": ("findings", "show", match, "--json"),
    }
    return {f"{match}/{name}.json": command(library, *words) for name, words in asked.items()}


def library_forms(library: Path, folder: Path) -> Forms:
    """What a whole library says, as commands print it."""
    asked = {
        "matches": ("match", "list", "--json"),
        "players": ("player", "list", "--json"),
        "courts": ("court", "list", "--json"),
        "brief": ("player", "brief", PLAYER, "--json"),
        "search": ("findings", "search", "--player", PLAYER, "--json"),
        "progress": ("practice", "progress", PLAYER, "--json"),
        "over-matches": ("findings", "show", "--player", PLAYER, "--json"),
        "fly": ("serve", "fly", "--box", "right", "--kind", "lob", "--json"),
    }
    made = {f"{name}.json": command(library, *words) for name, words in asked.items()}
    person = folder / "person.json"
    command(library, "player", "export", PLAYER, "--to", str(person))
    return made | {"person.json": person.read_bytes()}


def exported(library: Path, match: str, folder: Path) -> Forms:
    """A match as the files it is exported to."""
    made = {}
    for kind in ("json", "csv", "vtt"):
        path = folder / f"{match}.{kind}"
        command(library, "match", "export", match, "--to", str(path))
        files = sorted(path.rglob("*")) if path.is_dir() else [path]
        made |= {f"{match}/export/{file.name}": file.read_bytes() for file in files}
    return made


def page_forms(library: Path, match: str) -> Forms:
    """What the pages ask the server for."""
    from goodlength.web import create_app

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from starlette.testclient import TestClient
    with TestClient(create_app(library), base_url=ADDRESS, follow_redirects=False) as client:
        addresses = (f"/api/matches/{match}/sheet", f"/api/matches/{match}/films")
        return {
            f"{match}{address.rpartition(match)[2]}.json": client.get(address).content
            for address in addresses
        }


def handout_contents(library: Path, match: str) -> Forms:
    """The contents of the handout, pictures included, with a plan's drills."""
    from goodlength import tasks

    try:
        from goodlength.show.draw.svg_primitives_and_themes import PAPER
        from goodlength.show.handout.handout_content_blocks import contents
        from goodlength.tasks.sharing import HandoutEdits, draft_handout
    except ImportError:  # the program that made the files kept them elsewhere
        from goodlength.show.contents import contents
        from goodlength.show.ink import PAPER

        from goodlength.tasks import HandoutEdits, draft_handout
    with tasks.open_library(library) as opened:
        edits = HandoutEdits(words="Two words of mine.", week=True)
        data = draft_handout(tasks.open_match(opened, match), edits, date(2026, 3, 7)).data
        return {f"{match}/handout.json": json.dumps(contents(data, PAPER), default=str).encode()}


def every_form(library: Path, folder: Path, matches: tuple[str, ...]) -> Forms:
    """Every form of a library, named."""
    made = library_forms(library, folder)
    for match in matches:
        made |= match_forms(library, match) | page_forms(library, match)
        made |= exported(library, match, folder) | handout_contents(library, match)
    return made


def restored(folder: Path) -> Path:
    """The library of the back-up, without the copy made before it was brought to the present form."""
    library = folder / "restored"
    command(library, "library", "restore", str(DATA / "backup.zip"), str(library))
    for copy in library.glob("library.sqlite3.before-*"):
        copy.unlink()
    return library


def imported(folder: Path) -> Path:
    """A library into which the exported match was read."""
    library = folder / "imported"
    said = command(library, "match", "import", str(DATA / "demo.json"))
    assert not said.startswith(b"exit"), said
    return library


def demo_made(folder: Path) -> Path:
    """A demo library made now."""
    from goodlength import demo

    demo.build(folder / "demo", footage=False)
    return folder / "demo"


SOURCES: dict[str, tuple[Callable[[Path], Path], tuple[str, ...]]] = {
    "backup": (restored, MATCHES[:2]),
    "import": (imported, MATCHES[:1]),
    "demo": (demo_made, MATCHES[:1]),
}


def worded_anew(form: bytes) -> bytes:
    """An old form with the sentences that were worded anew on purpose since, from `wording.json`."""
    for old, new in json.loads((DATA / "wording.json").read_text(encoding="utf-8")):
        form = form.replace(old.encode(), new.encode())
    form = form.replace(b"\\u2019", "’".encode())  # one apostrophe, escaped or not
    return LONG_FLOAT.sub(lambda found: f"{float(found[0]):.12g}".encode(), form)


def test_only_the_last_digits_of_a_float_may_differ() -> None:
    assert worded_anew(b'{"mean": 0.4973738063407883}') == worded_anew(b'{"mean": 0.49737380634078854}')
    assert worded_anew(b'{"mean": 0.49737380634}') != worded_anew(b'{"mean": 0.49737380635}')


def known_part(now: object, before: object) -> object:
    """What is there now of the names that were there before."""
    if isinstance(now, dict) and isinstance(before, dict):
        return {name: known_part(now[name], before[name]) for name in before if name in now}
    if isinstance(now, list) and isinstance(before, list) and len(now) == len(before):
        return [known_part(item, was) for item, was in zip(now, before, strict=True)]
    return now


def rounded(part: object) -> object:
    """The same with every number within 0.00001."""
    if isinstance(part, dict):
        return {name: rounded(value) for name, value in part.items()}
    if isinstance(part, list):
        return [rounded(value) for value in part]
    return pytest.approx(part, abs=1e-5) if isinstance(part, float) else part


@pytest.mark.slow
@pytest.mark.parametrize("source", SOURCES)
def test_every_form_is_byte_for_byte_what_it_was(source: str, tmp_path: Path) -> None:
    make, matches = SOURCES[source]
    # what a plan or a handout stored keeps its old sentences: they are worded anew on both sides
    now = {name: worded_anew(form) for name, form in every_form(make(tmp_path), tmp_path, matches).items()}
    with zipfile.ZipFile(DATA / f"forms-{source}.zip") as packed:
        before = {name: worded_anew(packed.read(name)) for name in packed.namelist()}
    assert now.keys() == before.keys()
    for name, form in before.items():
        if Path(name).name in GROWING:
            assert known_part(json.loads(now[name]), json.loads(form)) == json.loads(form)
        elif Path(name).name in FLOWN:
            assert json.loads(now[name]) == rounded(json.loads(form))
        else:
            assert now[name] == form, f"{source}: {name} differs"
