"""What is read off the demo's film: rallies, court, both players, the ball, and measured serves."""

from __future__ import annotations

import itertools
import random
import shutil
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from goodlength import tasks
from goodlength.demo.coaching.precomputed_video_results import (
    BALL,
    DATA,
    shipped_court,
    shipped_paths,
    shipped_tracks,
)
from goodlength.demo.film.frame_sequence import FRAMES_A_S
from goodlength.demo.film.game_timeline import Filmed, FilmedContact
from goodlength.demo.match.demo_players_and_matches import MATCH
from goodlength.demo.play.court_camera import CAMERA, HALF_M
from goodlength.files import library_layout
from goodlength.files.json_types import Json
from goodlength.files.locked_json_file import JsonFile
from goodlength.jobs.progress_callback import Progress
from goodlength.measure.shots.followed_ball_storage import write_followed
from goodlength.record.entry_value_types import MarkValue
from goodlength.record.model import Rally
from goodlength.record.store import Library
from goodlength.scoring.scoring_types import Side
from goodlength.tasks.ball.ball_following_inputs import inputs_now
from goodlength.tasks.footage.camera_calibration import approve_court
from goodlength.tasks.footage.player_tracking import name_players, rally_spans, tracked_match
from goodlength.tasks.footage.rally_detection import ListedRally
from goodlength.tasks.footage.serve_measurement import save_measurement

CLICK_PX = 0.7  # invented: how far a steady hand's click falls from the ball
CLICK_SEED = 5
SCORE = "11-8"  # of the filmed game, which a coach knows
MEASURED_KINDS = ("lob", "hard")  # of the coached player: enough of a kind for a scatter of her own


def read_film(library: Library, match_id: str, footage_id: str, progress: Progress) -> None:
    """Detect the rallies, save the court, and put both players' paths beside them.

    Raises
    ------
    FootageError, InputError
        As detecting rallies and saving a camera.
    """
    opened = tasks.open_match(library, match_id)
    tasks.detect_match_rallies(opened, progress)
    proposal = library_layout.court_proposal_file(library.folder, footage_id)
    proposal.parent.mkdir(parents=True, exist_ok=True)
    fingerprint = library.footage_file(footage_id).sha256 or ""
    JsonFile(proposal).write({**shipped_court(), "sha256": fingerprint})
    approve_court(library, footage_id)
    opened = tasks.open_match(library, match_id)
    spans = [(key, *_span(rally, found)) for key, rally, found in rally_spans(opened)]
    paths = library_layout.track_files(library.folder, match_id)[0]
    paths.parent.mkdir(parents=True, exist_ok=True)
    JsonFile(paths).write(shipped_tracks(match_id, footage_id, spans))


def _span(rally: Rally | None, found: ListedRally | None) -> tuple[int, int]:
    """Return start and end of a rally as logged, else as detected, microseconds."""
    if rally is not None and rally.start_us is not None and rally.end_us is not None:
        return rally.start_us, rally.end_us
    return (0, 0) if found is None else (found.start_us, found.end_us)


def prepare_draft(library: Library, match_id: str) -> None:
    """Bring a match without a logged rally as far as its draft."""
    _name_first_player(library, match_id)
    tasks.draft_match(tasks.open_match(library, match_id), SCORE)


def _name_first_player(library: Library, match_id: str) -> None:
    """Say which of the two tracked players is which, as the coach of a match without a logged serve does."""
    logged = tracked_match(tasks.open_match(library, MATCH)).rallies[0].track.paths
    for side in Side:
        named = name_players(tasks.open_match(library, match_id), side.value)
        if np.array_equal(named.rallies[0].track.paths.xy, logged.xy, equal_nan=True):
            return


def copy_sound(library: Library, from_id: str, to_id: str) -> None:
    """Give one file of the library what was heard and seen to move in another that shows the same."""
    for file_of in (library_layout.sound_file, library_layout.motion_file):
        source = file_of(library.folder, from_id)
        if source.is_file():
            shutil.copyfile(source, file_of(library.folder, to_id))


