"""record.import_export: a match as a file for others, and back.

Own JSON with everything (`document`), CSV with one line a rally or a shot (`csvout`, `csvin`), WebVTT
chapters (`vtt`). It never guesses in silence and never writes to the store.
"""

from goodlength.record.import_export.match_csv_export import shots_csv, to_csv
from goodlength.record.import_export.match_json_document import (
    Document,
    Reading,
    from_json,
    to_json,
)
from goodlength.record.import_export.rally_csv_import import Preview, from_csv_preview
from goodlength.record.import_export.shot_csv_import import shots_from_csv
from goodlength.record.import_export.webvtt_export import to_vtt

__all__ = [
    "Document",
    "Preview",
    "Reading",
    "from_csv_preview",
    "from_json",
    "shots_csv",
    "shots_from_csv",
    "to_csv",
    "to_json",
    "to_vtt",
]
