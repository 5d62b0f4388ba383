"""The test family: its truth agrees with itself and with its sound, and every condition has its effect."""

from __future__ import annotations

import ast
import itertools
import math
from pathlib import Path

import numpy as np
import pytest
from scipy.signal import butter, sosfilt

import goodlength.synthetic.recordings as families
from goodlength.errors import NotFound, OutOfRange
from goodlength.synthetic.recordings.recording_types import Activity, Surface
from goodlength.synthetic.recordings.test_family import (
    CONDITIONS,
    GLASS,
    NEIGHBOUR,
    ODD,
    POOR,
    USUAL,
    draw_world,
    ray_traced_room_acoustics,
    recording_generator,
)
from goodlength.synthetic.recordings.test_family.microphone_sound_rendering import MicrophoneRenderer
from goodlength.synthetic.recordings.test_family.rally_stroke_markov_chain import draw_pair, play_rally
from goodlength.synthetic.recordings.test_family.recording_conditions import TABLE, draw_recorder
from goodlength.synthetic.recordings.test_family.session_event_timeline import (
    DiaryHabits,
    doubles_diary,
    match_diary,
)

BALL_SURFACES = (Surface.FLOOR, Surface.TIN, Surface.FRONT_WALL, Surface.OTHER_WALL)


@pytest.fixture
def few_rays(monkeypatch):
    """Trace few rays, so that a room takes little time; nothing here measures it."""
    monkeypatch.setattr(ray_traced_room_acoustics, "RAYS", 100)


@pytest.fixture
def silent(monkeypatch):
    """Put a constant for the sound and leave rooms, voices and the phone out: play alone, and its truth."""

    def begin(renderer, rng, scene, recorder):
        renderer.rng, renderer.scene, renderer.recorder = rng, scene, recorder

    def constant(renderer):
        count = renderer.scene.seconds * renderer.recorder.inner_rate
        return np.ones((renderer.recorder.channels, count), dtype=np.float32)

    monkeypatch.setattr(MicrophoneRenderer, "__init__", begin)
    monkeypatch.setattr(MicrophoneRenderer, "render", constant)
    monkeypatch.setattr(recording_generator, "echo_of", lambda *_: None)
    monkeypatch.setattr(recording_generator, "draw_court_bodies", lambda *_: {})
    monkeypatch.setattr(recording_generator, "usual_peak", lambda *_: 1.0)
    monkeypatch.setattr(recording_generator, "to_file", lambda samples, _recorder: samples)
    for voice in ("applause", "crowd", "music", "sentence", "street", "talk"):
        monkeypatch.setattr(recording_generator, voice, lambda *_: np.zeros(1, np.float32))


def strikes_in(recording, span):
    return [
        c
        for c in recording.contacts
        if c.own_court and c.surface is Surface.RACKET and span.start_s <= c.time_s <= span.end_s
    ]


@pytest.mark.usefixtures("few_rays")
@pytest.mark.parametrize("condition", ["8 kHz", "behind glass", "music only", "street"])
def test_a_condition_gives_finite_sound_of_the_length_asked_for(condition):
    recording = draw_world(np.random.default_rng(17), condition, 20.0)
    assert recording.family == "judging"
    assert recording.condition == condition
    assert recording.samples.dtype == np.float32
    assert np.isfinite(recording.samples).all()
    assert 0.001 < np.abs(recording.samples).max() <= 1.0
    assert abs(recording.samples.shape[1] / recording.rate - 20.0) < 0.01
    assert all(0.0 <= c.time_s < 20.0 for c in recording.contacts)


@pytest.mark.usefixtures("silent")
def test_every_condition_has_a_truth_that_agrees_with_itself():
    for condition in CONDITIONS:
        recording = draw_world(np.random.default_rng(3), condition, 90.0)
        times = [c.time_s for c in recording.contacts]
        assert times == sorted(times)
        assert all(0.0 <= time < 90.0 for time in times)
        assert all(s.start_s <= s.end_s <= 90.0 for s in recording.spans)
        assert bool(times) == (condition not in {"speech only", "music only", "street"})


@pytest.mark.usefixtures("few_rays")
def test_the_same_generator_gives_the_same_recording():
    item, again = (draw_world(np.random.default_rng(3), "16 kHz", 20.0) for _ in range(2))
    assert np.array_equal(item.samples, again.samples)
    assert (item.contacts, item.spans, item.details) == (again.contacts, again.spans, again.details)


