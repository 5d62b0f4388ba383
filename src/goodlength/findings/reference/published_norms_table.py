"""Table of all published norms, with level, sex, era and scoring. Context, never targets."""

from __future__ import annotations

from goodlength.findings.reference.published_norm_types import CAUTION, NORMS, Norm

CAUTIONS = (
    CAUTION,
    "Shots are sorted differently from study to study: a volley drive may count as a volley or as a drive.",
    "Means of matches hide how skewed rally lengths are; here medians and quartiles are shown.",
    "Most figures are of elite players, most of them men, over several sets of rules and heights of tin.",
    "How well a return did is counted against the rally's result there, with lets unclear: no chance of "
    "winning a rally can be read off it.",
)

_HONG_MEN = ("10 matches, 1993", "elite", "men", "published 1996", "rally scoring to 15", "HONG-1996")
_HONG_WOMEN = (
    "15 players, 10 matches",
    "elite (top 15)",
    "women",
    "1993 to 1994",
    "hand-out to 9",
    "HONG-WOMEN",
)
_GHANI = ("25 matches", "elite", "women", "2014 to 2015", "not said", "GHANI-2016")
_SERVE = ("15 matches", "elite", "men", "2014", "not said", "CARBOCH-STRNAD-2017")
_CD_WOMEN = ("11 matches", "elite", "women", "published 2023", "not said", "CARBOCH-DUSEK-2023")
_CD_MEN = ("14 matches", "elite", "men", "published 2023", "not said", "CARBOCH-DUSEK-2023")
_VUCKOVIC = ("not said", "elite", "men", "published 2009", "hand-out to 9, higher tin", "VUCKOVIC-2009")
_MONTPETIT = ("a review", "all levels", "not said", "published 1990", "not said", "MONTPETIT-1990")
_GIRARD = ("7 players", "elite", "men", "published 2007", "not said", "GIRARD-2007")
_WORLD_TEAMS = ("1429 rallies, a world team event", "elite", "men", "not said", "not said", "VUCKOVIC-JAMES")
_CORNER = ("10 matches, 15 players", "elite", "men", "published 2013", "not said", "VUCKOVIC-2013")

_MORE: tuple[tuple[str, str, tuple[str, str, str, str, str, str]], ...] = (
    ("shots in a rally", "about 18.7 (25.1 s by 1.34 s, worked out here)", _CD_MEN),
    ("backhand share of shots", "64 in 100", _CD_WOMEN),
    ("backhand share of shots", "about two in three", _CD_MEN),
    ("errors hit low (tin)", "63 in 100 errors", _CD_WOMEN),
    ("rallies in a game", "34, sd 11", _VUCKOVIC),
    ("ball in play in a game", "547 s, sd 216", _VUCKOVIC),
    ("ball in play", "50 to 70 in 100 of the time", _MONTPETIT),
    ("rally length", "80 in 100 rallies 10 s or less", _MONTPETIT),
    ("rest between rallies", "8 s in the mean", _MONTPETIT),
    ("heart rate", "about 160 a minute", _MONTPETIT),
    ("heart rate", "177 a minute, sd 10 (92 in 100 of the highest)", _GIRARD),
    ("oxygen uptake", "54.4 ml/min/kg, sd 4.8 (86 in 100 of the highest)", _GIRARD),
    ("energy", "4933 kJ an hour, sd 620", _GIRARD),
    ("distance in a rally", "its winner covers 0.71 m less in the mean", _WORLD_TEAMS),
    ("distance in a rally", "its loser covered less in 41.4 in 100 rallies", _WORLD_TEAMS),
    (
        "distance in a rally",
        "12 m",
        ("not said", "top club players", "not said", "published 1998", "not said", "HUGHES-1998"),
    ),
    (
        "shot mix",
        "drive 60.79, drop 17.91, volley 11.79, boast 4.80, lob 4.72 in 100; 252 shots a game",
        _HONG_MEN,
    ),
    ("what shots did", "effective 70.28, ineffective 19.86, winning 5.37, losing 4.48 in 100", _HONG_MEN),
    ("shot mix", "drive 62.01, drop 18.20, volley 11.23, boast 5.06, lob 3.50 in 100", _HONG_WOMEN),
    ("what shots did", "effective 57.13, ineffective 31.36, winning 6.24, losing 5.27 in 100", _HONG_WOMEN),
    (
        "where shots are hit",
        "back left 43.81, back right 32.66, front left 13.04, front right 10.49 in 100",
        _HONG_WOMEN,
    ),
    ("shots in a rally", "12.44", _HONG_WOMEN),
    (
        "shot mix",
        "drive 47.1, cross-court 19.9, volley 12.7, drop 11.1, boast 5.8, lob 3.4 in 100",
        _GHANI,
    ),
    ("serves aimed to hit the side wall", "83 in 100; forehand and backhand alike", _SERVE),
    ("returns to the back court", "80 in 100: 54 of them straight, 46 cross-court", _SERVE),
    ("returns to the opponent’s backhand", "61 in 100", _SERVE),
    (
        "returns from the right side",
        "to the back left corner 10 points in 100 more effective than straight, and rarer: "
        "chosen in other situations",
        _SERVE,
    ),
    (
        "cross-court lobs from the front left corner",
        "44.30 in 100 with under 1.06 s, 36.31 with 1.06 to 1.20 s, 13.64 with more",
        _CORNER,
    ),
    (
        "does serving help?",
        "no marked advantage for top players; suspected at lower levels",
        ("an essay", "top players", "not said", "published 2024", "not said", "LOOIS-2024"),
    ),
)


def table() -> tuple[Norm, ...]:
    """Return every published figure on hand, measure by measure, each with whose it is and where it stands.

    Source
    ------
    STATS-REF 7.

    Examples
    --------
    >>> [norm.value for norm in table() if norm.measure == "rallies in a game"]
    ['34, sd 11']
    """
    every = (*NORMS, *(Norm(measure, value, *whose) for measure, value, whose in _MORE))
    order = list(dict.fromkeys(norm.measure for norm in every))
    return tuple(sorted(every, key=lambda norm: order.index(norm.measure)))
