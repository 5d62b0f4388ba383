"""Habits of an opponent on one page, from the matches on record; at most three."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

import numpy as np

from goodlength.errors import OutOfRange
from goodlength.findings.analyses.match_questions import Groups
from goodlength.findings.question_types import Question
from goodlength.findings.rally_masks import RallyMasks
from goodlength.findings.reports.findings_stratified_by_match import (
    SEVERAL,
    SeasonMatch,
    find_season,
)
from goodlength.findings.result_types import Finding, Grade, Names, PooledShare, Pronoun, Share
from goodlength.findings.statistics.evidence_grades import LEANING_SIDE
from goodlength.findings.statistics.partial_pooling_over_serve_kinds import pooled_shares
from goodlength.findings.text.sentence_grammar import (
    capital,
    label,
    noun,
    number_in_words,
    owner,
    plural,
    short,
)
from goodlength.media_time import day_words
from goodlength.record.model import Left
from goodlength.record.tables.rally_table import LEFT

HABITS = 3
_ATTACKED = LEFT.index(Left.ATTACKED)
# What one player does by habit; the rest of the list speaks of what came of it.
_HABIT = (Question.REPEAT, Question.WEAK, Question.WON, Question.CHANGE, Question.SERVE_EDGE)


@dataclass(frozen=True)
class OpponentServe:
    """One kind from one box, as this opponent returned it. `weak_shrunk` is drawn in towards the others."""

    kind: str
    words: str
    box: str  # right | left
    weak: Share
    attacked: Share
    weak_shrunk: PooledShare
    attacked_shrunk: PooledShare


@dataclass(frozen=True)
class OpponentHabits:
    """What is on record of an opponent. Lines are counts unless a grade stands beside them."""

    opponent: str
    matches: int
    last_played: date | None
    title: str
    habits: tuple[Finding, ...]
    serve: OpponentServe | None  # drew the most weak returns, drawn in towards the others
    avoid: OpponentServe | None  # was attacked most
    serves: tuple[OpponentServe, ...]
    lines: tuple[str, ...]


def brief(
    matches: Sequence[SeasonMatch],
    name: str,
    pronoun: Pronoun | None = None,
    kind_words: Mapping[str, str] | None = None,
) -> OpponentHabits:
    """Return what to know of an opponent before a match.

    Parameters
    ----------
    matches : sequence of SeasonMatch
        Matches on record of this opponent, `side` being the side this opponent played on and `opponent` who
        played against.
    name, pronoun
        The opponent.
    kind_words : mapping of str to str, optional
        The coach's words for kinds of serve.

    Returns
    -------
    Brief
        Habits with a grade come first; those too few to say follow, up to three, and say so.

    Raises
    ------
    OutOfRange
        Without a match.

    Limits
    ------
    Serves were struck by different players: what worked for one may not work for another.
    """
    if not matches:
        raise OutOfRange(f"There is no match of {name}. Log one first, or choose another player.")
    season = find_season(matches, name, pronoun, kind_words)
    habits = tuple(f for f in season.all if f.question in _HABIT and f.of and f.p is not None)[:HABITS]
    serves = _serves_against(RallyMasks(season.table), kind_words or {})
    # a serve logged as "other" is no serve to advise
    usable = [
        opponent_serve
        for opponent_serve in serves
        if opponent_serve.weak.of >= LEANING_SIDE and opponent_serve.kind != "other"
    ]
    serve = max(usable, key=lambda serve: serve.weak_shrunk.mean, default=None)
    attacked = [
        opponent_serve
        for opponent_serve in usable
        if opponent_serve.attacked.count
        and opponent_serve is not serve
        and _more_than_the_rest(opponent_serve, serves, "attacked")
        and not _more_than_the_rest(opponent_serve, serves, "weak")
    ]
    avoid = max(attacked, key=lambda serve: serve.attacked_shrunk.mean, default=None)
    days = [match.played_on for match in matches if match.played_on is not None]
    last = max(days, default=None)
    me = short(Names(name, SEVERAL), "a")
    return OpponentHabits(
        name,
        len(matches),
        last,
        _title(name, len(matches), last),
        habits,
        serve,
        avoid,
        serves,
        _lines(me, [match.opponent for match in matches], habits, serve, avoid, kind_words or {}),
    )


def _title(name: str, matches: int, last: date | None) -> str:
    some = f"{number_in_words(matches)} {plural(matches, 'match', 'matches')}"
    when = f", the last on {day_words(last)}" if last else ""
    return f"{name}: from {some}{when}."


def _serves_against(view: RallyMasks, kind_words: Mapping[str, str]) -> tuple[OpponentServe, ...]:
    """Return each kind from each box that this opponent (A in the joined table) had to return."""
    table = view.table
    against = view.served(1) & view.kind_known & view.return_known & (table.box >= 0)
    cells: Groups = (table.kind * 2 + table.box).astype(np.int16)
    rows = []
    for cell in np.unique(cells[against]):
        here = against & (cells == cell)
        weak = view.share(view.weak, here)
        rows.append((int(cell), weak, view.share(view.return_made == _ATTACKED, here)))
    weak_in = pooled_shares([weak.count for _, weak, _ in rows], [weak.of for _, weak, _ in rows])
    attacked_in = pooled_shares([share.count for _, _, share in rows], [share.of for _, _, share in rows])
    found = [
        OpponentServe(
            table.kinds[cell // 2],
            label(table.kinds[cell // 2], kind_words),
            ("right", "left")[cell % 2],
            weak,
            attacked,
            weak_pooled,
            attacked_pooled,
        )
        for (cell, weak, attacked), weak_pooled, attacked_pooled in zip(
            rows, weak_in, attacked_in, strict=True
        )
    ]
    return tuple(sorted(found, key=lambda serve: (-serve.weak_shrunk.mean, serve.kind, serve.box)))


def whose_serves(servers: Sequence[str]) -> str:
    """Return who hit the serves that a report goes by, one name a match, with what that limits.

    Examples
    --------
    >>> whose_serves(["Imogen Vale", "Imogen Vale"])
    'All these serves were Imogen’s. Another player’s serves may work better or worse.'
    """
    if len(set(servers)) == 1 and servers[0]:
        only = capital(short(Names(servers[0], ""), "a"))
        return f"All these serves were {owner(only)}. Another player’s serves may work better or worse."
    return "Several players hit these serves, perhaps unlike your player, so treat this as a starting point."


def _more_than_the_rest(
    serve: OpponentServe, serves: Sequence[OpponentServe], what: Literal["weak", "attacked"]
) -> bool:
    """Return whether a serve had such returns more often than all the others together."""

    def share_of(served: OpponentServe) -> Share:
        return served.weak if what == "weak" else served.attacked

    rest = [share_of(other) for other in serves if other is not serve]
    count, of = sum(share.count for share in rest), sum(share.of for share in rest)
    return share_of(serve).count * of > count * share_of(serve).of


def _lines(
    me: str,
    servers: Sequence[str],
    habits: Sequence[Finding],
    serve: OpponentServe | None,
    avoid: OpponentServe | None,
    kind_words: Mapping[str, str],
) -> tuple[str, ...]:
    lines = []
    graded = [habit for habit in habits if habit.grade in (Grade.CLEAR, Grade.LEANING)]
    if not graded:
        lines.append(f"No habit of {owner(me)} stands out yet.")
    if serve is None:
        lines.append(f"What to serve to {me}? Not enough data.")
    else:
        weak = f"{serve.weak.count} of {serve.weak.of}"
        lines.append(
            f"Try first: {_serve_sentence(serve, kind_words)}; the return was loose or missed on {weak}."
        )
    if avoid is not None:
        lines.append(
            f"Use with care: {_serve_sentence(avoid, kind_words)}; {me} attacked {avoid.attacked.count} of "
            f"{avoid.attacked.of}."
        )
    if serve is not None:
        lines.append(whose_serves(servers))
    return tuple(capital(line) for line in lines)


def _serve_sentence(serve: OpponentServe, kind_words: Mapping[str, str]) -> str:
    return f"the {noun(serve.kind, kind_words).one} from the {serve.box} box"
