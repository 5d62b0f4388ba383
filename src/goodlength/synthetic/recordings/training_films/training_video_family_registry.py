"""The training families of films by name."""

from __future__ import annotations

import numpy as np

from goodlength.synthetic.recordings.recording_types import WorldContact, WorldSpan
from goodlength.synthetic.recordings.training_films.layered import layered_frame_renderer
from goodlength.synthetic.recordings.training_films.rasterised import rasterised_frame_renderer
from goodlength.synthetic.recordings.training_films.training_video_generator import (
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
    rasterised_frame_renderer.FAMILY: FilmFamily(
        rasterised_frame_renderer.FAMILY,
        rasterised_frame_renderer.RANGES,
        play_flights,
        rasterised_frame_renderer.RasterRenderer,
    ),
    layered_frame_renderer.FAMILY: FilmFamily(
        layered_frame_renderer.FAMILY,
        layered_frame_renderer.RANGES,
        play_sessions,
        layered_frame_renderer.LayeredRenderer,
    ),
}
