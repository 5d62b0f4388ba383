"""Search rallies over every match, and load a player's matches for findings."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass, replace
from datetime import date
from functools import lru_cache, partial
from threading import Lock
from typing import TYPE_CHECKING, Any
from weakref import WeakKeyDictionary

import numpy as np

from goodlength.errors import InputError, NotFound
from goodlength.findings.rally_masks import FIRST_POINTS, LATE_FROM
from goodlength.jobs.progress_callback import Progress
from goodlength.record.answer_enumerations import PLACES, RETURN_TO
from goodlength.record.model import Ending, Left, Player, ReturnKind, ShotType
from goodlength.record.player_and_match_display_names import short_names, title_of
from goodlength.record.tables.answer_origins import AnswersByOrigin, CountedAnswers, answers_together
from goodlength.record.tables.rally_table_building import only_of
from goodlength.tasks.findings.multiprocess_match_replay import columns_by_processes, replayed_log
from goodlength.tasks.people.player_records_and_consent import player_called

if TYPE_CHECKING:
    from goodlength.findings import SeasonMatch
    from goodlength.record.store import Library
    from goodlength.record.store.season.rally_search_query import SeasonFilter, SeasonRally
    from goodlength.record.store.season.rally_tables_from_season import PlayedTable
    from goodlength.record.store.season.season_column_building import Replayed
    from goodlength.record.store.season.season_duckdb_file import Season
    from goodlength.record.tables.rally_table import RallyTable


PHASES = ("first-points", "middle", "late", "ahead", "level", "behind")
WEAK = "weak"  # loose or not made
LEFTS = (*(left.value for left in Left), WEAK)
LIMIT = 200
VARIABLE_WORDS = {
    "server": "who served",
    "box": "the box",
    "kind": "the kind of serve",
    "how_taken": "how the return was taken",
    "left": "the quality of the return",
    "winner": "who won",
    "ending": "how rallies ended",
}


@dataclass(frozen=True)
class SeasonQuestion:
    """Rallies to look for; what is None is not asked.

    `player` and `opponent` are ids or names; without a player, `outcome` is that of the server. `phase` is
    one of `PHASES`: the first four points of a game, both on 8 or more, between; or the score as the player
    stands in it. `text` is looked for in notes.
    """

    player: str | None = None
    opponent: str | None = None
    role: str | None = None  # serving | receiving
    outcome: str | None = None  # won | lost
    kind: str | None = None
    box: str | None = None
    how: str | None = None
    left: str | None = None
    to: str | None = None
    ending: str | None = None
    stroke: str | None = None
    place: str | None = None
    game: int | None = None
    phase: str | None = None
    since: date | None = None
    until: date | None = None
    text: str | None = None
    kept: bool = False
    match: str | None = None
    with_demo: bool | None = None  # None: demo matches only where there are no others
    watched: bool = False  # only rallies of whose course a person said anything


@dataclass(frozen=True)
class SeasonRow:
    """One rally found, with the match it is of."""

    match: str
    title: str
    day: date | None
    game: int
    n: int
    n_in_game: int
    key: str
    server: str | None
    winner: str | None
    let: bool
    box: str | None
    score: tuple[int, int]  # before the rally, first-named player first
    call: str
    kind: str | None
    left: str | None
    ending: str | None
    stroke: str | None
    logged: str  # what was logged of it, in words
    served: str  # who served, the kind and the box: "Imogen: lob, right box"
    returned: str  # how it was taken, and its quality: "volleyed, loose"
    ended: str  # who won, and how: "Petra won: unforced error, drop"
    place: str | None
    start_s: float | None
    end_s: float | None
    note: str


@dataclass(frozen=True)
class SeasonFound:
    """What a search found. `won` of `decided`: by the player (the server where none was named), lets out.

    `answers` says who gave the answers of all rallies found.
    """

    words: str
    total: int
    matches: int
    won: int
    decided: int
    lets: int
    demo_left_out: bool
    rows: tuple[SeasonRow, ...]
    answers: CountedAnswers


@contextmanager
def one_state(library: Library, progress: Progress | None = None) -> Iterator[Season]:
    """Bring the season's columns up to date, and open them once for several questions."""
    season = up_to_date(library, progress)
    with season.open_once():
        yield season


