"""`goodlength findings ...`: findings of a match or a season."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import click

from goodlength.cli.terminal import between_games_and_search_lines, match_findings_and_plan_lines
from goodlength.cli.terminal.renamed_option_aliases import RenamedOption
from goodlength.cli.terminal.shared_options import (
    Day,
    as_json,
    emit,
    library_option,
    opened,
    opened_match,
    print_lines,
    progress,
)
from goodlength.forms.findings.season_search_json import search_form


@click.group("findings", epilog="Example: goodlength findings show demo")
def findings_command() -> None:
    """Findings of a match or of a player, and search of all matches."""


@findings_command.command(
    "show",
    short_help="Show the findings of a match or of a player.",
    epilog="Example: goodlength findings show demo --json",
)
@click.argument("match_id", required=False)
@click.option(
    "--player",
    cls=RenamedOption,
    earlier=("--of",),
    metavar="PLAYER",
    help="Player, by name or id. With a match: whose serves (default: the player you coach). "
    "Without: all matches of this player.",
)
@click.option(
    "--against",
    "opponent",
    metavar="PLAYER",
    help="Without a match: only matches against this opponent, by name or id (default: all).",
)
@click.option("--since", type=Day(), help="Without a match: first day (default: all).")
@click.option("--until", type=Day(), help="Without a match: last day (default: all).")
@click.option(
    "--change-on",
    type=Day(),
    help="Without a match: compare the matches before this day with those from this day on.",
)
@click.option(
    "--only-watched",
    is_flag=True,
    help="Leave out answers that were proposed and taken in rallies nobody watched.",
)
@as_json
@library_option
def show(
    match_id: str | None,
    player: str | None,
    only_watched: bool,
    as_json: bool,
    library_folder: Path | None,
    **options: Any,
) -> None:
    """Show the findings of one match, or of all matches of a player."""
    if match_id is not None:
        if any(options.values()):
            raise click.UsageError("--against, --since, --until and --change-on go without a match.")
        _of_match(match_id, player or "coached", only_watched, as_json, library_folder)
    elif player is not None:
        _over_matches(player, {**_dated(options), "only_watched": only_watched}, as_json, library_folder)
    else:
        raise click.UsageError("Name a match, or a player with --player.")


def _of_match(
    match_id: str, whose: str, only_watched: bool, as_json: bool, library_folder: Path | None
) -> None:
    from goodlength.findings import as_json as findings_form
    from goodlength.forms.findings.answer_authors_and_acceptance_rate_json import (
        origins_form,
        origins_lines,
        origins_of,
    )

    with opened_match(library_folder, match_id) as whole:
        match = replace(whole, only_watched=only_watched)
        coached = match.side_of(whose) is match.info.coached
        found = match.findings("coached" if coached else "opponent")
        origins = origins_of(match)
    if as_json:
        emit({**findings_form(found), **origins_form(origins)})
        return
    print_lines([*match_findings_and_plan_lines.findings_lines(found), *origins_lines(origins)])


def _over_matches(player: str, options: dict[str, Any], as_json: bool, library_folder: Path | None) -> None:
    from goodlength.forms.findings.player_across_matches_json import across_form, across_lines
    from goodlength.tasks.findings.player_across_matches import over_matches

    with opened(library_folder) as library, progress("Reading matches") as report:
        found = over_matches(library, player, progress=report, **options)
    if as_json:
        emit(across_form(found))
        return
    print_lines(across_lines(found))


def _dated(options: dict[str, Any]) -> dict[str, Any]:
    """Options with their moments as days."""
    return {name: value.date() if isinstance(value, datetime) else value for name, value in options.items()}


@findings_command.command(
    "places",
    short_help="Show length, tightness and positions of a match.",
    epilog="Example: goodlength findings places demo --json",
)
@click.argument("match_id")
@click.option(
    "--player", metavar="PLAYER", default="coached", help="Player, by name or id (default: the coached one)."
)
@as_json
@library_option
def places(match_id: str, player: str, as_json: bool, library_folder: Path | None) -> None:
    """Show what only places give: length, tightness, positions and time, from the followed ball."""
    from goodlength.forms.findings import shot_place_findings_json
    from goodlength.tasks.findings.shot_place_findings import match_places

    with opened_match(library_folder, match_id) as match:
        found = match_places(match, player)
        words = match.kind_words
    if as_json:
        emit(shot_place_findings_json.match_places_form(found))
        return
    print_lines(shot_place_findings_json.places_lines(found.found))
    print_lines(shot_place_findings_json.serve_lines(found, words))


@findings_command.command(
    "search",
    epilog="Example: goodlength findings search --player imogen --kind lob --return-quality weak --lost",
)
@click.option(
    "--player", metavar="PLAYER", help="Player, by name or id. The other options then apply to this player."
)
@click.option("--opponent", metavar="PLAYER", help="Only matches against this player, by name or id.")
@click.option("--serving", "role", flag_value="serving", help="Rallies the player served; needs --player.")
@click.option(
    "--receiving", "role", flag_value="receiving", help="Rallies the player received; needs --player."
)
@click.option(
    "--won", "outcome", flag_value="won", help="Won by the player (without --player: by the server)."
)
@click.option(
    "--lost", "outcome", flag_value="lost", help="Lost by the player (without --player: by the server)."
)
@click.option(
    "--kind", metavar="KIND", help="Kind of serve, as in your list: lob, hard, mid-height, body-feet ..."
)
@click.option("--box", metavar="[right|left]", help="Service box.")
@click.option(
    "--return-type",
    "how",
    cls=RenamedOption,
    earlier=("--how",),
    metavar="TYPE",
    help="How the return was taken: volleyed, after-the-side-wall, after-the-bounce, off-the-back-wall or "
    "missed.",
)
@click.option(
    "--return-quality",
    "left",
    cls=RenamedOption,
    earlier=("--left",),
    metavar="QUALITY",
    help="Return quality: missed, loose, tight or attacked; weak means loose or missed.",
)
@click.option(
    "--return-to",
    "to",
    cls=RenamedOption,
    earlier=("--to",),
    metavar="PLACE",
    help="Where the return went: straight, cross-court, boast, short, or a place as for --place.",
)
@click.option(
    "--ending",
    metavar="ENDING",
    help="How the rally ended: winner, forced-error, unforced-error, stroke, no-let, let, service-fault or "
    "conduct.",
)
@click.option(
    "--shot",
    "stroke",
    cls=RenamedOption,
    earlier=("--stroke",),
    metavar="SHOT",
    help="Last shot: drive, cross-court, boast, drop, lob, kill or other.",
)
@click.option(
    "--place",
    metavar="PLACE",
    help="Where on court the rally ended: front, mid or back with left or right, such as front-left; "
    "front-middle, back-middle or middle.",
)
@click.option("--game", type=int, metavar="NUMBER", help="Number of the game.")
@click.option(
    "--phase",
    metavar="PART",
    help="Part of the game: first-points (first four), late (both on 8 or more) or middle (between); or the "
    "score seen from the player: ahead, level, behind.",
)
@click.option("--since", type=Day(), help="First day (default: all).")
@click.option("--until", type=Day(), help="Last day (default: all).")
@click.option("--text", metavar="WORDS", help="Words in the note; capitals and accents do not matter.")
@click.option(
    "--flagged",
    "kept",
    cls=RenamedOption,
    earlier=("--kept",),
    is_flag=True,
    help="Only rallies flagged for clips.",
)
@click.option(
    "--only-watched", "watched", is_flag=True, help="Only rallies that a person answered or checked."
)
@click.option("--match", metavar="MATCH_ID", help="Only this match.")
@click.option(
    "--with-demo",
    is_flag=True,
    default=None,
    help="Include demo matches (default: only if there are no others).",
)
@click.option(
    "--limit",
    type=int,
    metavar="NUMBER",
    default=200,
    show_default=True,
    help="Greatest number of rallies to list; all are counted.",
)
@as_json
@library_option
def search(limit: int, as_json: bool, library_folder: Path | None, **options: Any) -> None:
    """Search the rallies of all matches. Every option is a condition; all of them must hold."""
    from goodlength.tasks.findings import season_search

    question = season_search.SeasonQuestion(**_dated(options))
    with opened(library_folder) as library, progress("Reading matches") as report:
        found = season_search.search(library, question, limit=limit, progress=report)
    form = search_form(question, found)
    if as_json:
        emit(form)
        return
    print_lines(between_games_and_search_lines.search_lines(form))
