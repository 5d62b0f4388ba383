"""Every generated sentence against figures worked out anew from the counts that it says itself.

The counts are read off the text, and their chance is computed here by other code than that of the findings.
GOODLENGTH_SENTENCES says how many sentences are read: a few hundred by default, many thousands by hand (with
--timeout=0).
"""

from __future__ import annotations

import os
import re
from collections import defaultdict
from dataclasses import dataclass

import numpy as np
import pytest
from scipy.stats import binom, fisher_exact, hypergeom

from goodlength.findings.rally_masks import SIDES
from goodlength.findings.reports.match_finding_grades_and_top_three import find
from goodlength.findings.result_types import Finding, Grade
from goodlength.synthetic.findings_of_simulated_matches import NAMES, generated, match

SENTENCES = int(os.environ.get("GOODLENGTH_SENTENCES", "500"))
STATES = (11, 12)
COUNTS = re.compile(r"\b(\d+) of (\d+)\b")
REASONS = (
    "In a game, the player who wins more",
    "because the mix differed",
    "Within each service box",
    "several times in a row, ",
    "With kind and box the same",
    "Allowing for the differences between matches",
    "Because the winner of a rally serves",
    "With winning streaks",
    "a run of points",
)
TOTALS = re.compile("The totals of all matches (mislead here|(over|under)state the gap), because")
EASY, ONE_IN_TEN = "Chance alone easily gives a gap like this.", 0.1
OF_CHANCE = ("repeat", "after")
LISTED = ("weak", "won", "repeat", "drift", "change", "serve-edge", "long")


@dataclass(frozen=True)
class Read:
    """One sentence with its counts, and how seldom chance gives them by themselves."""

    finding: Finding
    seldom: float  # twice the smaller tail, at most 1
    explained: bool  # a clause says why the chance is not that of the counts

    @property
    def words(self) -> str:
        return self.finding.words


def two_tails(a: int, n: int, c: int, m: int) -> float:
    """Twice the smaller tail of the hypergeometric distribution."""
    drawn = hypergeom(n + m, a + c, n)
    return float(min(1.0, 2 * min(drawn.cdf(a), drawn.sf(a - 1))))


def read(finding: Finding) -> Read | None:
    """Return the sentence with the chance of its counts; None where it compares nothing."""
    explained = any(reason in finding.words for reason in REASONS)
    if finding.question in OF_CHANCE:
        found = re.search(r"we would expect (?:about (\d+)|between (\d+)|fewer than one)", finding.words)
        if not found or finding.of < 2:
            return None
        middle = float(found[1]) if found[1] else float(found[2]) + 0.5 if found[2] else 0.5
        share = min(1.0, middle / finding.of)
        both = binom(finding.of, share)
        tails = min(both.cdf(finding.count), both.sf(finding.count - 1))
        return Read(finding, float(min(1.0, 2 * tails)), explained)
    if finding.against is None or not finding.of or not finding.against.of:
        return None
    counts = finding.count, finding.of, finding.against.count, finding.against.of
    return Read(finding, two_tails(*counts), explained)


