"""What stands around a span: each feature against a recording in which it can be counted by hand."""

from dataclasses import replace

import numpy as np
import pytest

from goodlength.footage.audio.impact_classifier_network import STATES, SURFACES, Impacts
from goodlength.footage.audio.span_chances.rally_probability_from_context import (
    FEATURES,
    HIGHEST,
    LOWEST,
    OFFSET,
    WEIGHTS,
    SpanAlone,
    context_features,
    context_odds,
)

TYPICAL = np.array([3.0, 3.0, 2.5, 3.0])


def rows_of(heard: Impacts, spans: list[SpanAlone]) -> np.ndarray:
    return context_features(heard, spans, TYPICAL)


def recording(rows: list[tuple[float, str]], hitting: float = 0.1) -> Impacts:
    """Impacts at seconds, each surely named."""
    table = sorted(rows)
    surface = np.zeros((len(table), len(SURFACES)), np.float32)
    surface[np.arange(len(table)), [SURFACES.index(name) for _, name in table]] = 1.0
    state = np.zeros((len(table), len(STATES)), np.float32)
    state[:, STATES.index("hitting")] = hitting
    nothing = np.zeros(len(table), np.float32)
    at = np.array([t for t, _ in table], np.float32)
    return Impacts(at, surface, nothing, nothing, nothing, state, nothing)


def strikes(start: float, count: int, gap: float = 1.25) -> list[tuple[float, str]]:
    return [(start + gap * k, "racket") for k in range(count)]


def span(start: float, count: int, odds: float = 2.0, gap: float = 1.25) -> SpanAlone:
    return SpanAlone(start + gap * np.arange(count), odds)


def feature(rows: np.ndarray, name: str) -> list[float]:
    return rows[:, FEATURES.index(name)].tolist()


def test_there_is_a_finite_weight_for_each_feature():
    assert len(FEATURES) == len(set(FEATURES)) == len(WEIGHTS) == len(LOWEST) == len(HIGHEST)
    assert np.isfinite([*WEIGHTS, *LOWEST, *HIGHEST, OFFSET]).all()
    assert any(WEIGHTS)
    assert (np.array(LOWEST) < np.array(HIGHEST)).all()


def test_no_spans_no_rows():
    heard = recording(strikes(5, 4))
    assert rows_of(heard, []).shape == (0, len(FEATURES))
    assert len(context_odds(heard, [], TYPICAL)) == 0


def test_a_span_by_itself_has_neutral_neighbours():
    rows = rows_of(recording(strikes(40.0, 4)), [span(40.0, 4)])
    assert feature(rows, "neighbours") == [0.0]
    assert feature(rows, "other spans") == [0.0]
    assert feature(rows, "strikes beside usual") == [0.0]
    assert feature(rows, "gap beside usual") == pytest.approx([0.0])


def test_nearer_neighbours_count_more_and_far_ones_not_at_all():
    heard = recording([*strikes(10, 4), *strikes(30, 4), *strikes(400, 4)])
    spans = [span(10, 4, 2.0), span(30, 4, -3.0), span(400, 4, 2.0)]
    near = feature(rows_of(heard, spans), "neighbours")
    assert near[0] < 0 < near[1]
    assert near[2] == 0.0


def test_hitting_and_strikes_outside_spans_count_before_and_after():
    heard = recording([*strikes(12, 9), *strikes(40, 4)], hitting=0.8)
    rows = rows_of(heard, [span(40, 4)])
    assert feature(rows, "strikes outside before") == pytest.approx([np.log1p(9)])
    assert feature(rows, "strikes outside after") == [0.0]
    assert feature(rows, "hitting before")[0] == pytest.approx(0.8 * 9 / 9.5, rel=1e-5)
    assert feature(rows, "hitting after") == [0.0]
    assert feature(rows, "hitting in spans")[0] == pytest.approx(0.8 * 4 / 4.5, rel=1e-5)


def test_bounces_before_a_serve_and_a_ball_that_runs_dead_are_counted():
    floor = [(38.0 + 0.5 * k, "floor") for k in range(3)] + [(45.0, "floor"), (45.6, "other wall")]
    rows = rows_of(recording([*floor, *strikes(40, 4)]), [span(40, 4)])
    assert feature(rows, "bounces before") == pytest.approx([np.log1p(3)])
    assert feature(rows, "running dead after") == pytest.approx([np.log1p(2)])


def test_a_pause_before_a_serve_is_heard_up_to_half_a_minute():
    heard = recording([*strikes(10, 1), *strikes(20, 4), *strikes(90, 4)])
    quiet = feature(rows_of(heard, [span(20, 4), span(90, 4)]), "quiet before")
    assert quiet == pytest.approx([np.log(10), np.log(30)], rel=1e-4)


