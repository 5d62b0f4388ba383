"""The family of pressure play: its truth agrees with itself and with its sound, and every condition has its effect."""

from __future__ import annotations

import ast
import itertools
import math
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest
from scipy.signal import butter, sosfilt

import goodlength.synthetic.recordings as families
from goodlength.court.dimensions import LENGTH_M, TIN_M, WIDTH_M
from goodlength.errors import NotFound, OutOfRange
from goodlength.synthetic.recordings.recording_types import Activity, Surface
from goodlength.synthetic.recordings.retired_test_families.pressure_play import (
    CONDITIONS,
    ODD,
    draw_world,
    recording_generator,
)
from goodlength.synthetic.recordings.retired_test_families.pressure_play.ball_flight_and_bounces import (
    CourtBall,
    flight,
    velocity_to,
)
from goodlength.synthetic.recordings.retired_test_families.pressure_play.microphone_sound_mixing import (
    SceneMixer,
)
from goodlength.synthetic.recordings.retired_test_families.pressure_play.pressure_rally_simulation import (
    draw_rally_player,
    play_pressure_rally,
)
from goodlength.synthetic.recordings.retired_test_families.pressure_play.recording_conditions import (
    TABLE,
    draw_recording_phone,
)
from goodlength.synthetic.recordings.retired_test_families.pressure_play.session_event_timeline import (
    PlayHabits,
    match_evening,
)
from goodlength.synthetic.recordings.retired_test_families.pressure_play.sound_absorption_and_decay import (
    draw_surfaces,
)

BALL_SURFACES = (Surface.FLOOR, Surface.TIN, Surface.FRONT_WALL, Surface.OTHER_WALL)


@lru_cache(maxsize=8)
def world(condition, seconds, seed):
    return draw_world(np.random.default_rng(seed), condition, seconds)


@pytest.fixture
def silent(monkeypatch):
    """Put a constant for the sound and leave rooms, voices and the phone out: play alone, and its truth."""

    def nothing(mixer):
        return np.ones((mixer.phone.channels, mixer.scene.seconds * mixer.rate), dtype=np.float32)

    monkeypatch.setattr(SceneMixer, "__init__", bare_mixer)
    monkeypatch.setattr(SceneMixer, "mix", nothing)
    monkeypatch.setattr(recording_generator, "draw_court_bodies", lambda _rng, _rate: {})
    monkeypatch.setattr(recording_generator, "reverberation", lambda *_: (np.zeros((3, 1), np.float32),))
    monkeypatch.setattr(recording_generator, "hard_strike_peak", lambda *_: 1.0)
    for voice in ("babble", "clapping", "conversation", "music", "speak", "traffic"):
        monkeypatch.setattr(recording_generator, voice, lambda *_: np.zeros(1, np.float32))
    monkeypatch.setattr(recording_generator, "record_scene", lambda samples, _phone: samples)


def bare_mixer(mixer, rng, scene, phone):
    """Begin a mixer that is asked for nothing but a constant."""
    mixer.rng, mixer.scene, mixer.phone, mixer.rate = rng, scene, phone, phone.inner_rate


def strikes_in(recording, span):
    return [
        c
        for c in recording.contacts
        if c.own_court and c.surface is Surface.RACKET and span.start_s <= c.time_s <= span.end_s
    ]


@pytest.mark.slow
@pytest.mark.parametrize("condition", CONDITIONS)
def test_every_condition_gives_finite_sound_of_the_length_asked_for(condition):
    recording = draw_world(np.random.default_rng(17), condition, 20.0)  # the least a recording may last
    assert recording.family == "learning pressure"
    assert recording.condition == condition
    assert recording.samples.dtype == np.float32
    assert np.isfinite(recording.samples).all()
    assert 0.001 < np.abs(recording.samples).max() <= 1.0
    assert abs(recording.samples.shape[1] / recording.rate - 20.0) < 1.0
    assert all(0.0 <= c.time_s < 20.0 for c in recording.contacts)


