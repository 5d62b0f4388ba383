"""Two observers of one match: what is put together, what is judged, and what findings do with it."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from goodlength.findings import find
from goodlength.findings.reports.findings_json import plain
from goodlength.findings.reports.observer_agreement import ReliabilityGrade, observer_agreement
from goodlength.findings.result_types import Grade
from goodlength.synthetic.simulated_matches import null_match


@pytest.fixture
def match():
    return null_match(np.random.default_rng(5))


def spoiled(table, share, seed=1):
    """The same match by an observer who guesses the kind of serve in a share of rallies."""
    rng = np.random.default_rng(seed)
    wrong = rng.random(len(table.key)) < share
    kind = np.where(wrong, rng.integers(0, 3, len(table.key)), table.kind).astype(np.int16)
    return replace(table, kind=kind)


def row(found, variable):
    return next(item for item in found.rows if item.variable == variable)


def test_the_same_match_twice_agrees_fully(match):
    found = observer_agreement(match, match)
    assert found.matched == len(match.key)
    assert found.f1 == 1.0
    assert found.unreliable == frozenset()
    for item in found.rows:
        assert item.agreed == 1.0
        assert item.disagreements == ()
        assert item.trust is ReliabilityGrade.GOOD
        assert item.value in (None, pytest.approx(1.0))
        assert (item.low, item.high) == (None, None)  # nothing varies, so no range can be drawn from it


def test_guessed_kinds_are_found_and_listed(match):
    other = spoiled(match, 0.7)
    found = observer_agreement(match, other)
    kind = row(found, "kind")
    assert kind.trust is ReliabilityGrade.NOT_RELIABLE
    assert found.unreliable == {"kind"}
    assert kind.low < kind.value < kind.high
    differ = int((match.kind != other.kind).sum())
    assert len(kind.disagreements) == differ
    first = kind.disagreements[0]
    assert first.first != first.second
    assert "Not reliable enough" in kind.sentence
    json.dumps(plain(found.rows), allow_nan=False)


def test_a_forgotten_rally_by_time(match):
    starts = np.arange(len(match.key)) * 30.0
    keep = np.arange(len(match.key)) != 4
    columns = {
        name: value[keep] if isinstance(value, np.ndarray) else value for name, value in vars(match).items()
    }
    keys = tuple(key for i, key in enumerate(match.key) if i != 4)
    other = type(match)(**{**columns, "key": keys, "placed": (None,) * len(keys)})
    found = observer_agreement(match, other, starts, starts[keep] + 0.4)
    assert found.by == "time"
    assert found.only_first == (match.key[4],)
    assert found.only_second == ()
    assert row(found, "winner").agreed == 1.0
    assert found.words.endswith("one is only in the first log.")


def test_kinds_listed_in_another_order_are_the_same_kinds(match):
    turned = tuple(reversed(match.kinds))
    codes = np.array([turned.index(match.kinds[k]) for k in match.kind], dtype=np.int16)
    found = observer_agreement(match, replace(match, kinds=turned, kind=codes))
    assert row(found, "kind").agreed == 1.0


def test_a_dominant_label_is_judged_by_ac1(match):
    n = len(match.key)
    mostly = np.zeros(n, dtype=np.int16)
    mostly[:3] = 1
    other = mostly.copy()
    other[[3, 4]] = 1
    found = row(observer_agreement(replace(match, box=mostly), replace(match, box=other)), "box")
    assert found.measure == "AC1"
    assert found.alpha < 0.8 < found.value


def test_few_rallies_are_not_judged(make):
    rows = [{"server": "a", "kind": "lob", "winner": "a"}] * 4
    found = observer_agreement(make(rows), make([{**r, "kind": "hard"} for r in rows]))
    assert row(found, "kind").trust is ReliabilityGrade.TOO_FEW
    assert row(found, "left").compared == 0
    assert found.unreliable == frozenset()


def test_nothing_in_common(make):
    found = observer_agreement(make([]), make([]))
    assert found.f1 is None
    assert found.words == "The two logs share no rally."


def test_what_rests_on_a_doubted_column_gets_no_grade(tale, names):
    trusted, doubted = find(tale, "a", names), find(tale, "a", names, unreliable={"kind"})
    lob = next(f for f in doubted.all if f.key == "a-weak-lob-hard")
    assert next(f for f in trusted.all if f.key == "a-weak-lob-hard").grade is Grade.CLEAR
    assert lob.grade is Grade.TOO_FEW
    assert lob.doubted == ("kind",)
    assert lob.p is None
    assert lob.words.endswith("Two observers disagreed on the kind of serve too often to judge this.")
    assert lob not in doubted.top
    assert doubted.asked < trusted.asked


def test_the_quick_alpha_is_the_full_one(match):
    found = observer_agreement(match, spoiled(match, 0.4))
    for item in found.rows:
        if item.measure == "alpha" and item.alpha is not None:
            assert item.value == pytest.approx(item.alpha, rel=1e-12)


def test_a_doubted_finding_only_asks_and_says_why(tale, names):
    doubted = find(tale, "a", names, unreliable={"kind"})
    lob = next(f for f in doubted.all if f.key == "a-weak-lob-hard")
    assert lob.headline == "Which draws weak returns more often, the lob or the hard serve?"
    assert lob.parent_words.endswith("disagreed on the kind of serve too often to judge this.")
