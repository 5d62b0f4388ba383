"""Players and their consent: what was agreed, by whom, until when."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Any

from goodlength.errors import ConsentMissing, GoodlengthError, InputError, NotFound, UnclearError
from goodlength.record.model import Consent, MatchInfo, Player
from goodlength.record.player_and_match_display_names import short_names
from goodlength.record.record_json_conversion import consent_from_plain
from goodlength.tasks.people.handout_still_cache import forget_stills

if TYPE_CHECKING:
    from goodlength.record.store import Library

PURPOSES = ("record", "clips", "handout")
KEEP_MONTHS = 12  # how long consent lasts where nothing is said; the coach can change it


@dataclass(frozen=True)
class Expiry:
    """A consent that has run out or soon will."""

    player: str
    name: str
    until: date
    days_left: int


def players(library: Library) -> tuple[Player, ...]:
    """Return everybody in the library, by name."""
    return library.players()


def player_called(people: Collection[Player], text: str) -> Player:
    """Return the player of this id or name; a part of a name will do where only one has it."""
    wanted = text.strip().casefold()
    for fits in (
        lambda item: item.id == text.strip(),
        lambda item: item.name.casefold() == wanted,
        lambda item: wanted and wanted in item.name.casefold(),
    ):
        found = [player for player in people if fits(player)]
        if len(found) == 1:
            return found[0]
        if found:
            listed = ", ".join(f"{player.name} ({player.id})" for player in found)
            raise UnclearError(f"{text!r} can be {listed}. Name one by the id in brackets.")
    raise NotFound(f"No player in this library is called {text!r}.", command="goodlength player list")


def add_player(
    library: Library,
    name: str,
    *,
    hand: str = "right",
    born_year: int | None = None,
    junior: bool = False,
    notes: str = "",
    player_id: str | None = None,
) -> Player:
    """Add a player; the id holds no name unless one is given.

    Raises
    ------
    InputError
        If the name is empty, the hand is neither right nor left, or the id is taken.
    """
    from goodlength.record.entry_ids_and_timestamps import new_id

    player = Player(player_id or new_id(), " ".join(name.split()), hand, born_year, junior, None, notes)
    _check(player)
    if any(other.id == player.id for other in library.players()):
        raise InputError(
            f"There is a player {player.id!r} already. Choose another id.",
            page="This player is in the library already. Open the Players page.",
        )
    library.save_player(player)
    return player


def player_id_named(library: Library, name: str) -> str:
    """Return the id of the player of that name, who is added if new."""
    for player in library.players():
        if player.name.casefold() == name.casefold():
            return player.id
    return add_player(library, name).id


@contextmanager
def players_named(library: Library, names: tuple[str, str]) -> Iterator[tuple[str, str]]:
    """Yield the ids of two players by name; who is new is added, and taken out again where the block fails.

    Raises
    ------
    InputError
        Both names are the same, or one is no name.
    """
    first, second = (" ".join(name.split()).casefold() for name in names)
    if first == second:
        raise InputError(
            f"The two players must differ; both are called {names[0].strip()!r}. Where two people have one "
            "name, add an initial to each."
        )
    known = {player.id for player in library.players()}
    made: list[str] = []
    try:
        for name in names:
            made.append(player_id_named(library, name))
        yield made[0], made[1]
    except GoodlengthError:
        for player_id in set(made) - known:
            with suppress(GoodlengthError):  # a match was made with it meanwhile
                library.remove_player(player_id)
        raise


def change_player(library: Library, player_id: str, **changes: Any) -> Player:
    """Change a player's name, hand, born_year, junior or notes."""
    allowed = {"name", "hand", "born_year", "junior", "notes"}
    unknown = sorted(set(changes) - allowed)
    if unknown:
        raise InputError(f"{unknown[0]!r} cannot be changed here; {', '.join(sorted(allowed))} can.")
    changed = replace(library.player(player_id), **changes)
    _check(changed)
    library.save_player(changed)
    return changed


def _check(player: Player) -> None:
    if not player.name.strip():
        raise InputError("A player needs a name; initials will do.")
    if player.hand not in ("right", "left"):
        raise InputError(f"The playing hand is {player.hand!r}; right or left is needed.")
    this_year = date.today().year
    if player.born_year is not None and not this_year - 110 <= player.born_year <= this_year:
        raise InputError(
            f"Born in {player.born_year}? A year from {this_year - 110} to {this_year} is needed."
        )
    if not re.fullmatch(r"[\w.-]{1,60}", player.id):
        raise InputError(
            f"The id {player.id!r} should be letters, figures, dots and dashes, at most 60.",
            page="This name cannot be used. Use letters, numbers, dots and dashes, at most 60.",
        )


def is_junior(player: Player, today: date | None = None) -> bool:
    """Return whether a parent must agree: said to be a junior, or under 18 by the year of birth."""
    if player.junior:
        return True
    return player.born_year is not None and (today or date.today()).year - player.born_year < 18


