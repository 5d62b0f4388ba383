"""The compiled flight: the same for any number of threads, compiled or not, in a corner and in the nick."""

from __future__ import annotations

import platform
import re
import time

import numpy as np
import pytest

from goodlength.ball import (
    Coefficients,
    PlayConditions,
    Receiver,
    aim_at_spots,
    draw,
    fly,
    fly_contacts,
    fly_summaries,
    serve,
)
from goodlength.ball.flight import (
    batched_contact_summary_update_kernel,
    batched_flight_kernel,
    batched_flight_row_indices,
    bounce_kernel,
    disk_cached_flight_functions_kernel,
    free_flight_kernel,
    front_wall_launch_search_kernel,
)
from goodlength.ball.flight.batch_serve_legality import (
    FAULT_WORDS,
    faults,
    legal,
    room_m,
    volleyable,
)
from goodlength.ball.flight.receiver_position_and_reach import BOXES
from goodlength.ball.model import flight_array_indices as at
from goodlength.court import serve_verdict
from goodlength.synthetic.reference_flight_integration import peer_flight, random_serves

C = Coefficients()


def serves(n, seed=3):
    return random_serves(n, np.random.default_rng(seed), C)


def test_same_answer_for_any_number_of_threads():
    launches, rows = serves(3000), draw(PlayConditions(), 5, np.random.default_rng(1)).sets
    which = np.arange(3000) % 5
    item, two, seven = (
        fly_summaries(launches, rows, which, lines_m=[7.0, 8.0], threads=k) for k in (1, 2, 7)
    )
    for other in (two, seven):
        assert np.array_equal(item.rows, other.rows, equal_nan=True)
        assert np.array_equal(item.seen, other.seen, equal_nan=True)
        assert np.array_equal(item.order, other.order)


def test_each_launch_flies_by_itself():
    launches = serves(50)
    together = fly_summaries(launches, [C.row()]).rows
    for k in (0, 17, 49):
        assert np.array_equal(together[k], fly_summaries(launches[k], [C.row()]).rows[0], equal_nan=True)


def test_the_lane_a_launch_flies_in_changes_nothing():
    """In any order, and in pieces of any size, each flight is the same to the last bit."""
    launches, rows = serves(700), draw(PlayConditions(), 7, np.random.default_rng(1)).sets
    which, order = np.arange(700) % 7, np.random.default_rng(2).permutation(700)
    straight = fly_summaries(launches, rows, which, lines_m=[7.0])
    mixed = fly_summaries(launches[order], rows, which[order], lines_m=[7.0])
    assert np.array_equal(mixed.rows, straight.rows[order], equal_nan=True)
    assert np.array_equal(mixed.seen, straight.seen[order], equal_nan=True)
    part = fly_summaries(launches[:13], rows, which[:13], lines_m=[7.0])
    assert np.array_equal(part.rows, straight.rows[:13], equal_nan=True)
    starts, spots = np.hstack([launches[:, :3], launches[:, 6:]]), [[3.0, 3.0]] * 700
    aimed, _ = aim_at_spots(starts, [20.0] * 700, spots, rows, which)
    again, _ = aim_at_spots(starts[order], [20.0] * 700, spots, rows, which[order])
    assert np.array_equal(again, aimed[order])


def test_throws_aimed_closely_meet_their_spots_to_a_millimetre_or_two():
    """One try, corrected: before, four tries each to a micrometre, for throws scattered by 25 cm."""
    rng, rows = np.random.default_rng(7), draw(PlayConditions(), 40, np.random.default_rng(1)).sets
    which = np.arange(2000) % 40
    starts = np.column_stack([np.tile([4.6, 5.8, 0.8], (2000, 1)), rng.normal(0.0, 60.0, (2000, 3))])
    spots = np.column_stack([rng.normal(3.2, 0.4, 2000), rng.uniform(1.9, 4.5, 2000)])
    launches, miss = aim_at_spots(starts, rng.normal(20.0, 2.0, 2000), spots, rows, which, close_m=0.03)
    met = miss < 0.03
    assert met.mean() > 0.95
    flown = fly_summaries(launches[met], rows, which[met]).rows
    off = np.hypot(flown[:, at.FRONT_X] - spots[met, 0], flown[:, at.FRONT_Z] - spots[met, 1])
    assert np.quantile(off, 0.5) < 2e-4
    assert off.max() < 3e-3


