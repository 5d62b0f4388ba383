"""The library's care on the Settings page: back-up, restore, and sharing that is switched on and off."""

from __future__ import annotations

import asyncio
import http.client
import json
import os
import tempfile
import threading
import time
import zipfile
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from urllib.parse import urlencode

import pytest
import uvicorn
from starlette.testclient import TestClient

from goodlength import tasks
from goodlength.bench.response_times_and_keypresses import page_on
from goodlength.files.file_lock import try_lock
from goodlength.files.temporary_export_folders import LOCK, private_copies, sweep_private
from goodlength.tasks.library.backup import RestoreReport
from goodlength.web import create_app, network_sharing_switch
from goodlength.web.http import passcode_sessions, phone_qr_code_invitation
from goodlength.web.http.connection_limits import TimedProtocol
from goodlength.web.http.library_switch_on_running_server import LibraryReopening
from goodlength.web.http.remote_request_allowlist import may_over_network
from goodlength.web.server_sockets import bind_socket

NETWORK = "127.0.0.2"  # stands for an address of the network: requests that come by it are from elsewhere


@pytest.fixture
def scratch(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where temporary files are made, to see that none stays."""
    made = tmp_path / "scratch"
    made.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(made))
    return made


def test_a_back_up_is_downloaded_and_restored_beside_the_library(
    client: TestClient, library: Any, match_id: str, scratch: Path
) -> None:
    answer = client.post("/settings/backup")
    assert answer.headers["content-disposition"].startswith("attachment")
    assert "library.sqlite3" in zipfile.ZipFile(BytesIO(answer.content)).namelist()
    assert list(scratch.glob("goodlength-backup-*")) == []
    client.post(f"/matches/{match_id}/remove")
    restored = client.post("/api/settings/restore/upload", content=answer.content)
    assert "1 matches, 2 players" in restored.json()["words"]
    assert library.matches() == ()  # the open library is as it was
    (folder,) = library.folder.parent.glob("library-restored-*")
    with tasks.open_library(folder) as copy:
        assert [info.id for info in copy.matches()] == [match_id]
    again = client.post("/api/settings/restore/upload", content=answer.content)
    assert again.status_code == 200 and len(list(library.folder.parent.glob("library-restored-*"))) == 2


def may_reopen(client: TestClient) -> SimpleNamespace:
    """Let the page open other libraries, by a server that stands for the real one."""
    server = SimpleNamespace(should_exit=False)
    app: Any = client.app
    app.state.reopening = LibraryReopening(server)  # type: ignore[arg-type]
    return server


def test_a_restored_back_up_is_opened_in_place(client: TestClient, match_id: str, scratch: Path) -> None:
    server = may_reopen(client)
    archive = client.post("/settings/backup").content
    folder = client.post("/api/settings/restore/upload", content=archive).json()["folder"]
    answer = client.post("/api/settings/library", json={"folder": folder})
    assert answer.status_code == 200 and answer.json()["folder"] == folder
    app: Any = client.app
    assert server.should_exit and app.state.reopening.folder == Path(folder)


def test_a_new_library_is_made_only_where_that_was_ticked(client: TestClient, tmp_path: Path) -> None:
    server = may_reopen(client)
    wanted = {"folder": str(tmp_path / "second")}
    refused = client.post("/api/settings/library", json=wanted)
    assert refused.status_code == 404 and "make a new library" in refused.json()["error"]["words"]
    assert not (tmp_path / "second").exists() and not server.should_exit
    assert client.post("/api/settings/library", json={**wanted, "make": True}).status_code == 200
    assert (tmp_path / "second" / "library.sqlite3").is_file() and server.should_exit


@pytest.mark.parametrize("make", [True, False])
@pytest.mark.parametrize(
    "named",
    [
        "",
        "   ",
        "second",
        "../second",
        "{open}",
        "{open}/clips",
        "{open}/..",
        "{file}",
        "{full}",
        "a\0b",
        "/\0",
        "/" + "x" * 3000,
        "/" + "y" * 9000,
        "postgresql://somewhere/else",
        "~nobody-here/x",
        "{file}/under",
    ],
)
def test_a_folder_that_cannot_be_a_library_is_refused_in_words(
    client: TestClient, library: Any, tmp_path: Path, named: str, make: bool
) -> None:
    server = may_reopen(client)
    file, full = tmp_path / "a-file.txt", tmp_path / "full"
    full.mkdir()
    file.write_text("x")
    (full / "holiday.txt").write_text("x")
    before = sorted(path for path in tmp_path.rglob("*") if not path.is_relative_to(library.folder))
    folder = named.format(open=library.folder, file=file, full=full)
    answer = client.post("/api/settings/library", json={"folder": folder, "make": make})
    assert 400 <= answer.status_code < 500 and answer.json()["error"]["words"], answer.text
    assert not server.should_exit
    after = sorted(path for path in tmp_path.rglob("*") if not path.is_relative_to(library.folder))
    assert before == after


def test_no_other_library_is_opened_while_the_page_is_shared(client: TestClient, tmp_path: Path) -> None:
    server = may_reopen(client)
    app: Any = client.app
    app.state.sharing = passcode_sessions.Sharing()
    wanted = {"folder": str(tmp_path / "second"), "make": True}
    answer = client.post("/api/settings/library", json=wanted)
    assert answer.status_code == 409 and "Stop sharing first" in answer.json()["error"]["words"]
    assert not server.should_exit and not (tmp_path / "second").exists()


def test_another_device_may_not_open_another_library() -> None:
    assert not may_over_network("POST", "/api/settings/library")
    assert not may_over_network("GET", "/api/settings/library")


def test_a_page_that_another_program_serves_says_how_to_open_another_library(
    client: TestClient, tmp_path: Path
) -> None:
    assert "was not started by goodlength itself" in client.get("/settings").text
    wanted = {"folder": str(tmp_path / "second"), "make": True}
    assert client.post("/api/settings/library", json=wanted).status_code == 409


def test_the_program_begins_again_with_the_other_library(tmp_path: Path) -> None:
    """On the same port, without a moment at which nothing answers."""
    first, second = tmp_path / "first", tmp_path / "second"
    tasks.open_library(first).close()
    with page_on(first) as port:

        def in_use() -> Any:
            return json.loads(ask(port, "/api/settings/library")[1])

        def change(folder: Path) -> Any:
            before = in_use()["run"]
            page = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
            page.request(
                "POST",
                "/api/settings/library",
                json.dumps({"folder": str(folder), "make": True}),
                {"content-type": "application/json", "origin": f"http://127.0.0.1:{port}"},
            )
            assert page.getresponse().status == 200
            page.close()
            while in_use()["run"] == before:
                time.sleep(0.1)
            return in_use()

        assert change(second)["folder"] == str(second)
        assert ask(port, "/matches")[0] == 200
        assert change(first)["folder"] == str(first)


@pytest.mark.parametrize("content", [b"no zip", b"PK\x05\x06" + bytes(18)])
def test_what_is_no_back_up_leaves_nothing(
    client: TestClient, library: Any, scratch: Path, content: bytes
) -> None:
    answer = client.post("/api/settings/restore/upload", content=content)
    assert answer.status_code >= 400 and answer.json()["error"]["words"]
    assert list(library.folder.parent.glob("library-restored-*")) == [] and list(scratch.iterdir()) == []


def test_a_back_up_that_cannot_be_written_is_told(
    client: TestClient, scratch: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from goodlength.errors import NoSpace

    def full(*_: Any, **__: Any) -> None:
        raise NoSpace("The disk is full. Free some space.")

    monkeypatch.setattr(tasks, "back_up", full)
    answer = client.post("/settings/backup")
    assert answer.status_code == 422 and "The disk is full." in answer.text
    assert list(scratch.iterdir()) == []


@pytest.fixture
def port(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[int]:
    """The page served as `goodlength open` does, on this computer only; its port."""
    monkeypatch.setattr(network_sharing_switch, "addresses_here", lambda: (NETWORK,))
    for module in (passcode_sessions, phone_qr_code_invitation):
        monkeypatch.setattr(module, "from_here", lambda scope: scope["server"][0] != NETWORK)
    app = create_app(tmp_path / "library")
    config = uvicorn.Config(
        app, http=TimedProtocol, log_level="error", ws="none", timeout_graceful_shutdown=1
    )
    server, listening = uvicorn.Server(config), bind_socket(None)
    thread = threading.Thread(target=server.run, args=([listening],), daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.01)
    yield listening.getsockname()[1]
    server.should_exit = True
    thread.join(10)
    assert not thread.is_alive()


def ask(
    port: int, path: str, *, host: str = "127.0.0.1", form: dict[str, str] | None = None, cookie: str = ""
) -> tuple[int, str, str]:
    """Return status, text and cookie of an answer; ConnectionRefusedError where nothing listens."""
    connection = http.client.HTTPConnection(host, port, timeout=10)
    headers = {"content-type": "application/x-www-form-urlencoded", "cookie": cookie}
    body = None if form is None else urlencode(form)
    connection.request("GET" if form is None else "POST", path, body, headers)
    answer = connection.getresponse()
    text, given = answer.read().decode("utf-8", "replace"), answer.headers.get("set-cookie", "")
    connection.close()
    return answer.status, text, given.partition(";")[0]


def code_of(port: int) -> str:
    page = ask(port, "/settings")[1]
    return page.partition('<dd class="code">')[2].partition("<")[0]


def test_the_page_is_shared_only_while_it_is_switched_on_and_only_with_the_code(port: int) -> None:
    with pytest.raises(ConnectionRefusedError):
        ask(port, "/matches", host=NETWORK)
    assert "Off: only this computer" in ask(port, "/settings")[1]
    assert ask(port, "/settings/network/on", form={})[0] == 303
    code = code_of(port)
    assert ask(port, "/matches", host=NETWORK)[0] == 303  # to the door
    assert ask(port, "/settings/network/off", host=NETWORK, form={})[0] == 401
    cookie = ask(port, "/enter", host=NETWORK, form={"code": code, "to": "/matches"})[2]
    assert ask(port, "/matches", host=NETWORK, cookie=cookie)[0] == 200
    assert ask(port, "/settings/network/off", host=NETWORK, form={}, cookie=cookie)[0] == 403
    assert code not in ask(port, "/settings", host=NETWORK, cookie=cookie)[1]
    assert ask(port, "/settings/network/off", form={})[0] == 303
    with pytest.raises(ConnectionRefusedError):
        ask(port, "/matches", host=NETWORK)
    assert ask(port, "/matches")[0] == 200


def test_switched_on_again_the_code_is_another_and_old_sessions_have_ended(port: int) -> None:
    ask(port, "/settings/network/on", form={})
    first = code_of(port)
    cookie = ask(port, "/enter", host=NETWORK, form={"code": first, "to": "/matches"})[2]
    ask(port, "/settings/network/off", form={})
    ask(port, "/settings/network/on", form={})
    assert code_of(port) != first
    assert ask(port, "/matches", host=NETWORK, cookie=cookie)[0] == 303


def test_without_a_network_nothing_is_switched_on(port: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(network_sharing_switch, "addresses_here", lambda: ())
    status, text, _ = ask(port, "/settings/network/on", form={})
    assert status == 422 and "No network was found" in text
    assert "Off: only this computer" in ask(port, "/settings")[1]


def test_a_page_left_open_on_the_network_is_closed_with_the_program(port: int) -> None:
    assert ask(port, "/settings/network/on", form={})[0] == 303  # the fixture sees that the server ends


def test_the_port_shared_is_the_pages_own_whatever_the_host_header_says(port: int) -> None:
    """Before: it listened on the port that the header named."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
    named = {"host": "127.0.0.1:9", "content-type": "application/x-www-form-urlencoded"}
    connection.request("POST", "/settings/network/on", "", named)
    answer = connection.getresponse()
    answer.read()
    connection.close()
    assert answer.status == 303
    assert ask(port, "/matches", host=NETWORK)[0] == 303  # to the door


def test_a_copy_left_by_a_program_that_was_killed_goes_at_the_next_start(scratch: Path) -> None:
    killed, running, new = (scratch / f"goodlength-backup-{name}" for name in ("killed", "running", "new"))
    for folder in (killed, running, new):
        folder.mkdir()
        (folder / "goodlength.zip").write_bytes(b"names and all")
    (killed / LOCK).touch()
    with private_copies("goodlength-restore-") as mine:
        lock = try_lock(running / LOCK)  # as another program holds it
        assert lock is not None
        assert sweep_private() == 1
        assert sorted(scratch.iterdir()) == sorted([running, new, mine])
        lock.close()
    assert sweep_private() == 1
    os.utime(new, (0, 0))
    (scratch / "goodlength-backup-link").symlink_to(scratch.parent)
    assert sweep_private() == 1
    assert [path.name for path in scratch.iterdir()] == ["goodlength-backup-link"]


def test_the_page_removes_such_copies_when_it_starts(scratch: Path, tmp_path: Path) -> None:
    left = scratch / "goodlength-backup-left"
    left.mkdir()
    (left / LOCK).touch()
    with TestClient(create_app(tmp_path / "library")):
        until = time.monotonic() + 10
        while left.exists() and time.monotonic() < until:
            time.sleep(0.01)
    assert not left.exists()


def test_a_connection_that_outlives_the_switch_gets_nothing() -> None:
    sharing = passcode_sessions.Sharing("ABCD2345")
    token = sharing.enter("ABCD2345", "192.168.7.9")
    sharing.close()
    assert sharing.closed and not sharing.holds(token)


def test_switched_on_while_it_is_being_switched_off_it_can_be_switched_off_again(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    class Slow:
        should_exit = False

        def __init__(self, _config: Any) -> None:
            pass

        async def serve(self, sockets: list[Any]) -> None:
            while not self.should_exit:
                await asyncio.sleep(0.01)
            await asyncio.sleep(0.1)

    monkeypatch.setattr(network_sharing_switch, "addresses_here", lambda: (NETWORK,))
    monkeypatch.setattr(network_sharing_switch, "bind_socket", lambda _port, _name: None)
    monkeypatch.setattr(network_sharing_switch, "_SecondServer", Slow)
    app: Any = SimpleNamespace(state=SimpleNamespace(sharing=None, gate=None, addresses=()))
    hosts: set[str] = set()

    async def pressed_quickly() -> None:
        switch = network_sharing_switch.NetworkSwitch(app, hosts)
        await switch.switch_on(8765)
        off = asyncio.create_task(switch.switch_off())
        await asyncio.sleep(0.02)
        await switch.switch_on(8765)
        await off
        assert switch.is_on and hosts == {NETWORK} and not app.state.gate.closed
        await switch.switch_off()
        assert not switch.is_on and hosts == set() and app.state.gate.closed

    asyncio.run(pressed_quickly())


def test_two_restored_at_once_get_a_folder_each(
    client: TestClient, scratch: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    targets: list[Path] = []

    def slow(_archive: Path, target: Path) -> RestoreReport:
        targets.append(target)
        time.sleep(0.2)
        target.mkdir()
        return RestoreReport(str(target), 0, 0, "", ())

    monkeypatch.setattr(tasks, "restore", slow)
    threads = [
        threading.Thread(target=client.post, args=("/api/settings/restore/upload",), kwargs={"content": b"x"})
        for _ in range(2)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(targets) == 2 and len(set(targets)) == 2
