"""The sentences to be translated, collected from the source; each language's file brought up to date.

Usage: python scripts/translation_catalogues.py [--check]
    --check   change nothing: 0 if every catalogue is fresh and complete, 1 with what is not
"""

from __future__ import annotations

import io
import string
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

from babel.messages.catalog import Catalog, Message
from babel.messages.extract import extract_from_dir
from babel.messages.pofile import read_po, write_po

from goodlength.practice.planning.drill_library import DRILLS
from goodlength.record.model import DEFAULT_KINDS
from goodlength.show.draw.evidence_grade_icons import WORDS

ROOT = Path(__file__).resolve().parent.parent
SOURCE = ROOT / "src" / "goodlength"
CATALOGUES = SOURCE / "languages" / "catalogues"
TEMPLATE = CATALOGUES / "messages.pot"
KEYWORDS = {"phrase": None, "phrase_in": ((1, "c"), 2), "phrase_of": (1, 2), "to_translate": None}
HOW_OVER = ("retired", "disqualified")
WIDTH = 110
WRITTEN = datetime(2026, 11, 30, tzinfo=UTC)  # of every header, so that the same sentences give the same file


def collected() -> Catalog:
    """Return every sentence of the source, with the modules it stands in."""
    catalogue = Catalog(
        project="goodlength", fuzzy=False, creation_date=WRITTEN, revision_date=WRITTEN, charset="utf-8"
    )
    catalogue.header_comment = "# Sentences of goodlength, to be translated."
    found = extract_from_dir(
        SOURCE, [("**.py", "python")], {"**.py": {"encoding": "utf-8"}}, KEYWORDS, ("For translators:",)
    )
    places: dict[object, set[str]] = {}
    ordered = []
    for path, _line, message, comments, context in sorted(found, key=lambda place: (place[0], place[1])):
        key = (message, context)
        if key not in places:
            ordered.append((message, comments, context))
        places.setdefault(key, set()).add(Path(path).as_posix())
    for place, sentence in tables():
        if (sentence, None) not in places:
            ordered.append((sentence, [], None))
        places.setdefault((sentence, None), set()).add(place)
    for message, comments, context in ordered:
        locations = [(path, 0) for path in sorted(places[message, context])]
        catalogue.add(message, None, locations, auto_comments=comments, context=context)
    return catalogue


def tables() -> Iterator[tuple[str, str]]:
    """Yield words that are kept in tables and said as they stand, each with its module."""
    for words in WORDS.values():
        yield "show/draw/evidence_grade_icons.py", words
    for kind in DEFAULT_KINDS:
        yield "record/model.py", kind.words
    for drill in DRILLS:
        for words in (drill.name, drill.do):
            yield "practice/planning/drill_library.py", words
    for words in HOW_OVER:
        yield "tasks/sharing/handout_content_and_files.py", words


def text_of(catalogue: Catalog) -> str:
    """Return a catalogue as its file."""
    written = io.BytesIO()
    write_po(written, catalogue, width=WIDTH, include_lineno=False, ignore_obsolete=True)
    return written.getvalue().decode("utf-8")


def updated(path: Path, template: Catalog) -> Catalog:
    """Return a language's catalogue with the sentences of the source, keeping what is translated."""
    with path.open("rb") as file:
        catalogue = read_po(file, locale=path.stem)
    catalogue.update(template, no_fuzzy_matching=True)
    catalogue.creation_date = catalogue.revision_date = WRITTEN
    return catalogue


def faults_of(catalogue: Catalog, name: str) -> list[str]:
    """Return what is missing or wrong in a language's catalogue."""
    faults = []
    for message in catalogue:
        if not message.id:
            continue
        texts = message.string if isinstance(message.string, tuple) else (message.string,)
        if not all(texts) or message.fuzzy:
            faults.append(f"{name}: not translated: {message.id}")
            continue
        faults += [
            f"{name}: other names in braces than {sorted(names)}: {text}"
            for text, names in ((text, _wanted(message, n)) for n, text in enumerate(texts))
            if _names(text) not in (names, names - {"n"})
        ]
    return faults


def _wanted(message: Message, form: int) -> set[str]:
    if isinstance(message.id, tuple):
        return _names(message.id[min(form, 1)]) | _names(message.id[1])
    return _names(message.id)


def _names(text: str) -> set[str]:
    """Return the names in braces of a sentence."""
    return {name for _, name, _, _ in string.Formatter().parse(text) if name is not None}


def main() -> int:
    """Write the catalogues anew, or look whether they are; 0 if all is well."""
    check = "--check" in sys.argv[1:]
    template = collected()
    files = {TEMPLATE: text_of(template)}
    faults = []
    for path in sorted(CATALOGUES.glob("*.po")):
        catalogue = updated(path, template)
        files[path] = text_of(catalogue)
        faults += faults_of(catalogue, path.name)
    for path, text in files.items():
        if check and (not path.exists() or path.read_text(encoding="utf-8") != text):
            faults.append(f"{path.name} is not fresh: run python scripts/translation_catalogues.py")
        elif not check:
            path.write_text(text, encoding="utf-8")
    sys.stdout.write("".join(f"{fault}\n" for fault in faults))
    if not faults:
        sys.stdout.write(f"{len(list(template)) - 1} sentences, {len(files) - 1} languages beside English\n")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
