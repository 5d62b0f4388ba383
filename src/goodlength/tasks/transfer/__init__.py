"""Videos that come in from elsewhere: in pieces from another device, and from a watched folder."""

from goodlength.tasks.transfer.transfer_state import VideoTransfer
from goodlength.tasks.transfer.video_transfer import VideoTransfers

__all__ = [
    "VideoTransfer",
    "VideoTransfers",
]
