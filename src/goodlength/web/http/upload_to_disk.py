"""Uploads: written under a temporary name, watched for disk space, renamed when complete."""

from __future__ import annotations

import errno
import shutil
from collections.abc import AsyncIterator
from pathlib import Path

from starlette.concurrency import run_in_threadpool

from goodlength.errors import InputError, NoSpace
from goodlength.files.atomic_write import part_file, put_in_place
from goodlength.files.copied_in_file_destination import SPARE_BYTES

BUFFER_BYTES = 4 * 1024 * 1024


async def receive(chunks: AsyncIterator[bytes], target: Path, size: int | None) -> int:
    """Write what comes in; gives the number of bytes. Nothing half-written stays.

    Parameters
    ----------
    size : int or None
        What the browser says is coming; held against the free space before anything is written.

    Raises
    ------
    NoSpace
        If the disk is, or would be, full.
    InputError
        If nothing came.
    """
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        free = shutil.disk_usage(target.parent).free
    except OSError as error:
        raise _not_written(target.parent, error) from error
    if size is not None and size + SPARE_BYTES > free:
        raise NoSpace(
            f"The file has {size / 1e9:.1f} GB and the library's disk has {free / 1e9:.1f} GB free. "
            "Free some space, or add the file by its path: then it stays where it is."
        )
    try:
        with part_file(target.parent, target.suffix) as part:
            written = await _write(chunks, part)
            if written == 0:
                raise InputError(
                    "The file is empty, so nothing was uploaded. Check it on the device it comes from."
                )
            await run_in_threadpool(put_in_place, part, target)
    except OSError as error:
        if error.errno in (errno.ENOSPC, errno.EDQUOT):
            words = "The disk of the library filled up during the upload. Nothing was saved. Free some space."
            raise NoSpace(words) from error
        raise _not_written(target.parent, error) from error
    return written


def _not_written(folder: Path, error: OSError) -> NoSpace:
    return NoSpace(
        f"The file cannot be written into {folder} ({error.strerror or error}). Copy the library's folder to "
        "a disk of this computer, or add the file by its path: then it stays where it is."
    )


async def _write(chunks: AsyncIterator[bytes], part: Path) -> int:
    written, buffer = 0, bytearray()
    with part.open("wb") as file:
        async for chunk in chunks:
            buffer += chunk
            written += len(chunk)
            if len(buffer) >= BUFFER_BYTES:
                await run_in_threadpool(file.write, bytes(buffer))
                buffer.clear()
        await run_in_threadpool(file.write, bytes(buffer))
    return written