def search(
    library: Library,
    question: SeasonQuestion,
    *,
    limit: int = LIMIT,
    progress: Progress | None = None,
    season: Season | None = None,
) -> SeasonFound:
    """Return rallies of every match that fit a question, the newest match first.

    Matches changed since the last search are read again first; the first search of a large library takes
    as long as replaying it, with progress.

    Parameters
    ----------
    library : Library
        Where to look.
    question : SeasonQuestion
        What to look for.
    limit : int
        How many rallies to hand out; the counts are of all that fit.
    progress : callable, optional
        Called with a share from 0 to 1 and words while matches are read.
    season : Season, optional
        From `one_state`, where more is asked of the same state; brought up to date here otherwise.

    Raises
    ------
    InputError
        If an option is no word the record knows; the text names those it takes.
    NotFound, UnclearError
        If no player is called so, or more than one.
    """
    if limit < 1:
        raise InputError(f"The number of rallies to show is 1 or more; got {limit}.")
    people = {player.id: player for player in library.players()}
    kinds = {kind.id: kind.words for kind in library.kinds()}
    player = None if question.player is None else player_called(people.values(), question.player)
    opponent = None if question.opponent is None else player_called(people.values(), question.opponent)
    if question.match is not None:
        library.match_info(question.match)
    wanted = _wanted(kinds, question, player, opponent)
    with one_state(library, progress) if season is None else nullcontext(season) as state:
        demo_out = question.match is None and _leave_demo_out(state, question.with_demo, wanted.player)
        found = state.search(replace(wanted, demo=False) if demo_out else wanted, limit)
    return SeasonFound(
        _counted(
            found.total, found.matches, found.won, found.decided, found.lets, player, len(found.rallies)
        ),
        found.total,
        found.matches,
        found.won,
        found.decided,
        found.lets,
        demo_out,
        tuple(_row(rally, people, kinds) for rally in found.rallies),
        CountedAnswers(found.answers, AnswersByOrigin(0, 0), only_watched=question.watched),
    )


def count_each(
    library: Library, groups: Sequence[Sequence[SeasonQuestion]], *, season: Season | None = None
) -> tuple[tuple[int, ...], ...]:
    """Return how many rallies each question of each group would find, from one state of the columns.

    Put together questions that differ in one condition. `season` is from `one_state`, where more is asked
    of the same state.

    Raises
    ------
    InputError, NotFound, UnclearError
        As `search`.
    """
    people = library.players()
    kinds = {kind.id: kind.words for kind in library.kinds()}
    called = lru_cache(maxsize=None)(partial(player_called, people))
    demo_out = lru_cache(maxsize=None)(_leave_demo_out)

    def wanted(state: Season, question: SeasonQuestion) -> SeasonFilter:
        player = None if question.player is None else called(question.player)
        opponent = None if question.opponent is None else called(question.opponent)
        if question.match is not None:
            library.match_info(question.match)
        found = _wanted(kinds, question, player, opponent)
        out = question.match is None and demo_out(state, question.with_demo, found.player)
        return replace(found, demo=False) if out else found

    with one_state(library) if season is None else nullcontext(season) as state:
        return state.counts([[wanted(state, question) for question in group] for group in groups])


def up_to_date(library: Library, progress: Progress | None = None) -> Season:
    """Return the season's columns, with every match that changed read again."""
    from goodlength.record.store.season.season_duckdb_file import Season

    season, kinds = Season(library.folder), library.kinds()

    def replayed(match_id: str) -> Replayed | None:
        try:
            parts = library.everything(match_id)
        except NotFound:  # taken out in between; the next search knows
            return None
        return replayed_log(parts.info, parts.entries, kinds)

    with _one_reading(library):
        season.refresh(library, replayed, progress, partial(columns_by_processes, library))
    return season


_readings: WeakKeyDictionary[Library, Lock] = WeakKeyDictionary()


def _one_reading(library: Library) -> Lock:
    """Return the lock of a library's reading: whoever comes second finds everything read."""
    return _readings.setdefault(library, Lock())


def unread_matches(library: Library) -> int:
    """Return how many matches more the library has than the season's columns, without reading any."""
    from goodlength.record.store.season.season_duckdb_file import Season

    return max(0, library.match_count() - Season(library.folder).match_count())


def player_version(library: Library, player_id: str) -> tuple[object, ...]:
    """Return what everything said of a player over matches is made from: equal while it is unchanged."""
    heads = library.match_heads(player_id)
    versions = up_to_date(library).versions([head.id for head in heads])
    people = tuple((player.id, player.name) for player in library.players())
    return player_id, versions, people, library.kinds()


@dataclass(frozen=True)
class PlayerMatches:
    """A player's matches as findings over matches read them, the oldest first, and what was left out."""

    matches: tuple[SeasonMatch, ...]
    notes: tuple[str, ...]
    answers: CountedAnswers


