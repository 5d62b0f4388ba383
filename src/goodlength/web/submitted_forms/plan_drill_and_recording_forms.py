"""Forms of practice: a plan's time and doses, the coach's own drill, a recording, a group."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from typing import Annotated, NamedTuple

from pydantic import AfterValidator, BeforeValidator, Field

from goodlength.errors import InputError
from goodlength.media_time import read_day
from goodlength.practice.planning.drill_library import Company, DrillLevel
from goodlength.practice.planning.practice_plan import Time
from goodlength.web.submitted_forms.form_field_parsing import DAY, FilePath, Given, Trimmed
from goodlength.web.submitted_forms.form_reading_and_faults import HtmlForm

USUAL_TIME: Mapping[str, str] = {
    "sessions": "2",
    "minutes": "60",
    "weeks": "3",
    "company": "pair",
    "level": "club",
    "drill": "",
    "begins": "",
}
NEW_DRILL: Mapping[str, str] = {
    "name": "",
    "theme": "serve",
    "company": "solo",
    "do": "",
    "counts": "",
    "changes": "",
    "place": "",
    "sets": "3",
    "attempts": "12",
    "rest_s": "45",
    "minutes": "10",
    "left_m": "",
    "low_m": "",
    "wide_m": "",
    "tall_m": "",
    "spot1": "",
    "x1": "",
    "y1": "",
    "spot2": "",
    "x2": "",
    "y2": "",
    "body_target": "",
    "mixed": "",
}


def _whole(words: str) -> Callable[[str], int]:
    def read(text: str) -> int:
        try:
            return int(text.strip())
        except ValueError:
            raise ValueError(f"{words} must be a whole number; got {text!r}.") from None

    return read


def _from_list(kind: type[Company] | type[DrillLevel]) -> BeforeValidator:
    def read(text: str) -> Company | DrillLevel:
        try:
            return kind(text)
        except ValueError:
            raise ValueError("Choose the players on court and the level from the lists.") from None

    return BeforeValidator(read)


def _first_day(text: str) -> date:
    try:
        return read_day(text.strip())
    except ValueError:
        raise ValueError(f"{text!r} is not a date. Choose the first day, such as 2026-11-25.") from None


class PlanTimeForm(HtmlForm):
    """The time and the people that a plan is for."""

    sessions: Annotated[int, BeforeValidator(_whole("Sessions per week"))] = Field("", validate_default=True)
    minutes: Annotated[int, BeforeValidator(_whole("Minutes per session"))] = Field("", validate_default=True)
    weeks: Annotated[int, BeforeValidator(_whole("Weeks"))] = Field("", validate_default=True)
    company: Annotated[Company, _from_list(Company)] = Field("", validate_default=True)
    level: Annotated[DrillLevel, _from_list(DrillLevel)] = Field("", validate_default=True)
    begins: Annotated[date, BeforeValidator(_first_day)] = Field("", validate_default=True)
    drill: str = ""

    @property
    def time(self) -> Time:
        """The time as a plan takes it."""
        return Time(self.sessions, self.minutes, self.weeks, self.company)


def time_texts(texts: Mapping[str, str]) -> dict[str, str]:
    """Return the texts of the form of a plan's time, the usual ones where a name is missing."""
    begins = texts.get("begins") or date.today().isoformat()
    return {name: texts.get(name, usual) for name, usual in USUAL_TIME.items()} | {"begins": begins}


class DrillDose(NamedTuple):
    """How much of a drill, and the hits to reach in its last set."""

    sets: int
    attempts: int
    target: int | None


class PlanForm(HtmlForm):
    """The drills of a plan that stay, and the dose of each as typed."""

    keep: list[str]
    doses: dict[str, str]

    @classmethod
    def gather(cls, texts: Mapping[str, str], lists: Mapping[str, Sequence[str]], /) -> dict[str, object]:
        """Collect the fields `sets:DRILL`, `attempts:DRILL` and `target:DRILL`."""
        doses = {
            name: text for name, text in texts.items() if name.startswith(("sets:", "attempts:", "target:"))
        }
        return {"keep": lists.get("keep", []), "doses": doses}

    def dose(self, drill: str, name: str) -> DrillDose:
        """Return the dose of a drill; `name` is the drill in words.

        Raises
        ------
        InputError
            A number of it cannot be read.
        """
        target = self.doses.get(f"target:{drill}", "").strip()
        try:
            return DrillDose(
                _whole(f"Sets of {name}")(self.doses.get(f"sets:{drill}", "")),
                _whole(f"Attempts of {name}")(self.doses.get(f"attempts:{drill}", "")),
                _whole(f"The target of {name}")(target) if target else None,
            )
        except ValueError as wrong:
            raise InputError(str(wrong)) from None


class DrillForm(HtmlForm):
    """A drill of the coach's own; `practice.planning.custom_drills` says all its faults at once."""

    name: Trimmed = ""
    theme: Trimmed = ""
    company: Trimmed = ""
    do: Trimmed = ""
    counts: Trimmed = ""
    changes: Trimmed = ""
    place: Trimmed = ""
    sets: Trimmed = ""
    attempts: Trimmed = ""
    rest_s: Trimmed = ""
    minutes: Trimmed = ""
    left_m: Trimmed = ""
    low_m: Trimmed = ""
    wide_m: Trimmed = ""
    tall_m: Trimmed = ""
    spot1: Trimmed = ""
    x1: Trimmed = ""
    y1: Trimmed = ""
    spot2: Trimmed = ""
    x2: Trimmed = ""
    y2: Trimmed = ""
    body_target: Given = False
    mixed: Given = False

    def drill(self) -> Mapping[str, object]:
        """Return the drill as `tasks.add_drill` takes it."""
        box = {"left_m": self.left_m, "low_m": self.low_m, "wide_m": self.wide_m, "tall_m": self.tall_m}
        spots = [
            {"words": words, "x_m": x, "y_m": y}
            for words, x, y in ((self.spot1, self.x1, self.y1), (self.spot2, self.x2, self.y2))
            if words or x or y
        ]
        plain = self.model_dump(exclude={*box, "spot1", "x1", "y1", "spot2", "x2", "y2"})
        return {**plain, "id": None, "box": box if any(box.values()) else None, "spots": spots}


class RetireForm(HtmlForm):
    """A drill to be taken out of use."""

    drill: str = ""


class RecordingForm(HtmlForm):
    """A recording of practice by its path, and the drill that it shows."""

    drill: str = ""
    path: FilePath = Field("", validate_default=True)


class GroupForm(HtmlForm):
    """The group that a player trains with."""

    group: str = ""


def _named(player: str) -> str:
    if not player:
        raise ValueError("Choose the player of the session.")
    return player


class SessionForm(HtmlForm):
    """A session planned for a day."""

    player: Annotated[str, AfterValidator(_named)] = Field("", validate_default=True)
    on: Annotated[date | None, DAY] = None
    words: str = ""

    @property
    def day(self) -> date:
        """The day chosen.

        Raises
        ------
        InputError
            None was.
        """
        if self.on is None:
            raise InputError("Choose the day of the session, such as 2026-11-25.")
        return self.on


class RemovedSessionForm(HtmlForm):
    """A planned session to be removed."""

    player: str = ""
    session: str = ""
    month: str = ""
    group: str = ""


class UndoSetForm(HtmlForm):
    """A set to be removed."""

    set: str = ""
