"""What the player is shown: clips, a review list, two serves side by side, a drawing, the handout."""

from __future__ import annotations

import time
import uuid
from collections.abc import Callable
from datetime import date
from functools import partial

from goodlength import tasks
from goodlength.demo.match.demo_players_and_matches import MATCH
from goodlength.demo.play.court_camera import CAMERA
from goodlength.files import library_layout
from goodlength.footage.edit.thumbnail_sheets import previews_job
from goodlength.jobs.job_queue import JobState, write_state
from goodlength.record.model import Clip
from goodlength.record.store import Library
from goodlength.record.store.library_store import now_utc
from goodlength.tasks.match.lazy_match import OpenMatch
from goodlength.tasks.playback import save_drawing
from goodlength.tasks.sharing.handout_content_and_files import usual_findings
from goodlength.tasks.sharing.handout_text_typed_by_coach import HandoutText, save_handout_text
from goodlength.tasks.sharing.serve_pair_alignment_and_mirroring import save_side_by_side
from goodlength.tasks.sharing.video_export_jobs import InlineStarter, start_clip, start_reel
from goodlength.tasks.sharing.video_session_playlist import save_review_list

SERVE_WITH_ARROW = "demo-g1-r04"
CLIPS = ("demo-g1-r04", "demo-g1-r15")
REEL = ("demo-g1-r04", "demo-g1-r12", "demo-g1-r15")
PAIR = ("demo-g1-r01", "demo-g1-r04")
WORDS = "Keep the lob as your first serve. After it, step up and look for the loose ball."
REVIEW = (
    {"rally": "demo-g1-r04", "role": "good", "cue": "High enough that nobody can volley it."},
    {"rally": "demo-g1-r12", "role": "fix", "cue": "Lift the lob: aim a racket length higher."},
    {"rally": "demo-g1-r15", "role": "good", "cue": "Step up behind it: take the next ball early."},
)
FOLLOW_UP = date(2025, 10, 25)
STRUCK_M, MET_M, WORDS_M = (5.8, 5.85, 1.05), (3.4, 0.0, 4.1), (4.0, 0.0, 2.9)  # drawn over a serve
LOW_M = (3.4, 0.0, 2.6)  # and over the other of the pair


def make_previews(library: Library, footage_id: str) -> None:
    """Make the small pictures by which a video is scrubbed."""
    to = library_layout.previews_file(library.folder, footage_id)
    to.parent.mkdir(parents=True, exist_ok=True)
    film = library.footage_file(footage_id).where
    previews_job(src=str(film), dst=str(to), shift_us=0, progress=_unheard, cancel=lambda: False)


def show_player(library: Library) -> None:
    """Make two clips and highlights, choose clips for a talk, set two serves side by side, and draw."""
    opened = tasks.open_match(library, MATCH)
    for rally in CLIPS:
        _make(library, "clip", rally, partial(start_clip, opened, rally))
    _make(library, "reel", "demo", partial(start_reel, opened, REEL))
    save_review_list(opened, REVIEW, FOLLOW_UP)
    save_side_by_side(opened, PAIR, {})
    _draw(opened)


def make_page(library: Library) -> None:
    """Make the handout: the findings with a grade, the next drills, and the turning points where they fit."""
    opened = tasks.open_match(library, MATCH)
    chosen = [finding.key for finding in usual_findings(opened.findings())]
    edits = tasks.HandoutEdits(words=WORDS, week=True, turning=True)
    made = tasks.make_handout(opened, library_layout.handout_folder(library.folder), edits)
    text = HandoutText(chosen=chosen, fields={}, own=WORDS, week=True, turning=made.turning)
    save_handout_text(opened, text)
    for path in (made.pdf, made.html):
        library.save_clip(Clip(path.name, opened.id, str(path), made_utc=now_utc()))


def _make(library: Library, kind: str, name: str, start: Callable[[InlineStarter], str]) -> None:
    """Make a file here and now, and note it as the job that a page would have made it by."""
    to = library_layout.export_file(library.folder, MATCH, kind, name, "mp4")
    to.parent.mkdir(parents=True, exist_ok=True)
    inline = InlineStarter(to)
    start(inline)
    now = time.time()
    job = JobState(
        uuid.uuid4().hex[:12],
        kind,
        1.0,
        "done",
        "done",
        inline.result,
        args={"match": MATCH, "dst": str(to)},
        made=now,
        changed=now,
    )
    note = library_layout.job_file(library.folder, job.id)
    note.parent.mkdir(parents=True, exist_ok=True)
    write_state(note, job)


def _draw(opened: OpenMatch) -> None:
    """Draw over the frames of two serves: where one should meet the front wall, and one that goes lower."""
    starts = {rally.key: rally.start_us for rally in opened.match.rallies}
    pieces = (
        (SERVE_WITH_ARROW, "arrow", (STRUCK_M, MET_M), ""),
        (SERVE_WITH_ARROW, "text", (WORDS_M,), "High: nobody can volley it"),
        (PAIR[0], "arrow", (STRUCK_M, LOW_M), ""),
    )
    for n, (key, kind, places, words) in enumerate(pieces, 1):
        seen = [CAMERA.see(*place) for place in places]
        points = [[round(u / CAMERA.width, 4), round(v / CAMERA.height, 4)] for u, v, _ in seen]
        drawing = {"id": f"demo-{n}", "at_us": starts[key], "kind": kind, "points": points, "text": words}
        save_drawing(opened, drawing)


def _unheard(_share: float, _words: str) -> None:
    """Progress that nobody asked for."""
