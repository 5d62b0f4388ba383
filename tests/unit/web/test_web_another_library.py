"""Another library opened in place: one that cannot be served, and pages left open of the library before."""

from __future__ import annotations

import re
import shutil
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import Any, ClassVar

import pytest
from starlette.testclient import TestClient

from goodlength import tasks
from goodlength.cli import main
from goodlength.errors import InputError
from goodlength.jobs.job_queue import JobState, write_state
from goodlength.tasks.library.library_opening_and_check import library_to_open
from goodlength.tasks.library.remembered_library import remember_library, remembered_library
from goodlength.web import create_app, server
from goodlength.web.http.library_switch_on_running_server import HEADER, LibraryReopening

MODULE = sys.modules["goodlength.tasks.library.library_identity"]  # its function has the same name


class FakeServer:
    """Stands for uvicorn's: each run is one step of a script, given the app and the server."""

    steps: ClassVar[list[Any]] = []

    def __init__(self, config: Any) -> None:
        self.app, self.started, self.should_exit = config.app, False, False

    def run(self, sockets: Any = None) -> None:
        """Take the next step of the script."""
        for listening in sockets or ():
            listening.close()
        self.started = True
        FakeServer.steps.pop(0)(self)
        self.app.state.jobs.close()
        self.app.state.library.close()


def open_next(folder: Path) -> Any:
    """Return a step that wants another library."""
    return lambda served: served.app.state.reopening.begin(folder)


