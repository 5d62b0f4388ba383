"""Trust measured: kills, doors, load, spoiled inputs, a full disk, a real server, batches; one command."""

from __future__ import annotations

import importlib.util
import os
import platform
import subprocess
import tempfile
from collections.abc import Callable
from contextlib import contextmanager
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from goodlength.errors import GoodlengthError, NoSpace
from goodlength.record.model import Entry, EntryKind, MatchInfo, Player
from goodlength.record.store import Library
from goodlength.record.store.library_store import now_utc
from robustness import postgres_store_trials
from robustness.access_control_and_load import apply_load, try_doors
from robustness.harness_error import OwnFault
from robustness.input_fuzzing import Fuzzed, fuzz
from robustness.process_kill_trials import kill_all

SMALL_DISK = "4m"
MOST_ANSWERS = 100_000
Tell = Callable[[str], None]


def bench_trust(
    seed: int = 20261125,
    *,
    kills: int = 1000,
    inputs: int = 2000,
    clients: int = 20,
    matches: int = 10_000,
    tell: Tell = lambda _words: None,
) -> dict[str, object]:
    """Return all figures of trust.

    Returns
    -------
    figures : dict
        `kills`, `lost_answers` (of every part), `half_files`, `not_opening`; `left_out` says what this
        machine could not try; `requests_tried`, `requests_refused`,
        `let_in` (what got in, none wanted); `inputs_tried`, `inputs_refused`, `crashes`; `load`; disk full;
        the shared store; batches; each with its parts beside it.

    Raises
    ------
    OwnFault
        If a part of this test did not do what it should: then there are no figures.
    """
    tell("kills")
    killed = kill_all(kills, seed)
    tell("doors")
    doors = try_doors()
    tell("load")
    load = apply_load(clients)
    tell("inputs")
    fuzzed = fuzz(inputs, seed)
    tell("full disk")
    full = disk_full()
    tell("shared store")
    store = postgres_store_trials.bench_shared_store(matches=matches)
    tell("batches")
    batches = batches_agree()
    return {
        "date": f"{datetime.now(UTC):%Y-%m-%d}",
        "machine": f"{platform.system()} {platform.machine()}, {os.cpu_count()} cores, Python "
        f"{platform.python_version()}",
        "kills": sum(item.kills for item in killed.values()),
        "confirmed": sum(item.confirmed for item in killed.values()),
        "lost_answers": sum(item.lost for item in killed.values())
        + store.server_lost
        + store.two_programs_lost
        + load.lost
        + (lost if isinstance(lost := full.get("lost", 0), int) else 0),
        "not_tried": left_out(full, store.server, batches, fuzzed),
        "half_files": sum(item.halves for item in killed.values()),
        "not_opening": sum(item.not_opening for item in killed.values()),
        "kills_by_work": {name: asdict(item) for name, item in killed.items()},
        "routes": doors.routes,
        "requests_tried": doors.tried,
        "requests_refused": doors.refused,
        "requests_by_way": doors.by,
        "let_in": doors.let_in,
        "inputs_tried": sum(item.tried for item in fuzzed.values()),
        "inputs_refused": sum(item.refused for item in fuzzed.values()),
        "crashes": sum(item.crashes for item in fuzzed.values()),
        "inputs_by_target": {name: asdict(item) for name, item in fuzzed.items()},
        "load": asdict(load),
        "disk_full": full,
        "shared_store": asdict(store),
        "batches": batches,
    }


def left_out(
    full: dict[str, object], server: str, batches: dict[str, object], fuzzed: dict[str, Fuzzed]
) -> list[str]:
    """Return what this machine could not try: a nought beside it is no good news."""
    found = [
        f"{name}: {item['words']}"
        for name, item in (("full disk", full), ("batches", batches))
        if not item["tried"]
    ]
    if server != "tried":
        found.append(f"shared store: {server.removeprefix('not tried: ')}")
    return [*found, *(f"spoilt inputs, {name}: nothing" for name, item in fuzzed.items() if not item.tried)]


def disk_full() -> dict[str, object]:
    """Answers written to a small disk until it is full: is what was confirmed there, does it go on with room?

    The small disk is a file system in memory, which only the system's administrator can make; else it is
    said that this was not tried.
    """
    with tempfile.TemporaryDirectory() as name, small_disk(Path(name)) as made:
        if not made:
            return {"tried": False, "words": "a small disk can be made by the system's administrator only"}
        place = Path(name) / "lib"
        confirmed, refused = set[str](), 0
        with Library.open(place) as library:
            for item in ("iv", "pl"):
                library.save_player(Player(item, item))
            library.save_match(MatchInfo("m1", ("iv", "pl")))
            for n in range(MOST_ANSWERS):
                try:
                    library.append([_long_note(n)])
                    confirmed.add(f"e{n}")
                except NoSpace:
                    refused += 1
                    if refused == 5:
                        break
        if refused < 5 or not confirmed:
            raise OwnFault(f"the small disk never became full ({len(confirmed)} answers, {refused} refused).")
        if subprocess.run(["mount", "-o", "remount,size=64m", name], check=False).returncode:
            raise OwnFault("the small disk could not be made larger.")
        with Library.open(place) as library:
            stored = {entry.id for entry in library.entries("m1")}
            damage = len(library.check())
            library.append([_long_note(200_000)])
        return {
            "tried": True,
            "confirmed": len(confirmed),
            "refused": refused,
            "lost": len(confirmed - stored),
            "damage": damage,
        }


def batches_agree(pieces: int = 6) -> dict[str, object]:
    """Return the same pieces in this process and spread by Dask: are the results the same?"""
    if importlib.util.find_spec("distributed") is None:
        return {"tried": False, "words": "the package distributed is not installed"}
    from goodlength.aim.serve_goals import task_of
    from goodlength.aim.serve_scatter_on_front_wall import AimScatter
    from goodlength.forms.dask_distributed_batch_runs import aim_many
    from goodlength.tasks import aim_setting

    asked = [
        {"task": task_of(kind, box), "setting": aim_setting(), "scatter": AimScatter.of_level("club")}
        for kind in ("lob", "mid-height", "hard")
        for box in ("right", "left")
    ][:pieces]
    here, spread = aim_many(asked, workers=1), aim_many(asked, workers=2)
    return {"tried": True, "pieces": len(asked), "identical": here == spread}


@contextmanager
def small_disk(place: Path, size: str = SMALL_DISK) -> Any:
    """A file system in memory mounted on a folder, gone afterwards; False where it cannot be made."""
    made = False
    if os.name == "posix" and hasattr(os, "geteuid") and os.geteuid() == 0:
        words = ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(place)]
        made = subprocess.run(words, check=False, capture_output=True).returncode == 0
    try:
        yield made
    finally:
        if made:
            subprocess.run(["umount", str(place)], check=False, capture_output=True)


def _long_note(n: int) -> Entry:
    return Entry(f"e{n}", "m1", "coach", now_utc(), f"r{n}", EntryKind.NOTE, f"{n} " + "x" * 1900)


def long_fuzz(seed: int, inputs: int, seconds: float | None) -> dict[str, object]:
    """`bench fuzz`: counts by target, and the first crashes.

    Raises
    ------
    GoodlengthError
        If nothing at all was tried.
    """
    found = fuzz(inputs, seed, seconds)
    input_count = sum(item.tried for item in found.values())
    if not input_count:
        raise GoodlengthError("Nothing was tried; name more inputs.")
    return {
        "inputs": input_count,
        "refused": sum(item.refused for item in found.values()),
        "crashes": sum(item.crashes for item in found.values()),
        "by_target": {name: asdict(item) for name, item in found.items()},
    }
