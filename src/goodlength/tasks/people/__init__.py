"""Players, their consents, and how the marker says them."""

from goodlength.tasks.people.player_handout_language import (
    choose_language,
    chosen_language,
    player_language,
)
from goodlength.tasks.people.player_records_and_consent import (
    Expiry,
    add_player,
    change_player,
    consent,
    expiring_consents,
    give_consent_back,
    has_agreed,
    is_junior,
    names_of,
    player_id_named,
    players,
    players_named,
    players_of,
    require_consent,
    withdraw_consent,
    withdrawn_consent,
)

__all__ = [
    "Expiry",
    "add_player",
    "change_player",
    "choose_language",
    "chosen_language",
    "consent",
    "expiring_consents",
    "give_consent_back",
    "has_agreed",
    "is_junior",
    "names_of",
    "player_id_named",
    "player_language",
    "players",
    "players_named",
    "players_of",
    "require_consent",
    "withdraw_consent",
    "withdrawn_consent",
]
