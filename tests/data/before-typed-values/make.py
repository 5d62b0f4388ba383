"""Makes the files of this folder with an earlier program; README.md says how it is run."""

from __future__ import annotations

import importlib.util
import json
import sys
import tempfile
import zipfile
from datetime import UTC, datetime, timedelta
from pathlib import Path

HERE = Path(__file__).parent
DEFINED = importlib.util.spec_from_file_location("forms", HERE.parents[1] / "house" / "test_stored_forms.py")
assert DEFINED is not None and DEFINED.loader is not None
forms = importlib.util.module_from_spec(DEFINED)
DEFINED.loader.exec_module(forms)


def measured(n: int) -> dict[str, object]:
    """A measured serve: every number a middle and its range; a second bounce and a side wall now and then."""

    def around(middle: float, half: float) -> list[float]:
        return [middle, middle - half, middle + half]

    value: dict[str, object] = {
        "footage": "elsewhere", "struck_us": 4_000_000 * n, "level": 0.9,
        "marks": [
            {"what": "strike", "at_us": 4_000_000 * n, "u": 400.5 + n, "v": 300.25, "about": False, "found": False},
            {"what": "front", "at_us": 4_000_000 * n + 350_000, "u": 512, "v": 120.0, "about": True, "found": False},
            {"what": "ball", "at_us": 4_000_000 * n + 180_000, "u": 470.0, "v": 180.0, "found": True},
        ],
        "speed_m_s": around(17.25 + n, 1.1), "up_deg": around(21.0, 2.0),
        "struck_m": [around(1.2, 0.1), around(5.9, 0.2), around(1.8, 0.1)],
        "front_x_m": around(3.4, 0.05 * n), "front_z_m": around(3.9, 0.06), "to_front_s": around(0.35, 0.01),
    }  # fmt: skip
    if n % 2:
        value |= {"side": "right", "side_y_m": around(7.5, 0.3), "side_z_m": around(1.9, 0.2)}
        value |= {"bounce_x_m": around(5.7, 0.2), "bounce_y_m": around(8.6, 0.3), "room_m": around(0.9, 0.2)}
        value |= {
            "good_of_100": 93,
            "side_first_of_100": 88,
            "dies_of_100": 12,
            "heard": True,
            "warmth": "warm",
        }
    return value


def answers(match: str, rallies: list[str]) -> list[dict[str, object]]:
    """Answers of every shape that the demo lacks, on rallies that are there."""
    said: list[tuple[str, str, object]] = [(rallies[n], "serve.measured", measured(n)) for n in (1, 2, 3, 5)]
    said += [
        (rallies[2], "note", "Late to the ball."),
        (rallies[2], "keep", True),
        (rallies[3], "called", {"decision": "let"}),
        (rallies[4], "called", {"call": "down", "to": "b"}),
        (rallies[4], "shot", {"n": 2, "by": "b", "stroke": "drive", "volley": True, "place": "back-left"}),
        (rallies[4], "shot", {"n": 3, "by": "a", "stroke": "boast", "at_us": 30_000_000, "pressed": True}),
        (rallies[4], "shot", {"count": 5}),
        (rallies[6], "serve.aim", "the back-wall nick"),
        (rallies[6], "serve.receiver-place", "up"),
        (rallies[7], "return.to", "cross-court"),
        (rallies[7], "ending.place", "front-left"),
        (rallies[7], "ending.why", "execution"),
    ]
    start = datetime(2026, 3, 7, 18, 0, tzinfo=UTC)
    return [
        {
            "id": f"{match}-x{n}", "observer": "coach", "rally": rally, "what": what, "value": value,
            "at_utc": (start + timedelta(seconds=n)).isoformat(), "replaces": None,
        }
        for n, (rally, what, value) in enumerate(said)
    ]  # fmt: skip


def filled(folder: Path) -> Path:
    """The demo library with more in it: measured serves, calls, shots, a court, a drill, a plan and sets."""
    from starlette.testclient import TestClient

    from goodlength.web import create_app

    library: Path = forms.demo_made(folder)
    forms.command(library, "court", "add", "Court 2", "--tin", "tour")
    headers = {"origin": forms.ADDRESS}
    with TestClient(
        create_app(library), base_url=forms.ADDRESS, follow_redirects=False, headers=headers
    ) as page:
        for match in ("demo", "demo-left"):
            sheet = page.get(f"/api/matches/{match}/sheet").json()
            rallies = [rally["key"] for rally in sheet["rallies"]]
            sent = page.post(f"/api/matches/{match}/entries", json={"entries": answers(match, rallies)})
            assert sent.status_code == 200, sent.text
        drill = {
            "name": "Lob and volley", "theme": "serve", "company": "pair", "do": "Lob.", "counts": "Past the line.",
            "changes": "Length.", "place": "front-wall", "sets": "3", "attempts": "10", "rest_s": "45",
            "minutes": "9", "left_m": "2", "low_m": "3", "wide_m": "1", "tall_m": "0.8", "spot1": "Feeder",
            "x1": "3.2", "y1": "5",
        }  # fmt: skip
        asked = {"sessions": "2", "minutes": "60", "weeks": "3", "company": "pair", "level": "club",
                 "begins": "2026-02-02", "keep": ["lob-to-the-box"]}  # fmt: skip
        proposed = json.loads(forms.command(library, "practice", "plan", "demo", "--json"))
        asked["keep"] = [item["drill"] for item in proposed["items"]]
        for item in proposed["items"]:
            asked |= {f"sets:{item['drill']}": "3", f"attempts:{item['drill']}": "12"}
        kept = page.post("/matches/demo/plan", data=asked)
        assert kept.status_code == 303, kept.text
        assert page.post("/practice/drills", data=drill).status_code == 303
        sets = [
            {
                "id": f"set{n}", "drill": "own-lob-and-volley", "hits": 4 + n, "attempts": 10, "order": "blocked",
                "on": f"2026-02-0{n + 1}", "places": [[3.0 + 0.1 * k, 3.4 + 0.05 * k] for k in range(10)],
                "aim": [2.5, 3.4],
            }
            for n in range(4)
        ]  # fmt: skip
        sent = page.post(f"/api/practice/{forms.PLAYER}/sets", json={"sets": sets})
        assert sent.status_code == 200, sent.text
    return library


def main() -> None:
    """Make the back-up, the export and every form of each."""
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        library = filled(folder / "filled")
        for target in (HERE / "backup.zip", HERE / "demo.json"):
            target.unlink(missing_ok=True)
        sys.stdout.write(forms.command(library, "library", "backup", str(HERE / "backup.zip")).decode())
        sys.stdout.write(
            forms.command(library, "match", "export", "demo", "--to", str(HERE / "demo.json")).decode()
        )
        for source, (make, matches) in forms.SOURCES.items():
            place = folder / source
            place.mkdir()
            found = forms.every_form(make(place), place, matches)
            with zipfile.ZipFile(HERE / f"forms-{source}.zip", "w", zipfile.ZIP_DEFLATED) as packed:
                for name, form in found.items():
                    packed.writestr(zipfile.ZipInfo(name), form, zipfile.ZIP_DEFLATED)

            failed = [name for name, form in found.items() if form.startswith(b"exit")]
            sys.stdout.write(f"{source}: {len(found)} forms, failed: {failed}\n")


if __name__ == "__main__":
    sys.exit(main())
