"""Forms of sharing: clips to make, the talk's list, the handout's text, the pass code."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Annotated

from pydantic import BeforeValidator

from goodlength.tasks.sharing.handout_text_typed_by_coach import EditedField, HandoutText
from goodlength.tasks.sharing.video_session_playlist import MOST_CLIPS
from goodlength.web.submitted_forms.form_field_parsing import Given, Ticked, day_or, one_line
from goodlength.web.submitted_forms.form_reading_and_faults import HtmlForm


def _keys(text: str) -> list[str]:
    return [key for key in text.split(",") if key]


class ClipsForm(HtmlForm):
    """What to make of which rallies: those ticked, else those shown; or a clip of one alone."""

    make: str = "clip"
    clip_of: str = ""
    rally: list[str]
    shown: Annotated[tuple[str, ...], BeforeValidator(_keys)] = ()
    chosen: Given = False
    covered: Ticked = False
    slow: Ticked = False
    slower: Ticked = False
    mirrored: Ticked = False
    drawings: Ticked = False

    @property
    def rallies(self) -> list[str]:
        """The keys of the rallies meant."""
        return [self.clip_of] if self.clip_of else self.rally or list(self.shown)


class NameForm(HtmlForm):
    """What something made is to be called."""

    name: str = ""


class TalkForm(HtmlForm):
    """The clips of a talk with one cue each, and the day to look again."""

    rows: list[dict[str, str]]
    look_again: Annotated[
        date | None, day_or("{!r} is not a date. Enter a follow-up date such as 2026-12-24.")
    ] = None
    show: bool = False

    @classmethod
    def gather(cls, texts: Mapping[str, str], _lists: Mapping[str, Sequence[str]], /) -> dict[str, object]:
        """Collect the rows `rally-N`, `role-N`, `cue-N`."""
        return {
            "rows": talk_rows(texts),
            "look_again": texts.get("look_again", ""),
            "show": "show" in texts,
        }


def talk_rows(texts: Mapping[str, str]) -> list[dict[str, str]]:
    """Return the rows of a talk's list in which a rally is chosen."""
    return [
        {name: texts.get(f"{name}-{n}", "") for name in ("rally", "role", "cue")}
        for n in range(2 * MOST_CLIPS)
        if texts.get(f"rally-{n}")
    ]


class NoteForm(HtmlForm):
    """What the player said of a talk."""

    note: str = ""


class HandoutForm(HtmlForm):
    """What the handout is to say."""

    chosen: list[str]
    fields: dict[str, EditedField]
    own: str = ""
    stills: Ticked = False
    week: Ticked = False
    turning: Ticked = False
    back: Ticked = False
    watched: Ticked = False
    language: str = ""  # chosen for the player
    was_language: str = ""  # of the sentences on the page
    grades: dict[str, str]

    @classmethod
    def gather(cls, texts: Mapping[str, str], lists: Mapping[str, Sequence[str]], /) -> dict[str, object]:
        """Collect headlines and texts that differ from the program's, each with that beside it."""
        edited = {
            name: EditedField(said=one_line(text), was=one_line(texts.get(f"was:{name}", "")))
            for name, text in texts.items()
            if name.startswith(("headline:", "words:"))
        }
        changed = {name: field for name, field in edited.items() if field.said and field.said != field.was}
        own = texts.get("own", "").replace("\r\n", "\n")
        chosen = lists.get("chosen", ())
        grades = {key: texts[f"grade:{key}"] for key in chosen if f"grade:{key}" in texts}
        return {**super().gather(texts, lists), "fields": changed, "own": own, "grades": grades}

    def text(self) -> HandoutText:
        """Return the text as it is kept."""
        return HandoutText(
            chosen=self.chosen,
            fields=self.fields,
            own=self.own,
            stills=self.stills,
            week=self.week,
            turning=self.turning,
            back=self.back,
            watched=self.watched,
            grades=self.grades,
            language=self.was_language,
        )


class LinkForm(HtmlForm):
    """A link to a handout: one more, or with `back` none any longer."""

    back: Given = False


class CodeForm(HtmlForm):
    """The pass code of a shared page, and the address to go on to."""

    code: str = ""
    to: str = "/"
