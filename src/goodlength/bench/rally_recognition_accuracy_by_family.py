"""Accuracy of rally recognition on whole simulated recordings: training, validation and test families, and
the demo.

Bounds and weights are chosen on the choosing family; figures that count are those of the judging family,
which nobody looked at before. A rally is found when a span shares half of what both cover together, from
first to last strike, 0.4 s round. "Wrong" is a sure span that finds no rally.
"""

from __future__ import annotations

import importlib
import itertools
import os
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, fields
from types import ModuleType

import cv2
import numpy as np
from numpy.typing import NDArray

from goodlength.bench.footage.court_detection_accuracy import bench_court, court_keys
from goodlength.footage.audio.impact_classifier_network import impact_network
from goodlength.footage.audio.network_rally_recognition import (
    RecognisedRally,
    extract_features,
    recognise_rallies,
)
from goodlength.footage.vision.motion_profile import EVERY_S, HEIGHT, WIDTH, MotionMeter, MotionProfile
from goodlength.synthetic.recordings.recording_types import (
    Activity,
    Surface,
    WorldContact,
    WorldRecording,
    WorldSpan,
)
from goodlength.synthetic.recordings.rendered_player_video import Places, plain_picture

ROUND_S, SHARE = 0.4, 0.5
START_S, STRIKE_S, LAST_S, CLIP_S = 0.3, 0.010, 0.5, 1.5
FAMILIES = {
    "learn": (
        "training_family_image_source",
        "training_family_noise_bursts",
        "training_family_fm_impacts",
        "training_flights.training_family_minimum_phase_impacts",
        "training_flights.training_family_play_crossed_with_halls",
        "training_flights.training_family_waveguides",
        "training_drills.training_family_modal_plates",
        "training_drills.training_family_particle_collisions",
        "training_drills.training_family_soft_sound_atoms",
        "retired_test_families.plan_rays",
        "retired_test_families.pressure_play",
        "training_mixtures.training_family_plan_rays_play",
        "training_mixtures.training_family_pressure_play_in_halls",
    ),
    "choose": ("validation_recording_family",),
    "judge": ("test_family",),
}
MOVEMENTS = {
    "learn": (
        "player_movements.training_family_waypoint_movement",
        "player_movements.training_family_goal_seeking_movement",
    ),
    "choose": ("player_movements.validation_family_stepwise_movement",),
    "judge": ("test_family.player_positions_over_time",),
}
POOR, GLASS, NEXT = ("8 kHz", "8k", "nois", "crowd", "music", "loud"), ("glass",), ("next", "neighbour")
OWN_GROUPS = {"usual": "USUAL", "poor": "POOR", "next court": "NEIGHBOUR", "glass": "GLASS", "odd": "ODD"}
GROUPS = tuple(OWN_GROUPS)
MINUTES = {"learn": 4.0, "choose": 7.0, "judge": 10.0}
RECORDINGS = {"learn": 18, "choose": 14, "judge": 37}
COURT_FILMS = {False: 6, True: 100}  # drawing one takes a minute; `bench court` makes more
PICTURE_SEED = 7
CHANCE_EDGES = (0.0, 0.2, 0.4, 0.6, 0.8, 0.9, 0.95, 0.98, 1.0)


def group_of(condition: str, module: ModuleType | None = None) -> str:
    """Return which group a condition belongs to: by its family's own lists, else by its words.

    Examples
    --------
    >>> [group_of(words) for words in ("usual", "8 kHz", "behind glass", "next court")]
    ['usual', 'poor', 'glass', 'next court']
    """
    for name, attribute in OWN_GROUPS.items():
        if condition in getattr(module, attribute, ()):
            return name
    lower = condition.lower()
    for name, words in (("glass", GLASS), ("next court", NEXT), ("poor", POOR)):
        if any(word.lower() in lower for word in words):
            return name
    return "usual"


