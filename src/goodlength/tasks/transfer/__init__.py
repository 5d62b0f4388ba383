"""Videos that come in from elsewhere: in pieces from another device, and from a watched folder."""

from goodlength.tasks.transfer.resumable_video_upload import VideoTransfers
from goodlength.tasks.transfer.video_transfer_state_file import VideoTransfer
from goodlength.tasks.transfer.watched_folder import (
    FolderVideo,
    WatchEvent,
    checked_folder,
    folder_videos,
    watch_folder,
)

__all__ = [
    "FolderVideo",
    "VideoTransfer",
    "VideoTransfers",
    "WatchEvent",
    "checked_folder",
    "folder_videos",
    "watch_folder",
]
