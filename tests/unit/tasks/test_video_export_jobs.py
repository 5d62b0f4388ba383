"""What can be made for showing: who agreed, which rallies, which spans of which file."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from fractions import Fraction
from pathlib import Path
from typing import Any, cast

import pytest

from goodlength import tasks
from goodlength.errors import ConsentMissing, DamagedFile, InputError, NotFound
from goodlength.files.library_layout import frame_drawings_file
from goodlength.footage.edit.clip_concatenation import reel_job
from goodlength.record.model import EntryKind
from goodlength.record.store import Library
from goodlength.synthetic.numbered_frame_video import Recipe, draw
from goodlength.tasks.playback import frame_drawings, remove_drawing, save_drawing
from goodlength.tasks.sharing.coach_drawing_selection_by_clip_span import lines_in_span
from goodlength.tasks.sharing.search_result_highlights import start_highlights
from goodlength.tasks.sharing.video_export_jobs import AFTER_US, BEFORE_US, MOST_CLIPS
from goodlength.tasks.sharing.video_session_playlist import save_review_list

SECOND = 1_000_000


class Begun:
    """Stands for the jobs: keeps what was begun, runs nothing."""

    def __init__(self) -> None:
        self.calls: list[tuple[str, str, dict[str, Any]]] = []

    def start(self, kind: str, function: str, args: Mapping[str, Any]) -> str:
        self.calls.append((kind, function, dict(args)))
        return f"j{len(self.calls)}"


@pytest.fixture(scope="module")
def films(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """Twelve and ten seconds, a tenth of a second a picture."""
    folder = tmp_path_factory.mktemp("films")
    ticks = (tuple(range(120)), tuple(range(100)))
    return [
        draw(folder / f"{n}.mp4", Recipe(item, base=Fraction(1, 10), sound=""))
        for n, item in enumerate(ticks)
    ]


@pytest.fixture(scope="module")
def agreed(tmp_path_factory: pytest.TempPathFactory, films: list[Path]) -> Iterator[Library]:
    """A match with two files and seven rallies, the last without a time; in "shy" nobody agreed to clips."""
    with tasks.open_library(tmp_path_factory.mktemp("library") / "lib") as item:
        for player, name in (("iv", "Imogen Vale"), ("plo", "Petra Lindqvist-Ode"), ("rn", "Ruth Nairn")):
            tasks.add_player(item, name, player_id=player)
        tasks.consent(item, "iv", given_by="Imogen Vale")
        tasks.consent(item, "plo", given_by="Petra Lindqvist-Ode")
        tasks.new_match(item, ("iv", "plo"), match_id="m1", played_on=date(2026, 3, 7))
        tasks.new_match(item, ("iv", "rn"), match_id="shy", played_on=date(2026, 3, 8))
        for film in films:
            tasks.add_footage(item, "m1", film)
        for match, count in (("m1", 7), ("shy", 2)):
            for n in range(count):
                if n < 6:
                    span = {"start_us": (1 + 3 * n) * SECOND, "end_us": (2 + 3 * n) * SECOND, "how": "marked"}
                    tasks.answer(item, match, f"r{n}", EntryKind.SPAN, span)
                tasks.answer(item, match, f"r{n}", EntryKind.WINNER, "a")
        yield item


def spans(args: dict[str, Any]) -> list[tuple[str, int, int]]:
    return [(Path(p["src"]).name, p["from_us"], p["to_us"]) for p in args["pieces"]]


def test_nothing_is_begun_without_the_consent_of_both(agreed: Library) -> None:
    jobs: Any = Begun()
    for begin in (
        lambda: tasks.start_clip(tasks.open_match(agreed, "shy"), "r0", jobs),
        lambda: tasks.start_reel(tasks.open_match(agreed, "shy"), ["r0"], jobs),
        lambda: tasks.start_pair(tasks.open_match(agreed, "shy"), ["r0", "r1"], jobs),
        lambda: tasks.start_stills(tasks.open_match(agreed, "shy"), ["r0"], jobs, None),
    ):
        with pytest.raises(ConsentMissing):
            begin()
    assert jobs.calls == []


def test_highlights_of_several_matches_are_one_video_a_match_and_a_refusal_stops_none(
    agreed: Library,
) -> None:
    jobs: Any = Begun()
    chosen = [("m1", "r3"), ("shy", "r0"), *(("m1", f"r{n}") for n in (0, 1, 2, 4, 5))]
    film, refused = start_highlights(agreed, chosen, jobs, slower=4)
    assert (film.match, film.rallies, film.job, film.refusal) == ("m1", 6, "j1", "")
    assert "Ruth Nairn" in refused.refusal
    ((kind, _, args),) = jobs.calls
    assert (kind, args["match"]) == ("reel", "m1")
    assert [piece["slower"] for piece in args["pieces"]] == [4] * len(args["pieces"])
    starts = [piece["words"].split(":")[0] for piece in args["pieces"] if piece["words"]]
    assert len(starts) == 6  # more than the five of a reel for the player
    with pytest.raises(InputError, match="No rally was named"):
        start_highlights(agreed, [], jobs)
    with pytest.raises(InputError, match="up to 60"):
        start_highlights(agreed, [("m1", f"r{n}") for n in range(61)], jobs)


def test_with_every_head_covered_nobody_need_have_agreed(agreed: Library) -> None:
    jobs: Any = Begun()
    tasks.start_clip(tasks.open_match(agreed, "m1"), "r1", jobs)
    assert not any(piece["heads_covered"] for piece in jobs.calls.pop()[2]["pieces"])
    for player in agreed.match_info("m1").players:
        tasks.consent(agreed, player, given_by="taken back", purposes=())
    tasks.start_clip(tasks.open_match(agreed, "m1"), "r0", jobs, covered=True)
    tasks.start_reel(tasks.open_match(agreed, "m1"), ["r0"], jobs, covered=True)
    tasks.start_pair(tasks.open_match(agreed, "m1"), ["r0", "r1"], jobs, covered=True)
    tasks.start_stills(tasks.open_match(agreed, "m1"), ["r0"], jobs, None, covered=True)
    clip, reel, pair, stills = (args for _, _, args in jobs.calls)
    made = [*clip["pieces"], *reel["pieces"], pair["left"], pair["right"], *stills["rows"]]
    assert all(item["heads_covered"] for item in made)
    for player in agreed.match_info("m1").players:
        tasks.consent(agreed, player, given_by="given again")


def test_a_clip_is_the_rally_and_no_more(agreed: Library) -> None:
    jobs: Any = Begun()
    tasks.start_clip(tasks.open_match(agreed, "m1"), "r1", jobs)
    ((kind, function, args),) = jobs.calls
    assert (kind, function) == ("clip", reel_job)
    assert spans(args) == [("0.mp4", 4 * SECOND, 5 * SECOND)]
    assert args["dst"].endswith("m1-clip-r1.mp4")


def test_a_reel_has_a_little_around_each_rally_and_five_at_most(agreed: Library) -> None:
    jobs: Any = Begun()
    tasks.start_reel(tasks.open_match(agreed, "m1"), [f"r{n}" for n in range(7)], jobs)
    found = spans(jobs.calls[0][2])
    assert found[0] == ("0.mp4", SECOND - BEFORE_US, 2 * SECOND + AFTER_US)
    assert len(found) == MOST_CLIPS + 1  # the fourth runs over the join of the files
    assert found[3:5] == [("0.mp4", 9 * SECOND, 12 * SECOND), ("1.mp4", 0, SECOND // 2)]
    tasks.start_reel(tasks.open_match(agreed, "m1"), [f"r{n}" for n in range(7)], jobs, every=True)
    assert spans(jobs.calls[1][2])[0] == ("0.mp4", SECOND, 2 * SECOND)


def test_a_span_over_a_join_is_two_pieces(agreed: Library) -> None:
    found = tasks.pieces_of(tasks.open_match(agreed, "m1"), 11 * SECOND, 13 * SECOND, "words")
    assert [(Path(p.src).name, p.from_us, p.to_us, p.words) for p in found] == [
        ("0.mp4", 11 * SECOND, 12 * SECOND, "words"),
        ("1.mp4", 0, SECOND, ""),
    ]


def test_a_pair_is_aligned_at_the_serves_nudged_and_turned(agreed: Library) -> None:
    jobs: Any = Begun()
    tasks.start_pair(
        tasks.open_match(agreed, "m1"), ["r0", "r4"], jobs, nudge_us=(0, 40_000), mirrored=True, slower=4
    )
    args = jobs.calls[0][2]
    assert (args["left"]["at_us"], args["left"]["mirrored"]) == (SECOND, False)
    assert (Path(args["right"]["src"]).name, args["right"]["at_us"]) == ("1.mp4", SECOND + 40_000)
    assert (args["right"]["mirrored"], args["slower"]) == (True, 4)


@pytest.mark.parametrize(
    ("keys", "error", "said"),
    [
        (["r0"], InputError, "Two rallies"),
        (["r0", "r6"], InputError, "Two rallies"),
        (["r0", "x"], NotFound, "'x'"),
    ],
)
def test_a_pair_needs_two_rallies_with_a_time(
    agreed: Library, keys: list[str], error: type[Exception], said: str
) -> None:
    jobs: Any = Begun()
    with pytest.raises(error, match=said):
        tasks.start_pair(tasks.open_match(agreed, "m1"), keys, jobs)
    assert jobs.calls == []


@pytest.mark.parametrize(("begin", "end"), [(5, 5), (-1, 2), (21, 24)])
def test_a_span_that_was_not_filmed_is_told(agreed: Library, begin: int, end: int) -> None:
    with pytest.raises(InputError, match=r"must end after it starts|no video at that time"):
        tasks.pieces_of(tasks.open_match(agreed, "m1"), begin * SECOND, end * SECOND)


def test_stills_are_taken_at_the_serve(agreed: Library) -> None:
    jobs: Any = Begun()
    tasks.start_stills(tasks.open_match(agreed, "m1"), [f"r{n}" for n in range(6)], jobs, None)
    rows = jobs.calls[0][2]["rows"]
    assert [row["at_us"] for row in rows][:2] == [SECOND, 4 * SECOND]
    assert len(rows) == 4


def test_the_page_with_clips_needs_the_page(agreed: Library, tmp_path: Path) -> None:
    jobs: Any = Begun()
    with pytest.raises(NotFound, match="no handout yet"):
        tasks.start_pack(tasks.open_match(agreed, "m1"), ["r0"], tmp_path / "none.html", "Title", jobs)
    (tmp_path / "page.html").write_text("x")
    tasks.start_pack(tasks.open_match(agreed, "m1"), ["r0", "r1"], tmp_path / "page.html", "Title", jobs)
    assert len(jobs.calls[0][2]["clips"]) == 2
    rows = [{"rally": "r3", "role": "good", "cue": "like this"}]
    save_review_list(tasks.open_match(agreed, "m1"), rows, None)
    tasks.start_pack(tasks.open_match(agreed, "m1"), [], tmp_path / "page.html", "Title", jobs)
    (item,) = jobs.calls[1][2]["clips"]
    assert item["cue"] == "like this"
    save_review_list(tasks.open_match(agreed, "m1"), [], None)


def drawn(library: Library, *pieces: tuple[str, int, str]) -> None:
    """Draw on m1: kind, match time and words of each piece, and nothing else."""
    for old in frame_drawings(library, "m1"):
        remove_drawing(library, "m1", old.id)
    opened = tasks.open_match(library, "m1")
    for n, (kind, at_us, text) in enumerate(pieces):
        points = [[0.2, 0.3]] if kind == "text" else [[0.2, 0.3], [0.6, 0.7]]
        save_drawing(opened, {"id": f"d{n}", "at_us": at_us, "kind": kind, "points": points, "text": text})


def test_what_is_drawn_on_the_first_frame_of_a_clip_is_shown(agreed: Library) -> None:
    """The rally starts inside a frame; before, what was drawn on that frame was dropped."""
    first = SECOND  # a frame lasts from here to 1.1 s
    begin, end = first + 40_000, 2 * SECOND
    drawn(agreed, ("arrow", first, ""), ("line", begin, ""), ("circle", first - 1, ""), ("line", end, ""))
    opened = tasks.open_match(agreed, "m1")
    footage = opened.footage[0].id
    found = lines_in_span(opened, footage, begin, end)
    assert [(line.kind, line.at_us) for line in found] == [("arrow", begin + 1), ("line", begin + 1)]
    assert [line.kind for line in lines_in_span(opened, footage, first, end)] == ["arrow", "line"]
    drawn(agreed)


def test_with_hidden_faces_no_words_are_burned_in_and_a_pair_is_bare_unless_asked(agreed: Library) -> None:
    """Before: side by side showed everything drawn, also a name, under a hidden face."""
    drawn(agreed, ("arrow", SECOND, ""), ("text", SECOND, "Petra, late"))
    opened, jobs = tasks.open_match(agreed, "m1"), cast(Any, Begun())
    kinds = {}
    for name, more in (
        ("bare", {"covered": True}),
        ("asked", {"covered": True, "drawings": True}),
        ("open", {}),
    ):
        tasks.start_pair(opened, ["r0", "r1"], jobs, **more)
        kinds[name] = [line["kind"] for line in jobs.calls[-1][2]["left"]["lines"]]
    assert kinds == {"bare": [], "asked": ["arrow"], "open": ["arrow", "text"]}
    tasks.start_clip(opened, "r0", jobs, covered=True, drawings=True)
    assert [line["kind"] for line in jobs.calls[-1][2]["pieces"][0]["lines"]] == ["arrow"]
    drawn(agreed)


def test_drawings_that_cannot_be_read_stop_only_a_video_that_was_to_show_them(agreed: Library) -> None:
    drawn(agreed, ("arrow", SECOND, ""))
    path = frame_drawings_file(agreed.folder, "m1")
    before = path.read_bytes()
    path.write_text("{")
    opened, jobs = tasks.open_match(agreed, "m1"), cast(Any, Begun())
    tasks.start_pair(opened, ["r0", "r1"], jobs)
    assert jobs.calls[-1][2]["left"]["lines"] == ()
    assert "left out" in jobs.calls[-1][2]["note"]
    with pytest.raises(DamagedFile, match="Untick") as refused:
        tasks.start_clip(opened, "r0", jobs, drawings=True)
    assert str(agreed.folder) not in refused.value.page_words
    path.write_bytes(before)
    drawn(agreed)
