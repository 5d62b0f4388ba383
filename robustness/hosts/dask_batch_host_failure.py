"""Batches on a Dask scheduler and two workers, each a host of its own; one of them is cut off in the middle.

The same batches run on one machine first. A host that is cut off goes on with its piece and writes what it
made to the shared disk, while another host is given the same piece: that may happen, and must not count.
"""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import asdict, dataclass, field, replace
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np

from goodlength.bench.large_library_response_times import whole_matches
from goodlength.errors import GoodlengthError
from goodlength.files.atomic_write import LEFTOVER
from goodlength.forms.dask_distributed_batch_runs import copies_of, detect_rallies_in_many, report_many
from goodlength.record.store import Library
from goodlength.synthetic.simulated_court_audio import TYPICAL, record
from goodlength.synthetic.video_with_sound_writer import write_film
from goodlength.tasks.footage.footage_import_and_proxies import add_footage
from robustness import ROOT, child_environment
from robustness.hosts.batch_tasks_logged_and_paused_until_cut import (
    FOLDER,
    HOLD,
    HOST,
    RELEASED,
    WAITING,
    notes,
    wait_for,
    watched,
)
from robustness.hosts.network_namespaces import HERE, NETWORK, Hosts, NoNamespaces, private_namespaces
from robustness.temporary_postgres_server import scratch_server

SCHEDULER, WORKERS = "scheduler", ("worker-1", "worker-2")
PORT = 8786
SOON = {  # a host that is silent is given up after about this long; Dask's own times are about half a minute
    "DASK_DISTRIBUTED__SCHEDULER__WORKER_TTL": "10s",
    "DASK_DISTRIBUTED__COMM__TIMEOUTS__CONNECT": "5s",
    "DASK_DISTRIBUTED__COMM__TIMEOUTS__TCP": "11s",
}
SHORT_CUT_S = 2.0
MATCHES, FILMS, FILM_S = 16, 6, 45.0
LONGEST_S = 900


@dataclass(frozen=True)
class OneBatch:
    """One batch: its pieces, seconds on one machine and on the hosts, and what the cut cost.

    `repeated` are pieces that two hosts began; `done_twice` those that two hosts ended: one cut off from
    the store cannot end its report.
    `again_after_s` is the time from the cut until another host began the same piece.
    """

    pieces: int
    alone_s: float
    hosts_s: float
    cut: str
    repeated: int
    done_twice: int
    again_after_s: float | None
    came_back: bool
    identical: bool


@dataclass(frozen=True)
class BatchFigures:
    """What was measured; `hosts` says why nothing could be where it is not "tried".

    `identical` means results, `store_equal` what the store holds afterwards, `files_equal` the bytes of every
    copy: each against the run on one machine.
    """

    hosts: str
    store: str = ""
    load: float | None = None
    batches: dict[str, OneBatch] = field(default_factory=dict)
    identical: bool = False
    store_equal: bool = False
    files_equal: bool = False
    half_written: int = 0


def bench_batches(seed: int, film_s: float = FILM_S) -> dict[str, Any]:
    """Return the figures, measured in namespaces of their own; where they cannot be made, why.

    Parameters
    ----------
    seed : int
        Of the matches and the films.
    film_s : float
        How long each film is.

    Raises
    ------
    GoodlengthError
        If the hosts stood and the trial failed.
    """
    if find_spec("distributed") is None:
        return asdict(BatchFigures("the package distributed is not installed"))
    try:
        command = [*private_namespaces(), sys.executable, "-m", __name__, str(seed), str(film_s)]
    except NoNamespaces as error:
        return asdict(BatchFigures(str(error)))
    with tempfile.TemporaryDirectory(prefix="gl-hosts-") as folder:
        done = subprocess.run(
            [*command, folder],
            cwd=ROOT,
            env=child_environment(),
            check=False,
            capture_output=True,
            text=True,
            timeout=LONGEST_S,
        )
    if done.returncode != 0:
        raise GoodlengthError(f"The batches over several hosts failed: {done.stderr.strip()[-3000:]}")
    figures: dict[str, Any] = json.loads(done.stdout)
    return figures


