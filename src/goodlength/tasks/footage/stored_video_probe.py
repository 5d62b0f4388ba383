"""What probing a video said, as the library keeps it, and whether a browser needs a copy of it."""

from __future__ import annotations

from dataclasses import fields
from datetime import date
from typing import TYPE_CHECKING

from goodlength.record.model import Footage

if TYPE_CHECKING:
    from goodlength.footage.media.recording_date import Recorded
    from goodlength.footage.media.video_probe import Probe


def probe_of(footage_file: Footage) -> Probe | None:
    """Return what probing a file said, from what was kept; None where nothing, or nothing readable, was
    kept.
    """
    from goodlength.footage.media.recording_date import Recorded
    from goodlength.footage.media.stream_selection import Track
    from goodlength.footage.media.video_probe import FileProblem, Probe

    if not isinstance(footage_file.look, dict):
        return None
    known = {field.name for field in fields(Probe)}
    plain = {name: value for name, value in footage_file.look.items() if name in known}
    try:
        plain["problems"] = tuple(FileProblem(**problem) for problem in plain.get("problems", ()))
        made = plain.get("recorded")
        plain["recorded"] = None if made is None else Recorded(**made)
        plain["tracks"] = tuple(Track(**track) for track in plain.get("tracks", ()))
        return Probe(**plain)
    except TypeError:
        return None


def copy_reason(footage_file: Footage) -> str | None:
    """Return why a copy is needed to play or step through a file, in words; None where it is not."""
    from goodlength.footage.edit.proxy_video import needs_proxy

    seen = probe_of(footage_file)
    return None if seen is None else needs_proxy(seen)


def recorded_day(footage_file: Footage) -> date | None:
    """Return the day on which a file says that it was recorded; None where it does not say."""
    seen = probe_of(footage_file)
    return None if seen is None or seen.recorded is None else day_of(seen.recorded)


def day_of(made: Recorded) -> date:
    """Return the day a file was recorded: by the phone's own clock, else in the time zone of this machine."""
    return (made.when if made.zone_known else made.when.astimezone()).date()