def consent(
    library: Library,
    player_id: str,
    *,
    given_by: str,
    purposes: Sequence[str] = PURPOSES,
    when: date | None = None,
    until: date | None = None,
    months: int = KEEP_MONTHS,
) -> Player:
    """Write down who agreed to what, when, and until when; an empty list of purposes takes it back.

    Parameters
    ----------
    given_by : str
        The player, or for a junior a parent.
    purposes : sequence of str
        Of "record" (rallies written down), "clips" (pictures cut and shown), "handout".
    until : date, optional
        Left out, `months` after `when`.

    Raises
    ------
    InputError
        If a purpose is unknown, the dates are the wrong way round, or nobody but the junior agreed.
    """
    player = library.player(player_id)
    when = when or date.today()
    until = until or _months_after(when, months)
    given_by = " ".join(given_by.split())
    unknown = [purpose for purpose in purposes if purpose not in PURPOSES]
    if unknown:
        raise InputError(f"Consent for {unknown[0]!r} is not known; it can be for {', '.join(PURPOSES)}.")
    if not given_by:
        raise InputError("Consent needs the name of the person who gave it.")
    if until < when:
        raise InputError(f"Consent until {until} cannot end before it is given, on {when}.")
    if purposes and is_junior(player, when) and given_by.casefold() == player.name.casefold():
        raise InputError(
            f"{player.name} is a junior: a parent must agree. Give the parent's name as the one who consents."
        )
    agreed = Consent(given_by, when, tuple(purpose for purpose in PURPOSES if purpose in purposes), until)
    changed = replace(player, consent=agreed)
    library.save_player(changed)
    return changed


def withdraw_consent(library: Library, player_id: str) -> Player:
    """Withdraw a player's consent: nothing new is made, and what was made before is held back.

    It is undone by `give_consent_back`, or by a new consent.
    """
    given = library.player(player_id).consent
    forget_stills()
    return consent(library, player_id, given_by=given.given_by if given else "withdrawn", purposes=())


def give_consent_back(library: Library, player_id: str) -> Player:
    """Undo a withdrawal: the consent before it stands again as it was, and what it held back is released.

    Raises
    ------
    NotFound
        No consent was withdrawn.
    """
    player = library.player(player_id)
    before = withdrawn_consent(library, player_id)
    if before is None:
        raise NotFound(f"There is nothing to undo: no consent was withdrawn for {player.name}.")
    changed = replace(player, consent=before)
    library.save_player(changed)
    return changed


def withdrawn_consent(library: Library, player_id: str) -> Consent | None:
    """Return the consent that stood before it was withdrawn; None where none is withdrawn."""
    now = library.player(player_id).consent
    if now is None or now.purposes:
        return None
    given = (consent_from_plain(fields) for fields in reversed(library.consents(player_id)))
    return next((candidate for candidate in given if candidate is not None and candidate.purposes), None)


def _months_after(day: date, months: int) -> date:
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    for last in (day.day, 30, 29, 28):
        try:
            return date(year, month + 1, last)
        except ValueError:
            continue
    raise AssertionError("every month has a 28th")


def has_agreed(player: Player, purpose: str, today: date | None = None) -> bool:
    """Return whether consent for a purpose stands today."""
    today = today or date.today()
    agreed = player.consent
    return (
        agreed is not None
        and purpose in agreed.purposes
        and agreed.when <= today
        and (agreed.until is None or today <= agreed.until)
    )


def require_consent(players: Sequence[Player], purpose: str, what: str, today: date | None = None) -> None:
    """Pass when every player agreed to a purpose; else say who did not, and what to do.

    Raises
    ------
    ConsentMissing
        If any of them has not agreed, took it back, or the time has run out.
    """
    lacking = [player for player in players if not has_agreed(player, purpose, today)]
    if not lacking:
        return
    names = " and ".join(player.name for player in lacking)
    why = "is no consent" if all(player.consent is None for player in lacking) else "is no consent in force"
    parent = " (for a junior, a parent gives it)" if any(is_junior(player) for player in lacking) else ""
    raise ConsentMissing(
        f"{what} was not made: there {why} for {purpose} from {names}. "
        f"Ask for it{parent} and save it on the player's page.",
        command=f"goodlength player consent {lacking[0].id} --given-by NAME --for {purpose}"
        + (", or add --hide-faces to this command" if purpose == "clips" else ""),
        page=f"There {why} for {purpose} from {names}. Ask for it{parent} and save it on the player's page."
        + (" Or tick “Hide all faces”." if purpose == "clips" else ""),
    )


def expiring_consents(
    library: Library, within_days: int = 30, today: date | None = None
) -> tuple[Expiry, ...]:
    """Return consents that have run out, or will within some days, the earliest first."""
    today = today or date.today()
    found = [
        Expiry(player.id, player.name, player.consent.until, (player.consent.until - today).days)
        for player in library.players()
        if player.consent is not None and player.consent.purposes and player.consent.until is not None
    ]
    return tuple(
        sorted(
            (expiry for expiry in found if expiry.days_left <= within_days), key=lambda expiry: expiry.until
        )
    )


def players_of(library: Library, info: MatchInfo) -> tuple[Player, Player]:
    """Return the first- and the second-named player of a match."""
    return library.player(info.players[0]), library.player(info.players[1])


def names_of(library: Library, info: MatchInfo) -> tuple[str, str]:
    """Return how the marker says the two players."""
    a, b = players_of(library, info)
    return short_names(a.name, b.name)
