"""`goodlength match ...`: matches in the library."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from goodlength.cli.terminal import between_games_and_search_lines, match_findings_and_plan_lines
from goodlength.cli.terminal.renamed_option_aliases import RenamedOption
from goodlength.cli.terminal.shared_options import (
    Day,
    as_json,
    emit,
    existing_file,
    keep_old_verb,
    library_option,
    opened,
    opened_match,
    player_id_of,
    print_lines,
    print_note,
)
from goodlength.forms.findings.observer_agreement_json import agree_form, agree_lines
from goodlength.forms.footage.score_draft_json import draft_form
from goodlength.forms.match_rally_and_probe_json import imported_form, imported_lines

if TYPE_CHECKING:
    from goodlength.record.store import Library
    from goodlength.scoring import Side


@click.group("match", epilog="Example: goodlength match show demo")
def match_command() -> None:
    """Matches: new, list, show, check, draft, interval, compare, import, export."""


@match_command.command(
    "list",
    short_help="List the matches: id, date, players, rallies.",
    epilog="Example: goodlength match list --json",
)
@as_json
@library_option
def list_matches(as_json: bool, library_folder: Path | None) -> None:
    """List the matches in the library: id, date, players and number of rallies."""
    from goodlength import tasks
    from goodlength.forms.match_rally_and_probe_json import match_list_form

    with opened(library_folder) as library:
        rows = tasks.list_matches(library)
    if as_json:
        emit(match_list_form(rows))
        return
    print_lines(match_findings_and_plan_lines.match_list_lines(rows))
    if not rows:
        print_note("No match yet. Create one with: goodlength match new. To see the demo: goodlength demo")


@match_command.command(
    "new",
    short_help="Create a match between two players.",
    epilog='Example: goodlength match new imogen petra --event "Tideway Open"',
)
@click.argument("first", metavar="PLAYER_1")
@click.argument("second", metavar="PLAYER_2")
@click.option(
    "--event", metavar="NAME", default="", show_default=False, help="Event and round (default: none)."
)
@click.option(
    "--date",
    "played_on",
    cls=RenamedOption,
    earlier=("--on",),
    type=Day(),
    help="Date of the match, such as 2026-11-25 (default: not known).",
)
@click.option(
    "--points",
    "target",
    cls=RenamedOption,
    earlier=("--to",),
    type=click.Choice(["9", "11", "15"]),
    default="11",
    help="Points per game: 11 or 15 point-a-rally (PAR), 9 hand-in/hand-out.",
)
@click.option(
    "--best-of", type=click.Choice(["3", "5"]), default="5", help="Greatest number of games in the match."
)
@click.option("--coached", metavar="PLAYER", help="Player you coach, by name or id (default: player 1).")
@library_option
def new(
    first: str,
    second: str,
    event: str,
    played_on: datetime | None,
    target: str,
    best_of: str,
    coached: str | None,
    library_folder: Path | None,
) -> None:
    """Create a match between two players, by their names or ids, and print its id."""
    from goodlength import tasks
    from goodlength.scoring import Format, System

    system = System.HAND_OUT if target == "9" else System.RALLY
    form = Format(system, int(target), int(best_of))
    day = played_on.date() if played_on else None
    with opened(library_folder) as library:
        pair = (first, second) if first == second else _ids(library, first, second)
        side = _coached_side(library, pair, coached)
        made = tasks.new_match(library, pair, event=event, played_on=day, format=form, coached=side)
        names = [library.player(player).name for player in pair]
    click.echo(made.id)
    print_note(f"Created: {' v '.join(names)}. You coach {names[side.place]}.")


def _ids(library: Library, first: str, second: str) -> tuple[str, str]:
    return player_id_of(library, first), player_id_of(library, second)


def _coached_side(library: Library, pair: tuple[str, str], coached: str | None) -> Side:
    """Return which of the two is coached; "first" and "second", as it was typed once, stay accepted."""
    from goodlength.scoring import Side
    from goodlength.tasks.people.player_records_and_consent import player_called

    sides = {None: Side.A, "first": Side.A, "second": Side.B}
    if coached in sides:
        return sides[coached]
    both = [player for player in library.players() if player.id in pair]
    chosen = player_called(both, str(coached))
    return Side.A if chosen.id == pair[0] else Side.B


@match_command.command(
    "show",
    short_help="Show the games, rallies and problems of a match.",
    epilog="Example: goodlength match show demo --json",
)
@click.argument("match_id")
@as_json
@library_option
def show(match_id: str, as_json: bool, library_folder: Path | None) -> None:
    """Show the games, the rallies and the problems of a match."""
    form = _form(match_id, library_folder)
    if as_json:
        emit(form)
        return
    with opened(library_folder) as library:
        kinds = {kind.id: kind.words for kind in library.kinds()}
    print_lines(match_findings_and_plan_lines.match_lines(form, kinds))


@match_command.command(
    "check",
    short_help="List what contradicts the rules in a match.",
    epilog="Example: goodlength match check demo",
)
@click.argument("match_id")
@as_json
@library_option
def check(match_id: str, as_json: bool, library_folder: Path | None) -> None:
    """List what contradicts the rules in a match, with the rally of each."""
    form = _form(match_id, library_folder)
    if as_json:
        emit(form["faults"])
        return
    print_lines(match_findings_and_plan_lines.fault_lines(form))
    print_note(
        f"Problems found: {len(form['faults'])}." if form["faults"] else "Nothing contradicts the rules."
    )


def _form(match_id: str, library_folder: Path | None) -> dict[str, Any]:
    from goodlength.forms.match_rally_and_probe_json import match_form

    with opened_match(library_folder, match_id) as match:
        return match_form(match.match, " v ".join(match.names))


@match_command.command(
    "interval",
    short_help="Print the sheet for the break between games.",
    epilog="Example: goodlength match interval demo",
)
@click.argument("match_id")
@click.option(
    "--game", type=int, metavar="NUMBER", help="Number of the game (default: the last one finished)."
)
@click.option(
    "--player",
    "whose",
    cls=RenamedOption,
    earlier=("--of",),
    default="coached",
    show_default=False,
    metavar="PLAYER",
    help="Player the summary is for, by name or id (default: the player you coach).",
)
@as_json
@library_option
def between(match_id: str, game: int | None, whose: str, as_json: bool, library_folder: Path | None) -> None:
    """Print the sheet for the break between games: at most three lines from the games so far."""
    from goodlength.forms.findings.between_games_sheet_json import between_form, between_note
    from goodlength.tasks.findings.between_games_sheet import between_games

    with opened_match(library_folder, match_id) as match:
        sheet = between_games(match, whose, game)
        over = match.match.winner is not None and sheet.game == match.match.games[-1].n
    if as_json:
        emit(between_form(sheet))
        return
    print_lines(between_games_and_search_lines.between_lines(sheet, between_note(over=over)))


@match_command.command(
    "compare",
    short_help="Compare the logs of two observers.",
    epilog="Example: goodlength match compare demo --with helper.json",
)
@click.argument("match_id")
@click.option("--first", metavar="OBSERVER", help="First observer (default: the observer of the match).")
@click.option(
    "--second", metavar="OBSERVER", help="Second observer (default: the other one, if there are two)."
)
@click.option(
    "--with",
    "with_file",
    type=existing_file,
    metavar="FILE",
    help="Another person's log of this match, exported as .json.",
)
@click.option(
    "--save-as",
    "keep_as",
    cls=RenamedOption,
    earlier=("--keep-as",),
    metavar="OBSERVER",
    help="With --with: save that log too, under this observer's name.",
)
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
    """Compare the logs of two observers, question by question, and show where they differ."""
    from goodlength.tasks.match import observer_comparison as agreeing
    from goodlength.tasks.match.lazy_match import open_match

    if keep_as is not None and with_file is None:
        raise click.UsageError("--save-as needs the log to save: name its file with --with.")
    with opened(library_folder) as library:
        if keep_as is not None and with_file is not None:
            print_note(
                f"{agreeing.add_layer(library, match_id, with_file, keep_as)} answers saved as {keep_as}."
            )
            with_file, second = None, keep_as.strip()
        found = agreeing.compare_observers(open_match(library, match_id), first, second, with_file=with_file)
    if as_json:
        emit(agree_form(found))
        return
    print_lines(agree_lines(found))


@match_command.command(
    "draft",
    short_help="Draft the winners of the detected rallies.",
    epilog='Example: goodlength match draft demo --scores "11-8 7-11"',
)
@click.argument("match_id")
@click.option(
    "--scores",
    metavar="SCORES",
    help='Game scores if you know them, player 1 first, such as "11-8 6-11"; saved for next time.',
)
@click.option("--accept", is_flag=True, help="Add the draft to the sheet.")
@click.option("--undo", "take_back", is_flag=True, help="Remove an accepted draft from the sheet.")
@click.option("--take-back", "take_back_too", is_flag=True, hidden=True, help="As --undo.")
@as_json
@library_option
def draft(
    match_id: str,
    scores: str | None,
    accept: bool,
    take_back: bool,
    take_back_too: bool,
    as_json: bool,
    library_folder: Path | None,
) -> None:
    """Draft the winners of the detected rallies from who served. Nothing counts until you accept it."""
    from goodlength import tasks

    with opened_match(library_folder, match_id) as match:
        if take_back or take_back_too:
            tasks.withdraw_draft(match)
            return print_note("The draft was removed from the sheet.")
        drafted, names = tasks.draft_match(match, scores), match.names
        if accept:
            tasks.accept_draft(match)
    if as_json:
        return emit(draft_form(drafted))
    print_lines(match_findings_and_plan_lines.draft_lines(drafted, names))
    return print_note("Added to the sheet." if accept else drafted.words)


@match_command.command("export", epilog="Example: goodlength match export demo --to demo.csv")
@click.argument("match_id")
@click.option(
    "--to",
    "target",
    required=True,
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="The file to write: .json (everything), .csv (a table) or .vtt (chapters for a video player).",
)
@click.option("--shots", is_flag=True, help="With .csv: one line for each shot instead of each rally.")
@library_option
def export(match_id: str, target: Path, shots: bool, library_folder: Path | None) -> None:
    """Export a match to a file. The ending of the file's name chooses the format."""
    from goodlength import tasks
    from goodlength.tasks.playback import drawings_left_out

    with opened(library_folder) as library:
        tasks.export_match(library, match_id, target, shots=shots)
        left_out = drawings_left_out(library, match_id) if target.suffix.lower() == ".json" else ""
    if left_out:
        print_note(f"Drawings are not in it. {left_out}")
    print_note(f"Saved: {target}")


@match_command.command("import", epilog="Example: goodlength match import sheet.csv --dry-run")
@click.argument("file", type=existing_file)
@click.option("--dry-run", is_flag=True, help="Show what would be imported, and save nothing.")
@as_json
@library_option
def bring_in(file: Path, dry_run: bool, as_json: bool, library_folder: Path | None) -> None:
    """Import a match from a .json or .csv file."""
    from goodlength import tasks

    with opened(library_folder) as library:
        imported = tasks.import_match(library, file, dry_run=dry_run)
    if as_json:
        emit(imported_form(imported))
        return
    print_lines(imported_lines(imported))


keep_old_verb(match_command, "between", "interval")
keep_old_verb(match_command, "agree", "compare")
