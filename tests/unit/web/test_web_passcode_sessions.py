"""The page on the network: nobody without the code, on any route; sessions end; tries are counted."""

from __future__ import annotations

import re
import shutil
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from starlette.testclient import TestClient

from goodlength import tasks
from goodlength.footage.media.video_probe import fingerprint
from goodlength.record.model import Clip, Footage
from goodlength.web import create_app
from goodlength.web.http.passcode_sessions import (
    ASSUMED_IDLE_S,
    ASSUMED_LONGEST_S,
    COOKIE,
    Sharing,
    TooManyTries,
)
from goodlength.web.http.remote_request_allowlist import ALLOWED, may_over_network
from goodlength.web.server import shared_words
from goodlength.web.server_sockets import addresses_here
from robustness import access_control_and_load
from robustness.access_control_and_load import every_route, route_templates

NAME = "192.168.7.2"
AT = f"http://{NAME}:8765"


class Clock:
    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory, demo_library: Path) -> Any:
    folder: Path = tmp_path_factory.mktemp("library")
    shutil.copytree(demo_library, folder, dirs_exist_ok=True)
    made = create_app(folder, sharing=Sharing("ABCD2345", Clock()), hosts=("127.0.0.1", NAME))
    yield made
    made.state.jobs.close()
    made.state.library.close()


def client(app: Any, address: str = "192.168.7.9", base: str = AT) -> TestClient:
    return TestClient(app, base_url=base, client=(address, 50_000), follow_redirects=False)


@pytest.fixture
def far(app: Any) -> TestClient:
    app.state.sharing.__init__("ABCD2345", Clock())
    return client(app)


def entered(far: TestClient) -> TestClient:
    done = far.post("/enter", data={"code": "abcd 2345", "to": "/players"}, headers={"origin": AT})
    assert done.status_code == 303
    assert done.headers["location"] == "/players"
    cookie = done.headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "samesite=strict" in cookie.lower()
    return far


