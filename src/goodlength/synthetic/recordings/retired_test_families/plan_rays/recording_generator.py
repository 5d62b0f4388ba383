"""Generate a recording of plan rays: play, courts, voices, phone, and the truth at the microphone."""

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
from goodlength.synthetic.recordings.retired_test_families.plan_rays.audio_rendering import (
    Path,
    PlanRayCourt,
    Renderer,
    Scene,
    reference_peak,
)
from goodlength.synthetic.recordings.retired_test_families.plan_rays.impact_synthesis import draw_bodies
from goodlength.synthetic.recordings.retired_test_families.plan_rays.music_and_street_noise import (
    music_track,
    street_track,
)
from goodlength.synthetic.recordings.retired_test_families.plan_rays.phone_audio_effects import Phone, record
from goodlength.synthetic.recordings.retired_test_families.plan_rays.phone_placement_and_sound_path import (
    draw_neighbour_path,
    draw_path,
    draw_phone,
)
from goodlength.synthetic.recordings.retired_test_families.plan_rays.recording_conditions import (
    TABLE,
    WorldCondition,
)
from goodlength.synthetic.recordings.retired_test_families.plan_rays.room_acoustics import (
    SOUND_M_S,
    draw_room,
)
from goodlength.synthetic.recordings.retired_test_families.plan_rays.session_event_timeline import (
    Session,
    SessionHabits,
    door,
    match,
    nearest_pause_s,
    warm_up,
)
from goodlength.synthetic.recordings.retired_test_families.plan_rays.voice_synthesis import (
    VOICE_RATE,
    add_at,
    applause,
    crowd_track,
    draw_talker,
    talk_track,
    utterance,
)
from goodlength.synthetic.recordings.test_family_films.rally_play.ball_flight import BallInFlight
from goodlength.synthetic.recordings.test_family_films.rally_play.rally_simulation import Hit
from goodlength.synthetic.recordings.test_family_films.rally_play.shot_simulation import draw_player

if TYPE_CHECKING:
    from numpy.typing import NDArray

FAMILY = "learning plan rays"
SHORTEST_S, LONGEST_S = 20.0, 5400.0


