"""What progress, carry-over and a serve that shows are said to be, held to their own counts."""

from __future__ import annotations

import re
from datetime import date

import numpy as np
import pytest

from goodlength.bench.footage import serve_cue_onset_accuracy
from goodlength.measure.body.serve_cue_onset import (
    DisguiseResult,
    TooFewServes,
    disguise_words,
    time_of_disguise_loss,
)
from goodlength.practice.progress_sentences import progress_sentences
from goodlength.practice.statistics.drill_progress import (
    ENOUGH,
    OrderComparison,
    PracticeOrder,
    PracticeSet,
    Progress,
    progress_of,
)
from goodlength.practice.statistics.practice_transfer import carried_over
from goodlength.tasks.practice.practice_transfer import transfer_words

CHANGE = re.compile(r"Change ([+-]\d+) percentage points, 95% range ([+-]\d+) to ([+-]\d+): (.*)")


@pytest.mark.parametrize("more_is_better", [True, False])
def test_carry_over_says_better_or_worse_only_where_its_range_does(more_is_better):
    rng = np.random.default_rng(71)
    told = set()
    for _ in range(300):
        p = rng.uniform(0.1, 0.9, 2)
        n = [(int(rng.integers(5, 400)), int(rng.integers(5, 400))) for _ in range(2)]
        before = {k: (int(rng.binomial(n[k][0], p[0])), n[k][0]) for k in range(2)}
        after = {k: (int(rng.binomial(n[k][1], p[1])), n[k][1]) for k in range(2)}
        found = carried_over(before, after)
        words = transfer_words("rallies won", more_is_better, 2, found, None, 0)
        change, low, high, verdict = CHANGE.match(words[1]).groups()
        assert int(low) <= int(change) <= int(high)
        h0, n0, h1, n1 = (int(x) for x in re.findall(r"(\d+) of (\d+) before, (\d+) of (\d+)", words[0])[0])
        together = h1 / n1 - h0 / n0
        hides = any("counts together hide it" in word for word in words)
        if together * int(change) < 0 and abs(together - found.change) >= 0.05:
            assert hides, words
        if verdict.startswith("not enough data"):
            assert int(low) <= 0 <= int(high)
        else:
            better = (int(change) > 0) == more_is_better
            assert verdict.startswith("better" if better else "worse"), words
            assert int(low) * int(high) >= 0
        told.add(verdict.split(",")[0])
    assert {"better", "worse"} <= told


def test_a_change_the_counts_turn_round_is_named():
    """Before: "72 of 110 before, 48 of 110 after" beside "Change +10 in 100" without a word."""
    before, after = {"right": (70, 100), "left": (2, 10)}, {"right": (8, 10), "left": (30, 100)}
    words = transfer_words("rallies won", True, 1, carried_over(before, after), None, 0)
    assert words[1].startswith("Change +")
    assert "The change is that within each opponent, ball and box: the counts together hide it." in words


@pytest.mark.parametrize(("of_kind", "others"), [(0, 0), (19, 40), (40, 3)])
def test_too_few_serves_claim_nothing_of_when_they_show(of_kind, others):
    said = disguise_words(TooFewServes(of_kind, others), ("lob", "lobs"), "Imogen")
    assert said[0].startswith("Not enough data")
    assert str(of_kind) in said[0]
    assert str(others) in said[0]
    assert not re.search(r"can be read", " ".join(said))


def practised(rng: np.random.Generator, n: int) -> list[PracticeSet]:
    """Sets of a drill over some days, in any mix of practice types, some with places."""
    rate, sets = rng.uniform(0.1, 0.9), []
    change = float(rng.choice((-0.5, -0.2, 0.0, 0.2, 0.5)))
    for day in range(n):
        of = int(rng.choice((1, 5, 15, 45)))
        hits = int(rng.binomial(of, np.clip(rate + change * (day > 0), 0.0, 1.0)))
        order = list(PracticeOrder)[int(rng.integers(3))] if rng.random() < 0.3 else PracticeOrder.BLOCKED
        places: tuple[tuple[float, float], ...] = ()
        if rng.random() < 0.5:
            spread = 0.4 if day == 0 else 0.4 - 0.3 * max(change, 0.0)
            places = tuple((float(x), float(z)) for x, z in rng.normal((1.5, 2.9), spread, (of, 2)))
        aim = (1.5, 2.9) if places else None
        sets.append(PracticeSet(date(2026, 11, 1 + day), hits, of, order, places, aim))
    return sets


def rises(drill_progress: Progress) -> list[float]:
    """How much each practice type rose, and how much nearer the balls came: what a verdict may rest on."""
    rates = [c.since[0] / c.since[1] - c.first[0] / c.first[1] for c in drill_progress.by_order if c.since[1]]
    return rates + [-seen.change_m for _, seen in drill_progress.distances]


