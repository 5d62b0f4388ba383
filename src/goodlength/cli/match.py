"""`goodlength match ...`: matches in the library."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

import click

from goodlength.cli.terminal import match_lines, report_lines
from goodlength.cli.terminal.options import (
    as_json,
    emit,
    existing_file,
    library_option,
    opened,
    opened_match,
    print_note,
)
from goodlength.forms.observers import agree_form, agree_lines
from goodlength.forms.records import imported_form, imported_lines
from goodlength.forms.score_draft import draft_form


@click.group("match", epilog="Example: goodlength match show demo")
def match_command() -> None:
    """Matches: make, list, show, check, bring in and take out."""


@match_command.command("list", epilog="Example: goodlength match list --json")
@as_json
@library_option
def list_matches(as_json: bool, library_folder: Path | None) -> None:
    """Every match in the library with its number of rallies."""
    from goodlength import tasks
    from goodlength.forms.records import match_list_form

    with opened(library_folder) as library:
        rows = tasks.list_matches(library)
    if as_json:
        emit(match_list_form(rows))
        return
    for row in rows:
        click.echo(f"{row.id:<24} {row.rallies:>4} rallies  {row.title}")
    if not rows:
        print_note("No match yet. Make one with: goodlength match new, or see the demo: goodlength demo")


@match_command.command("new", epilog='Example: goodlength match new imogen petra --event "Tideway Open"')
@click.argument("first")
@click.argument("second")
@click.option("--event", default="", help="Where and what round.")
@click.option("--on", "played_on", type=click.DateTime(["%Y-%m-%d"]), help="Day it was played, 2026-11-25.")
@click.option(
    "--to", "target", type=click.Choice(["9", "11", "15"]), default="11", help="Points a game; 9 is hand-out."
)
@click.option("--best-of", type=click.Choice(["3", "5"]), default="5", help="Games.")
@click.option("--coached", type=click.Choice(["first", "second"]), default="first", help="Whom you coach.")
@library_option
def new(
    first: str,
    second: str,
    event: str,
    played_on: datetime | None,
    target: str,
    best_of: str,
    coached: str,
    library_folder: Path | None,
) -> None:
    """A match between two players of the library, FIRST and SECOND by their ids."""
    from goodlength import tasks
    from goodlength.scoring import Format, Side, System

    system = System.HAND_OUT if target == "9" else System.RALLY
    side = Side.A if coached == "first" else Side.B
    form = Format(system, int(target), int(best_of))
    day = played_on.date() if played_on else None
    with opened(library_folder) as library:
        made = tasks.new_match(
            library, (first, second), event=event, played_on=day, format=form, coached=side
        )
    click.echo(made.id)


@match_command.command("show", epilog="Example: goodlength match show demo --json")
@click.argument("match_id")
@as_json
@library_option
def show(match_id: str, as_json: bool, library_folder: Path | None) -> None:
    """Games, faults and rallies of a match, worked out from its entries."""
    form = _form(match_id, library_folder)
    if as_json:
        emit(form)
        return
    with opened(library_folder) as library:
        kinds = {kind.id: kind.words for kind in library.kinds()}
    for line in match_lines.match_lines(form, kinds):
        click.echo(line)


@match_command.command("check", epilog="Example: goodlength match check demo")
@click.argument("match_id")
@as_json
@library_option
def check(match_id: str, as_json: bool, library_folder: Path | None) -> None:
    """What in the record cannot be, all at once, each with the rally to look at."""
    form = _form(match_id, library_folder)
    if as_json:
        emit(form["faults"])
        return
    for line in match_lines.fault_lines(form):
        click.echo(line)
    print_note(f"{len(form['faults'])} to look at." if form["faults"] else "Nothing contradicts the rules.")


def _form(match_id: str, library_folder: Path | None) -> dict[str, Any]:
    from goodlength.forms.records import match_form

    with opened_match(library_folder, match_id) as match:
        return match_form(match.match, " v ".join(match.names))


@match_command.command("between", epilog="Example: goodlength match between demo")
@click.argument("match_id")
@click.option("--game", type=int, help="The game to look back on; the last one finished when left out.")
@click.option(
    "--of", "whose", type=click.Choice(["coached", "opponent"]), default="coached", help="Whom it is for."
)
@as_json
@library_option
def between(match_id: str, game: int | None, whose: str, as_json: bool, library_folder: Path | None) -> None:
    """The sheet for the break between games: at most three lines from the games so far."""
    from goodlength.forms.between_games import between_form
    from goodlength.tasks.findings.between_games import between_games

    with opened_match(library_folder, match_id) as match:
        sheet = between_games(match, whose, game)
    if as_json:
        emit(between_form(sheet))
        return
    for line in report_lines.between_lines(sheet):
        click.echo(line)


@match_command.command("agree", epilog="Example: goodlength match agree demo --with helper.json")
@click.argument("match_id")
@click.option("--first", help="Observer; the match's own when left out.")
@click.option("--second", help="The other observer, where there are several.")
@click.option(
    "--with",
    "with_file",
    type=existing_file,
    help="Another person's record of this match, exported as .json.",
)
@click.option("--keep-as", help="Keep that record beside this one under this observer's name.")
@as_json
@library_option
def agree(
    match_id: str,
    first: str | None,
    second: str | None,
    with_file: Path | None,
    keep_as: str | None,
    as_json: bool,
    library_folder: Path | None,
) -> None:
    """Whether two observers wrote the same match down, variable by variable, with where they differ."""
    from goodlength.tasks.match import observers as agreeing
    from goodlength.tasks.match.open_match import open_match

    if keep_as is not None and with_file is None:
        raise click.UsageError("--keep-as needs the record to keep: name its file with --with.")
    with opened(library_folder) as library:
        if keep_as is not None and with_file is not None:
            print_note(
                f"{agreeing.add_layer(library, match_id, with_file, keep_as)} answers kept as {keep_as}."
            )
            with_file, second = None, keep_as.strip()
        found = agreeing.compare_observers(open_match(library, match_id), first, second, with_file=with_file)
    if as_json:
        emit(agree_form(found))
        return
    for line in agree_lines(found):
        click.echo(line)


@match_command.command("draft", epilog='Example: goodlength match draft demo --scores "11-8 7-11"')
@click.argument("match_id")
@click.option("--scores", help='Game scores as far as known, as in "11-8 6-11"; kept for the next time.')
@click.option("--accept", is_flag=True, help="Write the draft on the sheet.")
@click.option("--take-back", is_flag=True, help="Take an accepted draft off the sheet again.")
@as_json
@library_option
def draft(
    match_id: str,
    scores: str | None,
    accept: bool,
    take_back: bool,
    as_json: bool,
    library_folder: Path | None,
) -> None:
    """Who won each rally heard, worked out from who was seen serving. Nothing counts until accepted."""
    from goodlength import tasks

    with opened_match(library_folder, match_id) as match:
        if take_back:
            tasks.withdraw_draft(match)
            return print_note("The draft is off the sheet.")
        drafted = tasks.draft_match(match, scores)
        if accept:
            tasks.accept_draft(match)
    if as_json:
        return emit(draft_form(drafted))
    for line in match_lines.draft_lines(drafted):
        click.echo(line)
    return print_note("Written on the sheet." if accept else drafted.words)


@match_command.command("export", epilog="Example: goodlength match export demo --to demo.csv")
@click.argument("match_id")
@click.option("--to", "target", required=True, type=click.Path(path_type=Path), help=".json, .csv or .vtt")
@click.option("--shots", is_flag=True, help="With .csv: a line a shot instead of a line a rally.")
@library_option
def export(match_id: str, target: Path, shots: bool, library_folder: Path | None) -> None:
    """Write a match to a file others can open; the ending of its name says which form."""
    from goodlength import tasks

    with opened(library_folder) as library:
        tasks.export_match(library, match_id, target, shots=shots)
    print_note(f"Written: {target}")


@match_command.command("import", epilog="Example: goodlength match import sheet.csv --dry-run")
@click.argument("file", type=existing_file)
@click.option("--dry-run", is_flag=True, help="Only say what would be brought in.")
@as_json
@library_option
def bring_in(file: Path, dry_run: bool, as_json: bool, library_folder: Path | None) -> None:
    """Bring a match in from a .json or .csv file; nothing is guessed silently."""
    from goodlength import tasks

    with opened(library_folder) as library:
        brought = tasks.import_match(library, file, dry_run=dry_run)
    if as_json:
        emit(imported_form(brought))
        return
    for line in imported_lines(brought):
        click.echo(line)
