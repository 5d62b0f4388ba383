"""What the Aim page opens with: the serve a player was measured at most, or an example shipped with it."""

from __future__ import annotations

import json
from datetime import date
from functools import cache
from pathlib import Path

from goodlength import tasks
from goodlength.aim.serve_goals import KINDS
from goodlength.files.json_types import JsonObject
from goodlength.record.store import Library
from goodlength.tasks.aim.serve_aim import FEWEST_BALLS
from goodlength.tasks.ball.player_measured_serves import may_have_serves, measured_by_kind

MOST_MATCHES = 3  # in which a player with measured serves is looked for, from the newest on
EXAMPLE = Path(__file__).with_name("aim_page_first_answer.json")
EXAMPLE_WORDS = (
    "An example: a lob from the right box by a club player, with a scatter that is a guess. "
    "Choose your player and serve on the left."
)


@cache
def example_view() -> JsonObject:
    """Return the answer to the page's usual question, as `aim_view.answer_view` gives it.

    It is calculated beforehand: on a new computer the first calculation takes half a minute.
    `scripts/write_aim_page_example.py` calculates it again, and a test compares the two.
    """
    read: JsonObject = json.loads(EXAMPLE.read_text(encoding="utf-8"))
    return read


def measured_question(library: Library) -> dict[str, str]:
    """Return the fields of the form for a newest match's player, and the serve of theirs measured most.

    Matches of the demo count only where there are no others. Empty where too few serves were measured.
    """
    heads = library.match_heads()
    own = [head for head in heads if not head.demo] or heads
    counts = library.counts([head.id for head in own])
    measured = [head for head in own if may_have_serves(library, head.id, counts)]
    kinds = {goal.kind for goal in KINDS}
    newest = sorted(measured, key=lambda head: (head.played_on or date.min, head.id), reverse=True)
    infos = [library.match_info(head.id) for head in newest[:MOST_MATCHES]]
    for player in dict.fromkeys(info.players[info.coached.place] for info in infos):
        groups = measured_by_kind(tasks.open_matches(library, player))
        asked = {(kind, box): len(serves) for (kind, box), serves in groups.items() if kind in kinds}
        if asked and sum(asked.values()) >= FEWEST_BALLS:
            kind, box = max(asked, key=lambda serve: (asked[serve], serve))
            return {"player": player, "kind": kind, "box": box}
    return {}
