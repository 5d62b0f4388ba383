"""`goodlength serve ...`: a serve flown through the ball's model."""

from __future__ import annotations

import click

from goodlength.cli.shared import as_json, emit


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


@click.group(
    "serve", epilog="Example: goodlength serve fly --box right --contact 4.6,5.8,0.8 --velocity=-5,-15.5,9.5"
)
def serve_command() -> None:
    """A serve flown through the ball's model. Where to aim comes with the Aim page."""


@serve_command.command(
    "fly", epilog="Example: goodlength serve fly --box right --contact 4.6,5.8,0.8 --velocity=-5,-15.5,9.5"
)
@click.option("--box", type=click.Choice(["right", "left"]), required=True, help="The box served from.")
@click.option("--contact", type=Triple(), required=True, help="Where the ball is struck, metres.")
@click.option("--velocity", type=Triple(), required=True, help="How it leaves, metres a second.")
@click.option("--ball", "dot", default="double-yellow", show_default=True, help="The ball's dot.")
@click.option("--warmth", default="warm", show_default=True, help="hot, warm, club or cold.")
@as_json
def fly(
    box: str, contact: tuple[float, float, float], velocity: tuple[float, float, float], dot: str,
    warmth: str, as_json: bool,
) -> None:  # fmt: skip
    """Contacts, verdict and what the receiver meets, from one launch."""
    from goodlength.tasks.serving import fly_serve, serve_form

    form = serve_form(fly_serve(box, contact, velocity, dot=dot, warmth=warmth))
    if as_json:
        emit(form)
        return
    for n, touch in enumerate(form["contacts"], start=2):
        place = f"{touch['x_m']:.2f}, {touch['y_m']:.2f}, {touch['z_m']:.2f} m"
        click.echo(
            f"{n} {touch['surface']:<16} {touch['t_s']:5.2f} s  at {place}, {touch['speed_m_s']:.1f} m/s"
        )
    click.echo(form["verdict"])
    click.echo(f"Assumed: {form['assumed']}.")
