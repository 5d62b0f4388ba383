"""record: what happened in a match, as an append-only log of entries, and the match they make.

It holds the entry types, replay to a match with all faults, the questions a coach is asked, the
exchange formats and the store. It never computes a rate, and only `record.store` knows the database.
Public here: the model. Others by module: `replay`, `questions`, `exchange`, `columns`, `store`.
"""

from goodlength.record.model import (
    DEFAULT_KINDS,
    Clip,
    Consent,
    Depth,
    Ending,
    Entry,
    EntryKind,
    Footage,
    KindOfServe,
    Left,
    Match,
    MatchInfo,
    Player,
    Rally,
    Return,
    ReturnKind,
    Serve,
    Shot,
    ShotType,
)

__all__ = [
    "DEFAULT_KINDS",
    "Clip",
    "Consent",
    "Depth",
    "Ending",
    "Entry",
    "EntryKind",
    "Footage",
    "KindOfServe",
    "Left",
    "Match",
    "MatchInfo",
    "Player",
    "Rally",
    "Return",
    "ReturnKind",
    "Serve",
    "Shot",
    "ShotType",
]
