"""A match to hand to a second observer: players, details and times of rallies, without any answer.

Logged there and exported, it comes back as one file, which `add_layer` puts beside the first log.
"""

from __future__ import annotations

from dataclasses import replace
from hashlib import sha256

from goodlength.record.entry_sequence_builder import EntryWriter
from goodlength.record.import_export import Document, to_json
from goodlength.record.model import DEFAULT_KINDS, EntryKind, KindOfServe, Player
from goodlength.tasks.match.lazy_match import OpenMatch

SECOND = "second observer"


def second_observer_file(opened: OpenMatch) -> str:
    """Return the match as JSON for a second observer.

    It holds the two names and hands, the details of the match, and when each rally starts and ends, so that
    both logs are matched by time. Answers, notes, drawings, consents and places of files stay here. The
    match has an id of its own: brought into the same library it stands beside the first, never in it.
    """
    info = opened.info
    match_id = f"second-{sha256(info.id.encode()).hexdigest()[:12]}"
    pen = EntryWriter(match_id, SECOND, mark=f"{match_id}-")
    for rally in opened.match.rallies:
        if rally.start_us is not None and rally.end_us is not None:
            span = {"start_us": rally.start_us, "end_us": rally.end_us, "how": "marked"}
            pen.write(rally.key, EntryKind.SPAN, span)
    first, second = (Player(player.id, player.name, player.hand) for player in opened.players)
    details = replace(info, id=match_id, observer=SECOND, footage=(), demo=False)
    return to_json(Document(details, (first, second), (), tuple(pen.entries)))


def timed_rallies(opened: OpenMatch) -> int:
    """Return how many rallies of the file have a time."""
    return sum(rally.start_us is not None and rally.end_us is not None for rally in opened.match.rallies)


def own_kinds(opened: OpenMatch) -> tuple[KindOfServe, ...]:
    """Return the kinds of serve offered here that a fresh library lacks or words otherwise."""
    usual = {kind.id: kind.words for kind in DEFAULT_KINDS}
    return tuple(kind for kind in opened.kinds if not kind.retired and usual.get(kind.id) != kind.words)
