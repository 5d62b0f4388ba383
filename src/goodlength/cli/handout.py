"""`goodlength handout ...`: the one-page handout for the player."""

from __future__ import annotations

from pathlib import Path

import click

from goodlength.cli.terminal.shared_options import library_option, opened_match, print_note


@click.group("handout", epilog="Example: goodlength handout make demo --to .")
def handout_command() -> None:
    """The one-page handout for the player."""


@handout_command.command(
    "make",
    short_help="Create the handout: one A4 page, as PDF and HTML.",
    epilog="Example: goodlength handout make demo --to handouts",
)
@click.argument("match_id")
@click.option(
    "--to",
    "folder",
    required=True,
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    help="The folder to write into.",
)
@click.option("--turning-points", "turning", is_flag=True, help="Add the chart of turning points.")
@click.option("--drills", "week", is_flag=True, help="Add the first drills of the player's latest plan.")
@click.option("--stills", is_flag=True, help="Add stills from the clips chosen for the player.")
@click.option("--back", is_flag=True, help="Continue on the back where one page is too small.")
@click.option("--only-watched", is_flag=True, help="Count only rallies that a person answered or checked.")
@library_option
def make(
    match_id: str,
    folder: Path,
    turning: bool,
    week: bool,
    stills: bool,
    back: bool,
    only_watched: bool,
    library_folder: Path | None,
) -> None:
    """Create the handout: one A4 page as PDF and as one HTML file that opens anywhere.

    What has no room on the page is left out, and the command says so.
    """
    from goodlength import tasks

    edits = tasks.HandoutEdits(
        stills=stills, week=week, turning=turning, back=back, only_watched=only_watched
    )
    with opened_match(library_folder, match_id) as match:
        made = tasks.make_handout(match, folder, edits)
    click.echo(made.pdf)
    click.echo(made.html)
    if turning and not made.turning:
        print_note("There is no room for the chart of turning points on this page.")
    if stills and not made.stills:
        print_note("There is no room for the stills on this page.")
    if week and not made.drills:
        print_note("No plan is saved for this player yet, so the page shows no drills.")