def test_the_first_gap_and_the_tempo_stand_beside_the_usual_ones():
    slow = SpanAlone(np.array([20.0, 22.5, 23.5, 24.5, 25.5]), 1.0)
    quick = SpanAlone(np.array([50.0, 50.5, 51.0, 51.5]), 1.0)
    heard = recording([(t, "racket") for s in (slow, quick) for t in s.strikes_s.tolist()])
    rows = rows_of(heard, [slow, quick])
    assert feature(rows, "first gap") == pytest.approx([np.log(2.5), 0.0])
    assert feature(rows, "gap beside usual") == pytest.approx(np.log(np.array([1.0, 0.5]) / 0.75).tolist())


def test_levels_that_alternate_are_measured():
    heard = recording(strikes(10, 6))
    uneven = replace(heard, level_db=np.array([0, -6, 0, -6, 0, -6], np.float32))
    spans = [span(10, 6)]
    assert feature(rows_of(heard, spans), "levels alternate") == [0.0]
    assert feature(rows_of(uneven, spans), "levels alternate") == pytest.approx([6.0])


def test_a_span_among_rallies_is_likelier_than_the_same_in_a_warm_up():
    """The weights learnt say so: same span, other surroundings."""
    rallies = [
        [*strikes(30.0 * k, 6), (30.0 * k - 1.0, "floor"), (30.0 * k + 8, "floor")] for k in range(1, 9)
    ]
    match = recording([row for rows in rallies for row in rows], hitting=0.05)
    warm = recording([(5 + 1.4 * k, "racket") for k in range(190)], hitting=0.7)
    certain = context_odds(match, [span(30.0 * k, 6, 3.0) for k in range(1, 9)], TYPICAL)[3]
    doubtful = context_odds(
        warm, [span(33.0 + 8.4 * k, 5, 0.0 if k != 4 else 3.0, 1.4) for k in range(9)], TYPICAL
    )[4]
    assert certain > doubtful + 1.0


def test_a_short_gap_to_the_next_span_counts_and_a_long_gap_does_not():
    spans = [span(10, 4, 0.5), span(16.75, 6, 3.0), span(60, 5, 1.0)]
    heard = recording([(t, "racket") for s in spans for t in s.strikes_s.tolist()])
    rows = rows_of(heard, spans)
    assert feature(rows, "under 5 s after") == pytest.approx([np.log(5 / 3), 0.0, 0.0])
    assert feature(rows, "under 9 s before") == pytest.approx([0.0, np.log(3), 0.0])
    assert feature(rows, "next one's odds") == pytest.approx([3.0 * np.log(7 / 3), 0.0, 0.0])
    assert feature(rows, "last one's odds") == pytest.approx([0.0, 0.5 * np.log(7 / 3), 0.0])
    assert feature(rows, "next one longer") == pytest.approx([np.log(1.5) * np.log(7 / 3), 0.0, 0.0])
    assert feature(rows, "first span") == [1.0, 0.0, 0.0]
    assert feature(rows, "last span") == [0.0, 0.0, 1.0]


def test_a_piece_of_a_rally_has_the_rest_of_its_rackets_beside_it():
    heard = recording(strikes(10, 8))
    rows = rows_of(heard, [SpanAlone(10 + 1.25 * np.arange(2, 5), 2.0)])
    assert feature(rows, "rackets soon before") == [1.0]
    assert feature(rows, "rackets before") == [1.0]
    assert feature(rows, "rackets soon after") == [1.0]
    assert feature(rows, "rackets after") == [2.0]


def test_where_the_front_wall_lies_between_strikes_is_a_share():
    walls = [(10 + 1.25 * k + 0.5, "front wall") for k in range(4)]
    rows = rows_of(recording([*strikes(10, 4), *walls]), [span(10, 4)])
    assert feature(rows, "wall's share") == pytest.approx([0.4], abs=1e-5)
    assert feature(rows, "wall's share varies") == pytest.approx([0.0], abs=1e-5)
    assert feature(rows, "wall after") == [1.0]


def test_gaps_stand_beside_the_recordings_tempo():
    slow = SpanAlone(np.array([20.0, 21.0, 23.0, 24.0]), 1.0)
    rows = rows_of(recording([(t, "racket") for t in slow.strikes_s.tolist()]), [slow])
    assert feature(rows, "longest gap") == pytest.approx([np.log(2)])
    assert feature(rows, "shortest gap") == [0.0]
    assert feature(rows, "gaps change") == pytest.approx([np.log(2)])


def test_the_first_strike_stands_beside_the_others_as_a_serve():
    heard = replace(recording(strikes(10, 3)), first=np.array([4.0, -1.0, -3.0], np.float32))
    assert feature(rows_of(heard, [span(10, 3)]), "first beside inner ones") == [5.0]
    assert feature(rows_of(heard, [span(10, 1)]), "first beside inner ones") == [3.0]


def test_a_recording_in_which_the_network_is_at_a_loss_is_less_sure():
    heard, spans = recording(strikes(10, 6)), [span(10, 6, 3.0)]
    lost = context_odds(heard, spans, np.array([0.0, 0.0, 0.5, 0.0]))
    assert lost[0] < context_odds(heard, spans, TYPICAL)[0] - 0.5
