"""A new match from its video to the handout, by a script in the coach's place (`goodlength bench hour`).

```
 drop ─ names ─ (goodlength works) ─ court ─ who is who ─ draft ─ Record ─ findings ─ plan ─ handout
```
"""

from __future__ import annotations

import json
import resource
import shutil
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import uvicorn

from goodlength.errors import GoodlengthError
from robustness.coach_workflow.interaction_time_model import GLANCE_S, PRESS_S, WATCH_S, HandsOnCost
from robustness.coach_workflow.scoresheet_accuracy import sheet_accuracy
from robustness.coach_workflow.scripted_coach_in_browser import PageCoach
from robustness.coach_workflow.simulated_match_video import FilmedMatch, filmed_match, write_match_film

FLAGS = ["--no-sandbox", "--disable-gpu", "--autoplay-policy=no-user-gesture-required"]
WHOLE = (70, 95)  # rallies of a match
Tell = Callable[[str], None]


def bench_hour(
    seed: int, keep: Path | None, tell: Tell, games: int | None = None, *, prepared: bool = False
) -> dict[str, object]:
    """Return what a match costs the coach by step, and how right the sheet is.

    Parameters
    ----------
    seed : int
        State of the draws; the first match from it that can be played out is filmed.
    keep : Path, optional
        A folder that keeps the film for another run, and the library for a look.
    tell : callable
        Called with a word about each step.
    games : int, optional
        Film and log the first games only, for a quick look; left out, a match of 70 to 95 rallies.
    prepared : bool
        Go on from the draft, with what an earlier run that kept its folder cost until there.

    Raises
    ------
    GoodlengthError
        No earlier run was kept; the page asked for something that the script does not know, or stopped
        answering.
    """
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch) if keep is None else keep
        folder.mkdir(parents=True, exist_ok=True)
        match = filmed_match(seed, WHOLE if games is None else (1, WHOLE[1]), games)
        film = folder / f"match-{match.seed}-{len(match.plans)}.mp4"
        if not film.is_file():
            tell(f"filming {len(match.plans)} rallies, {match.filmed.length_s / 60:.0f} minutes")
            part = film.with_suffix(".part.mp4")
            write_match_film(match, part)
            part.rename(film)
        run = PreparedRun(folder, film.stem)
        match_id, cost = run.put_back() if prepared else run.fresh()
        return _driven(match, film, run, match_id, cost, tell)


@dataclass(frozen=True)
class PreparedRun:
    """The library of a run, and a copy of it as it was before the draft, with what it had cost until then."""

    folder: Path
    name: str

    @property
    def library(self) -> Path:
        """The library that the page is served from."""
        return self.folder / f"library-{self.name}"

    @property
    def copy(self) -> Path:
        """The library as it was before the draft."""
        return self.folder / f"prepared-{self.name}"

    @property
    def costs(self) -> Path:
        """What the run had cost before the draft, and the match's id."""
        return self.folder / f"prepared-{self.name}.json"

    def fresh(self) -> tuple[str, HandsOnCost]:
        """Begin anew."""
        shutil.rmtree(self.library, ignore_errors=True)
        return "", HandsOnCost()

    def take_copy(self, match_id: str, cost: HandsOnCost) -> None:
        """Keep the library as it is now."""
        shutil.rmtree(self.copy, ignore_errors=True)
        shutil.copytree(self.library, self.copy)
        self.costs.write_text(json.dumps({"match": match_id, "cost": cost.plain()}), encoding="utf-8")

    def put_back(self) -> tuple[str, HandsOnCost]:
        """Go on from the copy; raise GoodlengthError where none was kept."""
        if not self.costs.is_file():
            raise GoodlengthError("No run was kept until the draft. Run it without --prepared first.")
        self.fresh()
        shutil.copytree(self.copy, self.library)
        plain = json.loads(self.costs.read_text(encoding="utf-8"))
        return plain["match"], HandsOnCost.read(plain["cost"])


def _driven(
    match: FilmedMatch, film: Path, run: PreparedRun, prepared: str, cost: HandsOnCost, tell: Tell
) -> dict[str, object]:
    from playwright.sync_api import Error as PageError
    from playwright.sync_api import sync_playwright

    started, used, library = time.monotonic(), _children_s(), run.library
    with served(library) as (address, opened), sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=_chromium(), args=FLAGS)
        page = browser.new_context(viewport={"width": 1440, "height": 900}, base_url=address).new_page()
        coach = PageCoach(page, match, cost, tell, lambda match_id: run.take_copy(match_id, cost))
        try:
            match_id = coach.whole_way(film, prepared)
        except PageError as error:
            page.screenshot(path=str(library.with_suffix(".png")))
            raise GoodlengthError(f"The page did not do what the script waited for: {error}") from error
        finally:
            browser.close()
        right = sheet_accuracy(opened, match_id, match)
    return {
        "state": match.seed,
        "rallies": len(match.plans),
        "film_minutes": round(match.filmed.length_s / 60, 1),
        "hands_on_minutes": round(cost.minutes, 1),
        "costs_s": {"press": PRESS_S, "rally watched": WATCH_S, "glance": GLANCE_S},
        "steps": cost.table(),
        "offers": coach.offers,
        "pauses_asked_about": coach.missing,
        "letters_typed": cost.letters,
        "waited_minutes": {step: round(waited / 60, 1) for step, waited in cost.waited_s.items()},
        "processor_minutes": round((_children_s() - used) / 60, 1),
        "wall_minutes": round((time.monotonic() - started) / 60, 1),
        **right,
    }


def _children_s() -> float:
    use = resource.getrusage(resource.RUSAGE_CHILDREN)
    return use.ru_utime + use.ru_stime


def _chromium() -> str | None:
    import os

    return os.environ.get("GOODLENGTH_BROWSER") or shutil.which("chromium")


@contextmanager
def served(folder: Path) -> Iterator[tuple[str, Any]]:
    """Serve the page of a fresh library; give its address and the library."""
    from goodlength.web import create_app
    from goodlength.web.server_sockets import bind_socket

    listening = bind_socket(0)
    port = listening.getsockname()[1]
    app = create_app(folder)
    server = uvicorn.Server(uvicorn.Config(app, log_level="error", timeout_graceful_shutdown=1, ws="none"))
    thread = threading.Thread(target=server.run, args=([listening],), daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.01)
    try:
        yield f"http://127.0.0.1:{port}", app.state.library
    finally:
        server.should_exit = True
        thread.join(10)
