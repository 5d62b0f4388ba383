"""Drawn matches and flights, whatever is drawn."""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from goodlength.court.dimensions import WIDTH_M
from goodlength.demo.match import demo_players_and_matches
from goodlength.demo.play.ball_flight import fly
from goodlength.demo.record_entries_of_demo_matches import write_match
from goodlength.record.entry_log_replay import match_from
from goodlength.scoring import Box, Side, Start

HABITS = {Side.A: demo_players_and_matches.IMOGEN_V_LEFT, Side.B: demo_players_and_matches.OTHERS}


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 2**32), even=st.floats(0.2, 0.8), first=st.sampled_from(Side))
def test_any_drawn_match_replays_to_its_end_without_fault(seed: int, even: float, first: Side) -> None:
    plans = demo_players_and_matches.random_match(
        Start(server=first, box=Box.RIGHT), HABITS, even, random.Random(seed)
    )
    log = write_match(demo_players_and_matches.LEFT_HANDER, plans, [None] * len(plans))
    info = demo_players_and_matches.info(demo_players_and_matches.LEFT_HANDER)
    match = match_from(info.__class__(**{**info.__dict__, "start": Start(server=first, box=Box.RIGHT)}), log)
    assert match.faults == ()
    assert match.how_over == "won"
    assert [(r.server, r.box) for r in match.rallies] == [(p.server, p.box) for p in plans]


@settings(max_examples=40, deadline=None)
@given(
    x=st.floats(0.5, 5.9),
    y=st.floats(2.0, 9.0),
    z=st.floats(0.2, 2.0),
    u=st.floats(-15, 15),
    v=st.floats(-40, -8),
    w=st.floats(-3, 10),
)
def test_mirror_the_court_mirror_the_flight(
    x: float, y: float, z: float, u: float, v: float, w: float
) -> None:
    item = fly((x, y, z), (u, v, w), floor_bounces=1)
    other = fly((WIDTH_M - x, y, z), (-u, v, w), floor_bounces=1)
    assert other.end_s == pytest.approx(item.end_s, abs=1e-6)
    for t in (0.1, 0.4, 0.8):
        a, b = item.at(t), other.at(t)
        assert (WIDTH_M - b[0], b[1], b[2]) == pytest.approx(a, abs=1e-6)
