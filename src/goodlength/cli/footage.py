"""`goodlength footage ...`: recordings."""

from __future__ import annotations

from pathlib import Path

import click

from goodlength.cli.footage_review import review
from goodlength.cli.terminal.shared_options import (
    as_json,
    ball_temperature_option,
    emit,
    existing_file,
    keep_old_verb,
    library_option,
    opened,
    opened_match,
    print_note,
    progress,
    scheduler_option,
)
from goodlength.forms.command_results_json import added_lines, probe_form, probe_lines
from goodlength.forms.dask_batches import copies_of, detect_rallies_in_many
from goodlength.forms.footage.camera_calibration_json import camera_answer, camera_lines
from goodlength.forms.footage.player_tracking_json import tracking_form, tracking_lines
from goodlength.forms.footage.strike_pose_json import body_form, body_lines


@click.group("footage", epilog="Example: goodlength footage check match.mp4")
def footage_command() -> None:
    """Videos: check, add, detect rallies, calibrate the camera, track players, measure serves."""


footage_command.add_command(review)


@footage_command.command("check", epilog="Example: goodlength footage check match.mp4 --json")
@click.argument("file", type=existing_file)
@as_json
def look(file: Path, as_json: bool) -> None:
    """Check a video: length, frame rate, sound, problems. The file is not changed."""
    from goodlength import tasks

    seen = tasks.probe_file(file)
    if as_json:
        emit(probe_form(seen))
        return
    for line in probe_lines(seen):
        click.echo(line)


@footage_command.command("rallies", epilog="Example: goodlength footage rallies match.mp4 --json")
@click.argument("files", metavar="FILE...", nargs=-1, required=True, type=existing_file)
@click.option(
    "--picture", is_flag=True, help="Use the players' movement too; takes some minutes per hour of video."
)
@scheduler_option
@as_json
def rallies(files: tuple[Path, ...], picture: bool, scheduler: str | None, as_json: bool) -> None:
    """Detect the rallies in a video from its sound, with their hits. The file is not changed.

    Without --picture only the sound is used, and the result says so. If the sound cannot be used, the rallies
    are guessed from the players' movement, and the result says that too. Several videos are processed at the
    same time: one per processor core, or on the computers of a Dask scheduler.
    """

    if len(files) > 1:
        with progress("rallies") as report:
            detections = detect_rallies_in_many(files, scheduler=scheduler, progress=report)
        if as_json:
            emit(
                {
                    "files": [
                        {"file": str(file), **mapping}
                        for file, mapping in zip(files, detections, strict=True)
                    ]
                }
            )
            return
        for file, fields in zip(files, detections, strict=True):
            rallies = fields["rallies"]
            count = len(rallies) if isinstance(rallies, list) else 0
            click.echo(f"{file}: {count} rallies. {fields['words']}")
        return
    _rallies_of(files[0], picture, as_json)


def _rallies_of(file: Path, picture: bool, as_json: bool) -> None:
    from goodlength import tasks
    from goodlength.media_time import clock_words

    with progress("rallies") as report:
        found = tasks.detect_rallies(file, report, picture=picture)
    if as_json:
        emit(found.to_json())
        return
    for n, rally in enumerate(found.rallies, 1):
        span = f"{clock_words(rally.start_us / 1e6)} to {clock_words(rally.end_us / 1e6)}"
        hits = f"{len(rally.hits_us):>3} {'hit ' if len(rally.hits_us) == 1 else 'hits'}"
        click.echo(f"{n:>4}  {span:<22} {hits}  {rally.why}".rstrip())
    for note in found.notes:
        print_note(note.words)
    print_note(found.words)


@footage_command.command("bounces", epilog="Example: goodlength footage bounces drops.mp4 --json")
@click.argument("file", type=existing_file)
@as_json
def bounces(file: Path, as_json: bool) -> None:
    """Detect drops and wall hits in a video: number and times of the bounces.

    Let the ball fall near the phone in a quiet court. You say which impact after a hit is the wall.
    """
    from goodlength import tasks

    with progress("bounces") as report:
        found = tasks.detect_bounces(file, report)
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
    print_note(found.words)


@footage_command.command("add", epilog="Example: goodlength footage add demo match.mp4")
@click.argument("match_id")
@click.argument("files", nargs=-1, required=True, type=existing_file)
@library_option
def add(match_id: str, files: tuple[Path, ...], library_folder: Path | None) -> None:
    """Add videos to a match, in the order played. The files stay where they are."""
    from goodlength import tasks

    with opened(library_folder) as library:
        for file in files:
            added = tasks.add_footage(library, match_id, file, waiting=print_note)
            click.echo(added.id)
            for line in added_lines(library, added):
                print_note(line)


