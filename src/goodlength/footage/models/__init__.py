"""Model data shipped with goodlength, run offline in OpenCV's own network module; NOTICE says whence.

The files are found by name, checked by their sum, and read once a process.
"""

from __future__ import annotations

import hashlib
from functools import cache
from importlib import resources
from typing import Any

import cv2
import numpy as np

from goodlength.errors import FootageError

SUMS = {
    "ball-patches.onnx": "15e21fe826f194bf9fd2c583c521da7560fea82323e2becbab52b99b8015cc49",
    "movenet-lightning.onnx": "2199d0b24c3c9698bc4700483579400d6036692cb735d80e03a7a9835d1e4fb3",
    "movenet-thunder.onnx": "117ec3fbde485182439a8ed16d40feac3ca9db1ecf40c69c1a3926e881efe94a",
    "nanodet-416.onnx": "fdbd4a5cff9b9fddcdb9d6f3a5bd1ae3416cf4355c3e0638d84d5a9c2bb5dbb0",
    "player-crops.onnx": "f96082fcd96ae22b3427d9898318ae7931271499b2ba7fd6324d27621cf9ff70",
}


@cache
def network(name: str, size: tuple[int, ...] = ()) -> Any:
    """Return a network read from the package's own data.

    Parameters
    ----------
    name : str
    size : tuple of int
        Of its input, where it is asked in several sizes: each has a network of its own, as one whose input
        changes its size plans its memory anew.

    Raises
    ------
    FootageError
        The file is missing or damaged.
    """
    del size  # a part of the cache's key
    try:
        data = (resources.files(__name__) / name).read_bytes()
    except OSError as error:
        raise FootageError(
            f"The model {name} is not there ({error.strerror or error}). "
            "Set goodlength up again; nothing else is lost."
        ) from error
    if hashlib.sha256(data).hexdigest() != SUMS[name]:
        raise FootageError(
            f"The model {name} is damaged ({len(data)} bytes, wrong sum). "
            "Set goodlength up again; nothing else is lost."
        )
    return cv2.dnn.readNetFromONNX(np.frombuffer(data, np.uint8))  # plain bytes crash it
