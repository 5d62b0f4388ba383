"""`goodlength footage ...`: recordings."""

from __future__ import annotations

from pathlib import Path

import click

from goodlength.cli.shared import as_json, emit, existing_file, library_option, opened, progress, tell


@click.group("footage", epilog="Example: goodlength footage look match.mp4")
def footage_command() -> None:
    """Footage: look at a recording, add it to a match, make a proxy."""


@footage_command.command("look", epilog="Example: goodlength footage look match.mp4 --json")
@click.argument("file", type=existing_file)
@as_json
def look(file: Path, as_json: bool) -> None:
    """What a recording holds, and its problems in words. The file is not changed."""
    from goodlength import tasks

    seen = tasks.look_at(file)
    if as_json:
        emit(tasks.forms.look(seen))
        return
    for line in tasks.forms.look_lines(seen):
        click.echo(line)


@footage_command.command("rallies", epilog="Example: goodlength footage rallies match.mp4 --json")
@click.argument("file", type=existing_file)
@as_json
def rallies(file: Path, as_json: bool) -> None:
    """The rallies heard in a recording, each with its hits in time. The file is not changed.

    Without usable sound they are guessed from the moving players, which is said.
    """
    from goodlength import tasks
    from goodlength.clock import clock_words

    with progress("rallies") as report:
        found = tasks.hear_rallies(file, report)
    if as_json:
        emit(found.to_json())
        return
    for n, one in enumerate(found.rallies, 1):
        span = f"{clock_words(one.start_us / 1e6)} to {clock_words(one.end_us / 1e6)}"
        click.echo(f"{n:>4}  {span:<22} {len(one.hits_us):>3} hits  {one.why}".rstrip())
    tell(found.words)


@footage_command.command("bounces", epilog="Example: goodlength footage bounces drops.mp4 --json")
@click.argument("file", type=existing_file)
@as_json
def bounces(file: Path, as_json: bool) -> None:
    """Drops and wall hits heard in a recording: how many bounces, when, and how their intervals shrink.

    Let the ball fall near the phone in a quiet court. Which impact after a hit is the wall is yours to say.
    """
    from goodlength import tasks

    with progress("bounces") as report:
        found = tasks.hear_bounces(file, report)
    if as_json:
        emit(found.to_json())
        return
    for n, drop in enumerate(found.drops, 1):
        times = "  ".join(f"{us / 1e6:.3f}" for us in drop.thuds_us)
        ratios = ", ".join(f"{ratio:.2f}" for ratio in drop.ratios)
        click.echo(f"drop {n}: {times}   ratios {ratios}{'   doubtful' if drop.doubtful else ''}")
    for n, hit in enumerate(found.hits, 1):
        after = "  ".join(f"+{(us - hit.strike_us) / 1e6:.3f}" for us in hit.after_us)
        click.echo(f"hit {n}: {hit.strike_us / 1e6:.3f}   {after}{'   doubtful' if hit.doubtful else ''}")
    tell(found.words)


@footage_command.command("add", epilog="Example: goodlength footage add demo match.mp4")
@click.argument("match_id")
@click.argument("files", nargs=-1, required=True, type=existing_file)
@library_option
def add(match_id: str, files: tuple[Path, ...], library_folder: Path | None) -> None:
    """Add recordings to a match, in the order played. The files stay where they are."""
    from goodlength import tasks

    with opened(library_folder) as library:
        for file in files:
            added = tasks.add_footage(library, match_id, file)
            click.echo(added.id)


@footage_command.command("proxy", epilog="Example: goodlength footage proxy FOOTAGE_ID")
@click.argument("footage_id")
@library_option
def proxy(footage_id: str, library_folder: Path | None) -> None:
    """Make a copy of a recording that any browser plays and steps through."""
    from goodlength import tasks

    with opened(library_folder) as library, progress("proxy") as report:
        made = tasks.make_proxy(library, footage_id, report)
    tell(f"Made: {made}")
