"""Run the suite that kills, fuzzes and attacks: `python -m robustness trust --json`, from the source folder.

`goodlength bench trust` and `goodlength bench fuzz` hand over to it where the source is.
"""

from __future__ import annotations

import sys
from dataclasses import asdict
from pathlib import Path

import click

from goodlength.cli.bench import print_figures, seed_option
from goodlength.cli.terminal.shared_options import as_json, print_note
from goodlength.errors import GoodlengthError
from robustness.coach_workflow import bench_hour
from robustness.hosts.dask_batch_host_failure import bench_batches
from robustness.page_accessibility import bench_axe
from robustness.postgres_season_search_times import bench_server_season
from robustness.robustness_suite import bench_trust, long_fuzz


@click.group(epilog="Example: python -m robustness trust --kills 50 --json")
def suite() -> None:
    """Kills, attacks and bad input, with figures."""


@suite.command("trust", epilog="Example: python -m robustness trust --json")
@seed_option
@click.option(
    "--kills", type=int, default=1000, show_default=True, help="Processes killed at random moments."
)
@click.option("--inputs", type=int, default=2000, show_default=True, help="Corrupted inputs tried.")
@click.option("--clients", type=int, default=20, show_default=True, help="Tablets on one match.")
@click.option("--matches", type=int, default=10_000, show_default=True, help="Matches on the server.")
@as_json
def trust(seed: int, kills: int, inputs: int, clients: int, matches: int, as_json: bool) -> None:
    """Kills, requests from outside, load, corrupted inputs, a full disk, a real server, batches."""
    figures = bench_trust(
        seed,
        kills=kills,
        inputs=inputs,
        clients=clients,
        matches=matches,
        tell=lambda words: print_note(f"{words} ..."),
    )
    print_figures({"seed": seed, **figures}, as_json)


@suite.command("fuzz", epilog="Example: python -m robustness fuzz --seconds 600")
@seed_option
@click.option("--inputs", type=int, default=2000, show_default=True, help="Inputs a round.")
@click.option("--seconds", type=float, help="Repeat rounds until then; left out, one round.")
@as_json
def fuzz(seed: int, inputs: int, seconds: float | None, as_json: bool) -> None:
    """Corrupted and random inputs on importers, answers, videos, back-ups, libraries, and every route."""
    print_figures({"seed": seed, **long_fuzz(seed, inputs, seconds)}, as_json)


@suite.command("season", epilog="Example: python -m robustness season --json")
@seed_option
@click.option("--matches", type=int, default=10_000, show_default=True, help="Matches with ready columns.")
@click.option("--read", type=int, default=1_000, show_default=True, help="Matches replayed at first.")
@as_json
def season(seed: int, matches: int, read: int, as_json: bool) -> None:
    """Search on a PostgreSQL server of its own: a second coach, one changed match, the first reading."""
    print_figures({"seed": seed, **asdict(bench_server_season(seed, matches, read))}, as_json)


@suite.command("batches", epilog="Example: python -m robustness batches --json")
@seed_option
@as_json
def batches(seed: int, as_json: bool) -> None:
    """Batches on a scheduler and two workers, each a host of its own; one is cut off in the middle."""
    print_figures({"seed": seed, **bench_batches(seed)}, as_json)


@suite.command("axe", epilog="Example: python -m robustness axe --library DIR")
@click.option("--library", type=click.Path(path_type=Path, exists=True), required=True, help="Its folder.")
@as_json
def axe(library: Path, as_json: bool) -> None:
    """What axe finds on all pages of a library, at three sizes, in light and dark."""
    print_figures(bench_axe(library, lambda words: print_note(f"{words} ...")), as_json)


@suite.command("hour", epilog="Example: python -m robustness hour --json")
@seed_option
@click.option("--keep", type=click.Path(path_type=Path), help="Keep the film and the library in this folder.")
@click.option("--games", type=int, help="The first games only, for a quick look.")
@click.option("--prepared", is_flag=True, help="Go on from the draft of the run kept in the folder.")
@as_json
def hour(seed: int, keep: Path | None, games: int | None, prepared: bool, as_json: bool) -> None:
    """A new match from video to handout in a browser: presses, rallies watched, waiting, what is right."""
    figures = bench_hour(seed, keep, lambda words: print_note(f"{words} ..."), games, prepared=prepared)
    print_figures({"seed": seed, **figures}, as_json)


def main() -> int:
    """Return 0 (done) or 1 (could not, words on stderr); wrong usage ends the program with 2."""
    try:
        suite.main(prog_name="python -m robustness", standalone_mode=False)
    except click.ClickException as error:
        error.show()
        return error.exit_code
    except GoodlengthError as error:
        print_note(str(error))
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
