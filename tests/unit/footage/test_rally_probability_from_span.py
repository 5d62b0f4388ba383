"""The chance of a span: what counts beside the recording's own usual, and what counts as it is."""

from dataclasses import replace

import numpy as np
import pytest

from goodlength.footage.audio.impact_classifier_network import STATES, SURFACES, Impacts
from goodlength.footage.audio.rally_decoding import DecodedRally, decode_rallies
from goodlength.footage.audio.span_chances.rally_probability_from_span import (
    FEATURES,
    NAMES,
    OFFSET,
    RELATIVE,
    SHAPE,
    USUAL,
    USUAL_SPANS,
    WEIGHTS,
    medians,
    share_of_spans,
    span_odds,
)


def by_itself(rally: DecodedRally) -> float:
    """Return the chance of a span before what stands around it is counted."""
    return float(1 / (1 + np.exp(-rally.alone)))


def recording(odds=3.0, racket=0.97, count=8) -> Impacts:
    """Rallies of five strikes with a wall between each, at the same log-odds."""
    rows = []
    for start in np.arange(count) * 20.0 + 3:
        for k in range(5):
            rows.append((start + 1.3 * k, 1, odds, odds if k == 0 else -odds, odds if k == 4 else -odds))
            rows.append((start + 1.3 * k + 0.35, 2, -9.0, -9.0, -9.0))
    table = np.array(rows, np.float32)
    surface = np.full((len(rows), len(SURFACES)), (1 - racket) / 7, np.float32)
    surface[np.arange(len(rows)), table[:, 1].astype(int)] = racket
    state = np.tile(np.array([0.05, 0.9, 0.05], np.float32), (len(rows), 1))
    return Impacts(
        table[:, 0], surface, table[:, 2], table[:, 3], table[:, 4], state, np.zeros(len(rows), np.float32)
    )


def test_there_is_a_weight_for_each_feature():
    assert len(FEATURES) == len(set(FEATURES)) == len(WEIGHTS) == len(SHAPE) + len(NAMES) + len(RELATIVE)
    assert len(USUAL) == len(RELATIVE)
    assert np.isfinite([*WEIGHTS, *USUAL, OFFSET]).all()


def test_a_recording_whose_log_odds_are_all_lower_is_nearly_as_sure():
    """A hall never heard lowers all of them alike; as absolute numbers they made every span doubtful."""
    usual, lower = (decode_rallies(recording(odds)) for odds in (4.0, 2.5))
    assert len(usual) == len(lower) == 8
    pairs = zip(usual, lower, strict=True)
    assert max(abs(by_itself(a) - by_itself(b)) for a, b in pairs) < 0.1


def test_a_span_weaker_than_the_others_of_its_recording_has_a_lower_chance():
    heard = recording(4.0)
    weak = (heard.time_s > 40) & (heard.time_s < 60)
    lowered = replace(heard, strike=np.where(weak, heard.strike - 2, heard.strike))
    found = decode_rallies(lowered)
    assert by_itself(found[2]) == min(by_itself(rally) for rally in found)


def test_a_recording_that_sounds_like_a_warm_up_throughout_says_so():
    heard = recording()
    hitting = np.tile(np.array([0.02, 0.3, 0.68], np.float32), (len(heard), 1))
    assert STATES[2] == "hitting"
    assert not any(rally.like_warm_up for rally in decode_rallies(heard))
    found = decode_rallies(replace(heard, state=hitting))
    assert found
    assert all(rally.like_warm_up for rally in found)


def test_few_spans_are_measured_by_what_is_usual():
    usual = np.array(USUAL)
    assert np.allclose(medians(np.zeros((0, len(RELATIVE)))), usual)
    item = medians(np.zeros((1, len(RELATIVE))))
    assert np.allclose(item, usual * USUAL_SPANS / (1 + USUAL_SPANS))
    many = medians(np.zeros((300, len(RELATIVE))))
    assert np.abs(many).max() < 0.1


def test_no_chance_is_nought_or_one():
    wild = np.array([np.full(len(FEATURES), value) for value in (-1e4, 0.0, 1e4)])
    assert (np.abs(span_odds(wild)) <= 9).all()


def test_the_share_of_two_spans_is_of_what_both_cover():
    assert share_of_spans((1.0, 5.0), (1.0, 5.0)) == pytest.approx(1.0)
    assert share_of_spans((1.0, 5.0), (9.0, 12.0)) == 0.0
    assert share_of_spans((0.0, 4.0), (4.0, 8.0)) == pytest.approx(0.8 / 8.8)
