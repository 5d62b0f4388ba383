"""What reading a damaged or hostile file of arrays (.npz) may raise."""

from __future__ import annotations

import zipfile
import zlib

UNREADABLE_ARRAYS: tuple[type[Exception], ...] = (
    OSError,
    ValueError,
    KeyError,
    TypeError,
    AttributeError,  # another kind of value where a mapping or an archive was meant
    OverflowError,
    EOFError,
    RuntimeError,  # packed in a way that is not known here, locked, or nested too deeply
    zlib.error,
    zipfile.BadZipFile,
)
