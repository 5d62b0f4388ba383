"""`goodlength findings ...`: what the record shows."""

from __future__ import annotations

from pathlib import Path

import click

from goodlength.cli.shared import as_json, emit, library_option, opened


@click.group("findings", epilog="Example: goodlength findings show demo")
def findings_command() -> None:
    """What the record shows, and how sure it is."""


@findings_command.command("show", epilog="Example: goodlength findings show demo --json")
@click.argument("match_id")
@click.option("--of", "whose", type=click.Choice(["coached", "opponent"]), default="coached")
@as_json
@library_option
def show(match_id: str, whose: str, as_json: bool, library_folder: Path | None) -> None:
    """Findings of a match with their counts, ranges and grades."""
    from goodlength import tasks

    with opened(library_folder) as library:
        found = tasks.find(library, match_id, whose=whose)
    if as_json:
        emit(tasks.forms.findings(found))
        return
    for line in tasks.forms.findings_lines(found):
        click.echo(line)
