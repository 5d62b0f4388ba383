"""`goodlength serve ...`: serves simulated by the flight model, and where to aim them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from goodlength.cli.terminal.renamed_option_aliases import RenamedChoice, RenamedOption
from goodlength.cli.terminal.serve_flight_and_aim_lines import aim_lines, flight_lines, way_lines
from goodlength.cli.terminal.shared_options import (
    as_json,
    ball_temperature_option,
    dot_option,
    emit,
    keep_old_verb,
    library_option,
    opened,
    player_id_of,
    print_lines,
)

if TYPE_CHECKING:
    from goodlength.aim.serve_scatter_on_front_wall import AimScatter
    from goodlength.ball import PlayConditions


class Triple(click.ParamType[tuple[float, float, float]]):
    """Three numbers with commas between them, such as 4.6,5.8,0.8."""

    name = "x,y,z"

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[float, float, float]:
        """Three numbers, or a usage error that says what would be accepted."""
        if isinstance(value, tuple):
            return value
        try:
            x, y, z = (float(part) for part in str(value).split(","))
        except ValueError:
            self.fail(f"{value!r} is not three numbers. Write them with commas: 4.6,5.8,0.8", param, ctx)
        return x, y, z


class NumberPair(click.ParamType[tuple[float, float]]):
    """Two numbers with a comma between them, such as 3.1,4.0."""

    name = "n,n"

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[float, float]:
        """Two numbers, or a usage error that says what would be accepted."""
        if isinstance(value, tuple):
            return value
        try:
            x, z = (float(part) for part in str(value).split(","))
        except ValueError:
            self.fail(f"{value!r} is not two numbers. Write them with a comma: 3.1,4.0", param, ctx)
        return x, z


class SideSpot(click.ParamType[tuple[str, float, float]]):
    """A side wall and two numbers, such as left,6.8,1.6."""

    name = "wall,y,z"

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[str, float, float]:
        """Wall and place, or a usage error that says what would be accepted."""
        try:
            wall, y, z = str(value).split(",")
            return wall.strip(), float(y), float(z)
        except ValueError:
            self.fail(f"{value!r} is not a wall and two numbers. Write them so: left,6.8,1.6", param, ctx)


@click.group("serve", epilog="Example: goodlength serve aim --box right --kind lob")
def serve_command() -> None:
    """Serves: simulate, solve, aim, target."""


box_option = click.option("--box", type=click.Choice(["right", "left"]), required=True, help="Service box.")
kind_option = click.option(
    "--kind",
    required=True,
    metavar="KIND",
    help="Kind of serve: lob, mid-height, hard, body-feet or body-nick.",
)
hand_option = click.option(
    "--hand",
    type=click.Choice(["right", "left"]),
    default="right",
    show_default=True,
    help="Playing hand of the server.",
)
warmth_option = ball_temperature_option("warm")
court_option = click.option(
    "--court",
    metavar="COURT_ID",
    help="Court to use, with its calibration, from `court list` (default: a usual court).",
)
PLACE = "metres from the left wall, from the front wall, and up"
contact_option = click.option(
    "--contact", type=Triple(), help=f"Contact point: {PLACE} (default: the usual place of the kind)."
)


def scatter_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Accuracy of the player, and the cost of a fault."""
    for option in (
        click.option(
            "--fault-cost",
            type=float,
            metavar="NUMBER",
            default=1.0,
            show_default=True,
            help="Cost of a fault, if a serve that meets the goal gains 1.",
        ),
        click.option(
            "--scatter",
            type=Triple(),
            metavar="ACROSS,UP,SPEED",
            help="Scatter (one standard deviation): across and up in metres, and of the speed in m/s.",
        ),
        click.option(
            "--player",
            metavar="PLAYER",
            help="Player whose measured serves or practice give the accuracy, by name or id.",
        ),
        click.option(
            "--level",
            type=RenamedChoice({"beginner": "new", "club": "club", "advanced": "county"}),
            default="club",
            show_default=True,
            help="Accuracy where nothing is measured.",
        ),
        library_option,
        as_json,
    ):
        command = option(command)
    return command


