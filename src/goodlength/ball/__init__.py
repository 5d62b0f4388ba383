"""ball: how a squash ball flies and bounces. Air, drag, spin, bounce; one serve or many thousands; ways back.

It never knows players, scores or pictures. Place, velocity and spin are those of the ball's centre, SI, in
the court frame. Public: `Air`, `Ball`, `Court`, `PlayConditions`, `Coefficients`, `Receiver`, `fly`, `serve`,
`fly_contacts`, `fly_summaries`, `aim_at_spots`, `legal`, `draw`, `launches_through`, `warm`.
"""

from goodlength.ball.flight.batch_flight_simulation import (
    Contacts,
    Summaries,
    aim_at_spots,
    cores,
    fly_contacts,
    fly_summaries,
    free_path,
    warm,
)
from goodlength.ball.flight.batch_serve_legality import legal
from goodlength.ball.flight.inverse_launch_solver import FlightConstraints, Way, Ways, launches_through
from goodlength.ball.flight.receiver_position_and_reach import Receiver
from goodlength.ball.flight.single_flight_simulation import (
    BallFlight,
    Passing,
    ServeFlight,
    Touch,
    fly,
    serve,
)
from goodlength.ball.model.air_density_and_viscosity import Air
from goodlength.ball.model.ball_court_air_coefficients import Coefficients, PerSurface, e7_at
from goodlength.ball.model.ball_court_room_conditions import (
    DOTS,
    UNSURE,
    WARMTH_C,
    WARMTH_WORDS,
    Ball,
    Court,
    PlayConditions,
)
from goodlength.ball.model.coefficient_sampling import Draws, draw

__all__ = [
    "DOTS",
    "UNSURE",
    "WARMTH_C",
    "WARMTH_WORDS",
    "Air",
    "Ball",
    "BallFlight",
    "Coefficients",
    "Contacts",
    "Court",
    "Draws",
    "FlightConstraints",
    "Passing",
    "PerSurface",
    "PlayConditions",
    "Receiver",
    "ServeFlight",
    "Summaries",
    "Touch",
    "Way",
    "Ways",
    "aim_at_spots",
    "cores",
    "draw",
    "e7_at",
    "fly",
    "fly_contacts",
    "fly_summaries",
    "free_path",
    "launches_through",
    "legal",
    "serve",
    "warm",
]
