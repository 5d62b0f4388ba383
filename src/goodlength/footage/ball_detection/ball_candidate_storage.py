"""Candidates of a match as one compressed file, written whole after every rally so that nothing is lost."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Collection, Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from goodlength.files.array_file_errors import UNREADABLE_ARRAYS
from goodlength.files.atomic_write import atomic_write
from goodlength.footage.ball_detection.ball_candidate_selection import MOST_CANDIDATES, BallCandidates

FORMAT = 1
UV_STEP_PX, SCORE_STEPS = 0.1, 1000
ASSUMED_SAME_SHARE = 0.9  # of a span that has to be searched already, so that it is not searched again


@dataclass(frozen=True)
class BallSpan:
    """A span to search: its key, the file it lies in, and its media time."""

    key: str
    footage: str
    from_us: int
    until_us: int


def span_covering(span: BallSpan, stored: Collection[BallSpan]) -> BallSpan | None:
    """Return the stored span that is this one, or holds nearly all of it: coaches move rallies a little.

    Examples
    --------
    >>> heard = BallSpan("h:1", "f1", 0, 10_000_000)
    >>> span_covering(BallSpan("r:1", "f1", 400_000, 10_200_000), [heard]).key
    'h:1'
    >>> span_covering(BallSpan("r:1", "f1", 4_000_000, 14_000_000), [heard]) is None
    True
    """
    if span in stored:
        return span
    length = max(1, span.until_us - span.from_us)
    best, share = None, ASSUMED_SAME_SHARE
    for other in stored:
        common = min(span.until_us, other.until_us) - max(span.from_us, other.from_us)
        if other.footage == span.footage and common / length >= share:
            best, share = other, common / length
    return best


@dataclass(eq=False)
class StoredBalls:
    """What was found in a match.

    `model` marks method and model: spans found with another are searched again. `asked` says how many spans
    were to be searched; `words` by file say how well the ball can be seen there. `whole`: a search of all
    rallies has come to its end.
    """

    match: str
    model: str
    asked: int = 0
    spans: dict[BallSpan, BallCandidates] = field(default_factory=dict)
    words: dict[str, list[str]] = field(default_factory=dict)
    lost: dict[str, float | None] = field(default_factory=dict)
    whole: bool = False

    def write(self, path: Path) -> None:
        """Write everything to a file, whole or not at all."""
        found = list(self.spans.values())
        about = {
            "format": FORMAT,
            "match": self.match,
            "model": self.model,
            "asked": self.asked,
            "words": self.words,
            "lost": self.lost,
            "whole": self.whole,
            "spans": [
                {**asdict(span), "frames": len(each), "method": each.method, "digest": found_digest(each)}
                for span, each in self.spans.items()
            ],
        }
        arrays = {
            "times_us": np.concatenate([each.times_us for each in found] or [np.zeros(0, np.int64)]),
            "uv": _joined([_uv_steps(each) for each in found], (MOST_CANDIDATES, 2)),
            "score": _joined([_score_steps(each) for each in found], (MOST_CANDIDATES,)),
            "searched": np.concatenate([each.searched for each in found] or [np.zeros(0, bool)]),
        }
        path.parent.mkdir(parents=True, exist_ok=True)
        with atomic_write(path) as part, part.open("wb") as file:
            np.savez_compressed(file, allow_pickle=False, about=np.array(json.dumps(about)), **arrays)


def found_digest(found: BallCandidates) -> str:
    """Return a digest of what was found in a span, the same before it is stored and after it is read."""
    arrays = (
        np.asarray(found.times_us, np.int64),
        _joined([_uv_steps(found)], (MOST_CANDIDATES, 2)),
        _joined([_score_steps(found)], (MOST_CANDIDATES,)),
        np.asarray(found.searched, bool),
    )
    return hashlib.sha256(b"".join(array.tobytes() for array in arrays)).hexdigest()[:16]


def _uv_steps(found: BallCandidates) -> np.ndarray:
    return np.round(found.uv / UV_STEP_PX)


def _score_steps(found: BallCandidates) -> np.ndarray:
    return np.round(found.score * SCORE_STEPS)


def _joined(parts: list[np.ndarray], shape: tuple[int, ...]) -> np.ndarray:
    whole = np.concatenate(parts) if parts else np.zeros((0, *shape))
    return np.where(np.isfinite(whole), whole, -1).astype(np.int32)


def read_balls(path: Path) -> StoredBalls | None:
    """Return what was found; None where nothing is stored, or the file is damaged."""
    try:
        with path.open("rb") as file, np.load(file, allow_pickle=False) as archive:
            about = json.loads(str(archive["about"]))
            arrays = {name: archive[name] for name in ("times_us", "uv", "score", "searched")}
        return _read(about, arrays)
    except UNREADABLE_ARRAYS:
        return None


@dataclass(frozen=True)
class BallSummary:
    """What is stored of a match without its candidates, which is quick to read; fields as `StoredBalls`.

    `digests` are those of what was found in each span, see `found_digest`.
    """

    model: str = ""
    spans: tuple[BallSpan, ...] = ()
    words: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    lost: Mapping[str, float | None] = field(default_factory=dict)
    whole: bool = False
    digests: Mapping[BallSpan, str] = field(default_factory=dict)


def ball_summary(path: Path) -> BallSummary:
    """Return what is stored without its candidates; nothing where there is no file, or a damaged one."""
    try:
        with path.open("rb") as file, np.load(file, allow_pickle=False) as archive:
            about = json.loads(str(archive["about"]))
        if about["format"] != FORMAT:
            return BallSummary()
        stored = _about(about)
        spans = tuple(_span(form) for form in about["spans"])
        digests = {_span(form): str(form.get("digest", "")) for form in about["spans"]}
    except UNREADABLE_ARRAYS:
        return BallSummary()
    words = {key: tuple(lines) for key, lines in stored.words.items()}
    if not all(digests.values()):  # an earlier version stored it
        whole = read_balls(path)
        digests = {} if whole is None else {span: found_digest(each) for span, each in whole.spans.items()}
    return BallSummary(stored.model, spans, words, stored.lost, stored.whole, digests)


def _about(about: Mapping[str, Any]) -> StoredBalls:
    return StoredBalls(
        str(about["match"]),
        str(about["model"]),
        int(about["asked"]),
        words={str(key): [str(line) for line in lines] for key, lines in about["words"].items()},
        lost={str(key): None if value is None else float(value) for key, value in about["lost"].items()},
        whole=about.get("whole") is True,
    )


def _span(form: Mapping[str, Any]) -> BallSpan:
    return BallSpan(str(form["key"]), str(form["footage"]), int(form["from_us"]), int(form["until_us"]))


def _read(about: Mapping[str, Any], arrays: Mapping[str, np.ndarray]) -> StoredBalls | None:
    if about["format"] != FORMAT:
        return None
    stored = _about(about)
    times = np.asarray(arrays["times_us"], np.int64)
    uv = np.asarray(arrays["uv"], np.int32).reshape(-1, MOST_CANDIDATES, 2)
    score = np.asarray(arrays["score"], np.int32).reshape(-1, MOST_CANDIDATES)
    searched = np.asarray(arrays["searched"], bool)
    begin = 0
    for form in about["spans"]:
        span = _span(form)
        at = slice(begin, begin + int(form["frames"]))
        begin = at.stop
        if begin > len(times) or not len(times) == len(uv) == len(score) == len(searched):
            return None
        known = score[at] >= 0
        stored.spans[span] = BallCandidates(
            times[at],
            np.where(known[:, :, None], uv[at] * UV_STEP_PX, np.nan),
            np.where(known, score[at] / SCORE_STEPS, np.nan),
            searched[at],
            str(form["method"]),
        )
    return stored