@serve_command.command(
    "simulate",
    short_help="Simulate a serve or another shot.",
    epilog="Example: goodlength serve simulate --box right --kind lob --warmth cold",
)
@click.option(
    "--box", type=click.Choice(["right", "left"]), help="Service box (default: none, for any other shot)."
)
@click.option(
    "--kind",
    metavar="KIND",
    help="Kind of serve, at its usual speed: lob, mid-height, hard, body-feet or body-nick. Or use "
    "--velocity.",
)
@hand_option
@contact_option
@click.option(
    "--velocity",
    type=Triple(),
    help="Launch velocity, m/s: to the right, towards the back wall, and up. Write --velocity=-0.2,-7,2.4.",
)
@click.option(
    "--spin",
    type=Triple(),
    help="With --velocity: spin, radians per second, about the same three directions (default: none).",
)
@dot_option
@warmth_option
@court_option
@library_option
@as_json
def fly(
    box: str | None,
    kind: str | None,
    hand: str,
    contact: tuple[float, float, float] | None,
    velocity: tuple[float, float, float] | None,
    spin: tuple[float, float, float] | None,
    dot: str,
    warmth: str,
    court: str | None,
    library_folder: Path | None,
    as_json: bool,
) -> None:
    """Simulate a serve or another shot: its contacts, where it bounces, whether it is good.

    Give --box and --kind; or --contact and --velocity for a launch of your own.
    """
    from goodlength.forms.flights.flight_json import flown_form

    if (kind is None) == (velocity is None) or (velocity is not None and contact is None):
        raise click.UsageError("Give --kind, or --contact and --velocity of a launch of your own.")
    if kind is not None and (box is None or spin is not None):
        raise click.UsageError("With --kind say the box, --box right or --box left, and no --spin.")
    how = _setting(dot, warmth, court, library_folder)
    form = flown_form(how, box, kind, hand, contact, velocity, spin or (0.0, 0.0, 0.0))
    _say(form, as_json, flight_lines)


@serve_command.command(
    "solve", epilog="Example: goodlength serve solve --contact 4.6,5.6,1.2 --side left,6.8,1.6 --speed 20"
)
@click.option("--contact", type=Triple(), required=True, help=f"Contact point: {PLACE}.")
@click.option(
    "--box", type=click.Choice(["right", "left"]), help="Service box, if it is a serve (default: none)."
)
@click.option(
    "--front",
    type=NumberPair(),
    metavar="X,Z",
    help="Place on the front wall: metres from the left wall, and up.",
)
@click.option(
    "--side", type=SideSpot(), help="Place on a side wall: left or right, metres from the front wall, and up."
)
@click.option(
    "--bounce",
    type=NumberPair(),
    metavar="X,Y",
    help="First bounce: metres from the left wall, and from the front wall.",
)
@click.option("--feet", is_flag=True, help="First bounce at the receiver's feet; needs --box.")
@click.option(
    "--second-bounce",
    "room",
    cls=RenamedOption,
    earlier=("--room",),
    type=float,
    metavar="METRES",
    help="Second bounce: metres off the back wall; negative if it falls short of it.",
)
@click.option(
    "--speed", type=float, metavar="M/S", help="Speed off the racket, m/s (default: searched from 8 to 45)."
)
@dot_option
@warmth_option
@court_option
@library_option
@as_json
def inverse(
    contact: tuple[float, float, float],
    box: str | None,
    front: tuple[float, float] | None,
    side: tuple[str, float, float] | None,
    bounce: tuple[float, float] | None,
    feet: bool,
    room: float | None,
    speed: float | None,
    dot: str,
    warmth: str,
    court: str | None,
    library_folder: Path | None,
    as_json: bool,
) -> None:
    """Find every shot that passes the given places. If there is none, the nearest shot."""
    from goodlength.forms.flights.flight_json import ways_form
    from goodlength.tasks.aim.ball_flight_and_launch_search import launches_for, wanted_places

    how = _setting(dot, warmth, court, library_folder)
    wanted = wanted_places(box, front_m=front, side=side, bounce_m=bounce, feet=feet, room_m=room)
    ways = launches_for(contact, wanted, how, speed_m_s=speed)
    _say(ways_form(ways, box, how), as_json, way_lines)


