"""Icons of the four evidence grades: a word, and a ring filled by certainty."""

from __future__ import annotations

from collections.abc import Mapping

from goodlength.errors import OutOfRange
from goodlength.show.draw.svg_primitives_and_themes import PAGE, DrawingTheme, drawing

WORDS: Mapping[str, str] = {
    "clear": "Clear",
    "leaning": "Possible",
    "too-few": "Not enough data",
    "no-difference": "No real difference",
}


def grade_words(grade: str) -> str:
    """Return the grade as it is written on page and paper."""
    try:
        return WORDS[grade]
    except KeyError:
        raise OutOfRange(
            f"Cannot show the grade {grade!r}: a grade is one of {', '.join(WORDS)}. "
            "Take the grade from the findings as it stands."
        ) from None


def grade_svg(grade: str, *, theme: DrawingTheme = PAGE, size: float = 18) -> str:
    """Return the ring of a grade; the word stands beside it, so the picture itself is decoration.

    Clear: filled disc in a ring. Leaning: half a disc. Too few to say: a dashed ring. No difference that
    matters: two short level bars in a ring, as long as each other.
    """
    grade_words(grade)
    ink, soft = theme.paint("ink"), theme.paint("ink-2")
    ring = f'<circle class="ring" cx="9" cy="9" r="7.6" fill="none" stroke="{ink}" stroke-width="1.8"/>'
    inside = {
        "clear": f'<circle class="fill" cx="9" cy="9" r="5.2" fill="{ink}"/>',
        "leaning": f'<path class="fill" d="M9 3.8a5.2 5.2 0 0 0 0 10.4Z" fill="{ink}"/>',
        "no-difference": f'<path class="fill" d="M5.2 6h7.6v2H5.2ZM5.2 10h7.6v2H5.2Z" fill="{ink}"/>',
    }
    if grade == "too-few":
        body = (
            f'<circle class="open" cx="9" cy="9" r="7.6" fill="none" stroke="{soft}" stroke-width="1.8"'
            ' stroke-dasharray="2.6 2.6"/>'
        )
    else:
        body = ring + inside[grade]
    if not theme.page:
        body = body.replace(' class="ring"', "").replace(' class="fill"', "").replace(' class="open"', "")
    return drawing(theme, size, size, body, None, view=(0, 0, 18, 18))
