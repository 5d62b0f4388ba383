"""Which decoded spans are offered: the likely ones, and those that the plain chains alone are sure of."""

from __future__ import annotations

import numpy as np

from goodlength.footage.audio.rally_decoding import DecodedRally
from goodlength.footage.audio.rally_recognition import OFFERED, offered_spans
from goodlength.footage.audio.rally_segmentation import HitRun


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
