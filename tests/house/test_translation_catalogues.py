"""The catalogues hold every sentence of the source, translated, each with the names that stand in braces."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from babel.messages.catalog import Catalog

from scripts import translation_catalogues

ROOT = Path(__file__).resolve().parents[2]


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
