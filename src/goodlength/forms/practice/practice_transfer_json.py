"""JSON form of the transfer of practice to matches."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING

from goodlength.files.json_types import Json
from goodlength.tasks.practice.practice_transfer import TransferResult

if TYPE_CHECKING:
    pass


def transfer_form(result: TransferResult) -> dict[str, Json]:
    """Return one measure as JSON values; shares 0 to 1."""
    return {
        **asdict(result),
        "interval": None if result.whole.low is None else [result.whole.low, result.whole.high],
    }
