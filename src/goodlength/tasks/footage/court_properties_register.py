"""Register of the coach's courts: construction, altitude, and what calibration taught of each."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from pydantic import BaseModel, ConfigDict, Field, JsonValue, StrictStr

from goodlength.ball import Air, Ball, Court, PlayConditions
from goodlength.ball.model.air_density_and_viscosity import pressure_at
from goodlength.ball.model.ball_and_court_calibration_result import Calibration
from goodlength.errors import InputError, NotFound
from goodlength.files.json_file_reading_with_line_errors import read_typed_json
from goodlength.files.typed_value_parsing import read_as

if TYPE_CHECKING:
    from goodlength.ball.ball_and_court_coefficient_fit import CalibrationHit, Drop
    from goodlength.record.store import Library

SETTING = "courts"
NAME_LETTERS = 60


_Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]


class _BuiltValue(BaseModel):
    model_config = ConfigDict(extra="forbid")
    walls: StrictStr = "plaster"
    back: StrictStr = "glass"
    floor: StrictStr = "sprung"
    tin: StrictStr = "standard"


class _CourtValue(BaseModel):
    id: StrictStr
    name: StrictStr
    built: _BuiltValue
    altitude_m: float
    room_c: float
    calibrations: list[str] | None = None


class _DropValue(BaseModel):
    height_m: _Number = 2.0
    thuds_s: tuple[_Number, ...]


class _HitValue(BaseModel):
    contact_m: tuple[_Number, _Number, _Number]
    wall_s: _Number | None = None
    floor_s: _Number | None = None
    second_s: _Number | None = None
    wall_mark_m: tuple[_Number, _Number] | None = None
    side_mark_m: tuple[_Number, _Number] | None = None
    landing_m: tuple[_Number, _Number] | None = None


class _RecordingsValue(BaseModel):
    drops: list[JsonValue] | None = None
    hits: list[JsonValue] | None = None
    phone_m: tuple[_Number, _Number, _Number] | None = None


@dataclass(frozen=True)
class CourtRecord:
    """One court of the library; `calibrations` holds the newest for each ball, the very newest last."""

    id: str
    name: str
    built: Court
    altitude_m: float
    room_c: float
    calibrations: tuple[Calibration, ...]

    @property
    def calibration(self) -> Calibration | None:
        """The newest, whatever the ball."""
        return self.calibrations[-1] if self.calibrations else None

    def setting(self, ball: Ball) -> PlayConditions:
        """Return the setting to fly in with a ball; only what was learnt with a ball of that dot is used."""
        air = Air(temperature_c=self.room_c, pressure_pa=pressure_at(self.altitude_m))
        fits = next(
            (calibration for calibration in self.calibrations if calibration.made_with == ball.dot), None
        )
        others = () if fits else tuple(calibration.made_with for calibration in self.calibrations)
        return PlayConditions(ball, self.built, air, fits, others)

    @property
    def words(self) -> str:
        """What it is built of, and whether it is calibrated."""
        description = f"walls of {self.built.walls}, back wall of {self.built.back}, floor {self.built.floor}"
        description += f", {self.altitude_m:g} m above sea level"
        if self.calibration is None:
            return f"{description}; not calibrated"
        made = ", ".join(f"with {calibration.ball} on {calibration.day}" for calibration in self.calibrations)
        return f"{description}; calibrated {made}"


def courts(library: Library) -> tuple[CourtRecord, ...]:
    """Return the courts of the library in the order they were added."""
    stored = library.settings().get(SETTING) or []
    return tuple(_read(item, f"stored court {n}") for n, item in enumerate(stored, 1))


def court_named_by(library: Library, court_id: str) -> CourtRecord:
    """Return one court.

    Raises
    ------
    NotFound
        If there is none of that id.
    """
    found = next((court for court in courts(library) if court.id == court_id), None)
    if found is None:
        raise NotFound(
            f"There is no court {court_id!r}.",
            command="goodlength court list",
            page="That court is not in this library. Choose another court.",
        )
    return found


def add_court(
    library: Library, name: str, built: Court | None = None, *, altitude_m: float = 0.0, room_c: float = 20.0
) -> CourtRecord:
    """Keep a court.

    Raises
    ------
    InputError, OutOfRange
        An empty or used name, an altitude or temperature that cannot be.
    """
    label = " ".join(name.split())
    if not label or len(label) > NAME_LETTERS:
        raise InputError(f"A court needs a name of at most {NAME_LETTERS} letters; got {name[:80]!r}.")
    court_id = re.sub(r"[^a-z0-9]+", "-", label.lower()).strip("-") or "court"
    Air(temperature_c=room_c, pressure_pa=pressure_at(altitude_m))
    stored = list(library.settings().get(SETTING) or [])
    if any(record.id == court_id for record in courts(library)):
        raise InputError(
            f"There is a court {court_id!r} already. Give this one another name.",
            page="A court of that name is here already. Choose another name.",
        )
    made = {
        "id": court_id,
        "name": label,
        "built": asdict(built or Court()),
        "altitude_m": altitude_m,
        "room_c": room_c,
        "calibrations": [],
    }
    library.set_setting(SETTING, [*stored, made])
    return _read(made, f"court {court_id}")


def calibrate_court(
    library: Library,
    court_id: str,
    drops: Sequence[Drop],
    hits: Sequence[CalibrationHit],
    ball: Ball,
    *,
    on: date | None = None,
    phone_m: tuple[float, float, float] | None = None,
) -> Calibration:
    """Learn a court's coefficients from recordings and keep them with it, ball and day.

    The newest of each ball (by its dot) holds.

    Raises
    ------
    NotFound, InputError
        No such court; too little to learn from, or recordings that contradict each other.
    """
    from goodlength.ball.ball_and_court_coefficient_fit import ASSUMED_PHONE_M, calibrate

    known = court_named_by(library, court_id)
    plain = PlayConditions(ball, known.built, known.setting(ball).air)
    found = calibrate(
        drops,
        hits,
        plain,
        court=known.name,
        ball=f"a {ball.dot} ball, {ball.warmth}",
        date=(on or date.today()).isoformat(),
        phone_m=phone_m or ASSUMED_PHONE_M,
    )
    updated = [
        {**item, "calibrations": [*item["calibrations"], found.to_json()]} if item["id"] == court_id else item
        for item in library.settings().get(SETTING) or []
    ]
    library.set_setting(SETTING, updated)
    return found


def recordings_from(
    path: str | Path,
) -> tuple[list[Drop], list[CalibrationHit], tuple[float, float, float] | None]:
    """Return drops and hits from a JSON file, as docs/how-to/calibrate-a-court.md shows it.

    Raises
    ------
    InputError
        The file cannot be read, or a number in it cannot be.
    """
    plain = read_typed_json(
        Path(path),
        "The guide on calibrating a court shows what it should hold.",
        page="The file cannot be read as a court calibration. Choose another file.",
    )
    return recordings_of_values(plain)


def recordings_of_values(
    plain: object,
) -> tuple[list[Drop], list[CalibrationHit], tuple[float, float, float] | None]:
    """Return drops and hits from plain values.

    Raises
    ------
    InputError, OutOfRange
        A number that is missing or cannot be; words name the drop or hit.
    """
    from goodlength.ball.ball_and_court_coefficient_fit import CalibrationHit, Drop

    read = read_as(_RecordingsValue, plain, "recordings")
    drops = [read_as(_DropValue, item, f"drop {n}") for n, item in enumerate(read.drops or [], 1)]
    hits = [read_as(_HitValue, item, f"hit {n}") for n, item in enumerate(read.hits or [], 1)]
    return (
        [Drop(value.height_m, value.thuds_s) for value in drops],
        [CalibrationHit(**dict(value)) for value in hits],
        read.phone_m,
    )


def _read(plain: object, where: str) -> CourtRecord:
    read = read_as(_CourtValue, plain, where)
    newest: dict[str, Calibration] = {}
    for text in read.calibrations or []:
        found = Calibration.from_json(text)
        newest.pop(found.made_with, None)
        newest[found.made_with] = found
    built = Court(**dict(read.built))
    return CourtRecord(read.id, read.name, built, read.altitude_m, read.room_c, tuple(newest.values()))
