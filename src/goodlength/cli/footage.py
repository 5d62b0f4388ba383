"""`goodlength footage ...`: videos."""

from __future__ import annotations

from pathlib import Path

import click

from goodlength.cli.footage_detection_audit_and_ball import ball, review, shots
from goodlength.cli.footage_watched_folder import watch
from goodlength.cli.terminal.footage_lines import bounce_lines, mark_lines, video_lines
from goodlength.cli.terminal.renamed_option_aliases import RenamedOption
from goodlength.cli.terminal.shared_options import (
    as_json,
    ball_temperature_option,
    emit,
    existing_file,
    keep_old_verb,
    library_option,
    opened,
    opened_match,
    print_lines,
    print_note,
    progress,
    scheduler_option,
)
from goodlength.forms.dask_distributed_batch_runs import copies_of, detect_rallies_in_many
from goodlength.forms.footage.camera_calibration_json import (
    camera_answer,
    camera_lines,
    detected_court_form,
    detected_court_lines,
)
from goodlength.forms.footage.player_tracking_json import tracking_form, tracking_lines
from goodlength.forms.footage.strike_pose_json import body_form, body_lines
from goodlength.forms.match_rally_and_probe_json import added_lines, probe_form, probe_lines


@click.group("footage", epilog="Example: goodlength footage check match.mp4")
def footage_command() -> None:
    """Videos: check, add, detect rallies, calibrate, track players, measure serves."""


footage_command.add_command(review)
footage_command.add_command(ball)
footage_command.add_command(shots)
footage_command.add_command(watch)


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
    print_lines(probe_lines(seen))


@footage_command.command(
    "court",
    short_help="Detect the court in a video, without clicks.",
    epilog="Example: goodlength footage court match.mp4 --json",
)
@click.argument("file", type=existing_file)
@click.option(
    "--at",
    "at_s",
    type=float,
    metavar="SECONDS",
    help="Time of the frame to use, in seconds from the start (default: the middle of the video).",
)
@click.option(
    "--tin",
    type=click.Choice(["standard", "tour"]),
    default="standard",
    show_default=True,
    help="Height of the tin: 48 cm, or 43 cm on tour.",
)
@as_json
def court(file: Path, at_s: float | None, tin: str, as_json: bool) -> None:
    """Detect the court in a video from its lines, without clicks. Nothing is saved; the file is not changed.

    The court is printed only if its lines are clear enough; otherwise the command says why. On the Calibrate
    page of a match the same court is drawn over the frame for you to check and save.
    """
    from goodlength.footage.court_detection import detect_court_in

    found = detected_court_form(detect_court_in(file, None if at_s is None else round(at_s * 1e6), tin))
    if as_json:
        emit(found)
        return
    print_lines(detected_court_lines(found))


@footage_command.command(
    "rallies",
    short_help="Detect the rallies in a video, with their hits.",
    epilog="Example: goodlength footage rallies match.mp4 --json",
)
@click.argument("files", metavar="FILE...", nargs=-1, required=True, type=existing_file)
@click.option(
    "--movement",
    "picture",
    cls=RenamedOption,
    earlier=("--picture",),
    is_flag=True,
    help="Use the players' movement too; takes some minutes for an hour of video. One video only.",
)
@scheduler_option
@as_json
def rallies(files: tuple[Path, ...], picture: bool, scheduler: str | None, as_json: bool) -> None:
    """Detect the rallies in a video from its sound, with their hits. The file is not changed.

    Without --movement only the sound is used. If the sound cannot be used, the rallies are guessed from the
    players' movement. The result says which was used.

    Several videos are processed at the same time: one for each processor core, or on the computers of a Dask
    scheduler.
    """

    if len(files) > 1:
        if picture:
            raise click.UsageError("--movement works with one video at a time.")
        with progress("Rallies") as report:
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

    with progress("Rallies") as report:
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


@footage_command.command(
    "bounces",
    short_help="Detect drops and hits at the wall in a video.",
    epilog="Example: goodlength footage bounces drops.mp4 --json",
)
@click.argument("file", type=existing_file)
@as_json
def bounces(file: Path, as_json: bool) -> None:
    """Detect drops and hits at the wall in a video, with the times of the sounds after each.

    Drop the ball near the phone on a quiet court. You decide which sound after a hit is the wall.
    """
    from goodlength import tasks

    with progress("Bounces") as report:
        found = tasks.detect_bounces(file, report)
    if as_json:
        emit(found.to_json())
        return
    print_lines(bounce_lines(found))
    print_note(found.words)


@footage_command.command(
    "add",
    short_help="Add videos to a match, and print their ids.",
    epilog="Example: goodlength footage add demo match.mp4",
)
@click.argument("match_id")
@click.argument("files", nargs=-1, required=True, type=existing_file)
@library_option
def add(match_id: str, files: tuple[Path, ...], library_folder: Path | None) -> None:
    """Add videos to a match, in the order played, and print their ids. The files stay where they are."""
    from goodlength import tasks

    with opened(library_folder) as library:
        for file in files:
            added = tasks.add_footage(library, match_id, file, waiting=print_note)
            click.echo(added.id)
            for line in added_lines(library, added):
                print_note(line)


