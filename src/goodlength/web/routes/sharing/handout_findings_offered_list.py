"""Findings and plain counts as the handout page offers them, with what the coach typed for each."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from goodlength.findings import Grade
from goodlength.languages import LANGUAGES
from goodlength.show.handout.handout_types import PLAIN
from goodlength.tasks.sharing.handout_content_and_files import HandoutDraft, usual_findings

if TYPE_CHECKING:
    from goodlength.tasks.match.lazy_match import OpenMatch
    from goodlength.tasks.sharing.handout_text_typed_by_coach import HandoutText


@dataclass(frozen=True)
class HandoutChoice:
    """One thing the handout can say; `open` where it stands on the page, not folded away."""

    key: str
    about: str
    grade: str
    grade_words: str
    counts: str
    own_headline: str
    own_words: str
    headline: str
    words: str
    chosen: bool
    edited: bool
    open: bool


def handout_choices(opened: OpenMatch, draft: HandoutDraft, typed: HandoutText | None) -> list[HandoutChoice]:
    """Return what the handout can say: what is chosen first, then what there is to talk about."""
    found = draft.found
    usual = {item.key for item in usual_findings(found) or draft.counts}
    top = {item.key for item in found.top} | usual
    chosen = (set(typed.chosen) - set(_lost_grade(draft, typed))) if typed else usual
    about = {
        finding.key: finding.headline for finding in opened.findings(name_opponent=draft.opponent_named).all
    }
    made = [
        _choice(
            item.key, about.get(item.key, item.headline), item.grade.value, item.grade.words,
            f"{item.count} of {item.of}" if item.of else "", item.you_headline, item.you_words, typed,
            chosen=item.key in chosen, top=item.key in top,
        )
        for item in found.all
    ] + [
        _choice(
            item.key, item.label, PLAIN, "Plain count", "", item.headline, item.words, typed,
            chosen=item.key in chosen, top=item.key in top,
        )
        for item in (*draft.counts, *draft.places)
    ]  # fmt: skip
    return sorted(made, key=lambda choice: (not choice.chosen, choice.key not in top))


def _choice(
    key: str, about: str, grade: str, grade_words: str, counts: str, headline: str, words: str,
    typed: HandoutText | None, *, chosen: bool, top: bool,
) -> HandoutChoice:  # fmt: skip
    now = (_still(typed, f"headline:{key}", headline), _still(typed, f"words:{key}", words))
    edited = now != (headline, words)
    return HandoutChoice(
        key, about, grade, grade_words, counts, headline, words, *now, chosen, edited, chosen or edited or top
    )


def _still(typed: HandoutText | None, name: str, now: str) -> str:
    """Return a field as typed, if the program's text is still the one it was typed over; else the
    program's.
    """
    field = typed.fields.get(name) if typed else None
    return field.said if field and field.was == " ".join(now.split()) else now


def outdated_words(draft: HandoutDraft, typed: HandoutText | None, code: str) -> list[str]:
    """Return what was typed or chosen for data that have changed since, or in another language, in words."""
    if typed is None:
        return []
    other = typed.language not in ("", code)
    now = dict(_own_texts(draft))
    changed = [
        f"You wrote “{field.said}” for the handout in {LANGUAGES.get(typed.language, typed.language)}. "
        f"The handout is in {LANGUAGES[code]} now, so goodlength's own text is shown."
        if other
        else f"The data changed after you wrote “{field.said}”. goodlength's own text is shown again."
        for name, field in typed.fields.items()
        if field.was != " ".join(now.get(name, "").split())
    ]
    return changed + [
        f"“{headline}” is not chosen any more: the data changed, and now there is not enough for it."
        for headline in _lost_grade(draft, typed).values()
    ]


def _lost_grade(draft: HandoutDraft, typed: HandoutText) -> dict[str, str]:
    """Return the headlines, by key, of what had a grade when it was chosen and has none now."""
    return {
        finding.key: finding.you_headline
        for finding in draft.found.all
        if finding.key in typed.chosen
        and finding.grade is Grade.TOO_FEW
        and typed.grades.get(finding.key, Grade.TOO_FEW.value) != Grade.TOO_FEW.value
    }


def _own_texts(draft: HandoutDraft) -> Iterator[tuple[str, str]]:
    for finding in draft.found.all:
        yield f"headline:{finding.key}", finding.you_headline
        yield f"words:{finding.key}", finding.you_words
    for count in (*draft.counts, *draft.places):
        yield f"headline:{count.key}", count.headline
        yield f"words:{count.key}", count.words
