"""Footage and clips through the public functions, on films of a second made by code."""

from __future__ import annotations

import os
from dataclasses import replace
from datetime import date
from pathlib import Path

import av
import numpy as np
import pytest

from goodlength import tasks
from goodlength.errors import (
    ConsentMissing,
    FootageError,
    FootageGone,
    InputError,
    NotFootage,
    NotFound,
    OutOfRange,
)
from goodlength.forms.match_rally_and_probe_json import cut_lines, probe_form


def film(path: Path, frames: int = 25) -> Path:
    """One second of grey squares at 25 frames a second, H.264."""
    with av.open(str(path), "w") as container:
        stream = container.add_stream("libx264", rate=25)
        stream.width, stream.height, stream.pix_fmt = 64, 48, "yuv420p"
        for n in range(frames):
            picture = np.full((48, 64, 3), 10 * (n % 25), dtype=np.uint8)
            container.mux(stream.encode(av.VideoFrame.from_ndarray(picture, format="rgb24")))
        container.mux(stream.encode(None))
    return path


@pytest.fixture
def library(tmp_path):
    with tasks.open_library(tmp_path / "lib") as opened:
        for player_id, name in (("iv", "Imogen Vale"), ("pl", "Petra Lindqvist-Ode")):
            tasks.add_player(opened, name, player_id=player_id)
        tasks.new_match(opened, ("iv", "pl"), match_id="m1")
        yield opened


def agree(library, *purposes: str) -> None:
    for player in library.players():
        tasks.consent(library, player.id, given_by=player.name, purposes=purposes or ("clips",))


def test_a_recording_is_added_once_with_what_it_holds(library, tmp_path):
    path = film(tmp_path / "12:30 100%d ümlaut.mp4")
    added = tasks.add_footage(library, "m1", path)
    assert tasks.add_footage(library, "m1", path) == added
    assert (added.first_us, added.end_us) == (0, 1_000_000)
    assert (library.folder / added.frames).is_file()
    assert library.match_info("m1").footage == (added.id,)
    assert tasks.timeline_of(library, "m1").length_us == 1_000_000
    form = probe_form(tasks.probe_file(path))
    keys = {
        "duration_s",
        "first_s",
        "last_frame_end_s",
        "frames",
        "width",
        "height",
        "rotation_deg",
        "sound",
        "problems",
    }
    assert keys <= set(form)
    assert (form["frames"], form["sound"]) == (25, False)


def test_what_is_no_film_is_not_added(library, tmp_path):
    (tmp_path / "note.mp4").write_text("hello")
    with pytest.raises(NotFootage):
        tasks.add_footage(library, "m1", tmp_path / "note.mp4")
    with pytest.raises(FootageGone):
        tasks.add_footage(library, "m1", tmp_path / "gone.mp4")
    with pytest.raises(NotFound):
        tasks.add_footage(library, "m9", film(tmp_path / "a.mp4"))
    assert library.footage("m1") == ()


def test_files_are_put_in_order_and_placed_and_taken_out(library, tmp_path):
    first = tasks.add_footage(library, "m1", film(tmp_path / "a.mp4"))
    second = tasks.add_footage(library, "m1", film(tmp_path / "b.mp4", 50))
    tasks.order_footage(library, "m1", [second.id, first.id])
    assert library.match_info("m1").footage == (second.id, first.id)
    tasks.place_footage(library, first.id, 5_000_000)
    assert tasks.timeline_of(library, "m1").length_us == 6_000_000
    with pytest.raises(OutOfRange):
        tasks.place_footage(library, first.id, 1_000_000)
    assert library.footage_file(first.id).starts_us == 5_000_000
    with pytest.raises(InputError, match="every file"):
        tasks.order_footage(library, "m1", [first.id])
    tasks.remove_footage(library, second.id)
    assert not (library.folder / second.frames).exists()
    assert Path(second.path).exists()


def test_no_clip_without_the_consent_of_everybody_seen(library, tmp_path):
    path = film(tmp_path / "a.mp4")
    tasks.add_footage(library, "m1", path)
    out = tmp_path / "clip.mp4"
    with pytest.raises(ConsentMissing, match=r"clip\.mp4 was not made.*Imogen Vale and Petra"):
        tasks.cut_clip(path, 0.2, 0.6, out, library=library)
    assert not out.exists()
    agree(library)
    made = tasks.cut_clip(path, 0.2, 0.6, out, library=library)
    assert (made.frames, out.exists()) == (10, True)
    assert [clip.path for clip in library.clips("m1")] == [str(out)]
    tasks.cut_clip(path, 0.2, 0.5, out, library=library)
    assert len(library.clips("m1")) == 1


