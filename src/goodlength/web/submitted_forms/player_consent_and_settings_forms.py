"""Forms of players, consent, settings and the bin."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Annotated, TypedDict

from pydantic import Field, field_validator

from goodlength import tasks
from goodlength.languages import LANGUAGES
from goodlength.record.model import Player
from goodlength.web.coach_settings import months_on
from goodlength.web.submitted_forms.form_field_parsing import DAY, WHOLE_NUMBER, Line, Sure, parsed
from goodlength.web.submitted_forms.form_reading_and_faults import HtmlForm
from goodlength.web.submitted_forms.match_import_and_search_forms import PlayerName

NEW_PLAYER: Mapping[str, str] = {
    "name": "",
    "hand": "right",
    "junior": "",
    "born_year": "",
    "notes": "",
    "language": "usual",
}
_SETTINGS = {
    "recording": ("observer", "lead_s", "extras"),
    "consent": ("consent_months", "consent_purposes"),
    "handout": ("club", "handout_language"),
    "page": ("room",),
    "language": ("page_language",),
    "videos": ("watched_folder",),
}


class PlayerDetails(TypedDict):
    """Parts of Player that are typed."""

    name: str
    hand: str
    junior: bool
    born_year: int | None
    notes: str


class ConsentDetails(TypedDict):
    """A consent as typed; `until` is the last day there is where it holds until withdrawn."""

    given_by: str
    when: date
    until: date
    purposes: list[str]


class PlayerForm(HtmlForm):
    """A player as typed."""

    name: PlayerName = Field("", validate_default=True)
    hand: Annotated[str, parsed(str)] = "right"
    junior: Sure = False
    born_year: Annotated[int | None, WHOLE_NUMBER] = None
    notes: Line = ""
    language: Annotated[str, parsed(str)] = ""  # left out: as it is

    @field_validator("language")
    @classmethod
    def _spoken(cls, code: str) -> str:
        if code and code != "usual" and code not in LANGUAGES:
            raise ValueError(f"There is no language {code!r}. Choose one of the list.")
        return code

    def details(self) -> PlayerDetails:
        """Return the parts of Player."""
        return {
            "name": self.name,
            "hand": self.hand,
            "junior": self.junior,
            "born_year": self.born_year,
            "notes": self.notes,
        }


def player_texts(player: Player) -> dict[str, str]:
    """Return the texts of the form for a player who is there."""
    return {
        "name": player.name,
        "hand": player.hand,
        "junior": "yes" if player.junior else "",
        "born_year": "" if player.born_year is None else str(player.born_year),
        "notes": player.notes,
    }


class ConsentForm(HtmlForm):
    """Who agreed to what; with `until` left empty it holds until withdrawn, to the year 9999."""

    given_by: Line = ""
    when: Annotated[date, DAY] = Field(default_factory=date.today)
    until: Annotated[date, DAY] = date.max
    purposes: list[str]

    @field_validator("purposes")
    @classmethod
    def _chosen(cls, purposes: list[str]) -> list[str]:
        if not purposes:
            raise ValueError("Choose at least one purpose. To withdraw consent, press “Withdraw consent”.")
        return purposes

    def details(self) -> ConsentDetails:
        """Return the consent as `tasks.consent` takes it."""
        return {
            "given_by": self.given_by,
            "when": self.when,
            "until": self.until,
            "purposes": self.purposes,
        }


def usual_consent(player: Player, months: int, purposes: tuple[str, ...]) -> dict[str, str | tuple[str, ...]]:
    """Return the texts of the form for a consent as it usually holds."""
    today = date.today()
    by = "" if tasks.is_junior(player) else player.name
    until = months_on(today, months).isoformat()
    return {"given_by": by, "when": today.isoformat(), "until": until, "purposes": purposes}


class EraseForm(HtmlForm):
    """The name of the player to be erased, typed to make sure."""

    sure: Line = ""


class SureForm(HtmlForm):
    """The box that says a removal is meant."""

    sure: Sure = False


class UndoForm(HtmlForm):
    """The page to come back to after Undo."""

    to: str = ""


class BackUpForm(HtmlForm):
    """Whether a back-up holds videos."""

    videos: Sure = False


class SettingsForm(HtmlForm):
    """One part of the settings; `web.coach_settings` says what each value may be."""

    part: str = ""
    observer: str = ""
    lead_s: str = ""
    extras: list[str]
    consent_months: str = ""
    consent_purposes: list[str]
    club: str = ""
    room: str = ""
    watched_folder: str = ""
    handout_language: str = "en"
    page_language: str = "en"

    def changes(self) -> dict[str, object]:
        """Return the values of the part."""
        return {name: getattr(self, name) for name in _SETTINGS.get(self.part, ())}


class ServeKindsForm(HtmlForm):
    """The kinds of serve: ids and words row by row, ids of those in use; a row without an id is new."""

    id: list[str]
    words: list[Line]
    used: list[str]
