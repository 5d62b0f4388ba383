"""The language in which each player's handouts are written, chosen on the player's page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from goodlength.languages import LANGUAGES, language

if TYPE_CHECKING:
    from goodlength.record.store import Library

SETTING = "languages"  # language by the player's id; English stands in none


def player_language(library: Library, player_id: str) -> str:
    """Return the code of a player's language; English where none was chosen, or one that is not there."""
    code = _chosen(library).get(player_id, "en")
    return code if code in LANGUAGES else "en"


def choose_language(library: Library, player_id: str, code: str) -> None:
    """Choose the language of a player's handouts.

    Raises
    ------
    InputError
        If goodlength does not speak it.
    NotFound
        If there is no such player.
    """
    language(code)
    library.player(player_id)
    chosen = {name: spoken for name, spoken in _chosen(library).items() if name != player_id}
    library.set_setting(SETTING, {**chosen, player_id: code} if code != "en" else chosen or None)


def forget_language(library: Library, player_id: str) -> None:
    """Forget what was chosen for a player who is deleted."""
    if player_id in _chosen(library):
        choose = {name: spoken for name, spoken in _chosen(library).items() if name != player_id}
        library.set_setting(SETTING, choose or None)


def _chosen(library: Library) -> dict[str, str]:
    stored = library.settings().get(SETTING)
    return {str(name): str(code) for name, code in stored.items()} if isinstance(stored, dict) else {}
