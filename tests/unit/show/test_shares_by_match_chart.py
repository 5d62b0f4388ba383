"""A share match by match: a bar from the low to the high end, the disc at what was seen."""

from __future__ import annotations

import re

from goodlength.show.draw.proportion_protocols_and_wording import CountedShare
from goodlength.show.draw.shares_by_match_chart import shares_chart


def test_discs_stand_at_what_was_seen_and_bars_span_the_range() -> None:
    shares = [CountedShare(5, 10, 0.25, 0.75), CountedShare(0, 0, 0.0, 1.0), CountedShare(3, 4, 0.3, 0.95)]
    drawn = shares_chart(shares, ["1 Mar", "2 Mar", "3 Mar"], "Rallies won")
    assert re.findall(r'cy="([\d.]+)"', drawn) == ["56", "32"]  # 104 down to 8: none is 104, all is 8
    assert re.findall(r"M[\d.]+ ([\d.]+)V([\d.]+)", drawn) == [("80", "32"), ("75.2", "12.8")]
    assert "1 Mar: 5 of 10" in drawn
    xs = [float(x) for x in re.findall(r'cx="([\d.]+)"', drawn)]
    assert xs[1] > xs[0]
