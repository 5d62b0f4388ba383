"""Spoiled and invented inputs: files to bring in, films, back-ups, damaged libraries, answers, and the page.

An input may be refused in words; anything else that is raised is a crash, and so is a process that dies, an
answer of the page with status 500, or a library that does not check as sound afterwards. Inputs are spoiled
at random from good ones (`spoil`), drawn by hypothesis, and for the page by schemathesis from its own OpenAPI
description; the latter two come with the development packages.
"""

from __future__ import annotations

import asyncio
import importlib.util
import json
import random
import shutil
import string
import subprocess
import sys
import tempfile
import time
import traceback
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlencode

from goodlength import demo, tasks
from goodlength.errors import GoodlengthError
from goodlength.files.json_types import Json
from goodlength.record.store import Library
from robustness import child_environment
from robustness.access_control_and_load import ask, every_route
from robustness.harness_error import OwnFault

HERE = "127.0.0.1"
TOKENS = (
    b"\x00",
    b"\xff\xfe",
    b"\xef\xbb\xbf",
    b'"',
    b"'",
    b",",
    b";",
    b"\n",
    b"\r",
    b"{",
    b"}",
    b"[",
    b"]",
    b"null",
    b"true",
    b"-1",
    b"1e999",
    b"NaN",
    b"9" * 30,
    b"\\u0000",
    b"\\ud800",
    b"%s",
    b"../",
    b"=1+1",
    b"\xf0\x9f\x8e\xbe",
    b"2026-02-30",
    b"a" * 5000,
    b"[" * 2000,
    b"0.1.2",
    b"<script>",
)
WORDS = (
    "",
    "0",
    "-1",
    "1e400",
    "nan",
    "x" * 3000,
    "../../etc/passwd",
    "\x00",
    "\ud800",
    "<b>",
    "' OR 1=1 --",
    "demo",
    "demo-imogen-vale",
    "2026-13-40",
    "2026-11-27",
    "a",
    "b",
    "right",
    "left",
    "lob",
    "[]",
    "{}",
    "٣",
    "🎾",
    "null",
    "999999999999999999999",
    "1.5",
    "true",
    "/",
    "%00",
    "c:\\x",
    "r1",
)
FIELDS = (
    "name",
    "hand",
    "born_year",
    "junior",
    "notes",
    "player",
    "player_a",
    "player_b",
    "event",
    "played_on",
    "format",
    "match",
    "code",
    "to",
    "q",
    "kind",
    "box",
    "from",
    "until",
    "since",
    "given_by",
    "purposes",
    "drill",
    "plan",
    "sets",
    "attempts",
    "hits",
    "month",
    "group",
    "side",
    "pace",
    "spot",
    "x",
    "z",
    "level",
    "ball",
    "court",
    "at",
    "words",
    "finding",
    "kept",
    "order",
    "place",
    "path",
    "file",
    "opponent",
    "rally",
    "observer",
    "text",
    "game",
)
SHOWN = 8  # crashes kept with their last lines


@dataclass
class Fuzzed:
    """Inputs tried on one target: refused in words, taken, crashes, and the first of them."""

    tried: int = 0
    refused: int = 0
    crashes: int = 0
    examples: list[str] = field(default_factory=list)

    def crash(self, words: str) -> None:
        """Count one."""
        self.crashes += 1
        if len(self.examples) < SHOWN:
            self.examples.append(words[-700:])

    def control(self, work: Callable[[], object], what: str) -> None:
        """The good input that others are spoilt from must be taken; else a refusal says nothing."""
        try:
            work()
        except GoodlengthError as error:
            raise OwnFault(f"{what} is refused before anything in it is spoilt ({error}).") from error
        except Exception:
            self.tried += 1
            self.crash(f"{what}, nothing spoilt: {traceback.format_exc()}")

    def run(self, work: Callable[[], object], what: str) -> None:
        """Try one input."""
        self.tried += 1
        try:
            work()
        except GoodlengthError:
            self.refused += 1
        except Exception:
            self.crash(f"{what}: {traceback.format_exc()}")


def spoil(data: bytes, rng: random.Random) -> bytes:
    """Return a good input with one to eight things wrong in it."""
    out = bytearray(data)
    for _ in range(rng.choice((1, 1, 2, 3, 8))):
        at = rng.randrange(len(out) + 1)
        way = rng.randrange(7)
        if way == 0 and out:
            out[at % len(out)] ^= 1 << rng.randrange(8)
        elif way == 1:
            out[at:at] = rng.choice(TOKENS)
        elif way == 2:
            del out[at : at + rng.choice((1, 4, 60, 4000))]
        elif way == 3:
            out[at : at + 4] = rng.randbytes(4)
        elif way == 4:
            piece = out[at : at + rng.randrange(200)]
            out[at:at] = piece * rng.choice((1, 2, 20))
        elif way == 5:
            del out[at:]
        else:
            other = rng.randrange(len(out) + 1)
            out[at : at + 30] = out[other : other + 30]
    return bytes(out)


