"""The rallies of a match over all its films, on match time: one hearing, so that a rally may cross a join.

What each film's sound held is kept by itself; the impacts of all are laid on match time, films of another
loudness brought to that of the first, and the rallies are looked for in the whole. A film without usable
sound is watched instead.

```
 film one  |.|.:|  |.|      film two   |.:|.|         match time
           rally   rally crossing the join   rally
```
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import numpy as np

from goodlength.clock import MICROSECONDS
from goodlength.errors import FootageError
from goodlength.files.atomic import atomic_write
from goodlength.footage.audio.motion_detection import rallies_by_motion
from goodlength.footage.audio.onset_detection import Onsets
from goodlength.footage.audio.rally_detection import (
    BY_MOTION,
    NO_SOUND,
    NOT_USABLE,
    DetectedRally,
    RallyDetection,
    onsets_of,
    rallies_from_onsets,
)
from goodlength.footage.audio.rally_segmentation import (
    Segmentation,
    segment_rallies,
    usual_level_db,
)
from goodlength.footage.media.open import absolute
from goodlength.footage.media.sound import sound_stream_of
from goodlength.jobs.progress import Cancel, Progress

LONG_ENOUGH_S = 120.0  # a film as long as this without a rally heard, and of no use by itself, is watched


@dataclass(frozen=True)
class FilePlacement:
    """A film, where its range [first, end) lies on match time, and where what it holds is kept."""

    id: str
    path: str
    starts_us: int
    first_us: int
    end_us: int
    keep: str | None = None

    @property
    def shift_us(self) -> int:
        """What its own time lacks to match time."""
        return self.starts_us - self.first_us


def detect_rallies_over_files(
    films: Sequence[FilePlacement], progress: Progress | None = None, cancel: Cancel | None = None
) -> RallyDetection:
    """The rallies of a match over its films, in match time; errors as in `rallies.hear`.

    Limits
    ------
    Films are taken as joined where match time runs on from one into the next.
    """
    impacts: list[Onsets] = []
    watched: list[tuple[FilePlacement, str]] = []
    heard: list[FilePlacement] = []
    for k, film in enumerate(films):
        found = _impacts(film, _part(progress, k, len(films)), cancel)
        if found is None:
            watched.append((film, NO_SOUND))
        else:
            impacts.append(found)
            heard.append(film)
    whole = Onsets.joined(_evened(impacts))
    order = np.argsort(whole.time_s, kind="stable")
    chains = segment_rallies(Onsets(*(getattr(whole, name)[order] for name in whole.__dataclass_fields__)))
    if not chains.usable:
        watched += [(film, NOT_USABLE) for film in heard]
        chains = Segmentation((), (), (), False)
    else:
        watched += [
            (film, NOT_USABLE) for film, own in zip(heard, impacts, strict=True) if _deaf(film, own, chains)
        ]
    seen = [rally for film, _ in watched for rally in _watched(film, progress, cancel)]
    rallies = tuple(sorted((*rallies_from_onsets(chains, 0), *seen), key=lambda one: one.start_us))
    return RallyDetection(rallies, *_detection_words(films, watched, chains, rallies))


def _impacts(film: FilePlacement, progress: Progress | None, cancel: Cancel | None) -> Onsets | None:
    """The impacts of a film inside its range, in seconds of match time; None without sound."""
    where = absolute(film.path)
    sound = sound_stream_of(where)
    if sound is None or sound.first_s is None:
        return None
    begin_us = round(sound.first_s * MICROSECONDS)
    keep = Path(film.keep) if film.keep else None
    found = onsets_of(where, begin_us, keep, progress, cancel)
    at = found.time_s + (begin_us + film.shift_us) / MICROSECONDS
    last = film.starts_us + film.end_us - film.first_us
    inside = (at >= film.starts_us / MICROSECONDS) & (at < last / MICROSECONDS)
    return replace(found, time_s=at).where(inside)


def _evened(parts: list[Onsets]) -> list[Onsets]:
    """Levels of all films brought to that of the first in which hits stand out."""
    usual = [usual_level_db(part) if segment_rallies(part).usable else None for part in parts]
    first = next((level for level in usual if level is not None), None)
    return [
        part if level is None or first is None else replace(part, level_db=part.level_db + first - level)
        for part, level in zip(parts, usual, strict=True)
    ]


def _deaf(film: FilePlacement, own: Onsets, chains: Segmentation) -> bool:
    """Whether nothing was heard in a long film that is of no use by itself."""
    begin, end = film.starts_us / MICROSECONDS, (film.end_us + film.shift_us) / MICROSECONDS
    inside = any(one.start_s < end and one.end_s > begin for one in (*chains.sure, *chains.knock_up))
    return not inside and end - begin >= LONG_ENOUGH_S and not segment_rallies(own).usable


def _watched(film: FilePlacement, progress: Progress | None, cancel: Cancel | None) -> list[DetectedRally]:
    """Rallies guessed from moving players, in match time."""
    spans = rallies_by_motion(absolute(film.path), progress, cancel)
    placed = [(max(a, film.first_us) + film.shift_us, min(b, film.end_us) + film.shift_us) for a, b in spans]
    return [DetectedRally(a, b, (), True, "from moving players, not heard") for a, b in placed if b > a]


def _detection_words(
    films: Sequence[FilePlacement],
    watched: list[tuple[FilePlacement, str]],
    chains: Segmentation,
    rallies: tuple[DetectedRally, ...],
) -> tuple[str, str, tuple[int, int] | None]:
    """By what the rallies were found, in words, and the knock-up."""
    by = "sound" if not watched else "motion" if len(watched) == len(films) else "sound and motion"
    words = ""
    if by != "motion":
        sure = sum(not rally.doubtful for rally in rallies)
        words = f"{sure} rallies heard, {len(rallies) - sure} more are doubtful."
    for film, why in watched:
        words += f" Rallies of {Path(film.path).name} cannot be heard: {why}."
    if watched:
        words += f" {BY_MOTION}"
    warm = None
    if chains.knock_up:
        first, last = chains.knock_up[0].start_s, chains.knock_up[-1].end_s
        warm = (round(first * MICROSECONDS), round(last * MICROSECONDS))
        words += " The long hitting at the beginning was taken for the knock-up."
    return by, words.strip(), warm


def _part(progress: Progress | None, k: int, count: int) -> Progress | None:
    """Progress of one film among several."""
    if progress is None:
        return None

    def told(share: float, words: str) -> None:
        progress((k + share) / count, words if count == 1 else f"{words}, file {k + 1} of {count}")

    return told


def match_rally_detection_job(
    match: str, films: list[dict[str, object]], to: str, *, progress: Progress, cancel: Callable[[], bool]
) -> dict[str, object]:
    """`detect_rallies_over_files` for a job: the rallies are written to the file `to`, the words are its
    result.
    """
    placed = [FilePlacement(**film) for film in films]  # type: ignore[arg-type]
    if not placed:
        raise FootageError("there is no film to listen to. Add one on the Footage page.")
    found = detect_rallies_over_files(placed, progress, cancel)
    plain = {"match": match, "films": [asdict(film) for film in placed], **asdict(found)}
    with atomic_write(Path(to)) as part:
        part.write_text(json.dumps(plain), encoding="utf-8")
    progress(1.0, found.words)
    return {"words": found.words, "rallies": len(found.rallies)}
