"""What all tests share: the same random cases each time, so that a red check can be made again.

New cases are tried with `--hypothesis-profile=search`; a case that fails goes into the test as an example.
"""

from __future__ import annotations

import atexit
import gc
import os
import shutil
import tempfile
from pathlib import Path

import pytest
from hypothesis import settings

gc.disable()  # while tests are collected nothing is garbage: back on when they are

# As in ./check: threads of BLAS that wait for each other took three quarters of the CPU of some tests
for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

# The key of season files lies in the user's own folder, which tests leave alone
os.environ["GOODLENGTH_KEYS"] = tempfile.mkdtemp(prefix="goodlength-keys-")
atexit.register(shutil.rmtree, os.environ["GOODLENGTH_KEYS"], ignore_errors=True)

settings.register_profile("check", derandomize=True, deadline=None)
settings.register_profile("search", deadline=None, max_examples=500)
settings.load_profile("check")


@pytest.fixture(scope="session")
def demo_library(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's library without its film, built once: to be copied, never changed."""
    from goodlength import demo

    folder = tmp_path_factory.mktemp("demo") / "library"
    demo.build(folder, footage=False)
    return folder


def pytest_collection_finish(session: pytest.Session) -> None:
    """Leave the thousands of collected tests out of every later collection of garbage: a seventh of the time."""
    gc.collect()
    gc.freeze()
    gc.enable()
    gc.set_threshold(10_000, 10, 10)


@pytest.hookimpl(trylast=True)
def pytest_unconfigure() -> None:
    """After pytest's last look for what was not closed, spare what is left: another look, and the one on exit."""
    gc.freeze()
