"""The date a recording was made, from the tags recorders write."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from goodlength.footage.media.recording_date import recorded_in, recorded_words
from goodlength.footage.media.video_probe import probe

NOW = datetime(2026, 1, 1, tzinfo=UTC)


@pytest.mark.parametrize(
    ("tags", "at", "known"),
    [
        ([{"creation_time": "2025-10-03T18:30:00.000000Z"}], "2025-10-03T18:30:00+00:00", False),
        (
            [{"com.apple.quicktime.creationdate": "2025-10-03T00:30:00+0100"}],
            "2025-10-03T00:30:00+01:00",
            True,
        ),
        ([{"DATE_RECORDED": "2025-10-03T18:30:00+02:00"}], "2025-10-03T18:30:00+02:00", True),
        ([{"date": "2025-10-03T18:30:00"}], "2025-10-03T18:30:00+00:00", False),
        ([{}, {"creation_time": "2025-10-03T18:30:00Z"}], "2025-10-03T18:30:00+00:00", False),
        ([{"creation_time": "1970-01-01T00:00:00Z"}, {"date": "2025"}], None, None),
        ([{"creation_time": "2031-01-01T00:00:00Z"}], None, None),
        ([{"creation_time": "\udcff-never-a-date-at-all"}], None, None),
    ],
)
def test_the_moment_is_taken_where_the_clock_was_set(
    tags: list[dict[str, str]], at: str | None, known: bool | None
) -> None:
    found = recorded_in(tags, NOW)
    assert (found and found.at, found and found.zone_known) == (at, known)


def test_a_look_says_when_and_that_the_zone_is_a_guess(film: Callable[..., Path]) -> None:
    path = film("dated.mp4", stamps=range(10), metadata={"creation_time": "2025-10-03T18:30:00.000000Z"})
    seen = probe(path, settle_s=0)
    assert seen.recorded is not None
    assert seen.recorded.at == "2025-10-03T18:30:00+00:00"
    assert "3 October 2025" in recorded_words(seen.recorded)
    assert "guess" in recorded_words(seen.recorded)
