"""What the player of the page needs of a match: small pictures to scrub by, and drawings on frames.

Never changes the record or an original.
"""

from goodlength.tasks.playback.ball_over_picture import BallInPicture, ball_in_picture
from goodlength.tasks.playback.court_and_paths import PictureOverlay, overlay_at
from goodlength.tasks.playback.frame_drawings import (
    add_drawings,
    drawings_left_out,
    frame_drawings,
    remove_drawing,
    save_drawing,
)
from goodlength.tasks.playback.preview_pictures import (
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
