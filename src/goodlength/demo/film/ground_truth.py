"""Write the ground truth of the demo video: camera, hits, spans, positions of players and ball.

docs/reference/demo.md explains each name.
"""

from __future__ import annotations

import numpy as np

from goodlength.demo.film.audio_synthesis import RATE, SOUND_M_S, arrival_time_s
from goodlength.demo.film.frame_compositing import SHUTTER_S, SMALLEST_BALL_PX
from goodlength.demo.film.frame_sequence import FRAMES_A_S
from goodlength.demo.film.game_timeline import DEAD_S, Filmed, FilmedContact
from goodlength.demo.play.court_camera import RADIUS_M, PinholeCamera
from goodlength.demo.play.player_walking import places
from goodlength.demo.play.rally_simulation import PlayedRally
from goodlength.files.json_types import Json
from goodlength.scoring.scoring_types import Side

FORM = "goodlength-demo-truth/1"
PLAYERS_EVERY = 5  # frames
INVENTED = (
    "Everything: players, play, pictures and sound were made by code. The ball flies with drag and bounces "
    "with assumed coefficients; the players move between the places where they strike; no one was filmed."
)


def truth_of(filmed: Filmed, camera: PinholeCamera, match_id: str) -> dict[str, Json]:
    """Return the truth of a filmed game as plain JSON values.

    Parameters
    ----------
    filmed : Filmed
    camera : Camera
        What it was filmed with.
    match_id : str
        The match whose record belongs to it.
    """
    frames = int(filmed.length_s * FRAMES_A_S)
    return {
        "form": FORM,
        "match": match_id,
        "invented": INVENTED,
        "frames": frames,
        "frames_per_s": FRAMES_A_S,
        "samples_per_s": RATE,
        "length_s": frames / FRAMES_A_S,
        "dead_time_s": {"from": DEAD_S[0], "to": DEAD_S[1], "why": "cut short so that the film is short"},
        "camera": _camera(camera),
        "ball": {
            "radius_m": RADIUS_M,
            "drawn_radius_px_at_least": SMALLEST_BALL_PX,
            "shutter_s": SHUTTER_S,
            "sound_m_s": SOUND_M_S,
        },
        "rallies": [_rally(n, rally) for n, rally in enumerate(filmed.rallies, start=1)],
        "hits": [_hit(hit, camera) for hit in filmed.hits],
        "players": _players(filmed, frames),
        "ball_at": [_ball(filmed, n) for n in range(frames)],
    }


def _camera(camera: PinholeCamera) -> dict[str, Json]:
    """Position, matrix and picture of the camera; the microphone stands at the same place."""
    return {
        "x_m": camera.x_m,
        "y_m": camera.y_m,
        "z_m": camera.z_m,
        "tilt_rad": camera.tilt_rad,
        "focal_px": camera.focal_px,
        "width": camera.width,
        "height": camera.height,
        "principal_u": camera.width / 2,
        "principal_v": camera.height / 2,
        "distortion": 0.0,
        "rotation": camera.rotation.tolist(),
        "matrix": camera.matrix.tolist(),
    }


def _rally(n: int, rally: PlayedRally) -> dict[str, Json]:
    """Return one rally: its span and what the record says of it."""
    plan = rally.plan
    return {
        "n": n,
        "game": plan.game,
        "start_s": _s(rally.start_s),
        "end_s": _s(rally.end_s),
        "end_how": rally.end_how,
        "server": plan.server.value,
        "box": plan.box.value,
        "winner": None if plan.winner is None else plan.winner.value,
        "let": plan.let,
        "serve_kind": plan.kind,
        "return_how": None if plan.how is None else plan.how.value,
        "return_left": None if plan.left is None else plan.left.value,
        "ending": plan.ending.value,
        "shots": len(rally.strikes),
        "launches_m_s": [[round(v, 4) for v in s.path.knots[0][4:7]] for s in rally.strikes],
    }


def _s(seconds: float) -> float:
    return round(seconds, 6)


def _hit(hit: FilmedContact, camera: PinholeCamera) -> dict[str, Json]:
    """Return one touch of the ball, when it happened and when its sound came to the microphone."""
    return {
        "time_s": _s(hit.time_s),
        "heard_s": _s(arrival_time_s(hit, camera)),
        "kind": hit.kind,
        "by": None if hit.by is None else hit.by.value,
        "rally": hit.rally,
        "shot": hit.shot,
        "x": round(hit.at[0], 4),
        "y": round(hit.at[1], 4),
        "z": round(hit.at[2], 4),
        "speed_m_s": round(hit.speed_m_s, 3),
    }


def _players(filmed: Filmed, frames: int) -> dict[str, Json]:
    """Floor places of both players at every fifth frame, metres to the centimetre."""
    times = np.arange(frames) / FRAMES_A_S
    strikes = {
        side: tuple(s.time_s for r in filmed.rallies for s in r.strikes if s.by is side) for side in Side
    }
    at = places(filmed.walks, strikes, times)
    return {
        "every_frames": PLAYERS_EVERY,
        **{
            side.value: [[round(float(x), 2), round(float(y), 2)] for x, y in at[side][::PLAYERS_EVERY]]
            for side in Side
        },
    }


def _ball(filmed: Filmed, n: int) -> list[float] | None:
    """Centre of the ball in frame n, or None while it is in a hand."""
    at = filmed.ball(n / FRAMES_A_S)
    return None if at is None else [round(c, 3) for c in at]
