"""Options and output that the commands share: the library, JSON on stdout, progress on stderr."""

from __future__ import annotations

import copy
import json
import re
import shutil
import sys
import textwrap
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from goodlength.tasks.match.lazy_match import OpenMatch


@dataclass(frozen=True)
class Shared:
    """How the page is shared on the local network: further names, and a certificate with its key."""

    names: tuple[str, ...] = ()
    certificate: str | None = None
    key: str | None = None


Wrapped = TypeVar("Wrapped", bound=Callable[..., Any])
StartPage = Callable[[str | Path, int, bool, Shared | None], None]


@dataclass(frozen=True)
class CommandContext:
    """What the commands were given: how to start the page, and the library named before the noun."""

    start_page: StartPage | None = None
    library: str | Path | None = None


def keep_old_verb(group: click.Group, old: str, new: str) -> None:
    """Keep a verb callable under its old name; no help lists it."""
    alias = copy.copy(group.commands[new])
    alias.name, alias.hidden = old, True
    group.add_command(alias)


class BallTemperature(click.ParamType[str]):
    """How warm the ball is, in the words of the page; "club", as it is stored, stays accepted."""

    name = "temperature"

    def convert(self, value: str, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """Return the stored word; empty stays empty."""
        from goodlength.ball import UNSURE, WARMTH_WORDS

        if not value or value in WARMTH_WORDS:
            return value
        stored = {words: name for name, words in WARMTH_WORDS.items()}
        if value not in stored:
            spoken = [words for name, words in WARMTH_WORDS.items() if name != UNSURE]
            self.fail(
                f"{value!r} is not a ball temperature. Choose {', '.join(spoken)} or {UNSURE}.", param, ctx
            )
        return stored[value]


def ball_temperature_option(default: str, usual: str = "") -> Callable[[Wrapped], Wrapped]:
    """Return the option that says how warm the ball is; `usual` says what holds without it."""
    return click.option(
        "--warmth",
        type=BallTemperature(),
        default=default,
        show_default=bool(default),
        help=f"Ball temperature: hot, warm, lukewarm, cold or unsure{usual}.",
    )


dot_option = click.option(
    "--ball",
    "dot",
    default="double-yellow",
    show_default=True,
    metavar="DOTS",
    help="Dots on the ball: double-yellow (the match ball), single-yellow, red or blue.",
)
as_json = click.option("--json", "as_json", is_flag=True, help="Print the data as JSON.")
scheduler_option = click.option(
    "--scheduler",
    envvar="GOODLENGTH_SCHEDULER",
    metavar="ADDRESS",
    help="Address of a Dask scheduler that shares out several files (default: this computer).",
)
existing_file = click.Path(path_type=Path)


class Day(click.DateTime):
    """A day, written like 2026-11-25."""

    def __init__(self) -> None:
        super().__init__(["%Y-%m-%d"])

    def get_metavar(self, param: click.Parameter, ctx: click.Context) -> str:
        """Return how a day is written, for the help."""
        return "YYYY-MM-DD"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Return the day, or say how one is written; a day no calendar has is said to be none."""
        try:
            return super().convert(value, param, ctx)
        except click.BadParameter:
            if re.fullmatch(r"\d{4}-\d{2}-\d{2}", str(value)):
                self.fail(f"There is no day {value}.", param, ctx)
            self.fail(f"A day is written like 2026-11-25; got {value!r}.", param, ctx)


class LibraryPlace(click.ParamType[Any]):
    """A library's folder, or the URL of a database server, which a path would spoil."""

    name = "FOLDER|URL"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str | Path:
        """Keep a URL as it is; anything else is a folder."""
        return value if isinstance(value, str) and "://" in value else Path(value)


LIBRARY = LibraryPlace()


def library_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """Adds `--library FOLDER` behind the verb, as before the noun."""
    return click.option(
        "--library",
        "library_folder",
        type=LIBRARY,
        help="Library to use: a folder, or the URL of a server (default: your own).",
    )(command)


@contextmanager
def opened(library_folder: str | Path | None) -> Iterator[Any]:
    """Open the library named behind the verb, else before the noun, else the coach's own; close it after
    use. Of a library named that was not there, say that an empty one was made.
    """
    from goodlength import tasks
    from goodlength.record.store.database_opening import FILE_NAME

    given: CommandContext = click.get_current_context().find_root().obj or CommandContext()
    named = library_folder or given.library
    is_new = named is not None and "://" not in str(named)
    is_new = is_new and not (Path(str(named)).expanduser() / FILE_NAME).exists()
    library = tasks.open_library(named)
    if is_new:
        print_note(f"There was no library in {named}; an empty one was made.")
    try:
        yield library
    finally:
        library.close()


def place_of(library_folder: str | Path | None) -> str | Path:
    """Return where the library is that a command means, without opening it."""
    from goodlength.record.store.database_opening import default_place

    given: CommandContext = click.get_current_context().find_root().obj or CommandContext()
    return library_folder or given.library or default_place()


def player_id_of(library: Any, called: str) -> str:
    """Return the id of the player of this id or name; a part of a name will do where only one has it."""
    from goodlength.tasks.people.player_records_and_consent import player_called

    return player_called(library.players(), called).id


def print_lines(lines: Iterable[str]) -> None:
    """Print lines on stdout; on a terminal, one too long is broken between words and indented."""
    width = shutil.get_terminal_size().columns if sys.stdout.isatty() else 0
    for line in lines:
        if len(line) <= width or not width:
            click.echo(line)
            continue
        indent = " " * (len(line) - len(line.lstrip()) + 2)
        click.echo(textwrap.fill(line, width, subsequent_indent=indent, break_long_words=False))


def emit(data: Any) -> None:
    """One JSON document on stdout."""
    unicode = (sys.stdout.encoding or "utf-8").lower().startswith("utf")
    click.echo(json.dumps(data, ensure_ascii=not unicode, indent=2))  # escapes lose no letter anywhere


def print_note(words: str) -> None:
    """A line for the person, on stderr, so that data on stdout stays clean."""
    click.echo(words, err=True)


@contextmanager
def opened_match(folder: Path | None, match_id: str) -> Iterator[OpenMatch]:
    """Open one match, once for the whole command."""
    from goodlength.tasks.match.lazy_match import open_match

    with opened(folder) as library:
        yield open_match(library, match_id)


@contextmanager
def progress(words: str) -> Iterator[Callable[[float, str], None]]:
    """Show a progress bar on stderr: call it with a share from 0 to 1 and what is being done.

    Without a terminal a line is printed each tenth, so that a log shows the way too.
    """
    if sys.stderr.isatty():
        with _bar(words) as report:
            yield report
        return
    shown = [-1]

    def line(share: float, doing: str) -> None:
        tenth = int(share * 10)
        if tenth > shown[0]:
            shown[0] = tenth
            print_note(f"{words}: {doing} ({tenth * 10}%)")

    yield line


@contextmanager
def _bar(words: str) -> Iterator[Callable[[float, str], None]]:
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bars:
        task = bars.add_task(words, total=1.0)
        yield lambda share, doing: bars.update(task, completed=share, description=f"{words}: {doing}")
