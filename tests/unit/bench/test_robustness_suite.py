"""Spoilt and invented inputs at a twentieth of their number; a full disk; and a crash that is planted."""

from __future__ import annotations

import importlib
import importlib.util
import random
import re
import shutil
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from goodlength.errors import GoodlengthError, InputError
from robustness import access_control_and_load, input_fuzzing, postgres_store_trials, robustness_suite
from robustness.harness_error import OwnFault

INPUTS = 100  # a twentieth of `bench fuzz`


@pytest.mark.slow
def test_no_input_crashes_anything() -> None:
    found = input_fuzzing.fuzz(INPUTS)
    assert set(found) == set(input_fuzzing.TARGETS)
    for target, item in found.items():
        assert item.tried >= 5, target
        assert item.crashes == 0, (target, item.examples)
    assert sum(element.refused for element in found.values()) > INPUTS // 4, "hardly anything was spoilt"


@pytest.mark.slow
def test_a_full_disk_loses_nothing_that_was_confirmed() -> None:
    told = robustness_suite.disk_full()
    if not told["tried"]:
        pytest.skip(str(told["words"]))
    assert told["confirmed"] > 50
    assert told["refused"] == 5
    assert (told["lost"], told["damage"]) == (0, 0)


def test_what_is_raised_is_refused_or_a_crash() -> None:
    found = input_fuzzing.Fuzzed()

    def refuse() -> None:
        raise InputError("no")

    def crash() -> None:
        raise ZeroDivisionError

    for work in (refuse, crash, lambda: None):
        found.run(work, "planted")
    assert (found.tried, found.refused, found.crashes) == (3, 1, 1)
    assert "ZeroDivisionError" in found.examples[0]


@pytest.mark.slow
def test_a_crash_planted_in_the_importer_and_in_the_page_is_found(
    tmp_path: Path, demo_library: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from goodlength import tasks
    from goodlength.record.store.library_store import Library

    shutil.copytree(demo_library, tmp_path / "lib")

    def broken(*_args: object, **_more: object) -> None:
        raise KeyError("planted")

    monkeypatch.setattr(tasks, "preview_import", broken)
    monkeypatch.setattr(tasks, "list_matches", broken)
    rng = random.Random(1)
    with pytest.raises(KeyError):  # the check afterwards lists the matches itself
        input_fuzzing.fuzz_imports(tmp_path, rng, 10)
    monkeypatch.setattr(input_fuzzing, "_sound", lambda _library, _found: None)
    assert input_fuzzing.fuzz_imports(tmp_path, rng, 10).crashes > 4
    monkeypatch.setattr(Library, "match_heads", broken)  # what the page of the matches lists
    assert input_fuzzing.fuzz_forms(tmp_path, rng, 100).crashes > 0


def test_spoiling_changes_an_input_and_is_repeatable() -> None:
    data = bytes(range(256)) * 4
    first = [input_fuzzing.spoil(data, random.Random(n)) for n in range(50)]
    assert first == [input_fuzzing.spoil(data, random.Random(n)) for n in range(50)]
    assert sum(item != data for item in first) > 45


def test_nothing_tried_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(robustness_suite, "fuzz", lambda *_: {"imports": input_fuzzing.Fuzzed()})
    with pytest.raises(GoodlengthError, match="Nothing was tried"):
        robustness_suite.long_fuzz(1, 1, None)


def refuse(*_args: object, **_more: object) -> None:
    raise InputError("not today")


@pytest.mark.slow
@pytest.mark.parametrize(
    ("target", "broken"),
    [("imports", "preview_import"), ("back-ups", "restore"), ("libraries", "list_matches")],
)
def test_where_the_good_input_is_refused_too_the_test_says_that_it_failed_itself(
    tmp_path: Path, demo_library: Path, monkeypatch: pytest.MonkeyPatch, target: str, broken: str
) -> None:
    """Everything refused had counted as everything well."""
    from goodlength import tasks

    shutil.copytree(demo_library, tmp_path / "lib")
    monkeypatch.setattr(tasks, broken, refuse)
    with pytest.raises(OwnFault, match="before anything in it is spoilt"):
        input_fuzzing.TARGETS[target](tmp_path, random.Random(1), 2)


def test_a_disk_that_never_fills_is_the_fault_of_the_test(monkeypatch: pytest.MonkeyPatch) -> None:
    """It had counted as a full disk that lost nothing."""

    @contextmanager
    def large(_place: Path) -> Iterator[bool]:
        yield True

    monkeypatch.setattr(robustness_suite, "small_disk", large)
    monkeypatch.setattr(robustness_suite, "MOST_ANSWERS", 5)
    with pytest.raises(OwnFault, match="never became full"):
        robustness_suite.disk_full()


def test_what_goes_wrong_on_the_server_is_not_called_not_tried(monkeypatch: pytest.MonkeyPatch) -> None:
    """A server that did not come back after a kill had been reported as "not tried"."""

    @contextmanager
    def there() -> Iterator[object]:
        yield object()

    def gone(*_args: object) -> None:
        raise GoodlengthError("The server did not come back after it was killed.")

    monkeypatch.setattr(postgres_store_trials, "scratch_server", there)
    monkeypatch.setattr(postgres_store_trials, "_kills", gone)
    with pytest.raises(GoodlengthError, match="did not come back"):
        postgres_store_trials.bench_shared_store()


def test_a_writer_that_wrote_nothing_is_the_fault_of_the_test() -> None:
    """It had counted as one answer, the empty one, that was confirmed and lost."""
    with pytest.raises(OwnFault, match="wrote none"):
        postgres_store_trials.required_name("")


def test_a_request_that_was_done_is_let_in_though_it_ends_in_a_redirect() -> None:
    """Any redirect had counted as the way to the door."""
    found = access_control_and_load.Doors()
    access_control_and_load.count_outcome(
        found, "no pass code", "POST /matches/demo/remove", 303, b"", "/matches"
    )
    access_control_and_load.count_outcome(
        found, "no pass code", "GET /matches", 303, b"", "/enter?to=/matches"
    )
    assert (found.tried, found.refused, len(found.let_in)) == (2, 1, 1)


def test_a_client_that_gets_no_answer_counts_as_failed() -> None:
    """Its thread had ended, and nothing was counted."""
    run = access_control_and_load.LoadResult()
    access_control_and_load.run_client(run, 1, ["r1"], 0, time.monotonic() + 0.2, 0.05)
    assert run.failed >= 1
    assert run.ids == []


def test_what_this_machine_could_not_try_stands_in_one_list() -> None:
    nothing = {"tried": False, "words": "no room"}
    found = robustness_suite.left_out(
        nothing, "not tried: no server", {"tried": True}, {"api": input_fuzzing.Fuzzed()}
    )
    assert found == ["full disk: no room", "shared store: no server", "spoilt inputs, api: nothing"]


def test_programs_written_in_strings_name_what_is_there() -> None:
    """Before: the program that writes answers on a server was gone, and the trial wrote none."""
    sources = Path(robustness_suite.__file__).parent.glob("*.py")
    named = [
        (found[1], name.strip())
        for path in sources
        for found in re.finditer(
            r"^from ((?:goodlength|robustness)[\w.]*) import ([\w, ]+)$", path.read_text(), re.M
        )
        for name in found[2].split(",")
    ]
    assert ("robustness.postgres_store_trials", "write_on") in named
    for module, name in named:
        found = importlib.import_module(module)
        assert hasattr(found, name) or importlib.util.find_spec(f"{module}.{name}"), f"{module}: {name}"
