"""Writes docs/reference/commands.md from the commands' own help, so that the page cannot be out of date."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from pathlib import Path

import click

from goodlength.cli.root_command import NOUNS, root

PAGE = Path(__file__).resolve().parent.parent / "docs" / "reference" / "commands.md"

NUMBERS = re.compile("(INTEGER|FLOAT)( RANGE)?")

HEAD = """# Commands

`goodlength NOUN VERB`; in a clone, `./start NOUN VERB`.
Data goes to standard output (`--json` where it prints data), progress and errors to standard error.
`--library FOLDER`, or the variable `GOODLENGTH_LIBRARY`, chooses the library.
Without either it is in your data folder.
Exit codes: 0 done, 1 could not be done (the reason is on standard error), 2 wrong usage.
`match list` shows each `MATCH_ID`, `footage list` each `VIDEO_ID`.
A `PLAYER` is a name, a part of a name that only one player has, or an id.

This page is written by `scripts/commands_page.py`; a test compares it with the commands.
"""


def blocks() -> Iterator[str]:
    """One block of Markdown a command."""
    ctx = click.Context(root, info_name="goodlength")
    for noun in NOUNS:
        command = root.get_command(ctx, noun)
        assert command is not None
        yield f"## {noun}\n"
        if isinstance(command, click.Group):
            for verb, item in command.commands.items():
                if item.hidden:  # an old name of another verb
                    continue
                yield block(f"goodlength {noun} {verb}", item, "###")
        else:
            yield block(f"goodlength {noun}", command, "")


def block(name: str, command: click.Command, level: str) -> str:
    """One command: what it does, its words, its example."""
    ctx = click.Context(command, info_name=name, show_default=True)  # as the root command says
    lines = [f"{level} {name}\n"] if level else []
    usage = " ".join(command.collect_usage_pieces(ctx))
    lines.append(" ".join((command.help or "").split()) + "\n")
    lines.append(f"```\n{name} {usage}\n```\n")
    for param in command.params:
        if isinstance(param, click.Option) and not param.hidden:
            lines.append(option_line(param, ctx))
    lines.append(f"\n{command.epilog or ''}\n")
    return "\n".join(lines)


def option_line(option: click.Option, ctx: click.Context) -> str:
    """One option: its names, what it takes, what it does, what holds without it."""
    takes = "" if option.is_flag else f" {NUMBERS.sub('NUMBER', option.make_metavar(ctx))}"
    extra = option.get_help_extra(ctx)
    notes = [f"Default: {extra['default']}."] if extra.get("default") else []
    notes += ["Required."] if extra.get("required") else []
    return " ".join([f"- `{'`, `'.join(option.opts)}{takes}`: {option.help or 'see the usage'}", *notes])


def text() -> str:
    """The whole page."""
    return HEAD + "\n" + "\n".join(blocks())


if __name__ == "__main__":
    PAGE.write_text(text(), encoding="utf-8")
    sys.stdout.write(f"written: {PAGE.name}\n")
