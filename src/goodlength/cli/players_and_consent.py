"""`goodlength player ...`: players, consent, export, erasure."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import click

from goodlength.cli.terminal.shared_options import (
    Day,
    as_json,
    emit,
    library_option,
    opened,
    print_note,
    progress,
)


@click.group("player", epilog="Example: goodlength player list")
def player_command() -> None:
    """Players: add, list, brief, serves, consent, export, erase."""


@player_command.command("add", epilog='Example: goodlength player add "Imogen Vale" --hand right')
@click.argument("name")
@click.option("--hand", type=click.Choice(["right", "left"]), default="right", help="Playing hand.")
@click.option("--junior", is_flag=True, help="A young player: a parent gives consent.")
@click.option("--born", "born_year", type=int, help="Year of birth.")
@library_option
def add(name: str, hand: str, junior: bool, born_year: int | None, library_folder: Path | None) -> None:
    """Add a player and print the id."""
    from goodlength import tasks

    with opened(library_folder) as library:
        player = tasks.add_player(library, name, hand=hand, junior=junior, born_year=born_year)
    click.echo(player.id)


@player_command.command("list", epilog="Example: goodlength player list --json")
@as_json
@library_option
def list_players(as_json: bool, library_folder: Path | None) -> None:
    """List the players in the library."""
    from goodlength import tasks
    from goodlength.forms.command_results_json import player_form

    with opened(library_folder) as library:
        players = tasks.players(library)
    if as_json:
        emit([player_form(player) for player in players])
        return
    for player in players:
        click.echo(f"{player.id:<24} {player.name} ({player.hand}-handed)")
    if not players:
        print_note('No players yet. Add one with: goodlength player add "Name"')


@player_command.command("brief", epilog="Example: goodlength player brief petra")
@click.argument("player")
@click.option("--since", type=Day(), help="Only matches from this day on.")
@as_json
@library_option
def brief(player: str, since: datetime | None, as_json: bool, library_folder: Path | None) -> None:
    """Scouting brief about an opponent: habits, what to serve, which serves were attacked."""
    from goodlength.forms.findings.opponent_report_json import brief_form, brief_lines
    from goodlength.tasks.findings.opponent_report import brief_about

    day = since.date() if since else None
    with opened(library_folder) as library, progress("Reading matches") as report:
        page = brief_about(library, player, since=day, progress=report)
    if as_json:
        emit(brief_form(page))
        return
    for line in brief_lines(page):
        click.echo(line)


@player_command.command("serves", epilog="Example: goodlength player serves imogen")
@click.argument("player_id")
@as_json
@library_option
def serves(player_id: str, as_json: bool, library_folder: Path | None) -> None:
    """Measured serves by kind and box: speed, front wall, first bounce."""
    from goodlength.forms.footage.measured_serves_by_kind_json import kind_form
    from goodlength.record.rally_sentences import kind_words
    from goodlength.tasks.footage.serve_statistics_by_kind import kind_line, measured_kinds
    from goodlength.tasks.match.lazy_player_matches import open_matches

    with opened(library_folder) as library:
        kinds = measured_kinds(open_matches(library, player_id))
        words = kind_words(library.kinds())
    if as_json:
        emit([kind_form(kind) for kind in kinds])
        return
    for kind in kinds:
        click.echo(kind_line(kind, words))
    if not kinds:
        print_note("No serve of this player is measured yet. Measure one: goodlength footage measure --help")


@player_command.command(
    "consent", epilog='Example: goodlength player consent imogen --given-by "Imogen Vale" --for clips'
)
@click.argument("player_id")
@click.option("--given-by", required=True, help="Who gave it; a parent for a junior.")
@click.option(
    "--for",
    "purposes",
    multiple=True,
    type=click.Choice(["record", "clips", "handout"]),
    required=True,
    help="Purpose; can be repeated.",
)
@click.option("--until", type=Day(), help="Last day (default: a year from now).")
@library_option
def consent(
    player_id: str,
    given_by: str,
    purposes: tuple[str, ...],
    until: datetime | None,
    library_folder: Path | None,
) -> None:
    """Save a person's consent."""
    from goodlength import tasks

    with opened(library_folder) as library:
        day = until.date() if until else None
        tasks.consent(library, player_id, given_by=given_by, purposes=purposes, until=day)
    print_note("Saved.")


@player_command.command("export", epilog="Example: goodlength player export imogen --to imogen.json")
@click.argument("player_id")
@click.option(
    "--to", "target", required=True, type=click.Path(path_type=Path), help="The .json file to write."
)
@library_option
def export(player_id: str, target: Path, library_folder: Path | None) -> None:
    """Export everything stored about a person to a JSON file."""
    from goodlength import tasks

    with opened(library_folder) as library:
        tasks.export_player(library, player_id, target)
    print_note(f"Saved: {target}")


@player_command.command("erase", epilog="Example: goodlength player erase imogen --yes")
@click.argument("player_id")
@click.option(
    "--yes", is_flag=True, help="Delete. Without this option the command only lists what would be deleted."
)
@library_option
def erase(player_id: str, yes: bool, library_folder: Path | None) -> None:
    """Delete a person's data, and list what was deleted."""
    from goodlength import tasks

    with opened(library_folder) as library:
        account = tasks.erase_player(library, player_id, dry_run=not yes)
    click.echo(account.words)
    if not yes:
        print_note("Nothing has been deleted yet. To delete it, add --yes.")
