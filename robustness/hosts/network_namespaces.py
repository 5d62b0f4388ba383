"""Hosts with network addresses of their own on one machine, each link of which can be cut.

```
 this process (10.77.0.1) ──┐
 scheduler    (10.77.0.2) ──┤ bridge
 worker-1     (10.77.0.3) ──┤
 worker-2     (10.77.0.4) ──┘
```

Everything lies in a network, mount and process namespace of its own (`in_private_namespaces`): nothing of the
machine's own network is touched, and all of it ends with that process. The hosts share the machine's disks.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

from goodlength.errors import GoodlengthError
from robustness import ROOT, child_environment

NETWORK = "10.77.0"
HERE = f"{NETWORK}.1"
WANTED = (
    "Linux with network namespaces, iproute2 (ip) and util-linux (unshare), as root or with user namespaces "
    "allowed (sysctl kernel.unprivileged_userns_clone=1)"
)
BRIDGE, LINK = "hosts", "wire"


class NoNamespaces(GoodlengthError):
    """Hosts cannot be made on this machine; says what would be needed."""

    def __init__(self, why: str) -> None:
        self.why = why
        super().__init__(f"Hosts of their own cannot be made here: {why}. Wanted: {WANTED}.")


def private_namespaces() -> tuple[str, ...]:
    """Return the words that begin a command in namespaces of its own.

    Raises
    ------
    NoNamespaces
        If this machine or this user cannot have them.
    """
    if sys.platform != "linux":
        raise NoNamespaces(f"this is {sys.platform}")
    words = ["unshare", "--net", "--mount", "--pid", "--fork", "--kill-child", "--mount-proc"]
    if os.geteuid() != 0:
        words += ["--user", "--map-root-user"]
    trial = [*words, sys.executable, "-m", __name__]
    try:
        done = subprocess.run(
            trial, cwd=ROOT, env=child_environment(), check=False, capture_output=True, text=True
        )
    except OSError as error:
        raise NoNamespaces(str(error)) from error
    if done.returncode != 0:
        raise NoNamespaces((done.stderr.strip().splitlines() or ["no reason given"])[-1])
    return tuple(words)


class Hosts:
    """The hosts; made by a process in namespaces of its own, which is the first of them (`HERE`)."""

    def __init__(self, names: Sequence[str]) -> None:
        self._addresses = {name: f"{NETWORK}.{n + 2}" for n, name in enumerate(names)}
        Path("/run/netns").mkdir(parents=True, exist_ok=True)
        _run("mount", "-t", "tmpfs", "tmpfs", "/run/netns")
        _ip("link", "set", "lo", "up")
        _ip("link", "add", BRIDGE, "type", "bridge")
        _ip("addr", "add", f"{HERE}/24", "dev", BRIDGE)
        _ip("link", "set", BRIDGE, "up")
        for name, address in self._addresses.items():
            self._add(name, address)

    def _add(self, name: str, address: str) -> None:
        _ip("netns", "add", name)
        _ip("link", "add", f"to-{name}", "type", "veth", "peer", "name", LINK, "netns", name)
        _ip("link", "set", f"to-{name}", "master", BRIDGE, "up")
        _ip("-n", name, "addr", "add", f"{address}/24", "dev", LINK)
        _ip("-n", name, "link", "set", "lo", "up")
        _ip("-n", name, "link", "set", LINK, "up")

    def address(self, name: str) -> str:
        """Return the address of a host."""
        return self._addresses[name]

    def start(
        self, name: str, command: Sequence[str], environment: dict[str, str], log: Path
    ) -> subprocess.Popen[bytes]:
        """Start a program on a host; what it says goes to a file."""
        with log.open("ab") as output:
            return subprocess.Popen(
                ["ip", "netns", "exec", name, *command],
                env=environment,
                stdin=subprocess.DEVNULL,
                stdout=output,
                stderr=subprocess.STDOUT,
            )

    def cut(self, name: str) -> None:
        """Cut a host off: what it sends and what is sent to it is lost, and nobody is told."""
        _ip("link", "set", f"to-{name}", "down")

    def join(self, name: str) -> None:
        """Connect it again."""
        _ip("link", "set", f"to-{name}", "up")


def _ip(*words: str) -> None:
    _run("ip", *words)


def _run(*words: str) -> None:
    try:
        done = subprocess.run(words, check=False, capture_output=True, text=True)
    except OSError as error:
        raise NoNamespaces(str(error)) from error
    if done.returncode != 0:
        raise NoNamespaces(f"{' '.join(words)}: {done.stderr.strip() or done.returncode}")


if __name__ == "__main__":
    try:
        Hosts(["trial"])
    except NoNamespaces as error:
        sys.exit(error.why)