@pytest.mark.usefixtures("few_rays")
@pytest.mark.parametrize(
    ("seed", "contacts", "loudness"),
    [
        (3, 29, [0.3802, 0.9772, 0.3818, 0.5037, 1.487, 2.702, 3.7308, 5.5362]),
        (11, 37, [1.7223, 1.5559, 3.2251, 1.4892, 4.5129, 7.0721, 5.4579, 2.9019]),
    ],
)
def test_the_sound_of_a_seed_stays_what_it_was(seed, contacts, loudness, monkeypatch):
    """Root mean square of each 2.5 s, in thousandths of full scale, without the codec, whose bits are the
    library's; worked out by this program before the players' places were drawn.

    Whoever changes the sound on purpose draws other judging recordings: figures stop being comparable.
    """
    monkeypatch.setattr(recording_generator, "to_file", lambda samples, _recorder: samples)
    recording = draw_world(np.random.default_rng(seed), "16 kHz", 20.0)
    pieces = recording.samples.astype(float).reshape(8, -1)
    assert len(recording.contacts) == contacts
    assert 1e3 * np.sqrt((pieces**2).mean(axis=1)) == pytest.approx(loudness, rel=1e-3)


@pytest.mark.usefixtures("silent")
def test_another_generator_gives_another_recording():
    first, other = (draw_world(np.random.default_rng(seed), "16 kHz", 60.0) for seed in (3, 4))
    assert first.contacts != other.contacts
    assert first.details["decay_s"] != other.details["decay_s"]


@pytest.mark.usefixtures("silent")
@pytest.mark.parametrize("seed", [1, 2])
def test_strikes_alternate_and_lie_in_order_within_their_rally(seed):
    recording = draw_world(np.random.default_rng(seed), "16 kHz", 600.0)
    assert len(recording.rallies) >= 8
    times = [c.time_s for c in recording.contacts]
    assert times == sorted(times)
    for span in recording.rallies:
        strikes = strikes_in(recording, span)
        assert strikes[0].time_s == span.start_s
        assert strikes[-1].time_s == span.last_strike_s
        assert all(a.striker != b.striker for a, b in itertools.pairwise(strikes))
        assert any(c.time_s == span.end_s and c.surface in BALL_SURFACES for c in recording.contacts)


def test_spans_of_play_do_not_overlap_and_no_strike_lies_outside_them_but_a_tapped_ball():
    for seed in range(4):
        diary = match_diary(np.random.default_rng(seed), DiaryHabits(), 0.0, 900.0)
        spans = sorted(diary.spans, key=lambda s: s.start_s)
        assert all(a.end_s <= b.start_s for a, b in itertools.pairwise(spans))
        loud = [m for m in diary.moments if m.striker is not None and m.speed_m_s > 5.0]
        assert all(any(s.start_s <= m.time_s <= s.end_s for s in spans) for m in loud)
        assert {s.activity for s in spans} >= {Activity.RALLY, Activity.KNOCKING}


def rallies(count, seed=8, **habits):
    rng = np.random.default_rng(seed)
    return [play_rally(rng, draw_pair(rng, **habits), i % 2, 1.0) for i in range(count)]


def gaps_of(played):
    return [
        b.time_s - a.time_s
        for rally in played
        for a, b in itertools.pairwise([m for m in rally.moments if m.striker is not None])
    ]


def test_time_between_strokes_and_lengths_are_those_published():
    """Means of 1.34 and 1.39 s on the tours, 1.5 to 1.8 s assumed for clubs; lengths right-skewed."""
    played = rallies(350)
    gaps = gaps_of(played)
    assert 1.25 < float(np.mean(gaps)) < 1.8
    assert min(gaps) >= 0.35
    assert np.percentile(gaps, 98) < 4.0
    counts = [sum(m.striker is not None for m in rally.moments) for rally in played]
    assert 5.0 < float(np.mean(counts)) < 14.0
    assert np.mean(counts) > 1.15 * np.median(counts)


def test_rallies_end_by_the_impact_that_ended_them():
    endings = set()
    for rally in rallies(300):
        at_end = next(m for m in rally.moments if m.time_s == rally.end_s and m.striker is None)
        endings.add(rally.ending)
        assert rally.last_strike_s < rally.end_s
        if rally.ending == "tin":
            assert at_end.surface is Surface.TIN
        if rally.ending in {"winner", "down"}:
            assert at_end.surface is Surface.FLOOR
        if rally.ending == "winner":
            floors = [
                m
                for m in rally.moments
                if m.surface is Surface.FLOOR and rally.last_strike_s < m.time_s <= rally.end_s
            ]
            assert len(floors) == 2
    assert endings == {"winner", "tin", "out", "down", "let"}


