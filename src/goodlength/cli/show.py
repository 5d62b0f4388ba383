"""`goodlength show ...`: clips."""

from __future__ import annotations

from pathlib import Path

import click

from goodlength.cli.shared import existing_file, library_option, progress, tell
from goodlength.cli.times import Seconds


@click.group("show", epilog="Example: goodlength show clip match.mp4 --from 61.2 --to 70 --out lob.mp4")
def show_command() -> None:
    """Clips from footage."""


@show_command.command(
    "clip", epilog="Example: goodlength show clip match.mp4 --from 1:01.2 --to 1:10 --out lob.mp4"
)
@click.argument("file", type=existing_file)
@click.option("--from", "from_s", required=True, type=Seconds(), help="Seconds, or 1:01.2")
@click.option("--to", "to_s", required=True, type=Seconds(), help="Seconds, or 1:10")
@click.option("--out", required=True, type=click.Path(path_type=Path), help="The clip to write, .mp4")
@library_option
def clip(file: Path, from_s: float, to_s: float, out: Path, library_folder: Path | None) -> None:
    """Cut a clip exactly to the frame, from the original, without its place and device data.

    Who is seen in the file is for you to know: a file named by its path carries no consent record.
    """
    from goodlength import tasks

    with progress("clip") as report:
        made = tasks.cut_clip(file, from_s, to_s, out, report, library_folder=library_folder)
    tell(f"Written: {made}")
