"""Compiled functions kept on disk: a file cut off by a kill or a power cut is compiled anew, never an end."""

from __future__ import annotations

import importlib.util
import re
from pathlib import Path
from types import ModuleType

import pytest

from goodlength.ball.flight import disk_cached_flight_functions_kernel

SOURCE = """
from goodlength.ball.flight.free_flight_kernel import compiled_on_disk

@compiled_on_disk("float64(float64)")
def twice(x):
    return 2.0 * x
"""


def loaded(path: Path) -> ModuleType:
    spec = importlib.util.spec_from_file_location("tiny", path)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize("kept", [0, 1, 12, 0.5, 0.99])
@pytest.mark.parametrize("ending", ["nbi", "nbc"])
def test_a_file_that_was_cut_off_is_compiled_anew(tmp_path: Path, ending: str, kept: float) -> None:
    """Before: EOFError or UnpicklingError as the module was imported, so that the page did not open."""
    path = tmp_path / "tiny.py"
    path.write_text(SOURCE)
    assert loaded(path).twice(2.0) == 4.0
    (file,) = tmp_path.rglob(f"*.{ending}")
    data = file.read_bytes()
    file.write_bytes(data[: int(kept * len(data)) if isinstance(kept, float) else kept])
    assert loaded(path).twice(2.0) == 4.0
    again = loaded(path)
    assert sum(again.twice.stats.cache_hits.values()) == 1  # and is kept again
    with pytest.raises(TypeError):
        again.twice("a")  # other types are not compiled


def test_the_kernel_is_kept_that_way() -> None:
    assert not re.search(r"cache\s*=\s*True", Path(disk_cached_flight_functions_kernel.__file__).read_text())
    assert "numba" in type(disk_cached_flight_functions_kernel.fly_free).__module__


def test_a_change_of_any_kernel_renews_what_is_kept() -> None:
    """The doors close over a hash of the sources; one left out would leave old code in use after an update."""
    here = Path(disk_cached_flight_functions_kernel.__file__).parent
    kernels = {path.stem for path in here.glob("*_kernel.py")}
    assert kernels | {"batched_flight_row_indices"} == set(disk_cached_flight_functions_kernel.SOURCES)
