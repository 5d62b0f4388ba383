"""`goodlength library ...`: the library folder."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

import click

from goodlength.cli.shared import as_json, emit, library_option, opened, tell


@click.group("library", epilog="Example: goodlength library check")
def library_command() -> None:
    """The library folder."""


@library_command.command("check", epilog="Example: goodlength library check --json")
@as_json
@library_option
def check(as_json: bool, library_folder: Path | None) -> None:
    """Look the library over: its file, and footage and clips that are gone."""
    from goodlength import tasks

    with opened(library_folder) as library:
        state = tasks.library_check(library)
    if as_json:
        emit(asdict(state))
        return
    click.echo(f"{state.folder}: {state.players} players, {state.matches} matches")
    for problem in state.problems:
        click.echo(problem)
    tell("All is well." if not state.problems else f"{len(state.problems)} to look at.")