@dataclass
class Tally:
    """Counts over recordings; each field is a number of cases."""

    recordings: int = 0
    rallies: int = 0
    found: int = 0
    found_or_offered: int = 0
    sure: int = 0
    wrong: int = 0
    doubtful: int = 0
    starts: int = 0
    strikes: int = 0
    strikes_found: int = 0
    named: int = 0
    named_right: int = 0
    shots_right: int = 0
    shots_within_one: int = 0
    last_right: int = 0
    end_inside: int = 0
    warm_ups: int = 0
    warm_ups_clean: int = 0
    chances: list[tuple[float, bool]] = field(default_factory=list)

    def add(self, other: Tally) -> None:
        """Take another tally into this one."""
        for field_item in fields(self):
            setattr(self, field_item.name, getattr(self, field_item.name) + getattr(other, field_item.name))

    def form(self) -> dict[str, object]:
        """Return shares 0 to 1 with what they are of."""

        def share(part: int, whole: int) -> float | None:
            return round(part / whole, 4) if whole else None

        return {
            "recordings": self.recordings,
            "rallies": self.rallies,
            "rallies_found": share(self.found, self.rallies),
            "found_or_offered": share(self.found_or_offered, self.rallies),
            "sure": self.sure,
            "doubtful": self.doubtful,
            "wrong_among_sure": share(self.wrong, self.sure),
            "starts_within_0_3_s": share(self.starts, self.found_or_offered),
            "warmups_clean": share(self.warm_ups_clean, self.warm_ups),
            "warmups": self.warm_ups,
            "strikes": self.strikes,
            "strikes_found": share(self.strikes_found, self.strikes),
            "strikes_right": share(self.named_right, self.named),
            "shots_exact": share(self.shots_right, self.found_or_offered),
            "shots_within_one": share(self.shots_within_one, self.found_or_offered),
            "last_within_0_5_s": share(self.last_right, self.found_or_offered),
            "end_inside_clip": share(self.end_inside, self.found_or_offered),
        }


def share_together(a: tuple[float, float], b: tuple[float, float]) -> float:
    """Return the common part of two spans over what they cover together, 0.4 s round."""
    common = min(a[1], b[1]) - max(a[0], b[0]) + 2 * ROUND_S
    return max(0.0, common) / (max(a[1], b[1]) - min(a[0], b[0]) + 2 * ROUND_S)


def tally(world: WorldRecording, recognised: Iterable[RecognisedRally]) -> Tally:
    """Return the counts of one recording: what was heard beside its truth."""
    rallies = list(recognised)
    out = Tally(recordings=1, rallies=len(world.rallies))
    own = np.array([c.time_s for c in world.contacts if c.surface is Surface.RACKET and c.own_court])
    truth = [(r.start_s, last_of(r)) for r in world.rallies]
    sure = [r for r in rallies if not r.doubtful]
    out.sure, out.doubtful = len(sure), len(rallies) - len(sure)
    every = np.concatenate([r.strikes_s for r in rallies]) if rallies else np.zeros(0)
    for span, rally in zip(truth, world.rallies, strict=True):
        strikes = own[(own >= span[0] - 0.03) & (own <= span[1] + 0.03)]
        out.strikes += len(strikes)
        if len(every):
            out.strikes_found += int((np.abs(every - strikes[:, None]).min(axis=1) <= STRIKE_S).sum())
        out.found += any(share_together((r.start_s, r.end_s), span) >= SHARE for r in sure)
        best = max(rallies, key=lambda r: share_together((r.start_s, r.end_s), span), default=None)
        if best is not None and share_together((best.start_s, best.end_s), span) >= SHARE:
            _add_found(out, best, span, len(strikes), rally.end_s)
    for recognised_rally in rallies:
        right = any(
            share_together((recognised_rally.start_s, recognised_rally.end_s), span) >= SHARE
            for span in truth
        )
        out.chances.append((recognised_rally.chance, right))
        if not recognised_rally.doubtful:
            out.wrong += not right
            out.named += len(recognised_rally.strikes_s)
            if len(own):
                out.named_right += int(
                    (np.abs(recognised_rally.strikes_s[:, None] - own).min(axis=1) <= STRIKE_S).sum()
                )
    for warm in (s for s in world.spans if s.activity is Activity.WARM_UP):
        out.warm_ups += 1
        out.warm_ups_clean += not any(r.start_s < warm.end_s and r.end_s > warm.start_s for r in sure)
    return out


def last_of(rally: WorldSpan) -> float:
    """Return the last strike of a rally, or its end where none is told."""
    return rally.end_s if rally.last_strike_s is None else rally.last_strike_s


def _add_found(
    out: Tally, best: RecognisedRally, span: tuple[float, float], strikes: int, end_s: float
) -> None:
    off = len(best.strikes_s) - strikes
    out.found_or_offered += 1
    out.starts += abs(best.start_s - span[0]) <= START_S
    out.shots_right += off == 0
    out.shots_within_one += abs(off) <= 1
    out.last_right += abs(best.end_s - span[1]) <= LAST_S
    out.end_inside += best.clip_end_s >= min(end_s, span[1] + CLIP_S)


