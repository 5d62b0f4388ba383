"""What is unusual about a recording is said in words, and nothing is sure where it should not be."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from goodlength.bench.footage.rally_detection_accuracy import write_film
from goodlength.footage.audio.impact_classifier_network import STATES, SURFACES, Impacts
from goodlength.footage.audio.log_mel import BANDS, HOP_S
from goodlength.footage.audio.rally_detection import detect_rallies
from goodlength.footage.audio.recording_anomaly_warnings import (
    UNSURE,
    WORDS,
    RallySpan,
    is_unsure,
    level_step,
    no_squash,
    second_match,
    silent_parts,
    two_balls,
)
from goodlength.synthetic.recordings import validation_recording_family
from goodlength.synthetic.recordings.edge_case_recordings import NO_SQUASH, ODD, draw_odd
from goodlength.synthetic.simulated_court_audio import RATE

PER_S = round(1 / HOP_S)


def hits(times: Any, state: str) -> Impacts:
    """Racket hits at some moments, in a state of play."""
    at = np.asarray(times, np.float32)
    count = len(at)
    surface = np.zeros((count, len(SURFACES)), np.float32)
    surface[:, SURFACES.index("racket")] = 0.9
    states = np.full((count, len(STATES)), 0.05, np.float32)
    states[:, STATES.index(state)] = 0.9
    zeros = np.zeros(count, np.float32)
    return Impacts(at, surface, zeros, zeros, zeros, states, zeros)


def joined(*parts: Impacts) -> Impacts:
    names = Impacts.__dataclass_fields__
    return Impacts(*(np.concatenate([getattr(part, name) for part in parts]) for name in names))


def rallies(*starts: float, sure: bool = True, chance: float = 0.95) -> list[RallySpan]:
    return [RallySpan(at, at + 8, sure, chance) for at in starts]


def frames(levels: list[tuple[float, int]]) -> Any:
    """Seconds at a level: a quiet court with a loud impact each second."""
    parts = []
    for seconds, level in levels:
        part = np.full((round(seconds * PER_S), BANDS), max(0, level - 40), np.uint8)
        part[::PER_S] = level
        parts.append(part)
    return np.concatenate(parts)


def test_a_part_without_sound_is_named_with_its_times() -> None:
    (note,) = silent_parts(frames([(120, 120), (90, 0), (120, 120)]))
    assert note.words() == "From 2:00.0 to 3:30.0 the video has no sound: rallies there are missing."
    assert note.words(60.0).startswith("From 3:00.0 to 4:30.0") and note.unsure
    assert silent_parts(frames([(120, 120), (20, 0), (120, 120)])) == []
    assert silent_parts(np.zeros((0, BANDS), np.uint8)) == []


def test_a_part_with_another_level_is_named_and_one_that_wavers_is_not() -> None:
    (note,) = level_step(frames([(150, 120), (150, 100)]))
    assert (note.start_s, note.change_db) == (150.0, -20.0)
    assert "about 20 dB quieter" in note.words()
    assert level_step(frames([(150, 120), (150, 115)])) == []
    assert level_step(frames([(30, 120), (30, 90)] * 5)) == []
    assert level_step(frames([(60, 120)])) == []


def test_a_warm_up_with_too_many_hits_for_one_ball_is_named() -> None:
    crowded = hits(np.arange(0, 90, 0.9), "hitting")
    (note,) = two_balls(crowded)
    assert note.start_s <= 10 and note.end_s >= 80 and is_unsure([note], 40, 50)
    assert two_balls(hits(np.arange(0, 90, 1.4), "hitting")) == []
    assert two_balls(hits(np.arange(0, 90, 0.9), "rally")) == [], "a fast rally is none"


def test_a_second_warm_up_between_rallies_is_a_second_match() -> None:
    play = [hits(np.arange(a, a + 8, 1.3), "rally") for a in (0, 30, 60, 300, 330, 360)]
    warm = hits(np.arange(150, 250, 1.5), "hitting")
    spans = rallies(0, 30, 60, 300, 330, 360)
    whole = joined(*play[:3], warm, *play[3:])
    (note,) = second_match(whole, spans)
    assert note.start_s == pytest.approx(150.0) and "begins at 2:30.0. Split it there" in note.words()
    knocking = hits(np.arange(150, 180, 1.5), "hitting")
    assert second_match(joined(*play[:3], knocking, *play[3:]), spans) == [], "knocking up between games"
    assert second_match(joined(warm, *play[3:]), rallies(300, 330, 360)) == [], "the first warm-up"


def test_hardly_any_play_in_a_long_recording_is_said() -> None:
    (note,) = no_squash(600.0, rallies(100, sure=True))
    assert note.unsure and is_unsure([note], 100, 108)
    assert no_squash(600.0, rallies(*range(0, 600, 30))) == []
    assert no_squash(60.0, []) == [], "too short to say"
    assert no_squash(300.0, rallies(*range(0, 300, 20), sure=False, chance=0.6)) == [], "poor sound"


def test_a_few_sure_spans_among_many_that_are_not_are_not_believed() -> None:
    """Claps gave three sure rallies among 24 spans; the chance of the rest was high enough to pass before."""
    doubtful = rallies(*range(10, 300, 15), sure=False, chance=0.7)
    (note,) = no_squash(300.0, [*rallies(1, 302, sure=True), *doubtful])
    assert note.code == "no squash"
    assert no_squash(300.0, [*rallies(*range(2, 300, 60), sure=True), *doubtful]) == []


def test_every_kind_has_words_without_braces_left() -> None:
    assert set(UNSURE) <= set(WORDS)
    for words in WORDS.values():
        assert "{" not in words.format(start="1:00", end="2:00", change=9, way="quieter")


@pytest.mark.parametrize("kind", ODD)
def test_odd_recordings_are_drawn_with_their_truth(kind: str) -> None:
    world = draw_odd(np.random.default_rng(3), validation_recording_family, kind, 40.0)
    assert world.condition == kind and np.isfinite(world.samples).all() and world.samples.ndim == 2
    assert not world.rallies or kind not in NO_SQUASH


def test_speech_alone_gives_nothing_sure_and_is_said_in_words(tmp_path: Path) -> None:
    world = draw_odd(np.random.default_rng(3), validation_recording_family, "speech", 170.0)
    from scipy import signal

    wave = signal.resample_poly(world.samples[0], RATE, world.rate).astype(np.float32)
    found = detect_rallies(write_film(tmp_path / "talk.mp4", wave), motion=False)
    assert not any(not rally.doubtful for rally in found.rallies)
    plain: Any = found.to_json()
    assert [note["code"] for note in plain["notes"]] == ["no squash"]
    assert plain["sound"]["usable"] is False and "no hits stand out" in plain["sound"]["why"]
