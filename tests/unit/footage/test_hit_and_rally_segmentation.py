"""From impacts to rallies, on impacts written down by hand."""

from __future__ import annotations

import numpy as np
import pytest

from goodlength.footage.audio.hit_and_rally_segmentation import (
    HitRun,
    drop_warm_up,
    gap_log_odds,
    join_runs,
    loudest_around,
    otsu_threshold,
    segment_rallies,
    usual_level_db,
)
from goodlength.footage.audio.onset_detection import Onsets


class Score:
    """Impacts of an invented stretch of play, added one by one."""

    def __init__(self, seed: int = 0) -> None:
        self.rng = np.random.default_rng(seed)
        self.rows: list[tuple[float, float, float, float, float]] = []

    def impact(self, at: float, level: float = -12.0, rise: float = 25.0, fall: float = -8.0) -> None:
        self.rows.append((at, rise, level + float(self.rng.normal(0, 1.0)), fall, 0.4))

    def rally(self, at: float, hits: int, level: float = -12.0, gap: float = 1.2) -> tuple[float, float]:
        """Each hit is answered by the wall 0.4 s later."""
        begin = at
        for _ in range(hits):
            self.impact(at, level)
            self.impact(at + 0.4, level - 9, 12.0)
            last, at = at, at + gap * float(self.rng.uniform(0.85, 1.15))
        return begin, last

    def murmur(self, until: float) -> None:
        for at in np.arange(0.1, until, 0.9):
            self.impact(float(at), -38.0, 7.0, -1.0)

    def onsets(self) -> Onsets:
        table = np.array(sorted(self.rows))
        return Onsets(*table.T)


def spans(chains: tuple[HitRun, ...]) -> list[tuple[float, float]]:
    return [(c.start_s, c.end_s) for c in chains]


def same(found: list[tuple[float, float]], wanted: list[tuple[float, float]]) -> bool:
    return len(found) == len(wanted) and np.allclose(found, wanted)


def match(seed: int = 0) -> tuple[Score, list[tuple[float, float]]]:
    """Six rallies with pauses of a match."""
    play = Score(seed)
    truth = [play.rally(at, hits) for at, hits in ((5, 6), (25, 12), (55, 2), (70, 9), (95, 4), (115, 7))]
    play.murmur(130)
    return play, truth


def test_rallies_are_found_with_their_hits_and_nothing_else() -> None:
    play, truth = match()
    found = segment_rallies(play.onsets())
    assert found.usable
    assert same(spans(found.sure), truth)
    assert [len(c.hits_s) for c in found.sure] == [6, 12, 2, 9, 4, 7]
    assert not found.knock_up


def test_applause_and_a_ball_sent_back_do_not_stretch_a_rally() -> None:
    play, truth = match()
    end = truth[1][1]
    for at in np.arange(end + 1.2, end + 3.5, 0.06):
        play.impact(float(at), -18.0, 28.0, -6.0)
    play.impact(truth[3][1] + 2.4, -20.0, 24.0)
    assert same(spans(segment_rallies(play.onsets()).sure), truth)


def test_the_next_court_is_not_heard_as_this_one() -> None:
    play, truth = match()
    for at in (14.0, 40.0, 62.0, 84.0, 104.0):
        play.rally(at, 6, level=-27.0, gap=1.0)
    found = segment_rallies(play.onsets())
    assert same(spans(found.sure), truth)


def test_faint_stretches_are_offered_as_doubtful() -> None:
    play, truth = match()
    faint = play.rally(140.0, 5, level=-23.5)
    found = segment_rallies(play.onsets())
    assert any(a < faint[1] and b > faint[0] for a, b in spans(found.doubtful))
    assert same(spans(found.sure), truth)


def test_a_single_clear_hit_is_doubtful_not_lost() -> None:
    play, _ = match()
    play.rally(140.0, 1, level=-9.0)
    found = segment_rallies(play.onsets())
    assert any(abs(c.start_s - 140.0) < 0.1 for c in found.doubtful)
    assert not any(abs(c.start_s - 140.0) < 0.1 for c in found.sure)


def test_a_knock_up_is_left_out_and_kept_aside() -> None:
    play = Score()
    at = 3.0
    for hits in (20, 25, 30):
        _, end = play.rally(at, hits)
        at = end + 4.0
    begin = at + 20
    truth = [play.rally(begin + 20 * k, 5) for k in range(4)]
    play.murmur(begin + 100)
    found = segment_rallies(play.onsets())
    assert same(spans(found.sure), truth)
    assert sum(len(c.hits_s) for c in found.knock_up) == 75


