"""`goodlength court ...`: courts of play and their calibration."""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from goodlength.cli.terminal.renamed_option_aliases import RenamedOption
from goodlength.cli.terminal.shared_options import (
    as_json,
    ball_temperature_option,
    dot_option,
    emit,
    library_option,
    opened,
    print_lines,
    print_note,
)
from goodlength.forms.footage.bounce_calibration_json import calibration_form

if TYPE_CHECKING:
    from goodlength.ball.model.ball_and_court_calibration_result import Calibration, Learnt


@click.group("court", epilog="Example: goodlength court list")
def court_command() -> None:
    """Courts: walls, floor, temperature, and how the ball bounces there."""


@court_command.command(
    "add",
    short_help="Add a court: walls, floor, tin, altitude, temperature.",
    epilog='Example: goodlength court add "Tideway court 2" --altitude 35',
)
@click.argument("name")
@click.option(
    "--walls",
    metavar="MATERIAL",
    default="plaster",
    show_default=True,
    help="Front and side walls: plaster, panel or glass.",
)
@click.option(
    "--back",
    metavar="MATERIAL",
    default="glass",
    show_default=True,
    help="Back wall: plaster, panel or glass.",
)
@click.option("--floor", metavar="KIND", default="sprung", show_default=True, help="Floor: sprung or hard.")
@click.option(
    "--tin",
    metavar="KIND",
    default="standard",
    show_default=True,
    help="Tin: standard (48 cm) or tour (43 cm).",
)
@click.option(
    "--altitude",
    type=float,
    metavar="METRES",
    default=0.0,
    show_default=True,
    help="Height above sea level, metres.",
)
@click.option(
    "--temperature",
    "room",
    cls=RenamedOption,
    earlier=("--room",),
    type=float,
    metavar="DEGREES",
    default=20.0,
    show_default=True,
    help="Usual temperature on court, °C.",
)
@library_option
def add(
    name: str,
    walls: str,
    back: str,
    floor: str,
    tin: str,
    altitude: float,
    room: float,
    library_folder: Path | None,
) -> None:
    """Add a court: its walls, floor, tin, altitude and temperature."""
    from goodlength import tasks
    from goodlength.ball import Court

    with opened(library_folder) as library:
        made = tasks.add_court(
            library, name, Court(walls, back, floor, tin), altitude_m=altitude, room_c=room
        )
    print_note(f"Saved: {made.id} ({made.words}).")


@court_command.command(
    "list",
    short_help="List the courts, and whether each is calibrated.",
    epilog="Example: goodlength court list --json",
)
@as_json
@library_option
def listed(as_json: bool, library_folder: Path | None) -> None:
    """List the courts of the library, and whether each is calibrated."""
    from goodlength import tasks

    with opened(library_folder) as library:
        found = tasks.courts(library)
    if as_json:
        emit([_form(court_record) for court_record in found])
        return
    for record in found:
        click.echo(f"{record.id}: {record.name}, {record.words}")
    if not found:
        print_note("No court is saved yet. Add one with: goodlength court add NAME")


@court_command.command(
    "calibrate",
    short_help="Calibrate how the ball bounces on a court.",
    epilog="Example: goodlength court calibrate tideway-court-2 bounces.json --warmth warm",
)
@click.argument("court_id")
@click.argument("recordings", metavar="FILE", type=click.Path(path_type=Path))
@dot_option
@ball_temperature_option("warm")
@click.option(
    "--celsius",
    type=float,
    metavar="DEGREES",
    help="Measured temperature of the ball, °C (default: worked out from --warmth).",
)
@as_json
@library_option
def calibrate(
    court_id: str,
    recordings: Path,
    dot: str,
    warmth: str,
    celsius: float | None,
    as_json: bool,
    library_folder: Path | None,
) -> None:
    """Calibrate how the ball bounces on a court, from a JSON file of drops and hits, and save it.

    In the file, "drops" is a list of {"height_m", "thuds_s"}, and "hits" a list of {"contact_m", "wall_s",
    "floor_s", "second_s", "wall_mark_m", "side_mark_m", "landing_m"}; leave out what you do not have.
    Times are in seconds, those of a hit from its contact on; `footage bounces` lists the times of the sounds.
    "contact_m" is [x, y, z], and so is "phone_m", the place of the phone; "wall_mark_m" is [x, z],
    "side_mark_m" [y, z], "landing_m" [x, y]: metres from the left wall (x), from the front wall (y), up (z).
    """
    from goodlength import tasks
    from goodlength.ball import Ball

    drops, hits, phone = tasks.recordings_from(recordings)
    with opened(library_folder) as library:
        found = tasks.calibrate_court(
            library, court_id, drops, hits, Ball(dot, warmth, celsius), phone_m=phone
        )
    if as_json:
        emit(calibration_form(found))
        return
    print_lines(_calibration_lines(found))


def _calibration_lines(found: Calibration) -> Iterator[str]:
    """Yield each number with its ranges, why these are of 90%, then all in a sentence."""
    for row in found.learnt():
        yield (
            f"{row.words}: {row.value:.3f} (90% range {row.low:.3f} to {row.high:.3f}; assumed before: "
            f"{row.before_low:.3f} to {row.before_high:.3f}); {_how_known(row)}."
        )
    yield "These are 90% ranges, not 95% as elsewhere: 90% is the level their tests measured."
    yield found.words()


def _how_known(row: Learnt) -> str:
    """Return whether a number was measured; if not, whether it is still the usual value."""
    if row.learnt:
        return "measured"
    usual = (row.before_low + row.before_high) / 2.0
    unmoved = math.isclose(row.value, usual, abs_tol=0.0005)  # as far as it is printed
    return "not enough data, usual value used" if unmoved else "not enough data, only partly measured"


def _form(item: Any) -> dict[str, Any]:

    built = item.built
    return {
        "id": item.id,
        "name": item.name,
        "walls": built.walls,
        "back": built.back,
        "floor": built.floor,
        "tin": built.tin,
        "altitude_m": item.altitude_m,
        "room_c": item.room_c,
        "calibration": None if item.calibration is None else calibration_form(item.calibration),
    }
