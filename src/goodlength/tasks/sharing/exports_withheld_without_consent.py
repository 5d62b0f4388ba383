"""Withhold exports made before consent was withdrawn until it is given again, with the reason."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any

from goodlength.record.model import Player
from goodlength.tasks.match.lazy_match import OpenMatch
from goodlength.tasks.people.player_records_and_consent import has_agreed

AGAIN = "It comes back when consent is saved again on the player's page."


def faces_refusal(opened: OpenMatch, today: date | None = None) -> str:
    """Return why nothing that shows faces of a match may be given out now; "" where everybody agrees."""
    lacking = [player.name for player in opened.players if not has_agreed(player, "clips", today)]
    if not lacking:
        return ""
    verb = "has" if len(lacking) == 1 else "have"
    return f"Held back: {' and '.join(lacking)} {verb} no valid consent for clips today. {AGAIN}"


def shows_faces(args: Mapping[str, object]) -> bool:
    """Return whether what a job made shows a head uncovered, by what it was asked to make."""
    covered = list(_heads_covered_values(args))
    return not covered or not all(covered)


def handout_refusal_now(opened: OpenMatch, html: Path, today: date | None = None) -> str:
    """Return why a handout made before may not be given out now; "" where it may.

    The player must agree to handouts; an opponent who does not is looked for in the text of the page.

    Parameters
    ----------
    html : Path
        Handout as HTML, read for the opponent's name. Where there is none (earlier versions are kept as
        PDF alone) it is held once an opponent took a consent back: it may be from the time before.
    """
    player, opponent = opened.coached, opened.opponent
    if not has_agreed(player, "handout", today):
        return f"Held back: {player.name} has no valid consent for handouts today. {AGAIN}"
    if has_agreed(opponent, "handout", today) or not _names(html, opponent):
        return ""
    return (
        f"Held back: it names {opponent.name}, whose consent to be named does not hold today. "
        f"Make it again without the name. {AGAIN}"
    )


def _names(html: Path, player: Player) -> bool:
    try:
        text = html.read_text("utf-8")
    except (OSError, ValueError):
        return player.consent is not None
    parts = {player.name, *(part for part in player.name.split() if len(part) > 2)}
    return any(re.search(rf"\b{re.escape(part)}\b", text, re.IGNORECASE) for part in parts)


def _heads_covered_values(value: Any) -> Any:
    """Return every `heads_covered` in what a job was asked, at any depth."""
    if isinstance(value, Mapping):
        for name, inner in value.items():
            if name == "heads_covered":
                yield inner is True
            else:
                yield from _heads_covered_values(inner)
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from _heads_covered_values(inner)
