"""New ids, and the timestamp of an entry."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any
from uuid import uuid4

if TYPE_CHECKING:
    pass


def new_id() -> str:
    """Return an id that nothing else has; it holds no name and no day."""
    return uuid4().hex[:12]


def utc_now() -> Any:
    from datetime import UTC, datetime

    moment = datetime.now(UTC)
    return moment.replace(microsecond=moment.microsecond // 1000 * 1000)