def test_consent_that_ran_out_or_is_for_something_else_is_none(library, tmp_path):
    path = film(tmp_path / "a.mp4")
    tasks.add_footage(library, "m1", path)
    agree(library, "record")
    with pytest.raises(ConsentMissing):
        tasks.cut_clip(path, 0.2, 0.6, tmp_path / "clip.mp4", library=library)
    for player in library.players():
        tasks.consent(library, player.id, given_by="X", when=date(2020, 1, 1), until=date(2021, 1, 1))
    with pytest.raises(ConsentMissing):
        tasks.cut_clip(path, 0.2, 0.6, tmp_path / "clip.mp4", library=library)


def test_the_same_recording_under_another_name_is_known(library, tmp_path):
    path = film(tmp_path / "a.mp4")
    tasks.add_footage(library, "m1", path)
    renamed = tmp_path / "holiday.mp4"
    renamed.write_bytes(path.read_bytes())
    with pytest.raises(ConsentMissing):
        tasks.cut_clip(renamed, 0.2, 0.6, tmp_path / "clip.mp4", library_folder=library.folder)


def test_a_file_the_library_does_not_know_is_cut_exactly(library, tmp_path):
    made = tasks.cut_clip(
        film(tmp_path / "a.mp4"), 0.2, 0.6, tmp_path / "c.mp4", library_folder=library.folder
    )
    assert (made.first_us, made.end_us, made.frames) == (200_000, 600_000, 10)
    none = tmp_path / "no library here"
    tasks.cut_clip(tmp_path / "a.mp4", 0.2, 0.6, tmp_path / "d.mp4", library_folder=none)
    assert not none.exists()


def test_a_span_of_the_match_is_cut_from_the_file_it_lies_in(library, tmp_path):
    tasks.add_footage(library, "m1", film(tmp_path / "a.mp4"))
    tasks.add_footage(library, "m1", film(tmp_path / "b.mp4"))
    with pytest.raises(ConsentMissing):
        tasks.cut_rally(library, "m1", 1_200_000, 1_600_000)
    agree(library)
    made = tasks.cut_rally(library, "m1", 1_200_000, 1_600_000, rally="r1")
    assert (made.frames, made.first_us) == (10, 200_000)
    assert Path(made.path).parent == library.folder / "clips"
    assert library.clips("m1")[0].rally == "r1"
    with pytest.raises(InputError, match="starts in one file"):
        tasks.cut_rally(library, "m1", 800_000, 1_200_000)
    with pytest.raises(InputError, match="no video at that time"):
        tasks.cut_rally(library, "m1", 1_800_000, 2_600_000)
    with pytest.raises(InputError, match="must end after it starts"):
        tasks.cut_rally(library, "m1", 500_000, 500_000)
    tasks.new_match(library, ("iv", "pl"), match_id="m2")
    with pytest.raises(InputError, match="no video to cut"):
        tasks.cut_rally(library, "m2", 0, 1)


def test_a_proxy_is_made_noted_and_goes_with_its_file(library, tmp_path):
    added = tasks.add_footage(library, "m1", film(tmp_path / "a.mp4"))
    assert tasks.proxy_reason(library, added.id) is None
    with pytest.raises(NotFound, match="Start it again"):
        tasks.note_proxy(library, added.id)
    made = tasks.make_proxy(library, added.id)
    kept = library.footage_file(added.id)
    assert (library.folder / kept.proxy) == made
    tasks.remove_match(library, "m1")
    assert list((library.folder / "proxies").iterdir()) == []


def test_a_proxy_can_be_made_in_a_process_of_its_own(library, tmp_path):
    from goodlength.jobs.job_queue import Jobs

    added = tasks.add_footage(library, "m1", film(tmp_path / "a.mp4"))
    with Jobs(library.folder) as jobs:
        job = jobs.wait(tasks.start_proxy(library, added.id, jobs))
    assert (job.state, job.error) == ("done", None)
    assert tasks.note_proxy(library, added.id).proxy == f"proxies/{added.id}.mp4"