@pytest.mark.slow
def test_the_same_generator_gives_the_same_recording_and_another_does_not():
    item, two, other = (draw_world(np.random.default_rng(s), "16 kHz", 20.0) for s in (3, 3, 4))
    assert np.array_equal(item.samples, two.samples)
    assert (item.contacts, item.spans, item.details) == (two.contacts, two.spans, two.details)
    assert item.contacts != other.contacts
    assert item.details["decay_s"] != other.details["decay_s"]


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, 2])
def test_strikes_alternate_and_lie_in_order_within_their_rally(seed, silent):
    recording = draw_world(np.random.default_rng(seed), "44.1 kHz without codec", 600.0)
    assert len(recording.rallies) >= 8
    times = [c.time_s for c in recording.contacts]
    assert times == sorted(times)
    for span in recording.rallies:
        strikes = strikes_in(recording, span)
        assert strikes[0].time_s == span.start_s
        assert strikes[-1].time_s == span.last_strike_s
        assert all(a.striker != b.striker for a, b in itertools.pairwise(strikes))
        assert any(c.time_s == span.end_s and c.surface in BALL_SURFACES for c in recording.contacts)


def test_spans_of_play_do_not_overlap():
    for seed in range(6):
        evening = match_evening(np.random.default_rng(seed), PlayHabits(), 0.0, 1500.0)
        spans = sorted(evening.spans, key=lambda s: s.start_s)
        assert all(a.end_s <= b.start_s for a, b in itertools.pairwise(spans))


def rallies(count, power=(25.0, 41.0), errs=1.0, seed=8):
    rng = np.random.default_rng(seed)
    for _ in range(count):
        players = tuple(draw_rally_player(rng, power, errs) for _ in range(2))
        yield play_pressure_rally(rng, players, CourtBall(40.0), int(rng.integers(0, 2)), 5.0)


def test_rallies_end_by_the_impact_that_ended_them():
    seen = set()
    for rally in rallies(250):
        last = next(i for i in rally.impacts if i.time_s == rally.end_s and i.striker is None)
        after = [i for i in rally.impacts if rally.last_strike_s < i.time_s <= rally.end_s]
        seen.add(rally.ending)
        if rally.ending == "tin":
            assert last.surface is Surface.TIN
            assert last.place[2] < TIN_M["standard"]
        if rally.ending == "down":
            assert last.surface is Surface.FLOOR
            assert not any(i.surface is Surface.FRONT_WALL for i in after)
        if rally.ending == "winner":
            assert last.surface is Surface.FLOOR
            assert sum(i.surface is Surface.FLOOR for i in after) == 2
        if rally.ending == "out":
            assert last.surface in {Surface.FRONT_WALL, Surface.OTHER_WALL}
    assert seen == {"winner", "tin", "out", "down", "let", "stroke"}


def test_gaps_between_strikes_are_those_of_a_court():
    """Plausibility only: the middle half between about one and two seconds, as courts of this length give."""
    gaps = []
    for rally in rallies(80, seed=9):
        gaps += np.diff([i.time_s for i in rally.impacts if i.striker is not None]).tolist()
    low, middle, high = np.percentile(gaps, [5, 50, 95])
    assert 0.5 < low < 1.1 < middle < 1.9 < high < 3.2


def test_fewer_errors_make_longer_rallies():
    lengths = [
        np.median([sum(i.striker is not None for i in r.impacts) for r in rallies(80, errs=errs)])
        for errs in (2.6, 1.0, 0.36)
    ]
    assert lengths[0] < lengths[1] < lengths[2]


def test_a_dropped_ball_falls_as_drag_linear_in_speed_lets_it_and_bounces_by_restitution():
    """Fall from 1 m lasts sqrt(2 s / g) within 3 of 100; the ball leaves at e times its speed."""
    ball = CourtBall(45.0)
    first, second = flight(ball, 0.0, (3.0, 5.0, 1.02), (0.0, 0.0, 0.0), floors=2)
    assert first.end_s == pytest.approx(math.sqrt(2.0 / 9.80665), rel=0.03)
    assert second.velocity[2] == pytest.approx(first.normal_m_s * ball.restitution(first.normal_m_s))
    assert ball.restitution(7.0) == pytest.approx(math.sqrt(0.308))  # 45 C at 7 m/s, the physics notes


def test_a_shot_aimed_at_a_spot_on_the_wall_meets_it():
    for target in ((1.0, 0.0, 0.6), (5.0, 0.0, 2.5), (3.0, 0.0, 4.2)):
        place = (2.0, 8.0, 0.9)
        leg = flight(CourtBall(40.0), 0.0, place, velocity_to(place, target, 25.0), floors=1)[0]
        assert leg.wall == "front"
        assert math.dist(leg.end, target) < 0.08


