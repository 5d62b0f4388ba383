"""Generate a recording of the test family: diary of a court, sound, neighbours, voices, phone, truth."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from scipy.signal import lfilter

from goodlength.errors import NotFound, OutOfRange
from goodlength.synthetic.recordings.recording_types import (
    Activity,
    Surface,
    WorldContact,
    WorldRecording,
    WorldSpan,
)
from goodlength.synthetic.recordings.test_family.court_to_phone_sound_filter import WayToPhone, draw_way
from goodlength.synthetic.recordings.test_family.formant_grain_voice_synthesis import (
    SPEECH_RATE,
    add_wave,
    draw_grain_voice,
    sentence,
    talk,
)
from goodlength.synthetic.recordings.test_family.hall_background_sounds import applause, crowd, music, street
from goodlength.synthetic.recordings.test_family.impact_sound_synthesis import draw_court_bodies
from goodlength.synthetic.recordings.test_family.microphone_sound_rendering import (
    MicrophoneRenderer,
    MicrophoneScene,
    SoundingCourt,
    echo_of,
    usual_peak,
)
from goodlength.synthetic.recordings.test_family.phone_recording_chain import to_file
from goodlength.synthetic.recordings.test_family.ray_traced_room_acoustics import CourtRoom, draw_room
from goodlength.synthetic.recordings.test_family.recording_conditions import (
    TABLE,
    JudgingCondition,
    draw_recorder,
)
from goodlength.synthetic.recordings.test_family.session_event_timeline import (
    CourtDiary,
    DiaryHabits,
    doubles_diary,
    free_moment_s,
    match_diary,
)
from goodlength.synthetic.recordings.test_family.shot_flight_timing import CourtMoment

if TYPE_CHECKING:
    from numpy.typing import NDArray

FAMILY = "judging"
SHORTEST_S, LONGEST_S = 20.0, 5400.0
EVEN_M_S = 18.0
WITHOUT_SQUASH = ("speech", "music", "street")


def draw_world(rng: np.random.Generator, condition: str, seconds: float) -> WorldRecording:
    """Return one recording of the test family with its truth.

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
        not). Rackets tapped on a wall are `Surface.OTHER`, squeaks `Surface.FOOT`. A ball tapped with the
        racket before a serve has a striker and lies in no rally; one hit back to the server is `KNOCKING`.
        Where a half is silent its truth is left out, and `details` says which (`cut_s`, `silent`). A rally
        that the recording's end would cut is not begun.

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
    return _Maker(rng, condition, TABLE[condition], int(seconds)).recording()


@dataclass(frozen=True)
class _Turn:
    """Where something changes: the moment, and whether the part before or after it is silent."""

    moment_s: float
    silent: str


