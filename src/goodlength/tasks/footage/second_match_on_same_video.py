"""Split a video that holds two matches: the second becomes a match of its own on the same file.

```
 one match    |──────── file, from 0:00 ────────|
 split at t   |── first match ──|── new match ──|
```
"""

from __future__ import annotations

import shutil
from dataclasses import replace
from typing import TYPE_CHECKING

from goodlength.errors import InputError
from goodlength.files.library_layout import original_frames_file
from goodlength.media_time import Gap, clock_words, seconds
from goodlength.record.entry_ids_and_timestamps import new_id
from goodlength.record.model import MatchInfo
from goodlength.tasks.match.match_editing_and_answers import new_match

if TYPE_CHECKING:
    from goodlength.tasks.match.lazy_match import OpenMatch

LEAST_US = 10_000_000  # of video on either side


def split_match(opened: OpenMatch, at_us: int) -> MatchInfo:
    """Make a new match of what is filmed from a moment on; the old one ends there.

    The new match has the same players and details, to be corrected on its Details page; its rallies are
    detected anew. The file is not changed. Undo it by removing the new match and adding the video again.

    Parameters
    ----------
    at_us : int
        Moment of match time.

    Raises
    ------
    InputError
        There is no video there; rallies were logged after it; the video was copied in, so that it belongs to
        one match. Nothing is changed.
    """
    timeline = opened.timeline
    place = None if timeline is None else timeline.locate(at_us)
    if timeline is None or place is None or isinstance(place, Gap):
        raise InputError("There is no video at that time. Nothing was changed.")
    file = opened.file(place.footage_id)
    if file.first_us is None or file.end_us is None:
        raise InputError("This video was not checked yet. Nothing was changed.")
    if place.media_us - file.first_us < LEAST_US or file.end_us - place.media_us < LEAST_US:
        raise InputError("A match needs at least ten seconds of video on both sides. Nothing was changed.")
    if opened.footage[-1].id != file.id:
        raise InputError(
            "Only the last video of a match can be split. Move the others to their own match first."
        )
    if file.copied:
        raise InputError(
            "This video was copied into the library and belongs to one match. Add it by its path on the "
            "Footage page instead, then split it."
        )
    logged = [rally for rally in opened.match.rallies if (rally.start_us or 0) >= at_us]
    if logged:
        raise InputError(
            f"{len(logged)} rallies are logged after {clock_words(seconds(at_us))}. Delete them first. "
            "Nothing was changed."
        )
    return _split(opened, place.footage_id, place.media_us)


def _split(opened: OpenMatch, footage_id: str, media_us: int) -> MatchInfo:
    library, info, file = opened.library, opened.info, opened.file(footage_id)
    made = new_match(
        library,
        info.players,
        coached=info.coached,
        event=f"{info.event} (second match)".strip(),
        played_on=info.played_on,
        format=info.format,
        depth=info.depth,
        observer=info.observer,
        zone=info.zone,
        court=info.court,
        tin_height_m=info.tin_height_m,
        ball=info.ball,
        ball_warmth=info.ball_warmth,
        clothes_a=info.clothes_a,
        clothes_b=info.clothes_b,
    )
    second = replace(file, id=new_id(), match=made.id, place=0, starts_us=None, first_us=media_us, proxy=None)
    if file.frames is not None and (library.folder / file.frames).is_file():
        own = original_frames_file(library.folder, second.id)
        shutil.copyfile(library.folder / file.frames, own)
        second = replace(second, frames=own.relative_to(library.folder).as_posix())
    library.save_footage(second)
    library.save_footage(replace(file, end_us=media_us))
    return made
