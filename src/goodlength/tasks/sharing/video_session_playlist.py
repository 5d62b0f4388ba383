"""Playlist of clips for a video session with the player: order, one cue each, and when to look again.

What helps a player is common practice, no source: few clips, at least as many good ones, ask before telling,
one cue a clip, own past instead of others, and a look again weeks later. The list advises; the coach decides.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING

from goodlength.errors import InputError, NotFound
from goodlength.files.library_layout import review_list_file, with_review_list
from goodlength.files.locked_json_file import JsonFile, exclusive

if TYPE_CHECKING:
    from goodlength.record.store import Library
    from goodlength.tasks.match.lazy_match import OpenMatch

ROLES = ("good", "fix")
MOST_CLIPS = 5
MOST_CUE, MOST_NOTE = 120, 600
MOST_TALKS = 20
_LISTS = (";", " and ", ". ", "\n")


@dataclass(frozen=True)
class ReviewItem:
    """One clip of a talk: a rally, whether it is good or to be mended, and its one cue."""

    rally: str
    role: str
    cue: str = ""


@dataclass(frozen=True)
class ReviewSession:
    """What was shown on a day, and what was said of it."""

    on: date
    rallies: tuple[str, ...]
    note: str = ""


@dataclass(frozen=True)
class ReviewList:
    """The clips chosen for the player, the day to look again, and the talks there were."""

    items: tuple[ReviewItem, ...] = ()
    follow_up: date | None = None
    talks: tuple[ReviewSession, ...] = ()

    @property
    def advice(self) -> tuple[str, ...]:
        """What a player would take in less well, in words; empty when all is well."""
        sentences = []
        good = sum(item.role == "good" for item in self.items)
        if self.items and good < len(self.items) - good:
            sentences.append(
                f"{len(self.items) - good} clips are marked improve, {good} keep. Show at least as "
                "many marked keep."
            )
        if len(self.items) > 1 and self.items[0].role != "good":
            sentences.append("Start with a clip marked keep.")
        if len(self.items) > 1 and self.items[-1].role != "good":
            sentences.append("Finish with a clip marked keep.")
        if len(self.items) > MOST_CLIPS:
            sentences.append(
                f"{len(self.items)} clips: a player remembers only a few. Choose {MOST_CLIPS} or fewer."
            )
        for n, review_item in enumerate(self.items, 1):
            if review_item.role == "fix" and not review_item.cue.strip():
                sentences.append(f"Clip {n} is marked improve but has no cue. Add one thing to try.")
            elif any(mark in review_item.cue.strip() for mark in _LISTS):
                sentences.append(f"Clip {n} has more than one cue. Choose the one that matters most.")
        if self.items and self.follow_up is None:
            sentences.append("Set a follow-up date, so that you can check whether it helped.")
        return tuple(sentences)


def review_list(opened: OpenMatch) -> ReviewList:
    """Return the list as it was left; a rally that is gone is left out."""
    known = {rally.key for rally in opened.match.rallies}
    stored = _file(opened.library, opened.id).shown()
    try:
        items = tuple(ReviewItem(**item) for item in stored.get("items", ()))
        talks = tuple(
            ReviewSession(date.fromisoformat(item["on"]), tuple(item["rallies"]), str(item["note"]))
            for item in stored["talks"]
        )
        again = date.fromisoformat(stored["look_again"]) if stored.get("look_again") else None
    except (KeyError, TypeError, ValueError):
        return ReviewList()
    return ReviewList(tuple(item for item in items if item.rally in known), again, talks)


def save_review_list(
    opened: OpenMatch, items: Sequence[Mapping[str, str]], follow_up: date | None
) -> ReviewList:
    """Keep the clips chosen, in their order.

    Raises
    ------
    InputError, NotFound
        A clip without rally or role, twice the same, too many, or words too long.
    NoSpace
        The library's folder cannot be written.
    """
    known = {rally_item.key for rally_item in opened.match.rallies}
    read: list[ReviewItem] = []
    for n, fields in enumerate(items, 1):
        rally, role, cue = (str(fields.get(name, "")).strip() for name in ("rally", "role", "cue"))
        if rally not in known:
            raise NotFound(f"Clip {n}: that rally is not in this match. Choose one from the list.")
        if role not in ROLES:
            raise InputError(f"The purpose of clip {n} must be keep or improve; got {role!r}.")
        if len(cue) > MOST_CUE:
            raise InputError(f"Clip {n}: a cue has at most {MOST_CUE} letters; this one has {len(cue)}.")
        read.append(ReviewItem(rally, role, cue))
    if len({item.rally for item in read}) < len(read):
        raise InputError("The same rally is in the list twice. Remove one.")
    if len(read) > 2 * MOST_CLIPS:
        raise InputError(
            f"At most {2 * MOST_CLIPS} clips fit in a review; got {len(read)}. Leave the rest for another."
        )
    with exclusive(_file(opened.library, opened.id).path.parent):
        _file(opened.library, opened.id).read()  # a damaged list is never overwritten
        made = replace(review_list(opened), items=tuple(read), follow_up=follow_up)
        _write(_file(opened.library, opened.id), made)
    return made


def note_review(opened: OpenMatch, note: str, today: date | None = None) -> ReviewList:
    """Write down that the list was shown, and what the player said of it.

    Raises
    ------
    InputError
        Nothing is in the list, or the note is too long.
    """
    if len(note) > MOST_NOTE:
        raise InputError(f"A note has at most {MOST_NOTE} letters; this one has {len(note)}.")
    with exclusive(_file(opened.library, opened.id).path.parent):
        return _noted(opened, note, today)


def _noted(opened: OpenMatch, note: str, today: date | None) -> ReviewList:
    _file(opened.library, opened.id).read()  # a damaged list is never overwritten
    before = review_list(opened)
    if not before.items:
        raise InputError("No clip is chosen yet: choose one first, then show it.")
    talk = ReviewSession(
        today or datetime.now(UTC).date(), tuple(item.rally for item in before.items), note.strip()
    )
    made = replace(before, talks=(*before.talks, talk)[-MOST_TALKS:])
    _write(_file(opened.library, opened.id), made)
    return made


def reviews_due(library: Library, today: date | None = None) -> list[tuple[str, date]]:
    """Return matches whose clips are to be reviewed again, and since when, the oldest first."""
    now = today or datetime.now(UTC).date()
    found = []
    for match_id in with_review_list(library.folder, [head.id for head in library.match_heads()]):
        stored = _file(library, match_id).shown()
        try:
            again = date.fromisoformat(stored["look_again"]) if stored.get("look_again") else None
        except (TypeError, ValueError):
            continue
        if again is not None and again <= now and stored.get("talks"):
            found.append((match_id, again))
    return sorted(found, key=lambda pair: pair[1])


def _file(library: Library, match_id: str) -> JsonFile:
    return JsonFile(review_list_file(library.folder, match_id))


def _write(file: JsonFile, made: ReviewList) -> None:
    fields = {
        "items": [asdict(item) for item in made.items],
        "look_again": None if made.follow_up is None else made.follow_up.isoformat(),
        "talks": [{**asdict(talk), "on": talk.on.isoformat()} for talk in made.talks],
    }
    file.write(fields)
