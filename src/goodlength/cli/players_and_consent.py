"""`goodlength player ...`: players, consent, export, erasure."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import click

from goodlength.cli.terminal.match_findings_and_plan_lines import consent_line
from goodlength.cli.terminal.shared_options import (
    Day,
    as_json,
    emit,
    library_option,
    opened,
    player_id_of,
    print_lines,
    print_note,
    progress,
)


@click.group("player", epilog="Example: goodlength player list")
def player_command() -> None:
    """Players: add, list, brief, serves, consent, export, erase."""


@player_command.command(
    "add",
    short_help="Add a player, and print the id.",
    epilog='Example: goodlength player add "Imogen Vale" --hand right',
)
@click.argument("name")
@click.option("--hand", type=click.Choice(["right", "left"]), default="right", help="Playing hand.")
@click.option("--junior", is_flag=True, help="The player is a junior: a parent or guardian gives consent.")
@click.option("--born", "born_year", type=int, metavar="YEAR", help="Year of birth (default: not stored).")
@library_option
def add(name: str, hand: str, junior: bool, born_year: int | None, library_folder: Path | None) -> None:
    """Add a player and print the id, which other commands accept as well as the name."""
    from goodlength import tasks

    with opened(library_folder) as library:
        player = tasks.add_player(library, name, hand=hand, junior=junior, born_year=born_year)
    click.echo(player.id)
    print_note(f"Added: {player.name}.")


@player_command.command(
    "list",
    short_help="List the players: id, name and playing hand.",
    epilog="Example: goodlength player list --json",
)
@as_json
@library_option
def list_players(as_json: bool, library_folder: Path | None) -> None:
    """List the players in the library: id, name and playing hand."""
    from goodlength import tasks
    from goodlength.forms.match_rally_and_probe_json import player_form

    with opened(library_folder) as library:
        players = tasks.players(library)
    if as_json:
        emit([player_form(player) for player in players])
        return
    for player in players:
        click.echo(f"{player.id:<24} {player.name} ({player.hand}-handed)")
    if not players:
        print_note('No players yet. Add one with: goodlength player add "Name"')


@player_command.command(
    "brief",
    short_help="Print a scouting brief of a player.",
    epilog="Example: goodlength player brief petra",
)
@click.argument("player")
@click.option("--since", type=Day(), help="Only matches from this day on (default: all).")
@click.option(
    "--only-watched",
    is_flag=True,
    help="Leave out answers that were proposed and taken in rallies nobody watched.",
)
@as_json
@library_option
def brief(
    player: str, since: datetime | None, only_watched: bool, as_json: bool, library_folder: Path | None
) -> None:
    """Print a scouting brief: habits of a player, what to serve, which serves were attacked."""
    from goodlength.forms.findings.opponent_report_json import brief_form, brief_lines
    from goodlength.tasks.findings.opponent_report import brief_about

    day = since.date() if since else None
    with opened(library_folder) as library, progress("Reading matches") as report:
        page = brief_about(library, player, since=day, only_watched=only_watched, progress=report)
    if as_json:
        emit(brief_form(page))
        return
    print_lines(brief_lines(page))


@player_command.command(
    "serves",
    short_help="Show a player's measured serves by kind and box.",
    epilog="Example: goodlength player serves imogen",
)
@click.argument("player")
@as_json
@library_option
def serves(player: str, as_json: bool, library_folder: Path | None) -> None:
    """Show a player's measured serves by kind and box: speed, front wall, first bounce."""
    from goodlength.forms.footage.measured_serves_by_kind_json import kind_form
    from goodlength.record.rally_sentences import kind_words
    from goodlength.tasks.ball.serve_statistics_by_kind import kind_line, measured_kinds
    from goodlength.tasks.match.lazy_player_matches import open_matches

    with opened(library_folder) as library:
        kinds = measured_kinds(open_matches(library, player_id_of(library, player)))
        words = kind_words(library.kinds())
    if as_json:
        emit([kind_form(kind) for kind in kinds])
        return
    print_lines(kind_line(kind, words) for kind in kinds)
    if not kinds:
        print_note("No serve of this player is measured yet. Measure one: goodlength footage measure --help")


@player_command.command(
    "consent", epilog='Example: goodlength player consent imogen --given-by "Imogen Vale" --for clips'
)
@click.argument("player")
@click.option("--given-by", required=True, metavar="NAME", help="Who gave it; a parent for a junior.")
@click.option(
    "--for",
    "purposes",
    multiple=True,
    type=click.Choice(["record", "clips", "handout"]),
    required=True,
    help="Purpose of the consent; can be repeated.",
)
@click.option("--until", type=Day(), help="Last day of the consent (default: a year from now).")
@library_option
def consent(
    player: str,
    given_by: str,
    purposes: tuple[str, ...],
    until: datetime | None,
    library_folder: Path | None,
) -> None:
    """Save a player's consent. It replaces any earlier consent."""
    from goodlength import tasks

    with opened(library_folder) as library:
        day = until.date() if until else None
        agreed = tasks.consent(
            library, player_id_of(library, player), given_by=given_by, purposes=purposes, until=day
        )
    print_note(consent_line(agreed))


@player_command.command("export", epilog="Example: goodlength player export imogen --to imogen.json")
@click.argument("player")
@click.option(
    "--to",
    "target",
    required=True,
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="The .json file to write.",
)
@library_option
def export(player: str, target: Path, library_folder: Path | None) -> None:
    """Export everything stored about a player to a JSON file."""
    from goodlength import tasks

    with opened(library_folder) as library:
        # a wrong ending of the file is said before a wrong name
        wanted = player_id_of(library, player) if target.suffix.lower() == ".json" else player
        tasks.export_player(library, wanted, target)
    print_note(f"Saved: {target}")


@player_command.command("erase", epilog="Example: goodlength player erase imogen --yes")
@click.argument("player")
@click.option(
    "--yes", is_flag=True, help="Delete. Without this option the command only lists what would be deleted."
)
@library_option
def erase(player: str, yes: bool, library_folder: Path | None) -> None:
    """Delete a player's data, and list what was deleted. Give the id or the whole name."""
    from goodlength import tasks
    from goodlength.tasks.people.player_records_and_consent import player_called

    with opened(library_folder) as library:
        found = player_called(library.players(), player)
        if player.strip().casefold() not in (found.id.casefold(), found.name.casefold()):
            raise click.UsageError(
                f"To delete data, give the whole name or the id: {found.name} ({found.id})."
            )
        account = tasks.erase_player(library, found.id, dry_run=not yes)
    click.echo(account.words)
    if not yes:
        print_note("Nothing has been deleted yet. To delete it, add --yes.")
