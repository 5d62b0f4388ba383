"""`goodlength show ...`: clips, highlights, two serves side by side, stills."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from goodlength.cli.terminal.renamed_option_aliases import RenamedOption
from goodlength.cli.terminal.shared_options import (
    as_json,
    emit,
    existing_file,
    keep_old_verb,
    library_option,
    opened,
    opened_match,
    print_lines,
    print_note,
    progress,
)
from goodlength.cli.terminal.time_arguments import Seconds
from goodlength.forms.footage.serve_anticipation_json import disguise_form, pressure_words
from goodlength.forms.match_rally_and_probe_json import cut_lines

if TYPE_CHECKING:
    from goodlength.tasks.match.lazy_match import OpenMatch

hide_faces = click.option(
    "--hide-faces",
    "cover_heads",
    cls=RenamedOption,
    earlier=("--cover-heads",),
    is_flag=True,
    help="Hide all faces, if somebody has not agreed to clips.",
)
slow_motion = click.option(
    "--slower",
    type=click.Choice(["1", "2", "4", "8"]),
    default="1",
    show_default=True,
    help="Slow motion: how many times slower; from 2 on without sound.",
)


@click.group("show", epilog="Example: goodlength show clip match.mp4 --from 61.2 --to 70 --out lob.mp4")
def show_command() -> None:
    """Clips, highlights, side by side, stills, disguise."""


@show_command.command(
    "clip",
    short_help="Cut a clip, exact to the frame.",
    epilog="Example: goodlength show clip match.mp4 --from 1:01.2 --to 1:10 --out lob.mp4",
)
@click.argument("file", type=existing_file)
@click.option(
    "--from",
    "from_s",
    required=True,
    type=Seconds(),
    help="Start in the video, such as 61.2 (seconds) or 1:01.2.",
)
@click.option(
    "--to", "to_s", required=True, type=Seconds(), help="End in the video, such as 70 (seconds) or 1:10."
)
@click.option(
    "--out", required=True, type=click.Path(path_type=Path), metavar="FILE", help="The .mp4 file to write."
)
@hide_faces
@library_option
def clip(
    file: Path, from_s: float, to_s: float, out: Path, cover_heads: bool, library_folder: Path | None
) -> None:
    """Cut a clip exactly to the frame, from the original, without location and device data.

    goodlength does not know who is in a file named by its path: make sure that everybody seen has agreed.
    """
    from goodlength import tasks

    with progress("Clip") as report:
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


def _not_shown(match: OpenMatch, keys: Sequence[str], most: int | None) -> Iterator[str]:
    """Yield what is left out of a video: rallies without a time, and those over the number that it holds."""
    by_key = {rally.key: rally for rally in match.match.rallies}
    asked = [by_key[key] for key in dict.fromkeys(keys) if key in by_key]
    timed = [rally for rally in asked if rally.start_us is not None and rally.end_us is not None]
    if most is not None and timed and len(timed) < len(asked):
        untimed = ", ".join(str(rally.n) for rally in asked if rally not in timed)
        yield f"Left out, because no start and end time is set: rally {untimed}."
    if most is not None and len(timed) > most:
        left = ", ".join(str(rally.n) for rally in timed[most:])
        yield f"Highlights hold at most {most} rallies. Left out: rally {left}. --all takes every rally."


def _rallies(command: Callable[..., Any], ending: str = ".mp4") -> Callable[..., Any]:
    """A match, its rallies by number, a finding instead, and the file to write, with its ending."""
    for add in (
        library_option,
        as_json,
        click.option(
            "--out",
            required=True,
            type=click.Path(path_type=Path),
            metavar="FILE",
            help=f"The {ending} file to write.",
        ),
        hide_faces,
        click.option(
            "--finding",
            metavar="KEY",
            help="Instead of numbers: the rallies behind this finding, by its key in `findings show --json`.",
        ),
        click.argument("numbers", metavar="[RALLY]...", nargs=-1, type=int, callback=_without_finding),
        click.argument("match_id"),
    ):
        command = add(command)
    return command


@show_command.command(
    "highlights",
    short_help="Put up to five rallies into one video.",
    epilog="Example: goodlength show highlights demo 4 12 17 --out highlights.mp4",
)
@click.option(
    "--all",
    "every",
    cls=RenamedOption,
    earlier=("--every",),
    is_flag=True,
    help="All rallies with a time, without the pauses between them.",
)
@slow_motion
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
    """Put up to five rallies into one video, with a file of captions. RALLY is a number in `match show`.

    Without numbers: the rallies behind --finding, else the rallies flagged for clips.
    """
    from goodlength import tasks
    from goodlength.tasks.sharing.video_export_jobs import MOST_CLIPS

    with opened_match(library_folder, match_id) as match, progress("Highlights") as report:
        now = tasks.InlineStarter(out, report)
        if every and not numbers:
            chosen = [rally.key for rally in match.match.rallies]
        else:
            chosen = tasks.chosen_rallies(match, numbers, finding)
        speed = int(slower)
        notes = list(_not_shown(match, chosen, None if every else MOST_CLIPS))
        tasks.start_reel(match, chosen, now, every=every, covered=cover_heads, slower=speed)
    for note in notes:
        print_note(note)
    _print_result(now.result, as_json)


@show_command.command(
    "side-by-side",
    short_help="Put two serves side by side in one video.",
    epilog="Example: goodlength show side-by-side demo 4 12 --out two.mp4",
)
@click.option(
    "--later",
    type=float,
    metavar="SECONDS",
    default=0.0,
    help="Correct the moment of contact of the second serve: seconds later; negative is earlier.",
)
@click.option(
    "--mirrored", is_flag=True, help="Mirror the second serve, to compare the left and the right box."
)
@slow_motion
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
    """Put two serves side by side in one video, aligned at contact. RALLY is a number in `match show`."""
    from goodlength import tasks

    with opened_match(library_folder, match_id) as match, progress("Side by side") as report:
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


@show_command.command(
    "stills",
    short_help="Put stills of up to four serves on one sheet.",
    epilog="Example: goodlength show stills demo 4 12 --out stills.png",
)
@partial(_rallies, ending=".png")
def stills(
    match_id: str,
    numbers: tuple[int, ...],
    finding: str | None,
    cover_heads: bool,
    out: Path,
    as_json: bool,
    library_folder: Path | None,
) -> None:
    """Put stills of up to four serves on one sheet: before, at and after contact.

    RALLY is a number in `match show`.
    """
    from goodlength import tasks
    from goodlength.show.draw.font_metrics import font_file

    with opened_match(library_folder, match_id) as match, progress("Stills") as report:
        now = tasks.InlineStarter(out, report)
        chosen = tasks.chosen_rallies(match, numbers, finding)
        tasks.start_stills(match, chosen, now, str(font_file()), covered=cover_heads)
    _print_result(now.result, as_json)


@show_command.command(
    "disguise",
    short_help="Show how early a serve can be read.",
    epilog="Example: goodlength show disguise demo --kind lob --find",
)
@click.argument("match_id")
@click.option(
    "--kind",
    default="",
    show_default=False,
    metavar="KIND",
    help="Kind of serve by its id, such as lob or hard (default: all kinds).",
)
@click.option(
    "--player",
    "whose",
    cls=RenamedOption,
    earlier=("--whose",),
    default="coached",
    show_default=False,
    metavar="PLAYER",
    help="Player who serves, by name or id (default: the player you coach).",
)
@click.option(
    "--find", is_flag=True, help="First find the body points at the serves of this match; takes minutes."
)
@click.option(
    "--joints",
    type=existing_file,
    metavar="FILE",
    help="Use a file of body points (.npz) instead: joints, times_s, of_kind.",
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
    """Show how early a serve can be read from the server's body, and how the receiver stands at contact.

    It needs body points at twenty serves of the kind and at twenty others; if there are fewer, it says so.

    The file of --joints holds the arrays joints (serves, moments, 17, 2), times_s (moments), of_kind (serves)
    and, if known, match, box and place.
    """
    from goodlength.record.rally_sentences import kind_words
    from goodlength.tasks.findings import serve_kind_disclosure_time
    from goodlength.tasks.match.lazy_match import open_match

    if joints is not None:
        cues = [serve_kind_disclosure_time.disguise_from_file(joints, kind or "serve", "the server")]
        pressed: list[serve_kind_disclosure_time.ReceiverPressure] = []
        words: list[str] = []
    else:
        with opened(library_folder) as library:
            opened_one = open_match(library, match_id)
            if find:
                with progress("Body points") as report:
                    serve_kind_disclosure_time.find_joints(opened_one, whose, report)
            matches = serve_kind_disclosure_time.matches_of_server(opened_one, whose)
            cues, pressed = (
                serve_kind_disclosure_time.disguise_of(matches, kind),
                serve_kind_disclosure_time.pressure_of(matches),
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
    print_lines(line for cue in cues for line in cue.words)
    print_lines(words)


def _print_result(made: dict[str, Any], as_json: bool) -> None:
    if as_json:
        emit(made)
        return
    print_note(f"Saved: {made['path']}. {made.get('words', '')}".rstrip())
    if made.get("captions"):
        print_note(f"Captions: {made['captions']}")


keep_old_verb(show_command, "reel", "highlights")
keep_old_verb(show_command, "tell", "disguise")
