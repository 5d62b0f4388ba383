"""Plain counts for a handout on which nothing is clear: what was played, what went well, what to try.

Each is chosen by a rule that is stated here and in docs/reasons/handout.md, the first that applies:

- Played: rallies, those won, and serves by kind.
- Went well: the kind of serve, of those served at least five times, that won the largest share of its
  rallies, if that is half or more; else the most rallies won in a row in one game, if three or more; else
  the game with the most points.
- To try: the kind of serve served one to four times, and not at the body, with the most weak returns among
  its returns; else any one kind, on purpose. Too few to judge is a reason to find out, never a reason that it
  works.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from goodlength.findings import Findings
    from goodlength.findings.result_types import EffectRow
    from goodlength.languages import Language
    from goodlength.record.model import Match, Rally

ENOUGH = 5  # serves of a kind: fewer are drawn open on the handout and judged nowhere
IN_A_ROW = 3  # rallies; ASSUMED_ to be worth a line
KEYS = ("plain:played", "plain:well", "plain:try")


@dataclass(frozen=True)
class PlainCount:
    """One plain count of the coached player, in words to the player; no grade, since nothing is claimed."""

    key: str
    label: str
    headline: str
    words: str


def plain_counts(match: Match, found: Findings, spoken: Language) -> tuple[PlainCount, ...]:
    """Return at most three plain counts, empty for a match without a rally that somebody won."""
    decided = [rally for rally in match.rallies if rally.winner is not None]
    if not decided:
        return ()
    made = (_played(match, decided, found, spoken), _well(match, decided, found, spoken), _try(found, spoken))
    return tuple(count for count in made if count is not None)


def _played(match: Match, decided: list[Rally], found: Findings, spoken: Language) -> PlainCount:
    won = sum(rally.winner is match.info.coached for rally in decided)
    served = [
        f"{spoken.known(row.words)}\u00a0{spoken.number(row.whole.count)}"
        for row in found.tables.serves
        if row.whole.count
    ]
    words = spoken.phrase("Serves by kind: {kinds}.", kinds=spoken.listing(served)) if served else ""
    return PlainCount(
        KEYS[0],
        spoken.phrase("What was played"),
        spoken.phrase_of(
            "You won {won} of {n} rally.",
            "You won {won} of {n} rallies.",
            len(decided),
            won=spoken.number(won),
        ),
        words or spoken.phrase("The kinds of your serves were not logged."),
    )


def _well(match: Match, decided: list[Rally], found: Findings, spoken: Language) -> PlainCount | None:
    label = spoken.phrase("What went well")
    if row := _best_kind(found):
        return PlainCount(
            KEYS[1],
            label,
            spoken.phrase(
                "{kind}: you won {count} of {of} rallies.",
                kind=spoken.known(row.words),
                count=spoken.number(row.won.count),
                of=spoken.number(row.won.of),
            ),
            spoken.phrase(
                "Of the serves you used at least five times, this kind won you the largest share of its "
                "rallies. That may be chance."
            ),
        )
    run = max(_runs(match, decided), key=len, default=[])
    if len(run) >= IN_A_ROW:
        return PlainCount(
            KEYS[1],
            label,
            spoken.phrase("You won {n} rallies in a row.", n=spoken.number(len(run))),
            spoken.phrase("That was your longest run, in game\u00a0{game}.", game=run[0].game),
        )
    return _best_game(match, label, spoken)


def _best_kind(found: Findings) -> EffectRow | None:
    """Return the kind that won the largest share of its rallies; of two alike that served more often."""
    rows = [row for row in found.tables.effects if row.won.of >= ENOUGH and 2 * row.won.count >= row.won.of]
    return max(rows, key=lambda row: (row.won.count / row.won.of, row.won.of), default=None)


def _runs(match: Match, decided: list[Rally]) -> Iterator[list[Rally]]:
    """Yield rallies the coached player won one after the other in one game, lets left out."""
    me = match.info.coached
    for (_, mine), rallies in groupby(decided, key=lambda rally: (rally.game, rally.winner is me)):
        if mine:
            yield list(rallies)


def _best_game(match: Match, label: str, spoken: Language) -> PlainCount | None:
    me = match.info.coached.place
    best = max(match.games, key=lambda game: game.points[me] - game.points[1 - me] / 100, default=None)
    if best is None or not best.points[me]:
        return None
    score = f"{best.points[me]}–{best.points[1 - me]}"
    return PlainCount(
        KEYS[1],
        label,
        spoken.phrase("Your most points in one game: {points}.", points=spoken.number(best.points[me])),
        spoken.phrase("That was game\u00a0{game}, {score}.", game=best.n, score=score),
    )


def _try(found: Findings, spoken: Language) -> PlainCount | None:
    label = spoken.phrase("To try")
    served = {row.kind: row.whole for row in found.tables.serves}
    rare = [
        row
        for row in found.tables.effects
        if row.kind in served
        and 0 < served[row.kind].count < ENOUGH
        and not row.kind.startswith(("body", "other"))
    ]
    if rare:
        row = max(rare, key=_share_of_weak)
        whole = served[row.kind]
        return PlainCount(
            KEYS[2],
            label,
            spoken.phrase("Try more: {kind}.", kind=spoken.known(row.words)),
            spoken.phrase(
                "{count} of {of} serves were of this kind: too few to judge. Serve it ten times in practice "
                "games, and count the weak returns.",
                count=spoken.number(whole.count),
                of=spoken.number(whole.of),
            ),
        )
    return PlainCount(
        KEYS[2],
        label,
        spoken.phrase("Try one kind of serve on purpose."),
        spoken.phrase(
            "Choose one before the game, serve it ten times in practice games, and count the weak returns: "
            "then there is something to compare."
        ),
    )


def _share_of_weak(row: EffectRow) -> float:
    return row.whole.count / row.whole.of if row.whole is not None and row.whole.of else -1.0
