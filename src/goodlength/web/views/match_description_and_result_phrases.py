"""Text formatting that the pages share: names, match descriptions, how a match ended."""

from __future__ import annotations

import shutil
from datetime import date
from pathlib import Path

from goodlength import media_time
from goodlength.record.model import EntryKind, Match, MatchInfo, Player
from goodlength.scoring.scoring_types import Format, Side, System

_NAMES = {
    EntryKind.KIND: "what was served",
    EntryKind.HOW_TAKEN: "how the return was taken",
    EntryKind.LEFT: "what the return left",
    EntryKind.WINNER: "who won",
    EntryKind.ENDING: "how it ended",
    EntryKind.SERVER: "who served",
    EntryKind.BOX: "from which box",
    EntryKind.CALLED: "the official call",
}


def call_name(what: EntryKind) -> str:
    """Return a question as it stands inside a sentence."""
    return _NAMES.get(what, what.value.replace(".", ", ").replace("-", " "))


def format_words(form: Format) -> str:
    """Return how a match is scored, in a line.

    Examples
    --------
    >>> format_words(Format())
    'Best of five to 11'
    """
    games = {3: "three", 5: "five"}.get(form.best_of, str(form.best_of))
    how = ", hand-out scoring" if form.system is System.HAND_OUT else ""
    return f"Best of {games} to {form.target}{how}"


def day_words(day: date | None) -> str:
    """Return a date in words; empty for none."""
    return "" if day is None else media_time.day_words(day)


def where_words(info: MatchInfo) -> str:
    """Return event, day and format of a match, as the line under the names."""
    parts = [part for part in (info.event, day_words(info.played_on)) if part]
    return f"{', '.join(parts)}. {format_words(info.format)}" if parts else format_words(info.format)


def over_words(match: Match, names: tuple[str, str]) -> str:
    """Return how a match ended; empty while it goes on.

    The winner's games stand first.
    """
    if match.winner is None:
        return ""
    at = 0 if match.winner is Side.A else 1
    won, lost = match.games_won[at], match.games_won[1 - at]
    words = f"{names[at]} won {won}–{lost}"
    if match.how_over in (None, "won"):
        return words
    return f"{names[at]} won: {names[1 - at]} {match.how_over}"


def hands_words(players: tuple[Player, Player], info: MatchInfo) -> str:
    """Return both names, what they wear where the coach wrote it, and their playing hands."""
    a, b = players
    first, second = worn_names((a.name, b.name), info)
    if a.hand == b.hand:
        return f"{first}, {second}. Both {a.hand}-handed"
    return f"{first}, {a.hand}-handed; {second}, {b.hand}-handed"


def worn_names(names: tuple[str, str], info: MatchInfo) -> tuple[str, str]:
    """Return both names, each with what the player wears where the coach wrote it.

    Examples
    --------
    >>> worn_names(("Ida", "Nora"), MatchInfo("m1", ("i", "n"), clothes_a="red shirt"))
    ('Ida (red shirt)', 'Nora')
    """
    worn = (info.clothes_a, info.clothes_b)
    first, second = (f"{name} ({words})" if words else name for name, words in zip(names, worn, strict=True))
    return first, second


def count_words(n: int, text: str, many: str | None = None) -> str:
    """Return a number with its noun.

    Examples
    --------
    >>> count_words(1, "rally", "rallies"), count_words(3, "clip")
    ('1 rally', '3 clips')
    """
    return f"{n} {text if n == 1 else many or text + 's'}"


def free_space_words(folder: Path) -> str:
    """Return how much space is free on the disk of a folder; empty where it cannot be asked."""
    try:
        free = shutil.disk_usage(folder).free
    except OSError:
        return ""
    return f"{free / 1e9:.0f} GB" if free >= 1e10 else f"{free / 1e9:.1f} GB"
