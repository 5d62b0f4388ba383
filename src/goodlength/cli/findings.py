"""`goodlength findings ...`: findings of a match or a season."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

import click

from goodlength.cli.terminal import between_games_and_search_lines, command_output_lines
from goodlength.cli.terminal.shared_options import Day, as_json, emit, library_option, opened, progress
from goodlength.forms.findings.season_search_json import search_form


@click.group("findings", epilog="Example: goodlength findings show demo")
def findings_command() -> None:
    """Findings of a match or a season, and search."""


@findings_command.command("show", epilog="Example: goodlength findings show demo --json")
@click.argument("match_id", required=False)
@click.option(
    "--of",
    "whose",
    type=click.Choice(["coached", "opponent"]),
    default="coached",
    help="Whose serves: the player you coach or the opponent.",
)
@click.option("--player", help="Instead of a match: all matches of this player, by id or name.")
@click.option("--against", "opponent", help="With --player: only matches against this opponent.")
@click.option("--since", type=Day(), help="With --player: first day.")
@click.option("--until", type=Day(), help="With --player: last day.")
@click.option(
    "--change-on",
    type=Day(),
    help="With --player: compare the matches before this day with those from it on.",
)
@as_json
@library_option
def show(
    match_id: str | None,
    whose: str,
    player: str | None,
    as_json: bool,
    library_folder: Path | None,
    **options: Any,
) -> None:
    """Show the findings of a match, or of all matches of a player."""
    if (match_id is None) is (player is None):
        raise click.UsageError("Name a match, or a player with --player.")
    if player is not None:
        _over_matches(player, _dated(options), as_json, library_folder)
    elif match_id is not None:
        _of_match(match_id, whose, as_json, library_folder)


def _of_match(match_id: str, whose: str, as_json: bool, library_folder: Path | None) -> None:
    from goodlength import tasks
    from goodlength.findings import as_json as findings_form

    with opened(library_folder) as library:
        found = tasks.find(library, match_id, whose=whose)
    if as_json:
        emit(findings_form(found))
        return
    for line in command_output_lines.findings_lines(found):
        click.echo(line)


def _over_matches(player: str, options: dict[str, Any], as_json: bool, library_folder: Path | None) -> None:
    from goodlength.forms.findings.player_across_matches_json import across_form, across_lines
    from goodlength.tasks.findings.player_across_matches import over_matches

    with opened(library_folder) as library, progress("Reading matches") as report:
        found = over_matches(library, player, progress=report, **options)
    if as_json:
        emit(across_form(found))
        return
    for line in across_lines(found):
        click.echo(line)


def _dated(options: dict[str, Any]) -> dict[str, Any]:
    """Options with their moments as days."""
    return {name: value.date() if isinstance(value, datetime) else value for name, value in options.items()}


@findings_command.command(
    "search",
    epilog="Example: goodlength findings search --player imogen --kind lob --return-quality weak --lost",
)
@click.option("--player", help="Id or name; the other options then apply to this player.")
@click.option("--opponent", help="Only matches against this player, by id or name.")
@click.option("--serving", "role", flag_value="serving", help="Rallies the player served.")
@click.option("--receiving", "role", flag_value="receiving", help="Rallies the player received.")
@click.option(
    "--won", "outcome", flag_value="won", help="Won by the player (without --player: by the server)."
)
@click.option(
    "--lost", "outcome", flag_value="lost", help="Lost by the player (without --player: by the server)."
)
@click.option("--kind", help="Kind of serve, by its id or your words.")
@click.option("--box", help="Service box: right or left.")
@click.option("--how", help="Return type, such as volleyed or off-the-back-wall.")
@click.option(
    "--return-quality",
    "--left",
    "left",
    help="Return quality: missed, loose, tight or attacked; weak is the first two.",
)
@click.option("--to", help="Where the return went, such as cross-court or back-left.")
@click.option("--ending", help="How the rally ended, such as unforced-error or let.")
@click.option("--stroke", help="Last shot, such as drop.")
@click.option("--place", help="Where on court it ended, such as front-left.")
@click.option("--game", type=int, help="Number of the game.")
@click.option(
    "--phase",
    help="Part of the game: first-points (first four), middle, late (both on 8 or more), ahead, level, "
    "behind.",
)
@click.option("--since", type=Day(), help="First day.")
@click.option("--until", type=Day(), help="Last day.")
@click.option("--text", help="Words in the note; capitals and accents do not matter.")
@click.option("--kept", is_flag=True, help="Only rallies flagged for clips.")
@click.option("--match", help="Only this match.")
@click.option(
    "--with-demo",
    is_flag=True,
    default=None,
    help="Include demo matches (without it they are searched only where there are no others).",
)
@click.option(
    "--limit",
    type=int,
    default=200,
    show_default=True,
    help="Greatest number of rallies to list; all are counted.",
)
@as_json
@library_option
def search(limit: int, as_json: bool, library_folder: Path | None, **options: Any) -> None:
    """Search the rallies of all matches."""
    from goodlength.tasks.findings import season_search

    question = season_search.SeasonQuestion(**_dated(options))
    with opened(library_folder) as library, progress("Reading matches") as report:
        found = season_search.search(library, question, limit=limit, progress=report)
    form = search_form(question, found)
    if as_json:
        emit(form)
        return
    for line in between_games_and_search_lines.search_lines(form):
        click.echo(line)