@serve_command.command(
    "aim",
    short_help="Work out the best target and speed of a serve.",
    epilog="Example: goodlength serve aim --box right --kind lob --level advanced",
)
@box_option
@kind_option
@hand_option
@contact_option
@dot_option
@warmth_option
@court_option
@scatter_options
def aim(
    box: str,
    kind: str,
    hand: str,
    contact: tuple[float, float, float] | None,
    dot: str,
    warmth: str,
    court: str | None,
    fault_cost: float,
    scatter: tuple[float, float, float] | None,
    player: str | None,
    level: str,
    library_folder: Path | None,
    as_json: bool,
) -> None:
    """Work out the best target on the front wall and the best speed, and what becomes of 100 serves."""
    from goodlength.aim.serve_goals import task_of
    from goodlength.forms.flights.aim_json import aim_form
    from goodlength.tasks.aim.serve_aim import aim_serve, contact_of

    task = task_of(kind, box, hand, contact_m=contact_of(contact))
    spread = _scatter(player, level, scatter, library_folder)
    form = aim_form(
        aim_serve(task, _setting(dot, warmth, court, library_folder), spread, fault_cost=fault_cost)
    )
    _say(form, as_json)


@serve_command.command(
    "target",
    short_help="Show what becomes of 100 serves at your own target.",
    epilog="Example: goodlength serve target --box right --kind lob --at 3.1,4.0 --speed 19",
)
@box_option
@kind_option
@hand_option
@contact_option
@click.option(
    "--at",
    type=NumberPair(),
    metavar="X,Z",
    required=True,
    help="Target on the front wall: metres from the left wall, and up.",
)
@click.option("--speed", type=float, metavar="M/S", required=True, help="Speed off the racket, m/s.")
@dot_option
@warmth_option
@court_option
@scatter_options
def spread(
    box: str,
    kind: str,
    hand: str,
    contact: tuple[float, float, float] | None,
    at: tuple[float, float],
    speed: float,
    dot: str,
    warmth: str,
    court: str | None,
    fault_cost: float,
    scatter: tuple[float, float, float] | None,
    player: str | None,
    level: str,
    library_folder: Path | None,
    as_json: bool,
) -> None:
    """Show what becomes of 100 serves at a target and speed of your own."""
    from goodlength.aim.aim_optimisation import AimPoint
    from goodlength.aim.serve_goals import task_of
    from goodlength.forms.flights.aim_json import aim_form
    from goodlength.tasks.aim.serve_aim import contact_of, spread_serve

    task = task_of(kind, box, hand, contact_m=contact_of(contact))
    own = _scatter(player, level, scatter, library_folder)
    where = AimPoint(at[0], at[1], speed)
    how = _setting(dot, warmth, court, library_folder)
    form = aim_form(spread_serve(task, how, own, where, fault_cost=fault_cost))
    _say(form, as_json)


def _setting(dot: str, warmth: str, court: str | None, library_folder: Path | None) -> PlayConditions:
    from goodlength.ball import Ball
    from goodlength.tasks.aim.serve_aim import aim_setting
    from goodlength.tasks.footage.court_properties_register import court_named_by

    if court is None:
        return aim_setting(dot, warmth)
    with opened(library_folder) as library:
        return court_named_by(library, court).setting(Ball(dot, warmth))


def _scatter(
    player: str | None, level: str, typed: tuple[float, float, float] | None, library_folder: Path | None
) -> AimScatter:
    from goodlength.aim.serve_scatter_on_front_wall import AimScatter
    from goodlength.tasks.aim.serve_aim import scatter_of_player, scatter_sentence
    from goodlength.tasks.match.lazy_player_matches import open_matches

    base = AimScatter.of_level(level)
    if player is not None:
        with opened(library_folder) as library:
            base = scatter_of_player(open_matches(library, player_id_of(library, player)), level)
    return scatter_sentence(base, *(typed or (None, None, None)))


def _say(
    form: dict[str, Any], as_json: bool, lines: Callable[[dict[str, Any]], Iterator[str]] = aim_lines
) -> None:
    if as_json:
        emit(form)
        return
    print_lines(lines(form))


keep_old_verb(serve_command, "fly", "simulate")
keep_old_verb(serve_command, "inverse", "solve")
keep_old_verb(serve_command, "spread", "target")