def mono_of(world: WorldRecording) -> NDArray[np.float32]:
    """Return the sound of a recording as one channel, as it would be read from a file of it."""
    mono = world.samples.mean(axis=0)
    if np.std(mono) < 0.3 * np.std(world.samples[0]):  # channels in opposite phase: one of them, as in a file
        mono = world.samples[0]
    return np.asarray(mono, np.float32)


def rallies_in(world: WorldRecording) -> list[RecognisedRally]:
    """Return what the program hears in a recording, as it would in a file of it."""
    return list(recognise_rallies(extract_features([mono_of(world)], world.rate)).rallies)


def places_of(name: str, rng: np.random.Generator) -> Places:
    """Return how players move in a group of families: the group's own way, one of them at random."""
    ways = MOVEMENTS[name]
    module = importlib.import_module(f"goodlength.synthetic.recordings.{ways[int(rng.integers(len(ways)))]}")
    places: Places = module.player_places
    return places


def motion_of_picture(world: WorldRecording, rng: np.random.Generator, name: str) -> MotionProfile:
    """Return how much moves in a plain picture drawn to a recording's truth, of a group of families."""
    meter = MotionMeter()
    for at_s, picture in plain_picture(rng, world, places_of(name, rng)).pictures(1 / EVERY_S):
        small = cv2.resize(picture, (WIDTH, HEIGHT), interpolation=cv2.INTER_AREA)
        meter.feed(at_s, small.astype(np.float32))
    return meter.profile()


def demo_world() -> WorldRecording:
    """Return the demo's film as a recording: its sound, and its truth at the microphone."""
    from goodlength.demo.film.audio_synthesis import RATE, SOUND_M_S, GameSound
    from goodlength.demo.film.game_timeline import SEED
    from goodlength.demo.play.court_camera import CAMERA
    from goodlength.demo.record_entries_of_demo_matches import filmed_game

    filmed = filmed_game()
    made = GameSound(filmed, CAMERA, SEED)
    names = {
        "racket": Surface.RACKET,
        "front-wall": Surface.FRONT_WALL,
        "floor": Surface.FLOOR,
        "tin": Surface.TIN,
    }
    contacts = []
    for hit in filmed.hits:
        at = hit.time_s + CAMERA.distance_m(hit.at) / SOUND_M_S
        striker = 0 if hit.kind == "racket" else None
        contacts.append(WorldContact(at, names.get(hit.kind, Surface.OTHER_WALL), striker))
    rackets = np.array([c.time_s for c in contacts if c.surface is Surface.RACKET])
    spans = []
    for rally in filmed.rallies:
        first, last = (rackets[np.argmin(np.abs(rackets - rally.strikes[k].time_s - 0.02))] for k in (0, -1))
        spans.append(WorldSpan(float(first), rally.end_s, Activity.RALLY, float(last)))
    return WorldRecording(
        "demo", "demo", made.block(0, made.count)[None], RATE, tuple(contacts), tuple(spans)
    )


@dataclass(frozen=True)
class _Draw:
    """A recording to be drawn: its group, its family's module, condition, seed and length."""

    name: str
    module: str
    condition: str
    seed: tuple[int, ...]
    seconds: float


def _measured(draw: _Draw) -> tuple[str, Tally, Tally, float, float]:
    """Return the condition, the counts by sound and with a picture, seconds of sound and of listening of one
    drawn recording.
    """
    family = importlib.import_module(f"goodlength.synthetic.recordings.{draw.module}")
    world = family.draw_world(np.random.default_rng(draw.seed), draw.condition, draw.seconds)
    began = time.process_time()
    sound = extract_features([mono_of(world)], world.rate)
    by_sound = recognise_rallies(sound).rallies
    took = time.process_time() - began
    motion = motion_of_picture(world, np.random.default_rng((*draw.seed, PICTURE_SEED)), draw.name)
    both = recognise_rallies(sound, [motion]).rallies
    length_s = world.samples.shape[1] / world.rate
    return draw.condition or "any", tally(world, by_sound), tally(world, both), length_s, took