class _Maker:
    """One recording while it is made."""

    def __init__(
        self, rng: np.random.Generator, name: str, condition: JudgingCondition, seconds: int
    ) -> None:
        self.rng, self.name, self.condition, self.seconds = rng, name, condition, seconds
        self.place = str(rng.choice(list(condition.places)))
        self.room = draw_room(rng, condition.treated)
        self.way = draw_way(rng, self.place)
        self.recorder = draw_recorder(rng, condition)
        self.diaries = self._diaries()

    def recording(self) -> WorldRecording:
        """Return the recording."""
        courts = [self._court(d.moments, self.room, self.way, True) for d in self.diaries]
        peak = usual_peak(self.rng, courts[0], self.recorder) if courts else 1.0
        courts += self._neighbours(peak)
        scene = MicrophoneScene(self.seconds, courts)
        self._fill(scene, peak)
        samples = MicrophoneRenderer(self.rng, scene, self.recorder).render()
        scene.near = scene.inside = None
        turn = self._turn()
        self._change(samples, turn)
        level = float(np.exp(self.rng.uniform(*np.log(self.condition.peak)))) / peak
        samples = to_file(samples, replace(self.recorder, level=level))
        contacts, spans = truth_at_phone(courts, self.diaries, self.seconds)
        if turn is not None and turn.silent:
            edge = round(turn.moment_s * self.recorder.rate)
            (samples[:, edge:] if turn.silent == "after" else samples[:, :edge])[:] = 0.0
            contacts, spans = _audible(contacts, spans, turn)
        return WorldRecording(
            FAMILY, self.name, samples, self.recorder.rate, contacts, spans, self._details(turn)
        )

    def _diaries(self) -> list[CourtDiary]:
        rng, special, end = self.rng, self.condition.special, float(self.seconds)
        if special in WITHOUT_SQUASH:
            return []
        if special == "doubles":
            return [doubles_diary(rng, end)]
        if special == "two matches":
            turn = end * float(rng.uniform(0.4, 0.6))
            return [self._match(0.0, turn - min(100.0, 0.07 * end)), self._match(turn, end)]
        return [self._match(0.0, end)]

    def _match(self, start_s: float, end_s: float) -> CourtDiary:
        diary = match_diary(self.rng, self.condition.habits, start_s, end_s)
        feet = float(self.rng.uniform(*self.condition.feet))
        diary.moments = [_levelled(m, self.condition.level_share, feet) for m in diary.moments]
        return diary

    def _court(
        self, moments: list[CourtMoment], room: CourtRoom, way: WayToPhone, own: bool
    ) -> SoundingCourt:
        bodies = draw_court_bodies(self.rng, self.recorder.inner_rate)
        return SoundingCourt(moments, bodies, room, echo_of(self.rng, room, way, self.recorder), way, own)

    def _neighbours(self, peak: float) -> list[SoundingCourt]:
        rng, wanted = self.rng, self.condition
        if not self.diaries or rng.random() > wanted.next_chance:
            return []
        courts = []
        for number in range(1 if rng.random() < 0.75 else 2):
            start = float(rng.uniform(-90.0, 0.0))
            diary = match_diary(
                rng, DiaryHabits(length=float(rng.uniform(0.6, 1.6))), start, float(self.seconds)
            )
            moments = [m for m in diary.moments if m.surface is not Surface.FOOT and m.time_s > 0.0]
            moments = [_levelled(m, wanted.level_share, 1.0) for m in moments]
            way = draw_way(rng, "next court" if rng.random() < 0.8 else "through the wall")
            court = self._court(moments, draw_room(rng, wanted.treated), way, False)
            level_db = float(rng.uniform(*wanted.next_db)) - 8.0 * number
            gain = peak * 10.0 ** (level_db / 20.0) / usual_peak(rng, court, self.recorder)
            courts.append(replace(court, way=replace(way, gain=gain)))
        return courts

    def _fill(self, scene: MicrophoneScene, peak: float) -> None:
        """Add voices, crowd, music, noise and hum."""
        rng, wanted = self.rng, self.condition
        near = np.zeros((self.seconds + 1) * SPEECH_RATE, dtype=np.float32)
        for track, level in self._tracks():
            add_wave(near, np.float32(level) * track, 0.0)
        inside = np.zeros_like(near) if self.diaries else None
        for diary in self.diaries:
            self._cued(diary, near, near if inside is None else inside)
        near *= np.float32(peak)
        if inside is not None:
            inside *= np.float32(peak)
        scene.near, scene.inside = near, inside
        scene.noise_rms = peak * _amplitude(rng, wanted.noise_db)
        scene.noise_slope = float(rng.uniform(*wanted.noise_slope))
        scene.hum_rms = scene.noise_rms * float(rng.choice([0.0, 0.0, 0.3, 0.9]))

    def _tracks(self) -> list[tuple[NDArray[np.float32], float]]:
        """Return what sounds throughout beside the phone, each with its level beside a hard strike's peak."""
        rng, wanted, seconds = self.rng, self.condition, float(self.seconds)
        out = []
        busy = float(rng.uniform(*wanted.coach_busy))
        if wanted.special == "speech":
            out.append((talk(rng, seconds, busy, int(rng.integers(1, 6))), _amplitude(rng, (-6.0, 0.0))))
        elif wanted.special not in WITHOUT_SQUASH and busy > 0.004:
            out.append((talk(rng, seconds, busy, int(rng.integers(1, 4))), _amplitude(rng, wanted.coach_db)))
        if wanted.special not in WITHOUT_SQUASH and rng.random() < wanted.crowd_chance:
            out.append((crowd(rng, seconds), _amplitude(rng, wanted.crowd_db)))
        played = (-23.0, -13.0) if wanted.special == "music" else wanted.music_db
        if played is not None:
            out.append((music(rng, seconds), _amplitude(rng, played)))
        if wanted.special == "street":
            out.append((street(rng, seconds), _amplitude(rng, (-25.0, -14.0))))
        return out

    def _cued(self, diary: CourtDiary, near: NDArray[np.float32], inside: NDArray[np.float32]) -> None:
        rng = self.rng
        voices = {who: draw_grain_voice(rng) for who in ("referee", "player", "talk")}
        ranges = {"referee": (-18.0, -3.0), "player": (-13.0, 1.0), "talk": (-21.0, -5.0)}
        level = {who: _amplitude(rng, bounds) for who, bounds in ranges.items()}
        referee = rng.random() < 0.5
        claps = rng.random() < (0.9 if self.condition.crowd_chance == 1.0 else 0.3)
        clap_level = _amplitude(rng, (-25.0, -9.0))
        for cue in diary.cues:
            at = cue.time_s * SPEECH_RATE
            if cue.who == "applause":
                if claps:
                    add_wave(near, np.float32(clap_level) * applause(rng, cue.seconds), at)
            elif cue.who != "referee" or referee:
                shout = 0.1 if cue.who == "talk" else 0.7
                wave = np.float32(level[cue.who]) * sentence(rng, voices[cue.who], cue.seconds, shout)
                add_wave(near if cue.who == "referee" else inside, wave, at)

    def _turn(self) -> _Turn | None:
        if self.condition.special not in {"two parts", "half silent"}:
            return None
        wanted = self.seconds * float(self.rng.uniform(0.4, 0.6))
        silent = str(self.rng.choice(["before", "after"])) if self.condition.special == "half silent" else ""
        return _Turn(free_moment_s(self.diaries[0], wanted), silent)

    def _change(self, samples: NDArray[np.float32], turn: _Turn | None) -> None:
        """Give the second part another level and colour, as after the phone was moved."""
        if turn is None or turn.silent:
            return
        edge = round(turn.moment_s * self.recorder.inner_rate)
        gain = 10.0 ** (float(self.rng.choice([-1.0, 1.0]) * self.rng.uniform(5.0, 17.0)) / 20.0)
        tilt = np.float32(self.rng.uniform(-0.35, 0.7))
        for channel in samples:
            channel[edge:] = np.float32(gain) * lfilter(
                [np.float32(1.0) - tilt], [np.float32(1.0), -tilt], channel[edge:]
            )

    def _details(self, turn: _Turn | None) -> dict[str, str | float]:
        recorder = self.recorder
        details: dict[str, str | float] = {
            "place": self.place,
            "decay_s": round(float(self.room.sabine_eyring_s()[4]), 2),
            "codec": recorder.codec,
            "codec_kb_s": recorder.codec_kb_s,
            "channels": float(recorder.channels),
            "phase": recorder.phase if recorder.channels == 2 else "",
        }
        if turn is not None:
            details["cut_s"] = turn.moment_s
            details["silent"] = turn.silent
        return details


