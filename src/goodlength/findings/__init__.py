"""findings: what a record says, how sure it is, and the rallies behind it.

Counts, shares with ranges, tests against luck, grades, and the words for them; plain arrays in
(`record.table.RallyTable`), frozen results out. It never reads the store or pictures, and never writes.
Public names: `find`, `Names`, `Pronoun`, `Findings`, `Finding`, `Grade`, `Share`, `as_json`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from goodlength.findings.model import Finding, Findings, Grade, Names, Pronoun, Share

if TYPE_CHECKING:
    from goodlength.findings.forms import as_json
    from goodlength.findings.read import find

__all__ = ["Finding", "Findings", "Grade", "Names", "Pronoun", "Share", "as_json", "find"]


def __getattr__(name: str) -> Any:
    """Load the working parts (scipy) only when they are called."""
    if name == "find":
        from goodlength.findings.read import find

        return find
    if name == "as_json":
        from goodlength.findings.forms import as_json

        return as_json
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
