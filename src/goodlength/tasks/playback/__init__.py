"""What the player of the page needs of a match: small pictures to scrub by, and moments to jump to.

Never changes the record or an original.
"""

from goodlength.tasks.playback.preview_pictures import (
    Previews,
    preview_sheet,
    previews_of,
    start_previews,
)

__all__ = ["Previews", "preview_sheet", "previews_of", "start_previews"]
