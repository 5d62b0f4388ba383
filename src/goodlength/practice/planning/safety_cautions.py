"""Safety cautions of every plan; local rules, the national body and licensed practice stand above them.

Wording is ours; each names the sources behind it (docs/sources/practice.md).
"""

from __future__ import annotations

from dataclasses import dataclass

from goodlength.practice.planning.drill_library import Company, Drill, Theme


@dataclass(frozen=True)
class PracticeCaution:
    """Bold lead words, one to three sentences, and the keys of the sources behind them."""

    lead: str
    words: str
    sources: tuple[str, ...]


# General or lensless guards do not count (source: CSA-EYEWEAR; source: OPEN-GUARDS).
EYES = PracticeCaution(
    "Eye protection.",
    "Everybody on court wears eye protection made for squash, properly over the eyes; spectacles and guards "
    "without lenses do not count. Doubles players must; your national body says who else.",
    ("SAFETY-SHEET-2011", "ISO-18527-2", "CSA-EYEWEAR", "OPEN-GUARDS", "ZA-EYEWEAR"),
)
EYES_YOUNG = PracticeCaution(
    "Eye protection.",
    "Juniors, and coaches who feed them, must wear eye protection made for squash, properly over the eyes; "
    "spectacles and guards without lenses do not count. Your national body says what binds.",
    ("FINCH-VEAR-1995", "ZA-EYEWEAR", "AU-EYEWEAR", "ISO-18527-2", "OPEN-GUARDS"),
)
HEART = PracticeCaution(
    "Heart.",
    "See a doctor before starting or coming back if you are over about forty or have risk factors. No "
    "program can tell you that a hard session is safe. If you feel chest discomfort, dizziness, sickness, "
    "breathlessness or an odd heartbeat, stop at once and get help.",
    ("NORTHCOTE-1983", "NORTHCOTE-1986", "HEALTH-WARNING"),
)
BODY = PracticeCaution(
    "Before you begin.",
    "Warm up and warm down. Do not train if you are ill, feverish or injured, or within two hours of a heavy "
    "meal. Drink between sets. Stop if anything hurts.",
    ("SAFETY-SHEET-2011",),
)
YOUNG = PracticeCaution(
    "Young players.",
    "Fewer sets, longer rests, at least one full day off a week. The national body's youth guidance and the "
    "club's safeguarding rules take priority.",
    ("COMMON-PRACTICE",),
)
AT_THE_BODY = PracticeCaution(
    "Serving at a person.",
    "Only with someone who has agreed, with a slow ball, both in eye protection, and never at the head. "
    "Either may stop it.",
    ("COMMON-PRACTICE",),
)
# Distance, racket and running in front (source: GROUP-PRACTICE); striking (source: STOP-AND-ASK).
TOGETHER = PracticeCaution(
    "Sharing the court.",
    "Never hit when ball or racket may strike the other player: stop and ask. If you are waiting, stand 2 m "
    "away with your racket close. Never run in front of another player for a ball.",
    ("STOP-AND-ASK", "GROUP-PRACTICE"),
)
FAST_FEET = PracticeCaution(
    "Movement.",
    "Use a dry floor and court shoes. Slow down when your footwork goes. Do hard movement after the warm-up, "
    "and not every day.",
    ("SAFETY-SHEET-2011", "COMMON-PRACTICE"),
)


SOURCE_WORDS = {
    "SAFETY-SHEET-2011": "England’s national body, Technical Information Sheet 13 (2011)",
    "ISO-18527-2": "ISO 18527-2:2021, eye protectors for squash",
    "CSA-EYEWEAR": "eyewear rules of the college association of the United States",
    "OPEN-GUARDS": "a study of open guards without lenses",
    "ZA-EYEWEAR": "a notice of South Africa’s national body",
    "AU-EYEWEAR": "rules of an Australian club that quote its national body",
    "FINCH-VEAR-1995": "a survey by Finch and Vear (1995)",
    "NORTHCOTE-1983": "Northcote and others, British Heart Journal (1983)",
    "NORTHCOTE-1986": "Northcote and others, British Heart Journal (1986)",
    "HEALTH-WARNING": "the health warning of Hong Kong’s national body",
    "STOP-AND-ASK": "a club’s page on safety",
    "GROUP-PRACTICE": "a coaching lesson on groups",
    "COMMON-PRACTICE": "common practice of coaches",
}


def cautions_for(drills: tuple[Drill, ...], junior: bool) -> tuple[PracticeCaution, ...]:
    """Return what must be said beside these drills, the most urgent first.

    Examples
    --------
    >>> from goodlength.practice.planning.drill_library import drill
    >>> [c.lead for c in cautions_for((drill("lob-to-the-box"),), junior=False)]
    ['Eye protection.', 'Before you begin.', 'Heart.']
    >>> [c.lead for c in cautions_for((drill("serve-at-the-body"),), junior=True)][:3]
    ['Serving at a person.', 'Eye protection.', 'Young players.']
    """
    first = (AT_THE_BODY,) if any(drill.body_target for drill in drills) else ()
    eyes = (EYES_YOUNG, YOUNG) if junior else (EYES,)
    together = (TOGETHER,) if any(drill.company is not Company.SOLO for drill in drills) else ()
    moving = (FAST_FEET,) if any(drill.theme is Theme.MOVEMENT for drill in drills) else ()
    return (*first, *eyes, *together, *moving, BODY, HEART)
