"""record.exchange: a match as a file for others, and back.

Own JSON with everything (`document`), CSV with one line a rally or a shot (`csvout`, `csvin`), WebVTT
chapters (`vtt`). It never guesses in silence and never writes to the store.
"""

from goodlength.record.exchange.csvin import Preview, from_csv_preview
from goodlength.record.exchange.csvout import shots_csv, to_csv
from goodlength.record.exchange.csvshots import shots_from_csv
from goodlength.record.exchange.document import Document, Reading, from_json, to_json
from goodlength.record.exchange.vtt import to_vtt

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
