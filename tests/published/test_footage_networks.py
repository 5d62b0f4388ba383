"""The shipped networks give in OpenCV what another runtime gives for the same picture."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from goodlength.footage.models import network
from goodlength.footage.vision.person_detection import MEAN_BGR, SPREAD_BGR

TABLE = Path(__file__).parent / "authorities" / "footage_networks.txt"


def rows() -> list[list[str]]:
    lines = TABLE.read_text(encoding="utf-8").splitlines()
    return [line.split() for line in lines if not line.startswith("#")]


def pattern(n: int) -> np.ndarray:
    y, x = np.mgrid[0:n, 0:n]
    blob = ((x - n / 2) / (n / 8)) ** 2 + ((y - n / 2) / (n / 3)) ** 2 < 1
    planes = [(x * 3 + y * 2) % 256, 255 * ((x // 16 + y // 16) % 2), np.where(blob, 220, 40)]
    return np.stack(planes, axis=-1).astype(np.uint8)


@pytest.mark.parametrize(("name", "size"), [("movenet-lightning", 192), ("movenet-thunder", 256)])
def test_joints_come_out_as_in_another_runtime(name: str, size: int) -> None:
    """ONNXRUNTIME: rows of y, x (shares of the square) and score; a thousandth is a quarter of a pixel."""
    told = np.array([row[2:] for row in rows() if row[0] == name], dtype=float)
    net = network(f"{name}.onnx")
    net.setInput(pattern(size)[None].astype(np.int32))
    assert told.shape == (17, 3)
    assert np.asarray(net.forward()).reshape(17, 3) == pytest.approx(told, abs=1e-3)


def test_boxes_come_out_as_in_another_runtime() -> None:
    """ONNXRUNTIME: some cells of each grid; scores to a thousandth, distances' logits to a hundredth."""
    scaled = (pattern(416).astype(np.float32) - np.float32(MEAN_BGR)) / np.float32(SPREAD_BGR)
    net = network("nanodet-416.onnx")
    net.setInput(np.ascontiguousarray(scaled.transpose(2, 0, 1)[None]))
    answers = {
        f"{item.shape[1]}x{item.shape[2]}": item[0]
        for item in net.forward(net.getUnconnectedOutLayersNames())
    }
    told = [row for row in rows() if row[0].startswith("nanodet")]
    assert len(told) == 18
    for name, cell, *values in told:
        mine = answers[name.split("/")[1]][int(cell), :8]
        assert mine == pytest.approx(np.array(values, dtype=float), abs=1e-2), name
