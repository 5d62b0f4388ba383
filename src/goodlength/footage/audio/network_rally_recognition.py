"""Recognise rallies in audio: the network's best path over strikes, checked by plain chains of hits.

What a sound is kept as (impacts by plain signal processing, and frames for the network) is small enough for
hours. Each span carries a chance that it is a rally from its first to its last strike. It is sure when that
chance is high, or plain chains (`hit_and_rally_segmentation`) agree by other means on the whole of a
recording in which nothing sounds like anything but a rally; else it is offered as doubtful, with words. The
bound was chosen on made-up recordings of which none was learnt from.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from goodlength.footage.audio.hit_and_rally_segmentation import HitRun, segment_rallies
from goodlength.footage.audio.impact_class_adaptation import adapted
from goodlength.footage.audio.impact_classifier_network import SURFACES, Impacts, impact_network
from goodlength.footage.audio.log_mel import HOP_S, Frames, MelFrames
from goodlength.footage.audio.onset_detection import OnsetDetector, Onsets
from goodlength.footage.audio.rally_decoding import DecodedRally, decode_rallies
from goodlength.footage.audio.recording_anomaly_warnings import (
    RallySpan,
    RecordingNote,
    is_unsure,
    level_step,
    recording_notes,
    step_moment,
)
from goodlength.footage.audio.span_chances.rally_probability_from_movement import movement_odds
from goodlength.footage.audio.span_chances.rally_probability_from_span import MOST_ODDS, share_of_spans
from goodlength.footage.vision.motion_profile import MotionProfile
from goodlength.footage.vision.rally_motion_log_odds import (
    PATH_WEIGHT,
    LikelySpan,
    odds_at,
    odds_of_films,
)
from goodlength.footage.vision.serve_log_odds_from_motion import serve_odds
from goodlength.footage.vision.span_motion_features_for_rally_detection import StruckSpan

Numbers = NDArray[np.float64]

SURE = 0.9  # in no way of playing held out are more than 3 of 100 sure spans of usual recordings wrong
# Sure at little where the plain chains agree on nearly the whole sound, and no span in it is less likely
SURE_AGREED, SAME_SPAN, AGREED = 0.15, 0.6, 0.85
UNWITNESSED = 0.85  # at most, where the whole recording sounds like a warm-up and no plain chain bears it out
NOT_SURE = 0.85  # at most, in a part in which nothing is sure
SERVE_WEIGHT = 0.5  # of the picture's word on serves, along the path over strikes
OFFERED = 0.12
USABLE = 0.5  # rallies to be expected: below, the sound is of no use by itself
SAME_S = 0.015  # a classical impact this near a strike gives its exact moment
AFTER_S, BREAK_S, CLIP_S = 4.0, 1.6, 0.6
LEAST_CHANCE = 0.3  # of the likeliest name of an impact that is told


@dataclass(frozen=True)
class SoundFeatures:
    """What a sound is kept as: frames for the network and impacts; times count from its first sample."""

    frames: Frames
    onsets: Onsets

    @classmethod
    def joined(cls, parts: list[SoundFeatures]) -> SoundFeatures:
        """Return pieces one after the other as one."""
        frames = np.concatenate([part.frames for part in parts])
        return cls(frames, Onsets.joined([part.onsets for part in parts]))


@dataclass(frozen=True)
class NamedImpact:
    """An impact of a rally: its moment, what was struck, and the chance of that name."""

    time_s: float
    surface: str
    chance: float


@dataclass(frozen=True)
class RecognisedRally:
    """A span taken for a rally.

    `chance` is that of its being a rally from its first to its last strike; `clip_end_s` is when the ball
    has run dead as far as heard; `why` says in words what is doubtful.
    """

    strikes_s: Numbers
    strike_chance: Numbers
    chance: float
    doubtful: bool
    why: str
    impacts: tuple[NamedImpact, ...]
    clip_end_s: float

    @property
    def start_s(self) -> float:
        """The first strike: the serve."""
        return float(self.strikes_s[0])

    @property
    def end_s(self) -> float:
        """The last strike."""
        return float(self.strikes_s[-1])


@dataclass(frozen=True)
class RallyRecognition:
    """The rallies of a sound in order of time, the warm-up before them, and whether the sound is of use."""

    rallies: tuple[RecognisedRally, ...]
    warm_up_s: tuple[float, float] | None
    usable: bool
    with_picture: bool = False
    notes: tuple[RecordingNote, ...] = ()


class FeatureExtractor:
    """Turns sound fed block by block into what is kept of it.

    Parameters
    ----------
    rate_hz : int
        Of the samples fed.
    begin_s : float
        Moment of the first sample fed, from the beginning of the sound; a multiple of 5 ms.
    """

    def __init__(self, rate_hz: int, begin_s: float = 0.0) -> None:
        self._onsets = OnsetDetector(rate_hz, begin_s)
        self._frames = MelFrames(self._onsets.rate_hz, begin_s)

    @property
    def until_s(self) -> float:
        """All before this moment has been given."""
        return min(self._onsets.until_s, self._frames.count * HOP_S)

    def feed(self, samples: NDArray[np.float32]) -> SoundFeatures:
        """Return what has become certain with these samples."""
        thinned = self._onsets.thinned(samples)
        return SoundFeatures(self._frames.feed(thinned), self._onsets.feed_thinned(thinned))

    def rest(self) -> SoundFeatures:
        """Return what is still held, at the end of the sound."""
        thinned = self._onsets.rest_thinned()
        frames = np.concatenate([self._frames.feed(thinned), self._frames.rest()])
        return SoundFeatures(frames, self._onsets.feed_thinned(thinned, last=True))


def extract_features(blocks: Iterable[NDArray[np.float32]], rate_hz: int) -> SoundFeatures:
    """Return what is kept of a sound given in blocks of samples."""
    listener = FeatureExtractor(rate_hz)
    parts = [listener.feed(block) for block in blocks]
    return SoundFeatures.joined([*parts, listener.rest()])


def recognise_rallies(sound: SoundFeatures, motion: Sequence[MotionProfile] = ()) -> RallyRecognition:
    """Return the rallies of a sound.

    Parameters
    ----------
    sound : SoundFeatures
    motion : sequence of MotionProfile
        How much moves in the picture of each film, in the sound's time.

    Limits
    ------
    The network was taught, and bounds were chosen, on made-up recordings; no real court was heard yet.
    """
    step = level_step(sound.frames)
    sound = levelled(sound)
    unadapted = impact_network().impacts(sound.frames)
    impacts = adapted(unadapted, sound.frames)
    found = decode_rallies(impacts, unadapted=unadapted)
    joined = with_picture(impacts, unadapted, motion, found, len(sound.frames) * HOP_S)
    found = found if joined is None else joined
    plain = segment_rallies(sound.onsets).sure
    offered = {id(rally) for rally in offered_spans(found, plain)}
    pairs = [
        (rally, chance)
        for rally, chance in zip(found, witnessed_chances(found, plain), strict=True)
        if id(rally) in offered
    ]
    spans = [RallySpan(rally.start_s, rally.end_s, chance >= SURE, chance) for rally, chance in pairs]
    notes = (*step, *recording_notes(sound.frames, impacts, spans))
    chances = [unsure_chance(notes, rally, chance) for rally, chance in pairs]
    rallies = tuple(
        _recognised(rally, chance, impacts, sound.onsets)
        for (rally, _), chance in zip(pairs, chances, strict=True)
    )
    usable = sum(chances) >= USABLE
    return RallyRecognition(rallies, _warm_up(impacts, rallies), usable, joined is not None, notes)


def unsure_chance(notes: Sequence[RecordingNote], rally: DecodedRally, chance: float) -> float:
    """Return the chance of a span, below that of a sure one in a part in which nothing is sure."""
    return min(chance, NOT_SURE) if is_unsure(notes, rally.start_s, rally.end_s) else chance


def levelled(sound: SoundFeatures) -> SoundFeatures:
    """Return a sound whose level changes for good with both parts at one level; another as it is."""
    at = step_moment(level_step(sound.frames))
    if at is None:
        return sound
    k = round(at / HOP_S)
    early = sound.onsets.time_s < at
    parts = [
        SoundFeatures(sound.frames[:k], sound.onsets.where(early)),
        SoundFeatures(sound.frames[k:], sound.onsets.where(~early)),
    ]
    return SoundFeatures.joined(evened(parts))


def _motion_odds(
    motion: Sequence[MotionProfile], length_s: float, found: list[DecodedRally]
) -> Numbers | None:
    """Return what the picture says each tenth of a second, by how players move in the spans found."""
    spans = [LikelySpan(rally.start_s, rally.end_s, rally.chance) for rally in found]
    return odds_of_films(motion, length_s, spans)


def with_picture(
    impacts: Impacts,
    unadapted: Impacts,
    motion: Sequence[MotionProfile],
    by_sound: list[DecodedRally],
    length_s: float,
) -> list[DecodedRally] | None:
    """Return the spans by sound and picture together; None where the picture is of no use.

    Parameters
    ----------
    impacts, unadapted : Impacts
        As in `decode_rallies`.
    motion : sequence of MotionProfile
        In the sound's time.
    by_sound : list of DecodedRally
        All spans that the sound alone gives.
    length_s : float
        Of the sound.
    """
    busy = _motion_odds(motion, length_s, by_sound)
    if busy is None:
        return None
    serves = serve_odds(motion, _struck(by_sound), impacts.time_s.astype(np.float64))
    seen = PATH_WEIGHT * odds_at(busy, impacts.time_s)
    found = decode_rallies(_with_serves(impacts, serves), seen, _with_serves(unadapted, serves))
    odds = np.clip(movement_odds(motion, _struck(found), busy), -MOST_ODDS, MOST_ODDS)
    return [
        replace(rally, chance=1 / (1 + float(np.exp(-value))))
        for rally, value in zip(found, odds.tolist(), strict=True)
    ]


def _struck(found: list[DecodedRally]) -> list[StruckSpan]:
    return [StruckSpan(rally.strikes_s, rally.chance) for rally in found]


def _with_serves(impacts: Impacts, serves: Numbers) -> Impacts:
    """Return impacts whose odds of a first strike take in what the picture says of a serve."""
    return replace(impacts, first=impacts.first + (SERVE_WEIGHT * serves).astype(np.float32))


def offered_spans(found: list[DecodedRally], plain: tuple[HitRun, ...]) -> list[DecodedRally]:
    """Return the spans to be offered: likely enough, or sure to the plain chains where both agree elsewhere.

    What the plain chains alone are sure of keeps its small chance, so it is offered as doubtful.
    """
    likely = [rally for rally in found if rally.chance >= OFFERED]
    if not _agreement(likely, plain)[1]:
        return likely
    borne_out = _agreement(found, plain)[0] >= SAME_SPAN
    return [
        rally
        for rally, same in zip(found, borne_out.tolist(), strict=True)
        if same or rally.chance >= OFFERED
    ]


def _agreement(decoded: list[DecodedRally], plain: tuple[HitRun, ...]) -> tuple[Numbers, bool]:
    """Return for each span its share with the plain one most like it, and whether most of both agree."""
    spans = [(decoded_rally.start_s, decoded_rally.end_s) for decoded_rally in decoded]
    others = [(run.start_s, run.end_s) for run in plain]
    shares = np.array([[share_of_spans(a, b) for b in others] for a in spans]).reshape(
        len(spans), len(others)
    )
    mine: Numbers = shares.max(axis=1) if others else np.zeros(len(spans))
    theirs: Numbers = shares.max(axis=0) if spans else np.zeros(len(others))
    if not (spans and others):
        return mine, False
    return mine, min(float((mine >= SAME_SPAN).mean()), float((theirs >= SAME_SPAN).mean())) >= AGREED


def witnessed_chances(found: list[DecodedRally], plain: tuple[HitRun, ...]) -> list[float]:
    """Return the chance of each span, with what the plain chains say of the recording.

    Where both find nearly the same and nothing that would be no rally, what both find is sure. Where the
    recording sounds like a warm-up, nothing is sure that they do not find.
    """
    shares, alike = _agreement(found, plain)
    mine = shares >= SAME_SPAN
    alike = alike and min(rally.chance for rally in found) >= SURE_AGREED
    out = []
    for rally, same in zip(found, mine.tolist(), strict=True):
        most = UNWITNESSED if rally.like_warm_up and not same else 1.0
        out.append(max(rally.chance, SURE) if alike and same else min(rally.chance, most))
    return out


def _recognised(rally: DecodedRally, chance: float, impacts: Impacts, onsets: Onsets) -> RecognisedRally:
    doubtful = chance < SURE
    strikes = exact_moments(rally.strikes_s, onsets.time_s)
    after = impacts.where((impacts.time_s > rally.end_s) & (impacts.time_s < rally.end_s + AFTER_S))
    return RecognisedRally(
        strikes_s=strikes,
        strike_chance=rally.strike_chance,
        chance=chance,
        doubtful=doubtful,
        why=_why(rally) if doubtful else "",
        impacts=named_impacts(impacts, strikes, rally.strike_chance),
        clip_end_s=_clip_end(rally.end_s, after),
    )


def exact_moments(strikes_s: Numbers, onsets_s: Numbers) -> Numbers:
    """Return each strike at the moment of the plain impact nearest to it, where one is near enough.

    Examples
    --------
    >>> exact_moments(np.array([1.0, 2.0]), np.array([1.004, 2.5])).tolist()
    [1.004, 2.0]
    """
    if not len(onsets_s):
        return strikes_s
    right = np.clip(np.searchsorted(onsets_s, strikes_s), 1, max(1, len(onsets_s) - 1))
    pair = onsets_s[np.minimum(np.stack([right - 1, right]), len(onsets_s) - 1)]
    nearest = pair[np.abs(pair - strikes_s).argmin(axis=0), np.arange(len(strikes_s))]
    moved = np.where(np.abs(nearest - strikes_s) <= SAME_S, nearest, strikes_s)
    return moved if (np.diff(moved) > 0).all() else strikes_s


def _why(rally: DecodedRally) -> str:
    """Return what is doubtful about a span, in words for the coach."""
    if len(rally.strikes_s) == 1:
        return "a single hit: an ace, a fault, or a ball sent back"
    if rally.chance < 0.4:
        return "hits that may not be a rally: a warm-up, another court, or a ball sent back"
    return "faint hits, or an unclear start or end"


def named_impacts(impacts: Impacts, strikes: Numbers, chances: Numbers) -> tuple[NamedImpact, ...]:
    """Return the impacts of a span by name: its strikes, and what else was struck between and after them."""
    inside = impacts.where((impacts.time_s > strikes[0] - 0.05) & (impacts.time_s < strikes[-1] + 1.5))
    found = [NamedImpact(float(t), "racket", float(c)) for t, c in zip(strikes, chances, strict=True)]
    for at, chance in zip(inside.time_s.tolist(), inside.surface, strict=True):
        likely = int(chance.argmax())
        other = SURFACES[likely] in ("front wall", "other wall", "floor", "tin")
        if other and chance[likely] >= LEAST_CHANCE and np.abs(strikes - at).min() > 2 * SAME_S:
            found.append(NamedImpact(at, SURFACES[likely], float(chance[likely])))
    return tuple(sorted(found, key=lambda impact: impact.time_s))


def _clip_end(last_s: float, after: Impacts) -> float:
    """Return when the ball has run dead: its last impact before a pause, and a little more."""
    end = last_s
    own = after.surface[:, [SURFACES.index(n) for n in ("front wall", "other wall", "floor", "tin")]].sum(
        axis=1
    )
    for at, chance in zip(after.time_s.tolist(), own.tolist(), strict=True):
        if at - end > BREAK_S:
            break
        if chance >= LEAST_CHANCE:
            end = at
    return end + CLIP_S


def _warm_up(impacts: Impacts, rallies: tuple[RecognisedRally, ...]) -> tuple[float, float] | None:
    """Return the hitting before the first sure rally, where the network takes it for a warm-up."""
    first = next((rally.start_s for rally in rallies if not rally.doubtful), np.inf)
    early = impacts.where(
        (impacts.time_s < first) & (impacts.state[:, 2] > 0.6) & (impacts.surface[:, 1] > 0.3)
    )
    if len(early) < 20 or early.time_s[-1] - early.time_s[0] < 30:
        return None
    return float(early.time_s[0]), float(early.time_s[-1])


def evened(parts: list[SoundFeatures]) -> list[SoundFeatures]:
    """Return sounds of several films with the loud impacts of all brought to those of the first."""
    loud = [float(np.quantile(p.frames[::4].max(axis=1), 0.998)) if len(p.frames) else 0.0 for p in parts]
    first = next((level for level in loud if level > 20), 0.0)
    out = []
    for part, level in zip(parts, loud, strict=True):
        more = round(first - level) if level > 20 else 0
        frames = np.where(part.frames > 0, np.clip(part.frames.astype(np.int16) + more, 0, 255), 0)
        onsets = replace(part.onsets, level_db=part.onsets.level_db + more)
        out.append(SoundFeatures(frames.astype(np.uint8), onsets))
    return out
