"""Enumerations of the words that answers are chosen from."""

from __future__ import annotations

PLACES = (
    "front-left",
    "front-middle",
    "front-right",
    "mid-left",
    "middle",
    "mid-right",
    "back-left",
    "back-middle",
    "back-right",
)
QUARTERS = ("front-left", "front-right", "back-left", "back-right")
RECEIVER_PLACES = ("usual", "up", "back", "wide")
RETURN_TO = ("straight", "cross-court", "boast", "short", *PLACES)
