"""Type of a published norm and the main figures, with sample and scoring. Context, never targets."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Norm:
    """One published figure. `scoring` and `era` are what the study says, "not said" where it does not."""

    measure: str
    value: str
    who: str
    level: str
    sex: str
    era: str
    scoring: str
    source: str


CAUTION = (
    "Published figures come from other players, other rules and other ways of counting. A player outside "
    "them is not wrong: use them to know the game, not to aim at."
)

NORMS: tuple[Norm, ...] = (
    Norm(
        "rally length",
        "25.1 s, sd 3.5",
        "14 matches",
        "elite",
        "men",
        "published 2023",
        "not said",
        "CARBOCH-DUSEK-2023",
    ),
    Norm(
        "rally length",
        "17.2 s, sd 3.9",
        "11 matches",
        "elite",
        "women",
        "published 2023",
        "not said",
        "CARBOCH-DUSEK-2023",
    ),
    Norm(
        "rally length",
        "16.4 s, sd 4.5",
        "not said",
        "elite",
        "men",
        "published 2009",
        "hand-out to 9, higher tin",
        "VUCKOVIC-2009",
    ),
    Norm(
        "time between shots",
        "1.34 s, sd 0.05",
        "14 matches",
        "elite",
        "men",
        "published 2023",
        "not said",
        "CARBOCH-DUSEK-2023",
    ),
    Norm(
        "time between shots",
        "1.39 s, sd 0.05",
        "11 matches",
        "elite",
        "women",
        "published 2023",
        "not said",
        "CARBOCH-DUSEK-2023",
    ),
    Norm(
        "shots in a rally",
        "12.4, sd 2.5",
        "11 matches",
        "elite",
        "women",
        "published 2023",
        "not said",
        "CARBOCH-DUSEK-2023",
    ),
    Norm(
        "returns volleyed",
        "72 in 100",
        "15 matches",
        "elite",
        "men",
        "2014",
        "not said",
        "CARBOCH-STRNAD-2017",
    ),
    Norm(
        "rally endings: winner",
        "58.5 in 100",
        "25 matches",
        "elite",
        "women",
        "2014 to 2015",
        "not said",
        "GHANI-2016",
    ),
    Norm(
        "rally endings: error",
        "24.8 in 100",
        "25 matches",
        "elite",
        "women",
        "2014 to 2015",
        "not said",
        "GHANI-2016",
    ),
    Norm(
        "rally endings: stroke or let",
        "16.7 in 100",
        "25 matches",
        "elite",
        "women",
        "2014 to 2015",
        "not said",
        "GHANI-2016",
    ),
)
