"""JSON form and terminal lines of a measured serve, and the reader of clicks from a file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TypedDict

from pydantic import BaseModel, ConfigDict, Field

from goodlength.errors import InputError
from goodlength.files.json_file_reading_with_line_errors import read_typed_json
from goodlength.files.json_types import Json
from goodlength.files.typed_value_parsing import read_as
from goodlength.record.entry_value_types import MarkValue, MeasuredValue, as_json_object, stored_form

if TYPE_CHECKING:
    from goodlength.measure.serves.serve_measurement import MeasuredServe

FIGURES = (
    ("speed_m_s", "Speed off the racket", "m/s"),
    ("up_deg", "Launch angle, upwards", "degrees"),
    ("to_front_s", "Time to the front wall", "s"),
    ("front_x_m", "Front wall, from the left wall", "m"),
    ("front_z_m", "Front wall, height", "m"),
    ("side_y_m", "Side wall, from the front wall", "m"),
    ("side_z_m", "Side wall, height", "m"),
    ("bounce_x_m", "First bounce, from the left wall", "m"),
    ("bounce_y_m", "First bounce, from the front wall", "m"),
    ("room_m", "Second bounce, from the back wall", "m"),
)


class MeasuredForm(TypedDict, total=False):
    """A measured serve as JSON; each figure with its middle, low and high, or null."""

    speed_m_s: dict[str, float] | None
    up_deg: dict[str, float] | None
    to_front_s: dict[str, float] | None
    front_x_m: dict[str, float] | None
    front_z_m: dict[str, float] | None
    side_y_m: dict[str, float] | None
    side_z_m: dict[str, float] | None
    bounce_x_m: dict[str, float] | None
    bounce_y_m: dict[str, float] | None
    room_m: dict[str, float] | None
    range_holds: float
    of_100: dict[str, int | None]
    side: str | None
    marks: list[Json]
    off: list[OffForm]
    kind_proposed: str | None
    kinds_of_100: dict[str, int]
    ball: dict[str, Json]
    kept: bool


class OffForm(TypedDict):
    """How far one click lies from the path."""

    what: str
    px: float
    doubted: bool


class _ClickIn(BaseModel):
    """A click of a file."""

    model_config = ConfigDict(extra="ignore")
    what: str
    at_s: Annotated[float, Field(strict=True, allow_inf_nan=False)]
    u: Annotated[float, Field(strict=True, allow_inf_nan=False)]
    v: Annotated[float, Field(strict=True, allow_inf_nan=False)]
    about: object = False
    found: object = False
    again: object = None


def read_clicks(path: Path) -> list[MarkValue]:
    """Return the clicks of a file: a JSON list of `{"what", "at_s", "u", "v"}`, each with "again" or without.

    Raises
    ------
    InputError
        With the click that is wrong, and what would be accepted.
    """
    wanted = 'It should hold a list of clicks: [{"what", "at_s", "u", "v"}, ...].'
    content = read_typed_json(path, wanted)
    if not isinstance(content, list) or not content:
        raise InputError(f"{path.name} holds no list of clicks. {wanted}")
    return [_click(n, item) for n, item in enumerate(content, 1)]


def _click(n: int, item: object) -> MarkValue:
    click = read_as(_ClickIn, item, f"click {n}")
    found = {"found": True} if click.found is True else {}
    again = {} if click.again is None else {"again": click.again}
    plain = {"what": click.what, "at_us": round(click.at_s * 1e6), "u": click.u, "v": click.v}
    return read_as(MarkValue, {**plain, "about": click.about is True, **found, **again}, f"click {n}")


def measured_form(value: MeasuredValue, found: MeasuredServe | None = None) -> MeasuredForm:
    """Return each figure with middle, low and high; of 100; and each click's distance from the path.

    Without `found`, the value is one that was kept.
    """
    ranges: dict[str, dict[str, float] | None] = {}
    for name, _, _ in FIGURES:
        three = getattr(value, name)
        ranges[name] = dict(zip(("middle", "low", "high"), three, strict=True)) if three else None
    form: MeasuredForm = {**ranges}  # type: ignore[typeddict-item]  # FIGURES names the first ten keys
    form["range_holds"] = value.level
    form["of_100"] = {
        name: getattr(value, f"{name}_of_100")
        for name in ("good", "side_first", "dies")
        if f"{name}_of_100" in value.model_fields_set
    }
    form["side"] = value.side
    form["marks"] = [stored_form(mark) if found is None else as_json_object(mark) for mark in value.marks]
    if found is not None:
        form["off"] = [
            {"what": mark.what, "px": round(mark.px, 1), "doubted": mark in found.doubted}
            for mark in found.marks
        ]
    return form


def measured_words(form: MeasuredForm, logged: str = "", proposed: str = "") -> list[str]:
    """Return the same as lines; `logged` and `proposed` are kinds of serve, in words: the one in the log, and
    the one that the path looks like.
    """
    lines = [f"{'Figure':<34} Best estimate ({100 * form['range_holds']:.0f}% range)"]
    for name, words, unit in FIGURES:
        fields = form.get(name)
        if isinstance(fields, dict):
            lines += [f"{words:<34} {_figure(shown, unit)}" for shown, unit in _in_units(name, fields, unit)]
    lines.append("The ranges allow for click error, timing, ball and court.")
    if form.get("kind_proposed"):
        in_log = f"It is logged as: {logged.lower()}." if logged else "No kind is logged."
        kind = (proposed or str(form["kind_proposed"])).lower()
        lines.append(f"The path looks like this kind: {kind}. {in_log} The log does not change.")
    lines += [
        f"The mark “{item['what']}” does not fit the others: click it again."
        for item in form.get("off", [])
        if item["doubted"]
    ]
    return lines


def _in_units(name: str, fields: dict[str, float], unit: str) -> list[tuple[dict[str, float], str]]:
    """Return a figure in each unit it is shown in: a speed in km/h first."""
    if name != "speed_m_s":
        return [(fields, unit)]
    return [({key: 3.6 * value for key, value in fields.items()}, "km/h"), (fields, unit)]


def _figure(fields: dict[str, float], unit: str) -> str:
    digits = 0 if unit == "km/h" else 2
    middle, low, high = (f"{fields[key]:.{digits}f}" for key in ("middle", "low", "high"))
    return f"{middle} {unit} ({low} to {high})"
