"""Measure serves from marks on a match's footage: try, save, withdraw, list.

A measured serve is an entry of the record (`serve.measured`): the marks, and what followed from them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from goodlength.errors import InputError, NotFound
from goodlength.media_time import Gap, MediaPosition
from goodlength.record.effective_answers import effective_answers
from goodlength.record.entry_ids_and_timestamps import utc_now
from goodlength.record.entry_sequence_builder import EntryWriter
from goodlength.record.entry_value_types import MarkValue, Measured, MeasuredValue, as_json_object
from goodlength.record.model import Entry, EntryKind, Footage, KindOfServe, Match, MatchInfo, Rally
from goodlength.tasks.footage import camera_calibration
from goodlength.tasks.footage.court_properties_register import courts
from goodlength.tasks.footage.rally_detection import listed_rallies
from goodlength.tasks.match.match_editing_and_answers import AppendResult, record_answers

if TYPE_CHECKING:
    from goodlength.ball import PlayConditions
    from goodlength.footage.camera import CameraCalibration
    from goodlength.measure.serves.click_error_estimation import ClickEvidence
    from goodlength.measure.serves.serve_marks_and_strike_prior import ServeMark
    from goodlength.measure.serves.serve_measurement import Interval, MeasuredServe
    from goodlength.measure.serves.serve_path_projection import ServePath
    from goodlength.record.store import Library
    from goodlength.tasks.match.lazy_match import OpenMatch

TAB = "measure"
ONSET_WITHIN_S = 0.02  # an onset this far beyond half a picture may still be the strike


@dataclass(frozen=True)
class ServeToMeasure:
    """One serve of a match, where its pictures are, and what was measured of it.

    `footage_id` and `media_us` are None where nothing was filmed or the rally has no time; `why` says so.
    """

    rally: Rally
    footage_id: str | None
    media_us: int | None
    camera: bool
    why: str = ""


@dataclass(frozen=True, eq=False)
class TrialMeasurement:
    """A serve measured and not kept: the fit, its value as it would be kept, and its path."""

    found: MeasuredServe
    value: MeasuredValue
    path: ServePath
    camera: CameraCalibration
    borrowed: bool
    onset_used: bool


def serves_to_measure(opened: OpenMatch) -> tuple[ServeToMeasure, ...]:
    """Return every serve of a match in the order played, with what is needed to measure it."""
    known: dict[str, bool] = {}
    return tuple(_to_measure(opened, rally, known) for rally in opened.match.rallies)


def serve_to_measure(opened: OpenMatch, rally_key: str) -> ServeToMeasure:
    """Return the serve of one rally, with what is needed to measure it.

    Raises
    ------
    NotFound
        There is no such rally.
    """
    rally = next((candidate for candidate in opened.match.rallies if candidate.key == rally_key), None)
    if rally is None:
        raise NotFound(
            f"There is no rally {rally_key!r} in this match. Go back to the list of its serves.",
            page="That rally is no longer in this match. Reload the page and choose another.",
        )
    return _to_measure(opened, rally, {})


def _to_measure(opened: OpenMatch, rally: Rally, known: dict[str, bool]) -> ServeToMeasure:
    """Return one serve; `known` keeps for each file whether it has a camera."""
    if opened.timeline is None or rally.start_us is None:
        why = "no video" if opened.timeline is None else "no time set"
        return ServeToMeasure(rally, None, None, False, why)
    place = opened.timeline.locate(rally.start_us)
    if isinstance(place, Gap):
        return ServeToMeasure(rally, None, None, False, "not filmed")
    if place.footage_id not in known:
        known[place.footage_id] = _has_camera(opened.library, place)
    has = known[place.footage_id]
    why = "" if has else "the camera is not calibrated"
    return ServeToMeasure(rally, place.footage_id, place.media_us, has, why)


def _has_camera(library: Library, place: MediaPosition) -> bool:
    try:
        return camera_calibration.camera_at(library, place.footage_id, place.media_us) is not None
    except InputError:
        return False


def trial_measurement(
    opened: OpenMatch,
    rally_key: str,
    marks: Sequence[MarkValue],
    *,
    sound: bool = True,
    warmth: str = "",
) -> TrialMeasurement:
    """Measure a serve from marks; nothing is kept.

    Parameters
    ----------
    marks : sequence of MarkValue
        `at_us` in media time of the file the serve lies in.
    sound : bool
        Take the moment of the strike from the hits heard, where exactly one lies there.
    warmth : str
        Of the ball: hot, warm, club, cold or unsure; empty: as the match says.

    Raises
    ------
    InputError
        The serve was not filmed, no camera is kept, or the marks are too few or in no possible order.
    CalibrationError, UnclearError
        As `measure.measure_serve`.
    """
    from goodlength.ball import Ball
    from goodlength.measure.serves.serve_measurement import measure_serve
    from goodlength.measure.serves.serve_path_projection import serve_path

    if warmth:
        Ball(warmth=warmth)
    library = opened.library
    seen = serve_to_measure(opened, rally_key)
    if seen.footage_id is None or seen.media_us is None:
        raise InputError(
            f"This serve cannot be measured: {seen.why}. Set its time on the Footage page first."
        )
    read = _marks(library, opened.file(seen.footage_id), marks)
    at_us = min((round(mark.at_s * 1e6) for mark in read), default=seen.media_us)
    saved = camera_calibration.camera_at(library, seen.footage_id, at_us)
    if saved is None:
        raise InputError("The camera is not calibrated at that time. Calibrate it on the Camera page first.")
    if sound:
        read = _with_sound(opened, seen, read, saved.camera)
    box = seen.rally.box.value if seen.rally.server_known or seen.rally.box_known else None
    setting = setting_of(library, opened.info, warmth)
    others = _click_evidence(opened.match, rally_key)
    found = measure_serve(saved.camera, read, box, setting, others=others)
    value = _value(found, seen.footage_id, marks, any(mark.onset_s is not None for mark in read), warmth)
    path = serve_path(saved.camera, found.launch, found.row)
    return TrialMeasurement(found, value, path, saved.camera, saved.borrowed, value.heard)


def save_measurement(
    opened: OpenMatch,
    rally_key: str,
    marks: Sequence[MarkValue],
    *,
    sound: bool = True,
    warmth: str = "",
) -> AppendResult:
    """Measure a serve and keep it with the serve; what was measured before is replaced, and can come back."""
    trial = trial_measurement(opened, rally_key, marks, sound=sound, warmth=warmth)
    return _write(opened, rally_key, trial.value)


def kind_proposed(kinds: Sequence[KindOfServe], found: MeasuredServe) -> tuple[str | None, dict[str, int]]:
    """Return the kind a measured path looks like, if one is likely enough and in use here, and the odds
    of each.

    It is a proposal: nothing is recorded until somebody answers.
    """
    from goodlength.measure.serves.serve_kind_posterior import kind_votes, proposed_kind

    known = {serve.id for serve in kinds}
    odds = {kind: n for kind, n in kind_votes(found).items() if kind in known}
    return proposed_kind(odds), odds


def saved_measurement(opened: OpenMatch, rally_key: str) -> MeasuredValue:
    """Return what is kept of a serve.

    Raises
    ------
    NotFound
        Nothing is measured there.
    """
    value = serve_to_measure(opened, rally_key).rally.serve.measured
    if value is None:
        raise NotFound(
            "This serve has not been measured yet. Name a file of clicks with --marks.",
            page="This serve has not been measured yet. Measure it on the Footage page.",
        )
    return value


def remove_measurement(opened: OpenMatch, rally_key: str) -> AppendResult:
    """Take the measurement of a serve back; it stays in the log.

    Raises
    ------
    NotFound
        Nothing is measured there.
    """
    latest = _latest(opened, rally_key)
    if latest is None:
        raise NotFound("This serve has not been measured. Reload the page.")
    pen = _writer(opened)
    return record_answers(opened.library, opened.id, [pen.undo(latest)])


def _write(opened: OpenMatch, rally_key: str, value: MeasuredValue) -> AppendResult:
    latest = _latest(opened, rally_key)
    pen = _writer(opened)
    entry = pen.write(
        rally_key, EntryKind.MEASURED, as_json_object(value), None if latest is None else latest.id
    )
    return record_answers(opened.library, opened.id, [entry])


def _writer(opened: OpenMatch) -> EntryWriter:
    return EntryWriter(opened.id, f"{opened.info.observer.partition('/')[0]}/{TAB}", utc_now())


def _latest(opened: OpenMatch, rally_key: str) -> Entry | None:
    for fact in effective_answers(opened.entries, opened.info.observer).facts:
        if fact.key == rally_key:
            return fact.latest.get((EntryKind.MEASURED, 0))
    return None


def setting_of(library: Library, info: MatchInfo, warmth: str = "") -> PlayConditions:
    """Return ball, court and room of a match: the calibrated court where its name is known.

    A warmth said goes before that of the match; one that is no known word is one nobody is sure of.
    """
    from goodlength.ball import DOTS, UNSURE, WARMTH_C, Air, Ball, Court, PlayConditions

    dot = info.ball.strip().lower().replace(" ", "-")
    warmth_word = warmth or info.ball_warmth
    ball = Ball(dot if dot in DOTS else "double-yellow", warmth_word if warmth_word in WARMTH_C else UNSURE)
    tin = "tour" if info.tin_height_m < 0.455 else "standard"
    known = next(
        (court for court in courts(library) if court.name.lower() == info.court.strip().lower()), None
    )
    if known is not None:
        setting = known.setting(ball)
        return replace(setting, court=replace(setting.court, tin=tin))
    return PlayConditions(ball, Court(tin=tin), Air())


def _marks(library: Library, file: Footage, marks: Sequence[MarkValue]) -> list[ServeMark]:
    """Return marks as the measuring room wants them, each with the length of its picture."""
    from goodlength.measure.serves.serve_marks_and_strike_prior import MarkKind, ServeMark

    table = camera_calibration.original_table(library, file)
    read = []
    for mark in marks:
        at = table.index_at(mark.at_us)
        start, end = int(table.starts_us[at]), int(table.ends_us[at])
        frame_s = min(max((end - start) / 1e6, 0.0005), 0.5)
        what = MarkKind(mark.what)
        read.append(
            ServeMark(what, start / 1e6, mark.u, mark.v, frame_s, None, mark.about, mark.found, mark.again)
        )
    return read


def _with_sound(
    opened: OpenMatch, seen: ServeToMeasure, marks: list[ServeMark], camera: CameraCalibration
) -> list[ServeMark]:
    """Return the strike timed by the one hit heard there, if there is exactly one; else as it was."""
    from goodlength.court import CourtSurface
    from goodlength.footage.camera import CourtPoint as Seat
    from goodlength.measure.serves.serve_forward_model import SOUND_M_S
    from goodlength.measure.serves.serve_marks_and_strike_prior import MarkKind

    timeline = opened.timeline
    strike = next((mark for mark in marks if mark.what is MarkKind.STRIKE), None)
    if timeline is None or strike is None or seen.footage_id is None:
        return marks
    zero_us = timeline.match_time(seen.footage_id, seen.media_us or 0) - (seen.media_us or 0)
    hits = [us for rally in listed_rallies(opened).rallies for us in rally.hits_us]
    stood = camera.place(CourtSurface.FLOOR, strike.u, strike.v)
    where = (stood.x_m, stood.y_m, 1.2) if isinstance(stood, Seat) else (3.2, 6.0, 1.2)
    way_s = (
        sum((a - float(b)) ** 2 for a, b in zip(where, camera.lens.place_m, strict=True)) ** 0.5 / SOUND_M_S
    )
    due_s = strike.at_s + way_s
    within = strike.frame_s / 2.0 + ONSET_WITHIN_S
    near = [(us - zero_us) / 1e6 for us in hits if abs((us - zero_us) / 1e6 - due_s) <= within]
    if len(near) != 1:
        return marks
    return [replace(mark, onset_s=near[0]) if mark is strike else mark for mark in marks]


def _value(
    found: MeasuredServe, footage_id: str, marks: Sequence[MarkValue], onset_used: bool, warmth: str
) -> MeasuredValue:
    """Return the value of the entry, rounded to a tenth of a millimetre and a millisecond's tenth."""
    from goodlength.measure.serves.serve_measurement import LEVEL

    def three(interval: Interval) -> Measured:
        return round(interval.middle, 4), round(interval.low, 4), round(interval.high, 4)

    def seldom(interval: Interval | None) -> Measured | None:
        return None if interval is None else three(interval)

    across, along, up = (three(interval) for interval in found.struck_m)
    value = MeasuredValue(
        footage=footage_id,
        marks=tuple(_rounded(mark) for mark in marks),
        struck_us=round(found.struck_at_s * 1e6),
        level=LEVEL,
        speed_m_s=three(found.speed_m_s),
        up_deg=three(found.up_deg),
        front_x_m=three(found.front_x_m),
        front_z_m=three(found.front_z_m),
        to_front_s=three(found.to_front_s),
        side_y_m=seldom(found.side_y_m),
        side_z_m=seldom(found.side_z_m),
        bounce_x_m=seldom(found.bounce_x_m),
        bounce_y_m=seldom(found.bounce_y_m),
        second_x_m=seldom(found.second_x_m),
        second_y_m=seldom(found.second_y_m),
        room_m=seldom(found.room_m),
        struck_m=(across, along, up),
        side=found.side,
        good_of_100=found.of_100.get("good"),
        side_first_of_100=found.of_100["side_wall_first"],
        dies_of_100=found.of_100["dies"],
        heard=onset_used,
        click_evidence=found.click_evidence,
    )
    return value.model_copy(update={"warmth": warmth}) if warmth else value


def _click_evidence(match: Match, but: str) -> list[ClickEvidence]:
    """Return what the other measured serves of a match tell of how exactly its coach clicks."""
    return [
        value.click_evidence
        for rally, value in measured_of(match)
        if rally.key != but and value.click_evidence is not None
    ]


def _rounded(mark: MarkValue) -> MarkValue:
    """Return the mark as it is kept: to a hundredth of a pixel; who found it is not kept."""
    rounded = MarkValue(
        what=mark.what, at_us=mark.at_us, u=round(mark.u, 2), v=round(mark.v, 2), about=mark.about
    )
    if mark.again is None:
        return rounded
    u, v = mark.again
    return MarkValue.model_validate({**as_json_object(rounded), "again": (round(u, 2), round(v, 2))})


def measured_of(match: Match) -> list[tuple[Rally, MeasuredValue]]:
    """Return the serves of a match that were measured, in the order played."""
    return [(rally, rally.serve.measured) for rally in match.rallies if rally.serve.measured is not None]
