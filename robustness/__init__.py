"""The suite that kills, fuzzes and attacks, and the servers and files it does so to.

It stands beside the program, not in it: it needs the development packages, and nobody's installation.
"""

from __future__ import annotations

import os
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


def child_environment() -> dict[str, str]:
    """Return the environment in which a child process finds this package, wherever it is started."""
    paths = [str(ROOT), *filter(None, [os.environ.get("PYTHONPATH")])]
    return {**os.environ, "PYTHONPATH": os.pathsep.join(paths)}