def test_an_original_that_is_gone_is_told(library, tmp_path):
    path = film(tmp_path / "a.mp4")
    added = tasks.add_footage(library, "m1", path)
    path.unlink()
    for call in (tasks.make_proxy, tasks.proxy_reason):
        with pytest.raises(FootageGone, match="The match log is safe"):
            call(library, added.id)


def test_a_file_that_was_copied_further_is_the_same_file(library, tmp_path):
    """Added while half copied, and again when whole: it stood on the time line twice."""
    path = film(tmp_path / "m.mp4", 25)
    first = tasks.add_footage(library, "m1", path)
    proxy = library.folder / "proxies" / f"{first.id}.mp4"
    proxy.write_bytes(b"a copy of what it was")
    library.save_footage(replace(first, proxy=f"proxies/{first.id}.mp4"))
    film(path, 50)
    again = tasks.add_footage(library, "m1", path)
    assert (again.id, again.place, again.end_us) == (first.id, first.place, 2_000_000)
    assert again.proxy is None
    assert not proxy.exists()
    assert len(library.footage("m1")) == 1
    assert tasks.timeline_of(library, "m1").length_us == 2_000_000


def test_a_file_that_was_moved_is_found_again_when_added(library, tmp_path):
    first = tasks.add_footage(library, "m1", film(tmp_path / "m.mp4"))
    moved = (tmp_path / "m.mp4").rename(tmp_path / "moved.mp4")
    again = tasks.add_footage(library, "m1", moved)
    assert (again.id, again.path) == (first.id, str(moved))
    assert len(library.footage("m1")) == 1


def test_a_name_in_latin_1_is_told_with_the_name(library, tmp_path):
    path = Path(os.fsdecode(os.fsencode(tmp_path) + b"/f\xe9.mp4"))
    film(tmp_path / "plain.mp4").rename(path)
    with pytest.raises(FootageError, match=r"'fé\.mp4' is written in an older alphabet") as caught:
        tasks.add_footage(library, "m1", path)
    str(caught.value).encode()
    assert library.footage("m1") == ()


def test_another_track_takes_the_files_place(library, tmp_path):
    path = tmp_path / "two.mov"
    with av.open(str(path), "w") as new:
        pair = [new.add_stream("libx264", rate=25) for _ in range(2)]
        sizes = ((64, 48), (128, 96))
        for stream, size in zip(pair, sizes, strict=True):
            stream.width, stream.height, stream.pix_fmt = *size, "yuv420p"
        for stream, size in zip(pair, sizes, strict=True):
            for n in range(25):
                grey = np.full((size[1], size[0], 3), 10 * n, dtype=np.uint8)
                new.mux(stream.encode(av.VideoFrame.from_ndarray(grey, format="rgb24")))
            new.mux(stream.encode(None))
    added = tasks.add_footage(library, "m1", path)
    assert (added.look["width"], [t["used"] for t in added.look["tracks"]]) == (128, [False, True])
    before = path.read_bytes()
    kept = tasks.choose_tracks(library, added.id, picture=1)
    assert (kept.id, kept.look["width"], kept.copied) == (added.id, 64, True)
    assert (library.folder / "uploads") in Path(kept.path).parents
    assert path.read_bytes() == before
    with pytest.raises(OutOfRange):
        tasks.choose_tracks(library, added.id, picture=4)
    assert library.footage_file(added.id) == kept


def test_bare_pictures_are_packed_and_added(library, tmp_path):
    bare = tmp_path / "bare.h264"
    with av.open(str(film(tmp_path / "a.mp4"))) as old, av.open(str(bare), "w", format="h264") as new:
        stream = new.add_stream_from_template(old.streams.video[0])
        for packet in old.demux(video=0):
            if packet.dts is not None:
                packet.stream = stream
                new.mux(packet)
    added = tasks.add_bare(library, "m1", bare, 50.0)
    assert (added.copied, added.look["frames"], added.end_us) == (True, 25, 500_000)


def test_a_clip_is_told_in_words(tmp_path):
    made = tasks.cut_clip(film(tmp_path / "a.mp4"), 0.0, 0.4, tmp_path / "c.mp4", library_folder=tmp_path)
    (line, *_) = cut_lines(made)
    assert line.startswith("Saved: ")
    assert "Cut(" not in line
    assert "10 frames, 64 × 48, without sound." in line
