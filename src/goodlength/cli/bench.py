"""`goodlength bench ...`: speed and truth measured beside peers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any

import click

from goodlength.cli.terminal.options import as_json, emit, existing_file, print_note

seed_option = click.option("--seed", type=int, default=20261125, show_default=True, help="Random state.")


@click.group("bench", epilog="Example: goodlength bench page --json")
def bench_command() -> None:
    """Speed and truth measured, beside a peer where there is one. Close other programs first."""


@bench_command.command("page", epilog="Example: goodlength bench page")
@seed_option
@click.option("--matches", type=int, default=10_000, show_default=True, help="Random matches replayed.")
@as_json
def page(seed: int, matches: int, as_json: bool) -> None:
    """Key to stored, pages, handout, presses a rally, and replay of random legal matches."""
    from goodlength.bench import page_response as measured

    _report({"seed": seed, **asdict(measured.bench_page(seed, matches=matches))}, as_json)


@bench_command.command("findings", epilog="Example: goodlength bench findings --matches 400")
@seed_option
@click.option("--matches", type=int, default=400, show_default=True, help="Matches in which nothing differs.")
@click.option("--way-matches", type=int, default=60, show_default=True, help="Matches for each way.")
@click.option(
    "--survival",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write wrong findings by question and way to this file.",
)
@as_json
def findings(seed: int, matches: int, way_matches: int, survival: Path | None, as_json: bool) -> None:
    """False alarms, coverage of ranges, power and time: of plain matches, and of every way they can be."""
    from goodlength.bench.findings import finding_grades, finding_ways, settling, survival_rates

    told = {"seed": seed, **asdict(finding_grades.bench_finding_grades(seed, matches))}
    each = {
        name: finding_ways.as_form(finding_ways.way_figures(name, seed, way_matches))
        for name in finding_ways.WAYS
    }
    if survival is not None:
        survival_rates.bench_survival(seed, way_matches).write(survival)
    settled = settling.bench_settling(seed, way_matches)
    effects = finding_ways.effects(seed, way_matches)
    _report({**told, "ways": each, "effects": effects, "settled": settled}, as_json)


@bench_command.command("show", epilog="Example: goodlength bench show --cuts 100")
@seed_option
@click.option("--cuts", type=int, default=100, show_default=True, help="Random cuts tried.")
@as_json
def show(seed: int, cuts: int, as_json: bool) -> None:
    """Cuts exact to the frame, and the time of an export beside the bare encoder."""
    from goodlength.bench.footage import clip_exactness

    _report({"seed": seed, **asdict(clip_exactness.bench_clips(seed, cuts))}, as_json)


@bench_command.command("footage", epilog="Example: goodlength bench footage --recordings 4 --minutes 10")
@seed_option
@click.option("--recordings", type=int, default=20, show_default=True, help="Invented recordings heard.")
@click.option("--minutes", type=int, default=60, show_default=True, help="Length of the film timed.")
@click.option("--matches", type=int, default=200, show_default=True, help="Simulated matches drafted.")
@click.option("--cameras", type=int, default=200, show_default=True, help="Random cameras a setting.")
@click.option("--serves", type=int, default=100, show_default=True, help="Simulated serves a condition.")
@click.option("--rallies", type=int, default=19, show_default=True, help="Rallies with players followed.")
@click.option("--walkers", type=existing_file, help="A film of walkers from a still camera, to be pasted in.")
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
    """Rallies heard beside the sound decoder alone; sheets drafted; cameras, serves, players followed."""
    from goodlength.bench.footage import footage_summary as measured

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
    _report({"seed": seed, **figures}, as_json)


@bench_command.command("worlds", epilog="Example: goodlength bench worlds --json")
@seed_option
@click.option("--full", is_flag=True, help="Every recording at full length; an hour and more.")
@click.option("--small", is_flag=True, help="One short recording a family, to see that all of it runs.")
@as_json
def worlds(seed: int, full: bool, small: bool, as_json: bool) -> None:
    """Rallies heard in whole made-up recordings: families to learn, to choose and to judge, and the demo.

    Another seed gives recordings nobody has looked at. Nothing is changed by what the judging family says.
    """
    from goodlength.bench import worlds as measured

    _report(measured.bench_worlds(seed, full=full, small=small, told=print_note), as_json)


@bench_command.command("ball", epilog="Example: goodlength bench ball --json")
@seed_option
@click.option("--calibrations", type=int, default=200, show_default=True, help="Simulated courts calibrated.")
@as_json
def ball(seed: int, calibrations: int, as_json: bool) -> None:
    """Serves a second and their error beside scipy's solve_ivp; how often calibration holds the truth."""
    from goodlength.bench import court_calibration, flight_speed

    figures = asdict(flight_speed.bench(seed=seed))
    if calibrations > 0:
        figures["calibration"] = asdict(court_calibration.bench_calibration(seed, calibrations))
        each = max(calibrations // 5, 1)
        figures["calibration_conditions"] = [asdict(one) for one in court_calibration.table(seed, each)]
    _report({"seed": seed, **figures}, as_json)


@bench_command.command("aim", epilog="Example: goodlength bench aim --cases 20")
@seed_option
@click.option("--cases", type=int, default=20, show_default=True, help="Random cases beside brute force.")
@as_json
def aim(seed: int, cases: int, as_json: bool) -> None:
    """The aim searched beside brute force over launches, and how long an answer takes."""
    from goodlength.bench import aim_search

    _report({"seed": seed, **asdict(aim_search.bench_aim(seed, cases))}, as_json)


@bench_command.command("practice", epilog="Example: goodlength bench practice")
@seed_option
@click.option("--players", type=int, default=2000, show_default=True, help="Simulated players a rate.")
@as_json
def practice(seed: int, players: int, as_json: bool) -> None:
    """False "better" when nothing changed, and how often a change is found; attempts heard."""
    from goodlength.bench.findings import day_variation, practice_progress
    from goodlength.bench.footage import attempt_detection

    heard = attempt_detection.bench_attempts(seed, max(1, players // 100))
    differ = {
        f"days_{name}": value
        for name, value in asdict(day_variation.bench_day_variation(players=players // 5)).items()
    }
    _report(
        {
            "seed": seed,
            **asdict(practice_progress.bench_practice_progress(seed, players)),
            **differ,
            **asdict(heard),
        },
        as_json,
    )


@bench_command.command("tell", epilog="Example: goodlength bench tell")
@seed_option
@click.option("--sets", type=int, default=200, show_default=True, help="Sets of serves with nothing to tell.")
@as_json
def tell_sets(seed: int, sets: int, as_json: bool) -> None:
    """Tells raised where there is none, and how late one that was put in is found, on simulated joints."""
    from goodlength.bench.footage import serve_disguise

    _report(
        {"seed": seed, **asdict(serve_disguise.bench_serve_disguise(seed, sets, max(1, sets // 2)))}, as_json
    )


@bench_command.command("trust", epilog="Example: goodlength bench trust --json")
@seed_option
@click.option("--kills", type=int, default=1000, show_default=True, help="Programs killed at random moments.")
@click.option("--inputs", type=int, default=2000, show_default=True, help="Spoilt inputs tried.")
@click.option("--clients", type=int, default=20, show_default=True, help="Tablets on one match.")
@click.option("--matches", type=int, default=10_000, show_default=True, help="Matches on the server.")
@as_json
def trust(seed: int, kills: int, inputs: int, clients: int, matches: int, as_json: bool) -> None:
    """Kills, doors tried from outside, load, spoilt inputs, a full disk, a real server, batches."""
    from robustness import trust as trusting

    found = trusting.bench_trust(
        seed,
        kills=kills,
        inputs=inputs,
        clients=clients,
        matches=matches,
        tell=lambda words: print_note(f"{words} ..."),
    )
    _report({"seed": seed, **found}, as_json)


@bench_command.command("fuzz", epilog="Example: goodlength bench fuzz --seconds 600")
@seed_option
@click.option("--inputs", type=int, default=2000, show_default=True, help="Inputs a round.")
@click.option("--seconds", type=float, help="Go on in rounds until then; left out, one round.")
@as_json
def fuzz(seed: int, inputs: int, seconds: float | None, as_json: bool) -> None:
    """Spoilt and invented inputs on importers, answers, films, back-ups, libraries, and every route."""
    from robustness import trust as trusting

    _report({"seed": seed, **trusting.long_fuzz(seed, inputs, seconds)}, as_json)


@bench_command.command("films", epilog="Example: goodlength bench films ~/films --json")
@click.argument("folder", type=click.Path(path_type=Path))
@as_json
def films(folder: Path, as_json: bool) -> None:
    """Every film of FOLDER looked at, shown, cut, copied and listened to, beside ffprobe where it is."""
    from goodlength.bench.footage import film_folder

    found = film_folder.try_films(folder)
    if not as_json:
        films = found.pop("films")
        for one in films if isinstance(films, list) else ():
            did = ", ".join(f"{name} {how}" for name, how in one["steps"].items()) or "refused"
            said = " ".join(one["said"])
            click.echo(f"{one['name']}: {one['pictures']} pictures; {did}; {said}".rstrip("; "))
    _report(found, as_json)


def _report(figures: Mapping[str, Any], as_json: bool) -> None:
    if as_json:
        emit(figures)
        return
    for name, value in figures.items():
        click.echo(f"{name:<30} {value:.4g}" if isinstance(value, float) else f"{name:<30} {value}")
    print_note("Figures depend on the machine and on what else it does.")
