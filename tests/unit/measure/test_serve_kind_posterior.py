"""The kind a path looks like: each kind's own flights are called so, and a close call is no proposal."""

from __future__ import annotations

import numpy as np
import pytest

from goodlength.aim.serve_goals import KINDS, task_of
from goodlength.ball import fly_summaries
from goodlength.measure.serves.serve_kind_posterior import kind_sentence, proposed_kind
from goodlength.tasks import aim_setting
from goodlength.tasks.aim.serve_aim import fly_kind


@pytest.mark.parametrize("box", ["right", "left"])
@pytest.mark.parametrize("kind", [item.kind for item in KINDS])
def test_the_usual_serve_of_each_kind_looks_like_it(kind: str, box: str) -> None:
    task, setting = task_of(kind, box), aim_setting()
    flown = fly_kind(task, setting)
    launch = np.asarray(flown.flight.launch, float)[None]
    row = np.asarray(setting.coefficients().row(), float)[None]
    summary = fly_summaries(launch, row, np.zeros(1, np.int64), threads=1).rows
    assert kind_sentence(summary, np.linalg.norm(launch[:, 3:6], axis=1))[0] == kind


def test_a_close_call_is_no_proposal() -> None:
    assert proposed_kind({}) is None
    assert proposed_kind({"lob": 59, "mid-height": 41}) is None
    assert proposed_kind({"lob": 60, "mid-height": 40}) == "lob"
