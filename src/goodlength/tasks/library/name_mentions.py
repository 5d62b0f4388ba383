"""Find other mentions of a person's name: notes, typed texts, handouts of other players.

What is found is listed for the coach to decide on; nothing is deleted here.
"""

from __future__ import annotations

import html
import re
import unicodedata
import zipfile
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import unquote

from goodlength.files import library_layout
from goodlength.files.locked_json_file import JsonFile
from goodlength.record.player_and_match_display_names import title_of
from goodlength.record.record_json_conversion import entry_to_plain, info_to_plain
from goodlength.tasks.people.player_records_and_consent import players_of

if TYPE_CHECKING:
    from goodlength.record.model import MatchInfo
    from goodlength.record.store import Library

MOST_BYTES = 20_000_000  # of one text within a pack
NameTest = Callable[[str], Any]
TOGETHER_S = 120.0  # ASSUMED_: a PDF and its page are written right after one another
LEAST_LETTERS = 3  # shorter parts of a name stand in too many words
_TEXT = (".json", ".html", ".txt", ".csv", ".vtt", ".md")


@dataclass(frozen=True)
class Mention:
    """A place that holds a person's name: in words, and the file where it is one."""

    words: str
    path: str | None = None


def named_pattern(name: str) -> re.Pattern[str]:
    """Return a pattern for a whole name or any part of it long enough, as words of their own.

    It is for text that went through `plain_text`. The whole name is found without its spaces too.

    Examples
    --------
    >>> pattern = named_pattern("Dana Wu")
    >>> texts = ("with DANA wu", "Dana was late", "bandana", "Wu", "DanaWu_final.mp4")
    >>> [bool(pattern.search(plain_text(one))) for one in texts]
    [True, True, False, False, True]
    """
    plain = plain_text(name)
    parts = [plain, plain.replace(" ", ""), *(part for part in plain.split() if len(part) >= LEAST_LETTERS)]
    spaced = [re.escape(part).replace(r"\ ", r"\s+") for part in dict.fromkeys(parts) if part.strip()]
    return re.compile(rf"(?<!\w)(?:{'|'.join(spaced)})(?!\w)", re.IGNORECASE)


def plain_text(text: str) -> str:
    r"""Return a text as it reads: marks of HTML and addresses resolved, one form for each letter.

    Examples
    --------
    >>> plain_text("O&#39;Hara_1"), plain_text("Zoe\u0308%20A") == "zo\xeb a", plain_text("Da\xadna")
    ("o'hara 1", True, 'dana')
    """
    whole = unicodedata.normalize("NFKC", html.unescape(unquote(text)).replace("\xad", ""))
    return whole.casefold().replace("_", " ").replace("\u2019", "'").replace("\u200b", "")


def _holder(name: str) -> NameTest:
    """Return whether a text holds a name."""
    pattern = named_pattern(name)
    return lambda text: pattern.search(plain_text(text))


def mentions(library: Library, name: str, without: frozenset[str] = frozenset()) -> tuple[Mention, ...]:
    """Return every place outside some matches that holds a name.

    Parameters
    ----------
    without : frozenset of str
        Ids of matches that are erased anyway.
    """
    if not name.strip():
        return ()
    has_name = _holder(name)
    found: list[Mention] = []
    for info in library.matches():
        if info.id not in without:
            found += _of_match(library, info, has_name)
    return (*found, *_of_people(library, has_name, name), *_of_files(library.folder, has_name))


def _of_match(library: Library, info: MatchInfo, has_name: NameTest) -> Iterator[Mention]:
    """Notes and details of one match; the names of its own players stand elsewhere."""
    title = title_of(*players_of(library, info))
    count = sum(
        1
        for entry in library.entries(info.id)
        if _in_plain([entry_to_plain(entry)[key] for key in ("value", "observer")], has_name)
    )
    if count:
        yield Mention(
            f"{count} {'answer or note' if count == 1 else 'answers or notes'} of the match {title}"
        )
    details = {key: value for key, value in info_to_plain(info).items() if key not in ("id", "players")}
    if _in_plain(details, has_name):
        yield Mention(f"the details of the match {title}")
    for file in library.footage(info.id):
        if has_name(file.path) or _in_plain(file.look, has_name):
            yield Mention(f"the name of a video of the match {title}", file.path)
    for clip in library.clips(info.id):
        if has_name(clip.path):
            yield Mention(f"the name of a clip of the match {title}", clip.path)


