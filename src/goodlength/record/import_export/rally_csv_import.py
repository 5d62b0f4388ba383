"""Import a rally table from any spreadsheet: preview with every doubt, stored only when all is clear.

```
 bytes ──> sheet (letters, separator) ──> meaning of each heading ──> cells read, faults by line
       ──> entries ──> replayed, and the score in the file held against the score the rules give
```
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from typing import Any

from goodlength.errors import GoodlengthError
from goodlength.media_time import read_day
from goodlength.record.effective_answers import DOUBTFUL_TAB, DRAFT_TAB, IMPORTED_TAB, layer_of
from goodlength.record.entry_log_replay import match_from
from goodlength.record.entry_sequence_builder import EntryWriter
from goodlength.record.import_export import csv_cell_parsing as c
from goodlength.record.import_export.delimited_table_reader import (
    TableRow,
    TableSheet,
    looks_like_date,
    read_sheet,
)
from goodlength.record.import_export.match_csv_export import DOUBTFUL, DRAFTED, WATCHED
from goodlength.record.import_export.rally_csv_columns import (
    ANSWERS,
    MEANINGS,
    SCORES,
    TIMES,
    WORKED_OUT,
)
from goodlength.record.import_export.table_column_guesses import under_columns
from goodlength.record.model import (
    DEFAULT_KINDS,
    Depth,
    Entry,
    EntryKind,
    KindOfServe,
    Match,
    MatchInfo,
)
from goodlength.scoring import Box, Format, Side, Start, System, check_format, check_start


@dataclass(frozen=True)
class Meaning:
    """What a heading was taken for; `read` false where it is passed over."""

    heading: str
    words: str
    read: bool


@dataclass(frozen=True)
class Preview:
    """What an import would write, before anything is written.

    `problems` each name their line; while there is any, nothing is written unless the coach says that
    broken lines may be left out. `rows` are the first rallies in words.
    """

    meanings: tuple[Meaning, ...]
    written: tuple[str, ...]
    problems: tuple[str, ...]
    info: MatchInfo
    names: tuple[str, str]
    entries: tuple[Entry, ...]
    rallies: int
    rows: tuple[str, ...]
    match: Match | None = None
    decimal: str = "."

    @property
    def columns(self) -> tuple[str, ...]:
        """The headings that are read."""
        return tuple(meaning.heading for meaning in self.meanings if meaning.read)


def from_csv_preview(
    data: bytes,
    kinds: Sequence[KindOfServe] = DEFAULT_KINDS,
    *,
    names: tuple[str, str] | None = None,
    ids: tuple[str, str] = ("a", "b"),
    match_id: str = "imported",
    observer: str = "coach",
    columns: Mapping[str, str] | None = None,
    written: tuple[str, str] = ("", ""),
) -> Preview:
    """Read a rally table and say what it means, with every problem; nothing is written.

    Parameters
    ----------
    data : bytes
        The file as it is.
    kinds : sequence of KindOfServe
        The library's kinds of serve.
    names, ids : (str, str), optional
        The two players; names are read from the file where it has them.
    match_id : str
        The id the match is to get.
    columns : mapping of str to str, optional
        Which column each heading of the file stands for, as the coach chose; "" where it is not used.
    written : (str, str)
        How the file writes the two players, where that is not their names.

    Raises
    ------
    InputError, UnclearError
        If the file cannot be read as a table at all.
    """
    sheet = read_sheet(data)
    if columns is not None:
        sheet = under_columns(sheet, columns)
    reader = _TableReader(sheet, kinds, names, ids, match_id, observer, written)
    return reader.preview()


_TABS: Mapping[object, str] = {False: IMPORTED_TAB, DRAFTED: DRAFT_TAB, DOUBTFUL: DOUBTFUL_TAB}


class _TableReader:
    """Reads one table, gathering problems by line."""

    def __init__(
        self,
        sheet: TableSheet,
        kinds: Sequence[KindOfServe],
        names: tuple[str, str] | None,
        ids: tuple[str, str],
        match_id: str,
        observer: str,
        written: tuple[str, str] = ("", ""),
    ) -> None:
        self.sheet, self.kinds, self.ids = sheet, kinds, ids
        self.problems: list[str] = list(sheet.problems)
        self.decimal, decimal_words = self._decimal()
        self.written = (*sheet.written, *decimal_words)
        first = sheet.rows[0] if sheet.rows else None
        self.names = names or self._names(first)
        self.read_side = c.side_reader(self.names, ids, written)
        self.read_kind = c.kind_reader(kinds)
        self.read_time = c.seconds_reader(self.decimal)
        self.broken: set[int] = set()
        self.unwatched = self.drafted = 0  # rallies that nobody watched
        self.draft_tabs: dict[str, str] = {}  # by key, of rallies that stand as drafted
        self.info = self._info(first, match_id, observer)
        played = self.info.played_on
        at = None if played is None else datetime(played.year, played.month, played.day, tzinfo=UTC)
        # Ids and times follow from the file alone, so that reading it twice writes it once.
        self.pen = EntryWriter(match_id, observer, at, mark=f"{match_id}-")

    def preview(self) -> Preview:
        """Return everything found out about the table."""
        self._check_headings()
        rallies: list[tuple[TableRow, str]] = []
        for n, row in enumerate(self.sheet.rows, 1):
            key = self._entries_of(row, n)
            if key is not None:
                rallies.append((row, key))
        match = self._replayed(rallies)
        return Preview(
            meanings=tuple(self._meaning(heading) for heading in self.sheet.headings if heading),
            written=(*self.written, *self._unwatched_words()),
            problems=tuple(self.problems),
            info=self.info,
            names=self.names,
            entries=tuple(self.pen.entries),
            rallies=len(rallies),
            rows=self._rows_in_words(match),
            match=match,
            decimal=self.decimal,
        )

    # -- headings -------------------------------------------------------------------------------

    def _meaning(self, heading: str) -> Meaning:
        if heading in MEANINGS:
            return Meaning(heading, MEANINGS[heading], True)
        if heading in WORKED_OUT:
            return Meaning(heading, "worked out from the rest, so it is not read", False)
        return Meaning(heading, "not a heading that goodlength knows, so it is not read", False)

    def _check_headings(self) -> None:
        first = self.sheet.rows[0].line if self.sheet.rows else 1
        if "winner" not in self.sheet.headings and self.sheet.written_as:
            self.problems.append(
                "no column is chosen for who won the rally, so no rally can be read. Choose it above"
            )
        elif "winner" not in self.sheet.headings:
            self.problems.append(
                "the table has no heading 'winner', so no rally can be read; "
                f"its headings are {', '.join(self.sheet.headings[:12])}"
            )
        if not self.sheet.rows:
            self.problems.append("the table has headings but no line below them")
        for heading in self.sheet.headings:
            if heading not in SCORES:
                continue
            dates = [row for row in self.sheet.rows if looks_like_date(row.cells.get(heading, ""))]
            if dates:
                cell = dates[0].cells[heading]
                self.problems.append(
                    f"line {dates[0].line}: {heading} is {cell!r}: a spreadsheet has turned a score such as "
                    "11-9 into a date, and what it was cannot be told for sure. Write the points in two "
                    "columns of numbers, score_a and score_b"
                )
            else:
                self.problems.append(
                    f"line {first}: the heading {heading!r} does not say whose points come first. "
                    "Write the points in two columns of numbers, score_a and score_b"
                )

    def _decimal(self) -> tuple[str, tuple[str, ...]]:
        """Return the decimal sign of the times, where they have one."""
        seen: dict[str, TableRow] = {}
        for row in self.sheet.rows:
            for heading in TIMES:
                cell = row.cells.get(heading, "")
                for sign in ",.":
                    if sign in cell and not looks_like_date(cell):
                        seen.setdefault(sign, row)
        if len(seen) == 2:
            self.problems.append(
                f"line {seen[','].line} has a decimal comma and line {seen['.'].line} a decimal point; "
                "use one of the two throughout"
            )
        if "," in seen:
            return ",", ("decimal comma: 12,5 s is twelve and a half seconds",)
        return ".", ()

    # -- details of the match -------------------------------------------------------------------

    def _names(self, first: TableRow | None) -> tuple[str, str]:
        cells = first.cells if first else {}
        found = [c.words_of(cells.get(heading, "")) for heading in ("player_a", "player_b")]
        if not all(found) and self.sheet.written_as:
            self.problems.append("the two players are not named. Type their names above")
        elif not all(found):
            self.problems.append("the table does not name the players: add the columns player_a and player_b")
        return found[0] or "a", found[1] or "b"

    def _shared(self, row: TableRow | None, heading: str, read: Callable[[str], Any], default: Any) -> Any:
        """Return a value that is the same in every line; one that changes half-way is a problem."""
        if row is None:
            return default
        cell = row.cells.get(heading, "")
        other = next((r for r in self.sheet.rows if r.cells.get(heading, "") != cell), None)
        if other is not None:
            self.problems.append(
                f"line {other.line}: {heading} is {other.cells.get(heading, '')!r} here and {cell!r} above; "
                "a table holds one match"
            )
        value = self._cell(row, heading, read)
        return default if value is c.NO_ANSWER else value

    def _info(self, first: TableRow | None, match_id: str, observer: str) -> MatchInfo:
        shared = self._shared
        format_ = Format(
            System(shared(first, "scoring", c.SYSTEM, "rally")),
            shared(first, "game_to", c.whole, 11),
            shared(first, "best_of", c.whole, 5),
            shared(first, "edition", c.words_of, "2025"),
            shared(first, "setting", c.yes_no, None),
        )
        handicap = (shared(first, "handicap_a", c.whole, 0), shared(first, "handicap_b", c.whole, 0))
        for heading in ("player_a", "player_b"):
            shared(first, heading, c.words_of, "")
        info = MatchInfo(
            id=match_id,
            players=self.ids,
            event=shared(first, "match_event", c.words_of, ""),
            played_on=shared(first, "played_on", _day, None),
            format=format_,
            start=self._start(first, handicap),
            depth=Depth(shared(first, "depth", c.DEPTH, Depth.SERVE.value)),
            observer=observer,
        )
        try:
            check_format(info.format)
            check_start(info.format, info.start)
        except GoodlengthError as error:
            self.problems.append(str(error).rstrip("."))
            return replace(info, format=Format(), start=Start())
        return info

    def _start(self, first: TableRow | None, handicap: tuple[int, int]) -> Start:
        """Return where the recording begins: the score, server and box of the first line."""
        if first is None:
            return Start(handicap=handicap)

        def pair(a: str, b: str) -> tuple[int, int] | None:
            values = [self._cell(first, heading, c.whole) for heading in (a, b)]
            return None if c.NO_ANSWER in values else (values[0], values[1])

        points = pair("score_a", "score_b")
        server = self._cell(first, "server", c.skippable(self.read_side))
        return Start(
            games=pair("games_a", "games_b") or (0, 0),
            points=None if points == handicap else points,
            server=None if server in (c.NO_ANSWER, None) else Side(server),
            handicap=handicap,
        )

    # -- rallies --------------------------------------------------------------------------------

    def _cell(self, row: TableRow, heading: str, read: Callable[[str], Any]) -> Any:
        """Return a cell read; NO_ANSWER where it is empty, and also where it is wrong (then a problem is
        told).
        """
        cell = row.cells.get(heading, "")
        if not cell:
            return c.NO_ANSWER
        try:
            return read(cell)
        except c.CellFault as fault:
            problem = f"line {row.line}: {self.sheet.heading_words(heading)}: {fault}"
            if problem not in self.problems:
                self.problems.append(problem)
            self.broken.add(row.line)
            return c.NO_ANSWER

    def _entries_of(self, row: TableRow, n: int) -> str | None:
        """Write the entries of one line; gives the rally's key, None for what is no rally."""
        key = self._cell(row, "key", c.words_of)
        key = f"r{n}" if key is c.NO_ANSWER else key
        event = self._cell(row, "event_kind", c.EVENT)
        winner = self._cell(row, "winner", c.skippable(self.read_side))
        if event in ("conduct", "conduct-game", "retired"):
            self._between(row, key, event, winner)
            return None
        mark = len(self.pen.entries)
        tab = _TABS.get(self._cell(row, WATCHED, c.watched))
        if tab in (DRAFT_TAB, DOUBTFUL_TAB):
            self.draft_tabs[key] = tab
        self._span(row, key)
        own = self.pen.observer
        if tab is not None:
            self.pen.observer = f"{layer_of(own)}/{tab}"
        self._answers(row, key, winner)
        self.pen.observer = own
        if self._cell(row, "keep", c.yes_no) is True:
            self._write(key, EntryKind.KEEP, True)
        if row.line in self.broken:
            del self.pen.entries[mark:]
            return None
        if len(self.pen.entries) == mark:
            self.problems.append(f"line {row.line}: holds nothing about the rally, not even who won")
            return None
        self.unwatched += tab == IMPORTED_TAB
        self.drafted += tab in (DRAFT_TAB, DOUBTFUL_TAB)
        return key

    def _unwatched_words(self) -> tuple[str, ...]:
        became = (
            (self.unwatched, "watched by nobody: the answers count as proposed and taken, not as yours"),
            (self.drafted, "drafted and watched by nobody: the answers count as the draft's, not as yours"),
        )
        return tuple(
            f"{'1 rally was' if n == 1 else f'{n} rallies were'} {words}" for n, words in became if n
        )

    def _answers(self, row: TableRow, key: str, winner: Any) -> None:
        """Write what one line says of how the rally went."""
        self._write(key, EntryKind.KIND, self._cell(row, "kind", c.skippable(self.read_kind)))
        for heading, what, read in ANSWERS:
            self._write(key, what, self._cell(row, heading, c.skippable(read)))
        self._write(key, EntryKind.WINNER, winner)
        called = self._called(row)
        if self._cell(row, "let", c.yes_no) is True and not (
            row.cells.get("ending", "").casefold() == "let" or called.get("decision") == "let"
        ):
            self._write(key, EntryKind.ENDING, "let")
        if called:
            self._write(key, EntryKind.CALLED, called)
        shots = self._cell(row, "shots", c.skippable(c.whole))
        if shots is not c.NO_ANSWER:
            self._write(key, EntryKind.SHOT, None if shots is None else {"count": shots})

    def _write(self, key: str, what: EntryKind, value: Any) -> None:
        if value is not c.NO_ANSWER:
            self.pen.write(key, what, value)

    def _span(self, row: TableRow, key: str) -> None:
        start, end = (self._cell(row, heading, self.read_time) for heading in TIMES)
        if start is c.NO_ANSWER:
            return
        how = "heard" if key in self.draft_tabs else "marked"
        span = {"start_us": start, "end_us": None if end is c.NO_ANSWER else end, "how": how}
        self._write_as_drafted(key, EntryKind.SPAN, span)

    def _write_as_drafted(self, key: str, what: EntryKind, value: Any) -> None:
        """Write what follows from the draft, where a rally stands as drafted: it goes when the draft does."""
        own, tab = self.pen.observer, self.draft_tabs.get(key)
        if tab is not None:
            self.pen.observer = f"{layer_of(own)}/{tab}"
        self.pen.write(key, what, value)
        self.pen.observer = own

    def _called(self, row: TableRow) -> dict[str, Any]:
        parts = {
            "decision": self._cell(row, "called_decision", c.DECISION),
            "call": self._cell(row, "called_call", c.CALL),
            "to": self._cell(row, "called_to", self.read_side),
            "server": self._cell(row, "put_right_server", self.read_side),
            "box": self._cell(row, "put_right_box", c.BOX),
        }
        called = {name: value for name, value in parts.items() if value is not c.NO_ANSWER}
        points = [self._cell(row, heading, c.whole) for heading in ("put_right_a", "put_right_b")]
        if c.NO_ANSWER not in points:
            called["points"] = points
        return called

    def _between(self, row: TableRow, key: str, event: str, winner: Any) -> None:
        if winner is c.NO_ANSWER or winner is None:
            self.problems.append(f"line {row.line}: {event} needs in 'winner' the player it favoured")
        elif event == "retired":
            why = self._cell(row, "why", c.words_of)
            side = "b" if winner == "a" else "a"
            self.pen.write(
                key, EntryKind.RETIRED, {"side": side, "why": "retired" if why is c.NO_ANSWER else why}
            )
        else:
            self.pen.write(key, EntryKind.CONDUCT, {"to": winner, "game": event == "conduct-game"})

    # -- held against the rules -----------------------------------------------------------------

    def _replayed(self, rallies: list[tuple[TableRow, str]]) -> Match | None:
        """Replay, with server and box written down where the table says otherwise than the rules."""
        rows = {key: row for row, key in rallies}
        if len(rows) != len(rallies):
            self.problems.append("two lines have the same key; every rally needs one of its own, or none")
            return None
        written: set[tuple[str, EntryKind]] = set()
        for _ in range(len(rallies) + 1):
            match = match_from(self.info, self.pen.entries, self.names, self.kinds)
            if not self._settle(match, rows, written):
                break
        self._check_scores(match, rows)
        return match

    def _settle(
        self, match: Match, rows: Mapping[str, TableRow], written: set[tuple[str, EntryKind]]
    ) -> bool:
        """Write server and box where they are not what replay gives; True where that changed anything.

        Boxes of choice are all written at once; beyond them only the first difference, since what
        follows may only follow from it.
        """
        chosen = False
        for rally in match.rallies:
            row, key = rows[rally.key], rally.key
            server = self._cell(row, "server", c.skippable(self.read_side))
            replayed = rally.server.value if rally.server_known else c.NO_ANSWER
            if server not in (c.NO_ANSWER, replayed) and (key, EntryKind.SERVER) not in written:
                written.add((key, EntryKind.SERVER))
                self._write_as_drafted(key, EntryKind.SERVER, server)
                return True
            box = self._cell(row, "box", c.BOX)
            if box is c.NO_ANSWER or (key, EntryKind.BOX) in written:
                continue
            differs = rally.box is not Box(box)
            if rally.box_free or not rally.box_known or differs:
                written.add((key, EntryKind.BOX))
                self._write_as_drafted(key, EntryKind.BOX, box)
                chosen = True
                if differs and not rally.box_free:
                    return True
        return chosen

    def _check_scores(self, match: Match, rows: Mapping[str, TableRow]) -> None:
        """The first line of each game whose score is not what the lines before it give."""
        reported_games: set[int] = set()
        for rally in match.rallies:
            row = rows[rally.key]
            values = [self._cell(row, heading, c.whole) for heading in ("score_a", "score_b")]
            game = self._cell(row, "game", c.whole)
            if rally.game in reported_games or not rally.certain or c.NO_ANSWER in values:
                continue
            given = (values[0], values[1])
            other_game = game is not c.NO_ANSWER and game != rally.game
            if given != rally.before or other_game:
                reported_games.add(rally.game)
                self.problems.append(
                    f"line {row.line}: the table says {given[0]}–{given[1]}"
                    + (f" in game {game}" if other_game else "")
                    + f", but by the lines before it the score is {rally.before[0]}–{rally.before[1]} "
                    f"in game {rally.game}. Check for a missing rally or a wrong winner above"
                )

    def _rows_in_words(self, match: Match | None) -> tuple[str, ...]:
        from goodlength.record.rally_sentences import kind_words, rally_sentence

        if match is None:
            return ()
        words = kind_words(self.kinds)
        return tuple(
            f"Game {rally.game}, rally {rally.n_in_game}: {rally_sentence(rally, self.names, words)}"
            for rally in match.rallies[:8]
        )


def _day(cell: str) -> date:
    try:
        return read_day(cell)
    except ValueError:
        raise c.CellFault(f"{cell!r} is not a date written year-month-day, such as 2026-03-07") from None