def matches_of(
    library: Library,
    player_id: str,
    *,
    opponent: str | None = None,
    since: date | None = None,
    until: date | None = None,
    with_demo: bool | None = None,
    only_watched: bool = False,
    progress: Progress | None = None,
) -> PlayerMatches:
    """Return a player's matches as findings over matches read them.

    Demo matches are left out unless asked for, or unless there are no others. Answers that two observers of
    a match did not agree on are left out of that match, and said; with `only_watched` those of rallies that
    nobody watched.
    """
    from goodlength.findings import SeasonMatch
    from goodlength.findings.rally_masks import SIDES

    names = _unique_names(library.players())
    kinds = [kind.id for kind in library.kinds()]
    played = up_to_date(library, progress).tables(player_id, kinds)
    if with_demo is False or (with_demo is None and not all(table_item.demo for table_item in played)):
        played = tuple(candidate for candidate in played if not candidate.demo)
    out: list[SeasonMatch] = []
    notes: list[str] = []
    counted: list[PlayedTable] = []
    for played_table in played:
        side = played_table.players.index(player_id)
        against, day = played_table.players[1 - side], played_table.day
        if opponent is not None and against != opponent:
            continue
        if (since is not None and (day is None or day < since)) or (
            until is not None and (day is None or day > until)
        ):
            continue
        if played_table.doubted:
            notes.append(_disagreement_words(played_table.match, played_table.doubted))
        table = _without(played_table.table, played_table.doubted)
        if only_watched:
            table = only_of(table, played_table.watched)
        out.append(SeasonMatch(table, SIDES[side], names.get(against, against), day))
        counted.append(played_table)
    answers = CountedAnswers(
        answers_together(item.answers for item in counted),
        answers_together(item.left_out for item in counted),
        only_watched,
    )
    return PlayerMatches(tuple(out), tuple(notes), answers)


def _without(table: RallyTable, doubted: Collection[str]) -> RallyTable:
    """Return the table with some columns as if nobody had written them down."""
    blank: Any = np.full(len(table.key), -1, dtype=np.int16)
    return replace(table, **dict.fromkeys(doubted, blank))


def _disagreement_words(match: str, doubted: Collection[str]) -> str:
    what = ", ".join(VARIABLE_WORDS.get(column, column) for column in sorted(doubted))
    return f"Match {match}: left out what two observers did not agree on ({what})."


def _unique_names(people: Collection[Player]) -> dict[str, str]:
    """Return names by id; two players of the same name are told apart by their ids."""
    many = Counter(player.name for player in people)
    return {
        player.id: player.name if many[player.name] == 1 else f"{player.name} ({player.id})"
        for player in people
    }


def forget_season(library: Library) -> tuple[str, ...]:
    """Delete the season's columns, so that nothing of anybody stays in them; gives what could not be."""
    from goodlength.record.store.season.season_duckdb_file import Season

    return Season(library.folder).drop()


def _word(answer: str | None, what: str, words: Collection[str]) -> str | None:
    """Return the stored value of an answer; a missed return may be named so."""
    stored = {_MISSED if word == Left.NOT_MADE.value else word: word for word in words}
    if answer is None or answer in words:
        return answer
    if answer in stored:
        return stored[answer]
    raise InputError(f"{what} cannot be {answer!r}. Choose one of: {', '.join(stored)}.")


def _kind(kinds: Mapping[str, str], name: str | None) -> str | None:
    """Return the id of a kind of serve, named by its id or by the coach's words."""
    if name is None:
        return None
    for kind, words in kinds.items():
        if name.strip().casefold() in (kind.casefold(), words.casefold()):
            return kind
    raise InputError(
        f"No kind of serve is called {name!r}; this library has: {', '.join(kinds)}.",
        page="That kind of serve is not in this library. Choose another on the Search page.",
    )


def _wanted(
    kinds: Mapping[str, str], asked: SeasonQuestion, player: Player | None, opponent: Player | None
) -> SeasonFilter:
    from goodlength.record.store.season.rally_search_query import SeasonFilter

    role = _word(asked.role, "The role", ("serving", "receiving"))
    outcome = _word(asked.outcome, "The outcome", ("won", "lost"))
    phase = _word(asked.phase, "The part of the game", PHASES)
    left = _word(asked.left, "The return quality", LEFTS)
    if player is None and (role or phase in ("ahead", "level", "behind")):
        raise InputError(
            f"{role or phase!r} needs a player. Name one with --player.",
            page="Choose a player first: the role, ahead, level and behind belong to one player.",
        )
    won = None if outcome is None else outcome == "won"
    return SeasonFilter(
        player=None if player is None else player.id,
        opponent=None if opponent is None else opponent.id,
        serving=None if role is None else role == "serving",
        won=won if player is not None else None,
        server_won=won if player is None else None,
        box=_word(asked.box, "The box", ("right", "left")),
        kind=_kind(kinds, asked.kind),
        how=_word(asked.how, "The return type", [how.value for how in ReturnKind]),
        left=(Left.LOOSE.value, Left.NOT_MADE.value) if left == WEAK else (left,) if left else (),
        return_to=_word(asked.to, "The place of the return", RETURN_TO),
        ending=_word(asked.ending, "The ending", [ending.value for ending in Ending]),
        stroke=_word(asked.stroke, "The last shot", [stroke.value for stroke in ShotType]),
        place=_word(asked.place, "The place", PLACES),
        game=asked.game,
        points_below=FIRST_POINTS if phase == "first-points" else None,
        points_from=FIRST_POINTS if phase == "middle" else None,
        both_from=LATE_FROM if phase == "late" else None,
        not_both_from=LATE_FROM if phase == "middle" else None,
        lead={"ahead": 1, "level": 0, "behind": -1}.get(phase or ""),
        since=asked.since,
        until=asked.until,
        text=asked.text,
        keep=True if asked.kept else None,
        watched=True if asked.watched else None,
        match=asked.match,
    )