def test_every_contact_of_the_ball_lies_on_a_surface_of_the_court():
    for impact in match_evening(np.random.default_rng(3), PlayHabits(), 0.0, 400.0).impacts:
        x, y, z = impact.place
        assert -0.01 <= x <= WIDTH_M + 0.01
        assert -0.01 <= y <= LENGTH_M + 0.01
        assert z >= 0.0
        if impact.surface in {Surface.FRONT_WALL, Surface.TIN}:
            assert y < 0.03
        if impact.surface is Surface.FLOOR:
            assert z < 0.03


def rises_db(recording, low_hz=1000.0, high_hz=6000.0):
    """How far the energy of 5 ms after each own strike stands over that of the 5 ms before, and its level."""
    rate = recording.rate
    band = butter(2, [low_hz, min(high_hz, 0.45 * rate)], "bandpass", fs=rate, output="sos")
    power = np.concatenate([[0.0], np.cumsum(sosfilt(band, recording.samples[0].astype(float)) ** 2)])
    width = round(0.005 * rate)
    floor = np.percentile(power[width::width] - power[:-width:width], 5) + 1e-14
    out = []
    for c in recording.contacts:
        if (
            c.own_court
            and c.surface is Surface.RACKET
            and 0.1 < c.time_s < recording.samples.shape[1] / rate - 0.1
        ):
            i = int(c.time_s * rate)
            after, before = power[i + width] - power[i], power[i - 2] - power[i - 2 - width]
            out.append(
                (10 * math.log10((after + 1e-14) / (before + 1e-14)), 10 * math.log10(after / floor + 1e-14))
            )
    return np.array(out)


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, 2])
def test_energy_rises_within_5_ms_of_own_strikes_where_it_is_quiet(seed):
    rises = rises_db(world("quiet", 240.0, seed))
    heard = rises[rises[:, 1] > 20.0, 0]
    assert heard.size > 30
    assert (heard > 1.5).mean() > 0.95


