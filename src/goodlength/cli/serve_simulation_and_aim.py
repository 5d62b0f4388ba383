"""`goodlength serve ...`: serves simulated by the flight model, and where to aim them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from goodlength.cli.terminal.aim_lines import aim_lines, flight_lines, way_lines
from goodlength.cli.terminal.shared_options import (
    as_json,
    ball_temperature_option,
    emit,
    keep_old_verb,
    library_option,
    opened,
)

if TYPE_CHECKING:
    from goodlength.aim.front_wall_scatter import AimScatter
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

    name = "x,z"

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
    """Simulate serves: one path, the best target, and the result of 100 serves."""


box_option = click.option("--box", type=click.Choice(["right", "left"]), required=True, help="Service box.")
kind_option = click.option(
    "--kind", required=True, help="Kind of serve: lob, mid-height, hard, body-feet or body-nick."
)
hand_option = click.option(
    "--hand", type=click.Choice(["right", "left"]), default="right", show_default=True, help="Playing hand."
)
dot_option = click.option(
    "--ball",
    "dot",
    default="double-yellow",
    show_default=True,
    help="Dots on the ball, such as double-yellow.",
)
warmth_option = ball_temperature_option("warm")
court_option = click.option(
    "--court", help="Id of the court to use, with its calibration (default: a usual court)."
)
contact_option = click.option(
    "--contact", type=Triple(), help="Contact point, metres (default: the usual place of the kind)."
)


def scatter_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Accuracy of the player, and the cost of a fault."""
    for option in (
        click.option(
            "--fault-cost",
            type=float,
            default=1.0,
            show_default=True,
            help="Cost of a fault; a serve that meets the goal counts 1.",
        ),
        click.option(
            "--scatter",
            type=Triple(),
            help="Scatter across and up in m, and of the speed in m/s, such as 0.2,0.25,1.0.",
        ),
        click.option("--player", help="Id of a player, whose measured serves or practice give the accuracy."),
        click.option(
            "--level",
            type=click.Choice(["new", "club", "county"]),
            default="club",
            show_default=True,
            help="Accuracy if nothing is measured: new (beginner), club or county (advanced).",
        ),
        library_option,
        as_json,
    ):
        command = option(command)
    return command


@serve_command.command(
    "simulate", epilog="Example: goodlength serve simulate --box right --kind lob --warmth cold"
)
@click.option("--box", type=click.Choice(["right", "left"]), help="Service box; without it, any other shot.")
@click.option(
    "--kind", help="Simulate this kind of serve from its usual contact and speed; or use --velocity."
)
@hand_option
@contact_option
@click.option("--velocity", type=Triple(), help="Launch velocity, m/s; needs --contact.")
@click.option("--spin", type=Triple(), help="Spin, with --velocity: radians per second about x, y and z.")
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
    """Simulate a kind of serve, any launch, or any other shot."""
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
@click.option("--contact", type=Triple(), required=True, help="Contact point, metres.")
@click.option("--box", type=click.Choice(["right", "left"]), help="Service box, if it is a serve.")
@click.option("--front", type=NumberPair(), help="Place on the front wall: from the left wall and height.")
@click.option("--side", type=SideSpot(), help="Side wall with distance from the front wall and height.")
@click.option("--bounce", type=NumberPair(), help="First bounce: from the left wall and from the front wall.")
@click.option("--feet", is_flag=True, help="First bounce at the receiver's feet; needs --box.")
@click.option("--room", type=float, help="Second bounce, metres off the back wall; negative: short of it.")
@click.option("--speed", type=float, help="Speed off the racket, m/s (default: searched from 8 to 45).")
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
    """Find every shot that passes the given places, or the nearest."""
    from goodlength.forms.flights.flight_json import ways_form
    from goodlength.tasks.aim.ball_flight_and_launch_search import launches_for, wanted_places

    how = _setting(dot, warmth, court, library_folder)
    wanted = wanted_places(box, front_m=front, side=side, bounce_m=bounce, feet=feet, room_m=room)
    ways = launches_for(contact, wanted, how, speed_m_s=speed)
    _say(ways_form(ways, box, how), as_json, way_lines)


@serve_command.command("aim", epilog="Example: goodlength serve aim --box right --kind lob --level county")
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
    """Best front-wall target and speed, with expected results."""
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
    "target", epilog="Example: goodlength serve target --box right --kind lob --at 3.1,4.0 --speed 19"
)
@box_option
@kind_option
@hand_option
@contact_option
@click.option("--at", type=NumberPair(), required=True, help="Target: from the left wall and height, metres.")
@click.option("--speed", type=float, required=True, help="Speed off the racket, m/s.")
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
    """Result of 100 serves at your own target."""
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
    from goodlength.aim.front_wall_scatter import AimScatter
    from goodlength.tasks.aim.serve_aim import scatter_of_player, scatter_sentence
    from goodlength.tasks.match.lazy_player_matches import open_matches

    base = AimScatter.of_level(level)
    if player is not None:
        with opened(library_folder) as library:
            library.player(player)
            base = scatter_of_player(open_matches(library, player), level)
    return scatter_sentence(base, *(typed or (None, None, None)))


def _say(
    form: dict[str, Any], as_json: bool, lines: Callable[[dict[str, Any]], Iterator[str]] = aim_lines
) -> None:
    if as_json:
        emit(form)
        return
    for line in lines(form):
        click.echo(line)


keep_old_verb(serve_command, "fly", "simulate")
keep_old_verb(serve_command, "inverse", "solve")
keep_old_verb(serve_command, "spread", "target")