@pytest.mark.slow
@pytest.mark.skipif(platform.machine() not in ("x86_64", "AMD64"), reason="wakes on an x86-64 processor")
@pytest.mark.parametrize("loop", ["advance", "meet", "summarise"])
def test_the_loops_over_the_lanes_do_several_flights_an_instruction(loop):
    """Before, all arithmetic was of one number (sqrtsd, divsd, mulsd); a branch in a loop would bring that back."""
    lanes = np.zeros(batched_flight_row_indices.SIZE)
    arguments = {"advance": (0.28,), "meet": (2,), "summarise": (4.57, 2.13)}[loop]
    compiled = getattr(
        batched_contact_summary_update_kernel if loop == "summarise" else batched_flight_kernel, loop
    )
    compiled(lanes, *arguments)
    code = "".join(compiled.inspect_asm().values())
    several, single = (len(re.findall(rf"\bv?(?:sqrt|div|mul){end}\b", code)) for end in ("pd", "sd"))
    assert several > 0
    assert single == 0


def test_compiled_and_uncompiled_agree(monkeypatch):
    launches = serves(3)
    compiled = fly_contacts(launches, [C.row()])
    for module in (
        free_flight_kernel,
        bounce_kernel,
        batched_flight_kernel,
        batched_contact_summary_update_kernel,
        front_wall_launch_search_kernel,
        disk_cached_flight_functions_kernel,
    ):
        for name, made in list(vars(module).items()):
            if hasattr(made, "py_func"):
                monkeypatch.setattr(module, name, made.py_func)
    plain = fly_contacts(launches, [C.row()], threads=1)
    assert np.array_equal(plain.counts, compiled.counts)
    for k, n in enumerate(plain.counts):
        np.testing.assert_allclose(plain.rows[k, :n], compiled.rows[k, :n], rtol=0, atol=1e-8)


def test_read_only_tables_do_not_compile_again():
    """A frozen array is another type to the compiler; the door copies it."""
    launches = serves(2)
    launches.setflags(write=False)
    row = C.row()
    row.setflags(write=False)
    start = time.perf_counter()
    assert fly_contacts(launches, [row]).counts.min() > 0
    assert time.perf_counter() - start < 1.0


def test_legality_of_thousands_is_the_courts_verdict_for_each():
    for box, seed in zip(BOXES, (5, 6), strict=True):
        launches = serves(400, seed)
        if box == "left":
            launches = launches * [1, 1, 1, -1, 1, 1, 1, -1, -1]
            launches[:, 0] = 6.4 - launches[:, 0]
        found, ok = (
            faults(box, fly_summaries(launches, [C.row()])),
            legal(box, fly_summaries(launches, [C.row()])),
        )
        for k, launch in enumerate(launches):
            flight = fly(launch, C)
            verdict = serve_verdict(box, [t.on_surface() for t in flight.contacts])
            if not any(t.also for t in flight.contacts[:1]):
                assert verdict.good == bool(ok[k]), (FAULT_WORDS[found[k]], verdict)
        assert 0.1 < ok.mean() < 0.9
        assert len(set(found.tolist())) >= 4


def test_room_and_volley_of_thousands_are_those_of_one():
    launches, receiver = serves(120, 8), Receiver.usual("right")
    flown = fly_summaries(launches, [C.row()], lines_m=receiver.lines_m)
    rooms, could = room_m(flown), volleyable("right", flown, receiver)
    for k, launch in enumerate(launches):
        item = serve("right", launch, C)
        assert item.flight.room_m == pytest.approx(rooms[k], abs=1e-12)
        assert bool(item.volleys) == bool(could[k])
    assert 0.05 < could.mean() < 0.95


