"""`goodlength footage review`, `ball` and `shots`: detected rallies audited, the ball and its path."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

from goodlength.cli.terminal.shared_options import (
    as_json,
    emit,
    library_option,
    opened_match,
    print_lines,
    print_note,
    progress,
)
from goodlength.files.atomic_write import atomic_write
from goodlength.forms.footage.ball_detection_json import balls_form, balls_lines
from goodlength.forms.footage.detection_audit_json import review_form, review_lines
from goodlength.media_time import clock_words, seconds

if TYPE_CHECKING:
    from goodlength.tasks.match.lazy_match import OpenMatch


@click.command(
    "review",
    short_help="Review twenty detected rallies of a match.",
    epilog="Example: goodlength footage review demo --to figures.json",
)
@click.argument("match_id", metavar="MATCH_ID")
@click.option("--ask", is_flag=True, help="Ask the questions here, while you play the video elsewhere.")
@click.option("--adapt", is_flag=True, help="Adapt the detection to this court, as your answers suggest.")
@click.option("--undo", is_flag=True, help="Return to the usual settings for this court.")
@click.option(
    "--to",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Write the figures to a .json file, without names or frames.",
)
@library_option
@as_json
def review(
    match_id: str,
    ask: bool,
    adapt: bool,
    undo: bool,
    to: Path | None,
    library_folder: Path | None,
    as_json: bool,
) -> None:
    """Review twenty detected rallies of a match: is it a rally, who hits the ball, does it start there.

    Half are drawn at random, so that the error rate is unbiased; half are the least sure. The page plays
    each for you: `goodlength open`, Footage, "Review the detection".
    """
    from goodlength.tasks.footage import rally_detection_audit as reviewing
    from goodlength.tasks.match.lazy_match import open_match

    with opened_match(library_folder, match_id) as match:
        if ask:
            _ask(match)
        if undo:
            reviewing.undo_thresholds(match)
        elif adapt:
            reviewing.adapt_thresholds(match)
        now = open_match(match.library, match.id)
        if to is not None:
            with atomic_write(to) as part:
                part.write_text(json.dumps(reviewing.review_figures(now), indent=1), encoding="utf-8")
            print_note(f"Saved: {to}")
        found = reviewing.review_detection(now)
    if as_json:
        emit(review_form(found))
        return
    print_lines(review_lines(found))


def _ask(match: OpenMatch) -> None:
    """Ask what is still open, card by card; Enter leaves a question open."""
    from goodlength.tasks.footage.rally_detection_audit import QUESTIONS, answer_review, review_detection

    a, b = match.names
    words = {
        "rally": "Is this a rally?",
        "hit": f"Who hits the ball there (a is {a}, b is {b})?",
        "place": "Does it start there?",
    }
    for card in review_detection(match).cards:
        times = {"rally": (card.start_us, card.end_us), "hit": (card.hit_us,), "place": (card.start_us,)}
        for question, choices in QUESTIONS.items():
            span = " to ".join(clock_words(seconds(us)) for us in times[question])
            given = click.prompt(
                f"{span}  {words[question]} [{'/'.join(choices)}]", default="", show_default=False
            ).strip()
            if not given:
                continue
            answer_review(match, card.id, question, given)
            if question == "rally" and given != "yes":
                break


@click.command(
    "ball",
    short_help="Detect the ball in the rallies of a match.",
    epilog="Example: goodlength footage ball demo --quick",
)
@click.argument("match_id", metavar="MATCH_ID")
@click.option(
    "--quick",
    is_flag=True,
    help="Search only the first rallies of each video, to see how well the ball can be seen.",
)
@click.option("--again", is_flag=True, help="Search again from the start, although results are stored.")
@click.option(
    "--method",
    type=click.Choice(["network", "differencing"]),
    default="network",
    show_default=True,
    help="Search with the model, or by differences between frames alone.",
)
@library_option
@as_json
def ball(
    match_id: str, quick: bool, again: bool, method: str, library_folder: Path | None, as_json: bool
) -> None:
    """Detect the ball in every frame of the rallies of a match, and say how well it can be seen.

    With --json it prints up to eight places for each frame, the best first, with their scores; footage
    shots joins them to shots. Rallies are stored one by one: after a stop the search goes on where it was.
    """
    from goodlength.tasks.ball import ball_detection

    with opened_match(library_folder, match_id) as match:
        with progress("Ball") as report:
            found = ball_detection.detect_ball(match, report, method=method, quick=quick, again=again)
        form = balls_form(match, found)
    if as_json:
        emit(form)
        return
    print_lines(balls_lines(form))


@click.command(
    "shots",
    short_help="Follow the ball through the rallies; export its shots.",
    epilog="Example: goodlength footage shots demo --follow --to shots.csv",
)
@click.argument("match_id", metavar="MATCH_ID")
@click.option(
    "--follow", is_flag=True, help="Follow the ball first, where it was detected and not yet followed."
)
@click.option("--again", is_flag=True, help="Follow it in all rallies again; your corrections stay.")
@click.option(
    "--to",
    "target",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="The file to write: .json (everything), .csv or .parquet (a line for each contact).",
)
@click.option(
    "--paths", is_flag=True, help="With .csv and .parquet: a line for each frame of each path instead."
)
@click.option(
    "--serves", is_flag=True, help="With .csv and .parquet: a line for each measured serve instead."
)
@library_option
def shots(
    match_id: str,
    follow: bool,
    again: bool,
    target: Path | None,
    paths: bool,
    serves: bool,
    library_folder: Path | None,
) -> None:
    """Join places of the ball, sounds and players to shots, and export them: strikes, walls, floor, path.

    Every place has its error, every shot its chance; columns are explained in docs/reference/csv.md. It is a
    proposal of the computer, not what the coach logged, and was measured on simulated rallies only.
    """
    from goodlength.tasks.ball.ball_following_and_corrections import follow_here
    from goodlength.tasks.ball.followed_ball_export import export_followed

    if paths and serves:
        raise click.UsageError("Say --paths or --serves, not both: each is a table of its own.")
    if not (follow or again or target):
        raise click.UsageError("Say --follow to follow the ball, --to FILE to export its shots, or both.")
    with opened_match(library_folder, match_id) as match:
        if follow or again:
            with progress("Shots") as report:
                followed = follow_here(match, report, again=again)
            count = sum(len(rally.shots) for rally in followed.rallies)
            sure = sum(shot.sure for rally in followed.rallies for shot in rally.shots)
            print_note(f"{count} shots in {len(followed.rallies)} rallies, {sure} of them sure.")
        if target is not None:
            export_followed(match, target, samples=paths, serves=serves)
            print_note(f"Saved: {target}")