def test_every_impact_lies_on_its_surface():
    for moment in (m for rally in rallies(60) for m in rally.moments):
        x, y, z = moment.place
        assert -0.01 <= x <= 6.41
        assert -0.01 <= y <= 9.76
        if moment.surface in {Surface.FRONT_WALL, Surface.TIN}:
            assert y == 0.0
            assert (z < 0.48) == (moment.surface is Surface.TIN)
        if moment.surface is Surface.FLOOR:
            assert z < 0.1
        if moment.surface is Surface.OTHER_WALL:
            assert min(x, 6.4 - x, 9.75 - y) < 0.05


def rises_db(recording, shift_s=0.0, low_hz=1000.0, high_hz=6000.0):
    """Return how much louder 8 ms from an own strike's truth are than 8 ms that end 2 ms before it, in dB."""
    wave = sosfilt(
        butter(3, [low_hz, high_hz], "bandpass", fs=recording.rate, output="sos"), recording.samples[0]
    )
    power = np.concatenate([[0.0], np.cumsum(wave**2)])
    width = int(0.008 * recording.rate)
    out = []
    for contact in recording.contacts:
        at = int((contact.time_s + shift_s) * recording.rate)
        before = at - int(0.002 * recording.rate)
        if contact.surface is Surface.RACKET and before > width and at + width < power.size:
            after = power[at + width] - power[at]
            out.append(10.0 * math.log10((after + 1e-15) / (power[before] - power[before - width] + 1e-15)))
    return np.array(out)


@pytest.mark.usefixtures("few_rays")
def test_energy_rises_at_own_strikes_and_not_a_tenth_of_a_second_off():
    recording = draw_world(np.random.default_rng(5), "44.1 kHz without codec", 90.0)
    rises = rises_db(recording)
    assert rises.size >= 10
    assert np.mean(rises > 6.0) > 0.85
    assert np.mean(rises_db(recording, shift_s=0.1) > 6.0) < 0.3


@pytest.mark.usefixtures("silent")
@pytest.mark.parametrize("condition", ["speech only", "music only", "street"])
def test_films_without_squash_hold_no_span_and_no_contact(condition):
    recording = draw_world(np.random.default_rng(1), condition, 120.0)
    assert recording.spans == ()
    assert recording.contacts == ()


def test_a_doubles_warm_up_holds_warm_ups_and_no_rally():
    diary = doubles_diary(np.random.default_rng(2), 600.0)
    assert {s.activity for s in diary.spans} == {Activity.WARM_UP}
    assert sum(m.striker is not None for m in diary.moments) > 100


@pytest.mark.usefixtures("silent")
def test_a_silent_half_is_silent_and_its_truth_left_out():
    for seed in range(2):
        recording = draw_world(np.random.default_rng(seed), "half silent", 120.0)
        edge, after = recording.details["cut_s"], recording.details["silent"] == "after"
        at = round(edge * recording.rate)
        gone, there = recording.samples[:, at:], recording.samples[:, :at]
        gone, there = (gone, there) if after else (there, gone)
        assert not gone.any()
        assert there.all()
        assert all((c.time_s < edge) == after for c in recording.contacts)
        assert all((s.start_s < edge) == after or s.start_s == edge for s in recording.spans)


@pytest.mark.usefixtures("silent")
def test_two_matches_hold_two_sets_of_rallies_and_two_parts_another_level():
    recording = draw_world(np.random.default_rng(3), "two matches", 600.0)
    starts = [s.start_s for s in recording.rallies]
    assert max(b - a for a, b in itertools.pairwise(starts)) > 40.0
    parts = draw_world(np.random.default_rng(3), "two parts", 120.0)
    edge = round(parts.details["cut_s"] * parts.rate)
    levels = [float(np.abs(parts.samples[0, a:b]).mean()) for a, b in ((0, edge), (edge + 99, None))]
    assert abs(20.0 * math.log10(levels[1] / levels[0])) > 4.0


@pytest.mark.usefixtures("few_rays")
def test_a_loud_neighbour_is_listed_and_6_db_below(monkeypatch):
    scenes, recorders = [], []
    peak_of, scene_of = recording_generator.usual_peak, recording_generator.MicrophoneScene

    def noted_peak(rng, court, recorder):
        recorders.append(recorder)
        return peak_of(rng, court, recorder)

    def noted_scene(seconds, courts):
        scenes.append(courts)
        return scene_of(seconds, courts)

    monkeypatch.setattr(recording_generator, "usual_peak", noted_peak)
    monkeypatch.setattr(recording_generator, "MicrophoneScene", noted_scene)
    recording = draw_world(np.random.default_rng(4), "loud neighbour", 20.0)
    assert any(not c.own_court for c in recording.contacts)
    own, other = (peak_of(np.random.default_rng(1), c, recorders[0]) for c in scenes[0][:2])
    assert 20.0 * math.log10(other / own) == pytest.approx(-6.0, abs=3.0)


