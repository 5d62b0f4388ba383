"""Cautions that stand on every plan; local rules, the national body and doctors stand above them."""

from __future__ import annotations

from dataclasses import dataclass

from goodlength.practice.drills import Drill


@dataclass(frozen=True)
class Caution:
    """Bold lead words, one or two sentences, and where it comes from."""

    lead: str
    words: str
    source: str


EYES = Caution(
    "Eyes.",
    "Wear eye protection made for squash, properly over the eyes. Many bodies demand it of juniors, of "
    "doubles players and of coaches who feed them: ask yours.",
    "FINCH-VEAR-1995",
)
HEART = Caution(
    "Heart.",
    "See a doctor before beginning or coming back, above about forty or with risk factors. Chest discomfort, "
    "dizziness, sickness or an odd heartbeat: stop at once and get help.",
    "NORTHCOTE-1986",
)
BODY = Caution(
    "Before you begin.",
    "Warm up and warm down; do not train ill, feverish or hurt. Pain means stop.",
    "SAFETY-SHEET-2011",
)
YOUNG = Caution(
    "Young players.",
    "Fewer sets, longer rests, at least one full day off a week. The national body's youth guidance stands "
    "above this page.",
    "COMMON-PRACTICE",
)
AT_THE_BODY = Caution(
    "Serving at a person.",
    "Only with someone who has agreed, with a slow ball, both in eye protection, and never at the head.",
    "COMMON-PRACTICE",
)


def cautions_for(drills: tuple[Drill, ...], junior: bool) -> tuple[Caution, ...]:
    """What must be said beside these drills, the most urgent first.

    Examples
    --------
    >>> from goodlength.practice.drills import drill
    >>> [c.lead for c in cautions_for((drill("serve-at-the-body"),), junior=False)]
    ['Serving at a person.', 'Eyes.', 'Before you begin.', 'Heart.']
    """
    first = (AT_THE_BODY,) if any(one.body_target for one in drills) else ()
    young = (YOUNG,) if junior else ()
    return (*first, EYES, *young, BODY, HEART)
