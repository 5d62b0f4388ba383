"""A whole invented match on film, with its truth: the demo's players and court, other draws."""

from __future__ import annotations

import random
from dataclasses import dataclass
from pathlib import Path

from goodlength.demo.film.frame_sequence import CLOTHES
from goodlength.demo.film.game_timeline import Filmed, film_game
from goodlength.demo.film.video_writer import write_film
from goodlength.demo.match.demo_players_and_matches import Habits, random_match
from goodlength.demo.match.scripted_rally_table_reader import RallyPlan
from goodlength.demo.play.court_camera import CAMERA
from goodlength.errors import GoodlengthError
from goodlength.scoring.scoring_types import Box, Side, Start

EVEN = 0.5
MOST_DRAWS = 400
FIRST = Start(server=Side.A, box=Box.RIGHT)
KINDS = ("lob", "mid-height", "hard", "body-feet", "body-nick")


@dataclass(frozen=True)
class FilmedMatch:
    """A match as planned and as it lies on film; `seed` is the draw that could be played out."""

    seed: int
    plans: tuple[RallyPlan, ...]
    filmed: Filmed

    def rally_at(self, start_us: float, end_us: float) -> int | None:
        """Return which true rally fills half of the union with a span, by index; None where none does."""
        for n, rally in enumerate(self.filmed.rallies):
            both = min(end_us / 1e6, rally.end_s) - max(start_us / 1e6, rally.start_s)
            union = max(end_us / 1e6, rally.end_s) - min(start_us / 1e6, rally.start_s)
            if both >= union / 2:
                return n
        return None

    def rally_in(self, start_us: float, end_us: float) -> int | None:
        """Return which true rally a span is of, by index: it fills it, or lies in it by over half of itself.

        So is a rally named of which only the serve was detected, or a part.
        """
        whole = self.rally_at(start_us, end_us)
        if whole is not None:
            return whole
        for n, rally in enumerate(self.filmed.rallies):
            both = min(end_us / 1e6, rally.end_s) - max(start_us / 1e6, rally.start_s)
            if both > (end_us - start_us) / 2e6:
                return n
        return None

    def rallies_within(self, start_us: float, end_us: float) -> list[int]:
        """Return the true rallies that lie within a span by over half of themselves, by index."""
        return [
            n
            for n, rally in enumerate(self.filmed.rallies)
            if min(end_us / 1e6, rally.end_s) - max(start_us / 1e6, rally.start_s)
            > (rally.end_s - rally.start_s) / 2
        ]

    def side_in(self, colour: str) -> Side:
        """Return who wears a shirt of about this colour, "#rrggbb"."""
        red, green, blue = (int(colour[at : at + 2], 16) for at in (1, 3, 5))
        away = {
            side: sum((a - b) ** 2 for a, b in zip(clothes.shirt, (blue, green, red), strict=True))
            for side, clothes in CLOTHES.items()
        }
        return min(away, key=lambda side: away[side])


def habits_of(rng: random.Random) -> Habits:
    """Return how a player serves, drawn; which returns it leaves weak does not matter here."""
    mix = {kind: rng.uniform(0.1, 1.0) for kind in KINDS}
    weak = {kind: dict.fromkeys(Box, rng.uniform(0.2, 0.5)) for kind in KINDS}
    return Habits(mix, weak, rng.uniform(0.0, 0.3))


def filmed_match(seed: int, rallies: tuple[int, int] = (70, 95), games: int | None = None) -> FilmedMatch:
    """Return a match of so many rallies; draws that cannot be played out are passed over.

    Parameters
    ----------
    seed : int
        The first draw tried.
    rallies : (least, most)
        How many rallies may be filmed.
    games : int, optional
        Film the first games only; left out, the whole match.

    Raises
    ------
    GoodlengthError
        No draw could be played out.
    """
    for draw in range(seed, seed + MOST_DRAWS):
        rng = random.Random(draw)
        plans = random_match(FIRST, {side: habits_of(rng) for side in Side}, EVEN, rng)
        plans = tuple(plan for plan in plans if games is None or plan.game <= games)
        if not rallies[0] <= len(plans) <= rallies[1]:
            continue
        try:
            return FilmedMatch(draw, plans, film_game(plans, seed=draw))
        except GoodlengthError:
            continue
    raise GoodlengthError(f"No match of {rallies[0]} to {rallies[1]} rallies came from state {seed}.")


def write_match_film(match: FilmedMatch, to: Path) -> None:
    """Write the film of a match."""
    write_film(match.filmed, CAMERA, to, match.seed)
