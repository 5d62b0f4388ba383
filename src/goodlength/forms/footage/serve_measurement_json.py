"""JSON form and terminal lines of a measured serve, and the reader of clicks from a file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TypedDict

from pydantic import BaseModel, ConfigDict, Field

from goodlength.errors import InputError
from goodlength.files.json_types import Json
from goodlength.files.typed_json_file import read_typed_json
from goodlength.files.value_parsing import read_as
from goodlength.record.entry_values import MarkValue, MeasuredValue, as_json_object, stored_form

if TYPE_CHECKING:
    from goodlength.measure.serves.serve_measurement import MeasuredServe

FIGURES = (
    ("speed_m_s", "speed off the racket", "m/s"),
    ("up_deg", "launch angle", "degrees"),
    ("to_front_s", "to the front wall", "s"),
    ("front_x_m", "front wall, from the left wall", "m"),
    ("front_z_m", "front wall, height", "m"),
    ("side_y_m", "side wall, from the front wall", "m"),
    ("side_z_m", "side wall, height", "m"),
    ("bounce_x_m", "first bounce, from the left wall", "m"),
    ("bounce_y_m", "first bounce, from the front wall", "m"),
    ("room_m", "second bounce, from the back wall", "m"),
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


def measured_words(form: MeasuredForm, logged: str = "") -> list[str]:
    """Return the same as lines; `logged` is the kind of serve in the log."""
    lines = []
    for name, words, unit in FIGURES:
        fields = form.get(name)
        if isinstance(fields, dict):
            lines.append(
                f"{words:<34} {fields['middle']:.2f} {unit} ({fields['low']:.2f} to {fields['high']:.2f})"
            )
    lines.append(
        f"{100 * form['range_holds']:.0f}% ranges, allowing for click error, timing, ball and court."
    )
    if form.get("kind_proposed"):
        in_log = f"logged as {logged}" if logged else "no kind is logged"
        lines.append(f"Looks like {form['kind_proposed']}; {in_log}. The log stays as it is.")
    lines += [f"“{item['what']}” does not fit the rest." for item in form.get("off", []) if item["doubted"]]
    return lines
