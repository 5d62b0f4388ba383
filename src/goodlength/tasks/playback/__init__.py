"""What the player of the page needs of a match: small pictures to scrub by, and drawings on frames.

Never changes the record or an original.
"""

from goodlength.tasks.playback.ball_overlay import BallInPicture, ball_in_picture
from goodlength.tasks.playback.coach_drawings_on_frames import (
    add_drawings,
    drawings_left_out,
    frame_drawings,
    remove_drawing,
    save_drawing,
)
from goodlength.tasks.playback.court_player_and_pose_overlay import PictureOverlay, overlay_at
from goodlength.tasks.playback.preview_thumbnails import (
    Previews,
    preview_sheet,
    previews_of,
    start_previews,
)

__all__ = [
    "BallInPicture",
    "PictureOverlay",
    "Previews",
    "add_drawings",
    "ball_in_picture",
    "drawings_left_out",
    "frame_drawings",
    "overlay_at",
    "preview_sheet",
    "previews_of",
    "remove_drawing",
    "save_drawing",
    "start_previews",
]
