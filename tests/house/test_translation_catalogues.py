"""The catalogues hold every sentence of the source, translated, each with the names that stand in braces."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from babel.messages.catalog import Catalog

from scripts import page_translation_catalogues, translation_catalogues

ROOT = Path(__file__).resolve().parents[2]


def test_every_catalogue_of_pages_is_fresh_and_fits() -> None:
    """It need not be complete: what is not translated is shown in English."""
    command = [sys.executable, "scripts/page_translation_catalogues.py", "--check"]
    done = subprocess.run(command, cwd=ROOT, check=False, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr


def test_a_translation_with_other_names_or_tags_is_found() -> None:
    catalogue = Catalog(locale="de")
    catalogue.add("<b>{count}</b> of {of}", "<b>{count}</b> von {of}")
    catalogue.add("Open {name}", "{nam} öffnen")
    catalogue.add("<a>Open</a>", "<a>Öffnen")
    assert len(page_translation_catalogues.faults_of(catalogue, "de.po")) == 2


def test_words_for_a_reader_are_told_from_names_of_the_program() -> None:
    source = (
        '"""Docstring here."""\nWORDS = {"a.b": "Who won", "c": "no-such", "d": f"Some {1}", "e": "/x y"}'
    )
    assert page_translation_catalogues.constant_words(source) == ["Who won"]


def test_every_catalogue_is_fresh_and_complete() -> None:
    command = [sys.executable, "scripts/translation_catalogues.py", "--check"]
    done = subprocess.run(command, cwd=ROOT, check=False, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
    assert done.stderr == "", "a sentence is put together before it can be translated"


def test_what_is_missing_or_names_something_else_is_found() -> None:
    catalogue = Catalog(locale="de")
    catalogue.add("{count} of {of}", "{count} von {off}")
    catalogue.add("Notes")
    catalogue.add(("{n} serve", "{n} serves"), ("ein Aufschlag", "{n} Aufschläge"))
    faults = translation_catalogues.faults_of(catalogue, "de.po")
    assert len(faults) == 2, faults
    assert "other names in braces than ['count', 'of']" in faults[0]
    assert faults[1] == "de.po: not translated: Notes"
