"""The training families of films by name."""

from __future__ import annotations

import numpy as np

from goodlength.synthetic.recordings.recording_types import WorldContact, WorldSpan
from goodlength.synthetic.recordings.training_films.layered import layered_family
from goodlength.synthetic.recordings.training_films.rasterised import raster_family
from goodlength.synthetic.recordings.training_films.training_film_recording import (
    FilmFamily,
    Played,
    from_first_rally,
)
from goodlength.synthetic.recordings.training_flights.simulated_flight_play import FlightSession
from goodlength.synthetic.recordings.training_random_session_play import RandomSession


def play_flights(rng: np.random.Generator, seconds: float) -> Played:
    """Return a match of flights, moved so that it begins shortly before a serve."""
    session = FlightSession(rng, seconds + 40, "match").play()
    contacts = [WorldContact(k.time_s, k.surface, k.striker) for k in session.knocks]
    spans: list[WorldSpan] = session.spans
    return from_first_rally(contacts, spans, float(rng.uniform(0.8, 2.0)))


def play_sessions(rng: np.random.Generator, seconds: float) -> Played:
    """Return a match from random processes, moved so that it begins shortly before a serve."""
    session = RandomSession(rng, seconds + 40, "match").play()
    contacts = [WorldContact(k.time_s, k.surface, k.striker) for k in session.knocks]
    return from_first_rally(contacts, session.spans, float(rng.uniform(0.5, 1.8)))


TRAINING_FILM_FAMILIES = {
    raster_family.FAMILY: FilmFamily(
        raster_family.FAMILY, raster_family.RANGES, play_flights, raster_family.RasterRenderer
    ),
    layered_family.FAMILY: FilmFamily(
        layered_family.FAMILY, layered_family.RANGES, play_sessions, layered_family.LayeredRenderer
    ),
}
