"""The measuring of worlds: counts on hand-made hearings of a hand-made truth, and the whole of it small."""

import importlib

import numpy as np
import pytest

from goodlength.bench.rally_recognition_accuracy_by_family import (
    FAMILIES,
    MOVEMENTS,
    Tally,
    bench_worlds,
    group_of,
    motion_of_picture,
    places_of,
    summary,
    tally,
)
from goodlength.footage.audio.network_rally_recognition import RecognisedRally
from goodlength.synthetic.recordings import validation_recording_family
from goodlength.synthetic.recordings.recording_types import (
    Activity,
    Surface,
    WorldContact,
    WorldRecording,
    WorldSpan,
)


def world() -> WorldRecording:
    """A warm-up of ten strikes, then two rallies of three and two strikes."""
    warm = [2.0 + k for k in range(10)]
    rallies = [[30.0, 31.2, 32.4], [50.0, 51.3]]
    at = [*warm, *(t for rally in rallies for t in rally)]
    contacts = tuple(WorldContact(t, Surface.RACKET, 0) for t in at)
    spans = (
        WorldSpan(2.0, 12.0, Activity.WARM_UP),
        *(WorldSpan(rally[0], rally[-1] + 1.0, Activity.RALLY, rally[-1]) for rally in rallies),
    )
    return WorldRecording("hand", "usual", np.zeros((1, 60), np.float32), 1, contacts, spans)


def heard(times, chance=0.95, doubtful=False) -> RecognisedRally:
    strikes = np.array(times, float)
    return RecognisedRally(
        strikes, np.full(len(strikes), chance), chance, doubtful, "", (), strikes[-1] + 1.2
    )


def test_every_family_that_is_measured_exists():
    """The choosing family had been renamed, and its figures were left out without a word."""
    for modules in FAMILIES.values():
        for name in modules:
            family = importlib.import_module(f"goodlength.synthetic.recordings.{name}")
            assert family.CONDITIONS


def test_a_perfect_hearing_counts_everything_right():
    form = tally(world(), [heard([30.0, 31.2, 32.4]), heard([50.004, 51.3])]).form()
    wanted = (
        "rallies_found",
        "found_or_offered",
        "starts_within_0_3_s",
        "warmups_clean",
        "strikes_found",
        "strikes_right",
        "shots_exact",
        "end_inside_clip",
    )
    assert {name: form[name] for name in wanted} == dict.fromkeys(wanted, 1.0)
    assert form["wrong_among_sure"] == 0.0


def test_a_warm_up_taken_for_a_rally_is_wrong_and_not_clean():
    form = tally(world(), [heard([4.0, 5.0, 6.0]), heard([30.0, 31.2, 32.4])]).form()
    assert form["wrong_among_sure"] == 0.5
    assert form["warmups_clean"] == 0.0
    assert form["rallies_found"] == 0.5


def test_a_doubtful_span_is_offered_but_neither_found_nor_wrong():
    form = tally(world(), [heard([30.0, 31.2, 32.4], 0.5, True), heard([20.0], 0.2, True)]).form()
    assert form["rallies_found"] == 0.0
    assert form["found_or_offered"] == 0.5
    assert form["wrong_among_sure"] is None
    assert form["doubtful"] == 2


def test_a_strike_eleven_milliseconds_off_is_not_found():
    form = tally(world(), [heard([30.011, 31.2, 32.4])]).form()
    assert form["strikes_found"] == pytest.approx(2 / 5)
    assert form["strikes_right"] == pytest.approx(2 / 3, abs=1e-4)


def test_an_empty_tally_gives_no_shares():
    form = summary({})
    assert form["rallies_found"] is None
    assert form["reliability"] == []
    assert Tally().form()["rallies"] == 0


def test_the_groups_of_conditions():
    assert group_of("noisy hall, 8 kHz") == "poor"
    assert group_of("door gap") == "usual"


@pytest.mark.slow
def test_the_whole_of_it_runs_small():
    figures = bench_worlds(3, small=True)
    assert {"learn", "choose", "judge", "demo", "model", "seed"} <= set(figures)
    assert {"court_offered", "court_median_cm", "court_p95_cm", "court_wrong"} <= set(figures["judge"])
    assert figures["demo"]["rallies"] == 19
    assert figures["demo"]["wrong_among_sure"] == 0.0
    assert figures["demo"]["rallies_found"] >= 0.85
    assert figures["demo"]["found_or_offered"] >= 0.9


def test_a_recording_is_judged_with_a_drawn_picture_too() -> None:
    played = validation_recording_family.draw_world(np.random.default_rng(2), "clean", 60.0)
    motion = motion_of_picture(played, np.random.default_rng(1), "choose")
    assert len(motion.time_s) > 250 and motion.amount.max() > 0
    inside = np.any([(motion.time_s > r.start_s) & (motion.time_s < r.end_s) for r in played.rallies], axis=0)
    assert motion.amount[inside].mean() > motion.amount[~inside].mean()


@pytest.mark.parametrize("name", sorted(MOVEMENTS))
def test_each_group_of_families_has_its_own_way_of_moving(name: str) -> None:
    assert callable(places_of(name, np.random.default_rng(0)))
    assert not set(MOVEMENTS[name]) & {
        way for other in MOVEMENTS if other != name for way in MOVEMENTS[other]
    }
