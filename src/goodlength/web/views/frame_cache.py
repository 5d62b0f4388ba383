"""Cache of decoded frames of original videos for the point-picking pages.

Stepping through a film asks for one picture after another; decoding goes from key picture to key picture,
so a few that follow are decoded along.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from typing import TYPE_CHECKING

from goodlength.tasks.footage import camera_calibration

if TYPE_CHECKING:
    from goodlength.footage.media.frame_grab import FrameGrabber
    from goodlength.record.store import Library

AHEAD = 8  # pictures decoded along with the one asked for
MOST_BYTES = 120_000_000


class FrameCache:
    """Pictures lately asked for, by file and moment."""

    def __init__(self, library: Library) -> None:
        self._library = library
        self._frames: OrderedDict[tuple[str, int], FrameGrabber] = OrderedDict()
        self._bytes = 0
        self._one_at_a_time = threading.Lock()

    def at(self, footage_id: str, us: int) -> FrameGrabber:
        """Return the picture a file shows at a media time."""
        start = camera_calibration.frame_times(self._library, footage_id, us, us + 1)[0]
        with self._one_at_a_time:
            if (footage_id, start) not in self._frames:
                later = camera_calibration.frame_times(self._library, footage_id, us, us + 1_000_000)[:AHEAD]
                for frame_picture in camera_calibration.frame_pictures(
                    self._library, footage_id, us, later[-1] + 1
                ):
                    self._keep(footage_id, frame_picture)
            return self._frames.get((footage_id, start)) or self._nearest(footage_id, start)

    def _keep(self, footage_id: str, grabber: FrameGrabber) -> None:
        old = self._frames.pop((footage_id, grabber.us), None)
        self._bytes += len(grabber.jpeg) - (0 if old is None else len(old.jpeg))
        self._frames[footage_id, grabber.us] = grabber
        while self._bytes > MOST_BYTES and len(self._frames) > AHEAD:
            self._bytes -= len(self._frames.popitem(last=False)[1].jpeg)

    def _nearest(self, footage_id: str, us: int) -> FrameGrabber:
        """For films whose table and decoder differ by a rounding: the picture nearest to the one wanted."""
        mine = [grabber for (name, _), grabber in self._frames.items() if name == footage_id]
        return min(mine, key=lambda grabber: abs(grabber.us - us))
