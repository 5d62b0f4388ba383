"""The root command: subcommands loaded on demand, error messages and exit codes."""

from __future__ import annotations

import importlib
import io
import os
import sys
import tempfile
import traceback
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import click

from goodlength import __version__
from goodlength.cli.terminal.shared_options import LIBRARY, CommandContext, StartPage
from goodlength.errors import GoodlengthError, disk_trouble

# noun -> (module in goodlength.cli, one line of help)
NOUNS = {
    "player": ("players_and_consent", "Players: add, list, brief, serves, consent, export, erase"),
    "court": ("court", "Courts: add, list, calibrate"),
    "match": ("match", "Matches: new, list, show, check, draft, interval, compare, import, export"),
    "footage": ("footage", "Videos: check, add, detect rallies, calibrate, track players, measure serves"),
    "findings": ("findings", "Findings of a match or of a player, and search of all matches"),
    "serve": ("serve_simulation_and_aim", "Serves: simulate, solve, aim, target"),
    "show": ("video_exports", "Clips, highlights, side by side, stills, disguise"),
    "handout": ("handout", "The one-page handout for the player"),
    "practice": ("practice", "Practice: plan, drills, calendar, log, detect, progress"),
    "library": ("library", "The library folder: check, backup, restore, move"),
    "bench": ("bench", "Speed and accuracy tests (developers)"),
    "open": ("open_and_demo", "Start goodlength in the browser"),
    "demo": ("open_and_demo", "Create the demo matches and open them"),
}


HIDDEN = ("bench",)  # for developers; callable, but not in the coach's help


class Nouns(click.Group):
    """A group whose commands are imported when they are used, so that --help stays quick."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Nouns in the order a coach meets them."""
        return list(NOUNS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The noun's own group, or None for a word that is no noun."""
        if cmd_name not in NOUNS:
            return None
        module = importlib.import_module(f"goodlength.cli.{NOUNS[cmd_name][0]}")
        command: click.Command = getattr(module, f"{cmd_name}_command")
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The list of nouns, from the table above, without importing any."""
        with formatter.section("Commands"):
            formatter.write_dl([(noun, words) for noun, (_, words) in NOUNS.items() if noun not in HIDDEN])


@click.group(
    cls=Nouns,
    context_settings={"help_option_names": ["-h", "--help"], "show_default": True},
    epilog="Example: goodlength match list",
)
@click.version_option(__version__, prog_name="goodlength")
@click.option(
    "--library", type=LIBRARY, help="Library to use: a folder, or the URL of a server (default: your own)."
)
@click.pass_context
def root(ctx: click.Context, library: str | Path | None) -> None:
    """For squash coaches: from the video of a match to a handout for the player."""
    ctx.obj = replace(ctx.obj or CommandContext(), library=library)


def main(start_page: StartPage | None = None, args: Sequence[str] | None = None) -> None:
    """Run the command line and leave with 0 (done), 1 (could not) or 2 (wrong usage).

    Parameters
    ----------
    start_page : callable, optional
        What `open` and `demo` start: it takes the library's folder, a port, and whether to open a browser.
    args : sequence of str, optional
        The words of the command; left out, those of the shell.
    """
    _print_on_any_console()
    try:
        root.main(
            args=list(args) if args is not None else None,
            prog_name="goodlength",
            standalone_mode=False,
            obj=CommandContext(start_page),
        )
    except click.UsageError as wrong:
        wrong.show()
        sys.exit(2)
    except click.exceptions.Exit as done:
        sys.exit(done.exit_code)
    except (click.Abort, KeyboardInterrupt):
        click.echo("Stopped.", err=True)
        sys.exit(1)
    except GoodlengthError as failure:
        click.echo(f"{failure} Next: {failure.command}" if failure.command else str(failure), err=True)
        sys.exit(1)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(1)
    except Exception as error:  # the last net: a coach never sees a traceback, and we still get it
        disk = disk_trouble(error) if isinstance(error, OSError) else None
        if disk is not None:
            click.echo(str(disk), err=True)
            sys.exit(1)
        click.echo(f"goodlength hit an error of its own. {_saved_report()}", err=True)
        sys.exit(1)


def _print_on_any_console() -> None:
    """Let a letter that the console cannot draw, such as a dash on an old Windows one, be a question mark."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper) and stream.errors == "strict":
            stream.reconfigure(errors="replace")


def _saved_report() -> str:
    # A name of its own, which nobody else can have laid out in the shared folder before
    try:
        number, path = tempfile.mkstemp(prefix="goodlength-report-", suffix=".txt", text=True)
        with os.fdopen(number, "w", encoding="utf-8", errors="backslashreplace") as file:
            file.write(traceback.format_exc())
    except OSError:
        return "The error report could not be written."
    return f"Your earlier answers are saved. The error report is in {path}: please send it to us."
