"""One scripted rally, and the reader of the tables that hold the rallies."""

from __future__ import annotations

from dataclasses import dataclass, replace

from goodlength.record.model import Ending, Left, ReturnKind, ShotType
from goodlength.scoring.scoring_types import Box, Side

NOTHING = "-"
SKIPPED = "?"


@dataclass(frozen=True)
class RallyPlan:
    """What an invented rally was, before it has times.

    None is "not asked" (a service fault answers the rest); a name in `skipped` was asked and passed over.
    `shots` is how many shots it had, the serve and a last shot into the tin included.
    """

    game: int
    n_in_game: int
    server: Side
    box: Box
    kind: str
    winner: Side | None
    ending: Ending
    how: ReturnKind | None = None
    left: Left | None = None
    stroke: ShotType | None = None
    volley: bool = False
    shots: int = 1
    skipped: frozenset[str] = frozenset()
    fault_why: str | None = None
    called: str | None = None
    note: str = ""
    keep: bool = False

    @property
    def let(self) -> bool:
        """Played again."""
        return self.ending is Ending.LET

    @property
    def receiver(self) -> Side:
        """The player who did not serve."""
        return self.server.other

    @property
    def last_striker(self) -> Side:
        """Who hit the last shot; the serve is shot 1."""
        return self.server if self.shots % 2 else self.server.other


def read_game(game: int, table: str) -> tuple[RallyPlan, ...]:
    """Return the rallies of one game from its table.

    A line is: server, box, kind, how taken, left, winner, ending, stroke, shots, then marks (`keep`,
    `volley`, `why=WORD`, `called=WORD`, and last `note=` with words to the end of the line).
    `-` is nothing, `?` a question that was passed over.
    """
    lines = [line for line in table.strip().splitlines() if line.strip()]
    return tuple(_read(game, i + 1, line.strip()) for i, line in enumerate(lines))


def _read(game: int, n: int, line: str) -> RallyPlan:
    line, _, note = line.partition(" note=")
    server, box, kind, how, left, winner, ending, stroke, shots, *marks = line.split()
    answers = {"return.how": how, "return.left": left, "ending.stroke": stroke}
    plan = RallyPlan(
        game,
        n,
        Side(server.lower()),
        Box.RIGHT if box == "R" else Box.LEFT,
        kind,
        None if winner == NOTHING else Side(winner.lower()),
        Ending(ending),
        None if how in (NOTHING, SKIPPED) else ReturnKind(how),
        None if left in (NOTHING, SKIPPED) else Left(left),
        None if stroke in (NOTHING, SKIPPED) else ShotType(stroke),
        shots=int(shots),
        skipped=frozenset(what for what, word in answers.items() if word == SKIPPED),
        note=note,
    )
    for mark in marks:
        name, _, value = mark.partition("=")
        if name in ("keep", "volley"):
            plan = replace(plan, keep=plan.keep or name == "keep", volley=plan.volley or name == "volley")
        elif name == "why":
            plan = replace(plan, fault_why=value)
        else:
            plan = replace(plan, called=value)
    return plan
