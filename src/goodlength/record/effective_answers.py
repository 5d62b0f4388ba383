"""Effective answers of a log after undo, replacement, and rallies inserted or removed.

```
 entries ──> one observer's layer ──> undone ones out ──> latest answer of each question stands
                                                           └─ two tabs, two answers: a fault, the later shown
 removed in one tab, answered in another that did not know of it: the rally stays, with a fault
```
`AnswersMemo` keeps all this between two readings of a growing log: only rallies that got an entry are sorted
out anew.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from goodlength.record.entry_value_types import Content, PlaceValue, ProposedValue, ShotValue, V
from goodlength.record.model import Entry, EntryKind
from goodlength.scoring.scoring_types import RuleFault

_AROUND = frozenset({EntryKind.MATCH, EntryKind.UNDO, EntryKind.DAMAGED})
_MOVES = frozenset({EntryKind.PLACE, EntryKind.REMOVE})
_NO_ANSWERS = frozenset({EntryKind.PROPOSED})  # what was shown, not what anybody said
_MAKE_NO_RALLY = _MOVES | _NO_ANSWERS
_UNASKED = _MAKE_NO_RALLY | {EntryKind.SPAN}  # a time follows from answers, unasked
_REMOVAL = (EntryKind.REMOVE, 0)
_NOT_UNDONE = frozenset({EntryKind.MATCH, EntryKind.DAMAGED}) | _NO_ANSWERS


PAUSE_KEY = (
    "pause-"  # begins the key of a pause that a coach said holds no rally: a time alone makes none there
)
DRAFT_TAB, DOUBTFUL_TAB = "draft", "draft-doubtful"  # as if a tab of the observer's had answered
UNWATCHED_TAB = "taken-unseen"  # of answers that were proposed and taken unwatched
IMPORTED_TAB = "imported-unseen"  # of answers that a table says nobody watched
SAMPLE_TAB = "sample"  # of what was proposed in the rallies that the program drew for a check
ALONG = "-along"  # ends the tab of what went along with another answer: a person saw it, and was not asked
PROGRAM_TABS = frozenset(  # no page writes in these
    {DRAFT_TAB, DOUBTFUL_TAB, UNWATCHED_TAB, IMPORTED_TAB, SAMPLE_TAB}
)
DRAFT_SLOT = 1  # of what the score draft proposed; 0 is the ball path's
SAMPLE_SLOT = 2  # of what was proposed in a rally drawn for a check: no later proposal takes its place
# what says nothing of how a rally went: who wrote only these has not watched it. Server and box follow from
# the score, and are right or wrong without a look at the rally
_ASIDE = frozenset({EntryKind.NOTE, EntryKind.KEEP, EntryKind.SPAN, EntryKind.MEASURED})
_NOT_WATCHED = _ASIDE | {EntryKind.SERVER, EntryKind.BOX, EntryKind.SET_TO}


@dataclass
class RallyAnswers:
    """The standing answers about one rally (or one thing between rallies)."""

    key: str
    values: dict[EntryKind, Content] = field(default_factory=dict)
    shots: dict[int, Content] = field(default_factory=dict)
    latest: dict[tuple[EntryKind, int], Entry] = field(default_factory=dict)
    clashes: dict[tuple[EntryKind, int], tuple[Entry, Entry]] = field(default_factory=dict)

    def get(self, what: EntryKind) -> Content:
        """Return the standing answer; None where there is none or it was skipped."""
        return self.values.get(what)

    def word(self, what: EntryKind) -> str | None:
        """Return the standing answer where it is a word."""
        value = self.values.get(what)
        return value if isinstance(value, str) else None

    def part(self, what: EntryKind, kind: type[V]) -> V | None:
        """Return the standing answer where it is a value of this type."""
        value = self.values.get(what)
        return value if isinstance(value, kind) else None

    @property
    def is_between(self) -> bool:
        """Whether this is conduct or a player stopping, and no rally."""
        return all(
            what in (EntryKind.CONDUCT, EntryKind.RETIRED, EntryKind.NOTE, EntryKind.KEEP)
            for what in self.values
        ) and (EntryKind.CONDUCT in self.values or EntryKind.RETIRED in self.values)


@dataclass(frozen=True)
class EffectiveAnswers:
    """The standing answers of one layer in the order of play, and what is wrong with the log itself."""

    facts: tuple[RallyAnswers, ...]
    faults: tuple[RuleFault, ...]


def layer_of(observer: str) -> str:
    """Return who watched, without the tab it was written in."""
    return observer.split("/", 1)[0]


def tab_of(observer: str) -> str:
    """Return the tab it was written in, without who watched."""
    return observer.partition("/")[2]


def is_drafted(entry: Entry) -> bool:
    """Return whether an answer came from an accepted draft and was not given by a person."""
    return tab_of(entry.observer) in (DRAFT_TAB, DOUBTFUL_TAB)


def is_to_confirm(entry: Entry) -> bool:
    """Return whether an answer came from a draft that was in doubt of it: a person is asked for it again."""
    return tab_of(entry.observer) == DOUBTFUL_TAB


def is_taken(entry: Entry) -> bool:
    """Return whether an answer was taken unwatched here, so that it can be undone as one step."""
    return tab_of(entry.observer) == UNWATCHED_TAB


def is_unwatched(entry: Entry) -> bool:
    """Return whether an answer was proposed and taken, here or in a table, and nobody watched the rally."""
    return tab_of(entry.observer) in (UNWATCHED_TAB, IMPORTED_TAB)


def is_by_person(entry: Entry) -> bool:
    """Return whether a person gave an answer, or took it with the rally in view."""
    return tab_of(entry.observer) not in PROGRAM_TABS


def is_own_tab(observer: str) -> bool:
    """Return whether all that an observer's tab writes is a person's own answer."""
    tab = tab_of(observer)
    return tab not in PROGRAM_TABS and not tab.endswith(ALONG)


def is_sample(entry: Entry) -> bool:
    """Return whether an entry is what the program proposed in a rally that it drew for a check."""
    return (
        entry.what is EntryKind.PROPOSED
        and tab_of(entry.observer) == SAMPLE_TAB
        and isinstance(value := entry.content, ProposedValue)
        and value.sample
    )


def is_only_the_programs(entry: Entry) -> bool:
    """Return whether only the program may write an entry: by its tab, or by what it says was proposed."""
    value = entry.content if entry.what is EntryKind.PROPOSED else None
    proposed = isinstance(value, ProposedValue) and (value.by == "score-draft" or value.sample)
    return proposed or not is_by_person(entry)


def is_along(entry: Entry) -> bool:
    """Return whether an answer stood proposed and went along with another: its own question was not asked."""
    return tab_of(entry.observer).endswith(ALONG)


def is_checked(facts: RallyAnswers, what: EntryKind) -> bool:
    """Return whether a person's own answer stands to a question.

    A question skipped is not checked, nor what went along with another answer.
    """
    entry = facts.latest.get((what, 0))
    return entry is not None and is_by_person(entry) and not is_along(entry) and entry.value is not None


def is_touched(facts: RallyAnswers) -> bool:
    """Return whether a person has written anything of a rally but a note, a flag or its time."""
    return any(
        is_by_person(entry)
        for (what, _), entry in facts.latest.items()
        if what not in _ASIDE | _MOVES | _NO_ANSWERS
    )


def is_watched(facts: RallyAnswers) -> bool:
    """Return whether a person has answered anything of how a rally went; questions skipped say nothing.

    Of `plain_answers`, which do not hold who gave them, each counts as a person's.
    """
    aside = _NOT_WATCHED | _MOVES | _NO_ANSWERS
    if not facts.latest:
        answered = any(value is not None for what, value in facts.values.items() if what not in aside)
        return answered or bool(facts.shots)
    return any(
        is_by_person(entry) and entry.value is not None
        for (what, _), entry in facts.latest.items()
        if what not in aside
    )


def undone_ids(entries: Sequence[Entry]) -> set[str]:
    """Return ids of the entries that a standing undo takes back; an undo may itself be taken back."""
    gone: set[str] = set()
    for entry in reversed(entries):
        if entry.what is EntryKind.UNDO and entry.replaces and entry.id not in gone:
            gone.add(entry.replaces)
    return gone


def entry_to_undo(entries: Sequence[Entry], observer: str = "coach") -> Entry | None:
    """Return the newest answer that still stands: what one more undo takes back; None when all is undone.

    Take it back by appending an UNDO entry that `replaces` its id and has its rally. There is no
    limit: asked again afterwards, it gives the answer before. To undo an undo, name the undo itself.
    """
    mine = [entry for entry in entries if layer_of(entry.observer) == layer_of(observer)]
    gone = undone_ids(mine)
    for entry in reversed(mine):
        if entry.id not in gone and entry.what is not EntryKind.UNDO and entry.what not in _NOT_UNDONE:
            return entry
    return None


def entry_to_redo(entries: Sequence[Entry], observer: str = "coach") -> Entry | None:
    """Return the undo that one redo takes back: the newest standing one with no answer written after it."""
    mine = [entry for entry in entries if layer_of(entry.observer) == layer_of(observer)]
    gone = undone_ids(mine)
    for entry in reversed(mine):
        if entry.what is EntryKind.UNDO:
            if entry.id not in gone and entry.replaces not in _undos(mine):
                return entry
        elif entry.what not in _NOT_UNDONE and entry.id not in gone:
            return None
    return None


def _undos(entries: Iterable[Entry]) -> set[str]:
    return {entry.id for entry in entries if entry.what is EntryKind.UNDO}


def next_rally_key(entries: Iterable[Entry], observer: str = "coach") -> str:
    """Return the key that the next rally gets: "r1", "r2", ...

    It follows from the log alone, so that two tabs that both go on give the same rally the same key
    and their answers meet as one rally with two answers, not as two rallies.
    """
    layer = layer_of(observer)
    numbers = (_number(entry.rally) for entry in entries if layer_of(entry.observer) == layer)
    return f"r{max(numbers, default=0) + 1}"


def _number(key: str) -> int:
    """Return n of a key "rn", 0 of any other."""
    return int(key[1:]) if key[:1] == "r" and key[1:].isdecimal() else 0


def effective_answers(
    entries: Sequence[Entry], observer: str, memo: AnswersMemo | None = None
) -> EffectiveAnswers:
    """Sort the entries of one observer's layer into the answers that stand.

    Parameters
    ----------
    entries : sequence of Entry
        In the order written; other observers' entries are passed over.
    observer : str
        Whose layer; what follows a "/" is ignored.
    memo : AnswersMemo, optional
        What the same log, shorter, came to: rallies without a newer entry keep their `RallyAnswers`.
    """
    layer = layer_of(observer)
    if memo is not None:
        return memo._answers(entries, layer)
    return _sorted_out(entries, layer)[0]


def plain_answers(rows: Sequence[tuple[str, str, EntryKind, Content, str | None]]) -> EffectiveAnswers | None:
    """Sort one layer's entries into the answers that stand: id, rally, what, content, id replaced.

    For reading very many matches at once: which answers contradict each other is not looked for. None where
    an entry moves rallies about or is damaged; `effective_answers` reads such a log.
    """
    undos = [(row[0], row[4]) for row in rows if row[2] is EntryKind.UNDO]
    gone: set[str] = set()
    for name, replaced in reversed(undos):
        if replaced and name not in gone:
            gone.add(replaced)
    by_key: dict[str, RallyAnswers] = {}
    for name, rally, what, value, _ in rows:
        if what in _AROUND or what in _MOVES:
            if what in _MOVES or what is EntryKind.DAMAGED:
                return None
            continue
        facts = by_key.get(rally)
        if facts is None:
            facts = by_key[rally] = RallyAnswers(rally)
        if name in gone:
            continue
        if isinstance(value, ShotValue):
            facts.shots[value.n] = value
        elif not _slot_of(value):
            facts.values[what] = value
    return EffectiveAnswers(_present(by_key, list(by_key)), ())


def _sorted_out(
    entries: Sequence[Entry], layer: str
) -> tuple[EffectiveAnswers, dict[str, RallyAnswers], list[str]]:
    """Return the answers that stand, those of every key ever named, and these keys in the order of play."""
    faults = [_damaged(entry) for entry in entries if entry.what is EntryKind.DAMAGED]
    mine = [entry for entry in entries if entry.observer == layer or layer_of(entry.observer) == layer]
    gone = undone_ids(mine)
    known = {entry.id: n for n, entry in enumerate(mine)}
    by_key: dict[str, RallyAnswers] = {}
    moves: list[Entry] = []
    for entry in mine:
        what = entry.what
        if what in _AROUND:
            if what is EntryKind.UNDO and entry.replaces not in known:
                faults.append(_undo_of_nothing(entry))
            continue
        facts = by_key.get(entry.rally)
        if facts is None:
            facts = by_key[entry.rally] = RallyAnswers(entry.rally)
        if entry.id in gone:
            continue
        if what in _MOVES:
            moves.append(entry)
        _take(facts, entry, known)
    order, misplaced = _order(by_key, moves)
    return EffectiveAnswers(_present(by_key, order), (*faults, *misplaced)), by_key, order


def _present(by_key: dict[str, RallyAnswers], order: Sequence[str]) -> tuple[RallyAnswers, ...]:
    return tuple(facts for key in order if _is_there(facts := by_key[key]))


class AnswersMemo:
    """What one growing log came to when it was last sorted out; for one thread at a time.

    A log that is no longer the same at its beginning, or got an entry that moves rallies about or is at
    fault, is sorted out as a whole again.
    """

    def __init__(self) -> None:
        self._layer = ""
        self._read = 0
        self._last: Entry | None = None
        self._found = EffectiveAnswers((), ())
        self._by_key: dict[str, RallyAnswers] = {}
        self._order: list[str] = []
        self._of_rally: dict[str, list[Entry]] = {}
        self._by_id: dict[str, Entry] = {}
        self._places: dict[str, int] = {}
        self._undos: list[Entry] = []
        self.highest = 0  # the number of the highest rally key, as `next_rally_key` counts
        self.undone: set[str] = set()

    def _answers(self, entries: Sequence[Entry], layer: str) -> EffectiveAnswers:
        read, self._read = self._read, 0  # nothing is known while it is being sorted out
        grown = layer == self._layer and 0 < read <= len(entries) and entries[read - 1] is self._last
        if not grown or self._found.faults or not self._follow(entries[read:], layer):
            self._begin(entries, layer)
        self._read, self._last = len(entries), entries[-1] if entries else None
        return self._found

    def _begin(self, entries: Sequence[Entry], layer: str) -> None:
        self._layer = layer
        self._of_rally, self._by_id, self._undos, self.highest = {}, {}, [], 0
        self._places = {}
        for entry in entries:
            if layer_of(entry.observer) == layer:
                self._index(entry)
        self.undone = undone_ids(self._undos)
        self._found, self._by_key, self._order = _sorted_out(entries, layer)

    def _index(self, entry: Entry) -> None:
        self._by_id[entry.id] = entry
        self._places[entry.id] = len(self._places)
        self.highest = max(self.highest, _number(entry.rally))
        if entry.what is EntryKind.UNDO:
            self._undos.append(entry)
        elif entry.what not in _AROUND:
            self._of_rally.setdefault(entry.rally, []).append(entry)

    def _follow(self, newer: Sequence[Entry], layer: str) -> bool:
        """Sort out the rallies of newer entries; False where the whole log has to be."""
        changed: dict[str, None] = {}
        undos = len(self._undos)
        for entry in newer:
            if entry.what is EntryKind.DAMAGED:
                return False
            if layer_of(entry.observer) != layer:
                continue
            if entry.what in _MOVES or (entry.what is EntryKind.UNDO and entry.replaces not in self._by_id):
                return False
            self._index(entry)
            if entry.what not in _AROUND:
                changed[entry.rally] = None
        if len(self._undos) > undos:
            before, self.undone = self.undone, undone_ids(self._undos)
            for name in before ^ self.undone:
                entry = self._by_id[name]
                if entry.what in _MOVES:
                    return False
                if entry.what not in _AROUND:
                    changed[entry.rally] = None
        for key in changed:
            self._sort_out(key)
        if changed:
            self._found = EffectiveAnswers(_present(self._by_key, self._order), ())
        return True

    def _sort_out(self, key: str) -> None:
        facts = RallyAnswers(key)
        for entry in self._of_rally[key]:
            if entry.id not in self.undone:
                _take(facts, entry, self._places)
        if key not in self._by_key:
            self._order.append(key)
        self._by_key[key] = facts


def _take(facts: RallyAnswers, entry: Entry, places: Mapping[str, int]) -> None:
    """Let this answer stand; note it where another tab's answer stood and was not replaced.

    `places` are those of all entries in the log, by id.
    """
    what, value = entry.what, entry.content
    if _stays(facts, entry, places):
        return
    n = value.n if isinstance(value, ShotValue) else 0
    slot = (what, n or _slot_of(value))
    before = facts.latest.get(slot)
    if before is not None:
        if entry.replaces == before.id:
            facts.clashes.pop(slot, None)
        elif what not in _NO_ANSWERS and before.observer != entry.observer and before.value != entry.value:
            facts.clashes[slot] = (before, entry)
    facts.latest[slot] = entry
    if n:
        facts.shots[n] = value
    elif not _slot_of(value):
        facts.values[what] = value


def _stays(facts: RallyAnswers, entry: Entry, places: Mapping[str, int]) -> bool:
    """Return whether a removal does not hold, as its tab did not know of another tab's answer to the rally.

    A removal that says in `replaces` what its tab saw last does not know of what came between. One that holds
    ends with a later answer of another tab, which did not know of it.
    """
    removal = facts.latest.get(_REMOVAL)
    if entry.what is EntryKind.REMOVE:
        seen = places.get(entry.replaces) if entry.replaces else None
        if entry.content is not True or seen is None:
            return False
        unseen = [
            other for other in facts.latest.values() if places[other.id] > seen and _is_apart(other, entry)
        ]
        if unseen:
            facts.clashes[_REMOVAL] = (unseen[-1], entry)
        return bool(unseen)
    if removal is not None and facts.values.get(EntryKind.REMOVE) is True and _is_apart(entry, removal):
        facts.clashes[_REMOVAL] = (removal, entry)
        del facts.latest[_REMOVAL], facts.values[EntryKind.REMOVE]
    elif _REMOVAL in facts.clashes and entry.what not in _UNASKED:
        answering = next(
            each.observer for each in facts.clashes[_REMOVAL] if each.what is not EntryKind.REMOVE
        )
        if entry.observer != answering:  # who goes on with the rally has seen that it stays
            del facts.clashes[_REMOVAL]
    return False


def _is_apart(answer: Entry, removal: Entry) -> bool:
    """Return whether an answer is a person's, given in another tab than a removal."""
    by_program = tab_of(answer.observer) in PROGRAM_TABS
    return answer.what not in _UNASKED and not by_program and answer.observer != removal.observer


