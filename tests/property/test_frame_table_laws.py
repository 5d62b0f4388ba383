"""Laws of frame tables, whatever the stamps."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from hypothesis import example, given
from hypothesis import strategies as st

from goodlength.footage.media.frame_presentation_time_table import FrameTable, table_of, to_us, us_of
from goodlength.media_time import TimeBase, us

BASES = st.sampled_from(
    [
        TimeBase(1, 30),
        TimeBase(1001, 30000),
        TimeBase(1, 15360),
        TimeBase(1, 90000),
        TimeBase(1, 1000),
        TimeBase(125, 2997),
        TimeBase(66667, 1_000_000),
        TimeBase(1, 10_000_000),
    ]
)


@st.composite
def tables(draw: st.DrawFn) -> FrameTable:
    base = draw(BASES)
    least = max(1, -(-base.den * 2 // (base.num * 1_000_000)))  # pictures at least 2 µs apart
    steps = draw(st.lists(st.integers(least, 20 * least + 100), min_size=1, max_size=60))
    first = draw(st.integers(-(2**33), 2**33))
    ticks = first + np.concatenate([[0], np.cumsum(steps[:-1])]).astype(np.int64)
    return table_of(ticks, base, steps[-1], np.ones(len(steps), np.bool_), "decoded")


@given(st.integers(-(2**40), 2**40), BASES)
@example(2**40, TimeBase(66667, 1_000_000))  # the product alone is beyond 64 bits
def test_one_rule_of_rounding_everywhere(ticks: int, base: TimeBase) -> None:
    wanted = us(Fraction(ticks * base.num, base.den))
    assert us_of(ticks, base) == wanted
    assert int(to_us(np.array([ticks]), base)[0]) == wanted


@given(tables())
def test_every_picture_is_found_at_its_beginning_middle_and_last_moment(table: FrameTable) -> None:
    for i in range(len(table)):
        begin, end = int(table.starts_us[i]), int(table.ends_us[i])
        assert table.index_at(begin) == table.index_at((begin + end) // 2) == table.index_at(end - 1) == i
        assert table.between(begin, end) == (i, i)


@given(tables())
def test_the_page_can_rebuild_the_table_from_its_json(table: FrameTable) -> None:
    plain = table.to_json()
    steps = [step for step, count in plain["steps"] for _ in range(count)]  # type: ignore[attr-defined]
    assert np.cumsum([plain["first"], *steps]).tolist() == table.pts.tolist()
    assert plain["n"] == len(table)
    assert plain["end"] == table.pts[-1] + table.durations[-1]


@given(tables(), st.data())
def test_a_span_shows_what_it_covers_and_nothing_else(table: FrameTable, data: st.DataObject) -> None:
    a = data.draw(st.integers(table.first_us, table.end_us - 1))
    b = data.draw(st.integers(a + 1, table.end_us))
    first, last = table.between(a, b)
    shown = [i for i in range(len(table)) if table.starts_us[i] < b and table.ends_us[i] > a]
    assert list(range(first, last + 1)) == shown