def fuzz(inputs: int, seed: int = 20261125, seconds: float | None = None) -> dict[str, Fuzzed]:
    """Try so many inputs on every target together, or as many as the seconds allow.

    Returns
    -------
    found : dict
        By target: imports, entries, films, back-ups, libraries, forms, api.
    """
    until = None if seconds is None else time.monotonic() + seconds
    found: dict[str, Fuzzed] = {}
    round_, share = 0, max(1, inputs // 20)
    while round_ == 0 or (until is not None and time.monotonic() < until):
        rng = random.Random(seed + round_)
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            demo.build(folder / "lib", footage=False)
            for target, count in (
                ("imports", 6 * share),
                ("entries", 3 * share),
                ("films", 3 * share),
                ("back-ups", share),
                ("libraries", share),
                ("forms", 4 * share),
                ("api", 2 * share),
            ):
                got = TARGETS[target](folder, rng, count)
                tally = found.setdefault(target, Fuzzed())
                tally.tried, tally.refused = tally.tried + got.tried, tally.refused + got.refused
                tally.crashes += got.crashes
                tally.examples = (tally.examples + got.examples)[:SHOWN]
        round_ += 1
    return found


def fuzz_imports(folder: Path, rng: random.Random, count: int) -> Fuzzed:
    """Documents and tables, spoiled, read as an import would; now and then really brought in."""
    found = Fuzzed()
    with Library.open(folder / "lib") as library:
        seeds = []
        for ending in (".json", ".csv"):
            for path in tasks.export_match(library, "demo", folder / f"seed{ending}"):
                seeds.append((path.suffix, path.read_bytes()))
                found.control(lambda path=path: tasks.preview_import(library, path), path.name)  # type: ignore[misc]
        for n in range(count):
            ending, data = rng.choice(seeds)
            if ending == ".json" and rng.random() < 0.5:
                data = _spoiled_json(data, rng)
            else:
                data = spoil(data if rng.random() < 0.5 else data[: rng.randrange(3000)], rng)
            path = folder / f"in{n % 4}{ending}"
            path.write_bytes(data)
            way = tasks.import_match if rng.random() < 0.2 else tasks.preview_import
            how = {"keep_going": rng.random() < 0.5}
            found.run(lambda path=path, way=way, how=how: way(library, path, **how), f"import {n}")  # type: ignore[misc]
        _sound(library, found)
    return found


def fuzz_entries(folder: Path, rng: random.Random, count: int) -> Fuzzed:
    """Answers of any shape, by hypothesis where it is installed, stored and replayed."""
    from goodlength.record.record_json_conversion import entry_from_plain

    found = Fuzzed()
    with Library.open(folder / "lib") as library:
        good = [_plain(entry) for entry in library.entries("demo")]
        for plain in _answers(good, rng, count):

            def store(plain: Any = plain) -> None:
                tasks.record_answers(library, "demo", [entry_from_plain(plain, "demo")])

            found.run(store, f"entry {plain!r:.300}")
        found.run(lambda: tasks.show_match(library, "demo"), "replay afterwards")
        found.run(lambda: tasks.find(library, "demo"), "findings afterwards")
        _sound(library, found)
    return found


def fuzz_films(folder: Path, rng: random.Random, count: int) -> Fuzzed:
    """Films, spoiled, looked at in a process of their own, which may die without taking us along."""
    from fractions import Fraction

    from goodlength.synthetic.numbered_frame_video import Recipe, draw

    found = Fuzzed()
    films = folder / "films"
    films.mkdir()
    seeds = [
        draw(films / "a.mp4", Recipe(tuple(range(20)))).read_bytes(),
        draw(films / "b.mkv", Recipe(tuple(range(20)), base=Fraction(1, 25), sound="")).read_bytes(),
        draw(films / "c.mov", Recipe(tuple(range(12)), turn_deg=90)).read_bytes(),
    ]
    for path in films.iterdir():
        path.unlink()
    for n in range(count):
        (films / f"f{n:05}.{('mp4', 'mkv', 'mov')[n % 3]}").write_bytes(spoil(seeds[n % 3], rng))
    left = sorted(films.iterdir())
    sound = folder / "sound.mp4"
    sound.write_bytes(seeds[0])
    if [line["how"] for line in _probe_films([sound])[0]] != ["taken"]:
        raise OwnFault("a film is not looked at before anything in it is spoilt.")
    while left:
        lines, ended = _probe_films(left)
        for line in lines:
            found.tried += 1
            found.refused += line["how"] == "refused"
            if line["how"] == "crash":
                found.crash(line["words"])
        if len(lines) < len(left):
            found.tried += 1
            found.crash(f"the process ended ({ended}) at {left[len(lines)].name}")
        left = left[len(lines) + 1 :]
    return found


def _probe_films(films: list[Path]) -> tuple[list[dict[str, str]], str]:
    """Return how each went, as far as the process came that looked at them, and how it ended."""
    words = [sys.executable, "-m", "robustness.video_probe_worker", *map(str, films)]
    with subprocess.Popen(
        words, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, env=child_environment()
    ) as process:
        try:
            output, _ = process.communicate(timeout=60 + 5 * len(films))
            ended = str(process.returncode)
        except subprocess.TimeoutExpired:  # it hangs at the film after the last one told
            process.kill()
            output, _ = process.communicate()
            ended = "it hung"
    return [json.loads(line) for line in output.splitlines() if line.endswith("}")], ended


def fuzz_backups(folder: Path, rng: random.Random, count: int) -> Fuzzed:
    """Back-ups, spoiled, restored."""
    found = Fuzzed()
    with Library.open(folder / "lib") as library:
        good = Path(tasks.back_up(library, folder / "good.zip").path).read_bytes()
    found.control(lambda: tasks.restore(folder / "good.zip", folder / "restored"), "the back-up")
    shutil.rmtree(folder / "restored")
    for n in range(count):
        path, target = folder / "spoiled.zip", folder / "restored"
        path.write_bytes(spoil(good, rng))
        refused = found.refused
        found.run(lambda path=path, target=target: tasks.restore(path, target), f"back-up {n}")  # type: ignore[misc]
        if found.refused > refused and target.exists():
            found.crash(f"back-up {n}: it was refused, and its folder stayed")
        shutil.rmtree(target, ignore_errors=True)
    if list(folder.glob(".restored*")):
        found.crash("half a restored folder stayed")
    return found


def fuzz_libraries(folder: Path, rng: random.Random, count: int) -> Fuzzed:
    """Library files, spoiled, opened, read, written, and saved from."""
    from goodlength.tasks.library.library_opening_and_check import save_what_can_be_read

    found = Fuzzed()
    with Library.open(folder / "lib") as library:
        library.copy_to(folder / "good.sqlite3")
    good = (folder / "good.sqlite3").read_bytes()
    place, saved = folder / "spoiled", folder / "saved"

    def use() -> None:
        with Library.open(place, create=False) as library:
            for row in tasks.list_matches(library):
                tasks.show_match(library, row.id)
            library.set_setting("x", 1)

    for n in range(-1, count):
        place.mkdir(exist_ok=True)
        (place / "library.sqlite3").write_bytes(spoil(good, rng) if n >= 0 else good)
        if n < 0:
            found.control(use, "the library")
        else:
            found.run(use, f"library {n}")
            found.run(lambda: save_what_can_be_read(place, saved), f"saving from {n}")
        for item in (place, saved):
            shutil.rmtree(item, ignore_errors=True)
    return found


def fuzz_forms(folder: Path, rng: random.Random, count: int) -> Fuzzed:
    """Return every route with invented fields, queries and names, as forms, JSON and nothing at all."""
    found = Fuzzed()
    with _Page(folder) as app:
        routes = every_route(app)

        async def go() -> None:
            await _send(app, "GET", "/matches", {}, b"", found)
            if found.refused:
                raise OwnFault("the page refuses what is asked of it before anything in it is spoilt.")
            for n in range(count):
                method, path = routes[n % len(routes)] if n < len(routes) else rng.choice(routes)
                if "/erase" in path or path.endswith(("/stream", "/leave")) or path == "/handed/x":
                    continue
                await _one(app, method, path, rng, found)

        asyncio.run(go())
        _sound(app.state.library, found)
    return found


def fuzz_api(folder: Path, rng: random.Random, count: int) -> Fuzzed:
    """Return the JSON routes by schemathesis, from the page's own OpenAPI description."""
    found = Fuzzed()
    if importlib.util.find_spec("schemathesis") is None:
        found.examples.append("schemathesis is not installed: nothing was tried")
        return found
    with _Page(folder) as app:
        from robustness.fuzz_case_generators import cases

        async def go() -> None:
            for method, path, headers, body in cases(app, max(1, count), rng.randrange(2**31)):
                await _send(app, method, path, headers, body, found)

        asyncio.run(go())
        _sound(app.state.library, found)
    return found


TARGETS: dict[str, Callable[[Path, random.Random, int], Fuzzed]] = {
    "imports": fuzz_imports,
    "entries": fuzz_entries,
    "films": fuzz_films,
    "back-ups": fuzz_backups,
    "libraries": fuzz_libraries,
    "forms": fuzz_forms,
    "api": fuzz_api,
}


class _Page:
    """The page on the demo, without a server."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def __enter__(self) -> Any:
        from goodlength.web import create_app

        self.app = create_app(self.folder / "lib")
        return self.app

    def __exit__(self, *_: object) -> None:
        self.app.state.jobs.close()
        self.app.state.library.close()


async def _one(app: Any, method: str, path: str, rng: random.Random, found: Fuzzed) -> None:
    for name in ("x", "demo", "demo-imogen-vale"):
        if rng.random() < 0.3:
            path = path.replace(f"/{name}", "/" + quote(rng.choice(WORDS).encode("utf-8", "replace")), 1)
    fields = {
        rng.choice(FIELDS): rng.choice(WORDS).encode("utf-8", "replace") for _ in range(rng.randrange(8))
    }
    headers, body = {}, b""
    if method in ("GET", "HEAD"):
        path += "?" + urlencode(fields)
    elif rng.random() < 0.6:
        headers["content-type"], body = "application/x-www-form-urlencoded", urlencode(fields).encode()
    elif rng.random() < 0.7:
        headers["content-type"] = "application/json"
        body = json.dumps({name: rng.choice((None, 1, [], {}, "x", -1.5, True)) for name in fields}).encode()
        body = spoil(body, rng) if rng.random() < 0.4 else body
    else:
        headers["content-type"], body = "multipart/form-data; boundary=x", rng.randbytes(200)
    await _send(app, method, path, headers, body, found)


async def _send(
    app: Any, method: str, path: str, headers: dict[str, str], body: bytes, found: Fuzzed
) -> None:
    found.tried += 1
    sent_headers = {"host": HERE, "origin": f"http://{HERE}", **headers}
    try:
        status, answer = await ask(app, method, path, sent_headers, body, HERE)
    except Exception:
        found.crash(f"{method} {path} {body[:200]!r}: {traceback.format_exc()}")
        return
    failed = status == 0 or (status >= 500 and status not in (501, 507))
    if failed:
        found.crash(f"{method} {path} {body[:200]!r} -> {status} {answer[:200]!r}")
    found.refused += status >= 400 and not failed


def _sound(library: Library, found: Fuzzed) -> None:
    for damage in library.check():
        found.crash(f"the library afterwards: {damage}")
    for row in tasks.list_matches(library):
        found.run(lambda row=row: tasks.show_match(library, row.id), f"match {row.id} afterwards")  # type: ignore[misc]


def _plain(entry: Any) -> dict[str, Json]:
    from goodlength.record.record_json_conversion import entry_to_plain

    return dict(entry_to_plain(entry))


def _answers(good: list[dict[str, Json]], rng: random.Random, count: int) -> Iterator[Any]:
    random_values = _random_values(rng, count)
    for n in range(count):
        plain = dict(rng.choice(good))
        plain.pop("match", None)
        plain["id"] = "".join(rng.choice(string.ascii_letters) for _ in range(12))
        for _ in range(rng.randrange(1, 3)):
            key = rng.choice([*plain, "value", "value", "what", "unknown"])
            plain[key] = rng.choice(good).get("value") if rng.random() < 0.3 else random_values[n]
        yield plain if rng.random() < 0.97 else random_values[n]


def _random_values(rng: random.Random, count: int) -> list[Any]:
    """Values of any JSON shape; hypothesis looks for odd ones where it is installed."""
    plain: list[Any] = [*WORDS, None, True, 0, -1, 10**20, 1.5, [], {}, [None], {"n": 1}, {"points": [1, 2]}]
    if importlib.util.find_spec("hypothesis") is None:
        return [rng.choice(plain) for _ in range(count)]
    from robustness.fuzz_case_generators import json_values

    return [
        json_value if rng.random() < 0.7 else rng.choice(plain)
        for json_value in json_values(count, rng.randrange(2**31))
    ]


def _spoiled_json(data: bytes, rng: random.Random) -> bytes:
    """Return a document with one place of its tree changed, still readable as JSON."""
    tree = json.loads(data)
    at: Any = tree
    for _ in range(rng.randrange(1, 5)):
        keys = list(at) if isinstance(at, dict) else list(range(len(at))) if isinstance(at, list) else []
        if not keys:
            break
        key = rng.choice(keys)
        if not isinstance(at[key], dict | list) or rng.random() < 0.3:
            way = rng.randrange(3)
            if way == 0 and isinstance(at, dict):
                del at[key]
            else:
                at[key] = rng.choice(
                    (None, 0, -1, 10**30, 1.5, "x", "", [], {}, True, "2026-02-30", "\x00", ["x"])
                )
            break
        at = at[key]
    with suppress(ValueError):
        return json.dumps(tree, ensure_ascii=rng.random() < 0.5).encode("utf-8", "replace")
    return data
