"""`goodlength library ...`: the library folder."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Any

import click

from goodlength.cli.terminal.renamed_option_aliases import RenamedOption
from goodlength.cli.terminal.shared_options import (
    as_json,
    emit,
    library_option,
    opened,
    place_of,
    print_note,
    progress,
)


@click.group("library", epilog="Example: goodlength library check")
def library_command() -> None:
    """The library folder: check, backup, restore, move."""


@library_command.command(
    "check",
    short_help="Check the library for damaged rows and missing files.",
    epilog="Example: goodlength library check --json",
)
@click.option(
    "--save-to",
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    help="For a damaged library: save what can be read into a new folder.",
)
@as_json
@library_option
def check(save_to: Path | None, as_json: bool, library_folder: Path | None) -> None:
    """Check the library: damaged rows, and videos and clips that are missing."""
    from goodlength import tasks
    from goodlength.tasks.library.library_opening_and_check import save_what_can_be_read

    if save_to is not None:
        for line in save_what_can_be_read(place_of(library_folder), save_to):
            click.echo(line)
        return
    with opened(library_folder) as library:
        state = tasks.library_check(library)
    if as_json:
        emit(asdict(state))
        return
    click.echo(f"{state.folder}: {_counts(state.players, state.matches)}.")
    for problem in state.problems:
        click.echo(problem)
    print_note("No problems found." if not state.problems else f"Problems found: {len(state.problems)}.")


@library_command.command("backup", epilog="Example: goodlength library backup /media/stick")
@click.argument("target", metavar="FOLDER|FILE.zip", type=click.Path(path_type=Path))
@click.option(
    "--with-videos",
    "films",
    cls=RenamedOption,
    earlier=("--with-films",),
    is_flag=True,
    help="Include uploaded videos, clips and browser-friendly copies (default: without them).",
)
@library_option
def backup(target: Path, films: bool, library_folder: Path | None) -> None:
    """Back up the library into one .zip file and check it. The page may be open meanwhile."""
    from goodlength import tasks

    with opened(library_folder) as library, progress("Backing up") as report:
        made = tasks.back_up(library, target, films=films, progress=report)
    click.echo(made.words)


@library_command.command("restore", epilog="Example: goodlength library restore backup.zip new-folder")
@click.argument("archive", metavar="BACKUP.zip", type=click.Path(path_type=Path))
@click.argument("folder", type=click.Path(path_type=Path))
def restore(archive: Path, folder: Path) -> None:
    """Restore a back-up into a new folder. Nothing is overwritten."""
    from goodlength import tasks

    _print_result(tasks.restore(archive, folder))


@library_command.command("move", epilog="Example: goodlength library move /media/disk/goodlength")
@click.argument("folder", type=click.Path(path_type=Path))
@library_option
def move(folder: Path, library_folder: Path | None) -> None:
    """Move the library with all its files. The old folder is renamed and stays."""
    from goodlength import tasks

    with opened(library_folder) as library, progress("Moving") as report:
        moved = tasks.move_library(library, folder, progress=report)
    _print_result(moved)


def _counts(players: int, matches: int) -> str:
    """Return how many players and matches there are, in words."""
    return (
        f"{'1 player' if players == 1 else f'{players} players'}, "
        f"{'1 match' if matches == 1 else f'{matches} matches'}"
    )


def _print_result(found: Any) -> None:
    click.echo(f"{found.folder}: {_counts(found.players, found.matches)}.")
    for problem in found.problems:
        click.echo(problem)
    print_note(f"To work with it: goodlength --library {found.folder} open, or set GOODLENGTH_LIBRARY to it.")