def _slot_of(value: Content) -> int:
    """Return where a proposal stands: draft's, ball path's and check's stand beside each other."""
    if not isinstance(value, ProposedValue):
        return 0
    return DRAFT_SLOT if value.by == "score-draft" else SAMPLE_SLOT if value.sample else 0


def _order(by_key: dict[str, RallyAnswers], moves: list[Entry]) -> tuple[list[str], list[RuleFault]]:
    """Return keys in the order of play: as first written, then moved where somebody placed them."""
    order = list(by_key)
    faults: list[RuleFault] = []
    for move in moves:
        if move.what is not EntryKind.PLACE:
            continue
        after = move.content.after if isinstance(move.content, PlaceValue) else None
        if after is not None and (after not in by_key or after == move.rally):
            faults.append(
                RuleFault(
                    move.rally,
                    "place-unknown",
                    "A rally was to be moved after one that is not in this match. It stays where it "
                    "was. Move it again.",
                )
            )
            continue
        order.remove(move.rally)
        order.insert(0 if after is None else order.index(after) + 1, move.rally)
    return order, faults


def _is_there(facts: RallyAnswers) -> bool:
    if facts.values.get(EntryKind.REMOVE) is True:
        return False
    makes_none = _UNASKED if facts.key.startswith(PAUSE_KEY) else _MAKE_NO_RALLY
    return bool(facts.shots) or not facts.values.keys() <= makes_none


def _damaged(entry: Entry) -> RuleFault:
    why = (
        entry.value.get("why", "it cannot be read") if isinstance(entry.value, dict) else "it cannot be read"
    )
    return RuleFault(
        entry.rally or None,
        "damaged-entry",
        f"An answer in the log is damaged: {why}. It is left out. Answer that question again.",
    )


def _undo_of_nothing(entry: Entry) -> RuleFault:
    return RuleFault(
        entry.rally or None,
        "undo-unknown",
        "An undo refers to an answer that is not in the log. "
        "It changes nothing. If answers are missing, import the match again.",
    )
