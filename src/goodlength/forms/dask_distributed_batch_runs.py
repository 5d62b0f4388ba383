"""Run batches through Dask: many recordings, proxies, reports or serves, over local processes or other
machines.

The same pieces give the same results in the same order wherever they run. Each result is fetched the
moment it is there, so that a worker that dies costs only the piece it was at: that one is begun again.

A scheduler's address is somebody else's program: it runs what we send and sends back what we read. Name
only one you trust (`tls://` with its own certificates keeps strangers off the line).
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import CancelledError
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from goodlength.errors import GoodlengthError, InputError
from goodlength.files.json_types import Json
from goodlength.jobs.progress_callback import Progress

if TYPE_CHECKING:
    from goodlength.record.store import Library

SCHEDULER = "GOODLENGTH_SCHEDULER"  # the variable that names one; else the setting below
SETTING = "batches.scheduler"
FIGURES = 10
ASSUMED_TRIES = 3  # workers that may die over one piece before it is given up
ASSUMED_WAIT_S = 20


def scheduler_of(library: Library | None = None) -> str | None:
    """Return the scheduler named by GOODLENGTH_SCHEDULER or the library's setting; None means this
    machine.
    """
    named = os.environ.get(SCHEDULER) or (library.settings().get(SETTING) if library else None)
    return str(named) if named else None


def run_batch(
    work: Callable[..., Any],
    pieces: Sequence[Mapping[str, object]],
    *,
    scheduler: str | None = None,
    workers: int | None = None,
    progress: Progress | None = None,
) -> tuple[Any, ...]:
    """Call `work(**piece)` for every piece; gives the results in the order of the pieces.

    Parameters
    ----------
    work : callable
        A function of a module (not a closure): it is looked up by name where it runs.
    pieces : sequence of dict
        Its arguments, plain values and paths.
    scheduler : str, optional
        Address of a Dask scheduler; left out, processes of this machine.
    workers : int, optional
        Processes of this machine; left out, one a core. 1 runs in this process, without Dask.
    progress : callable, optional
        Called with the share done and words.

    Raises
    ------
    InputError
        If the scheduler does not answer, or Dask is not installed and needed.
    GoodlengthError
        What a piece raised, that its workers died again and again, or that the scheduler was lost on the way.
    """
    tell = progress or (lambda _share, _words: None)
    count = workers or os.cpu_count() or 1
    if scheduler is None and (count == 1 or len(pieces) < 2 or not _dask_is_here()):
        return tuple(_one_by_one(work, pieces, tell))
    with _client(scheduler, min(count, len(pieces))) as client:
        return _spread(client, work, pieces, tell)


def detect_rallies_in_many(paths: Sequence[str | Path], **how: Any) -> tuple[dict[str, Json], ...]:
    """Return rallies heard in many recordings, each as `footage rallies --json` prints it; see
    `run_batch`.
    """
    return run_batch(detect_rallies_in_one, [{"path": str(path)} for path in paths], **how)


def copy_many(pairs: Sequence[tuple[str | Path, str | Path]], **how: Any) -> tuple[str, ...]:
    """Make proxies that any browser plays, each of a source and its target; see `run_batch`."""
    return run_batch(copy_piece, [{"src": str(src), "dst": str(dst)} for src, dst in pairs], **how)


def copies_of(library: Library, footage_ids: Sequence[str], **how: Any) -> tuple[str, ...]:
    """Make proxies of recordings of a library, taken into use when they stand; see `run_batch`."""
    from goodlength.tasks.footage.footage_import_and_proxies import (
        make_proxy,
        note_proxy,
        original_path,
        proxy_path,
    )

    if len(footage_ids) == 1 and not how.get("scheduler"):
        return (str(make_proxy(library, footage_ids[0], how.get("progress"))),)
    pairs = [
        (original_path(library, footage_id), proxy_path(library, footage_id)) for footage_id in footage_ids
    ]
    made = copy_many(pairs, **how)
    for footage_id in footage_ids:
        note_proxy(library, footage_id)
    return made


def aim_many(asked: Sequence[dict[str, object]], **how: Any) -> tuple[dict[str, Json], ...]:
    """Return a sweep of serves: the aim for each set of words `aim_serve` takes; see `run_batch`."""
    return run_batch(aim_piece, list(asked), **how)


def report_many(library: Library, players: Sequence[str], **how: Any) -> tuple[dict[str, Json], ...]:
    """Return what the matches of each player say together, as `findings show --player --json` prints it.

    On other machines the library must be one on a server, or lie at the same path.
    """
    how.setdefault("scheduler", scheduler_of(library))
    place = {"library": str(library.address), "folder": str(library.folder)}
    return run_batch(report_piece, [{**place, "player": player} for player in players], **how)


def detect_rallies_in_one(path: str) -> dict[str, Json]:
    """Return one recording heard."""
    from goodlength.tasks.footage.rally_detection import detect_rallies

    return detect_rallies(path).to_json()


def copy_piece(src: str, dst: str) -> str:
    """Return one copy made; a copy that stands already is left."""
    from goodlength.footage.edit import proxy_video

    if not Path(dst).is_file():
        proxy_video.make_proxy(Path(src), Path(dst))
    return dst


def aim_piece(**asked: Any) -> dict[str, Json]:
    """Return one aim."""
    from goodlength.forms.flights.aim_json import aim_form
    from goodlength.tasks.aim.serve_aim import aim_serve

    return rounded(aim_form(aim_serve(**asked)))  # type: ignore[no-any-return]


def report_piece(library: str, folder: str, player: str) -> dict[str, Json]:
    """Return one player over matches."""
    from goodlength.forms.findings.player_across_matches_json import across_form
    from goodlength.record.store import Library
    from goodlength.tasks.findings.player_across_matches import over_matches

    with Library.open(library, create=False, folder=folder) as opened:
        return rounded(across_form(over_matches(opened, player)))  # type: ignore[no-any-return]


def rounded(value: Any) -> Any:
    """Return floats to ten figures: the last bits of a sum depend on the machine's kind and its threads."""
    if isinstance(value, float):
        return float(f"{value:.{FIGURES}g}")
    if isinstance(value, dict):
        return {key: rounded(item) for key, item in value.items()}
    return [rounded(item) for item in value] if isinstance(value, list | tuple) else value


