"""Load in one go everything that a page of a match is made from."""

from __future__ import annotations

from typing import TYPE_CHECKING

from goodlength import tasks
from goodlength.files.library_layout import followed_ball_file
from goodlength.tasks.sharing.handout_content_and_files import handout_exists
from goodlength.web.coach_settings import settings_in
from goodlength.web.views.proxy_or_original_video_files import films_of
from goodlength.web.views.rally_scoresheet import SheetData, SheetSource

if TYPE_CHECKING:
    from goodlength.tasks.match.lazy_match import OpenMatch


def sheet_source(opened: OpenMatch) -> SheetSource:
    """Return everything that the sheet of a match is made from."""
    followed = followed_ball_file(opened.library.folder, opened.id).is_file()
    settings, detected = settings_in(opened.settings), tasks.listed_rallies(opened)
    return SheetSource(opened, settings, films_of(opened), detected, followed)


def sheet_data(opened: OpenMatch) -> SheetData:
    """Return everything that pages of a match, and its sheet, are made from."""
    source = sheet_source(opened)
    return SheetData(
        opened,
        source.settings,
        source.films,
        source.detected,
        source.followed,
        tasks.plans_of(opened.library, opened.coached.id),
        handout_made=handout_exists(opened.library, opened.id),
    )
