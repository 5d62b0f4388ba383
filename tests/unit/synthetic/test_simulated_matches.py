"""Invented matches are legal, and are what their world says."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from goodlength.errors import OutOfRange
from goodlength.findings.rally_masks import RallyMasks
from goodlength.synthetic.simulated_matches import KIND_IDS, World, invent_match


def played(world, matches=60, seed=5, share_a=0.5):
    rng = np.random.default_rng(seed)
    return [invent_match(rng, world, share_a).table for _ in range(matches)]


@pytest.mark.parametrize("target", [11, 15])
def test_scores_servers_and_boxes_follow_the_rules(target):
    table = invent_match(np.random.default_rng(2), World(run=0.1, repeats=0.3), 0.5, target).table
    for game in np.unique(table.game):
        rows = np.flatnonzero(table.game == game)
        points = [0, 0]
        for i, after in zip(rows, [*rows[1:], None], strict=True):
            assert (table.score_a[i], table.score_b[i]) == tuple(points)
            winner = int(table.winner[i])
            if winner >= 0:
                points[winner] += 1
            if after is None:
                assert max(points) >= target
                assert abs(points[0] - points[1]) >= 2
            elif winner >= 0:
                assert table.server[after] == winner
                if winner == table.server[i]:
                    assert table.box[after] == 1 - table.box[i]
            else:
                assert (table.server[after], table.box[after]) == (table.server[i], table.box[i])
    assert set(table.kinds) == set(KIND_IDS)


def share_again(tables):
    again = of = 0
    for table in tables:
        view = RallyMasks(table)
        for side in (0, 1):
            for rows in view.stretches(side):
                kinds = table.kind[rows]
                again += int((kinds[1:] == kinds[:-1]).sum())
                of += len(rows) - 1
    return again / of


def test_servers_repeat_or_change_as_said():
    mix = (0.5, 0.3, 0.2)
    drawn = sum(p * p for p in mix)
    assert share_again(played(World(mix=mix))) == pytest.approx(drawn, abs=0.03)
    assert share_again(played(World(mix=mix, repeats=0.5))) == pytest.approx(0.5 + 0.5 * drawn, abs=0.03)
    assert share_again(played(World(mix=mix, repeats=-0.6))) == pytest.approx(0.4 * drawn, abs=0.03)


def serving_share(tables):
    won = sum(int(((t.winner == t.server) & (t.winner >= 0)).sum()) for t in tables)
    return won / sum(int((t.winner >= 0).sum()) for t in tables)


def test_runs_and_serving_look_the_same():
    """With rally scoring the server is the winner of the last rally: one match cannot tell the two apart."""
    runs, serving = serving_share(played(World(run=0.12))), serving_share(played(World(serving=0.12)))
    assert runs == pytest.approx(0.62, abs=0.02)
    assert serving == pytest.approx(0.62, abs=0.02)


def weak_share(tables, chosen):
    weak = known = 0
    for table in tables:
        view = RallyMasks(table)
        here = chosen(table) & view.return_known
        weak, known = weak + int((view.weak & here).sum()), known + int(here.sum())
    return weak / known


def test_planted_differences_are_there():
    tables = played(World(mix=(0.5, 0.5), weak=(0.7, 0.25)))
    assert weak_share(tables, lambda t: t.kind == 0) == pytest.approx(0.7, abs=0.03)
    assert weak_share(tables, lambda t: t.kind == 1) == pytest.approx(0.25, abs=0.03)
    tables = played(World(mix=(0.5, 0.5), drift=(0.8, 0.2)))
    assert np.mean(np.concatenate([t.kind[t.game <= 2] == 0 for t in tables])) == pytest.approx(0.8, abs=0.03)
    assert np.mean(np.concatenate([t.kind[t.game > 2] == 0 for t in tables])) == pytest.approx(0.2, abs=0.03)
    tables = played(World(mix=(0.5, 0.5), won=(0.7, 0.3)))
    won = np.concatenate([(t.winner == t.server)[(t.kind == 0) & ~t.let] for t in tables])
    assert np.mean(won) == pytest.approx(0.7, abs=0.03)


def test_boxes_scores_tiredness_and_learning():
    tables = played(World(mix=(0.5, 0.5), by_box=0.6))
    right = np.concatenate([t.kind[t.box == 0] == 0 for t in tables])
    assert np.mean(right) == pytest.approx(0.8, abs=0.03)
    tables = played(World(mix=(0.5, 0.5), by_score=0.6))
    behind = np.concatenate(
        [(t.kind == 1)[np.where(t.server == 0, t.score_a < t.score_b, t.score_b < t.score_a)] for t in tables]
    )
    assert np.mean(behind) == pytest.approx(0.8, abs=0.03)
    tables = played(World(fatigue=0.3))
    a_won = [
        np.concatenate([(t.winner == 0)[part][~t.let[part]] for t in tables])
        for part in (slice(0, 20), slice(60, 80))
    ]
    assert np.mean(a_won[0]) > np.mean(a_won[1]) + 0.12
    assert (
        weak_share(tables, lambda t: np.arange(t.kind.size) >= 60)
        > weak_share(tables, lambda t: np.arange(t.kind.size) < 20) + 0.1
    )
    tables = played(World(learning=0.4))
    assert weak_share(tables, lambda t: t.game == 1) > weak_share(tables, lambda t: t.game >= 3) + 0.1


def test_what_is_not_written_down_is_not_known():
    skipped = played(World(unwritten_half=0.5))
    assert np.mean(np.concatenate([t.kind < 0 for t in skipped])) == pytest.approx(0.5, abs=0.03)
    dull = played(World(unwritten=0.4))
    assert weak_share(dull, lambda t: t.kind >= 0) == pytest.approx(0.4 / (0.4 + 0.6 * 0.6), abs=0.03)
    one_kind = played(World(mix=(0.5, 0.5), unwritten_first=0.4))
    assert weak_share(one_kind, lambda t: t.kind == 0) > weak_share(one_kind, lambda t: t.kind == 1) + 0.08


def test_an_observer_errs_as_often_as_said():
    world = World(mix=(0.25, 0.25, 0.25, 0.25))
    clean = invent_match(np.random.default_rng(7), world).table
    spoilt = invent_match(np.random.default_rng(7), replace(world, kind_errors=0.4, return_errors=0.0)).table
    assert clean.kind.size == spoilt.kind.size
    assert 0.15 < np.mean(clean.kind != spoilt.kind) < 0.45


def test_a_chance_that_is_none_is_refused():
    with pytest.raises(OutOfRange, match="share_a must lie between 0 and 1"):
        invent_match(np.random.default_rng(1), World(), 1.0)