@footage_command.command(
    "repack", epilog="Example: goodlength footage repack match.mov --sound 2 --out m.mov"
)
@click.argument("file", type=existing_file)
@click.option("--out", required=True, type=click.Path(path_type=Path), help="The file to write.")
@click.option("--picture", type=click.IntRange(1), help="Video track, by its number in `footage check`.")
@click.option("--sound", type=click.IntRange(0), help="Sound track, by its number; 0 for no sound.")
@click.option(
    "--rate", type=float, help="Frame rate, for raw H.264 or HEVC files, which have no time stamps."
)
def repack(file: Path, out: Path, picture: int | None, sound: int | None, rate: float | None) -> None:
    """Copy one video track and one sound track into a new file.

    Nothing is encoded again, so nothing is lost, and the original is not changed. Use it if the match is
    on another track than the one goodlength chose, or for raw H.264 or HEVC files, which have no time
    stamps. Then add the new file to the match.
    """
    from goodlength import tasks

    with progress("repack") as report:
        made = tasks.repack(file, out, picture=picture, sound=sound, rate_hz=rate, progress=report)
    print_note(f"Saved: {made.path}. {made.words}")


@footage_command.command("proxy", epilog="Example: goodlength footage proxy FOOTAGE_ID")
@click.argument("footage_ids", metavar="FOOTAGE_ID...", nargs=-1, required=True)
@scheduler_option
@library_option
def proxy(footage_ids: tuple[str, ...], scheduler: str | None, library_folder: Path | None) -> None:
    """Make a browser-friendly copy of one or more videos."""

    with opened(library_folder) as library, progress("proxy") as report:
        made = copies_of(library, footage_ids, scheduler=scheduler, progress=report)
    for path in made:
        print_note(f"Saved: {path}")


@footage_command.command(
    "calibrate", epilog="Example: goodlength footage calibrate FOOTAGE_ID --marks marks.json --at 2.0 --keep"
)
@click.argument("footage_id")
@click.option("--marks", type=existing_file, help='Clicked marks: [{"mark", "u", "v"}, ...] in JSON.')
@click.option(
    "--at", "at_s", type=float, default=0.0, help="Time of the frame with the marks, seconds into the video."
)
@click.option("--leave-out", multiple=True, help="A mark to ignore; can be repeated.")
@click.option("--keep", is_flag=True, help="Save the calibration for this file.")
@click.option(
    "--moved", type=float, help="Check whether the camera moved by this time, seconds into the video."
)
@library_option
@as_json
def camera(
    footage_id: str,
    marks: Path | None,
    at_s: float,
    leave_out: tuple[str, ...],
    keep: bool,
    moved: float | None,
    library_folder: Path | None,
    as_json: bool,
) -> None:
    """Calibrate the camera of a video from clicked court marks.

    Prints the error of each mark and what is still unknown. Without --marks it prints the calibration
    saved for this file. For the names of the marks, see: goodlength footage marks.
    """

    with opened(library_folder) as library:
        form = camera_answer(
            library,
            footage_id,
            marks,
            round(at_s * 1e6),
            leave_out,
            keep=keep,
            moved_us=None if moved is None else round(moved * 1e6),
        )
    if as_json:
        emit(form)
        return
    for line in camera_lines(form):
        click.echo(line)


@footage_command.command("marks", epilog="Example: goodlength footage marks")
@as_json
def marks(as_json: bool) -> None:
    """List the court marks that can be used: name, place in metres, and which edge."""
    from goodlength.footage.camera import court_marks

    if as_json:
        emit(
            [
                {"name": court_mark.name, "at_m": court_mark.at, "edge": court_mark.edge}
                for court_mark in court_marks().values()
            ]
        )
        return
    for court_mark in court_marks().values():
        x, y, z = court_mark.at
        click.echo(f"{court_mark.name:<18} {x:5.2f} {y:5.2f} {z:5.2f}  {court_mark.words}; {court_mark.edge}")


@footage_command.command("track", epilog="Example: goodlength footage track demo")
@click.argument("match_id")
@click.option("--again", is_flag=True, help="Track again from the start.")
@click.option(
    "--first",
    type=click.Choice(["a", "b", "open"]),
    help="Which player is the first one tracked (default: from logged serves).",
)
@library_option
@as_json
def players(
    match_id: str, again: bool, first: str | None, library_folder: Path | None, as_json: bool
) -> None:
    """Track both players in every rally of a match.

    Gives the distance covered, the time away from the T, and the positions at hits. It needs rallies with
    a time and a calibrated camera. Poorly tracked rallies are not shown; the reason is given.
    """
    from goodlength.tasks.footage import player_tracking

    with opened_match(library_folder, match_id) as match:
        if again or not player_tracking.tracked_match(match).rallies:
            with progress("players") as report:
                player_tracking.track_players(match, report)
        if first is not None:
            player_tracking.name_players(match, "" if first == "open" else first)
        form = tracking_form(match)
    if as_json:
        emit(form)
        return
    for line in tracking_lines(form):
        click.echo(line)