def test_progress_says_no_more_than_its_counts_and_its_evidence():
    rng = np.random.default_rng(72)
    told = set()
    for _ in range(250):
        item = progress_of(practised(rng, int(rng.integers(1, 9))))
        said = progress_sentences(item)
        words = " ".join(said)
        told.add(item.verdict)
        better, worse = "Better than at first" in words, "Worse than at first" in words
        assert better == (item.verdict == "better")
        assert worse == (item.verdict == "worse")
        if better or worse:
            assert item.evidence >= ENOUGH
            assert any((rise > 0) == better for rise in rises(item)), said
        else:
            assert "unlikely to be chance" not in words
            assert "levelling off" not in words and "changing steadily" not in words, said
        if "smaller than days differ" in words:
            assert item.verdict == "cannot-tell"
            assert all(abs(c.since[0] / c.since[1] - c.first[0] / c.first[1]) < 0.05 for c in later(item))
        for hits, of in re.findall(r"(\d+) of (\d+) (?:hit|since)", words):
            assert int(hits) <= int(of) > 1, said
        now = re.search(r"about (\d+) of 20 \(95% range (\d+) to (\d+)\)", words)
        if now:
            rate, low, high = (int(x) for x in now.groups())
            assert low <= rate <= high
        if re.search(r"\(change [+-]\d+", words):
            assert "if all days were alike" in words  # the verdict allows for days, that range does not
    assert {"better", "worse", "cannot-tell", "one-session", "unlike"} <= told


def later(drill_progress: Progress) -> list[OrderComparison]:
    return [compared for compared in drill_progress.by_order if compared.since[1]]


def cue(tell_s, range_s=None, place_score=None, place_tells=False):
    none = np.zeros(1)
    until, score = np.array([-0.8, -0.3, -0.02]), np.array([0.5, 0.75, 0.9])
    return DisguiseResult(
        25, 31, until, score, 0.7, tell_s, range_s, place_score, place_tells, none, none, none
    )


@pytest.mark.parametrize("tell_s", [None, -0.02, -0.31, -0.8])
@pytest.mark.parametrize("range_s", [None, (-0.4, -0.2), (-0.31, -0.31)])
@pytest.mark.parametrize(("place_score", "place_tells"), [(None, False), (0.6, False), (0.82, True)])
def test_a_serve_cue_is_said_as_early_as_it_was_found_and_no_earlier(
    tell_s, range_s, place_score, place_tells
):
    """Before: "at least 0.31 s ... Nothing gives it away earlier" beside "in parts 0.20 to 0.40 s"."""
    said = disguise_words(cue(tell_s, range_s, place_score, place_tells), ("lob", "lobs"), "Imogen")
    words = " ".join(said)
    assert "25 lobs compared with 31 other serves" in said[0]
    early = re.search(r"can be read about (\d\.\d+) s before contact", words)
    if tell_s is None or tell_s > -0.03:
        assert early is None
        assert "With some of these" not in words
        assert ("Nothing that was checked" in words) == (tell_s is None)
    else:
        assert early is not None
        assert float(early[1]) == pytest.approx(-tell_s, abs=0.005)
        assert "may show earlier" in words
    assert not re.search(r"at least|Nothing gives it away earlier|\b(\d\.\d+) to \1\b", words)
    assert ("gives the serve away" in words) == place_tells
    assert ("also gives" in words) == (place_tells and tell_s is not None)
    assert said[-1].endswith("A player may not see it.")


def test_a_cue_that_is_there_is_found_and_one_that_is_not_is_not_claimed():
    rng = np.random.default_rng(73)
    for at in (-0.25, None):
        joints, labels, match, box, _ = serve_cue_onset_accuracy.serves(rng, 24, at)
        found = time_of_disguise_loss(
            joints, serve_cue_onset_accuracy.TIMES_S, labels, groups=match, strata=box, shuffles=100
        )
        assert ("can be read about" in disguise_words(found, ("lob", "lobs"), "Imogen")[0]) == (
            at is not None
        )


@pytest.mark.parametrize("more_is_better", [True, False])
def test_carry_over_names_regression_only_beside_what_it_could_explain(more_is_better):
    """Before: "part of any rise would have come anyway" beside "worse", also for what should fall."""
    rose, fell = (
        carried_over({"x": (20, 200)}, {"x": (120, 150)}),
        carried_over({"x": (160, 200)}, {"x": (15, 150)}),
    )
    for found, better in ((rose, more_is_better), (fell, not more_is_better)):
        words = " ".join(transfer_words("rallies won", more_is_better, 4, found, None, 1))
        assert ("regression to the mean" in words) == better
        assert ("better, allowing" in words) == better
        assert "1 match played while the plan ran was left out." in words
