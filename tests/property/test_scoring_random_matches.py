"""Random legal matches replay to what was played, and keep the laws of every match."""

from __future__ import annotations

import random
from dataclasses import replace as changed

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from goodlength.scoring import (
    Box,
    Conduct,
    Decision,
    Format,
    Outcome,
    PutRight,
    Retired,
    Side,
    Start,
    final_problem,
    replay,
)
from goodlength.synthetic.random_match_oracle import FORMATS, broken_laws, play_match, replay_many

SIDES = st.sampled_from(Side)
KEYS = st.text("abc", max_size=2)


@pytest.mark.slow
def test_five_hundred_random_matches_keep_every_law():
    """A twentieth of the ten thousand that the bench replays."""
    checked = replay_many(500, random.Random(20250901))
    assert checked.broken == ()
    assert checked.rallies > 500 * 27


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32), st.sampled_from(FORMATS), st.floats(0.2, 0.8), st.floats(0.0, 0.5))
def test_a_match_replays_to_what_was_played(seed, fmt, a_wins, lets):
    played = play_match(random.Random(seed), fmt, a_wins=a_wins, let_share=lets)
    match = replay(fmt, played.start, played.events)
    assert match.faults == ()
    assert tuple(game.points for game in match.games) == played.finals
    assert all(final_problem(fmt, game.points) is None for game in match.games)
    assert match.winner is played.winner
    assert broken_laws(match, fmt) == []


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 2**32), st.sampled_from(FORMATS), st.floats(0.0, 1.0))
def test_a_match_cut_anywhere_goes_on_from_what_the_rules_expect(seed, fmt, share):
    """What `next` says is what the following rally does."""
    played = play_match(random.Random(seed), fmt, conduct_share=0.0)
    cut = int(share * (len(played.events) - 1))
    part = replay(fmt, played.start, played.events[:cut])
    whole = replay(fmt, played.start, played.events).lines[cut]
    assert (part.next.server, part.next.points, part.next.box_free) == (
        whole.server,
        whole.before,
        whole.box_free,
    )
    if not whole.box_free:
        assert part.next.box is whole.box


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 2**32), st.sampled_from(FORMATS))
def test_names_exchanged_exchange_the_answer(seed, fmt):
    played = play_match(random.Random(seed), fmt)
    turned = [
        changed(event, winner=event.winner.other if event.winner else None)
        if isinstance(event, Outcome)
        else changed(event, to=event.to.other)
        for event in played.events
    ]
    match = replay(fmt, played.start, played.events)
    mirror = replay(fmt, Start(server=played.start.server.other), turned)
    assert [line.call for line in match.lines] == [
        line.call.translate(str.maketrans("AB", "BA")) for line in mirror.lines
    ]
    assert [line.after for line in match.lines] == [line.after[::-1] for line in mirror.lines]


STARTS = st.sampled_from(
    [
        Start(),
        Start(server=Side.B),
        Start((1, 1)),
        Start(points=(8, 8)),
        Start(points=(3, 2), server=Side.A, box=Box.LEFT),
        Start(handicap=(-2, 8)),
        Start(handicap=(8, 8), server=Side.A),
    ]
)
EVENTS = st.lists(
    st.one_of(
        st.builds(
            Outcome,
            KEYS,
            st.none() | SIDES,
            st.booleans(),
            st.none() | st.sampled_from(Decision),
            st.booleans(),
            st.none() | SIDES,
            st.none() | st.sampled_from(Box),
            st.none() | st.integers(0, 20),
        ),
        st.builds(
            PutRight, KEYS, st.none() | st.tuples(st.integers(-3, 20), st.integers(-3, 20)), st.none() | SIDES
        ),
        st.builds(Conduct, KEYS, SIDES, st.booleans()),
        st.builds(Retired, KEYS, SIDES),
    ),
    max_size=40,
)


@settings(max_examples=100, deadline=None)
@given(st.sampled_from(FORMATS), EVENTS, STARTS)
def test_whatever_is_written_down_replay_never_raises_and_keeps_every_event(fmt, events, start):
    match = replay(fmt, start, events)
    assert [line.key for line in match.lines] == [event.key for event in events]
    assert all(fault.words and fault.code for fault in match.faults)
    assert (match.next is None) is (match.how_over is not None)


@pytest.mark.parametrize("spoil", ["score", "server", "box", "let"])
def test_the_laws_can_be_broken(spoil):
    """A check of the check: a spoilt replay is found out."""
    fmt = Format()
    match = replay(fmt, *_played(fmt))
    at = next(i for i, line in enumerate(match.lines) if line.let and i and not line.box_free)
    line = match.lines[at]
    worse = {
        "score": changed(line, after=(line.after[0] + 2, line.after[1])),
        "server": changed(line, server=line.server.other),
        "box": changed(line, box=line.box.other),
        "let": changed(line, after=(line.after[0] + 1, line.after[1])),
    }[spoil]
    lines = (*match.lines[:at], worse, *match.lines[at + 1 :])
    assert broken_laws(match, fmt) == []
    assert broken_laws(changed(match, lines=lines), fmt)


def _played(fmt):
    played = play_match(random.Random(3), fmt, let_share=0.3)
    return played.start, played.events
