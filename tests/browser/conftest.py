"""The page served on a free port of this machine, and headless Chromium to use it."""

from __future__ import annotations

import os
import shutil
import socket
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from weakref import WeakKeyDictionary

import pytest
import uvicorn

# The browser takes the last list of features alone, so this one names Playwright's that matter here again.
# Without the second line each window drew two pages of the browser's own, half of what opening a page cost.
FEATURES_OFF = (
    "PaintHolding,DestroyProfileOnBrowserClose,HttpsUpgrades,HttpsFirstBalancedModeAutoEnable,"
    "ThirdPartyStoragePartitioning,AvoidUnnecessaryBeforeUnloadCheckSync,MediaRouter,OptimizationHints,"
    "AvoidCorsURLLoaderRestartOnRedirect,NetworkTimeServiceQuerying,PreconnectToSearch,LensOverlay,AimEnabled,"
    "WebUIOmniboxPopup,WebUIOmniboxFullPopup,WebUIOmniboxAimPopup,InitialWebUI,WebUIReloadButton,WebUIToolbar"
)
FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--autoplay-policy=no-user-gesture-required",
    f"--disable-features={FEATURES_OFF}",
]
DESK = {"width": 1440, "height": 900}


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Every test here needs the browser; `./check --without browser` leaves them out, and says so."""
    left_out = pytest.mark.skip(reason="left out by --without browser; run ./check to wake it")
    for item in items:
        if "tests/browser" in item.path.as_posix():
            item.add_marker(pytest.mark.browser)
            item.add_marker(pytest.mark.timeout(600))
            if os.environ.get("GOODLENGTH_WITHOUT_BROWSER"):
                item.add_marker(left_out)


@pytest.fixture(scope="session")
def bikes() -> Path:
    """A real camera recording (640 x 272, 25 frames a second, no sound); it shows no squash."""
    folder = Path(os.environ.get("GOODLENGTH_SAMPLES", "var/samples"))
    path = folder / "bikes.mp4"
    if not path.is_file():
        pytest.fail(f"{path} is not there. ./check fetches it; or name its folder in GOODLENGTH_SAMPLES.")
    return path


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    """One browser for all tests; what they expect may come late on a busy machine."""
    from playwright.sync_api import expect, sync_playwright

    expect.set_options(timeout=30_000)
    where = os.environ.get("GOODLENGTH_BROWSER") or shutil.which("chromium") or "/usr/bin/chromium"
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=where, args=FLAGS)
        yield browser
        browser.close()


class Served:
    """A page served in a thread: its address, its library, and a way to stop and start it again."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.port = _free_port()
        self.address = f"http://127.0.0.1:{self.port}"
        self.start()

    def start(self) -> None:
        """Serve, on the same port as before."""
        from goodlength.web import create_app
        from goodlength.web.server_sockets import bind_socket

        app = create_app(self.folder)
        self.library = app.state.library
        config = uvicorn.Config(app, log_level="error", timeout_graceful_shutdown=1, ws="none")
        self.server = uvicorn.Server(config)
        listening = bind_socket(self.port)
        self.thread = threading.Thread(target=self.server.run, args=([listening],), daemon=True)
        self.thread.start()
        while not self.server.started:
            time.sleep(0.01)

    def stop(self) -> None:
        """Stop serving; the library stays."""
        self.server.should_exit = True
        self.thread.join(10)


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture
def library_template() -> Path | None:
    """A library to begin with, built once for a module that overrides this; None for an empty one."""
    return None


@pytest.fixture
def served(tmp_path: Path, library_template: Path | None) -> Iterator[Served]:
    """The page of a fresh library."""
    if library_template is not None:
        shutil.copytree(library_template, tmp_path / "library")
    item = Served(tmp_path / "library")
    yield item
    item.stop()


Open = Callable[..., Any]


@pytest.fixture
def open_page(chromium: Any, served: Served) -> Iterator[Open]:
    """Open a path in a context of its own; what the page logs as an error fails the test."""
    contexts: list[Any] = []
    faults: list[str] = []

    def opener(
        path: str,
        size: dict[str, int] = DESK,
        wait: str | None = None,
        expected: str = "net::ERR",
        **more: Any,
    ) -> Any:
        context = chromium.new_context(viewport=size, base_url=served.address, **more)
        contexts.append(context)
        page = context.new_page()
        count_requests(page)
        page.on("pageerror", lambda error: faults.append(str(error)))
        page.on("console", lambda message: _note(faults, message, expected))
        page.goto(path)
        if wait is not None:  # the page's script has drawn what the server said
            page.wait_for_selector(f'html[data-ready="{wait}"]', timeout=60_000)
        return page

    yield opener
    for context in contexts:
        context.close()
    assert not faults, faults


UNDER_WAY: WeakKeyDictionary[Any, set[Any]] = WeakKeyDictionary()
TWO_FRAMES = "() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))"


def count_requests(page: Any) -> None:
    """Know which requests of a page are under way."""
    under_way: set[Any] = set()
    UNDER_WAY[page] = under_way

    def begun(request: Any) -> None:  # Playwright takes no built-in function
        under_way.add(request)

    def over(request: Any) -> None:
        under_way.discard(request)

    page.on("request", begun)
    page.on("requestfinished", over)
    page.on("requestfailed", over)


@pytest.fixture(scope="session")
def quiet() -> Callable[[Any], None]:
    """Wait until a page is loaded and has asked for nothing over six frames of the screen.

    Playwright's `networkidle` waits half a second each time, whatever the page does.
    """

    def wait(page: Any) -> None:
        page.wait_for_load_state("load")
        still, until = 0, time.monotonic() + 30
        while still < 3:
            page.evaluate(TWO_FRAMES)
            still = 0 if UNDER_WAY[page] else still + 1
            if time.monotonic() > until:
                pytest.fail(f"{page.url} still waits for {[item.url for item in UNDER_WAY[page]]}")

    return wait


def _note(faults: list[str], message: Any, expected: str) -> None:
    """Errors of the page's own; a dropped connection is reported by the browser and is part of tests.

    A file of the page that is not there is never expected.
    """
    ours = "/static/" in str(message.location.get("url", ""))
    if message.type == "error" and (
        expected not in message.text or (ours and "net::ERR" not in message.text)
    ):
        faults.append(message.text)
