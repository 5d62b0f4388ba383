"""`goodlength show ...`: clips, reels, two serves side by side, stills."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from goodlength.cli.terminal.shared_options import (
    as_json,
    emit,
    existing_file,
    keep_old_verb,
    library_option,
    opened,
    opened_match,
    print_note,
    progress,
)
from goodlength.cli.terminal.time_arguments import Seconds
from goodlength.forms.command_results_json import cut_lines
from goodlength.forms.footage.serve_anticipation_json import disguise_form, pressure_words


@click.group("show", epilog="Example: goodlength show clip match.mp4 --from 61.2 --to 70 --out lob.mp4")
def show_command() -> None:
    """Clips, highlights, stills, side by side."""


@show_command.command(
    "clip", epilog="Example: goodlength show clip match.mp4 --from 1:01.2 --to 1:10 --out lob.mp4"
)
@click.argument("file", type=existing_file)
@click.option("--from", "from_s", required=True, type=Seconds(), help="Start: seconds, or 1:01.2.")
@click.option("--to", "to_s", required=True, type=Seconds(), help="End: seconds, or 1:10.")
@click.option("--out", required=True, type=click.Path(path_type=Path), help="The clip to write, .mp4.")
@click.option("--cover-heads", is_flag=True, help="Hide all faces, if somebody has not agreed to clips.")
@library_option
def clip(
    file: Path, from_s: float, to_s: float, out: Path, cover_heads: bool, library_folder: Path | None
) -> None:
    """Cut a clip exactly to the frame, from the original, without location and device data.

    goodlength does not know who is in a file named by its path: make sure that everybody seen has agreed.
    """
    from goodlength import tasks

    with progress("clip") as report:
        made = tasks.cut_clip(
            file, from_s, to_s, out, report, library_folder=library_folder, covered=cover_heads
        )
    for line in cut_lines(made):
        print_note(line)


def _without_finding(
    ctx: click.Context, _param: click.Parameter, numbers: tuple[int, ...]
) -> tuple[int, ...]:
    if numbers and ctx.params.get("finding"):
        raise click.UsageError("Name rallies by their numbers, or a finding with --finding; not both.")
    return numbers


def _rallies(command: Callable[..., Any]) -> Callable[..., Any]:
    """A match, its rallies by number, a finding instead, and the file to write."""
    for add in (
        library_option,
        as_json,
        click.option("--out", required=True, type=click.Path(path_type=Path), help="The file to write."),
        click.option(
            "--cover-heads", is_flag=True, help="Hide all faces, if somebody has not agreed to clips."
        ),
        click.option(
            "--finding",
            help="Use the rallies behind this finding, by its key, instead of numbers.",
        ),
        click.argument("numbers", metavar="[RALLY]...", nargs=-1, type=int, callback=_without_finding),
        click.argument("match_id"),
    ):
        command = add(command)
    return command


@show_command.command("reel", epilog="Example: goodlength show reel demo 4 12 17 --out reel.mp4")
@click.option("--every", is_flag=True, help="All rallies with a time, pauses cut.")
@click.option(
    "--slower",
    type=click.Choice(["1", "2", "4", "8"]),
    default="1",
    show_default=True,
    help="Slow motion factor; removes the sound.",
)
@_rallies
def reel(
    match_id: str,
    numbers: tuple[int, ...],
    finding: str | None,
    cover_heads: bool,
    out: Path,
    every: bool,
    slower: str,
    as_json: bool,
    library_folder: Path | None,
) -> None:
    """Highlights: up to five rallies as one video, captions beside it, by their numbers in `match show`.

    Without numbers: the rallies behind --finding, or else those flagged with K.
    """
    from goodlength import tasks

    with opened_match(library_folder, match_id) as match, progress("reel") as report:
        now = tasks.InlineStarter(out, report)
        if every and not numbers:
            chosen = [rally.key for rally in match.match.rallies]
        else:
            chosen = tasks.chosen_rallies(match, numbers, finding)
        speed = int(slower)
        tasks.start_reel(match, chosen, now, every=every, covered=cover_heads, slower=speed)
    _print_result(now.result, as_json)


@show_command.command("side-by-side", epilog="Example: goodlength show side-by-side demo 4 12 --out two.mp4")
@click.option(
    "--later",
    type=float,
    default=0.0,
    help="Move the contact of the second serve later, by this many seconds.",
)
@click.option("--mirrored", is_flag=True, help="Mirror the second, to compare left and right box.")
@click.option(
    "--slower",
    type=click.Choice(["1", "2", "4", "8"]),
    default="1",
    show_default=True,
    help="Slow motion factor; removes the sound.",
)
@_rallies
def side_by_side(
    match_id: str,
    numbers: tuple[int, ...],
    finding: str | None,
    cover_heads: bool,
    out: Path,
    later: float,
    mirrored: bool,
    slower: str,
    as_json: bool,
    library_folder: Path | None,
) -> None:
    """Two serves side by side, aligned at contact."""
    from goodlength import tasks

    with opened_match(library_folder, match_id) as match, progress("side by side") as report:
        now = tasks.InlineStarter(out, report)
        chosen = tasks.chosen_rallies(match, numbers, finding)
        tasks.start_pair(
            match,
            chosen,
            now,
            nudge_us=(0, round(later * 1e6)),
            mirrored=mirrored,
            slower=int(slower),
            covered=cover_heads,
        )
    _print_result(now.result, as_json)


@show_command.command("stills", epilog="Example: goodlength show stills demo 4 12 --out stills.png")
@_rallies
def stills(
    match_id: str,
    numbers: tuple[int, ...],
    finding: str | None,
    cover_heads: bool,
    out: Path,
    as_json: bool,
    library_folder: Path | None,
) -> None:
    """Stills before, at and after contact of up to four serves, on one sheet."""
    from goodlength import tasks
    from goodlength.show.draw.font_metrics import font_file

    with opened_match(library_folder, match_id) as match, progress("stills") as report:
        now = tasks.InlineStarter(out, report)
        chosen = tasks.chosen_rallies(match, numbers, finding)
        tasks.start_stills(match, chosen, now, str(font_file()), covered=cover_heads)
    _print_result(now.result, as_json)


@show_command.command("disguise", epilog="Example: goodlength show disguise demo --kind lob --find")
@click.argument("match_id")
@click.option("--kind", default="", help="Kind of serve (default: all kinds).")
@click.option(
    "--whose", default="coached", show_default=True, help="Player: a (first), b (second) or coached."
)
@click.option(
    "--find", is_flag=True, help="Find the body points at the serves of this match first; takes a while."
)
@click.option(
    "--joints", type=existing_file, help="Use a file of body points (.npz) instead: joints, times_s, of_kind."
)
@as_json
@library_option
def tell_command(
    match_id: str,
    kind: str,
    whose: str,
    find: bool,
    joints: Path | None,
    as_json: bool,
    library_folder: Path | None,
) -> None:
    """How early the serve can be read from the server's body, and the body of the receiver at contact.

    Twenty serves of a kind and twenty others with body points are needed; if there are fewer, it says so.
    The file of --joints holds joints (serves, moments, 17, 2), times_s (moments), of_kind (serves) and, if
    known, match, box and place.
    """
    from goodlength.record.rally_sentences import kind_words
    from goodlength.tasks.findings import serve_anticipation_cues
    from goodlength.tasks.match.lazy_match import open_match

    if joints is not None:
        cues = [serve_anticipation_cues.disguise_from_file(joints, kind or "serve", "the server")]
        pressed: list[serve_anticipation_cues.ReceiverPressure] = []
        words: list[str] = []
    else:
        with opened(library_folder) as library:
            opened_one = open_match(library, match_id)
            if find:
                with progress("body points") as report:
                    serve_anticipation_cues.find_joints(opened_one, whose, report)
            matches = serve_anticipation_cues.matches_of_server(opened_one, whose)
            cues, pressed = (
                serve_anticipation_cues.disguise_of(matches, kind),
                serve_anticipation_cues.pressure_of(matches),
            )
            words = pressure_words(pressed, kind_words(library.kinds()))
    if as_json:
        emit(
            {
                "kinds": [disguise_form(cue) for cue in cues],
                "receiver": [vars(pressure) for pressure in pressed],
            }
        )
        return
    for line in (line for cue in cues for line in cue.words):
        click.echo(line)
    for line in words:
        click.echo(line)


def _print_result(made: dict[str, Any], as_json: bool) -> None:
    if as_json:
        emit(made)
        return
    print_note(f"Saved: {made['path']}. {made.get('words', '')}".rstrip())
    if made.get("captions"):
        print_note(f"Captions: {made['captions']}")


keep_old_verb(show_command, "tell", "disguise")