def _amplitude(rng: np.random.Generator, bounds_db: tuple[float, float]) -> float:
    return float(10.0 ** (rng.uniform(*bounds_db) / 20.0))


def _levelled(moment: CourtMoment, share: float, feet: float) -> CourtMoment:
    """Return the impact with strikes moved towards one level, and feet harder or softer."""
    if moment.striker is not None:
        return replace(moment, speed_m_s=EVEN_M_S * (moment.speed_m_s / EVEN_M_S) ** share)
    if moment.surface is Surface.FOOT:
        return replace(moment, speed_m_s=moment.speed_m_s * feet)
    return moment


def truth_at_phone(
    courts: list[SoundingCourt], diaries: list[CourtDiary], seconds: float
) -> tuple[tuple[WorldContact, ...], tuple[WorldSpan, ...]]:
    """Return contacts and spans: the time on the court and the travel of the direct sound."""
    contacts: list[WorldContact] = []
    spans: list[WorldSpan] = []
    for court in courts:
        for moment in court.moments:
            arrives_s = moment.time_s + court.way.travel_s(moment.place)
            if 0.0 <= arrives_s < seconds:
                contact = WorldContact(arrives_s, moment.surface, moment.striker, court.own, moment.place[:2])
                contacts.append(contact)
    for court, diary in zip(courts, diaries, strict=False):
        travel = {
            m.time_s: court.way.travel_s(m.place) for m in court.moments if m.surface is not Surface.FOOT
        }
        usual = court.way.travel_s((3.2, 5.0, 1.0))
        for span in diary.spans:
            start, end = (t + travel.get(t, usual) for t in (span.start_s, span.end_s))
            last = span.last_strike_s
            last = None if last is None else last + travel.get(last, usual)
            if start < seconds:
                spans.append(replace(span, start_s=start, end_s=min(end, seconds), last_strike_s=last))
    return tuple(sorted(contacts, key=lambda c: c.time_s)), tuple(sorted(spans, key=lambda s: s.start_s))


def _audible(
    contacts: tuple[WorldContact, ...], spans: tuple[WorldSpan, ...], turn: _Turn
) -> tuple[tuple[WorldContact, ...], tuple[WorldSpan, ...]]:
    """Return the truth of the part that has sound; a long warm-up or break is cut at the edge."""
    low, high = (0.0, turn.moment_s) if turn.silent == "after" else (turn.moment_s, math.inf)
    left = []
    for span in spans:
        start, end = max(span.start_s, low), min(span.end_s, high)
        if (start, end) == (span.start_s, span.end_s):
            left.append(span)
        elif end > start and span.activity is not Activity.RALLY:
            left.append(replace(span, start_s=start, end_s=end, last_strike_s=None))
    return tuple(c for c in contacts if low <= c.time_s < high), tuple(left)