def test_conditions_of_length_and_touch_change_the_play():
    def play_of(condition):
        diaries = [
            match_diary(np.random.default_rng(seed), TABLE[condition].habits, 0.0, 700.0) for seed in range(4)
        ]
        strikes = [[m for m in d.moments if m.striker is not None] for d in diaries]
        counts = [
            sum(s.start_s <= m.time_s <= s.end_s for m in hits)
            for d, hits in zip(diaries, strikes, strict=True)
            for s in d.spans
            if s.activity is Activity.RALLY
        ]
        return float(np.mean(counts)), float(np.median([m.speed_m_s for hits in strikes for m in hits]))

    short, usual, long = (play_of(c) for c in ("short rallies", "usual", "long rallies"))
    assert short[0] < 0.8 * usual[0] < usual[0] < 0.8 * long[0]
    assert play_of("soft hitters")[1] < 0.9 * usual[1]


def speeds(condition, monkeypatch):
    found = []
    original = recording_generator.SoundingCourt

    def noted(moments, *rest):
        found.extend(m.speed_m_s for m in moments if m.striker is not None)
        return original(moments, *rest)

    monkeypatch.setattr(recording_generator, "SoundingCourt", noted)
    draw_world(np.random.default_rng(2), condition, 120.0)
    return np.array(found)


@pytest.mark.usefixtures("silent")
def test_even_strokes_are_even_and_others_are_not(monkeypatch):
    assert np.ptp(speeds("even strokes", monkeypatch)) == pytest.approx(0.0)
    half, whole = (np.std(np.log(speeds(c, monkeypatch))) for c in ("half the difference in level", "quiet"))
    assert half < 0.7 * whole


def test_levels_asked_for_are_those_of_the_conditions():
    assert max(abs(v + 15.0) for v in TABLE["next court at -15 dB"].next_db) <= 0.5
    assert max(abs(v + 6.0) for v in TABLE["loud neighbour"].next_db) <= 0.3
    for seed in range(20):
        rng = np.random.default_rng(seed)
        assert draw_recorder(rng, TABLE["8 kHz"]).rate == 8000
        assert draw_recorder(rng, TABLE["44.1 kHz without codec"]).codec == ""
        assert draw_recorder(rng, TABLE["stereo, odd phase"]).channels == 2


def test_every_condition_that_the_criteria_name_is_there():
    assert set(CONDITIONS) == {*USUAL, *POOR, *NEIGHBOUR, *GLASS, *ODD}
    assert {"8 kHz", "loud crowd", "music"} <= set(POOR)
    assert {
        "speech only",
        "music only",
        "street",
        "two matches",
        "two parts",
        "half silent",
        "doubles warm-up",
    } == set(ODD)
    assert "behind the court, door gap" in USUAL


def family_files():
    """Return the files of the test family, and those of every other family of recordings."""
    root = Path(families.__file__).parent
    own = sorted((root / "test_family").glob("*.py"))
    folders = (root, *root.glob("training_*"), *root.glob("retired_test_families/*"))
    rest = [f for folder in folders for f in folder.glob("*.py")]
    return own, sorted(f for f in rest if f.name not in {"__init__.py", "recording_types.py"})


def tables(path):
    """Return the literal tables of at least five numbers, not all whole, in a file."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Tuple | ast.List | ast.Set):
            numbers = [e.value for e in node.elts if isinstance(e, ast.Constant)]
            numbers = [n for n in numbers if isinstance(n, int | float) and not isinstance(n, bool)]
            if len(numbers) >= 5 and any(n != round(n) for n in numbers):
                found.add(tuple(numbers))
    return found


def test_no_table_of_constants_is_shared_with_another_family():
    own, rest = family_files()
    mine = {table for path in own for table in tables(path)}
    others = {table for path in rest for table in tables(path)}
    assert mine
    assert others
    assert mine & others == set()


def test_the_test_family_takes_nothing_from_other_families_or_detectors():
    own, _ = family_files()
    allowed = ("goodlength.court", "goodlength.errors", "goodlength.synthetic.recordings.recording_types")
    for path in own:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("goodlength"):
                inside = f"{node.module}.".startswith("goodlength.synthetic.recordings.test_family.")
                assert inside or node.module.startswith(allowed), (path.name, node.module)


def test_a_condition_that_is_none_and_a_length_that_is_none_are_refused():
    with pytest.raises(NotFound, match="there is no condition 'moon'"):
        draw_world(np.random.default_rng(1), "moon", 60.0)
    for seconds in (1.0, math.nan, 1e6):
        with pytest.raises(OutOfRange, match="20 to 5400 s"):
            draw_world(np.random.default_rng(1), "usual", seconds)
