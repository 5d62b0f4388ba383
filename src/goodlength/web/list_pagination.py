"""One page of a long list: its rows, and the addresses of the pages before and after it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Generic, TypeVar
from urllib.parse import urlencode

from goodlength.record.model import Player
from goodlength.record.player_and_match_display_names import plain_letters

if TYPE_CHECKING:
    from goodlength.record.store.listing.match_list_rows import MatchHead

ROWS_A_PAGE = 50
LONGEST_WORDS = 200

T = TypeVar("T")


@dataclass(frozen=True)
class ListPage(Generic[T]):
    """Rows of one page; `total` counts the rows of all pages, `words` is what they were searched for."""

    rows: Sequence[T]
    path: str
    number: int
    pages: int
    total: int
    words: str
    order: str = ""

    @property
    def previous_href(self) -> str:
        """Address of the page before; "" on the first."""
        return self._href(self.number - 1) if self.number > 1 else ""

    @property
    def next_href(self) -> str:
        """Address of the page after; "" on the last."""
        return self._href(self.number + 1) if self.number < self.pages else ""

    def _href(self, number: int) -> str:
        asked = {"find": self.words} if self.words else {}
        if self.order:
            asked["sort"] = self.order
        return f"{self.path}?{urlencode({**asked, 'page': number})}"


def list_page(rows: Sequence[T], path: str, number: str, words: str, order: str = "") -> ListPage[T]:
    """Return the page of a list that an address asks for; the nearest one where it has no such page.

    Examples
    --------
    >>> page = list_page(range(120), "/matches", "2", "vale")
    >>> page.rows[0], page.rows[-1], page.pages, page.previous_href
    (50, 99, 3, '/matches?find=vale&page=1')
    >>> list_page(range(120), "/matches", "9", "").next_href
    ''
    """
    pages = max(1, -(-len(rows) // ROWS_A_PAGE))
    asked = int(number) if number.isascii() and number.isdigit() and len(number) < 10 else 1
    chosen = min(max(asked, 1), pages)
    begin = (chosen - 1) * ROWS_A_PAGE
    return ListPage(rows[begin : begin + ROWS_A_PAGE], path, chosen, pages, len(rows), words, order)


def named_like(players: Sequence[Player], words: str) -> Sequence[Player]:
    """Return the players in whose name every word stands; all of them for nothing."""
    wanted = plain_letters(words).split()
    return [player for player in players if all(word in plain_letters(player.name) for word in wanted)]


def sorted_heads(
    heads: Sequence[MatchHead], order: str, players: Sequence[Player]
) -> tuple[Sequence[MatchHead], str]:
    """Return matches in the order asked for, and that order: "names", "event", "oldest", "" newest first."""
    if order == "names":
        names = {player.id: plain_letters(player.name) for player in players}
        return sorted(heads, key=lambda head: [names.get(player, "") for player in head.players]), order
    if order == "event":
        return sorted(heads, key=lambda head: (not head.event, plain_letters(head.event))), order
    if order == "oldest":
        return sorted(heads, key=lambda head: (head.played_on is None, str(head.played_on))), order
    return heads, ""