@pytest.fixture(scope="module")
def sentences() -> list[Read]:
    found = [f for state in STATES for f in generated(np.random.default_rng(state), SENTENCES // 2)]
    return [item for item in map(read, found) if item is not None]


def test_the_counts_said_are_those_of_the_finding(sentences):
    for item in sentences:
        finding = item.finding
        for share in (finding, finding.against):
            if share is not None and share.of > 1:
                assert f"{share.count} of {share.of}" in item.words, item.words
        for count, of in COUNTS.findall(item.words):
            assert int(count) <= int(of), item.words


def test_what_is_said_of_chance_is_borne_out_by_the_counts_said(sentences):
    """Before: "7 of 8 and 41 of 42 ... about 1 time in 6", "9 of 11, about 6 ... less than 1 time in 100"."""
    said = defaultdict(int)
    for item in sentences:
        words, seldom, by_order = item.words, item.seldom, item.finding.question in OF_CHANCE
        if "So far the two are equal." in words:
            said["equal"] += 1
            assert (
                item.finding.count * item.finding.against.of == item.finding.against.count * item.finding.of
            )
        if item.explained:
            said["explained"] += 1
            continue
        if EASY in words:
            said["easily"] += 1
            assert seldom >= (0.02 if by_order else ONE_IN_TEN), words
        if words.endswith("It may well be chance.") or "It may well be chance. If" in words:
            said["may"] += 1
            assert seldom >= (0.01 if by_order else 0.04), words
        many = re.search(r"It is one of (\w+) things checked, so it may well be chance\.", words)
        if many:
            said["many"] += 1
            assert number(many[1]) * seldom >= ONE_IN_TEN, words
        if "very unlikely to be chance" in words and not by_order:
            assert seldom <= 0.05, words
        elif "unlikely to be chance" in words:
            assert seldom <= 0.15, words
        if "This was not a planned question" in words:
            said["unplanned"] += 1
            assert by_order or seldom <= 0.35, words
    assert min(said[name] for name in ("equal", "easily", "may", "many")) > 0


def number(words: str) -> int:
    names = (
        "no",
        "one",
        "two",
        "three",
        "four",
        "five",
        "six",
        "seven",
        "eight",
        "nine",
        "ten",
        "eleven",
        "twelve",
    )
    return names.index(words) if words in names else int(words)


def bands(words: str) -> tuple[float, float] | None:
    """Return the chances that the words about chance allow; None where they speak of none."""
    for said, ends in (
        ("hance alone easily gives a gap like this.", (0.3, 1.0)),
        ("It may well be chance.", (0.1, 0.3)),
        (" it may well be chance.", (0.1, 0.3)),
        ("t is one of ", (0.0, 0.1)),
    ):
        if said in words and not (ends[0] == 0.1 and "things checked" in words):
            return ends
    return None


def test_the_words_about_chance_are_true_of_the_counts_and_of_the_p_that_was_judged(sentences):
    """Before: "It may well be chance." of 83 of 144 and 63 of 137 (.057), with p .119 and no reason."""
    said = defaultdict(int)
    for item in sentences:
        finding, words = item.finding, item.words
        if finding.grade is not Grade.TOO_FEW or finding.against is None or finding.p is None:
            continue
        ends = bands(words)
        if ends is None:
            continue
        said[ends] += 1
        low, high = ends
        assert low - 1e-9 <= finding.p, words
        stated = max(finding.p, item.seldom) if not item.explained else finding.p
        assert finding.p < high + 1e-9 or low == 0.0 or stated < high, words
        if item.explained:
            continue
        table = np.array(
            [[share.count, share.of - share.count] for share in (finding, finding.against)], dtype=int
        )
        p = float(fisher_exact(table).pvalue)
        assert low - 1e-9 <= p < high + (1.0 if high == 1.0 else 1e-9), (p, words)
    assert len(said) == 3, said


def test_a_corrected_chance_says_that_it_is_corrected(sentences):
    """Before: "Where one serve tends to follow another of its kind, chance alone gives ... 1 time in 13"."""
    for item in sentences:
        if re.search(r"chance alone gives a gap like this (about|less)", item.words, re.IGNORECASE) and (
            item.finding.q > 1.5 * item.finding.p
        ):
            assert re.search(r"with \w+( \w+)? things checked", item.words, re.IGNORECASE), item.words


def test_totals_are_called_misleading_where_they_are_and_only_there(sentences):
    """The gap within matches is that of the effect; before, said of 31 and 28 points, not of -5 and 8."""
    said = defaultdict(int)
    for item in sentences:
        finding, effect = item.finding, item.finding.effect
        if finding.scope == "in this match" or effect is None or finding.question == "serve-edge":
            continue
        seen = finding.count / finding.of - finding.against.count / finding.against.of
        apart, larger = abs(effect.value - seen), max(abs(effect.value), abs(seen))
        turned = effect.value * seen < 0 and min(abs(effect.value), abs(seen)) >= 0.005
        misleads = turned or apart >= max(0.05, larger / 4)
        hidden = finding.headline.startswith("Within matches")
        said[misleads] += 1
        assert bool(TOTALS.search(item.words)) == (misleads or hidden), item.words
        assert not turned or "mislead here" in item.words, item.words
    assert all(said[misleads] for misleads in (True, False)), said


def test_a_chance_in_numbers_is_that_of_the_counts_and_of_what_was_checked(sentences):
    """A number is said of a Possible gap alone; the step of its wording is at most a quarter."""
    for item in sentences:
        found = re.search(r"about 1 time in (\d+)", item.words)
        if not found:
            continue
        assert item.finding.grade is Grade.LEANING, item.words
        assert item.finding.listed, item.words
        often, things = 1 / int(found[1]), 40 if "so many" in item.words else 3
        if item.explained or item.finding.question in OF_CHANCE:
            continue
        assert often >= 0.3 * item.seldom, item.words
        assert often <= 1.25 * 1.1 * things * item.seldom, item.words


def test_the_likely_size_is_no_larger_than_the_counts_show_without_a_reason(sentences):
    """Before: "185 of 286 and 62 of 113 ... likely smaller, nearer 13 percentage points", of ten."""
    for item in sentences:
        words, finding = item.words, item.finding
        if "likely" not in words.replace("unlikely", ""):
            assert finding.grade not in (Grade.CLEAR, Grade.LEANING) or finding.likely is not None
            continue
        assert finding.grade in (Grade.CLEAR, Grade.LEANING), words
        pair = re.search(r"nearer (\d+) of (\d+) against (\d+) of (\d+)", words)
        alone = re.search(r"nearer (\d+) of (\d+)\.", words)
        points = re.search(r"nearer (\d+) percentage point", words)
        within = re.search(r"average gap is about (\d+) percentage point", words)
        if pair:
            a, n, c, m = map(int, pair.groups())
            seen = finding.count / finding.of - finding.against.count / finding.against.of
            assert (a / n - c / m) * seen > 0, words
            assert abs(a / n - c / m) <= abs(seen) + 0.5 / n + 0.5 / m, words
        elif alone:
            expected = re.search(r"we would expect (?:about (\d+)|between (\d+) and (\d+))", words)
            ends = [int(number) for number in expected.groups() if number]
            near = int(alone[1])
            assert min(*ends, finding.count) <= near <= max(*ends, finding.count), words
        elif within:
            assert points, words
            assert int(points[1]) <= int(within[1]), words
        else:
            assert points, words
            seen = finding.count / finding.of - (finding.against.count / finding.against.of)
            assert int(points[1]) <= 100 * abs(seen) + 1, words


def test_the_gap_within_matches_or_boxes_is_said_with_its_reason(sentences):
    """Before: "20 of 25 and 57 of 72 ... Within matches the average gap is about 7 percentage points"."""
    for item in sentences:
        if "the average gap is" not in item.words:
            continue
        assert re.search(
            r"because the mix differed|in different proportions|repeated more often than others", item.words
        ), item.words
        if item.finding.grade is Grade.TOO_FEW:
            assert TOTALS.search(item.words)
            gap = re.search(r"about (\d+) percentage points?(, the other way)?", item.words)
            size = (-1 if gap and gap[2] else 1) * (int(gap[1]) if gap else 0)
            finding = item.finding
            seen = 100 * abs(finding.count / finding.of - finding.against.count / finding.against.of)
            assert "in favour" in item.words or size < 0 or abs(size - seen) >= 4, item.words


def test_more_serves_or_matches_are_named_only_where_they_could_settle_it(sentences):
    for item in sentences:
        words, finding = item.words, item.finding
        assert "several hundred" not in words
        if "would probably settle it" in words:
            assert finding.question in LISTED
            assert finding.question != "drift", words
            assert finding.scope == "in this match", words
            assert EASY not in words, words
            if finding.grade is Grade.TOO_FEW:
                assert not item.explained, words
                assert finding.question != "serve-edge" or finding.count * finding.against.of < (
                    finding.against.count * finding.of
                ), words
        if "lasts" in words:
            assert finding.grade is Grade.LEANING, words


def test_repeats_inside_the_range_of_chance_have_no_grade(sentences):
    seen = 0
    for item in sentences:
        found = re.search(r"we would expect about (\d+), and 19 times in 20 from (\d+) to (\d+)", item.words)
        if not found:
            continue
        seen += 1
        middle, low, high = map(int, found.groups())
        assert low < middle < high, item.words
        if low < item.finding.count < high:
            assert item.finding.grade in (Grade.TOO_FEW, Grade.LEANING), item.words
        else:
            assert EASY not in item.words, item.words
    assert seen


def kind_of(finding: Finding) -> str:
    return finding.key.split("-", 2)[2] if "-" in finding.key[2:] else ""


def test_the_counts_of_one_match_agree_with_each_other():
    """Before: "the only mid-height serve" in a match where after two of them another serve followed."""
    rng = np.random.default_rng(13)
    for _ in range(max(12, SENTENCES // 25)):
        table = match(rng, "m")
        found = find(table, SIDES[rng.integers(2)], NAMES).all
        by_question: dict[str, list[Finding]] = defaultdict(list)
        for finding in found:
            by_question[finding.question].append(finding)
        things = {number for f in found for number in re.findall(r"one of (\w+) things checked", f.words)}
        assert len(things) <= 1, things
        assert not re.search(r"games? \d.*\b[6-9]\b", " ".join(re.findall(r"in games [^;,.]*", str(found))))
        sizes = {
            (f.of, f.against.of) for name in ("drift", "kind-drift") for f in by_question[name] if f.against
        }
        assert len(sizes) <= 1, sizes
        totals = {f.of + f.against.of for f in by_question["kind-weak"] if f.against}
        assert len(totals) <= 1, totals
        after = by_question["after"]
        if after and by_question["repeat"]:
            assert sum(f.of for f in after) == by_question["repeat"][0].of
            assert sum(f.count for f in after) == by_question["repeat"][0].count
        own = table.server == SIDES.index(found[0].about) if found else None
        for finding in found:
            if re.search(r"the only (lob|hard serve|mid-height serve)(?! with)", finding.words) and (
                finding.question in ("weak", "kind-weak")
            ):
                named = re.search(r"the only (lob|hard|mid-height)(?! with)", finding.words)[1]
                kind = table.kinds.index(named)
                assert int((own & (table.kind == kind) & ~table.let).sum()) == 1, finding.words
