"""The sentences of the pages to be translated: of templates, and words that `web` hands to them.

Usage: python scripts/page_translation_catalogues.py [--check]
    --check   change nothing: 0 if every catalogue is fresh and fits its sentences, 1 with what is not

A language need not be complete: what is not translated is shown in English. How far each part of the pages
is translated is printed.
"""

from __future__ import annotations

import ast
import re
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from babel.messages.catalog import Catalog

from goodlength.languages.spoken_language import PAGE_CATALOGUES
from goodlength.web.page_language.template_sentences import is_for_readers, sentences, words_of_expressions

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from scripts.translation_catalogues import SOURCE, WRITTEN, text_of, updated

TEMPLATE = PAGE_CATALOGUES / "messages.pot"
TEMPLATES = SOURCE / "web" / "templates"
_MARKS = re.compile(r"\{\w+\}|</?\w+>")


def found_sentences() -> Iterator[tuple[str, str]]:
    """Yield each sentence with the file it stands in, below `web`."""
    for path in sorted(TEMPLATES.rglob("*.html")):
        source = path.read_text(encoding="utf-8")
        place = path.relative_to(SOURCE).as_posix()
        for words in (*sentences(source), *words_of_expressions(source)):
            yield place, words
    for path in sorted((SOURCE / "web").rglob("*.py")):
        for words in constant_words(path.read_text(encoding="utf-8")):
            yield path.relative_to(SOURCE).as_posix(), words


def constant_words(source: str) -> list[str]:
    """Return strings of a module that are words for a reader: no part of another string, no docstring."""
    tree = ast.parse(source)
    passed_over: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            passed_over |= {id(value) for value in node.values}
        elif isinstance(node, ast.Expr):  # a docstring
            passed_over.add(id(node.value))
    return [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant)
        and isinstance(node.value, str)
        and id(node) not in passed_over
        and is_for_readers(node.value)
    ]


def collected() -> Catalog:
    """Return every sentence of the pages, with the files it stands in."""
    catalogue = Catalog(
        project="goodlength", fuzzy=False, creation_date=WRITTEN, revision_date=WRITTEN, charset="utf-8"
    )
    catalogue.header_comment = "# Sentences of the pages of goodlength, to be translated."
    places: dict[str, set[str]] = {}
    for place, words in found_sentences():
        places.setdefault(words, set()).add(place)
    for words, stands_in in places.items():
        catalogue.add(words, None, [(place, 0) for place in sorted(stands_in)], flags=())
    for message in catalogue:
        message.flags.discard("python-format")
    return catalogue


def faults_of(catalogue: Catalog, name: str) -> list[str]:
    """Return translations that hold other names in braces, or other tags, than their sentence."""
    return [
        f"{name}: other names or tags than {sorted(_MARKS.findall(str(message.id)))}: {message.string}"
        for message in catalogue
        if message.id
        and message.string
        and Counter(_MARKS.findall(str(message.string))) != Counter(_MARKS.findall(str(message.id)))
    ]


def shares(catalogue: Catalog) -> dict[str, tuple[int, int]]:
    """Return for each part of the pages how many of its sentences are translated, of how many."""
    out: dict[str, tuple[int, int]] = {}
    for message in catalogue:
        if not message.id:
            continue
        for part in {_part(place) for place, _ in message.locations}:
            done, of = out.get(part, (0, 0))
            out[part] = (done + bool(message.string), of + 1)
    return dict(sorted(out.items()))


def _part(place: str) -> str:
    """Return the folder of templates; "python" for a module."""
    return place.split("/")[2] if place.startswith("web/templates/") else "python"


def main() -> int:
    """Write the catalogues anew, or look whether they are; 0 if all is well."""
    check = "--check" in sys.argv[1:]
    template = collected()
    files = {TEMPLATE: text_of(template)}
    faults, lines = [], []
    for path in sorted(PAGE_CATALOGUES.glob("*.po")):
        catalogue = updated(path, template)
        for message in catalogue:
            message.flags.discard("python-format")
        files[path] = text_of(catalogue)
        faults += faults_of(catalogue, path.name)
        whole = [message for message in catalogue if message.id]
        lines.append(
            f"{path.stem}: {sum(bool(message.string) for message in whole)} of {len(whole)} sentences"
        )
        lines += [f"  {part}: {done} of {of}" for part, (done, of) in shares(catalogue).items()]
    for path, text in files.items():
        if check and (not path.exists() or path.read_text(encoding="utf-8") != text):
            faults.append(
                f"pages/{path.name} is not fresh: run python scripts/page_translation_catalogues.py"
            )
        elif not check:
            path.write_text(text, encoding="utf-8")
    sys.stdout.write("".join(f"{line}\n" for line in (*faults, *lines)))
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
