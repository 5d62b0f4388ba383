"""One match, read from the library once; derived values are computed on first access.

```
 open_match ── one read ──> info, players, entries, kinds, footage
                              └─ when asked: names, settings, timeline, answers, match, table, findings
```

A request or a command opens a match once and passes it on. It is what the library held at that moment: what
is written afterwards is seen by opening the match again.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence, Set
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

from goodlength.errors import NotFound
from goodlength.measure.draft.proposal_acceptance_rates import unwatched_rallies, without_answers
from goodlength.measure.draft.proposal_error_rates import unchecked_answers
from goodlength.media_time import Part, Timeline
from goodlength.record.effective_answers import (
    EffectiveAnswers,
    effective_answers,
    layer_of,
    next_rally_key,
    undone_ids,
)
from goodlength.record.entry_log_replay import MatchMemo, match_from
from goodlength.record.model import Entry, Footage, KindOfServe, Match, MatchInfo, Player, Rally
from goodlength.record.player_and_match_display_names import short_names
from goodlength.record.rally_sentences import kind_words
from goodlength.record.tables.rally_table_building import rally_table
from goodlength.scoring import Side
from goodlength.tasks.match.observer_record_replay import doubted_columns
from goodlength.tasks.people.player_records_and_consent import player_called

if TYPE_CHECKING:
    from goodlength.findings import Findings
    from goodlength.record.store import Library
    from goodlength.record.tables.rally_table import RallyTable

UNNAMED = "the opponent"
# Returns findings kept earlier, else those of the function; the key is (whose, opponent named, language).
KeepFindings = Callable[["OpenMatch", tuple[str, bool, str], Callable[[], "Findings"]], "Findings"]


@dataclass(frozen=True, eq=False)
class OpenMatch:
    """One match as the library held it when it was opened.

    Parameters
    ----------
    library : Library
        Where it was read, and where what follows from it is written.
    info : MatchInfo
    players : (Player, Player)
        First-named first.
    entries : tuple of Entry
        The log in the order written, of every observer.
    kinds : tuple of KindOfServe
        The library's kinds of serve, retired ones at their places.
    footage : tuple of Footage
        The files in the order played.
    keep_findings : KeepFindings, optional
        Where findings are kept for the next opening of an unchanged match; without it, in this one only.
    memo : MatchMemo, optional
        What the match came to when it was last opened: only what changed since is worked out again. It is for
        one thread at a time, and for one open match after the other.
    only_watched : bool
        Findings count what a person answered or checked, and not what was proposed and taken unwatched.
    """

    library: Library = field(repr=False)
    info: MatchInfo
    players: tuple[Player, Player]
    entries: tuple[Entry, ...]
    kinds: tuple[KindOfServe, ...]
    footage: tuple[Footage, ...]
    keep_findings: KeepFindings | None = field(default=None, repr=False)
    memo: MatchMemo | None = field(default=None, repr=False)
    only_watched: bool = False
    _findings: dict[tuple[str, bool, str], Findings] = field(default_factory=dict, init=False, repr=False)

    @property
    def id(self) -> str:
        """The match's id."""
        return self.info.id

    @property
    def coached(self) -> Player:
        """The player who is coached."""
        return self.players[self.info.coached.place]

    @property
    def opponent(self) -> Player:
        """The other player."""
        return self.players[self.info.coached.other.place]

    @cached_property
    def names(self) -> tuple[str, str]:
        """How the marker says the two players."""
        return short_names(self.players[0].name, self.players[1].name)

    @cached_property
    def kind_words(self) -> Mapping[str, str]:
        """The words of each kind of serve by its id."""
        return kind_words(self.kinds)

    @cached_property
    def settings(self) -> Mapping[str, Any]:
        """Every setting of the library that was changed."""
        return self.library.settings()

    @cached_property
    def timeline(self) -> Timeline | None:
        """Match time over the files; None without footage that was looked at."""
        return timeline_over(self.footage)

    @cached_property
    def answers(self) -> EffectiveAnswers:
        """The answers of the match's own observer that stand, rally by rally."""
        memo = None if self.memo is None else self.memo.answers
        return effective_answers(self.entries, self.info.observer, memo)

    @cached_property
    def next_key(self) -> str:
        """The key that the next rally of the match's own observer gets."""
        if self.memo is None:
            return next_rally_key(self.entries, self.info.observer)
        _ = self.answers  # brings the memo up to date
        return f"r{self.memo.answers.highest + 1}"

    @cached_property
    def undone(self) -> Set[str]:
        """Ids of the entries of the match's own observer that a standing undo takes back."""
        if self.memo is None:
            layer = layer_of(self.info.observer)
            return undone_ids([entry for entry in self.entries if layer_of(entry.observer) == layer])
        _ = self.answers
        return frozenset(self.memo.answers.undone)

    @cached_property
    def match(self) -> Match:
        """The match replayed from its record, with every fault."""
        return match_from(
            self.info,
            self.entries,
            self.names,
            self.kinds,
            length_us=None if self.timeline is None else self.timeline.length_us,
            answers=self.answers,
            memo=self.memo,
        )

    @cached_property
    def counted_match(self) -> Match:
        """The match with the answers that are counted: with `only_watched` those of watched rallies alone."""
        if not self.only_watched:
            return self.match
        return without_answers(self.match, unwatched_rallies(self.answers))

    @cached_property
    def table(self) -> RallyTable:
        """The rallies as columns, which findings read."""
        table = rally_table(self.counted_match, self.kinds)
        return replace(table, unchecked=unchecked_answers(self.match, self.answers, table.key))

    @cached_property
    def doubted_columns(self) -> frozenset[str]:
        """Columns of the table on which two observers did not agree well enough; empty with one observer."""
        return doubted_columns(self.info, self.entries, self.names, self.kinds)

    def side_of(self, whose: str) -> Side:
        """Return the side meant by "coached", "opponent", "a", "b", or by a player's id or name.

        Raises
        ------
        NotFound, UnclearError
            If neither player of the match is called so, or if it can be both.
        """
        if whose in ("coached", "opponent"):
            return self.info.coached if whose == "coached" else self.info.coached.other
        if whose in ("a", "b"):
            return Side(whose)
        try:
            return (Side.A, Side.B)[self.players.index(player_called(self.players, whose))]
        except NotFound:
            both = " or ".join(player.name for player in self.players)
            raise NotFound(f"{whose!r} is not a player of this match. Choose {both}.") from None

    def findings(
        self, whose: str = "coached", *, name_opponent: bool = True, language: str = "en"
    ) -> Findings:
        """Return what the match says about the coached player or the opponent, worked out once.

        What rests on an answer that a second observer did not agree on is greyed and carries no grade.

        Parameters
        ----------
        whose : str
            "coached" or "opponent".
        name_opponent : bool
            False says "the opponent" in every sentence: for a page that goes out of the house.
        language : str
            Code of the language of what is said to the player.
        """
        key = (whose, name_opponent, language)
        if key not in self._findings:
            keep = None if self.only_watched else self.keep_findings
            self._findings[key] = (
                self._find(*key) if keep is None else keep(self, key, lambda: self._find(*key))
            )
        return self._findings[key]

    def _find(self, whose: str, name_opponent: bool, code: str) -> Findings:
        from goodlength.findings import Names, find
        from goodlength.languages import language

        called = list(self.names)
        if not name_opponent:
            called[self.info.coached.other.place] = UNNAMED
        names = Names(called[0], called[1])
        return find(
            self.table,
            self.side_of(whose).value,
            names,
            self.kind_words,
            self.doubted_columns,
            language(code),
        )

    def rally(self, key: str) -> Rally:
        """Return one rally.

        Raises
        ------
        NotFound
            There is none of that key.
        """
        found = next((rally for rally in self.match.rallies if rally.key == key), None)
        if found is None:
            raise NotFound(
                f"There is no rally {key!r} in this match.",
                page="That rally is no longer in this match. Reload the page and choose another.",
            )
        return found

    def file(self, footage_id: str) -> Footage:
        """Return one file of the match.

        Raises
        ------
        NotFound
            There is none of that id in this match.
        """
        found = next((file for file in self.footage if file.id == footage_id), None)
        if found is None:
            raise NotFound(
                f"There is no file {footage_id!r} in this match. Look at its Footage page.",
                page="That video is no longer in this match. Go to the Footage page and choose another.",
            )
        return found


def open_match(
    library: Library,
    match_id: str,
    keep_findings: KeepFindings | None = None,
    memo: MatchMemo | None = None,
) -> OpenMatch:
    """Read a match from the library, at one moment.

    Raises
    ------
    NotFound
        If there is no such match.
    """
    parts = library.everything(match_id)
    return OpenMatch(
        library, parts.info, parts.players, parts.entries, parts.kinds, parts.footage, keep_findings, memo
    )


def timeline_over(files: Sequence[Footage]) -> Timeline | None:
    """Return match time over files; None where none was looked at.

    Files are joined in order by the end of their last frames; one placed by hand starts where it was placed.
    """
    parts: list[Part] = []
    at_us = 0
    for file in files:
        if file.first_us is None or file.end_us is None or file.end_us <= file.first_us:
            continue
        starts = at_us if file.starts_us is None else file.starts_us
        parts.append(Part(file.id, starts, file.first_us, file.end_us))
        at_us = starts + file.end_us - file.first_us
    return Timeline(parts) if parts else None
