"""A followed rally made by hand: a serve with two paths, a return without any; for drawing and correcting."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from itertools import pairwise
from typing import Any

from goodlength.measure.shots.followed_ball_types import (
    ContactKind,
    FollowedMatch,
    FollowedRally,
    FollowedShot,
    PathContact,
    PathSample,
    PathServe,
    PathSources,
    ShotPath,
)
from goodlength.record.entry_value_types import MarkValue, MeasuredValue
from goodlength.scoring import Side
from goodlength.tasks.ball.ball_following_job import RallyInputs

SECOND = 1_000_000
SOURCES = PathSources("c", "p", "s", "b")
SPHERE = ((0.0004, 0.0, 0.0), (0.0, 0.0004, 0.0), (0.0, 0.0, 0.0004))  # 2 cm each way


def made_path(struck_us: int, chance: float, *, over_left_wall: bool = False) -> ShotPath:
    """A straight flight from the right box to the front wall and to the floor, or one over the left wall."""
    wall = (0.02, 6.0, 1.0) if over_left_wall else (1.5, 0.02, 2.5)
    contacts = (
        PathContact(ContactKind.RACKET, struck_us, (5.5, 6.5, 1.2), None, True),
        PathContact(
            ContactKind.LEFT if over_left_wall else ContactKind.FRONT, struck_us + 300_000, wall, SPHERE
        ),
        PathContact(ContactKind.FLOOR, struck_us + 900_000, (1.2, 7.5, 0.02), SPHERE),
    )
    samples = []
    for a, b in pairwise(contacts):
        for n in range(10):
            share = n / 10
            place = tuple(p + share * (q - p) for p, q in zip(a.place_m, b.place_m, strict=True))
            samples.append(PathSample(round(a.time_us + share * (b.time_us - a.time_us)), place, n % 5 != 0))
    return ShotPath(chance, struck_us, 40.0, contacts, tuple(samples))


def made_serve() -> PathServe:
    """144 km/h, 2.5 m up the front wall; ranges made up."""
    value = MeasuredValue(
        footage="f1",
        marks=(MarkValue(what="ball", at_us=2_100_000, u=5.0, v=5.0, found=True),),
        struck_us=2_000_000,
        level=0.9,
        speed_m_s=(40.0, 39.0, 41.0),
        up_deg=(8.0, 7.0, 9.0),
        struck_m=((5.5, 5.4, 5.6), (6.5, 6.4, 6.6), (1.2, 1.1, 1.3)),
        front_x_m=(1.5, 1.4, 1.6),
        front_z_m=(2.5, 2.4, 2.6),
        to_front_s=(0.3, 0.29, 0.31),
        bounce_x_m=(1.2, 1.1, 1.3),
        bounce_y_m=(7.5, 7.4, 7.6),
    )
    return PathServe(0.93, value, (1.31, 1.25, 1.37), (0.42, 0.35, 0.5))


def made_rally(key: str = "h:m1", footage: str = "f1", begin_us: int = 0) -> FollowedRally:
    """Two shots at 2.0 and 3.2 s after the begin; a sound of nobody at 2.6 s."""
    first, second = begin_us + 2 * SECOND, begin_us + 3_200_000
    paths = (made_path(first, 0.93), made_path(first, 0.04, over_left_wall=True))
    return FollowedRally(
        key,
        footage,
        begin_us + SECOND,
        begin_us + 9 * SECOND,
        (
            FollowedShot(
                1, first, second, Side.A, 0, 0.99, paths, True, ((first + 100_000, first + 250_000),)
            ),
            FollowedShot(2, second, second + SECOND, Side.B, 1, 0.8, (), False, reason="The ball was lost."),
        ),
        ("No sound was searched: strikes come from the picture alone.",),
        unused_us=(begin_us + 2_600_000,),
        rests_on=SOURCES,
        serve=made_serve(),
    )


def unchanged_inputs(rallies: Iterable[FollowedRally], sources: PathSources = SOURCES) -> Any:
    """Stands in for `ball_following_inputs.inputs_now`: rallies would be followed with what they were followed with."""

    def inputs_now(_opened: object, keys: Collection[str]) -> dict[str, tuple[RallyInputs, PathSources]]:
        return {
            rally.key: (
                RallyInputs(
                    rally.key,
                    rally.footage,
                    {"from_us": rally.from_us, "until_us": rally.until_us},
                    {},
                    None,
                    [],
                    "",
                    ("a", "b"),
                ),
                sources,
            )
            for rally in rallies
            if rally.key in keys
        }

    return inputs_now


def made_match(match: str, *rallies: FollowedRally) -> FollowedMatch:
    """A match in which these rallies were followed."""
    return FollowedMatch(match, "made", len(rallies), rallies)