def test_two_surfaces_within_two_millimetres_are_flagged_and_flown_both_ways():
    """Straight into the corner of front and left wall: each order is given."""
    launch = [1.02 + 4e-4, 1.02, 2.0, -10.0, -10.0, 0.0]
    flight = fly(launch, C.but(drag_factor=0.0, lift=0.0))
    first = flight.contacts[0]
    assert first.surface.value == "front-wall" and first.also.value == "left-side-wall"
    assert flight.other_order is not None
    assert flight.other_order.contacts[0].surface.value == "left-side-wall"
    assert flight.other_order.contacts[1].surface.value == "front-wall"
    assert fly([4.6, 5.6, 1.2, -5.5, -19.0, 5.0], C).other_order is None


def test_a_nick_is_a_chance_and_never_a_single_path():
    """Side wall first, half a centimetre of air under the ball: chance 0.5, drawn only where luck is given."""
    launch = [1.0, 8.0, 0.0275 + 0.2 + 0.0061, -10.0, 0.5, -2.0]
    plain = C.but(gravity_m_s2=0.0, drag_factor=0.0, lift=0.0)
    launch[2] = 0.0275 + 2.0 * 0.098
    flight = fly(launch, plain, bounces=1)
    assert flight.contacts[0].surface.value == "left-side-wall"
    assert flight.contacts[0].nick_chance == 0.5 and flight.nick_chance == 0.5
    assert not flight.ended.startswith("rolled")
    lucky = fly_contacts([launch], [plain.row()], draws=[0.49])
    assert lucky.ended[0] == at.ENDED_NICK
    assert lucky.rows[0, 0, at.VZ] == 0.0 and lucky.rows[0, 0, at.VX] > 0.0
    assert fly_contacts([launch], [plain.row()], draws=[0.51]).ended[0] != at.ENDED_NICK
    rolled = fly_summaries([launch], [plain.row()], draws=[0.1])
    assert rolled.rows[0, at.TWO_Y] == rolled.rows[0, at.ONE_Y]


def test_time_on_the_wall_moves_the_ball_along_it():
    """With the contact's own length the second bounce comes 4.5 ms a contact later, within 15 cm."""
    short, long = (fly([4.6, 5.6, 1.2, -5.5, -19.0, 5.0], C.but(dwell_s=d)) for d in (0.0, 4.5e-3))
    assert 0.005 < long.bounces[1].t_s - short.bounces[1].t_s < 0.05
    assert abs(long.bounces[1].y_m - short.bounces[1].y_m) < 0.15


def test_grazing_ball_that_spin_carries_off_again_still_touched():
    """A wall touched and left inside one step: the peer in short steps agrees."""
    spin = [0.0, 0.0, 900.0]
    found = [
        x
        for z in np.linspace(-0.45, -0.05, 7)
        if (x := fly([0.05, 9.0, 2.0, z, -9.0, 2.0, *spin], C)).contacts
    ]
    touched = [f for f in found if f.contacts[0].surface.value == "left-side-wall"]
    assert touched and len(touched) < len(found)
    for flight in touched:
        surfaces, _, _ = peer_flight(np.array(flight.launch), C, 1e-10)
        assert surfaces[0] == at.LEFT


def test_ball_that_stops_ends():
    flight = fly([3.0, 5.0, 0.3, 0.1, 0.0, 0.0], C, bounces=6)
    assert flight.ended in ("second bounce", "rolling")


@pytest.mark.slow
def test_a_hundred_thousand_serves_a_second_on_two_cores_by_their_own_time():
    """Check 27 (soft): 50,000 for each second of one core's own time; goodlength bench ball measures more."""
    launches = serves(20_000)
    best = 9.0
    for _ in range(3):
        start = time.process_time()
        fly_summaries(launches, [C.row()], threads=1, checked=True)
        best = min(best, time.process_time() - start)
    assert 20_000 / best > 50_000
