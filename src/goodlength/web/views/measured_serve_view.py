"""View of a measured serve: figures, its path over the frame, and on the unfolded court."""

from __future__ import annotations

import math
from collections.abc import Mapping

from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.files.json_types import Json
from goodlength.measure.serves.serve_marks_and_strike_prior import MarkKind
from goodlength.measure.shots.followed_ball_types import PathServe
from goodlength.record.entry_value_types import MarkValue, MeasuredValue
from goodlength.show.draw.court.unfolded_flight import RACKET, draw_path
from goodlength.tasks.ball.serve_measurements_by_click_or_path import ServeAsMeasured
from goodlength.tasks.footage.serve_measurement import ServeToMeasure, TrialMeasurement
from goodlength.web.page_json_types.ball_paths import PathServeJson
from goodlength.web.page_json_types.camera_and_serve_clicks import ServePointJson
from goodlength.web.views.aim_view import Struck
from goodlength.web.views.measured_serve_sentences import (
    measured_lines,
    measured_odds,
    measured_short,
    receiver_lines,
)

SHOWN_PATH_PX = 20_000.0  # further out is no use to a picture
# source: docs/bench.md, 74 serves of the judging states
RECEIVER_RANGE = (
    "In simulated serves the range of the height where the receiver struck it held in 78 of 100, not 90."
)


def serve_state_words(serve: ServeToMeasure, measured: ServeAsMeasured | None) -> str:
    """Return the state of a serve in the list: its speed, or why it cannot be measured, or that it is not."""
    if measured is None:
        return serve.why or "not measured"
    speed = measured_short(measured.value)
    return speed if measured.by == "clicks" else f"{speed}, from its path"


def path_serve_json(serve: PathServe | None, clicked: MeasuredValue | None) -> PathServeJson | None:
    """Return a serve measured from its path as the page shows it; clicks are named, and win."""
    if serve is None:
        return None
    words = f"Measured from the path, without a click. Its path is right with a chance of {serve.chance:.0%}."
    if serve.receiver_z_m is not None:
        words += f" {RECEIVER_RANGE}"
    if clicked is not None:
        words += f" You measured this serve by clicks: {measured_short(clicked)}. Your clicks count."
    lines = [*measured_lines(serve.value), *receiver_lines(serve)]
    return {"words": words, "level": round(100 * serve.value.level), "lines": [list(line) for line in lines]}


def mark_json(mark: MarkValue) -> ServePointJson:
    """Return a click as the page sends and takes it; what was not said is left out."""
    point: ServePointJson = {"what": MarkKind(mark.what), "at_us": mark.at_us, "u": mark.u, "v": mark.v}
    if "about" in mark.model_fields_set:
        point["about"] = mark.about
    if "found" in mark.model_fields_set:
        point["found"] = mark.found
    if mark.again is not None:
        point["again"] = mark.again
    return point


def kind_of(
    kind: str | None, odds: dict[str, int], words: Mapping[str, str], recorded: str | None
) -> dict[str, Json]:
    """Return the kind a path looks like, in words, and whether it can be recorded: where none is yet."""
    shares = ", ".join(
        f"{words.get(text, text).lower()} {n}" for text, n in sorted(odds.items(), key=lambda o: -o[1])
    )
    note = f"Of 100 flights that fit the marks: {shares}." if shares else ""
    if kind is not None and recorded is not None and kind != recorded:
        note += f" It is logged as {words.get(recorded, recorded).lower()}: check it."
    can = kind is not None and recorded is None
    return {"kind": kind if can else None, "kind_words": words.get(kind or "", "").lower(), "kind_note": note}


def result_of(trial: TrialMeasurement) -> dict[str, Json]:
    """Return everything the page shows of a try, as plain values."""
    found = trial.found
    return {
        "lines": [list(measured_line) for measured_line in measured_lines(trial.value)],
        "odds": measured_odds(trial.value),
        "level": round(100 * trial.value.level),
        "marks": [
            {
                "what": mark.what,
                "px": round(mark.px, 1),
                "late_ms": None if mark.late_s is None else round(1000 * mark.late_s),
                "doubted": mark in found.doubted,
            }
            for mark in found.marks
        ],
        "notes": _notes(trial),
        "path": _parts(trial),
        "touches": [
            {"n": n, "u": touch.uv[0], "v": touch.uv[1]}
            for n, touch in enumerate(trial.path.touches, start=2)
            if touch.uv is not None
        ],
        "court": court_of(trial),
    }


def _notes(trial: TrialMeasurement) -> list[str]:
    notes = [residual.words for residual in trial.found.doubted]
    if trial.found.rivals:
        notes.append(
            "Another flight fits these marks nearly as well; the ranges include both. Set one more mark."
        )
    if trial.onset_used:
        notes.append("The time of contact comes from the sound.")
    if trial.borrowed:
        notes.append("The calibration is from the previous file. Check that the camera did not move.")
    return notes


def _parts(trial: TrialMeasurement) -> list[list[list[float]]]:
    """Return the path in the picture, in pieces where part of it is out of sight."""
    parts: list[list[list[float]]] = [[]]
    for u, v in trial.path.uv.tolist():
        if math.isfinite(u) and math.isfinite(v) and max(abs(u), abs(v)) < SHOWN_PATH_PX:
            parts[-1].append([round(u, 1), round(v, 1)])
        elif parts[-1]:
            parts.append([])
    return [part for part in parts if len(part) > 1]


def court_of(trial: TrialMeasurement) -> str:
    """Return the path on the unfolded court, as SVG text."""
    points = trial.path.points
    contacts = [Struck(RACKET, *(float(v) for v in points[0, 1:4]))]
    for touch in trial.path.touches:
        x, y, z = touch.at_m
        contacts.append(Struck(str(touch.surface), *_on(str(touch.surface), x, y, z)))
    flight = [(float(x), float(y), float(z)) for _, x, y, z in points.tolist()]
    return draw_path(contacts, flight=flight, shot="Measured serve")


def _on(surface: str, x: float, y: float, z: float) -> tuple[float, float, float]:
    """Return the place on the surface itself; a path has the middle of the ball, 2 cm before it."""
    places = {
        "floor": (x, y, 0.0),
        "front": (x, 0.0, z),
        "tin": (x, 0.0, z),
        "left": (0.0, y, z),
        "right": (WIDTH_M, y, z),
        "back": (x, LENGTH_M, z),
    }
    x, y, z = places.get(surface, (x, y, z))
    return min(max(x, 0.0), WIDTH_M), min(max(y, 0.0), LENGTH_M), max(z, 0.0)
