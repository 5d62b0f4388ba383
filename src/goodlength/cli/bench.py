"""`goodlength bench ...`: speed and accuracy benchmarks."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path

import click

import goodlength
from goodlength.cli.terminal.shared_options import as_json, emit, existing_file, print_note
from goodlength.errors import GoodlengthError

seed_option = click.option("--seed", type=int, default=20261125, show_default=True, help="Random state.")
HANDED_OVER = {"ignore_unknown_options": True}
suite_options = click.argument("options", nargs=-1, type=click.UNPROCESSED, metavar="[SUITE OPTIONS]")


@click.group("bench", epilog="Example: goodlength bench page --json")
def bench_command() -> None:
    """Speed and accuracy tests, for developers. Close other programs first."""


@bench_command.command("page", epilog="Example: goodlength bench page")
@seed_option
@click.option(
    "--matches", type=int, default=10_000, show_default=True, help="Number of random matches to replay."
)
@as_json
def page(seed: int, matches: int, as_json: bool) -> None:
    """Time from a key to the stored answer, pages, handout, presses a rally, replay of random matches."""
    from goodlength.bench import response_times_and_keypresses as measured

    print_figures({"seed": seed, **asdict(measured.bench_page(seed, matches=matches))}, as_json)


@bench_command.command("scale", epilog="Example: goodlength bench scale --matches 200")
@seed_option
@click.option(
    "--matches", type=int, default=2_000, show_default=True, help="Number of matches in the library."
)
@click.option("--times", type=int, default=20, show_default=True, help="Number of requests for each page.")
@click.option(
    "--clients", type=int, default=50, show_default=True, help="Number of devices that log at the same time."
)
@click.option(
    "--keep",
    type=click.Path(file_okay=False, path_type=Path),
    help="Store the simulated library in this folder, for the next run.",
)
@click.option(
    "--server",
    is_flag=True,
    help="Also search 10,000 matches on a PostgreSQL server started for it; needs the source code.",
)
@click.option(
    "--hosts",
    is_flag=True,
    help="Also run batches over several hosts, one of which is cut off; needs the source code and Linux.",
)
@as_json
def scale(
    seed: int,
    matches: int,
    times: int,
    clients: int,
    keep: Path | None,
    server: bool,
    hosts: bool,
    as_json: bool,
) -> None:
    """Time of every page of a large library, and of answers to a long match from many devices."""
    from goodlength.bench import large_library_response_times as measured

    on_server = _server_figures(seed) if server else {}
    over_hosts = {"hosts": _of_suite("batches", seed, "scale --hosts")} if hosts else {}
    figures = measured.bench_scale(seed, matches, times=times, clients=clients, folder=keep)
    print_figures({"seed": seed, **asdict(figures), **on_server, **over_hosts}, as_json)


def _server_figures(seed: int) -> dict[str, object]:
    """Return what the suite measures on a server of its own, the two times of 10,000 matches by name too."""
    found = _of_suite("season", seed, "scale --server")
    named = ("first_search_second_coach_s", "one_changed_s")
    return {"server": found, **{name: found[name] for name in named}}


def _of_suite(part: str, seed: int, asked: str) -> dict[str, object]:
    """Return the figures of one part of the suite beside the source."""
    command = [sys.executable, "-m", "robustness", part, "--seed", str(seed), "--json"]
    done = subprocess.run(command, check=False, cwd=_source_folder(asked), capture_output=True, text=True)
    if done.returncode != 0:
        raise GoodlengthError(done.stderr.strip() or f"The figures of {part} could not be measured.")
    found: dict[str, object] = json.loads(done.stdout)
    return found


@bench_command.command("phone", epilog="Example: goodlength bench phone --gigabytes 0.2 --cuts 2")
@seed_option
@click.option(
    "--gigabytes",
    type=click.FloatRange(0.001, 100),
    default=1.0,
    show_default=True,
    help="Size of the video.",
)
@click.option("--cuts", type=click.IntRange(0, 100), default=5, show_default=True, help="Cuts of the link.")
@as_json
def phone(seed: int, gigabytes: float, cuts: int, as_json: bool) -> None:
    """A video sent from a phone-size browser over a link that is cut: time, hash, the server's memory.

    It needs the source code with the browser of its tests.
    """
    from goodlength.bench.phone_upload_over_broken_link import bench_phone

    print_figures({"seed": seed, **asdict(bench_phone(seed, gigabytes, cuts))}, as_json)


@bench_command.command("findings", epilog="Example: goodlength bench findings --matches 400")
@seed_option
@click.option(
    "--matches",
    type=int,
    default=400,
    show_default=True,
    help="Number of matches without any real difference.",
)
@click.option(
    "--way-matches", type=int, default=60, show_default=True, help="Number of matches of each kind."
)
@click.option(
    "--survival",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write the false alarms by question and kind of match to this file.",
)
@click.option(
    "--sizes", is_flag=True, help="Only compare the size shown with that of the record and the true one."
)
@click.option("--places", is_flag=True, help="Only the questions that followed ball paths answer.")
@as_json
def findings(
    seed: int,
    matches: int,
    way_matches: int,
    survival: Path | None,
    sizes: bool,
    places: bool,
    as_json: bool,
) -> None:
    """False alarms, coverage of ranges, power and time, on simulated matches of every kind."""
    from goodlength.bench.findings import (
        error_rates_by_scenario,
        false_findings_under_broken_assumptions,
        findings_benchmark_summary,
        sample_size_forecast_accuracy,
        shot_place_findings_error_rates,
        unchecked_answer_coverage,
    )

    if places:
        print_figures(
            {"seed": seed, "places": shot_place_findings_error_rates.bench_places(seed, way_matches)}, as_json
        )
        return

    if sizes:
        print_figures({"seed": seed, "sizes": error_rates_by_scenario.sizes(seed, way_matches)}, as_json)
        return
    summary = {"seed": seed, **asdict(findings_benchmark_summary.bench_finding_grades(seed, matches))}
    each = {
        name: error_rates_by_scenario.as_form(error_rates_by_scenario.way_figures(name, seed, way_matches))
        for name in error_rates_by_scenario.WAYS
    }
    if survival is not None:
        false_findings_under_broken_assumptions.bench_survival(seed, way_matches).write(survival)
    settled = sample_size_forecast_accuracy.bench_settling(seed, way_matches)
    effects = error_rates_by_scenario.effects(seed, way_matches)
    by_places = shot_place_findings_error_rates.bench_places(seed, way_matches)
    figures = {**summary, "ways": each, "effects": effects, "settled": settled, "places": by_places}
    unchecked = unchecked_answer_coverage.unchecked_coverage(way_matches, seed=seed)
    print_figures({**figures, "unchecked": unchecked}, as_json)


@bench_command.command("show", epilog="Example: goodlength bench show --cuts 100")
@seed_option
@click.option("--cuts", type=int, default=100, show_default=True, help="Number of random cuts.")
@as_json
def show(seed: int, cuts: int, as_json: bool) -> None:
    """Accuracy of cuts to the frame, and the time of an export compared with the encoder alone."""
    from goodlength.bench.footage import clip_frame_accuracy

    print_figures({"seed": seed, **asdict(clip_frame_accuracy.bench_clips(seed, cuts))}, as_json)


@bench_command.command("footage", epilog="Example: goodlength bench footage --recordings 4 --minutes 10")
@seed_option
@click.option("--recordings", type=int, default=20, show_default=True, help="Number of simulated recordings.")
@click.option(
    "--minutes", type=int, default=60, show_default=True, help="Length of the timed video, minutes."
)
@click.option(
    "--matches", type=int, default=200, show_default=True, help="Number of simulated matches to draft."
)
@click.option(
    "--cameras", type=int, default=200, show_default=True, help="Number of random cameras for each setting."
)
@click.option(
    "--serves",
    type=int,
    default=100,
    show_default=True,
    help="Number of simulated serves for each condition.",
)
@click.option(
    "--rallies",
    type=int,
    default=19,
    show_default=True,
    help="Number of rallies in which to track the players.",
)
@click.option(
    "--walkers", type=existing_file, help="A video of walkers from a fixed camera, to paste into the court."
)
@as_json
def footage(
    seed: int,
    recordings: int,
    minutes: int,
    matches: int,
    cameras: int,
    serves: int,
    rallies: int,
    walkers: Path | None,
    as_json: bool,
) -> None:
    """Rally detection, draft score sheets, camera calibration, measured serves and tracked players."""
    from goodlength.bench.footage import footage_benchmark_summary as measured

    figures = measured.bench_footage(
        seed,
        recordings=recordings,
        minutes=minutes,
        matches=matches,
        cameras=cameras,
        serves=serves,
        rallies=rallies,
        walkers=walkers,
    )
    print_figures({"seed": seed, **figures}, as_json)


@bench_command.command("worlds", epilog="Example: goodlength bench worlds --json")
@seed_option
@click.option("--full", is_flag=True, help="Use every recording at full length; takes an hour and more.")
@click.option(
    "--small", is_flag=True, help="Use one short recording of each family, to see that everything runs."
)
@as_json
def worlds(seed: int, full: bool, small: bool, as_json: bool) -> None:
    """Rally detection on simulated recordings: training, validation and test families, and the demo.

    The court found by itself is measured on a few made-up films of the test family; for more of them use
    "bench court".

    Another seed gives recordings that nobody has looked at. Nothing is tuned on the test family.
    """
    from goodlength.bench import rally_recognition_accuracy_by_family as measured

    print_figures(measured.bench_worlds(seed, full=full, small=small, progress=print_note), as_json)


@bench_command.command("court", epilog="Example: goodlength bench court --films 10 --json")
@seed_option
@click.option("--films", type=int, default=100, show_default=True, help="Films of the judging family.")
@click.option("--others", type=int, default=5, show_default=True, help="Films of each kind of bad input.")
@as_json
def court(seed: int, films: int, others: int, as_json: bool) -> None:
    """The court found by itself in made-up films: how often offered, how far off, wrong but offered.

    Drawing a film takes 10 seconds and more. Another seed gives films nobody has looked at.
    """
    from goodlength.bench.footage import court_detection_accuracy as measured

    print_figures(asdict(measured.bench_court(seed, films, others, print_note)), as_json)


@bench_command.command("ball-following", epilog="Example: goodlength bench ball-following --films 4 --json")
@seed_option
@click.option("--films", type=int, default=20, show_default=True, help="Number of simulated videos.")
@click.option(
    "--family",
    type=click.Choice(["judging", "choosing", "stopped"]),
    default="judging",
    show_default=True,
    help="Family of the videos; choosing is for no figure that is reported. With --rallies also: stopped, "
    "half of them service faults, lets and strokes.",
)
@click.option(
    "--keep",
    type=click.Path(file_okay=False, path_type=Path),
    help="Store the simulated videos in this folder, for the next run.",
)
@click.option(
    "--rallies",
    type=int,
    default=0,
    metavar="N",
    help="Instead of videos: shots joined in N simulated rallies of each condition.",
)
@click.option("--condition", multiple=True, metavar="NAME", help="With --rallies: only this condition.")
@as_json
def ball_following(
    seed: int,
    films: int,
    family: str,
    keep: Path | None,
    rallies: int,
    condition: tuple[str, ...],
    as_json: bool,
) -> None:
    """Ball detection in simulated videos, or with --rallies the shots joined: accuracy, doubt, cost.

    Drawing a video takes 20 seconds and more, a rally two. Rallies have places of the ball with errors
    instead of frames.
    """
    if rallies:
        from goodlength.bench.ball.shot_path_accuracy import bench_shots

        return print_figures(bench_shots(seed, rallies, condition, family, print_note), as_json)
    if family == "stopped":
        raise click.UsageError("The family stopped goes with --rallies: it has no videos.")
    from goodlength.bench.footage import ball_detection_accuracy as measured

    return print_figures(measured.bench_ball_following(seed, films, family, keep, print_note), as_json)


@bench_command.command("players", epilog="Example: goodlength bench players --films 10 --json")
@seed_option
@click.option("--films", type=int, default=30, show_default=True, help="Films drawn, one after another.")
@click.option("--seconds", type=float, default=20.0, show_default=True, help="Length of each film.")
@click.option("--family", default="judging", show_default=True, help="Also: choosing, rasterised, layered.")
@click.option("--detected", is_flag=True, help="Use the court found by itself instead of clicked marks.")
@as_json
def players(seed: int, films: int, seconds: float, family: str, detected: bool, as_json: bool) -> None:
    """Players tracked in made-up films: errors, stated errors, swaps, what is hidden, by condition.

    Drawing a film takes half a minute and more. Another seed gives films nobody has looked at.
    """
    from goodlength.bench.footage.generated_films import player_tracking_accuracy_on_new_courts as measured

    figures = measured.bench_players(seed, films, seconds, family, print_note, detected=detected)
    print_figures(asdict(figures), as_json)


@bench_command.command("ball", epilog="Example: goodlength bench ball --json")
@seed_option
@click.option(
    "--calibrations",
    type=int,
    default=200,
    show_default=True,
    help="Number of simulated courts to calibrate.",
)
@as_json
def ball(seed: int, calibrations: int, as_json: bool) -> None:
    """Serves simulated a second and their error, compared with scipy's solve_ivp; coverage of calibration."""
    from goodlength.bench import ball_calibration_interval_coverage, flight_integration_against_scipy

    figures = asdict(flight_integration_against_scipy.bench(seed=seed))
    if calibrations > 0:
        figures["calibration"] = asdict(
            ball_calibration_interval_coverage.bench_calibration(seed, calibrations)
        )
        each = max(calibrations // 5, 1)
        figures["calibration_conditions"] = [
            asdict(calibration_figures)
            for calibration_figures in ball_calibration_interval_coverage.table(seed, each)
        ]
    print_figures({"seed": seed, **figures}, as_json)


@bench_command.command("aim", epilog="Example: goodlength bench aim --cases 20")
@seed_option
@click.option(
    "--cases",
    type=int,
    default=20,
    show_default=True,
    help="Number of random cases to compare with brute force.",
)
@as_json
def aim(seed: int, cases: int, as_json: bool) -> None:
    """The search of the aim compared with brute force, its Monte Carlo error, and its time."""
    from goodlength.bench import aim_monte_carlo_error, aim_optimisation

    luck = [asdict(ranges) for ranges in aim_monte_carlo_error.bench_aim_ranges(seed, cases)]
    print_figures(
        {"seed": seed, **asdict(aim_optimisation.bench_aim(seed, cases)), "throws_luck": luck}, as_json
    )


@bench_command.command("limits", epilog="Example: goodlength bench limits --json")
@seed_option
@click.option(
    "--drag/--no-drag", default=True, help="Drive the Aim page in a browser too, if one is installed."
)
@click.option(
    "--video/--no-video", default=True, help="Measure the copy, tracking and covered heads on a drawn video."
)
@as_json
def limits(seed: int, drag: bool, video: bool, as_json: bool) -> None:
    """Flights, Aim and work on a video beside the hardware's limits."""
    from goodlength.bench.speed_against_hardware_limits import bench_limits

    print_figures({"seed": seed, **asdict(bench_limits(seed, drag=drag, video=video))}, as_json)


@bench_command.command("practice", epilog="Example: goodlength bench practice")
@seed_option
@click.option(
    "--players", type=int, default=2000, show_default=True, help="Number of simulated players for each rate."
)
@as_json
def practice(seed: int, players: int, as_json: bool) -> None:
    """False "better" when nothing changed, how often a change is found, and attempts detected."""
    from goodlength.bench.findings import error_rates_with_day_variation, practice_statistics_error_rates
    from goodlength.bench.footage import practice_hit_detection_accuracy

    attempts = practice_hit_detection_accuracy.bench_attempts(seed, max(1, players // 100))
    differ = {
        f"days_{name}": value
        for name, value in asdict(
            error_rates_with_day_variation.bench_day_variation(players=players // 5)
        ).items()
    }
    print_figures(
        {
            "seed": seed,
            **asdict(practice_statistics_error_rates.bench_practice_progress(seed, players)),
            **differ,
            **asdict(attempts),
        },
        as_json,
    )


@bench_command.command("tell", epilog="Example: goodlength bench tell")
@seed_option
@click.option(
    "--sets",
    type=int,
    default=200,
    show_default=True,
    help="Number of sets of serves without any difference to read.",
)
@as_json
def tell_sets(seed: int, sets: int, as_json: bool) -> None:
    """False alarms about disguise, and how late a planted difference is found, on simulated joints."""
    from goodlength.bench.footage import serve_cue_onset_accuracy

    print_figures(
        {
            "seed": seed,
            **asdict(serve_cue_onset_accuracy.bench_serve_disguise(seed, sets, max(1, sets // 2))),
        },
        as_json,
    )


@bench_command.command("trust", context_settings=HANDED_OVER, epilog="Example: goodlength bench trust --json")
@suite_options
def trust(options: tuple[str, ...]) -> None:
    """Kill, attack and load the program: corrupted inputs, a full disk, a real server, batches.

    Runs from the source code, with the options of `python -m robustness trust --help`.
    """
    _run_suite("trust", options)


@bench_command.command(
    "fuzz", context_settings=HANDED_OVER, epilog="Example: goodlength bench fuzz --seconds 600"
)
@suite_options
def fuzz(options: tuple[str, ...]) -> None:
    """Send corrupted and random input to importers, answers, videos, back-ups, libraries and every route.

    Runs from the source code, with the options of `python -m robustness fuzz --help`.
    """
    _run_suite("fuzz", options)


@bench_command.command(
    "hour", context_settings=HANDED_OVER, epilog="Example: goodlength bench hour --games 1 --json"
)
@suite_options
def hour(options: tuple[str, ...]) -> None:
    """Take a made-up match from its video to the handout in a browser, and count what it costs the coach.

    Runs from the source code, with the options of `python -m robustness hour --help`.
    """
    _run_suite("hour", options)


def _run_suite(name: str, options: tuple[str, ...]) -> None:
    command = [sys.executable, "-m", "robustness", name, *options]
    sys.exit(subprocess.run(command, check=False, cwd=_source_folder(name)).returncode)


def _source_folder(name: str) -> Path:
    source = Path(goodlength.__file__).resolve().parents[2]
    if not (source / "robustness" / "__main__.py").is_file():
        raise GoodlengthError(
            f"The command bench {name} is not in the installed program: its tests are in the source code. "
            f"Get the source code and run there: ./start bench {name}"
        )
    return source


@bench_command.command("films", epilog="Example: goodlength bench films ~/films --json")
@click.argument("folder", type=click.Path(path_type=Path))
@as_json
def films(folder: Path, as_json: bool) -> None:
    """Check, show, cut, copy and listen to every video of FOLDER; compare with ffprobe if it is there."""
    from goodlength.bench.footage import video_folder_pipeline_trial

    found = video_folder_pipeline_trial.try_films(folder)
    if not as_json:
        films = found.pop("films")
        for item in films if isinstance(films, list) else ():
            did = ", ".join(f"{name} {how}" for name, how in item["steps"].items()) or "refused"
            messages = " ".join(item["messages"])
            click.echo(f"{item['name']}: {item['pictures']} pictures; {did}; {messages}".rstrip("; "))
    print_figures(found, as_json)


def print_figures(figures: Mapping[str, object], as_json: bool) -> None:
    """Print figures as JSON, or a line each."""
    if as_json:
        emit(figures)
        return
    for name, value in figures.items():
        click.echo(f"{name:<30} {value:.4g}" if isinstance(value, float) else f"{name:<30} {value}")
    print_note("Figures depend on the machine and on what else it does.")
