"""Settings of a generated film: what stands, who is there, how it is filmed and how it is coded."""

from __future__ import annotations

from dataclasses import asdict, dataclass, fields

import numpy as np

from goodlength.errors import OutOfRange

Range = tuple[float, float]
CODECS = ("libx264", "libx265")
WALLS = ("plaster", "panels", "glass")
PLACES = ("behind glass", "balcony", "on the back wall")


@dataclass(frozen=True)
class FilmSettings:
    """Conditions of one film.

    `mirror_share` is the share of light the floor mirrors (0 to 0.2), `field_deg` the lens's field over the
    longer side, `corner_loss` its barrel distortion there, `flicker` the swing of the lamps' light, `noise`
    the standard deviation in levels of 255 at mid grey, `nudges` how often the camera is knocked.
    """

    floor: float
    mirror_share: float
    mirror_blur: float
    walls: str
    place: str
    clothes: str
    adverts: bool
    door: bool
    marks: float
    ball: str
    lamps: int
    flicker: float
    portrait: bool
    field_deg: float
    corner_loss: float
    spectators: int
    crossing: bool
    nudges: int
    frames_per_second: float
    exposure_s: float
    readout_s: float
    noise: float
    codec: str
    megabits_s: float
    messenger: bool

    def as_conditions(self) -> dict[str, str | float]:
        """Return every setting by name, for tables."""
        return {k: v if isinstance(v, str) else float(v) for k, v in asdict(self).items()}


@dataclass(frozen=True)
class SettingRanges:
    """What a family draws from: lowest and highest of each number, chances, and names to choose from."""

    floor: Range
    mirror_share: Range
    mirror_blur: Range
    walls: tuple[str, ...]
    places: tuple[str, ...]
    both_white: float
    adverts: float
    marks: Range
    white_ball: float
    lamps: tuple[int, int]
    flicker: Range
    portrait: float
    field_deg: Range
    corner_loss: Range
    spectators: tuple[int, int]
    crossing: float
    nudged: float
    frames_per_second: tuple[float, ...]
    shutters: tuple[float, ...]
    readout_s: Range
    noise: Range
    messenger: float


def draw_settings(rng: np.random.Generator, ranges: SettingRanges, **wanted: object) -> FilmSettings:
    """Return settings; those given by name replace what was drawn.

    Raises
    ------
    OutOfRange
        If there is no setting of a name.
    """
    fps = float(rng.choice(ranges.frames_per_second))
    shutter = max(float(rng.choice(ranges.shutters)), fps)
    values: dict[str, object] = {
        "floor": float(rng.uniform(*ranges.floor)),
        "mirror_share": float(rng.uniform(*ranges.mirror_share)) * float(rng.random() < 0.75),
        "mirror_blur": float(rng.uniform(*ranges.mirror_blur)),
        "walls": str(rng.choice(ranges.walls)),
        "place": str(rng.choice(ranges.places)),
        "clothes": "both white" if rng.random() < ranges.both_white else "any",
        "adverts": bool(rng.random() < ranges.adverts),
        "door": bool(rng.random() < 0.6),
        "marks": float(rng.uniform(*ranges.marks)),
        "ball": "white" if rng.random() < ranges.white_ball else "black",
        "lamps": int(rng.integers(ranges.lamps[0], ranges.lamps[1] + 1)),
        "flicker": float(rng.uniform(*ranges.flicker)) * float(rng.random() < 0.5),
        "portrait": bool(rng.random() < ranges.portrait),
        "field_deg": float(rng.uniform(*ranges.field_deg)),
        "corner_loss": float(rng.uniform(*ranges.corner_loss)),
        "spectators": int(rng.integers(ranges.spectators[0], ranges.spectators[1] + 1)),
        "crossing": bool(rng.random() < ranges.crossing),
        "nudges": int(rng.random() < ranges.nudged),
        "frames_per_second": fps,
        "exposure_s": 1 / shutter,
        "readout_s": float(rng.uniform(*ranges.readout_s)),
        "noise": float(rng.uniform(*ranges.noise)),
        "codec": str(rng.choice(CODECS)),
        "megabits_s": float(np.exp(rng.uniform(np.log(2), np.log(20)))),
        "messenger": bool(rng.random() < ranges.messenger),
    }
    names = {field.name for field in fields(FilmSettings)}
    for name in wanted:
        if name not in names:
            raise OutOfRange(f"A film has no setting {name!r}. Settings are {', '.join(sorted(names))}.")
    return FilmSettings(**{**values, **wanted})  # type: ignore[arg-type]