@footage_command.command(
    "list",
    short_help="List the videos of a match in the order played.",
    epilog="Example: goodlength footage list demo",
)
@click.argument("match_id")
@as_json
@library_option
def listed(match_id: str, as_json: bool, library_folder: Path | None) -> None:
    """List the videos of a match in the order played: id, length, browser-friendly copy, file."""
    from goodlength.media_time import seconds

    with opened_match(library_folder, match_id) as match:
        videos = match.footage
    if as_json:
        emit(
            [
                {
                    "id": video.id,
                    "file": video.path,
                    "copy": video.proxy is not None,
                    "first_s": None if video.first_us is None else seconds(video.first_us),
                    "end_s": None if video.end_us is None else seconds(video.end_us),
                }
                for video in videos
            ]
        )
        return
    print_lines(video_lines(videos))
    if not videos:
        print_note(f"This match has no video yet. Add one with: goodlength footage add {match_id} FILE")


@footage_command.command(
    "repack",
    short_help="Copy one video and one sound track into a new file.",
    epilog="Example: goodlength footage repack match.mov --sound-track 2 --out m.mov",
)
@click.argument("file", type=existing_file)
@click.option(
    "--out", required=True, type=click.Path(path_type=Path), metavar="FILE", help="The file to write."
)
@click.option(
    "--video-track",
    "picture",
    cls=RenamedOption,
    earlier=("--picture",),
    type=click.IntRange(1),
    metavar="NUMBER",
    help="Video track, by its number in `footage check` (default: the one goodlength chooses).",
)
@click.option(
    "--sound-track",
    "sound",
    cls=RenamedOption,
    earlier=("--sound",),
    type=click.IntRange(0),
    metavar="NUMBER",
    help="Sound track, by its number in `footage check`; 0 for no sound (default: the one goodlength "
    "chooses).",
)
@click.option(
    "--rate",
    type=float,
    metavar="RATE",
    help="Frame rate, only for raw H.264 or HEVC files, which have no time stamps.",
)
def repack(file: Path, out: Path, picture: int | None, sound: int | None, rate: float | None) -> None:
    """Copy one video track and one sound track into a new file.

    Nothing is encoded again, so nothing is lost, and the original is not changed. Use it if the match is
    on another track than the one goodlength chose, or for raw H.264 or HEVC files, which have no time
    stamps. Then add the new file to the match.
    """
    from goodlength import tasks

    with progress("New file") as report:
        made = tasks.repack(file, out, picture=picture, sound=sound, rate_hz=rate, progress=report)
    print_note(f"Saved: {made.path}. {made.words}")


@footage_command.command("proxy", epilog="Example: goodlength footage proxy demo-game-1")
@click.argument("footage_ids", metavar="VIDEO_ID...", nargs=-1, required=True)
@scheduler_option
@library_option
def proxy(footage_ids: tuple[str, ...], scheduler: str | None, library_folder: Path | None) -> None:
    """Make a browser-friendly copy of one or more videos. `footage list` shows their ids."""

    with opened(library_folder) as library, progress("Browser-friendly copy") as report:
        made = copies_of(library, footage_ids, scheduler=scheduler, progress=report)
    for path in made:
        print_note(f"Saved: {path}")


