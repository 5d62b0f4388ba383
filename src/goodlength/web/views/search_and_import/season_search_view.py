"""The search page's conditions: chips of those chosen, and what each further choice would find."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING
from urllib.parse import urlencode

from goodlength import tasks
from goodlength.errors import GoodlengthError
from goodlength.record.answer_enumerations import PLACES, RETURN_TO
from goodlength.record.model import Ending, ReturnKind, ShotType
from goodlength.record.store import Library
from goodlength.tasks.findings.season_search import (
    LEFTS,
    PHASES,
    WEAK,
    SeasonRow,
    count_each,
    value_words,
)
from goodlength.web.submitted_forms.form_reading_and_faults import read_form
from goodlength.web.submitted_forms.match_import_and_search_forms import SearchForm
from goodlength.web.views.match_description_and_result_phrases import day_words

if TYPE_CHECKING:
    from goodlength.record.store.season.season_duckdb_file import Season

Pairs = Sequence[tuple[str, str]]
MOST_GAMES = 5
MOST_COUNTED = 40  # choices of one list
_OF_PLAYER = ("role", "opponent")  # mean nothing without a player
_PHASES_OF_PLAYER = ("ahead", "level", "behind")
_PHASE_WORDS = {
    "first-points": "first four points",
    "middle": "in between",
    "late": "both on 8 or more",
    "ahead": "player ahead",
    "level": "scores level",
    "behind": "player behind",
}
_LABELS: Mapping[str, str] = {
    "player": "Player",
    "opponent": "Against",
    "role": "Role",
    "outcome": "Result",
    "kind": "Serve",
    "box": "Service box",
    "how": "Return type",
    "to": "Return to",
    "left": "Return quality",
    "ending": "How it ended",
    "stroke": "Last shot",
    "place": "Place",
    "game": "Game",
    "phase": "Part of the game",
    "since": "From",
    "until": "To",
    "text": "Words in the note",
    "kept": "Clips",
    "watched": "Answers",
    "with_demo": "Demo",
}
NAMES = tuple(_LABELS)
_GROUPS = (
    ("Who", ("player", "role", "outcome", "opponent")),
    ("Serve", ("kind", "box")),
    ("Return", ("how", "to", "left")),
    ("End", ("ending", "stroke", "place")),
    ("When", ("game", "phase")),
    ("More", ("kept", "watched", "with_demo")),
)


@dataclass(frozen=True)
class SearchOption:
    """One choice of a condition: its words, where it leads, and how many rallies it would leave."""

    words: str
    href: str
    count: int | None
    chosen: bool


@dataclass(frozen=True)
class SearchCondition:
    """A condition that can be added or changed."""

    name: str
    label: str
    options: tuple[SearchOption, ...]


@dataclass(frozen=True)
class SearchChip:
    """A condition that holds now, and the address without it."""

    name: str
    label: str
    words: str
    href: str


@dataclass(frozen=True)
class SearchConditionsView:
    """All that the page shows of the conditions."""

    chips: tuple[SearchChip, ...]
    groups: tuple[tuple[str, tuple[SearchCondition, ...]], ...]
    filled: Mapping[str, str]


def search_address(filled: Mapping[str, str]) -> str:
    """Return the address of a search, its conditions always in one order.

    Examples
    --------
    >>> search_address({"kind": "lob", "player": "iv"})
    '/search?player=iv&kind=lob'
    """
    pairs = [(name, filled[name]) for name in NAMES if filled.get(name)]
    return f"/search?{urlencode(pairs)}" if pairs else "/search"


def without(filled: Mapping[str, str], name: str) -> dict[str, str]:
    """Return the conditions without one, and without those that mean nothing once it has gone.

    Examples
    --------
    >>> without({"player": "iv", "role": "serving", "phase": "ahead", "kind": "lob"}, "player")
    {'kind': 'lob'}
    """
    left = {key: value for key, value in filled.items() if key != name}
    if name == "player":
        left = {key: value for key, value in left.items() if key not in _OF_PLAYER}
        if left.get("phase") in _PHASES_OF_PLAYER:
            del left["phase"]
    return left


def conditions_view(
    library: Library, filled: Mapping[str, str], season: Season | None
) -> SearchConditionsView:
    """Return the conditions of the page, each choice with the number of rallies it would leave.

    Parameters
    ----------
    filled : mapping of str to str
        What is chosen; unknown names are left out by the caller.
    season : Season or None
        What is counted; None where the search has a fault or the matches are still being read.
    """
    lists = _choices(library, filled)
    counts = {} if season is None else _counts(library, filled, lists, season)
    groups = []
    for heading, names in _GROUPS:
        found = tuple(
            SearchCondition(name, _label(name, filled), options)
            for name in names
            if name in lists and (options := _options(name, filled, lists[name], counts))
        )
        groups.append((heading, found))
    chips = tuple(
        SearchChip(
            name,
            _label(name, filled),
            _chosen_words(name, filled[name], lists),
            search_address(without(filled, name)),
        )
        for name in NAMES
        if filled.get(name)
    )
    return SearchConditionsView(chips, tuple(group for group in groups if group[1]), filled)


def _label(name: str, filled: Mapping[str, str]) -> str:
    return "Result of the server" if name == "outcome" and not filled.get("player") else _LABELS[name]


def _choices(library: Library, filled: Mapping[str, str]) -> dict[str, Pairs]:
    """Return the values of each condition that can be chosen now."""
    people = [(player.id, player.name) for player in tasks.players(library)]
    phases = [phase for phase in PHASES if filled.get("player") or phase not in _PHASES_OF_PLAYER]
    lists: dict[str, Pairs] = {
        "player": people,
        "outcome": [("won", "won"), ("lost", "lost")],
        "kind": [(kind.id, kind.words) for kind in library.kinds()],
        "box": _worded(("right", "left")),
        "how": _worded(kind.value for kind in ReturnKind),
        "to": _worded(RETURN_TO),
        "left": [*_worded(left for left in LEFTS if left != WEAK), (WEAK, "weak (loose or missed)")],
        "ending": _worded(ending.value for ending in Ending),
        "stroke": _worded(shot.value for shot in ShotType),
        "place": _worded(PLACES),
        "game": [(str(n), f"game {n}") for n in range(1, MOST_GAMES + 1)],
        "phase": [(phase, _PHASE_WORDS[phase]) for phase in phases],
        "kept": [("1", "only flagged for clips")],
        "watched": [("1", "only rallies you watched")],
        "with_demo": [("1", "demo matches too")],
    }
    if filled.get("player"):
        lists["role"] = [("serving", "serving"), ("receiving", "receiving")]
        met = {player for head in library.match_heads(filled["player"]) for player in head.players}
        lists["opponent"] = [pair for pair in people if pair[0] in met - {filled["player"]}]
    return lists


def _worded(values: Iterable[str]) -> Pairs:
    return [(str(value), value_words(str(value))) for value in values]


def _counts(
    library: Library, filled: Mapping[str, str], lists: Mapping[str, Pairs], season: Season
) -> dict[tuple[str, str], int]:
    """Return how many rallies each choice would leave, together with the other conditions.

    Lists of more than `MOST_COUNTED` choices, which can only be players, are not counted.
    """
    keys, groups = [], []
    for name, pairs in lists.items():
        if len(pairs) > MOST_COUNTED:
            continue
        models = [(value, read_form(SearchForm, {**filled, name: value}).model) for value, _ in pairs]
        keys.append([(name, value) for value, model in models if model is not None])
        groups.append([model.question() for _, model in models if model is not None])
    try:
        counts = count_each(library, groups, season=season)
    except GoodlengthError:  # the search itself says what is wrong
        return {}
    return {
        key: count
        for some, numbers in zip(keys, counts, strict=True)
        for key, count in zip(some, numbers, strict=True)
    }


def _options(
    name: str, filled: Mapping[str, str], pairs: Pairs, counts: Mapping[tuple[str, str], int]
) -> tuple[SearchOption, ...]:
    """Return the choices of a condition; players and retired kinds without a rally are left out."""
    rest = {key: value for key, value in filled.items() if key != name}
    options = []
    for value, words in pairs:
        count, chosen = counts.get((name, value)), filled.get(name) == value
        if count == 0 and not chosen and name in ("player", "opponent", "game"):
            continue
        options.append(SearchOption(words, search_address({**rest, name: value}), count, chosen))
    return tuple(options)


def _chosen_words(name: str, value: str, lists: Mapping[str, Pairs]) -> str:
    """Return the words of what is chosen; what nobody offers is shown as it was sent."""
    if name in ("since", "until"):
        model = read_form(SearchForm, {name: value}).model
        return value if model is None else day_words(getattr(model, name))
    return dict(lists.get(name, ())).get(value, value)


def row_view(row: SeasonRow, clock: Callable[[float], str]) -> dict[str, object]:
    """Return one rally as the list names it: match, game, score, serve, return, end."""
    start, end = row.start_s, row.end_s
    timed = start is not None and end is not None
    return {
        "id": f"{row.match}/{row.key}",
        "match": row.match,
        "key": row.key,
        "title": row.title,
        "day": row.day,
        "game": row.game,
        "score": f"{row.score[0]}–{row.score[1]}",
        "served": row.served,
        "returned": row.returned,
        "ended": row.ended,
        "note": row.note,
        "clock": "" if start is None else clock(start),
        "start_us": round(start * 1e6) if timed and start is not None else None,
        "end_us": round(end * 1e6) if timed and end is not None else None,
    }
