"""`goodlength practice ...`: plan, log and progress."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import click

from goodlength.cli.terminal import match_findings_and_plan_lines
from goodlength.cli.terminal.renamed_option_aliases import RenamedChoice, RenamedOption
from goodlength.cli.terminal.shared_options import (
    Day,
    as_json,
    emit,
    keep_old_verb,
    library_option,
    opened,
    opened_match,
    player_id_of,
    print_lines,
    print_note,
)
from goodlength.forms.practice.practice_progress_json import (
    progress_form,
    progress_words,
)
from goodlength.forms.practice.practice_transfer_json import transfer_form
from goodlength.forms.practice.season_calendar_json import calendar_form
from goodlength.practice.planning.practice_plan import plan_form


@click.group("practice", epilog="Example: goodlength practice plan demo")
def practice_command() -> None:
    """Practice: plan, drills, calendar, log, detect, progress."""


@practice_command.command("plan", epilog="Example: goodlength practice plan demo --sessions 2 --minutes 60")
@click.argument("match_id")
@click.option(
    "--sessions", type=int, metavar="NUMBER", default=2, show_default=True, help="Sessions per week."
)
@click.option(
    "--minutes", type=int, metavar="NUMBER", default=60, show_default=True, help="Minutes per session."
)
@click.option(
    "--weeks", type=int, metavar="NUMBER", default=3, show_default=True, help="Weeks until the review."
)
@click.option(
    "--with",
    "company",
    type=RenamedChoice({"alone": "solo", "partner": "pair", "feeder": "feeder"}),
    default="partner",
    help="Who is on court with the player: nobody (alone), a partner, or a feeder.",
)
@click.option(
    "--level",
    type=RenamedChoice({"beginner": "new", "club": "club", "advanced": "county"}),
    default="club",
    help="Level of the player.",
)
@click.option(
    "--drill",
    "chosen",
    metavar="DRILL_ID",
    multiple=True,
    help="Id of a drill to add, from `practice drills`; can be repeated.",
)
@as_json
@library_option
def plan(
    match_id: str,
    sessions: int,
    minutes: int,
    weeks: int,
    company: str,
    level: str,
    chosen: tuple[str, ...],
    as_json: bool,
    library_folder: Path | None,
) -> None:
    """Suggest a plan from the findings of a match. Nothing is saved."""
    from goodlength import tasks
    from goodlength.practice.planning.drill_library import Company, DrillLevel
    from goodlength.practice.planning.practice_plan import Time

    time = Time(sessions, minutes, weeks, Company(company))
    with opened_match(library_folder, match_id) as match:
        plan = tasks.propose_plan(match, time, level=DrillLevel(level), chosen=chosen)
        form = plan_form(plan)
    if as_json:
        emit(form)
        return
    print_lines(match_findings_and_plan_lines.plan_lines(form))


@practice_command.command("drills", epilog="Example: goodlength practice drills --json")
@click.option(
    "--add",
    "new",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Add a drill of your own from a JSON file; --json prints drills in that form.",
)
@as_json
@library_option
def drills(new: Path | None, as_json: bool, library_folder: Path | None) -> None:
    """List the drills, your own first."""
    from goodlength import tasks
    from goodlength.practice.planning.custom_drills import drill_value

    with opened(library_folder) as library:
        if new:
            print_note(f"Saved: {tasks.add_drill_from(library, new).id}.")
        every = tasks.drills(library)
    if as_json:
        emit([drill_value(drill_item) for drill_item in every])
        return
    print_lines(
        f"{drill.name_id}: {drill.name} ({match_findings_and_plan_lines.WITH_WORDS[drill.company.value]}, "
        f"about {drill.minutes} min). {drill.counts}"
        for drill in every
    )


@practice_command.command(
    "calendar",
    short_help="Show a month of matches and practice.",
    epilog="Example: goodlength practice calendar --month 2026-11",
)
@click.option(
    "--month",
    metavar="YYYY-MM",
    default="",
    show_default=False,
    help="Month, such as 2026-11 (default: this month).",
)
@click.option(
    "--group",
    metavar="GROUP",
    default="",
    show_default=False,
    help="Only players of this group, as set on their pages (default: all players).",
)
@as_json
@library_option
def calendar(month: str, group: str, as_json: bool, library_folder: Path | None) -> None:
    """Show a month of the calendar: matches and practice by day, and what is due."""
    from goodlength import tasks
    from goodlength.media_time import day_words

    with opened(library_folder) as library:
        book = tasks.calendar_month(library, tasks.month_of(month), group)
    if as_json:
        emit(calendar_form(book))
        return
    if not book.days:
        click.echo("No match and no practice in this month.")
    for day, several in book.days.items():
        click.echo(f"{day_words(day)}: {'; '.join(event.words for event in several)}")
    if book.due:
        click.echo("Coming up:")
    for due in book.due:
        click.echo(f"  {day_words(due.on)}: {due.words}")
    if not book.due:
        click.echo("Nothing is due.")


@practice_command.command(
    "log",
    short_help="Log one set of a drill.",
    epilog="Example: goodlength practice log imogen lobs-to-the-taped-box 9 15",
)
@click.argument("player")
@click.argument("drill")
@click.argument("hits", type=int)
@click.argument("attempts", type=int)
@click.option(
    "--date",
    "on",
    cls=RenamedOption,
    earlier=("--on",),
    type=Day(),
    help="Date of the set (default: today).",
)
@click.option(
    "--type",
    "order",
    cls=RenamedOption,
    earlier=("--order",),
    type=RenamedChoice({"blocked": "blocked", "random": "mixed", "retention": "retention"}),
    help="Practice type: blocked (the same each time), random (mixed), or retention (first thing on a later "
    "day). Default: random if the task draws each shot, else blocked.",
)
@library_option
def log(
    player: str,
    drill: str,
    hits: int,
    attempts: int,
    on: datetime | None,
    order: str | None,
    library_folder: Path | None,
) -> None:
    """Log one set of a drill: the player hit the target in HITS of ATTEMPTS. DRILL is its id."""
    from goodlength import tasks
    from goodlength.practice.statistics.drill_progress import PracticeOrder

    day = on.date() if on else None
    with opened(library_folder) as library:
        wanted = PracticeOrder(order) if order else None
        tasks.log_set(library, player_id_of(library, player), drill, hits, attempts, on=day, order=wanted)
    print_note(f"Logged: {hits} of {attempts}.")


@practice_command.command(
    "detect",
    short_help="Detect the attempts in a practice video.",
    epilog="Example: goodlength practice detect solo.mp4",
)
@click.argument("film", metavar="VIDEO", type=click.Path(path_type=Path))
@as_json
def listen(film: Path, as_json: bool) -> None:
    """Detect the attempts in a practice video, one ball at a time. Mark hits and misses on the page."""
    from goodlength import tasks
    from goodlength.media_time import clock_words, seconds

    detected = tasks.detect_attempts(film)
    if as_json:
        emit(detected.to_json())
        return
    for n, attempt in enumerate(detected.attempts, 1):
        click.echo(
            f"{n}: {clock_words(seconds(attempt.strike_us))}{' (doubtful)' if attempt.doubtful else ''}"
        )
    print_note(detected.words)


@practice_command.command(
    "progress",
    short_help="Show progress drill by drill, and in matches.",
    epilog="Example: goodlength practice progress imogen",
)
@click.argument("player")
@as_json
@library_option
def progress(player: str, as_json: bool, library_folder: Path | None) -> None:
    """Show progress drill by drill, and whether it transfers to matches."""
    from goodlength import tasks
    from goodlength.tasks.practice.library_and_custom_drills import drill_named

    with opened(library_folder) as library:
        player_id = player_id_of(library, player)
        by_drill = tasks.practice_progress(library, player_id)
        words = progress_words(library, by_drill)
        names = {drill: drill_named(library, drill).name for drill in by_drill}
        carried = tasks.practice_transfer(tasks.open_matches(library, player_id))
    if as_json:
        emit(
            {
                "drills": {
                    drill: {**progress_form(drill_progress), "words": words[drill]}
                    for drill, drill_progress in by_drill.items()
                },
                "carry_over": [transfer_form(result) for result in carried],
            }
        )
        return
    print_lines(f"{names[drill]}: {' '.join(sentences)}" for drill, sentences in words.items())
    print_lines(f"In matches, {over.name}: {' '.join(over.words)}" for over in carried)
    if not by_drill:
        print_note("Nothing has been logged for this player yet. Log a set with: goodlength practice log")


keep_old_verb(practice_command, "listen", "detect")
