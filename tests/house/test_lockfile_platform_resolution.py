"""Whether the check of the locks can tell a lock that does not resolve from a machine without network."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "scripts"))
import lockfile_platform_resolution


@pytest.mark.parametrize(
    ("words", "unreached"),
    [
        ("cause: error sending request for url (http://127.0.0.1:9/simple/numba/)", True),
        ("cause: tcp connect error cause: Connection refused (os error 111)", True),
        ("Because numba==0.1 has no wheels with a matching platform tag, we can conclude ...", False),
    ],
)
def test_a_machine_without_network_is_told_from_a_lock_that_does_not_resolve(
    words: str, unreached: bool
) -> None:
    assert lockfile_platform_resolution.is_unreached(words) is unreached


def test_no_python_is_looked_for_or_fetched() -> None:
    """With none named, `uv` tried to fetch each Python it resolves for: 130 seconds of refusals and waits."""
    command = lockfile_platform_resolution.resolver_command(Path("uv"), Path("a.lock"), "macOS Intel", "3.14")
    assert "--no-python-downloads" in command
    assert command[command.index("--python") + 1] == sys.executable
    assert command[command.index("--python-version") + 1] == "3.14"
