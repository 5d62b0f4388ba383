"""The language in which each player's handouts are written, chosen on the player's page."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from goodlength.languages import LANGUAGES, language

if TYPE_CHECKING:
    from goodlength.record.store import Library

SETTING = "languages"  # language by the player's id, where one was chosen
AS_USUAL = "usual"  # a choice that follows the setting
USUAL_SETTING = "handout_language"


def player_language(library: Library, player_id: str) -> str:
    """Return the code of a player's language; the usual one where none was chosen, or one not there."""
    settings = library.settings()
    code = _chosen(settings).get(player_id, "")
    return code if code in LANGUAGES else _usual(settings)


def chosen_language(library: Library, player_id: str) -> str:
    """Return what was chosen for a player: the code of a language, or `AS_USUAL`."""
    code = _chosen(library.settings()).get(player_id, "")
    return code if code in LANGUAGES else AS_USUAL


def choose_language(library: Library, player_id: str, code: str) -> None:
    """Choose the language of a player's handouts; `AS_USUAL` follows the usual one, also when it changes.

    Raises
    ------
    InputError
        If goodlength does not speak it.
    NotFound
        If there is no such player.
    """
    if code != AS_USUAL:
        language(code)
    library.player(player_id)
    chosen = {name: spoken for name, spoken in _chosen(library.settings()).items() if name != player_id}
    if code != AS_USUAL:
        chosen[player_id] = code
    library.set_setting(SETTING, chosen or None)


def forget_language(library: Library, player_id: str) -> None:
    """Forget what was chosen for a player who is deleted."""
    if player_id in _chosen(library.settings()):
        choose = {name: spoken for name, spoken in _chosen(library.settings()).items() if name != player_id}
        library.set_setting(SETTING, choose or None)


def _usual(settings: Mapping[str, Any]) -> str:
    code = settings.get(USUAL_SETTING)
    return code if isinstance(code, str) and code in LANGUAGES else "en"


def _chosen(settings: Mapping[str, Any]) -> dict[str, str]:
    stored = settings.get(SETTING)
    return {str(name): str(code) for name, code in stored.items()} if isinstance(stored, dict) else {}
