"""Export rallies as WebVTT chapters; source: WEBVTT-W3C."""

from __future__ import annotations

from collections.abc import Sequence

from goodlength.record.model import DEFAULT_KINDS, KindOfServe, Match
from goodlength.record.rally_sentences import kind_words, rally_sentence

_NO_END_US = 10_000_000


def to_vtt(match: Match, names: tuple[str, str], kinds: Sequence[KindOfServe] = DEFAULT_KINDS) -> str:
    """Return one chapter a rally with a known time, in the order of time.

    A rally whose end is not marked lasts to the next one, at most ten seconds, and says so. Rallies
    without a time are left out, and the note at the head counts them.
    """
    words = kind_words(kinds)
    timed = sorted(
        (rally for rally in match.rallies if rally.start_us is not None and rally.start_us >= 0),
        key=lambda rally: rally.start_us or 0,
    )
    left_out = len(match.rallies) - len(timed)
    blocks = [
        "WEBVTT",
        f"NOTE {_plain(names[0])} v {_plain(names[1])}; {left_out} rallies without a time left out",
    ]
    for n, rally in enumerate(timed):
        start = rally.start_us or 0
        end, open_end = rally.end_us, ""
        if end is None or end <= start:
            following = [other.start_us or 0 for other in timed[n + 1 :] if (other.start_us or 0) > start]
            end = min([start + _NO_END_US, *following])
            open_end = " (end not marked)"
        head = f"Game {rally.game}, rally {rally.n_in_game}{open_end}"
        text = f"{head}: {_plain(rally_sentence(rally, names, words))}"
        blocks.append(f"{_plain(rally.key)}\n{_timestamp(start)} --> {_timestamp(end)}\n{text}")
    return "\n\n".join(blocks) + "\n"


def _timestamp(us: int) -> str:
    """Hours, minutes, seconds and thousandths.

    Examples
    --------
    >>> _timestamp(3_723_456_789)
    '01:02:03.457'
    """
    ms = (us + 500) // 1000
    seconds, ms = divmod(ms, 1000)
    minutes, seconds = divmod(seconds, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours:02d}:{minutes:02d}:{seconds:02d}.{ms:03d}"


def _plain(text: str) -> str:
    """Text that cannot be taken for markup, for a line break, or for the arrow of a cue."""
    for letter, escape in (("&", "&amp;"), ("<", "&lt;"), (">", "&gt;")):
        text = text.replace(letter, escape)
    return " ".join(text.split())
