"""The flight where no compiler can be installed: the same numbers, from the functions as they are written."""

from __future__ import annotations

import json
import subprocess
import sys

import numpy as np

from goodlength.ball import Coefficients, fly_contacts

LAUNCH = [4.6, 5.6, 1.2, -3.0, -20.0, 6.0]
CODE = f"""
import json, sys
sys.modules["numba"] = None  # what an import finds where the package is not installed
from goodlength.ball import Coefficients, fly_contacts, warm
warm()
flown = fly_contacts([{LAUNCH}], [Coefficients().row()])
print(json.dumps([flown.counts.tolist(), flown.rows[0, : flown.counts[0]].tolist()]))
"""


def test_without_the_compiler_the_ball_flies_the_same() -> None:
    done = subprocess.run([sys.executable, "-c", CODE], check=False, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    counts, rows = json.loads(done.stdout)
    compiled = fly_contacts([LAUNCH], [Coefficients().row()])
    assert counts == compiled.counts.tolist() and counts[0] >= 3
    np.testing.assert_allclose(rows, compiled.rows[0, : counts[0]], rtol=0, atol=1e-8)