def _of_people(library: Library, has_name: NameTest, name: str) -> Iterator[Mention]:
    """Notes on other players, who gave consent for them, their practice log, and settings."""
    for player in library.players():
        if player.name == name:
            continue
        texts = [player.name, *(str(consent) for consent in library.consents(player.id)), str(player)]
        if any(has_name(text) for text in texts):
            yield Mention(f"the details or consents of {player.name}")
        if any(has_name(str(entry)) for entry in library.practice(player.id)):
            yield Mention(f"the practice log of {player.name}")
    for kind in library.kinds():
        if has_name(kind.words):
            yield Mention(f"the kind of serve “{kind.words}”")
    for key, value in library.settings().items():
        if _in_plain(value, has_name):
            yield Mention(f"the setting {key}")


def _in_plain(value: Any, has_name: NameTest) -> bool:
    """Return whether any text within plain values holds the name."""
    if isinstance(value, str):
        return bool(has_name(value))
    if isinstance(value, dict):
        return any(_in_plain(item, has_name) for item in value.values())
    if isinstance(value, list | tuple):
        return any(_in_plain(item, has_name) for item in value)
    return False


def _of_files(folder: Path, has_name: NameTest) -> Iterator[Mention]:
    """Yield files that hold the name as text or in their own name; a PDF is searched by the page made with
    it.
    """
    for name, path, kind in library_layout.files_in(folder):
        if kind is None or not kind.erased:
            continue
        if has_name(path.name) or _file_holds(path, has_name):
            yield Mention(f"the file {name}", str(path))
        elif path.suffix == ".pdf" and not _has_its_page(path):
            yield Mention(f"the file {name}, which cannot be searched", str(path))
        elif path.suffix == ".zip" and _hides_a_pdf(path):
            yield Mention(f"the file {name}, with a PDF which cannot be searched", str(path))


def _has_its_page(pdf: Path) -> bool:
    """Return whether the page with the same words lies beside a PDF: both are written together."""
    page = pdf.with_suffix(".html")
    try:
        return abs(page.stat().st_mtime - pdf.stat().st_mtime) <= TOGETHER_S
    except OSError:
        return False


def _hides_a_pdf(path: Path) -> bool:
    """Return whether a pack holds a PDF without its page."""
    try:
        with zipfile.ZipFile(path) as packed:
            names = {zip_info.filename.casefold() for zip_info in packed.infolist()}
    except (OSError, ValueError, zipfile.BadZipFile, NotImplementedError):
        return False
    return any(name.endswith(".pdf") and f"{name[:-4]}.html" not in names for name in names)


def _file_holds(path: Path, has_name: NameTest) -> bool:
    if path.suffix == ".zip":
        return _zip_holds(path, has_name)
    if path.suffix == ".pdf":
        return _file_holds(path.with_suffix(".html"), has_name)
    if path.suffix not in _TEXT:
        return False
    if path.suffix == ".json" and (plain := JsonFile(path).shown()):
        return _in_plain(plain, has_name)
    try:
        text = path.read_text(encoding="utf-8", errors="replace")
    except OSError:
        return False
    if path.suffix == ".json":  # damaged: its letters may be written as numbers
        text = re.sub(r"\\u([0-9a-fA-F]{4})", lambda found: chr(int(found[1], 16)), text)
    return _text_holds(text, has_name)


def _zip_holds(path: Path, has_name: NameTest) -> bool:
    """Return whether a page or table packed for sending holds the name."""
    try:
        with zipfile.ZipFile(path) as packed:
            return any(
                has_name(zip_info.filename)
                or (
                    Path(zip_info.filename).suffix in _TEXT
                    and zip_info.file_size <= MOST_BYTES
                    and _text_holds(packed.read(zip_info).decode("utf-8", "replace"), has_name)
                )
                for zip_info in packed.infolist()
            )
    except (OSError, ValueError, zipfile.BadZipFile, zlib.error, NotImplementedError, RuntimeError):
        return False


def _text_holds(text: str, has_name: NameTest) -> bool:
    """Without letters and stills that a page carries in itself."""
    return bool(has_name(re.sub(r"<style.*?</style>|data:[^\"')]*", " ", text, flags=re.DOTALL)))