def _one_by_one(
    work: Callable[..., Any], pieces: Sequence[Mapping[str, object]], tell: Progress
) -> Iterator[Any]:
    for n, piece in enumerate(pieces):
        tell(n / len(pieces), f"{n + 1} of {len(pieces)}")
        yield work(**piece)


def _spread(
    client: Any, work: Callable[..., Any], pieces: Sequence[Mapping[str, object]], tell: Progress
) -> tuple[Any, ...]:
    import distributed as _distributed

    distributed: Any = _distributed
    futures = [client.submit(_call, work, piece, pure=False) for piece in pieces]
    waiting = {future.key: n for n, future in enumerate(futures)}
    results: list[Any] = [None] * len(pieces)
    done = 0
    try:
        for future in distributed.as_completed(futures, loop=client.loop):
            results[waiting[future.key]] = future.result()  # fetched now: its worker may die later
            future.release()
            done += 1
            tell(done / len(pieces), f"{done} of {len(pieces)}")
    except distributed.KilledWorker as error:
        raise GoodlengthError(
            f"A piece of the batch ended its worker {ASSUMED_TRIES} times and was given up. Is there enough "
            "memory? The pieces before it are done; run them one at a time with one worker."
        ) from error
    except CancelledError as error:  # the only way in which a piece is cancelled here
        raise GoodlengthError(
            f"{done} of {len(pieces)} pieces were done when the scheduler could not be reached any more. "
            "Is it running, and is the network up? Start it again if it ended, and then the batch; copies "
            "that were made stay."
        ) from error
    finally:
        with suppress(CancelledError):
            client.cancel(futures)
    return tuple(results)


def _call(work: Callable[..., Any], piece: Mapping[str, object]) -> Any:
    return work(**piece)


@contextmanager
def _client(scheduler: str | None, workers: int) -> Iterator[Any]:
    if not _dask_is_here():
        raise InputError(
            "A scheduler needs the package distributed, which is not installed. "
            "Install it into goodlength's environment: pip install distributed."
        )
    import dask
    import distributed as _distributed

    distributed: Any = _distributed
    quiet = {
        "distributed.scheduler.allowed-failures": ASSUMED_TRIES,
        "distributed.worker.daemon": False,  # pieces may start programs of their own
    }
    with dask.config.set(quiet):
        if scheduler is not None:
            try:
                client = distributed.Client(scheduler, timeout=ASSUMED_WAIT_S, set_as_default=False)
            except (OSError, ValueError, TimeoutError) as error:
                raise InputError(
                    f"No scheduler answers at {scheduler} ({error}). Start one there (dask scheduler), "
                    f"or leave {SCHEDULER} out to work on this machine."
                ) from error
            with client:
                yield client
            return
        with (
            distributed.LocalCluster(
                n_workers=workers,
                threads_per_worker=1,
                processes=True,
                host="127.0.0.1",
                dashboard_address=None,
                silence_logs="CRITICAL",
            ) as cluster,
            distributed.Client(cluster, set_as_default=False) as client,
        ):
            yield client


def _dask_is_here() -> bool:
    from importlib.util import find_spec

    return "distributed" in sys.modules or find_spec("distributed") is not None
