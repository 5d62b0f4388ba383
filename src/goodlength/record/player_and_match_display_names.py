"""Display names of players and matches in sentences."""

from __future__ import annotations

import unicodedata

from goodlength.record.model import Player


def short_names(a: str, b: str) -> tuple[str, str]:
    """Return first names, or whole names where the first names are the same.

    Examples
    --------
    >>> short_names("Imogen Vale", "Petra Lindqvist-Ode")
    ('Imogen', 'Petra')
    >>> short_names("Imogen Vale", "Imogen Reed")
    ('Imogen Vale', 'Imogen Reed')
    """
    first, second = a.split()[:1], b.split()[:1]
    if not first or not second or first[0].casefold() == second[0].casefold():
        return a, b
    return first[0], second[0]


def title_of(a: Player, b: Player) -> str:
    """Return a match by its players: "Imogen Vale v Petra Lindqvist-Ode"."""
    return f"{a.name} v {b.name}"


def plain_letters(text: str) -> str:
    """Return a text as it is looked for: without capitals and accents.

    Examples
    --------
    >>> plain_letters("Zoë MÜLLER")
    'zoe muller'
    """
    apart = unicodedata.normalize("NFKD", text.casefold())
    return "".join(letter for letter in apart if not unicodedata.combining(letter))