def _leave_demo_out(season: Season, with_demo: bool | None, player: str | None) -> bool:
    """Return whether there are demo matches to leave out: unless they are asked for, or there are no
    others.
    """
    if with_demo:
        return False
    own, of_demo = season.own_and_demo(player)
    return of_demo > 0 and (own > 0 or with_demo is False)


def _counted(
    total: int, matches: int, won: int, decided: int, lets: int, player: Player | None, shown: int
) -> str:
    """Return the counts in words, with what they are out of."""
    if not total:
        return "No rally matches. Remove an option, or check that the question was logged in these matches."
    rallies = "One rally" if total == 1 else f"{total} rallies"
    who = "the server" if player is None else player.name
    summary = f"{rallies} in {'one match' if matches == 1 else f'{matches} matches'}"
    if decided:
        summary += f"; {who} won {won} of {decided}"
        summary += f" ({'one let' if lets == 1 else f'{lets} lets'} excluded)" if lets else ", with no lets"
    else:
        summary += "; none with a winner"
    summary += f". The newest {shown} are listed." if shown < total else "."
    return summary


_MISSED = "missed"
# Values whose words are not their key without hyphens.
_WORDS = {"not-made": _MISSED, "cross-court": "cross-court"}


def value_words(value: str) -> str:
    """Return an answer as a coach says it.

    Examples
    --------
    >>> value_words("not-made"), value_words("unforced-error"), value_words("cross-court")
    ('missed', 'unforced error', 'cross-court')
    """
    return _WORDS.get(value, value.replace("-", " "))


def _joined(lead: str, parts: Sequence[str | None], between: str = ": ") -> str:
    """Return words after their lead: "Imogen: lob"; each word once, and no mark where a side is empty."""
    words = ", ".join(dict.fromkeys(part for part in parts if part))
    return f"{lead}{between}{words}" if lead and words else lead or words


def _word_of(value: str | None) -> str | None:
    return None if value is None else value_words(value)


def _ended(rally: SeasonRally, names: dict[str, str]) -> str:
    """Return who won, and how the rally ended: let, ending, last shot."""
    winner = f"{names[rally.winner]} won" if rally.winner in names else ""
    parts = ("let" if rally.let else None, _word_of(rally.ending), _word_of(rally.stroke))
    return _joined(winner, parts)


def _logged(rally: SeasonRally, kind: str | None, names: dict[str, str]) -> str:
    """Return what was logged of a rally: server, serve, return, let, ending, last shot, and who won."""
    left = f"return {value_words(rally.left)}" if rally.left else None
    served = _joined("", (kind, left))
    if served and rally.server in names:
        served = f"{names[rally.server]} served: {served}"
    sentences = (part[0].upper() + part[1:] for part in (served, _ended(rally, names)) if part)
    return "".join(f"{sentence}. " for sentence in sentences).rstrip()


def _row(rally: SeasonRally, people: dict[str, Player], kinds: dict[str, str]) -> SeasonRow:
    from goodlength.record.store.season.season_column_building import NAME_A, NAME_B

    a, b = (people.get(name, Player(name, name)) for name in rally.players)
    first, second = short_names(a.name, b.name)
    names = dict(zip(rally.players, (first, second), strict=True))
    kind = None if rally.kind is None else kinds.get(rally.kind, rally.kind).lower()
    box = f"{rally.box} box" if rally.box else None
    return SeasonRow(
        match=rally.match,
        title=title_of(a, b),
        day=rally.day,
        game=rally.game,
        n=rally.n,
        n_in_game=rally.n_in_game,
        key=rally.key,
        server=rally.server,
        winner=rally.winner,
        let=rally.let,
        box=rally.box,
        score=rally.points,
        call=rally.call.replace(NAME_A, first).replace(NAME_B, second),
        kind=rally.kind,
        left=rally.left,
        ending=rally.ending,
        stroke=rally.stroke,
        logged=_logged(rally, kind, names),
        served=_joined(names.get(rally.server or "", ""), (kind, box)),
        returned=_joined("", (_word_of(rally.how), _word_of(rally.left))),
        ended=_ended(rally, names),
        place=rally.place,
        start_s=rally.start_s,
        end_s=rally.end_s,
        note=rally.note,
    )