@pytest.mark.slow
def test_times_that_are_wrong_by_a_tenth_of_a_second_would_not_pass():
    recording = world("quiet", 240.0, 1)
    rate = recording.rate
    late = np.roll(recording.samples, rate // 10, axis=1)
    moved = type(recording)(**{**recording.__dict__, "samples": late})
    rises = rises_db(moved)
    assert (rises[:, 0] > 1.5).mean() < 0.5


@pytest.mark.slow
@pytest.mark.parametrize("condition", [c for c in ODD if c in {"speech only", "music only", "street"}])
def test_films_without_squash_hold_no_span_and_no_contact(condition, silent):
    recording = draw_world(np.random.default_rng(5), condition, 200.0)
    assert recording.spans == ()
    assert recording.contacts == ()


@pytest.mark.slow
def test_a_doubles_warm_up_holds_a_warm_up_and_no_rally(silent):
    recording = draw_world(np.random.default_rng(5), "doubles warm-up", 120.0)
    assert {s.activity for s in recording.spans} == {Activity.WARM_UP}
    assert sum(c.surface is Surface.RACKET for c in recording.contacts) > 20


@pytest.mark.slow
def test_a_silent_half_is_silent_and_its_truth_left_out():
    for seed in (1, 2):
        recording = world("half silent", 140.0, seed)
        edge, after = float(recording.details["cut_s"]), recording.details["silent"] == "after"
        cut = round(edge * recording.rate)
        silent = recording.samples[:, cut:] if after else recording.samples[:, :cut]
        assert silent.shape[1] > 30 * recording.rate
        assert not silent.any()
        assert all((c.time_s < edge) is after for c in recording.contacts)
        for span in recording.rallies:
            assert (span.end_s <= edge) if after else (span.start_s >= edge)


@pytest.mark.slow
def test_two_matches_hold_two_sets_of_rallies_apart(silent):
    recording = draw_world(np.random.default_rng(4), "two matches", 900.0)
    half = recording.samples.shape[1] / recording.rate / 2
    assert any(s.end_s < half for s in recording.rallies)
    assert any(s.start_s > half for s in recording.rallies)
    assert max(b.start_s - a.end_s for a, b in itertools.pairwise(recording.rallies)) > 45.0


@pytest.mark.slow
def test_a_loud_neighbour_is_listed_and_heard_6_db_below(monkeypatch):
    """The middle peaks of both courts' strikes, all equally hard, over 40 ms, without gain control."""
    plain = replace(
        TABLE["loud neighbour"],
        level_share=0.0,
        control=0.0,
        codec_kb_s=None,
        coach_busy=(0.0, 0.0),
        crowd_db=None,
        rates=(16000,),
    )
    monkeypatch.setitem(TABLE, "loud neighbour", plain)
    below = []
    for seed in range(4):
        recording = draw_world(np.random.default_rng(seed), "loud neighbour", 90.0)
        peaks = {True: [], False: []}
        for c in recording.contacts:
            if c.surface is Surface.RACKET and c.time_s < 89.0:
                start = int(c.time_s * recording.rate)
                peaks[c.own_court].append(np.abs(recording.samples[0, start : start + 640]).max())
        assert min(len(peaks[True]), len(peaks[False])) > 5
        below.append(20 * math.log10(np.median(peaks[False]) / np.median(peaks[True])))
    assert np.mean(below) == pytest.approx(-6.0, abs=3.0)


def high_share(recording, over_hz=1500.0):
    """How much of the power lies over a frequency."""
    power = np.abs(np.fft.rfft(recording.samples[0])) ** 2
    hz = np.fft.rfftfreq(recording.samples.shape[1], 1 / recording.rate)
    return float(power[hz > over_hz].sum() / power.sum())


def calm_db(recording):
    """The level of the calmest tenth of the frames beside the peak."""
    wave = recording.samples[0]
    hop = recording.rate // 50
    frames = wave[: wave.size // hop * hop].reshape(-1, hop)
    level = np.sqrt((frames.astype(float) ** 2).mean(axis=1))
    return 20 * math.log10(np.percentile(level, 10) / np.abs(wave).max())


@pytest.mark.slow
def test_behind_glass_and_by_the_door_the_sound_is_duller_than_above_the_wall(monkeypatch):
    for name in ("above the back wall", "behind the court, door gap", "behind glass"):
        changes = {"rates": (32000,), "noise_db": (-80.0, -80.0), "codec_kb_s": None}
        still = {"coach_busy": (0.0, 0.0), "neighbour_chance": 0.0, "crowd_chance": 0.0, "control": 0.0}
        monkeypatch.setitem(TABLE, name, replace(TABLE[name], **changes, **still))
    shares = [
        np.mean([high_share(world(name, 60.0, seed)) for seed in (3, 4, 5)])
        for name in ("above the back wall", "behind the court, door gap", "behind glass")
    ]
    assert shares[2] < 0.5 * shares[0]
    assert shares[1] < shares[0]


@pytest.mark.slow
@pytest.mark.parametrize("condition", ["loud crowd", "music", "pink noise, loud", "all at once"])
def test_loud_backgrounds_stand_between_the_strikes(condition):
    quiet, loud = (
        np.mean([calm_db(world(c, seconds, seed)) for seed in (1, 2, 3)])
        for c, seconds in (("quiet", 60.0), (condition, 40.0))
    )
    assert loud > quiet + 8.0


@pytest.mark.slow
def test_a_clipped_recording_is_clipped_and_a_quiet_one_is_not():
    shares = [
        np.mean([(np.abs(world(c, 60.0, s).samples) > 0.9).mean() for s in (1, 2, 3)])
        for c in ("clipped", "quiet")
    ]
    assert shares[0] > 1e-4
    assert shares[1] < 1e-5


@pytest.mark.slow
def test_a_coach_near_is_louder_than_the_strikes_often():
    talk = world("coach talks near", 60.0, 2)
    assert np.std(talk.samples) > 2.0 * np.std(world("quiet", 60.0, 2).samples)


def test_rates_channels_and_rooms_are_those_of_their_condition():
    def phones(condition):
        return [draw_recording_phone(np.random.default_rng(s), TABLE[condition]) for s in range(40)]

    def decay_s(condition):
        rooms = [draw_surfaces(np.random.default_rng(s), TABLE[condition].treated) for s in range(40)]
        return np.median([r.eyring_decay_s()[3] for r in rooms])

    assert {p.rate for p in phones("8 kHz")} == {8000}
    assert {p.codec for p in phones("8 kHz")} == {"aac", "mu-law"}
    assert {p.rate for p in phones("16 kHz")} == {16000}
    assert {p.codec for p in phones("usual")} == {"aac", "layer II"}
    assert {(p.rate, p.codec, p.codec_kb_s) for p in phones("44.1 kHz without codec")} == {(44100, "", 0.0)}
    assert {p.channels for p in phones("stereo, odd phase")} == {2}
    assert {p.phase for p in phones("stereo, odd phase")} == {"same", "delay", "opposite", "any"}
    assert decay_s("dry court") < 1.0 < decay_s("usual") < 2.0 < decay_s("echoing court")


@pytest.mark.slow
def test_strokes_of_the_even_condition_are_even_and_half_lies_between(silent, monkeypatch):
    courts = []

    def look(mixer, rng, scene, phone):
        bare_mixer(mixer, rng, scene, phone)
        courts.append(scene.courts[0])

    monkeypatch.setattr(SceneMixer, "__init__", look)
    spreads = []
    for name in ("even strokes", "half the difference in level", "quiet"):
        draw_world(np.random.default_rng(3), name, 200.0)
        speeds = [i.speed_m_s for i in courts[-1].impacts if i.striker is not None]
        assert len(speeds) > 10
        spreads.append(np.std(np.log(speeds)))
    assert len(courts) == 3
    assert spreads[0] < 1e-9
    assert spreads[1] == pytest.approx(0.5 * spreads[2], rel=0.01)


@pytest.mark.parametrize(
    ("condition", "longer"), [("long rallies", True), ("fast and long", True), ("short rallies", False)]
)
def test_conditions_of_length_make_rallies_longer_or_shorter(condition, longer):
    def median(name):
        habits = TABLE[name].habits
        return np.median(
            [
                sum(i.striker is not None for i in r.impacts)
                for r in rallies(80, habits.power_m_s, habits.errs)
            ]
        )

    assert bool(median(condition) > median("usual")) is longer


@pytest.mark.parametrize("condition", ["touch and short", "soft hitters"])
def test_conditions_of_touch_make_softer_strikes(condition):
    def middle(name):
        habits = TABLE[name].habits
        return np.median(
            [
                i.speed_m_s
                for r in rallies(60, habits.power_m_s, habits.errs)
                for i in r.impacts
                if i.striker is not None
            ]
        )

    assert middle(condition) < 0.9 * middle("usual")


def test_a_long_warm_up_is_long():
    evening = match_evening(np.random.default_rng(3), TABLE["long warm-up"].habits, 0.0, 1200.0)
    warm = next(s for s in evening.spans if s.activity is Activity.WARM_UP)
    assert warm.end_s - warm.start_s > 190.0


def test_fifteen_db_means_fifteen_db():
    assert TABLE["next court at -15 dB"].neighbour_db == (-15.5, -14.5)
    assert TABLE["loud neighbour"].neighbour_db == (-6.2, -5.8)


def family_files():
    """Return the files of pressure play, and those of the other families with what they share."""
    root = Path(families.__file__).parent
    own = sorted((root / "retired_test_families" / "pressure_play").glob("*.py"))
    rest = [*root.glob("*.py"), *(root / "training_flights").glob("*.py")]
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


def test_pressure_play_takes_nothing_from_other_families_or_detectors():
    own, _ = family_files()
    allowed = ("goodlength.court", "goodlength.errors", "goodlength.synthetic.recordings.recording_types")
    for path in own:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("goodlength"):
                inside = node.module.startswith(
                    "goodlength.synthetic.recordings.retired_test_families.pressure_play"
                )
                inside = inside and not node.module.startswith("goodlength.synthetic.recordings.test_family_")
                assert inside or node.module.startswith(allowed), (path.name, node.module)


def test_a_condition_that_is_none_and_a_length_that_is_none_are_refused():
    with pytest.raises(NotFound, match="there is no condition 'moon'"):
        draw_world(np.random.default_rng(1), "moon", 60.0)
    for seconds in (1.0, math.nan, 1e6):
        with pytest.raises(OutOfRange, match="20 to 5400 s"):
            draw_world(np.random.default_rng(1), "usual", seconds)
