"""Counts of the game just played in at most three lines, without any claim."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from goodlength.findings.rally_masks import SIDES, Mask, RallyMasks
from goodlength.findings.result_types import Names, Share, SideKey
from goodlength.findings.text.sentence_grammar import noun, owner, short, voices
from goodlength.record.model import Ending
from goodlength.record.tables.rally_table import ENDINGS, RallyTable

LINES = 3
LONGEST = 96  # letters a line
_UNFORCED = ENDINGS.index(Ending.UNFORCED_ERROR)


@dataclass(frozen=True)
class GameLine:
    """One line, about the player and to the player, with the rallies behind it."""

    words: str
    you_words: str
    rallies: tuple[str, ...]


@dataclass(frozen=True)
class GameLines:
    """The lines about one game. They count, they claim nothing: one game is too little for that."""

    match: str
    game: int | None
    title: str
    lines: tuple[GameLine, ...]


def between_games_lines(
    table: RallyTable,
    side: SideKey,
    names: Names,
    kind_words: Mapping[str, str] | None = None,
    game: int | None = None,
) -> GameLines:
    """Return at most three lines about one game.

    Parameters
    ----------
    table, side, names, kind_words
        As in `find`.
    game : int, optional
        Number of the game; the last one recorded without it.

    Returns
    -------
    BetweenSheet
        What the serves did, what was lost without being forced, and serving against receiving; without
        rallies it says so in its title.
    """
    view, me = RallyMasks(table), SIDES.index(side)
    if not view.n:
        return GameLines(table.match, None, "No rallies are logged yet.", ())
    number_of = view.games[-1] if game is None else game
    here = np.asarray(table.game == number_of)
    if not here.any():
        return GameLines(table.match, number_of, f"Game {number_of} is not in this match.", ())
    lines = [
        line
        for line in (
            _serves(view, me, here, names, kind_words or {}),
            _errors(view, me, here, names),
            _won(view, me, here, names),
        )
        if line is not None
    ]
    return GameLines(table.match, number_of, _title(view, me, here, names, number_of), tuple(lines[:LINES]))


def _title(view: RallyMasks, me: int, here: Mask, names: Names, game: int) -> str:
    """Game and score after its last recorded rally, this player's points first."""
    last = np.flatnonzero(here)[-1]
    points = [int(view.table.score_a[last]), int(view.table.score_b[last])]
    winner, server = int(view.table.winner[last]), int(view.table.server[last])
    rally_scoring = winner >= 0 and not view.table.let[last]
    if rally_scoring and (winner == server or _scores_for_all(view)):
        points[winner] += 1
    mine, theirs = points[me], points[1 - me]
    return f"Game {game}: {short(names, SIDES[me])} {mine}–{theirs}"


def _scores_for_all(view: RallyMasks) -> bool:
    """Return whether a receiver's win scores: seen from the points, as the table does not say how it is
    scored.
    """
    total = view.table.score_a + view.table.score_b
    same = (view.table.game[1:] == view.table.game[:-1]) & view.decided[:-1]
    received = same & (view.table.winner[:-1] != view.table.server[:-1])
    return bool((total[1:] > total[:-1])[received].any()) or not received.any()


def _serves(
    view: RallyMasks, me: int, here: Mask, names: Names, kind_words: Mapping[str, str]
) -> GameLine | None:
    """Return what the two commonest serves of the game did to the return."""
    own = view.served(me) & here & view.return_known & view.kind_known
    codes, counts = np.unique(view.table.kind[own], return_counts=True)
    parts, keys = [], list[str]()
    for code in codes[np.argsort(-counts, kind="stable")][:2]:
        share = view.share(view.weak, own & (view.table.kind == code))
        serve_noun = noun(view.table.kinds[int(code)], kind_words)
        parts.append(f"{serve_noun.one} {_of(share)}")
        keys += share.rallies
    if not parts:
        return None

    def sentence(whose: str) -> str:
        begin = f"Weak returns of {whose} serves (loose or missed)"
        whole = f"{begin}: {', '.join(parts)}."
        return whole if len(whole) <= LONGEST else f"{begin}: {parts[0]}."

    return GameLine(sentence(owner(short(names, SIDES[me]))), sentence("your"), tuple(keys))


def _errors(view: RallyMasks, me: int, here: Mask, names: Names) -> GameLine | None:
    """Return errors not forced, of both players."""
    known = here & view.decided & (view.table.ending >= 0)
    if not known.any():
        return None
    played = view.share(known, here & view.decided)
    among = f", in the {_of(played)} rallies with the ending logged" if played.count < played.of else ""
    mine = view.share(view.won(1 - me) & (view.table.ending == _UNFORCED), known)
    theirs = view.share(view.won(me) & (view.table.ending == _UNFORCED), known)
    opponent = short(names, SIDES[1 - me])

    def sentence(who: str) -> str:
        return f"Unforced errors: {who} {mine.count}, {opponent} {theirs.count}{among}."

    return GameLine(sentence(short(names, SIDES[me])), sentence("you"), mine.rallies)


def _won(view: RallyMasks, me: int, here: Mask, names: Names) -> GameLine | None:
    """Serving and receiving in this game."""
    won = view.won(me)
    serving = view.share(won, here & view.decided & view.served(me))
    receiving = view.share(won, here & view.decided & view.served(1 - me))
    if not serving.of and not receiving.of:
        return None
    about, to = voices(names, SIDES[me])

    def sentence(who: str) -> str:
        return f"Rallies {who} won: {_of(serving)} serving, {_of(receiving)} receiving."

    return GameLine(sentence(about.subject), sentence(to.subject), serving.rallies + receiving.rallies)


def _of(share: Share) -> str:
    return f"{share.count} of {share.of}"
