"""What the Aim page opens with: the serve a player was measured at most, or an example shipped with it."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path

from goodlength import tasks
from goodlength.aim.serve_goals import KINDS
from goodlength.files.json_types import JsonObject
from goodlength.record.store import Library
from goodlength.tasks.aim.serve_aim import FEWEST_BALLS
from goodlength.tasks.footage.serve_measurement import measured_by_kind

EXAMPLE = Path(__file__).with_name("aim_example.json")
EXAMPLE_WORDS = (
    "An example: a lob from the right box by a club player, with a scatter that is a guess. "
    "Choose your player and serve on the left."
)


@cache
def example_view() -> JsonObject:
    """Return the answer to the page's usual question, as `aim_view.answer_view` gives it.

    It is calculated beforehand: on a new computer the first calculation takes half a minute.
    `scripts/aim_example.py` calculates it again, and a test compares the two.
    """
    read: JsonObject = json.loads(EXAMPLE.read_text(encoding="utf-8"))
    return read


def measured_question(library: Library) -> dict[str, str]:
    """Return the fields of the form for the player and serve measured most in the newest match with any.

    Matches of the demo count only where there are no others. Empty where too few serves were measured.
    """
    heads = library.match_heads()
    own = [head for head in heads if not head.demo] or heads
    counts = library.counts([head.id for head in own])
    measured = [head for head in own if head.id in counts and counts[head.id].measured]
    if not measured:
        return {}
    newest = max(measured, key=lambda head: (head.played_on is not None, head.played_on, head.id))
    info = library.match_info(newest.id)
    player = info.players[info.coached.place]
    groups = measured_by_kind(tasks.open_matches(library, player))
    kinds = {goal.kind for goal in KINDS}
    asked = {(kind, box): len(serves) for (kind, box), serves in groups.items() if kind in kinds}
    if not asked or sum(asked.values()) < FEWEST_BALLS:
        return {}
    kind, box = max(asked, key=lambda serve: (asked[serve], serve))
    return {"player": player, "kind": kind, "box": box}
