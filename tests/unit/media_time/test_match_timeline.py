"""Match time over several files, with gaps."""

from __future__ import annotations

import pytest

from goodlength.errors import NotFound, OutOfRange
from goodlength.media_time import FileSpan, Gap, MediaPosition, Part, Timeline

S = 1_000_000


@pytest.fixture
def line():
    """Two files with a gap of three seconds, the second trimmed at its front."""
    return Timeline([Part("two", 13 * S, 2 * S, 7 * S), Part("one", 0, 0, 10 * S)])


@pytest.mark.parametrize(
    ("match_s", "found"),
    [
        (0, MediaPosition("one", 0, 0)),
        (9.999999, MediaPosition("one", 9_999_999, 0)),
        (10, Gap(10 * S, 13 * S)),
        (13, MediaPosition("two", 2 * S, 1)),
        (17.5, MediaPosition("two", 6_500_000, 1)),
        (18, Gap(18 * S, None)),
        (-1, Gap(None, 0)),
    ],
)
def test_locate(line, match_s, found):
    assert line.locate(round(match_s * S)) == found


def test_lengths_and_gaps(line):
    assert line.length_us == 18 * S
    assert line.gaps == (Gap(10 * S, 13 * S),)


def test_a_match_that_begins_before_its_footage_has_a_gap_at_the_front():
    assert Timeline([Part("one", 5 * S, 0, S)]).gaps == (Gap(0, 5 * S),)


def test_match_time_is_the_way_back(line):
    for at in (0, 4 * S, 13 * S, 17 * S):
        place = line.locate(at)
        assert line.match_time(place.footage_id, place.media_us) == at


def test_the_end_of_a_file_has_a_match_time(line):
    assert line.match_time("two", 7 * S) == 18 * S


def test_where_files_touch_the_moment_belongs_to_the_next():
    line = Timeline.in_order([("one", 0, 4 * S), ("two", S, 3 * S)])
    assert line.locate(4 * S) == MediaPosition("two", S, 1)
    assert line.match_time("one", 4 * S) == 4 * S


def test_pieces_run_over_files_and_leave_gaps_out(line):
    assert line.pieces(8 * S, 15 * S) == (FileSpan("one", 8 * S, 10 * S), FileSpan("two", 2 * S, 4 * S))
    assert line.pieces(10 * S, 13 * S) == ()


def test_one_file_may_come_twice():
    line = Timeline([Part("one", 0, 0, 2 * S), Part("one", 2 * S, 10 * S, 12 * S)])
    assert line.match_time("one", 11 * S) == 3 * S
    with pytest.raises(NotFound, match=r"0:05\.0 of footage 'one' is not part of this match"):
        line.match_time("one", 5 * S)


def test_unknown_footage_and_overlap_are_said(line):
    with pytest.raises(NotFound, match="'three' is not part of this match"):
        line.match_time("three", 0)
    with pytest.raises(OutOfRange, match="may leave gaps but not overlap"):
        Timeline([Part("one", 0, 0, 5 * S), Part("two", 4 * S, 0, S)])
    with pytest.raises(OutOfRange, match="must end after it begins"):
        Part("one", 0, S, S)


def test_without_footage_everything_is_a_gap():
    line = Timeline([])
    assert line.length_us == 0
    assert line.gaps == ()
    assert line.locate(0) == Gap(None, None)
