"""Reading one match for a page, in one go."""

from __future__ import annotations

from typing import TYPE_CHECKING

from goodlength import tasks
from goodlength.files import layout
from goodlength.record.model import Match, MatchInfo, Player
from goodlength.record.names import short_names
from goodlength.record.replay import match_from
from goodlength.tasks.footage.rallies import has_detected_rallies
from goodlength.web.coach_settings import read_settings
from goodlength.web.views.marker_sheet import SheetData
from goodlength.web.views.playback import films_of

if TYPE_CHECKING:
    from goodlength.record.store import Library


def players_of(library: Library, info: MatchInfo) -> tuple[Player, Player]:
    """The two players of a match, first-named first."""
    return library.player(info.players[0]), library.player(info.players[1])


def sheet_data(library: Library, match_id: str, match: Match | None = None) -> SheetData:
    """Everything a sheet is made from; `match` spares a replay that was just made."""
    info = library.match_info(match_id) if match is None else match.info
    players = players_of(library, info)
    entries = library.entries(match_id)
    kinds = library.kinds()
    films = films_of(library, match_id)
    if match is None:
        names = short_names(players[0].name, players[1].name)
        match = match_from(info, entries, names, kinds, length_us=films.length_us)
    made = (layout.handout_folder(library.folder) / f"{layout.handout_stem(match_id)}.pdf").is_file()
    heard = (
        tasks.listed_rallies(library, match_id).played
        if has_detected_rallies(library.folder, match_id)
        else ()
    )
    coached = info.players[info.coached.place]
    planned = any(plan.get("match") == match_id for _, plan in tasks.plans_of(library, coached))
    return SheetData(match, entries, players, kinds, read_settings(library), films, made, planned, heard)
