"""A real PostgreSQL server of its own for tests and figures: in a folder of its own, on a socket.

No network, unless the hosts of a test are given an address.

The server comes from the system's packages. As root it runs as the user those packages made for it, since it
refuses to run as root.
"""

from __future__ import annotations

import os
import pwd
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from goodlength.errors import GoodlengthError

SYSTEM_USER = "postgres"
WANTED = "PostgreSQL's server programs (Debian: apt-get install postgresql)"
START_S = 30


@dataclass
class ScratchServer:
    """A running server: the folder of its data, and how to ask it.

    `address` is where it listens on a network; empty: on a socket of this machine alone.
    """

    programs: Path
    data: Path
    sockets: Path
    user: int | None
    address: str = ""

    def url(self, database: str = "postgres") -> str:
        """Return the address of one of its databases."""
        if self.address:
            return f"postgresql://{SYSTEM_USER}@{self.address}/{database}"
        return f"postgresql://{SYSTEM_USER}@/{database}?host={self.sockets}"

    def new_database(self, name: str) -> str:
        """Make an empty database; gives its URL."""
        self._run("psql", "-q", "-h", str(self.sockets), "-U", SYSTEM_USER, "-c", f'CREATE DATABASE "{name}"')
        return self.url(name)

    def start(self) -> None:
        """Start it, or start it again after a kill."""
        options = (
            f"-c listen_addresses='{self.address}' -c unix_socket_directories='{self.sockets}' -c fsync=on"
        )
        until = time.monotonic() + START_S
        while True:
            try:
                self._run(
                    "pg_ctl",
                    "-D",
                    str(self.data),
                    "-w",
                    "-t",
                    str(START_S),
                    "-o",
                    options,
                    "-l",
                    str(self.data / "log"),
                    "start",
                )
                return
            except GoodlengthError:
                if time.monotonic() > until:
                    raise
                time.sleep(0.5)  # a killed server's lock stays until its processes are gone

    def stop(self) -> None:
        """Stop it at once."""
        self._run("pg_ctl", "-D", str(self.data), "-m", "immediate", "stop", check=False)

    def kill(self) -> None:
        """Kill its main process outright, as a power cut would; the others end with it."""
        os.kill(int((self.data / "postmaster.pid").read_text().split()[0]), signal.SIGKILL)

    def _run(self, program: str, *words: str, check: bool = True) -> None:
        done = subprocess.run(
            [str(self.programs / program), *words],
            user=self.user,
            cwd=self.data.parent,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
        )
        if check and done.returncode != 0:
            raise GoodlengthError(f"{program} failed: {done.stderr.strip()[-500:]}")


def server_programs() -> Path | None:
    """Return the folder of the newest server's programs on this machine; None where there is none."""
    roots = [*Path("/usr/lib/postgresql").glob("*/bin"), *Path("/usr/local").glob("pgsql/bin")]
    complete = [root for root in roots if (root / "initdb").exists() and (root / "pg_ctl").exists()]
    complete.sort(key=lambda root: int(root.parent.name) if root.parent.name.isdigit() else 0)
    if complete:
        return complete[-1]
    found = shutil.which("initdb")
    return Path(found).resolve().parent if found else None


@contextmanager
def scratch_server(address: str = "", network: str = "") -> Iterator[ScratchServer]:
    """A server that is gone afterwards, with all it held.

    Parameters
    ----------
    address : str
        Where it listens on a network; left out, it listens on a socket of this machine alone.
    network : str
        The addresses it trusts there, such as 10.77.0.0/24: everybody who can send from one.

    Raises
    ------
    GoodlengthError
        If the system has no server programs, or they do not start.
    """
    programs = server_programs()
    if programs is None:
        raise GoodlengthError(f"A real server cannot be started: {WANTED} are not installed.")
    user = pwd.getpwnam(SYSTEM_USER).pw_uid if os.geteuid() == 0 else None
    base = Path(tempfile.mkdtemp(prefix="glpg-"))
    try:
        if user is not None:
            os.chown(base, user, -1)
        server = ScratchServer(programs, base / "data", base, user, address)
        server._run(
            "initdb",
            "-D",
            str(server.data),
            "-U",
            SYSTEM_USER,
            "-A",
            "trust",
            "-E",
            "UTF8",
            "--locale=C",
            "--no-sync",
        )
        if network:
            with (server.data / "pg_hba.conf").open("a", encoding="utf-8") as trusted:
                trusted.write(f"host all all {network} trust\n")
        server.start()
        try:
            yield server
        finally:
            server.stop()
    finally:
        shutil.rmtree(base, ignore_errors=True)
