"""Which decoded spans are offered and which are sure, and what the plain chains say to both."""

from __future__ import annotations

import numpy as np
import pytest

from goodlength.footage.audio.hit_and_rally_segmentation import HitRun
from goodlength.footage.audio.network_rally_recognition import (
    OFFERED,
    SURE,
    UNWITNESSED,
    offered_spans,
    witnessed_chances,
)
from goodlength.footage.audio.rally_decoding import DecodedRally


def span(start_s: float, chance: float) -> DecodedRally:
    strikes = start_s + np.arange(6) * 1.3
    return DecodedRally(strikes, np.ones(6), chance, np.zeros(1))


def run(start_s: float) -> HitRun:
    hits = start_s + np.arange(6) * 1.3
    return HitRun(hits, np.zeros(6), np.zeros(6), 1.0)


LIKELY = [span(20.0 * n, 0.9) for n in range(8)]


def test_what_the_plain_chains_alone_are_sure_of_is_offered_where_both_agree_elsewhere() -> None:
    """Before: a rally of seven clear strikes was left out of the list without a word."""
    weak = span(160.0, OFFERED / 2)
    plain = tuple(run(20.0 * n) for n in range(9))
    assert offered_spans([*LIKELY, weak], plain) == [*LIKELY, weak]


def test_it_is_left_out_where_the_plain_chains_do_not_find_it_or_disagree_elsewhere() -> None:
    weak = span(160.0, OFFERED / 2)
    assert offered_spans([*LIKELY, weak], tuple(run(20.0 * n) for n in range(8))) == LIKELY
    elsewhere = tuple(run(20.0 * n + 10.0) for n in range(8))
    assert offered_spans([*LIKELY, weak], (*elsewhere, run(160.0))) == LIKELY
    assert offered_spans([], ()) == offered_spans([], (run(0.0),)) == []


def five_strikes(start: float, chance: float, warm: bool = False) -> DecodedRally:
    strikes = start + 1.3 * np.arange(5)
    return DecodedRally(strikes, np.full(5, 0.9), chance, np.zeros(1), like_warm_up=warm)


def chain(start: float) -> HitRun:
    return HitRun(start + 1.3 * np.arange(5), np.zeros(5), np.zeros(5), 5.0)


def test_a_likely_span_keeps_its_chance_without_the_plain_chains():
    assert witnessed_chances([five_strikes(10, 0.93), five_strikes(40, 0.4)], ()) == [0.93, 0.4]


def test_where_both_find_the_same_and_nothing_else_all_is_sure():
    found = [five_strikes(10.0 + 20 * k, 0.3) for k in range(8)]
    assert witnessed_chances(found, tuple(chain(10.0 + 20 * k) for k in range(8))) == [SURE] * 8


def test_where_a_span_is_hardly_a_rally_the_agreement_of_both_counts_for_nothing():
    """Both take a ball kept warm for a rally; a recording that holds such has unlikely spans."""
    found = [five_strikes(10.0 + 20 * k, 0.05 if k == 3 else 0.3) for k in range(8)]
    chances = witnessed_chances(found, tuple(chain(10.0 + 20 * k) for k in range(8)))
    assert chances == [rally.chance for rally in found]


def test_a_chain_that_bears_out_one_span_alone_makes_it_no_surer():
    found = [five_strikes(10, 0.88), five_strikes(40, 0.5), five_strikes(70, 0.5)]
    assert witnessed_chances(found, (chain(10),)) == [0.88, 0.5, 0.5]


@pytest.mark.parametrize(("chains", "chance"), [((), UNWITNESSED), ((chain(10),), 0.97)])
def test_in_a_recording_like_a_warm_up_only_what_both_find_is_sure(chains, chance):
    found = [five_strikes(10, 0.97, warm=True), five_strikes(40, 0.1, warm=True)]
    assert witnessed_chances(found, chains)[0] == chance


def test_nothing_heard_has_no_chances():
    assert witnessed_chances([], (chain(10),)) == []
