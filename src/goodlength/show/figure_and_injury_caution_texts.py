"""Cautions shown with every figure and piece of advice, with their sources.

Advice on court can hurt: each caution that guards a body names its sources (docs/sources/show.md).
"""

from __future__ import annotations

from dataclasses import dataclass

from goodlength.languages import Language, language, to_translate

_ENGLISH = language("en")


@dataclass(frozen=True)
class FigureCaution:
    """Bold lead words, one or two sentences, and the keys of the sources behind them."""

    lead: str
    words: str
    sources: tuple[str, ...]

    @property
    def line(self) -> str:
        """Lead and words as one line."""
        return f"{self.lead} {self.words}"


ONE_MATCH = FigureCaution(
    "Read with care.",
    to_translate("One match against one opponent. Bars are 95% ranges for the true rate."),
    (),  # our own wording of what a 95 in 100 range means; see docs/reasons/handout.md
)

# Warm up, protect the eyes, stop at pain (source: ESR-SAFETY-2011).
ON_COURT = FigureCaution(
    to_translate("On court:"),
    to_translate(
        "warm up first, wear eye protection made for squash, and stop at any pain or if you feel unwell."
    ),
    ("ESR-SAFETY-2011",),
)

# Which body obliges whom differs by country; "a must" is our reading of all three for juniors.
# Bodies that oblige juniors (source: IRL-SAFETY; source: AUS-EYE-U19; source: ZA-EYE-U19).
ON_COURT_JUNIOR = FigureCaution(
    to_translate("On court:"),
    to_translate(
        "warm up first. Under 19, eye protection made for squash is a must (your national body says who "
        "else must). Stop at any pain or if you feel unwell, and tell an adult."
    ),
    ("ESR-SAFETY-2011", "IRL-SAFETY", "AUS-EYE-U19", "ZA-EYE-U19"),
)

# The wording is ours: the papers advise a medical check and against beginning after 40.
# Behind it: (source: NORTHCOTE-1983; source: NORTHCOTE-1986; source: ESR-SAFETY-2011).
BEGINNING = FigureCaution(
    "Before a first hard session:",
    "after a long break, over about 40, or with heart disease in the family, see a doctor "
    "first. Chest pain, dizziness or an odd heartbeat: stop and get help.",
    ("NORTHCOTE-1983", "NORTHCOTE-1986", "ESR-SAFETY-2011"),
)

# Looking round and striking (source: SAFETY-LOOK-ROUND; source: SAFETY-STRIKE).
FROM_BEHIND = FigureCaution(
    "Behind you:",
    "do not turn to look at a player striking from behind without eye protection, and never strike when "
    "the ball or racket may hit the other player: stop and ask.",
    ("SAFETY-LOOK-ROUND", "SAFETY-STRIKE"),
)

ALL = (ONE_MATCH, ON_COURT, ON_COURT_JUNIOR, BEGINNING, FROM_BEHIND)


def handout_caution(*, junior: bool = False, spoken: Language = _ENGLISH) -> str:
    """Return the one caution at the foot of a handout: one match, one opponent, ranges, and safety on
    court.
    """
    on_court = ON_COURT_JUNIOR if junior else ON_COURT
    return " ".join(spoken.known(words) for words in (ONE_MATCH.words, on_court.lead, on_court.words))