def test_every_route_is_shut_without_a_session(
    app: Any, far: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    # So many at once would be refused for that alone
    monkeypatch.setattr(app.state.sharing, "may_ask", lambda _client: True)
    tried = every_route(app)
    assert len(tried) > 60
    for method, path in tried:
        for cookie in ("", f"{COOKIE}=stale", f"{COOKIE}="):
            got = far.request(method, path, headers={"origin": AT, "cookie": cookie})
            led = got.status_code == 303 and got.headers["location"].startswith("/enter?to=")
            assert led or got.status_code == 401, (method, path, got.status_code)
            assert "Imogen" not in got.text
    for method, path in tried:
        wrong = far.request(method, path, headers={"host": "evil.example", "origin": "http://evil.example"})
        assert wrong.status_code == 400, (method, path)


def test_a_foreign_page_cannot_use_a_session(far: TestClient, app: Any) -> None:
    inside = entered(far)
    assert inside.get("/players").status_code == 200
    for method, path in every_route(app):
        if method not in ("GET", "HEAD"):
            got = inside.request(method, path, headers={"origin": "http://evil.example"})
            assert got.status_code == 403, (method, path)


@pytest.mark.parametrize(
    "path",
    [
        "/static/../library.sqlite3",
        "/static/%2e%2e/%2e%2e/pyproject.toml",
        "/static/..%2f..%2fapp.py",
        "//static/../matches",
        "/enter/../matches",
        "/static/../../etc/passwd",
        "/handed/../matches",
        "/Static/x",
        "/static/%00",
        "/handed/..%2fmatches",
        "/enter%2f..%2fmatches",
        "/static/css/../../templates/layout/base.html",
    ],
)
def test_path_tricks_lead_nowhere(far: TestClient, path: str) -> None:
    got = far.get(path)
    assert got.status_code in (303, 400, 401, 404, 405)
    assert "Imogen" not in got.text
    assert "import" not in got.text


def test_wrong_codes_are_counted_and_the_door_shuts(far: TestClient, app: Any) -> None:
    for _ in range(5):
        assert far.post("/enter", data={"code": "wrong"}, headers={"origin": AT}).status_code == 403
    assert far.post("/enter", data={"code": "ABCD2345"}, headers={"origin": AT}).status_code == 429
    app.state.sharing.clock.now += 61
    entered(far)


def test_wrong_codes_of_others_do_not_shut_the_door() -> None:
    sharing = Sharing("ABCD2345", Clock())
    for n in range(30):
        assert sharing.enter("WRONG", f"10.0.0.{n % 6}") is None
    assert sharing.enter("ABCD2345", "10.0.1.1") is not None


def test_one_address_has_thirty_tries_an_hour() -> None:
    clock = Clock()
    sharing = Sharing("ABCD2345", clock)
    for n in range(30):
        clock.now = n * 61.0
        assert sharing.enter("WRONG", "10.0.0.1") is None
    clock.now += 61
    with pytest.raises(TooManyTries):
        sharing.enter("ABCD2345", "10.0.0.1")
    clock.now += 3600
    assert sharing.enter("ABCD2345", "10.0.0.1") is not None


def test_sessions_end(far: TestClient, app: Any) -> None:
    clock = app.state.sharing.clock
    inside = entered(far)
    clock.now += ASSUMED_IDLE_S - 1
    assert inside.get("/players").status_code == 200
    clock.now += ASSUMED_IDLE_S + 1
    assert inside.get("/players").status_code == 303
    inside = entered(far)
    for _ in range(int(ASSUMED_LONGEST_S // 3600) + 1):
        clock.now += 3600
        last = inside.get("/players")
    assert last.status_code == 303  # used all the time, and over all the same
    inside = entered(far)
    inside.post("/leave", headers={"origin": AT})
    assert inside.get("/players").status_code == 303


HERE_ONLY = {
    ("POST", "/matches/demo/made/x/remove"),
    ("POST", "/players/demo-imogen-vale/consent/undo"),
    ("POST", "/practice/demo-imogen-vale/plans/x/remove"),
    ("GET", "/openapi.json"),
    ("HEAD", "/openapi.json"),
    ("POST", "/api/footage/x/camera/forget"),
    ("POST", "/api/settings/room"),
    ("GET", "/api/settings/library"),
    ("POST", "/api/settings/library"),
    ("POST", "/matches/demo/footage"),
    ("POST", "/matches/demo/footage/x/x"),
    ("POST", "/demo"),
    ("POST", "/tour/x"),
    ("POST", "/tour/leave"),
    ("POST", "/demo/remove"),
    ("POST", "/matches/demo/remove"),
    ("GET", "/matches/import/template.csv"),
    ("POST", "/matches/import"),
    ("POST", "/matches/import/keep"),
    ("POST", "/players/demo-imogen-vale/erase"),
    ("POST", "/practice/demo-imogen-vale/recordings"),
    ("POST", "/practice/demo-imogen-vale/recordings/x/forget"),
    ("POST", "/practice/drills/retire"),
    ("POST", "/settings"),
    ("POST", "/settings/kinds"),
    ("POST", "/settings/backup"),
    ("POST", "/settings/network/x"),
    ("POST", "/api/settings/restore/upload"),
    ("GET", "/bin"),
    ("POST", "/bin/empty"),
    ("POST", "/bin/x/delete"),
}


def test_every_route_is_in_the_table_of_the_network_or_refused(
    app: Any, far: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(app.state.sharing, "may_ask", lambda _client: True)
    inside = entered(far)
    routes = every_route(app)
    refused = {route for route in routes if not may_over_network(*route)}
    removing = {item for item in refused if item[1].endswith(("/remove", "/forget", "/retire", "/erase"))}
    assert len(removing) >= 4
    for method, path in refused:
        got = inside.request(method, path, headers={"origin": AT})
        assert got.status_code == 403, (method, path)
        if method != "HEAD":
            assert "where goodlength runs" in got.text, (method, path)
    assert refused == HERE_ONLY, (
        "a new route is done here only until it stands in web/http/remote_request_allowlist.py"
    )


def test_what_cannot_be_put_back_is_said_without_showing_the_bin(app: Any, far: TestClient) -> None:
    inside, library = entered(far), app.state.library
    watched = tasks.Watched(settings=("club",))
    with tasks.undoable(library, "A name of the club", watched) as change:
        library.set_setting("club", "Saltmarsh")
    for item in ("000000000000", change.item):
        got = inside.post(f"/bin/{item}/put-back", headers={"origin": AT})
        assert 400 <= got.status_code < 500
        assert "A name of the club" not in got.text and "Recycle bin" not in got.text
    assert "not in the bin any more" in inside.post("/bin/000000000000/put-back", headers={"origin": AT}).text
    assert library.settings()["club"] == "Saltmarsh"
    assert tasks.bin_item(library, change.item) is not None


def test_settings_kinds_and_consent_are_undone_on_the_computer_only(app: Any, far: TestClient) -> None:
    inside, library = entered(far), app.state.library
    player = library.match_info("demo").players[0]
    words = "This can be undone on the computer that goodlength runs on only."
    agreed, kinds, club = library.player(player).consent, library.kinds(), library.settings().get("club")
    watched = (
        tasks.Watched(consent=player),
        tasks.Watched(kinds=True),
        tasks.Watched(settings=("club",)),
    )
    for watch in watched:
        with tasks.undoable(library, "A change", watch) as change:
            tasks.withdraw_consent(library, player)
            library.save_kinds(kinds[:-1])
            library.set_setting("club", "Tideway")
        got = inside.post(f"/bin/{change.item}/put-back", headers={"origin": AT})
        assert (got.status_code, words in got.text) == (403, True)
        here = client(app, "127.0.0.1", "http://127.0.0.1:8765")
        done = here.post(f"/bin/{change.item}/put-back", headers={"origin": "http://127.0.0.1:8765"})
        assert done.status_code == 303
        library.save_kinds(kinds)
        library.set_setting("club", club)
        tasks.give_consent_back(library, player) if library.player(player).consent != agreed else None


def test_the_preview_is_refused_on_the_network_where_the_handout_is(app: Any, far: TestClient) -> None:
    inside, library = entered(far), app.state.library
    here = client(app, "127.0.0.1", "http://127.0.0.1:8765")
    info = library.match_info("demo")
    frame, asked = "/matches/demo/handout/preview", "/api/matches/demo/handout/preview"
    opponent = library.player(info.players[1 - info.coached.place])
    tasks.withdraw_consent(library, opponent.id)
    try:
        typed = {"own": f"Wait for {opponent.name}."}
        named = inside.post(asked, data=typed, headers={"origin": AT}).json()
        assert "name the opponent" in named["body"] and "Wait for" not in named["body"]
        assert "Wait for" in here.post(asked, data=typed).json()["body"]
        assert "<section" in inside.post(asked, data={"own": ""}, headers={"origin": AT}).json()["body"]
    finally:
        tasks.give_consent_back(library, opponent.id)
    assert "<section" in inside.get(frame).text
    coached = info.players[info.coached.place]
    tasks.withdraw_consent(library, coached)
    try:
        got = inside.get(frame)
        assert "can be made" in got.text and "<section" not in got.text and "Imogen Vale v" not in got.text
        posted = inside.post(asked, data={"own": "Mine."}, headers={"origin": AT}).json()
        assert "can be made" in posted["body"] and "Mine." not in posted["body"]
        assert "<section" in here.get(frame).text  # the coach sees it on the computer
    finally:
        tasks.give_consent_back(library, coached)


def test_every_line_of_the_table_is_a_route(app: Any) -> None:
    routes = {(method, re.sub(r"\{\w+\}", "{}", path)) for method, path in route_templates(app)}
    for method, templates in ALLOWED.items():
        for template in templates:
            path = re.sub(r"\{\w+\}", "{}", template)
            one_way = f"{path.rpartition('/')[0]}/{{}}"  # a single way of footage/{footage_id}/{way}
            assert (method, path) in routes or (method, one_way) in routes, (method, template)


@pytest.mark.parametrize(
    ("method", "path"),
    [
        ("POST", "/matches/import"),
        ("POST", "/matches/import/keep"),
        ("POST", "/matches/demo/remove"),
        ("POST", "/settings/kinds"),
        ("POST", "/api/settings/room"),
        ("POST", "/matches/demo/footage"),
        ("POST", "/matches/demo/footage/x/remove"),
        ("POST", "/matches/demo/footage/"),
        ("POST", "/players/demo-imogen-vale/erase"),
        ("PUT", "/matches/demo/details"),
        ("DELETE", "/matches/demo"),
        ("POST", "/practice/demo-imogen-vale/recordings"),
        ("GET", "/matches/demo/bin"),
        ("POST", "/no/such"),
    ],
)
def test_what_is_not_in_the_table_is_done_here(far: TestClient, method: str, path: str) -> None:
    inside = entered(far)
    got = inside.request(method, path, data={"path": "/etc/passwd", "sure": "yes"}, headers={"origin": AT})
    assert got.status_code == 403
    assert "where goodlength runs" in got.text


def test_a_refusal_is_a_page_for_people_and_json_for_scripts(far: TestClient) -> None:
    inside = entered(far)
    shown = inside.post("/matches/demo/remove", data={"sure": "yes"}, headers={"origin": AT})
    assert shown.headers["content-type"].startswith("text/html")
    assert "default-src 'self'" in shown.headers["content-security-policy"]
    told = inside.post("/api/settings/room", json={"room": "dim"}, headers={"origin": AT})
    assert told.json()["error"]["words"].startswith(
        "This can only be done on the computer where goodlength runs"
    )


def test_only_films_added_on_this_machine_are_played(far: TestClient, app: Any, tmp_path: Path) -> None:
    """A path that came with an imported match was never looked at here, whatever it says of itself."""
    secret = tmp_path / "secret.txt"
    secret.write_text("not for the network")
    library = app.state.library
    forged = Footage("forged", "demo", str(secret), place=90, size=19, mtime_ns=secret.stat().st_mtime_ns)
    library.save_footage(replace(forged, look={"container": "mp4"}, sha256="0" * 64))
    try:
        for client_ in (entered(far), client(app, "127.0.0.1", "http://127.0.0.1:8765")):
            got = client_.get("/api/footage/forged/media")
            assert got.status_code == 410
            assert "not for the network" not in got.text
            assert "was not added on this computer" in got.text
    finally:
        library.remove_footage("forged")


def test_too_much_at_once_waits(far: TestClient, app: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("goodlength.web.http.passcode_sessions.ASSUMED_ASKED", 20)
    inside = entered(far)
    codes = [inside.get("/enter").status_code for _ in range(30)]
    assert codes.count(429) == 11  # one of the twenty was the code
    app.state.sharing.clock.now += 11
    assert inside.get("/enter").status_code == 200


def test_this_machine_needs_no_code(app: Any) -> None:
    here = client(app, "127.0.0.1", "http://127.0.0.1:8765")
    assert here.get("/matches").status_code == 200
    assert client(app, "::1", "http://127.0.0.1:8765").get("/matches").status_code == 200
    told = here.get("/matches", headers={"x-forwarded-for": "192.168.7.9"})
    assert told.status_code == 200
    far = client(app, "192.168.7.9")
    assert far.get("/matches", headers={"x-forwarded-for": "127.0.0.1"}).status_code == 303


def test_a_link_shows_one_handout_and_nothing_else(far: TestClient, app: Any) -> None:
    library = app.state.library
    tasks.make_handout(tasks.open_match(library, "demo"), library.folder / "handouts")
    link = tasks.make_link(library, "demo")
    got = far.get(f"/handed/{link.token}")
    assert got.status_code == 200
    assert "Imogen" in got.text
    expired = far.get(f"/handed/{link.token}x")
    assert expired.status_code == 404 and "This link has expired" in expired.text
    assert (
        "<nav" not in expired.text and 'href="/matches"' not in expired.text
    )  # no way in is held out to a player
    assert far.post(f"/handed/{link.token}", headers={"origin": AT}).status_code == 405
    assert tasks.withdraw_links(library, "demo") == 1
    assert far.get(f"/handed/{link.token}").status_code == 404


def test_the_door_leads_only_inside(far: TestClient) -> None:
    for to in ("//evil.example", "https://evil.example", "/\\evil.example", "/enter?to=/enter"):
        done = far.post("/enter", data={"code": "ABCD2345", "to": to}, headers={"origin": AT})
        assert done.headers["location"] == "/matches"


def test_what_is_printed_says_code_address_and_limits() -> None:
    words = shared_words(Sharing("ABCD2345"), [f"{AT}/"], False)
    assert "ABCD 2345" in words
    assert AT in words
    assert "someone on the same network can read the traffic, the code included" in words
    assert "traffic" not in shared_words(Sharing("ABCD2345"), [f"{AT}/"], True)
    assert "No network" in shared_words(Sharing(), [], False)
    assert all(not name.startswith("127.") for name in addresses_here())


def test_without_sharing_there_is_no_door(tmp_path: Path) -> None:
    with TestClient(create_app(tmp_path), base_url="http://127.0.0.1", follow_redirects=False) as plain:
        assert plain.get("/enter").headers["location"] == "/matches"


def test_the_figures_come_from_every_route_and_would_show_a_hole(monkeypatch: pytest.MonkeyPatch) -> None:
    from goodlength.web.http import passcode_sessions

    found = access_control_and_load.try_doors()
    assert found.let_in == []
    assert found.tried == found.refused > 4 * found.routes > 200
    monkeypatch.setattr(passcode_sessions, "OPEN_PATHS", (*passcode_sessions.OPEN_PATHS, "/players"))
    assert any("GET /players" in item for item in access_control_and_load.try_doors().let_in)


@pytest.mark.parametrize("where", ["film", "copy", "clip", "frame"])
def test_rows_of_a_strangers_library_send_no_file_of_this_machine(
    app: Any, far: TestClient, where: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Before: 200 with the content, for a film, its copy and a clip alike."""
    library = app.state.library
    secret = library.folder.parent / "secret.mp4"
    secret.write_bytes(b"a letter of the coach's")
    secret.with_suffix(".frames.npz").write_bytes(b"")
    for player in library.match_info("demo").players:
        tasks.consent(library, player, given_by="X", purposes=("clips", "record", "handout"))
    row = Footage("fx", "demo", str(secret), frames="proxies/fx.original.frames.npz", sha256="0" * 32)
    address = "/api/footage/fx/media"
    if where == "copy":
        row = replace(row, proxy="../secret.mp4")
    if where == "clip":
        library.save_clip(Clip("cx", "demo", str(secret), made_utc=None))
        address = "/matches/demo/clips/cx"
    if where == "frame":  # before: one frame of it was decoded for anybody
        address = "/api/footage/fx/picture?us=0"
        picture = SimpleNamespace(jpeg=secret.read_bytes(), us=0)
        monkeypatch.setattr(app.state.pictures, "at", lambda *_: picture)
    library.save_footage(row)
    try:
        got = entered(far).get(address)
        assert got.status_code != 200
        assert b"letter" not in got.content
        here = client(app, "127.0.0.1", "http://127.0.0.1:8765").get(address)
        assert here.content == secret.read_bytes()  # at this machine it is the coach's own file
    finally:
        library.remove_footage("fx")


def test_preview_pictures_are_not_made_of_a_strangers_file_for_another_machine(
    app: Any, far: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    library = app.state.library
    secret = library.folder.parent / "secret.mp4"
    secret.write_bytes(b"a film of the coach's")
    begun: list[Path] = []
    monkeypatch.setattr(
        "goodlength.web.routes.playback.thumbnails_impacts_and_overlays.start_previews",
        lambda _library, _id, played, *_: begun.append(played) or True,
    )
    library.save_footage(
        Footage("fp", "demo", str(secret), frames="proxies/fp.original.frames.npz", sha256="0" * 32)
    )
    try:
        assert entered(far).post("/api/footage/fp/previews").json()["awaited"] is False
        assert begun == []
        here = client(app, "127.0.0.1", "http://127.0.0.1:8765")
        assert here.post("/api/footage/fp/previews").json()["awaited"] is True
        assert begun == [secret]
    finally:
        library.remove_footage("fp")


def test_a_film_that_is_what_was_added_is_sent(app: Any, far: TestClient) -> None:
    library = app.state.library
    film = library.folder.parent / "own.mp4"
    film.write_bytes(b"a film")
    library.save_footage(
        Footage("fy", "demo", str(film), frames="proxies/fy.original.frames.npz", sha256=fingerprint(film))
    )
    try:
        assert entered(far).get("/api/footage/fy/media").content == b"a film"
        film.write_bytes(b"another")
        assert far.get("/api/footage/fy/media").status_code != 200
    finally:
        library.remove_footage("fy")


def test_settings_over_the_network_name_no_folder_of_this_machine(app: Any, far: TestClient) -> None:
    inside, folder = entered(far), str(app.state.library.folder)
    assert folder not in inside.get("/settings").text
    with TestClient(app, base_url=AT, client=("127.0.0.1", 50000)) as here:
        assert folder in here.get("/settings").text