@footage_command.command(
    "calibrate",
    short_help="Calibrate the camera of a video from court marks.",
    epilog="Example: goodlength footage calibrate demo-game-1 --marks marks.json --at 2.0 --save",
)
@click.argument("footage_id", metavar="VIDEO_ID")
@click.option(
    "--marks",
    type=existing_file,
    metavar="FILE",
    help='JSON file of clicked marks: [{"mark", "u", "v"}, ...], u and v in pixels.',
)
@click.option(
    "--at",
    "at_s",
    type=float,
    default=0.0,
    metavar="SECONDS",
    help="Time of the frame with the marks, in seconds from the start of the video.",
)
@click.option(
    "--ignore",
    "leave_out",
    cls=RenamedOption,
    earlier=("--leave-out",),
    multiple=True,
    metavar="MARK",
    help="Name of a mark to ignore, from `footage marks`; can be repeated.",
)
@click.option(
    "--save",
    "keep",
    cls=RenamedOption,
    earlier=("--keep",),
    is_flag=True,
    help="Save the calibration for this video (default: only print it).",
)
@click.option(
    "--moved",
    type=float,
    metavar="SECONDS",
    help="Check whether the camera had moved at this time, in seconds from the start of the video.",
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
    saved for this video. `footage list` shows the ids of videos, `footage marks` the names of marks.
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
    print_lines(camera_lines(form))


@footage_command.command(
    "marks",
    short_help="List the court marks for the camera calibration.",
    epilog="Example: goodlength footage marks",
)
@as_json
def marks(as_json: bool) -> None:
    """List the court marks for the camera calibration: name, place in metres, and which edge is meant."""
    from goodlength.footage.camera import court_marks

    if as_json:
        emit(
            [
                {"name": court_mark.name, "at_m": court_mark.at, "edge": court_mark.edge}
                for court_mark in court_marks().values()
            ]
        )
        return
    print_lines(mark_lines(court_marks().values()))


@footage_command.command("track", epilog="Example: goodlength footage track demo")
@click.argument("match_id")
@click.option("--again", is_flag=True, help="Track again from the start, although tracks are stored.")
@click.option(
    "--first-track",
    "first",
    cls=RenamedOption,
    earlier=("--first",),
    metavar="PLAYER",
    help="Player of the first of the two tracks, by name or id; `open` returns to the default (default: from "
    "logged serves). The page Player movement shows both in their colours.",
)
@library_option
@as_json
def players(
    match_id: str, again: bool, first: str | None, library_folder: Path | None, as_json: bool
) -> None:
    """Track both players in every rally of a match.

    Prints the distance covered and the time away from the T; with --json also the positions. It needs
    rallies with a time and a calibrated camera. A poorly tracked rally is not shown, with the reason.
    """
    from goodlength.tasks.footage import player_tracking

    with opened_match(library_folder, match_id) as match:
        if again or not player_tracking.tracked_match(match).rallies:
            with progress("Players") as report:
                player_tracking.track_players(match, report)
        if first is not None:
            player_tracking.name_players(match, "" if first == "open" else match.side_of(first).value)
        form = tracking_form(match)
    if as_json:
        emit(form)
        return
    print_lines(tracking_lines(form))


@footage_command.command(
    "measure", epilog="Example: goodlength footage measure demo 4 --marks serve.json --save"
)
@click.argument("match_id")
@click.argument("number", metavar="RALLY", type=int)
@click.option(
    "--marks",
    type=existing_file,
    metavar="FILE",
    help='JSON file of clicks: [{"what", "at_s", "u", "v"}, ...].',
)
@click.option(
    "--find-ball", is_flag=True, help="Look for the ball in the frames between the clicks, and use it."
)
@ball_temperature_option("", " (default: from the match)")
@click.option(
    "--save",
    "keep",
    cls=RenamedOption,
    earlier=("--keep",),
    is_flag=True,
    help="Save the measurement with the serve (default: only print it).",
)
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

    Prints speed, launch angle, contacts and bounces, with 95% ranges. RALLY is a number in `match show`.
    Without --marks it prints the saved measurement.

    In the file, "what" is strike (the contact), feet, front, left, right, floor, back, second (the second
    bounce) or ball; "at_s" is the time of the frame in seconds, "u" and "v" are pixels of the upright frame.
    "again": [u, v] is a second click at the same thing; the ranges then allow for how exactly you click.
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
        kind_words, proposed = match.kind_words, ""
        logged = kind_words.get(kind_id or "", "")
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
            proposed = kind_words.get(kind or "", "")
            if keep:
                serve_measurement.save_measurement(match, key, clicks, warmth=warmth)
            if message:
                print_note(message)
    if as_json:
        emit(form)
        return
    print_lines(measured_words(form, logged, proposed))
    if keep and marks is not None:
        print_note("Saved with the serve.")


@footage_command.command("pose", epilog="Example: goodlength footage pose demo 4 --player imogen")
@click.argument("match_id")
@click.argument("rally", type=int)
@click.option(
    "--player",
    "who",
    cls=RenamedOption,
    earlier=("--who",),
    metavar="PLAYER",
    help="Player, by name or id (default: the one who hits).",
)
@click.option(
    "--shot",
    type=int,
    metavar="NUMBER",
    default=1,
    show_default=True,
    help="Number of the shot; 1 is the serve.",
)
@click.option(
    "--feet",
    type=float,
    nargs=2,
    metavar="U V",
    help="Position of the feet in the frame, in pixels (default: from `footage track`).",
)
@click.option("--again", is_flag=True, help="Find them again from the start, although they are stored.")
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

    Prints the angles of knees, hips, elbows, shoulders and trunk, with their errors. RALLY is a number in
    `match show`. The player's position comes from `footage track`, or from --feet.
    """
    from goodlength import tasks
    from goodlength.tasks.footage import strike_pose_estimation_and_correction

    with opened_match(library_folder, match_id) as match, progress("Body points") as report:
        (key,) = tasks.chosen_rallies(match, (rally,), None)
        striker = strike_pose_estimation_and_correction.striker_of
        whose = match.side_of(who).value if who else striker(match, key, shot)
        form = body_form(
            strike_pose_estimation_and_correction.strike_body(
                match, key, whose, shot=shot, feet=feet, again=again, progress=report
            )
        )
    if as_json:
        emit(form)
        return
    print_lines(body_lines(form))


keep_old_verb(footage_command, "look", "check")
keep_old_verb(footage_command, "players", "track")
keep_old_verb(footage_command, "camera", "calibrate")
keep_old_verb(footage_command, "body", "pose")
