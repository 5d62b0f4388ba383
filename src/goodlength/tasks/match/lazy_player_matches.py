"""The matches of one player, each read from the library once and replayed at most once.

```
 open_matches ── one list ──> infos ──match(id)──> OpenMatch, kept
```

A page or a command that asks several things over many matches opens them once and passes them on.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from goodlength.record.model import MatchInfo
from goodlength.tasks.match.lazy_match import OpenMatch, open_match

if TYPE_CHECKING:
    from goodlength.record.store import Library


@dataclass(frozen=True, eq=False)
class OpenMatches:
    """A player's matches in the library's order; each is opened when first asked for, then kept."""

    library: Library = field(repr=False)
    player_id: str
    infos: tuple[MatchInfo, ...]
    _opened: dict[str, OpenMatch] = field(default_factory=dict, repr=False)

    def __iter__(self) -> Iterator[OpenMatch]:
        """Yield every match, opened."""
        return (self.match(info.id) for info in self.infos)

    def match(self, match_id: str) -> OpenMatch:
        """Return one match, opened once.

        Raises
        ------
        NotFound
            If the library holds no such match.
        """
        if match_id not in self._opened:
            self._opened[match_id] = open_match(self.library, match_id)
        return self._opened[match_id]


def open_matches(library: Library, player_id: str, *opened: OpenMatch) -> OpenMatches:
    """Return the matches of a player.

    Parameters
    ----------
    opened : OpenMatch
        Matches that are open already; they are not read again.
    """
    ids = [head.id for head in library.match_heads(player_id)]
    infos = library.match_infos(ids)
    found = tuple(infos[match] for match in ids if match in infos)
    return OpenMatches(library, player_id, found, {match.id: match for match in opened})