def draw_world(rng: np.random.Generator, condition: str, seconds: float) -> WorldRecording:
    """Return one recording of the family of plan rays with its truth.

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
    return _Draw(rng, condition, TABLE[condition], int(seconds)).recording()


@dataclass(frozen=True)
class _Cut:
    """Where something changes: the moment, and whether the part before or after it is silent."""

    moment_s: float
    silent: str


class _Draw:
    """One recording while it is drawn."""

    def __init__(self, rng: np.random.Generator, name: str, condition: WorldCondition, seconds: int) -> None:
        self.rng, self.name, self.condition, self.seconds = rng, name, condition, seconds
        self.place = str(rng.choice(list(condition.places)))
        self.room = draw_room(rng, condition.absorption)
        self.path = draw_path(rng, self.place)
        self.phone = draw_phone(rng, condition)
        self.sessions = self._sessions()

    def recording(self) -> WorldRecording:
        """Return the recording."""
        courts = [self._court(s.hits, self.path, True) for s in self.sessions]
        peak = reference_peak(self.rng, courts[0], self.phone) if courts else 1.0
        courts += self._neighbours(peak)
        phone = self._phone_for(peak)
        scene = Scene(self.seconds, courts)
        self._fill(scene, peak)
        samples = Renderer(self.rng, scene, phone).render()
        cut = self._cut()
        self._change(samples, cut, phone.inner_rate)
        samples = record(samples, phone)
        if cut is not None and cut.silent:
            edge = round(cut.moment_s * phone.rate)
            samples[:, edge:] = 0.0 if cut.silent == "after" else samples[:, edge:]
            samples[:, :edge] = 0.0 if cut.silent == "before" else samples[:, :edge]
        contacts, spans = truth(courts, self.sessions, self.seconds)
        if cut is not None and cut.silent:
            contacts, spans = _audible(contacts, spans, cut)
        details = self._details(phone, cut)
        return WorldRecording(FAMILY, self.name, samples, phone.rate, contacts, spans, details)

    def _sessions(self) -> list[Session]:
        rng, special, end = self.rng, self.condition.special, float(self.seconds)
        if special in {"speech", "music", "street"}:
            return []
        if special == "two matches":
            turn = end * float(rng.uniform(0.4, 0.6))
            gap = min(120.0, 0.08 * end)
            return [self._match(0.0, turn - gap), self._match(turn, end)]
        if special == "doubles":
            return [self._doubles()]
        return [self._match(0.0, end)]

    def _match(self, start_s: float, end_s: float) -> Session:
        session = match(self.rng, self.condition.habits, start_s, end_s)
        share = self.condition.level_share
        feet = 10.0 ** (float(self.rng.uniform(*self.condition.feet_db)) / 20.0)
        session.hits = [_levelled(h, share, feet) for h in session.hits]
        session.hits.sort(key=lambda h: h.time_s)
        return session

    def _doubles(self) -> Session:
        rng, session = self.rng, Session()
        players = tuple(draw_player(rng, (0.7, 1.05)) for _ in range(4))
        ball = BallInFlight(float(rng.uniform(0.42, 0.56)), float(rng.uniform(0.57, 0.68)))
        time = float(rng.uniform(3.0, 10.0))
        door(rng, session, 1.0)
        while time < self.seconds - 15.0:
            length = min(float(rng.uniform(60.0, 400.0)), self.seconds - 5.0 - time)
            time = warm_up(rng, session, players, ball, time, length, "doubles") + float(
                rng.uniform(10.0, 60.0)
            )
        session.hits.sort(key=lambda h: h.time_s)
        return session

    def _court(self, hits: list[Hit], path: Path, own: bool) -> PlanRayCourt:
        room = self.room if own else draw_room(self.rng, self.condition.absorption)
        return PlanRayCourt(hits, draw_bodies(self.rng, self.phone.inner_rate), room, path, own)

    def _neighbours(self, peak: float) -> list[PlanRayCourt]:
        rng, wanted = self.rng, self.condition
        if not self.sessions or rng.random() > wanted.neighbour_chance:
            return []
        courts = []
        for number in range(1 if rng.random() < 0.75 else 2):
            session = match(
                rng, SessionHabits(pause_s=(4.0, 30.0)), float(rng.uniform(-60.0, 0.0)), float(self.seconds)
            )
            audible = (h for h in session.hits if h.surface is not Surface.FOOT and h.time_s > 0.0)
            hits = [_levelled(h, wanted.level_share, 1.0) for h in audible]
            court = self._court(sorted(hits, key=lambda h: h.time_s), draw_neighbour_path(rng), False)
            level = float(rng.uniform(*wanted.neighbour_db)) - 8.0 * number
            gain = peak * 10.0 ** (level / 20.0) / reference_peak(rng, court, self.phone)
            courts.append(replace(court, path=replace(court.path, gain=gain)))
        return courts

    def _phone_for(self, peak: float) -> Phone:
        level = float(np.exp(self.rng.uniform(*np.log(self.condition.peak)))) / peak
        control = self.phone.gain_control
        if control is not None:
            control = replace(control, aim=control.aim * peak)
        return replace(self.phone, level=level, gain_control=control)

    def _fill(self, scene: Scene, peak: float) -> None:
        """Add voices, music, crowd, noise and hum."""
        rng, wanted = self.rng, self.condition
        near = np.zeros(self.seconds * VOICE_RATE + VOICE_RATE, dtype=np.float32)
        busy = float(rng.uniform(*wanted.coach_busy))
        if busy > 0.005:
            _mix(
                near,
                talk_track(rng, self.seconds, busy, int(rng.integers(1, 4)), 0.5),
                _db(rng, wanted.coach_db),
            )
        if wanted.crowd_db is not None and rng.random() < wanted.crowd_chance:
            _mix(near, crowd_track(rng, self.seconds), _db(rng, wanted.crowd_db))
        music = wanted.music_db or ((-24.0, -14.0) if wanted.special == "music" else None)
        if music is not None:
            _mix(near, music_track(rng, self.seconds), _db(rng, music))
        if wanted.special == "street":
            _mix(near, street_track(rng, self.seconds), _db(rng, (-26.0, -16.0)))
        if wanted.special == "speech":
            _mix(near, talk_track(rng, self.seconds, busy, int(rng.integers(1, 6))), _db(rng, (-6.0, 0.0)))
        inside = np.zeros_like(near) if self.sessions else near
        for session in self.sessions:
            self._cued(session, near, inside)
        near *= np.float32(peak)
        inside *= np.float32(peak)
        scene.near, scene.inside = near, inside if self.sessions else None
        scene.gallery = draw_room(rng, (0.1, 0.35))
        scene.noise_rms = peak * _db(rng, wanted.noise_db)
        scene.noise_slope = float(rng.uniform(*wanted.noise_slope))
        scene.hum = (
            float(rng.choice([50.0, 60.0])),
            scene.noise_rms * float(rng.choice([0.0, 0.0, 0.3, 1.0])),
        )

    def _cued(self, session: Session, near: NDArray[np.float32], inside: NDArray[np.float32]) -> None:
        rng = self.rng
        talkers = {who: draw_talker(rng) for who in ("referee", "player", "talk")}
        levels = {
            "referee": _db(rng, (-18.0, -2.0)),
            "player": _db(rng, (-14.0, 0.0)),
            "talk": _db(rng, (-20.0, -4.0)),
        }
        referee, clapping = (
            rng.random() < 0.55,
            rng.random() < (0.9 if self.condition.crowd_chance == 1.0 else 0.3),
        )
        claps = _db(rng, (-26.0, -8.0))
        for cue in session.cues:
            if cue.who == "applause":
                if clapping:
                    add_at(
                        near,
                        claps * applause(rng, cue.seconds, int(rng.integers(2, 25))),
                        cue.time_s * VOICE_RATE,
                    )
            elif cue.who != "referee" or referee:
                track = inside if cue.who == "player" else near
                spoken = utterance(rng, talkers[cue.who], cue.seconds, 0.6 if cue.who != "talk" else 0.1)
                add_at(track, np.float32(levels[cue.who]) * spoken, cue.time_s * VOICE_RATE)

    def _cut(self) -> _Cut | None:
        if self.condition.special not in {"two parts", "half silent"}:
            return None
        wanted = self.seconds * float(self.rng.uniform(0.4, 0.6))
        silent = str(self.rng.choice(["before", "after"])) if self.condition.special == "half silent" else ""
        return _Cut(nearest_pause_s(self.sessions[0], wanted), silent)

    def _change(self, samples: NDArray[np.float32], cut: _Cut | None, rate: int) -> None:
        """Give the second part another level and a duller sound, as after the phone was moved."""
        if cut is None or cut.silent:
            return
        edge = round(cut.moment_s * rate)
        gain = 10.0 ** (float(self.rng.choice([-1.0, 1.0]) * self.rng.uniform(5.0, 18.0)) / 20.0)
        dull = math.exp(-2.0 * math.pi * float(self.rng.uniform(1500.0, 6000.0)) / rate)
        for channel in samples:
            state = np.zeros(1)
            for start in range(edge, channel.size, 10 * rate):
                piece = channel[start : start + 10 * rate]
                later, state = lfilter([1.0 - dull], [1.0, -dull], piece, zi=state)
                piece[:] = gain * later

    def _details(self, phone: Phone, cut: _Cut | None) -> dict[str, str | float]:
        details: dict[str, str | float] = {
            "place": self.place,
            "decay_s": round(float(self.room.decay_s[4]), 2),
            "codec_kb_s": phone.codec_kb_s,
            "channels": float(phone.channels),
            "phase": phone.phase if phone.channels == 2 else "",
        }
        if cut is not None:
            details["cut_s"] = cut.moment_s
            details["silent"] = cut.silent
        return details


def _db(rng: np.random.Generator, limits: tuple[float, float]) -> float:
    return float(10.0 ** (rng.uniform(*limits) / 20.0))


def _mix(out: NDArray[np.float32], track: NDArray[np.float32], gain: float) -> None:
    count = min(out.size, track.size)
    out[:count] += np.float32(gain) * track[:count]


def _levelled(hit: Hit, share: float, feet: float) -> Hit:
    """Return the impact with strikes drawn towards one level, and feet louder or softer."""
    if hit.striker is not None:
        return replace(hit, speed_m_s=24.0 * (hit.speed_m_s / 24.0) ** share)
    return replace(hit, speed_m_s=hit.speed_m_s * feet) if hit.surface is Surface.FOOT else hit


def truth(
    courts: list[PlanRayCourt], sessions: list[Session], seconds: float
) -> tuple[tuple[WorldContact, ...], tuple[WorldSpan, ...]]:
    """Return contacts and spans at the microphone: time at the court and the direct way at 343 m/s."""
    contacts, spans = [], []
    for court in courts:
        for hit in court.hits:
            arrival_s = hit.time_s + court.path.length_m(hit.place) / SOUND_M_S
            if 0.0 <= arrival_s < seconds:
                contacts.append(WorldContact(arrival_s, hit.surface, hit.striker, court.own))
    for court, session in zip(courts, sessions, strict=False):
        delays = {
            h.time_s: court.path.length_m(h.place) / SOUND_M_S
            for h in court.hits
            if h.surface is not Surface.FOOT
        }
        usual = court.path.length_m((WIDTH_M / 2, 5.0, 1.0)) / SOUND_M_S
        for span in session.spans:
            begin, end = (t + delays.get(t, usual) for t in (span.start_s, span.end_s))
            last = span.last_strike_s
            last = None if last is None else last + delays.get(last, usual)
            if begin < seconds:
                spans.append(replace(span, start_s=begin, end_s=min(end, seconds), last_strike_s=last))
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