def serve_steps(first: Path, *steps: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """Serve a library by a script, without a socket that anybody reaches."""
    monkeypatch.setattr(server.uvicorn, "Server", FakeServer)
    FakeServer.steps = list(steps)
    server.serve(first, port=0, open_browser=False)
    assert FakeServer.steps == []


def noted(into: list[tuple[str, str]]) -> Any:
    """Return a step that notes which library is served, and the fault of the one before."""

    def step(served: FakeServer) -> None:
        state = served.app.state
        into.append((state.library.folder.name, state.reopening.fault))

    return step


def test_where_the_new_library_cannot_be_served_the_one_before_opens_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Before: IsADirectoryError ended the program."""
    first, second = tmp_path / "first", tmp_path / "second"
    tasks.open_library(second).close()
    done = JobState("abc", "clip", 1.0, "done", "done")
    write_state(second / "jobs" / "abc.json", done)
    (second / "jobs" / "abc.cancel").mkdir()
    after: list[tuple[str, str]] = []
    serve_steps(first, open_next(second), noted(after), monkeypatch=monkeypatch)
    ((name, fault),) = after
    assert name == "first" and str(second) in fault and "goodlength library check" in fault


def test_where_its_start_fails_the_one_before_opens_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Before: the program ended without a word."""
    first, second = tmp_path / "first", tmp_path / "second"
    after: list[tuple[str, str]] = []

    def failing(served: FakeServer) -> None:
        served.started = False

    serve_steps(first, open_next(second), failing, noted(after), monkeypatch=monkeypatch)
    ((name, fault),) = after
    assert name == "first" and str(second) in fault


def test_a_first_start_that_fails_is_not_tried_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def failing(served: FakeServer) -> None:
        served.started = False

    serve_steps(tmp_path / "first", failing, monkeypatch=monkeypatch)


@pytest.fixture
def own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The user's own folder, where it is noted which library was opened last."""
    monkeypatch.setenv("GOODLENGTH_KEYS", str(tmp_path / "own"))
    monkeypatch.delenv("GOODLENGTH_LIBRARY", raising=False)
    return tmp_path / "own"


@pytest.mark.usefixtures("own_folder")
def test_the_library_opened_from_settings_is_remembered_once_it_is_served(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first, second = tmp_path / "first", tmp_path / "second"
    assert remembered_library() == (None, "")
    after: list[tuple[str, str]] = []
    serve_steps(first, open_next(second), noted(after), monkeypatch=monkeypatch)
    assert remembered_library() == (second, "")

    def failing(served: FakeServer) -> None:
        served.started = False

    serve_steps(first, open_next(tmp_path / "third"), failing, noted(after), monkeypatch=monkeypatch)
    assert remembered_library() == (first, "")


def test_a_remembered_library_that_is_gone_is_told_and_not_made(
    own_folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    remember_library(tmp_path / "stick")
    folder, words = remembered_library()
    assert folder is None and f"The library {tmp_path / 'stick'}, opened from Settings" in words
    assert not (tmp_path / "stick").exists()
    tasks.open_library(tmp_path / "stick").close()
    assert remembered_library() == (tmp_path / "stick", "")
    monkeypatch.setenv("GOODLENGTH_LIBRARY", str(tmp_path / "named"))
    assert remembered_library() == (None, "")
    monkeypatch.delenv("GOODLENGTH_LIBRARY")
    for place in ("postgresql://coach@club/library", None):
        remember_library(tmp_path / "stick")
        remember_library(place)
        assert remembered_library() == (None, "")
    assert list(own_folder.glob("*.json")) == []


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"[1]",
        b'{"folder": 7}',
        b'{"folder": "relative/place"}',
        b'{"folder": "/a\\u0000b"}',
        b"\xff" * 9,
        b'{"folder": "/' + b"x" * 5000 + b'"}',
        b"[" * 100_000,
    ],
)
def test_a_strange_note_is_no_library(own_folder: Path, content: bytes) -> None:
    own_folder.mkdir()
    (own_folder / "opened-library.json").write_bytes(content)
    assert remembered_library() == (None, "")


def test_where_nothing_can_be_written_nothing_is_remembered(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").touch()
    monkeypatch.setenv("GOODLENGTH_KEYS", str(tmp_path / "file" / "own"))
    remember_library(tmp_path / "library")
    assert remembered_library() == (None, "")


@pytest.mark.usefixtures("own_folder")
def test_a_start_that_names_none_opens_the_remembered_library(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setattr(sys, "platform", "linux")
    opened: list[Path] = []

    def start(*words: str) -> str:
        main(lambda folder, *_: opened.append(Path(folder)), list(words))
        return capsys.readouterr().err

    tasks.open_library(tmp_path / "club").close()
    remember_library(tmp_path / "club")
    assert start("open", "--no-browser") == ""
    start("open", "--no-browser", "--library", str(tmp_path / "named"))
    start("--library", str(tmp_path / "named"), "open", "--no-browser")
    (tmp_path / "club" / "library.sqlite3").write_bytes(b"no database" * 100)
    assert "cannot be opened" in start("open", "--no-browser")
    shutil.rmtree(tmp_path / "club")
    assert "is not there any more" in start("open", "--no-browser")
    usual = tmp_path / "data" / "goodlength"
    assert opened == [tmp_path / "club", tmp_path / "named", tmp_path / "named", usual, usual]


# What may be opened


def wanted(client: TestClient, folder: Path, make: bool = False) -> Any:
    """Ask the page to open a folder; a server stands for the real one."""
    app: Any = client.app
    app.state.reopening = LibraryReopening(SimpleNamespace(should_exit=False))  # type: ignore[arg-type]
    return client.post("/api/settings/library", json={"folder": str(folder), "make": make})


def test_links_in_a_circle_are_refused_in_words(client: TestClient, tmp_path: Path) -> None:
    """Before: 500, with a traceback in the window."""
    (tmp_path / "a").symlink_to(tmp_path / "b")
    (tmp_path / "b").symlink_to(tmp_path / "a")
    answer = wanted(client, tmp_path / "a" / "library")
    assert answer.status_code == 422 and "Choose another folder" in answer.json()["error"]["words"]


@pytest.mark.parametrize("make", [True, False])
def test_an_empty_file_is_no_library(client: TestClient, tmp_path: Path, make: bool) -> None:
    """Before: a library was made beside somebody's other files."""
    folder = tmp_path / "holiday"
    folder.mkdir()
    (folder / "holiday.txt").write_text("x")
    (folder / "library.sqlite3").touch()
    answer = wanted(client, folder, make)
    assert answer.status_code == 409 and "holds other files" in answer.json()["error"]["words"]
    assert sorted(path.name for path in folder.iterdir()) == ["holiday.txt", "library.sqlite3"]


def test_a_file_that_is_no_library_is_refused_in_the_words_of_the_page(
    client: TestClient, tmp_path: Path
) -> None:
    """Before: status 500, and an option of the command line in the words."""
    folder = tmp_path / "other"
    folder.mkdir()
    (folder / "library.sqlite3").write_bytes(b"not a database at all" * 100)
    answer = wanted(client, folder)
    words = answer.json()["error"]["words"]
    assert answer.status_code == 422 and "--" not in words and str(folder) in words
    assert "was left as it is" in words and "open was not changed" in words


# Which library a page belongs to


def library_in(page: str) -> str:
    """Return the library that a page names."""
    found = re.search(r'<meta name="library" content="(\w+)">', page)
    assert found is not None
    return found.group(1)


def note(match_id: str) -> dict[str, Any]:
    """Return the body of one answer."""
    entry = {
        "id": "n1",
        "observer": "coach/1",
        "at_utc": "2026-11-28T10:00:00Z",
        "rally": "r1",
        "what": "note",
        "value": "good length",
        "replaces": None,
    }
    return {"entries": [{**entry, "match": match_id}], "since": ""}


def test_an_answer_of_another_library_waits_and_is_stored_nowhere(
    client: TestClient, library: Any, match_id: str
) -> None:
    """Before: a Record page of a library stored its answers in the restored copy that was open by then."""
    mine = library_in(client.get(f"/matches/{match_id}/record").text)
    address, before = f"/api/matches/{match_id}/entries", library.entries(match_id)
    refused = client.post(address, json=note(match_id), headers={HEADER: "f" * 24})
    assert refused.status_code == 503 and refused.json()["error"]["kind"] == "another-library"
    assert "Open that library again" in refused.json()["error"]["words"]
    assert library.entries(match_id) == before
    assert client.post(address, json=note(match_id), headers={HEADER: mine}).status_code == 200


def test_a_match_that_the_open_library_lacks_is_no_reason_to_drop_an_answer(client: TestClient) -> None:
    """Before: 404, and the page set the answer aside."""
    answer = client.post("/api/matches/elsewhere/entries", json=note("elsewhere"), headers={HEADER: "f" * 24})
    assert answer.status_code == 503


def test_a_form_of_another_library_changes_nothing(client: TestClient, library: Any, match_id: str) -> None:
    mine = library_in(client.get("/matches").text)
    refused = client.post(f"/matches/{match_id}/remove?library={'f' * 24}", follow_redirects=False)
    assert refused.status_code == 503 and "Another library is open now" in refused.text
    assert [info.id for info in library.matches()] == [match_id]
    assert client.post(f"/matches/{match_id}/remove?library={mine}").status_code in (200, 303)
    assert library.matches() == ()


def test_a_page_of_another_library_reads_nothing_of_this_one(client: TestClient, match_id: str) -> None:
    stale = {HEADER: "f" * 24}
    assert client.get(f"/api/matches/{match_id}/sheet", headers=stale).status_code == 503
    assert client.get("/api/settings/library", headers=stale).status_code == 200  # it waits for the other


def test_a_library_is_the_same_at_its_next_opening(tmp_path: Path) -> None:
    def named() -> str:
        with TestClient(create_app(tmp_path / "library"), base_url="http://127.0.0.1:8765") as page:
            return library_in(page.get("/matches").text)

    assert named() == named()


def test_a_restored_copy_is_another_library_and_a_moved_one_the_same(tmp_path: Path) -> None:
    with tasks.open_library(tmp_path / "first") as library:
        mine = tasks.library_identity(library)
        archive = tasks.back_up(library, tmp_path / "backup.zip").path
    tasks.restore(archive, tmp_path / "restored")
    with tasks.open_library(tmp_path / "restored") as restored:
        assert tasks.library_identity(restored) != mine
    with tasks.open_library(tmp_path / "first") as library:
        tasks.move_library(library, tmp_path / "moved")
    with tasks.open_library(tmp_path / "moved") as moved:
        assert tasks.library_identity(moved) == mine


def test_a_folder_copied_by_hand_gets_its_own_identity_when_it_is_opened(tmp_path: Path) -> None:
    for name in ("first", "copied"):
        with tasks.open_library(tmp_path / name) as library:
            library.set_setting("library_identity", "a" * 24)
    with tasks.open_library(tmp_path / "first") as library:
        library_to_open(str(tmp_path / "copied"), library)
        assert tasks.library_identity(library) == "a" * 24
    with tasks.open_library(tmp_path / "copied") as copied:
        assert tasks.library_identity(copied) != "a" * 24


def test_a_folder_copied_by_hand_gets_its_own_identity_when_the_program_starts_with_it(
    tmp_path: Path,
) -> None:
    """Before: it kept that of the first, and a stale page of the first changed the copy."""
    with tasks.open_library(tmp_path / "mine") as library:
        mine = tasks.library_identity(library)
        assert tasks.library_identity(library) == mine
    shutil.copytree(tmp_path / "mine", tmp_path / "copy")
    with tasks.open_library(tmp_path / "copy") as copy:
        own = tasks.library_identity(copy)
        assert own != mine and tasks.library_identity(copy) == own
    (tmp_path / "mine").rename(tmp_path / "moved")
    with tasks.open_library(tmp_path / "moved") as moved:
        assert tasks.library_identity(moved) == mine  # the same folder under another name
    shutil.copytree(tmp_path / "moved", tmp_path / "second copy")
    with tasks.open_library(tmp_path / "second copy") as copy:
        assert tasks.library_identity(copy) not in (mine, own)


def test_a_library_on_a_shared_disk_keeps_its_identity_on_another_computer(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with tasks.open_library(tmp_path / "mine") as library:
        mine = tasks.library_identity(library)
    shutil.copytree(tmp_path / "mine", tmp_path / "as seen there")
    with monkeypatch.context() as there:
        there.setattr(MODULE, "machine_mark", lambda: "another")
        with tasks.open_library(tmp_path / "as seen there") as library:
            assert tasks.library_identity(library) == mine
        with tasks.open_library(tmp_path / "as seen there") as library:
            assert tasks.library_identity(library) == mine


@pytest.mark.parametrize("places", ["x", 7, ["a"], {"m": "x"}, {"m": ["/a", 1]}])
def test_strange_places_are_taken_for_none(
    tmp_path: Path, places: object, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(MODULE, "machine_mark", lambda: "m")
    with tasks.open_library(tmp_path / "mine") as library:
        mine = tasks.library_identity(library)
        library.set_setting("library_places", places)
        assert tasks.library_identity(library) == mine


def test_a_library_that_cannot_be_written_has_an_identity_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(*_: Any) -> None:
        raise InputError("Nothing can be written.")

    with tasks.open_library(tmp_path / "first") as library:
        monkeypatch.setattr(type(library), "set_setting", refused)
        assert len(tasks.library_identity(library)) == 24
        assert tasks.library_identity(library) == tasks.library_identity(library)