@footage_command.command(
    "measure", epilog="Example: goodlength footage measure demo 4 --marks serve.json --keep"
)
@click.argument("match_id")
@click.argument("number", metavar="RALLY", type=int)
@click.option("--marks", type=existing_file, help='Clicks: [{"what", "at_s", "u", "v"}, ...] in JSON.')
@click.option("--find-ball", is_flag=True, help="Look for the ball between the marks, and use it.")
@ball_temperature_option("", " (default: from the match)")
@click.option("--keep", is_flag=True, help="Save the measurement with the serve.")
@library_option
@as_json
def measure(
    match_id: str,
    number: int,
    marks: Path | None,
    find_ball: bool,
    warmth: str,
    keep: bool,
    library_folder: Path | None,
    as_json: bool,
) -> None:
    """Measure a serve from clicked marks.

    Gives speed, launch angle, contacts and bounces, with 95% ranges.

    RALLY is its number in `match show`. What can be clicked: strike, feet, front, left, right, floor, back,
    second, ball. `at_s` is the time of the frame in the video; u and v are px of the upright frame.
    "again": [u, v] is a second click at the same thing: the ranges then take how exactly you click.
    Without --marks: the saved measurement.
    """
    from goodlength import tasks
    from goodlength.forms.footage.serve_measurement_json import (
        measured_form,
        measured_words,
        read_clicks,
    )
    from goodlength.tasks.footage import ball_position_suggestions, serve_measurement

    with opened_match(library_folder, match_id) as match:
        (key,) = tasks.chosen_rallies(match, (number,))
        kind_id = match.match.rallies[number - 1].serve.kind
        logged = next((kind.words for kind in match.kinds if kind.id == kind_id), "")
        if marks is None:
            form = measured_form(serve_measurement.saved_measurement(match, key))
        else:
            clicks = read_clicks(marks)
            trial, message = (
                serve_measurement.trial_measurement(match, key, clicks, warmth=warmth),
                "",
            )
            if find_ball:
                ball = ball_position_suggestions.find_ball(match, key, clicks, warmth=warmth)
                trial, message, clicks = ball.trial, ball.words, [*clicks, *ball.marks]
            kind, odds = serve_measurement.kind_proposed(match.kinds, trial.found)
            form = measured_form(trial.value, trial.found)
            form["kind_proposed"], form["kinds_of_100"] = kind, odds
            if keep:
                serve_measurement.save_measurement(match, key, clicks, warmth=warmth)
            if message:
                print_note(message)
    if as_json:
        emit(form)
        return
    for line in measured_words(form, logged):
        click.echo(line)
    if keep and marks is not None:
        print_note("Saved with the serve.")


@footage_command.command("pose", epilog="Example: goodlength footage pose demo 4 --who a")
@click.argument("match_id")
@click.argument("rally", type=int)
@click.option("--who", type=click.Choice(["a", "b"]), help="Which player (default: the one who hits).")
@click.option("--shot", type=int, default=1, show_default=True, help="Number of the shot; 1 is the serve.")
@click.option("--feet", type=float, nargs=2, help="Position of the feet in the frame, in pixels: U V.")
@click.option("--again", is_flag=True, help="Detect again from the start.")
@library_option
@as_json
def body(
    match_id: str,
    rally: int,
    who: str | None,
    shot: int,
    feet: tuple[float, float] | None,
    again: bool,
    library_folder: Path | None,
    as_json: bool,
) -> None:
    """Find the body points of a player around contact.

    Gives the angles of knees, hips, elbows, shoulders and trunk, with their errors.

    RALLY is its number in `match show`. The player's position comes from `footage track`, or --feet.
    """
    from goodlength import tasks
    from goodlength.tasks.footage import strike_pose_correction

    with opened_match(library_folder, match_id) as match, progress("body points") as report:
        (key,) = tasks.chosen_rallies(match, (rally,), None)
        whose = who or strike_pose_correction.striker_of(match, key, shot)
        form = body_form(
            strike_pose_correction.strike_body(
                match, key, whose, shot=shot, feet=feet, again=again, progress=report
            )
        )
    if as_json:
        emit(form)
        return
    for line in body_lines(form):
        click.echo(line)


keep_old_verb(footage_command, "look", "check")
keep_old_verb(footage_command, "players", "track")
keep_old_verb(footage_command, "camera", "calibrate")
keep_old_verb(footage_command, "body", "pose")
