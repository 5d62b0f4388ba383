"""Forms of footage: a file by its path, its place in the match, its tracks, splitting a match, who is who."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Annotated, Literal, NamedTuple

from pydantic import AfterValidator, BeforeValidator, Field

from goodlength.files.tilde_path_expansion import with_home
from goodlength.web.submitted_forms.form_field_parsing import MATCH_TIME_US, FilePath, parsed, time_typed_us
from goodlength.web.submitted_forms.form_reading_and_faults import HtmlForm

STARTS = "starts-"


def _rate_hz(text: str) -> float:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        raise ValueError(f"{text!r} is not a frame rate. Enter frames per second, such as 30.") from None


class TrackChoice(NamedTuple):
    """A picture or sound track of a file, by its number."""

    kind: Literal["picture", "sound"]
    number: int


def _track(text: str) -> TrackChoice:
    kind, _, number = text.partition("-")
    if kind not in ("picture", "sound") or not number.isdigit():
        raise ValueError("Choose a video or sound track of the file.")
    return TrackChoice("picture" if kind == "picture" else "sound", int(number))


def _complete(path: str) -> str:
    if not with_home(path).is_absolute():
        raise ValueError(
            f"The path {path!r} is not complete. Give the full path of the file, for example "
            "/videos/match.mp4."
        )
    return path


class FootageForm(HtmlForm):
    """A file by its path; a bare stream of pictures comes with its frame rate."""

    path: Annotated[FilePath, AfterValidator(_complete)] = Field("", validate_default=True)
    rate: Annotated[float | None, parsed(_rate_hz)] = None


def _start_us(text: str) -> int | None:
    return time_typed_us(text.strip()) if text.strip() else None


class PlaceForm(HtmlForm):
    """When files begin in the match, by the id of each; None right after the one before it."""

    starts: dict[str, Annotated[int | None, BeforeValidator(_start_us)]]

    @classmethod
    def gather(cls, texts: Mapping[str, str], _lists: Mapping[str, Sequence[str]], /) -> dict[str, object]:
        """Collect the fields `starts-ID`."""
        typed = {name: text for name, text in texts.items() if name.startswith(STARTS)}
        return {"starts": {name.removeprefix(STARTS): text for name, text in typed.items()}}


class TrackForm(HtmlForm):
    """Another picture or sound of a file to be used."""

    track: Annotated[TrackChoice, BeforeValidator(_track)] = Field("", validate_default=True)


class SplitForm(HtmlForm):
    """When the second match of a recording begins."""

    at: Annotated[int | None, MATCH_TIME_US] = None


class WhoIsWhoForm(HtmlForm):
    """Which player the first one followed is; "" decides it from the serves, None asks for following."""

    first_is: str | None = None
