"""Statistics of a player's measured serves by kind and box over all matches: speed, height, landing."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import median
from typing import TYPE_CHECKING

from goodlength.tasks.ball.player_measured_serves import MeasuredPlace, measured_by_kind

if TYPE_CHECKING:
    from goodlength.tasks.match.lazy_player_matches import OpenMatches

KM_H = 3.6


@dataclass(frozen=True)
class KindMeasured:
    """Measured serves of one kind ("" where none is recorded) from one box ("right", "left").

    `speed_m_s` is the median; `off_m_s` the median error of one measurement, one standard deviation. Places
    are metres: (across, up) on the front wall, (across, from the front wall) of the first bounce on the
    floor, where it bounced or would have, had nobody taken it. `places` are the serves one by one, each with
    its own error and what measured it: clicks, or the path that was followed.
    """

    kind: str
    box: str
    serves: int
    matches: int
    speed_m_s: float
    slowest_m_s: float
    fastest_m_s: float
    off_m_s: float
    fronts: tuple[tuple[float, float], ...]
    bounces: tuple[tuple[float, float], ...]
    places: tuple[MeasuredPlace, ...] = ()

    @property
    def from_paths(self) -> int:
        """How many of them were measured from their paths."""
        return sum(place.by == "path" for place in self.places)


def measured_kinds(matches: OpenMatches) -> tuple[KindMeasured, ...]:
    """Return every kind and box of which a player's serves were measured, the most measured first.

    Raises
    ------
    NotFound
        There is no such player.
    """
    matches.library.player(matches.player_id)
    found = []
    for (kind, box), group in measured_by_kind(matches).items():
        speeds = [measured_place.speed_m_s for measured_place in group]
        found.append(
            KindMeasured(
                kind,
                box,
                len(group),
                len({measured_place.match for measured_place in group}),
                median(speeds),
                min(speeds),
                max(speeds),
                median(measured_place.errors[2] for measured_place in group),
                tuple((measured_place.across_m, measured_place.up_m) for measured_place in group),
                tuple(
                    measured_place.bounce_m for measured_place in group if measured_place.bounce_m is not None
                ),
                group,
            )
        )
    return tuple(sorted(found, key=lambda kind_statistics: -kind_statistics.serves))


def kind_line(kind_statistics: KindMeasured, words: dict[str, str]) -> str:
    """Return one kind in a sentence.

    Examples
    --------
    >>> kind_line(KindMeasured("lob", "right", 2, 1, 15.0, 14.0, 16.0, 0.5, (), ()), {"lob": "Lob"})
    'Lob from the right box: 54 km/h, from 50 to 58 (each to within about 2 km/h). 2 serves, 1 match.'
    """
    name = words.get(kind_statistics.kind, kind_statistics.kind) or "Kind not logged"
    middle, slow, fast, off = (
        KM_H * v
        for v in (
            kind_statistics.speed_m_s,
            kind_statistics.slowest_m_s,
            kind_statistics.fastest_m_s,
            kind_statistics.off_m_s,
        )
    )
    apart = f"{slow:.0f}" != f"{fast:.0f}"
    spread = f", from {slow:.0f} to {fast:.0f}" if kind_statistics.serves > 1 and apart else ""
    serves = "1 serve" if kind_statistics.serves == 1 else f"{kind_statistics.serves} serves"
    matches = "1 match" if kind_statistics.matches == 1 else f"{kind_statistics.matches} matches"
    by = ""
    if kind_statistics.from_paths:
        clicked = kind_statistics.serves - kind_statistics.from_paths
        by = f" Measured by clicks: {clicked}, from the path: {kind_statistics.from_paths}."
        by = by if clicked else " Measured from the path."
    return (
        f"{name} from the {kind_statistics.box} box: {middle:.0f} km/h{spread} (each to within about "
        f"{off:.0f} km/h). {serves}, {matches}.{by}"
    )
