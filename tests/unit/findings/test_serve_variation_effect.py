"""Changed serves against repeated ones: what counts, what is left out, what is said."""

from __future__ import annotations

import pytest

from goodlength.findings import find
from goodlength.findings.analyses.serve_variation_effect import change_of_serve
from goodlength.findings.rally_masks import RallyMasks


def served(order, won, box="right", game=1):
    kinds = {"L": "lob", "H": "hard", "x": None}
    rows = []
    for kind, result in zip(order, won, strict=True):
        rows.append(
            {
                "game": game,
                "server": "a",
                "kind": kinds[kind],
                "box": box,
                "winner": {"1": "a", "0": "b"}.get(result),
                "let": result == "-",
            }
        )
    return rows


def test_what_counts_as_changed_and_repeated(make):
    """L L H L: the first has no earlier serve; then a repeated lob, a changed hard one, a changed lob."""
    found = change_of_serve([(RallyMasks(make(served("LLHL", "1101"))), 0)])
    assert found.strata == ((1, 1, 1, 1),)
    assert (found.changed.count, found.changed.of, found.repeated.count, found.repeated.of) == (1, 1, 1, 1)
    assert found.left_out == 1  # the hard serve was never repeated
    assert found.changed.rallies == ("k3",)
    assert found.repeated.rallies == ("k1",)


def test_lets_unknown_winners_gaps_and_new_games_do_not_count(make):
    view = RallyMasks(make([*served("LL", "1-"), *served("LxL", "111", game=2), *served("LL", "1?", game=3)]))
    found = change_of_serve([(view, 0)])
    assert found.strata == ()
    assert found.changed.of == found.repeated.of == 0
    assert (found.difference, found.odds, found.test.p) == (None, None, 1.0)


def test_boxes_and_matches_are_never_pooled(make):
    right = served("LLHL", "1101")
    left = served("LLHL", "1101", box="left", game=2)
    one_match = change_of_serve([(RallyMasks(make([*right, *left])), 0)])
    two_matches = change_of_serve([(RallyMasks(make(right)), 0), (RallyMasks(make(left)), 0)])
    assert len(one_match.strata) == len(two_matches.strata) == 2
    assert one_match.test.p == two_matches.test.p


def test_the_last_result_can_be_held_fixed(make):
    view = RallyMasks(make(served("LLHLLHL", "1101011")))
    by_box = change_of_serve([(view, 0)])
    finer = change_of_serve([(view, 0)], by_last_result=True)
    assert finer.changed.of <= by_box.changed.of
    assert finer.left_out >= by_box.left_out


def test_one_match_hardly_ever_settles_it(tale, names):
    finding = next(f for f in find(tale, "a", names).all if f.question == "change")
    assert finding.headline == "Does changing the serve pay?"
    assert finding.words.startswith("Among serves of the same kind from the same box, she won ")
    assert finding.against is not None
    assert finding.smaller_side == min(finding.of, finding.against.of)


def test_a_player_of_one_kind_is_not_asked(make, names):
    found = find(make(served("LLLL", "1010")), "a", names)
    assert not [f for f in found.all if f.question == "change"]


@pytest.mark.parametrize("side", [0, 1])
def test_no_serves(make, side):
    assert change_of_serve([(RallyMasks(make([])), side)]).strata == ()
    assert change_of_serve([]).strata == ()