def add_ball(library: Library) -> None:
    """Put the places of the ball in each frame beside the filmed game."""
    to = library_layout.ball_file(library.folder, MATCH)
    to.parent.mkdir(parents=True, exist_ok=True)
    shutil.copyfile(DATA / BALL, to)


def add_paths(library: Library) -> None:
    """Put the ball's path through each rally beside the filmed game.

    Sounds are detected anew where the demo is built, and may differ by rounding from those that the paths
    were found with. So each path is said to rest on court, players, sounds and ball as they are here; not on
    today's method, which would hide that the paths are an earlier one's.
    """
    paths = shipped_paths()
    now = inputs_now(tasks.open_match(library, MATCH), {rally.key for rally in paths.rallies})
    rallies = []
    for rally in paths.rallies:
        if rally.key in now and rally.rests_on is not None:
            sources = replace(now[rally.key][1], method=rally.rests_on.method)
            rallies.append(replace(rally, rests_on=sources))
    to = library_layout.followed_ball_file(library.folder, MATCH)
    write_followed(to, replace(paths, rallies=tuple(rallies)))


def measure_serves(library: Library, filmed: Filmed) -> int:
    """Click on the serves of the coached player as a coach would, measure them, and save them.

    Returns
    -------
    int
        How many were measured.
    """
    rng = random.Random(CLICK_SEED)
    count = 0
    for n, rally in enumerate(tasks.open_match(library, MATCH).match.rallies[: len(filmed.rallies)], 1):
        plan = filmed.rallies[n - 1].plan
        marks = tuple(serve_clicks(filmed, n, rng))
        if plan.server is Side.A and plan.kind in MEASURED_KINDS and plan.how is not None:
            save_measurement(tasks.open_match(library, MATCH), rally.key, marks)
            count += 1
    return count


def serve_clicks(filmed: Filmed, rally: int, rng: random.Random) -> Iterator[MarkValue]:
    """Yield where a coach clicks on one serve: each touch of the ball, and the ball halfway between.

    Parameters
    ----------
    filmed : Filmed
    rally : int
        Its number in the film, from 1.
    rng : random.Random
        How far each click falls from the ball.
    """
    touches = list(_serve_touches(filmed, rally))
    named: dict[str, FilmedContact] = {}
    for touch in touches:
        named.setdefault(_name_of(touch), touch)
    places = [(name, touch.time_s, touch.at) for name, touch in named.items()]
    for first, second in itertools.pairwise(touches[:3]):
        places.append(("ball", (first.time_s + second.time_s) / 2, second.at))
    for name, time_s, at in places:
        click = _click(filmed, name, time_s, at, rng)
        if 0 <= click.u < CAMERA.width and 0 <= click.v < CAMERA.height:
            yield click


def _serve_touches(filmed: Filmed, rally: int) -> Iterator[FilmedContact]:
    """Yield what the ball touches from the strike of the serve to the receiver's racket, left out."""
    served = False
    for hit in filmed.hits:
        if hit.rally != rally:
            continue
        if hit.kind == "racket" and served:
            return
        served = True
        yield hit


def _name_of(touch: FilmedContact) -> str:
    if touch.kind == "side-wall":
        return "left" if touch.at[0] < HALF_M else "right"
    return {"racket": "strike", "front-wall": "front", "back-wall": "back"}.get(touch.kind, touch.kind)


def _click(
    filmed: Filmed, what: str, time_s: float, touched: tuple[float, float, float], rng: random.Random
) -> MarkValue:
    """Return a click on the frame nearest to a moment, at the ball as that frame shows it.

    While the ball is in a hand it is clicked where it was struck.
    """
    frame = round(time_s * FRAMES_A_S)
    at = filmed.ball(frame / FRAMES_A_S) or touched
    u, v, _ = CAMERA.see(*at)
    fields: dict[str, Json] = {
        "what": what,
        "at_us": frame * 1_000_000 // FRAMES_A_S,
        "u": round(u + rng.gauss(0.0, CLICK_PX), 1),
        "v": round(v + rng.gauss(0.0, CLICK_PX), 1),
    }
    return MarkValue.model_validate(fields)
