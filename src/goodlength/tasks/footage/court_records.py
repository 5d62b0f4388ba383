"""Courts the coach plays on: what they are built of, how high they lie, and what calibration taught."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from goodlength.ball import Air, Ball, Court, PlayConditions
from goodlength.ball.model.air_density import pressure_at
from goodlength.ball.model.calibration_result import Calibration
from goodlength.errors import InputError, NotFound

if TYPE_CHECKING:
    from goodlength.ball.calibration_fit import CalibrationHit, Drop
    from goodlength.record.store import Library

SETTING = "courts"
NAME_LETTERS = 60


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
        told = f"walls of {self.built.walls}, back wall of {self.built.back}, floor {self.built.floor}"
        told += f", {self.altitude_m:g} m above the sea"
        if self.calibration is None:
            return f"{told}; not calibrated"
        made = ", ".join(
            f"with {calibration.ball} on {calibration.date}" for calibration in self.calibrations
        )
        return f"{told}; calibrated {made}"


def courts(library: Library) -> tuple[CourtRecord, ...]:
    """The courts of the library in the order they were added."""
    return tuple(_read(one) for one in library.settings().get(SETTING) or [])


def court_named_by(library: Library, court_id: str) -> CourtRecord:
    """One court.

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
    said = " ".join(name.split())
    if not said or len(said) > NAME_LETTERS:
        raise InputError(f"A court needs a name of at most {NAME_LETTERS} letters; got {name[:80]!r}.")
    court_id = re.sub(r"[^a-z0-9]+", "-", said.lower()).strip("-") or "court"
    Air(temperature_c=room_c, pressure_pa=pressure_at(altitude_m))
    kept = list(library.settings().get(SETTING) or [])
    if any(one["id"] == court_id for one in kept):
        raise InputError(
            f"There is a court {court_id!r} already. Give this one another name.",
            page="A court of that name is here already. Choose another name.",
        )
    made = {
        "id": court_id,
        "name": said,
        "built": asdict(built or Court()),
        "altitude_m": altitude_m,
        "room_c": room_c,
        "calibrations": [],
    }
    library.set_setting(SETTING, [*kept, made])
    return _read(made)


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
    from goodlength.ball.calibration_fit import ASSUMED_PHONE_M, calibrate

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
    kept = [
        {**one, "calibrations": [*one["calibrations"], found.to_json()]} if one["id"] == court_id else one
        for one in library.settings().get(SETTING) or []
    ]
    library.set_setting(SETTING, kept)
    return found


def recordings_from(
    path: str | Path,
) -> tuple[list[Drop], list[CalibrationHit], tuple[float, float, float] | None]:
    """Drops and hits from a JSON file, as docs/how-to/calibrate-a-court.md shows it.

    Raises
    ------
    InputError
        The file cannot be read, or a number in it cannot be.
    """
    where = Path(path)
    try:
        plain = json.loads(where.read_text(encoding="utf-8"))
    except OSError as error:
        raise InputError(f"{where} cannot be read ({error.strerror or error}). Name another file.") from None
    except (UnicodeDecodeError, json.JSONDecodeError) as error:
        raise InputError(
            f"{where.name} is not JSON: {error}. See the guide on calibrating a court.",
            page="The file cannot be read as a court calibration. Choose another file.",
        ) from None
    if not isinstance(plain, dict):
        raise InputError(f"{where.name} holds no recordings: it is one object with drops and hits.")
    return recordings_of_values(plain)


def recordings_of_values(
    plain: Mapping[str, Any],
) -> tuple[list[Drop], list[CalibrationHit], tuple[float, float, float] | None]:
    """Drops and hits from plain values.

    Raises
    ------
    InputError, OutOfRange
        A number that is missing or cannot be; words name the drop or hit.
    """
    from goodlength.ball.calibration_fit import CalibrationHit, Drop

    drops, hits = [], []
    for n, one in enumerate(_list(plain, "drops"), 1):
        where = f"drop {n}"
        drops.append(
            Drop(_number(one.get("height_m", 2.0), where), _numbers(one.get("thuds_s"), where, None))
        )
    for n, one in enumerate(_list(plain, "hits"), 1):
        where = f"hit {n}"
        times: list[float | None] = [
            None if one.get(name) is None else _number(one[name], where)
            for name in ("wall_s", "floor_s", "second_s")
        ]
        marks: list[tuple[float, float] | None] = []
        for name in ("wall_mark_m", "side_mark_m", "landing_m"):
            pair = None if one.get(name) is None else _numbers(one[name], where, 2)
            marks.append(None if pair is None else (pair[0], pair[1]))
        x, y, z = _numbers(one.get("contact_m"), where, 3)
        hits.append(CalibrationHit((x, y, z), times[0], times[1], times[2], marks[0], marks[1], marks[2]))
    phone = plain.get("phone_m")
    if phone is None:
        return drops, hits, None
    px, py, pz = _numbers(phone, "phone_m", 3)
    return drops, hits, (px, py, pz)


def _read(plain: Mapping[str, Any]) -> CourtRecord:
    newest: dict[str, Calibration] = {}
    for text in plain.get("calibrations") or []:
        found = Calibration.from_json(text)
        newest.pop(found.made_with, None)
        newest[found.made_with] = found
    return CourtRecord(
        str(plain["id"]),
        str(plain["name"]),
        Court(**plain["built"]),
        float(plain["altitude_m"]),
        float(plain["room_c"]),
        tuple(newest.values()),
    )


def _list(plain: Mapping[str, Any], name: str) -> list[Mapping[str, Any]]:
    found = plain.get(name) or []
    if not isinstance(found, list) or not all(isinstance(one, Mapping) for one in found):
        raise InputError(f"{name} is a list of objects. See the guide on calibrating a court.")
    return found


def _number(value: Any, where: str) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise InputError(f"In {where} a number is expected; got {value!r}.")
    return float(value)


def _numbers(value: Any, where: str, count: int | None) -> tuple[float, ...]:
    if not isinstance(value, list) or (count is not None and len(value) != count):
        many = "numbers" if count is None else f"{count} numbers"
        raise InputError(f"In {where} a list of {many} is expected; got {value!r}.")
    return tuple(_number(one, where) for one in value)