def test_a_knock_up_with_pauses_to_fetch_the_ball_ends_at_the_long_pause() -> None:
    """Short pauses, one of them long for a knock-up; then the players go off and the match begins."""
    play = Score()
    at = 5.0
    for hits, pause in ((6, 5.0), (8, 4.5), (5, 11.0), (9, 6.0), (8, 6.2), (6, 24.0)):
        at = play.rally(at, hits)[1] + pause
    truth = [play.rally(at, 6), play.rally(at + 30, 9), play.rally(at + 60, 5)]
    play.murmur(at + 80)
    found = segment_rallies(play.onsets())
    assert same(spans(found.sure), truth)
    assert sum(len(c.hits_s) for c in found.knock_up) == 42


def test_scraps_of_muffled_play_are_no_usable_sound() -> None:
    """Two short chains in four minutes, clear as they are, do not make a match."""
    play = Score()
    play.rally(30, 3)
    play.rally(150, 2)
    play.murmur(240)
    assert not segment_rallies(play.onsets()).usable
    play.rally(190, 9)
    play.rally(210, 7)
    assert segment_rallies(play.onsets()).usable


@pytest.mark.parametrize(("pause", "sure"), [(40.0, True), (20.0, False), (200.0, False)])
def test_a_faint_exchange_counts_where_a_rally_is_due(pause: float, sure: bool) -> None:
    """Two faint hits: in a pause twice as long as usual a rally, in a usual one or in a break doubtful."""
    play = Score()
    end = max(play.rally(at, 9)[1] for at in (5, 25, 45))
    faint, last = play.rally(end + pause / 2, 2, level=-21.0)
    play.rally(end + pause, 8)
    play.rally(end + pause + 25, 8)
    play.murmur(end + pause + 50)
    found = segment_rallies(play.onsets())
    assert ((faint, last) in spans(found.sure)) is sure
    assert ((faint, last) in spans(found.doubtful)) is not sure


def test_a_long_first_rally_is_no_knock_up() -> None:
    play = Score()
    truth = [play.rally(3.0, 30), play.rally(55.0, 6), play.rally(75.0, 20), play.rally(115.0, 3)]
    play.murmur(125)
    assert same(spans(segment_rallies(play.onsets()).sure), truth)


def test_dull_sound_is_not_usable() -> None:
    """Behind glass impacts rise little and hardly stand out."""
    play = Score()
    for at, hits in ((5, 6), (25, 12), (60, 9)):
        for k in range(hits):
            play.impact(at + 1.2 * k, -20.0, 9.0)
            play.impact(at + 1.2 * k + 0.4, -24.0, 6.5)
    for at in np.arange(0.5, 80, 0.7):
        play.impact(float(at), -25.0, 5.0)
    assert not segment_rallies(play.onsets()).usable


def test_nothing_and_next_to_nothing() -> None:
    empty = Onsets.joined([])
    assert segment_rallies(empty).sure == ()
    assert not segment_rallies(empty).usable
    assert usual_level_db(empty) is None
    play = Score()
    play.rally(1.0, 2)
    assert not segment_rallies(play.onsets()).usable


def test_the_rhythm_of_play_speaks_for_it_and_haste_and_delay_against() -> None:
    assert gap_log_odds(1.1) > gap_log_odds(0.7) > gap_log_odds(0.5)
    assert gap_log_odds(1.1) > gap_log_odds(1.8) > gap_log_odds(2.5)
    assert gap_log_odds(2.5) < 0 < gap_log_odds(1.2)


def test_too_short_a_pause_is_no_pause() -> None:
    def chain(a: float, b: float) -> HitRun:
        return HitRun(np.array([a, b]), np.zeros(2), np.zeros(2), 5.0)

    made = join_runs([chain(1, 4), chain(4.5, 8), chain(12, 14)])
    assert [(c.start_s, c.end_s, len(c.hits_s)) for c in made] == [(1, 8, 4), (12, 14, 2)]
    assert drop_warm_up([]) == ([], [])


def test_otsu_parts_two_groups() -> None:
    rng = np.random.default_rng(0)
    values = np.concatenate([rng.normal(-30, 2, 500), rng.normal(-10, 2, 100)])
    assert -26 < otsu_threshold(values) < -14
    assert otsu_threshold(np.array([1.0, 1.0])) == pytest.approx(1.0, abs=0.6)


def test_the_loudest_around() -> None:
    play = Onsets(
        *(np.array(v, float) for v in ([0, 0.1, 0.5, 0.6], [9] * 4, [-10, -5, -20, -20], [0] * 4, [0] * 4))
    )
    assert loudest_around(play).tolist() == [False, True, True, True]