def draws_of(name: str, seed: int, count: int, minutes: float) -> Iterator[_Draw]:
    """Return what is to be drawn of a group of families: its conditions in turn."""
    modules = FAMILIES[name]
    for k in range(count):
        module = modules[k % len(modules)]
        conditions = importlib.import_module(f"goodlength.synthetic.recordings.{module}").CONDITIONS
        yield _Draw(
            name,
            module,
            conditions[(k // len(modules)) % len(conditions)],
            (seed, k, len(name)),
            minutes * 60,
        )


def measure_family(
    name: str, seed: int, count: int, minutes: float, progress: Callable[[str], None] | None = None
) -> dict[str, object]:
    """Return the figures of a group of families, by condition and together.

    Parameters
    ----------
    name : str
        One of `FAMILIES`.
    seed : int
    count : int
        How many recordings.
    minutes : float
        Length of each.
    progress : callable, optional
        Told a line for each recording done.
    """
    by: dict[str, Tally] = {}
    pictured: dict[str, Tally] = {}
    length_s = took_s = 0.0
    with ProcessPoolExecutor(min(2, os.cpu_count() or 1)) as pool:
        for condition, counts, both, length, took in pool.map(
            _measured, draws_of(name, seed, count, minutes)
        ):
            by.setdefault(condition, Tally()).add(counts)
            pictured.setdefault(condition, Tally()).add(both)
            length_s, took_s = length_s + length, took_s + took
            if progress is not None:
                progress(
                    f"{name}: {condition}, {counts.found} of {counts.rallies} rallies, {counts.wrong} wrong"
                )
    modules = [importlib.import_module(f"goodlength.synthetic.recordings.{text}") for text in FAMILIES[name]]
    return {
        **summary(by, modules),
        "with_picture": summary(pictured, modules),
        "hours": round(length_s / 3600, 2),
        "cpu_s_an_hour": round(took_s / length_s * 3600, 1),
    }


def summary(by: dict[str, Tally], modules: Sequence[ModuleType] = ()) -> dict[str, object]:
    """Return the figures that count, by group of conditions, and all conditions beside them.

    Sound that is no plain match (speech, music, two matches in one) is counted apart, as `odd`.
    """
    groups: dict[str, Tally] = {name: Tally() for name in GROUPS}
    for condition, counts in by.items():
        groups[group_of(condition, modules[0] if modules else None)].add(counts)
    every = Tally()
    for name, counts in groups.items():
        if name != "odd":
            every.add(counts)
    forms = {name: counts.form() for name, counts in groups.items()}
    return {
        **forms["usual"],
        "poor_found_or_offered": forms["poor"]["found_or_offered"],
        "poor_wrong_among_sure": forms["poor"]["wrong_among_sure"],
        "next_court_found_or_offered": forms["next court"]["found_or_offered"],
        "next_court_wrong_among_sure": forms["next court"]["wrong_among_sure"],
        "glass_found_or_offered": forms["glass"]["found_or_offered"],
        "all": every.form(),
        "groups": forms,
        "by_condition": {condition: counts.form() for condition, counts in sorted(by.items())},
        "reliability": reliability(every.chances),
    }


def reliability(chances: list[tuple[float, bool]]) -> list[dict[str, float]]:
    """Return, for bands of the chance said, how many spans there were and how often they were right.

    Examples
    --------
    >>> reliability([(0.95, True), (0.96, False)])[0]["right"]
    0.5
    """
    table = []
    for low, high in itertools.pairwise(CHANCE_EDGES):
        inside = [(c, r) for c, r in chances if low <= c < high or (high == 1.0 and c == 1.0)]
        if inside:
            mean_chance = float(np.mean([c for c, _ in inside]))
            right = float(np.mean([r for _, r in inside]))
            table.append(
                {"from": low, "n": len(inside), "said": round(mean_chance, 3), "right": round(right, 3)}
            )
    return table


def bench_worlds(
    seed: int, *, full: bool = False, small: bool = False, progress: Callable[[str], None] | None = None
) -> dict[str, object]:
    """Return the figures of all families and of the demo.

    Parameters
    ----------
    seed : int
        State of the draws: another one gives recordings nobody has looked at.
    full : bool
        Every condition of the judging family twice, at twice the length.
    small : bool
        One short recording a family and no film of a court, to see that everything runs.
    """
    figures: dict[str, object] = {"seed": seed, "model": impact_network().name}
    for name in FAMILIES:
        count = 1 if small else RECORDINGS[name] * (2 if full and name == "judge" else 1)
        minutes = 1.0 if small else MINUTES[name] * (2 if full and name == "judge" else 1)
        measured = measure_family(name, seed, count, minutes, progress)
        if name == "judge":
            films = 0 if small else COURT_FILMS[full]
            measured |= court_keys(bench_court(seed, films, 0, progress or _unheard))
        figures[name] = measured
    world = demo_world()
    counts = tally(world, rallies_in(world))
    figures["demo"] = counts.form()
    return figures


def _unheard(_line: str) -> None:
    """Progress that nobody asked for."""
