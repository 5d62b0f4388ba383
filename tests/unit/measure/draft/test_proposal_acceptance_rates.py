"""What a checked sample can show, beside an independent implementation and the closed form."""

from __future__ import annotations

import pytest
import scipy.stats

from goodlength.errors import OutOfRange
from goodlength.measure.draft.proposal_acceptance_rates import most_wrong_share


@pytest.mark.parametrize(("wrong", "checked"), [(0, 10), (0, 1), (1, 10), (3, 40), (9, 10), (0, 300)])
@pytest.mark.parametrize("level", [0.9, 0.95, 0.99])
def test_the_limit_is_that_of_clopper_and_pearson_in_scipy(wrong: int, checked: int, level: float) -> None:
    """scipy.stats.binomtest(...).proportion_ci(method="exact"), one-sided: alternative "less"."""
    test = scipy.stats.binomtest(wrong, checked, alternative="less")
    assert most_wrong_share(wrong, checked, level) == pytest.approx(
        test.proportion_ci(level, method="exact").high, abs=1e-9
    )


def test_with_none_wrong_it_is_the_closed_form_and_ten_of_ten_leave_26_of_100() -> None:
    """(1 - p)**n = 0.05, so p = 1 - 0.05**(1/n): 1 - 0.05**0.1 = 0.2589."""
    assert most_wrong_share(0, 10) == pytest.approx(1 - 0.05**0.1, abs=1e-12)
    assert round(100 * most_wrong_share(0, 10)) == 26
    assert scipy.stats.binom.cdf(0, 10, most_wrong_share(0, 10)) == pytest.approx(0.05, abs=1e-9)


def test_all_wrong_leaves_everything_possible_and_counts_that_cannot_be_are_refused() -> None:
    assert most_wrong_share(4, 4) == 1.0
    for wrong, checked in ((-1, 10), (11, 10), (0, 0)):
        with pytest.raises(OutOfRange, match="from none to all of it wrong"):
            most_wrong_share(wrong, checked)
