"""Spoilt and invented inputs at a twentieth of their number; a full disk; and a crash that is planted."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from goodlength import demo
from goodlength.bench import fuzzing, trust
from goodlength.errors import GoodlengthError, InputError

INPUTS = 100  # a twentieth of `bench fuzz`


@pytest.mark.slow
def test_no_input_crashes_anything() -> None:
    found = fuzzing.fuzz(INPUTS)
    assert set(found) == set(fuzzing.TARGETS)
    for target, one in found.items():
        assert one.tried >= 5, target
        assert one.crashes == 0, (target, one.examples)
    assert sum(one.refused for one in found.values()) > INPUTS // 4, "hardly anything was spoilt"


@pytest.mark.slow
def test_a_full_disk_loses_nothing_that_was_confirmed() -> None:
    told = trust.disk_full()
    if not told["tried"]:
        pytest.skip(str(told["words"]))
    assert told["confirmed"] > 50
    assert told["refused"] == 5
    assert (told["lost"], told["damage"]) == (0, 0)


def test_what_is_raised_is_refused_or_a_crash() -> None:
    found = fuzzing.Fuzzed()

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
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from goodlength import tasks

    demo.build(tmp_path / "lib", footage=False)

    def broken(*_args: object, **_more: object) -> None:
        raise KeyError("planted")

    monkeypatch.setattr(tasks, "preview_import", broken)
    monkeypatch.setattr(tasks, "list_matches", broken)
    rng = random.Random(1)
    with pytest.raises(KeyError):  # the check afterwards lists the matches itself
        fuzzing.fuzz_imports(tmp_path, rng, 10)
    monkeypatch.setattr(fuzzing, "_sound", lambda _library, _found: None)
    assert fuzzing.fuzz_imports(tmp_path, rng, 10).crashes > 4
    assert fuzzing.fuzz_forms(tmp_path, rng, 100).crashes > 0


def test_spoiling_changes_an_input_and_is_repeatable() -> None:
    data = bytes(range(256)) * 4
    first = [fuzzing.spoil(data, random.Random(n)) for n in range(50)]
    assert first == [fuzzing.spoil(data, random.Random(n)) for n in range(50)]
    assert sum(one != data for one in first) > 45


def test_nothing_tried_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(trust, "fuzz", lambda *_: {"imports": fuzzing.Fuzzed()})
    with pytest.raises(GoodlengthError, match="Nothing was tried"):
        trust.long_fuzz(1, 1, None)
