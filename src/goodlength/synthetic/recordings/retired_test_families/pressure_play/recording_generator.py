"""Generate a recording of pressure play: play, courts, voices, phone, and the truth at the microphone."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from scipy.signal import lfilter

from goodlength.court.dimensions import WIDTH_M
from goodlength.errors import NotFound, OutOfRange
from goodlength.synthetic.recordings.recording_types import (
    Activity,
    Surface,
    WorldContact,
    WorldRecording,
    WorldSpan,
)
from goodlength.synthetic.recordings.retired_test_families.pressure_play.court_to_phone_sound_paths import (
    SoundPath,
    draw_path_from_next_court,
    draw_path_to_phone,
)
from goodlength.synthetic.recordings.retired_test_families.pressure_play.hall_background_sounds import (
    clapping,
    music,
    traffic,
)
from goodlength.synthetic.recordings.retired_test_families.pressure_play.microphone_sound_mixing import (
    CourtSound,
    MixedScene,
    SceneMixer,
    hard_strike_peak,
    reverberation,
)
from goodlength.synthetic.recordings.retired_test_families.pressure_play.phone_recording_chain import (
    record_scene,
)
from goodlength.synthetic.recordings.retired_test_families.pressure_play.pressure_rally_simulation import (
    CourtImpact,
)
from goodlength.synthetic.recordings.retired_test_families.pressure_play.recording_conditions import (
    TABLE,
    RecordingCondition,
    draw_recording_phone,
)
from goodlength.synthetic.recordings.retired_test_families.pressure_play.session_event_timeline import (
    Evening,
    PlayHabits,
    calm_moment_s,
    doubles_evening,
    match_evening,
)
from goodlength.synthetic.recordings.retired_test_families.pressure_play.sound_absorption_and_decay import (
    CourtSurfaces,
    draw_surfaces,
)
from goodlength.synthetic.recordings.retired_test_families.pressure_play.struck_body_vibration_modes import (
    draw_court_bodies,
)
from goodlength.synthetic.recordings.retired_test_families.pressure_play.vocal_tract_voice_synthesis import (
    VOICE_RATE,
    babble,
    conversation,
    draw_voice,
    mix_in,
    speak,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

FAMILY = "learning pressure"
SHORTEST_S, LONGEST_S = 20.0, 5400.0
EVEN_STRIKE_M_S = 16.0
WITHOUT_SQUASH = ("speech", "music", "street")


def draw_world(rng: np.random.Generator, condition: str, seconds: float) -> WorldRecording:
    """Return one recording of the family of pressure play with its truth.

    Parameters
    ----------
    rng : numpy.random.Generator
        The same state gives the same recording.
    condition : str
        One of `CONDITIONS`.
    seconds : float
        Length, 20 to 5,400; whole seconds are made. Under some 120 s a match may hold no rally.

    Returns
    -------
    recording : WorldRecording
        Truth holds every impact of own and neighbouring courts that is in the sound (a neighbour's feet are
        not). Rackets tapped on wall or floor are `Surface.OTHER`, squeaks `Surface.FOOT`. A ball bounced with
        the racket before a serve has a striker and lies in no rally. Where a half is silent its truth is left
        out, and `details` says which (`cut_s`, `silent`). A rally that the recording's end would cut is not
        begun.

    Raises
    ------
    NotFound
        If there is no such condition.
    OutOfRange
        If the length is not within 20 to 5,400 s.

    Limits
    ------
    No real recording stands behind any level, material or habit here; where no source was found they are
    ASSUMED and drawn from wide ranges.
    """
    if condition not in TABLE:
        raise NotFound(f"there is no condition '{condition}' here. It is one of: {', '.join(TABLE)}.")
    if not SHORTEST_S <= seconds <= LONGEST_S:
        raise OutOfRange(
            f"a recording has {SHORTEST_S:g} to {LONGEST_S:g} s; got {seconds:g} s. Ask for a length within."
        )
    return _Generator(rng, condition, TABLE[condition], int(seconds)).recording()


@dataclass(frozen=True)
class _Cut:
    """Where something changes: the moment, and whether the part before or after it is silent."""

    moment_s: float
    silent: str


class _Generator:
    """One recording while it is made."""

    def __init__(
        self, rng: np.random.Generator, name: str, condition: RecordingCondition, seconds: int
    ) -> None:
        self.rng, self.name, self.condition, self.seconds = rng, name, condition, seconds
        self.place = str(rng.choice(list(condition.places)))
        self.surfaces = draw_surfaces(rng, condition.treated)
        self.path = draw_path_to_phone(rng, self.place)
        self.phone = draw_recording_phone(rng, condition)
        self.evenings = self._evenings()

    def recording(self) -> WorldRecording:
        """Return the recording."""
        courts = [self._court(e.impacts, self.surfaces, self.path, True) for e in self.evenings]
        peak = hard_strike_peak(self.rng, courts[0], self.phone) if courts else 1.0
        courts += self._neighbours(peak)
        scene = MixedScene(self.seconds, courts)
        self._fill(scene, peak)
        samples = SceneMixer(self.rng, scene, self.phone).mix()
        cut = self._cut()
        self._change(samples, cut)
        level = float(np.exp(self.rng.uniform(*np.log(self.condition.peak)))) / peak
        samples = record_scene(samples, replace(self.phone, level=level))
        contacts, spans = truth_at_microphone(courts, self.evenings, self.seconds)
        if cut is not None and cut.silent:
            edge = round(cut.moment_s * self.phone.rate)
            (samples[:, edge:] if cut.silent == "after" else samples[:, :edge])[:] = 0.0
            contacts, spans = _audible(contacts, spans, cut)
        details = self._details(cut)
        return WorldRecording(FAMILY, self.name, samples, self.phone.rate, contacts, spans, details)

    def _evenings(self) -> list[Evening]:
        rng, special, end = self.rng, self.condition.special, float(self.seconds)
        if special in WITHOUT_SQUASH:
            return []
        if special == "doubles":
            evening = doubles_evening(rng, end)
            evening.impacts.sort(key=lambda i: i.time_s)
            return [evening]
        if special == "two matches":
            turn = end * float(rng.uniform(0.4, 0.6))
            return [self._match(0.0, turn - min(110.0, 0.08 * end)), self._match(turn, end)]
        return [self._match(0.0, end)]

    def _match(self, start_s: float, end_s: float) -> Evening:
        evening = match_evening(self.rng, self.condition.habits, start_s, end_s)
        feet = _amplitude(self.rng, self.condition.feet_db)
        share = self.condition.level_share
        evening.impacts = sorted((_levelled(i, share, feet) for i in evening.impacts), key=lambda i: i.time_s)
        return evening

    def _court(
        self, impacts: list[CourtImpact], surfaces: CourtSurfaces, path: SoundPath, own: bool
    ) -> CourtSound:
        bodies = draw_court_bodies(self.rng, self.phone.inner_rate)
        return CourtSound(
            impacts, bodies, surfaces, path, own, reverberation(self.rng, surfaces, path.portal, self.phone)
        )

    def _neighbours(self, peak: float) -> list[CourtSound]:
        rng, wanted = self.rng, self.condition
        if not self.evenings or rng.random() > wanted.neighbour_chance:
            return []
        courts = []
        for number in range(1 if rng.random() < 0.75 else 2):
            start = float(rng.uniform(-80.0, 0.0))
            evening = match_evening(
                rng, PlayHabits(errs=float(rng.uniform(0.5, 1.6))), start, float(self.seconds)
            )
            audible = [i for i in evening.impacts if i.surface is not Surface.FOOT and i.time_s > 0.0]
            impacts = sorted((_levelled(i, wanted.level_share, 1.0) for i in audible), key=lambda i: i.time_s)
            surfaces, path = draw_surfaces(rng, wanted.treated), draw_path_from_next_court(rng)
            court = self._court(impacts, surfaces, path, False)
            level = float(rng.uniform(*wanted.neighbour_db)) - 7.0 * number
            gain = peak * 10.0 ** (level / 20.0) / hard_strike_peak(rng, court, self.phone)
            courts.append(replace(court, path=replace(path, gain=gain)))
        return courts

    def _fill(self, scene: MixedScene, peak: float) -> None:
        """Add voices, music, crowd, noise and hum."""
        rng, wanted = self.rng, self.condition
        near = np.zeros((self.seconds + 1) * VOICE_RATE, dtype=np.float32)
        for track, level in self._tracks():
            mix_in(near, np.float32(level) * track, 0.0)
        inside = np.zeros_like(near) if self.evenings else None
        for evening in self.evenings:
            self._cued(evening, near, near if inside is None else inside)
        near *= np.float32(peak)
        if inside is not None:
            inside *= np.float32(peak)
        scene.near, scene.inside = near, inside
        gallery = draw_surfaces(rng, (0.7, 1.0))
        wet = reverberation(rng, gallery, (WIDTH_M / 2, 8.0, 2.5), replace(self.phone, channels=1))[0][1]
        scene.gallery = np.float32(rng.uniform(0.05, 0.2)) * wet
        scene.noise_rms = peak * _amplitude(rng, wanted.noise_db)
        scene.noise_slope = float(rng.uniform(*wanted.noise_slope))
        scene.mains_hz = float(rng.choice([50.0, 60.0]))
        scene.hum_rms = scene.noise_rms * float(rng.choice([0.0, 0.25, 0.8]))

    def _tracks(self) -> list[tuple[NDArray[np.float32], float]]:
        """Return what sounds throughout beside the phone, each with its level beside a hard strike."""
        rng, wanted, seconds = self.rng, self.condition, float(self.seconds)
        out = []
        busy = float(rng.uniform(*wanted.coach_busy))
        if wanted.special == "speech":
            people = int(rng.integers(1, 6))
            out.append((conversation(rng, seconds, busy, people), _amplitude(rng, (-6.0, 0.0))))
        elif busy > 0.005:
            talk = conversation(rng, seconds, busy, int(rng.integers(1, 4)), 0.5)
            out.append((talk, _amplitude(rng, wanted.coach_db)))
        if wanted.crowd_db is not None and rng.random() < wanted.crowd_chance:
            out.append((babble(rng, seconds), _amplitude(rng, wanted.crowd_db)))
        played = wanted.music_db or ((-23.0, -13.0) if wanted.special == "music" else None)
        if played is not None:
            out.append((music(rng, seconds), _amplitude(rng, played)))
        if wanted.special == "street":
            out.append((traffic(rng, seconds), _amplitude(rng, (-25.0, -15.0))))
        return out

    def _cued(self, evening: Evening, near: NDArray[np.float32], inside: NDArray[np.float32]) -> None:
        rng = self.rng
        people = {who: draw_voice(rng) for who in ("referee", "player", "talk")}
        levels = {"referee": (-17.0, -3.0), "player": (-13.0, 1.0), "talk": (-21.0, -5.0)}
        loud = {who: _amplitude(rng, bounds) for who, bounds in levels.items()}
        referee = rng.random() < 0.55
        clapped = rng.random() < (0.9 if self.condition.crowd_chance == 1.0 else 0.3)
        claps = _amplitude(rng, (-25.0, -9.0))
        for cue in evening.cues:
            place = cue.time_s * VOICE_RATE
            if cue.who == "applause":
                if clapped:
                    sound = clapping(rng, cue.seconds, int(rng.integers(2, 30)))
                    mix_in(near, np.float32(claps) * sound, place)
            elif cue.who != "referee" or referee:
                call = 0.6 if cue.who != "talk" else 0.1
                sound = np.float32(loud[cue.who]) * speak(rng, people[cue.who], cue.seconds, call)
                mix_in(inside if cue.who == "player" else near, sound, place)

    def _cut(self) -> _Cut | None:
        if self.condition.special not in {"two parts", "half silent"}:
            return None
        wanted = self.seconds * float(self.rng.uniform(0.4, 0.6))
        silent = str(self.rng.choice(["before", "after"])) if self.condition.special == "half silent" else ""
        return _Cut(calm_moment_s(self.evenings[0], wanted), silent)

    def _change(self, samples: NDArray[np.float32], cut: _Cut | None) -> None:
        """Give the second part another level and a duller sound, as after the phone was moved."""
        if cut is None or cut.silent:
            return
        edge = round(cut.moment_s * self.phone.inner_rate)
        gain = 10.0 ** (float(self.rng.choice([-1.0, 1.0]) * self.rng.uniform(5.0, 17.0)) / 20.0)
        pole = np.float32(self.rng.uniform(0.2, 0.75))
        for channel in samples:
            channel[edge:] = lfilter(
                [np.float32(gain) * (1 - pole)], [np.float32(1.0), -pole], channel[edge:]
            )

    def _details(self, cut: _Cut | None) -> dict[str, str | float]:
        phone = self.phone
        details: dict[str, str | float] = {
            "place": self.place,
            "decay_s": round(float(self.surfaces.eyring_decay_s()[3]), 2),
            "codec": phone.codec,
            "codec_kb_s": phone.codec_kb_s,
            "channels": float(phone.channels),
            "phase": phone.phase if phone.channels == 2 else "",
        }
        if cut is not None:
            details["cut_s"] = cut.moment_s
            details["silent"] = cut.silent
        return details


def _amplitude(rng: np.random.Generator, bounds_db: tuple[float, float]) -> float:
    return float(10.0 ** (rng.uniform(*bounds_db) / 20.0))


def _levelled(impact: CourtImpact, share: float, feet: float) -> CourtImpact:
    """Return the impact with strikes moved towards one level, and feet louder or softer."""
    if impact.striker is not None:
        speed = EVEN_STRIKE_M_S * (impact.speed_m_s / EVEN_STRIKE_M_S) ** share
        return replace(impact, speed_m_s=speed)
    return replace(impact, speed_m_s=impact.speed_m_s * feet) if impact.surface is Surface.FOOT else impact


def truth_at_microphone(
    courts: list[CourtSound], evenings: list[Evening], seconds: float
) -> tuple[tuple[WorldContact, ...], tuple[WorldSpan, ...]]:
    """Return contacts and spans: the time at the court and the travel of the direct sound."""
    contacts, spans = [], []
    for court in courts:
        for impact in court.impacts:
            arrival_s = impact.time_s + court.path.travel_s(impact.place)
            if 0.0 <= arrival_s < seconds:
                contacts.append(WorldContact(arrival_s, impact.surface, impact.striker, court.own))
    for court, evening in zip(courts, evenings, strict=False):
        travel = {
            i.time_s: court.path.travel_s(i.place) for i in court.impacts if i.surface is not Surface.FOOT
        }
        usual = court.path.travel_s((WIDTH_M / 2, 5.0, 1.0))
        for span in evening.spans:
            start, end = (t + travel.get(t, usual) for t in (span.start_s, span.end_s))
            last = span.last_strike_s
            last = None if last is None else last + travel.get(last, usual)
            if start < seconds:
                spans.append(replace(span, start_s=start, end_s=min(end, seconds), last_strike_s=last))
    return tuple(sorted(contacts, key=lambda c: c.time_s)), tuple(sorted(spans, key=lambda s: s.start_s))


def _audible(
    contacts: tuple[WorldContact, ...], spans: tuple[WorldSpan, ...], cut: _Cut
) -> tuple[tuple[WorldContact, ...], tuple[WorldSpan, ...]]:
    """Return the truth of the part that has sound; a long warm-up or break is cut at the edge."""
    low, high = (0.0, cut.moment_s) if cut.silent == "after" else (cut.moment_s, math.inf)
    left = []
    for span in spans:
        inside = replace(span, start_s=max(span.start_s, low), end_s=min(span.end_s, high))
        if inside.end_s - inside.start_s >= 0.999 * (span.end_s - span.start_s):
            left.append(span)
        elif inside.end_s > inside.start_s and span.activity is not Activity.RALLY:
            left.append(replace(inside, last_strike_s=None))
    return tuple(c for c in contacts if low <= c.time_s < high), tuple(left)