def main() -> None:
    """Run it inside the namespaces: seed, length of a film and folder are given; the figures are printed."""
    seed, film_s, folder = int(sys.argv[1]), float(sys.argv[2]), Path(sys.argv[3])
    load = os.getloadavg()[0]
    hosts = Hosts((SCHEDULER, *WORKERS))
    with ExitStack() as stack:
        address, store = _store(stack, folder)
        library = stack.enter_context(Library.open(address, folder=folder / "library"))
        trial = _Trial(library, hosts, folder, seed, film_s)
        stack.callback(trial.end)
        figures = replace(trial.run(), store=store, load=load)
    print(json.dumps(asdict(figures)))


def _store(stack: ExitStack, folder: Path) -> tuple[str, str]:
    """Return the address of a shared store, and what it is: a real server's where the machine has one."""
    try:
        server = stack.enter_context(scratch_server(HERE, f"{NETWORK}.0/24"))
    except (GoodlengthError, OSError) as error:
        return str(folder / "library"), f"a shared folder ({error})"
    return server.new_database("hosts"), "PostgreSQL"


class _Trial:
    def __init__(self, library: Library, hosts: Hosts, folder: Path, seed: int, film_s: float) -> None:
        self._library, self._hosts, self._folder = library, hosts, folder
        self._watched = folder / "watched"
        self._watched.mkdir()
        rng = np.random.default_rng(seed)
        whole_matches(library, rng, MATCHES)
        played = Counter(player for info in library.matches() for player in info.players)
        self._players = sorted(player for player, _ in played.most_common(FILMS))
        self._films = [
            write_film(folder / f"film-{n}.mp4", record(rng, TYPICAL, film_s).samples) for n in range(FILMS)
        ]
        self._footage = [
            add_footage(library, f"m{n}", film, copied=True).id for n, film in enumerate(self._films)
        ]
        self._running: dict[str, subprocess.Popen[bytes]] = {}

    def run(self) -> BatchFigures:
        """Run each batch alone, then over the hosts."""
        work: dict[str, Callable[..., tuple[Any, ...]]] = {
            "copies": lambda **how: copies_of(self._library, self._footage, **how),
            "reports": lambda **how: report_many(self._library, self._players, **how),
            "rallies": lambda **how: detect_rallies_in_many(self._films, **how),
        }
        alone = {name: _timed(lambda batch=batch: batch(workers=1)) for name, batch in work.items()}  # type: ignore[misc]
        files, stored = self._copies(), self._stored()
        self._forget_copies()
        self._start()
        cuts = {"copies": WORKERS[1], "reports": WORKERS[0], "rallies": WORKERS[1]}
        batches = {}
        for name, batch in work.items():
            short = name == "rallies"
            batches[name] = self._over_hosts(batch, alone[name], cuts[name], short=short)
        return BatchFigures(
            hosts="tried",
            batches=batches,
            identical=all(batch.identical for batch in batches.values()),
            store_equal=self._stored() == stored,
            files_equal=self._copies() == files,
            half_written=sum(1 for _ in self._folder.rglob(f"{LEFTOVER}*")),
        )

    def _over_hosts(
        self,
        batch: Callable[..., tuple[Any, ...]],
        alone: tuple[tuple[Any, ...], float],
        host: str,
        *,
        short: bool,
    ) -> OneBatch:
        """Run a batch, and cut one host off while it is at a piece; a short cut ends before it is noticed."""
        (self._watched / "notes").unlink(missing_ok=True)
        (self._watched / f"{HOLD}-{host}").touch()
        cut_at: list[float] = []
        cutting = threading.Thread(target=self._cut, args=(host, cut_at), kwargs={"short": short})
        cutting.start()
        with watched(), self._noting_begins() as begins:
            results, seconds = _timed(lambda: batch(scheduler=self._scheduler))
        cutting.join()
        (self._watched / f"{HOLD}-{host}").unlink()
        piece = (self._watched / f"{WAITING}-{host}").read_text()
        wait_for(lambda: (piece, host) in self._noted("ended", "failed"), f"{host} was done with {piece}")
        began, ended = (Counter(name for name, _ in self._noted(what)) for what in ("began", "ended"))
        if not short:
            self._hosts.join(host)
        again = [at for name, by, at in begins if name == piece and by != host]
        for name in (WAITING, RELEASED):
            (self._watched / f"{name}-{host}").unlink()
        return OneBatch(
            pieces=len(results),
            alone_s=alone[1],
            hosts_s=seconds,
            cut=f"{host}, {'joined again soon' if short else 'until the end'}",
            repeated=sum(count > 1 for count in began.values()),
            done_twice=sum(count > 1 for count in ended.values()),
            again_after_s=again[0] - cut_at[0] if again else None,
            came_back=self._workers_back(host),
            identical=results == alone[0],
        )

    def _cut(self, host: str, cut_at: list[float], *, short: bool) -> None:
        wait_for((self._watched / f"{WAITING}-{host}").exists, f"{host} was at a piece")
        self._hosts.cut(host)
        cut_at.append(time.monotonic())
        if short:
            time.sleep(SHORT_CUT_S)
            self._hosts.join(host)
        (self._watched / f"{RELEASED}-{host}").touch()

    @contextmanager
    def _noting_begins(self) -> Iterator[list[tuple[str, str, float]]]:
        """Yield pieces, their hosts and when each was seen to begin, filled in while the block runs."""
        begins: list[tuple[str, str, float]] = []
        over = threading.Event()

        def watch_notes() -> None:
            ended = False
            while not ended:  # once more after the end: the last piece may take less than a look apart
                ended = over.wait(0.1)
                for name, host in self._noted("began")[len(begins) :]:
                    begins.append((name, host, time.monotonic()))

        looking = threading.Thread(target=watch_notes)
        looking.start()
        try:
            yield begins
        finally:
            over.set()
            looking.join()

    def _noted(self, *what: str) -> list[tuple[str, str]]:
        return [(note["piece"], note["host"]) for note in notes(self._watched) if note["what"] in what]

    @property
    def _scheduler(self) -> str:
        return f"tcp://{self._hosts.address(SCHEDULER)}:{PORT}"

    def _start(self) -> None:
        """Start the scheduler and the workers, each on its host, and wait until they know each other."""
        at = self._hosts.address(SCHEDULER)
        self._start_on(SCHEDULER, "scheduler", "--host", at, "--port", str(PORT), "--no-dashboard")
        for name in WORKERS:
            self._start_worker(name)
        for name in WORKERS:
            if not self._workers_back(name):
                raise GoodlengthError(f"{name} did not start: {(self._folder / f'{name}.log').read_text()}")

    def _start_worker(self, name: str) -> None:
        own = ("--name", name, "--host", self._hosts.address(name), "--nthreads", "1", "--no-dashboard")
        self._start_on(name, "worker", self._scheduler, *own, "--local-directory", str(self._folder / name))

    def _start_on(self, host: str, *words: str) -> None:
        environment = {
            **child_environment(),
            HOST: host,
            FOLDER: str(self._watched),
            **SOON,
        }
        command = [sys.executable, "-m", "dask", *words]
        self._running[host] = self._hosts.start(host, command, environment, self._folder / f"{host}.log")

    def _workers_back(self, host: str) -> bool:
        """Return whether a host's worker came back of its own accord; it is started again if not."""
        import distributed as _distributed

        distributed: Any = _distributed
        with distributed.Client(self._scheduler, timeout=60, set_as_default=False) as client:

            def known() -> bool:
                workers = client.scheduler_info(n_workers=-1)["workers"].values()
                return any(worker["name"] == host for worker in workers)

            def settled() -> bool:
                return known() or self._running[host].poll() is not None

            wait_for(settled, f"{host} came back or ended")
            if known():
                return True
            self._start_worker(host)
            wait_for(known, f"{host} was started again")
            return False

    def _stored(self) -> list[object]:
        """Return what the store holds of the matches, and of their files."""
        library = self._library
        ids = sorted(info.id for info in library.matches())
        return [(match, len(library.entries(match)), library.footage(match)) for match in ids]

    def _copies(self) -> dict[str, str]:
        copies = sorted((self._folder / "library" / "proxies").glob("*.mp4"))
        return {copy.name: hashlib.sha256(copy.read_bytes()).hexdigest() for copy in copies}

    def _forget_copies(self) -> None:
        for path in (self._folder / "library" / "proxies").iterdir():
            path.unlink()
        for footage in self._footage:
            self._library.save_footage(replace(self._library.footage_file(footage), proxy=None))

    def end(self) -> None:
        """End the scheduler and the workers."""
        for process in reversed(self._running.values()):
            process.terminate()
        for process in self._running.values():
            process.wait(60)


def _timed(work: Callable[[], tuple[Any, ...]]) -> tuple[tuple[Any, ...], float]:
    began = time.perf_counter()
    results = work()
    return results, time.perf_counter() - began


if __name__ == "__main__":
    main()
