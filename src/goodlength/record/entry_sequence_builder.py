"""Write entries one after the other, for imports, the demo and tests."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import uuid4

from goodlength.record.model import Entry, EntryKind
from goodlength.record.rally_questions import FIRST_SHOT_ASKED

_BEGIN = datetime(2000, 1, 1, tzinfo=UTC)


class EntryWriter:
    """Makes entries with ids and times that follow each other.

    Parameters
    ----------
    match : str
        Id of the match.
    observer : str
        Who watched.
    at_utc : datetime, optional
        Time of the first entry; each further one is a second later.
    mark : str, optional
        What every id begins with; left out, something no other pen has.

    Examples
    --------
    >>> pen = EntryWriter("m1", mark="e")
    >>> pen.rally("r1", winner="a", kind="lob", left="tight", ending="winner")
    >>> [(entry.id, entry.what.value, entry.value) for entry in pen.entries][:2]
    [('e1', 'serve.kind', 'lob'), ('e2', 'return.left', 'tight')]
    """

    def __init__(
        self, match: str, observer: str = "coach", at_utc: datetime | None = None, mark: str | None = None
    ) -> None:
        self.match, self.observer = match, observer
        self.at_utc = at_utc or _BEGIN
        self.mark = f"{uuid4().hex[:16]}-" if mark is None else mark
        self.entries: list[Entry] = []

    def write(self, rally: str, what: EntryKind, value: Any, replaces: str | None = None) -> Entry:
        """Return one more entry."""
        n = len(self.entries) + 1
        at = self.at_utc + timedelta(seconds=n - 1)
        entry = Entry(f"{self.mark}{n}", self.match, self.observer, at, rally, what, value, replaces)
        self.entries.append(entry)
        return entry

    def undo(self, entry: Entry) -> Entry:
        """Take an entry back."""
        return self.write(entry.rally, EntryKind.UNDO, None, entry.id)

    def rally(self, key: str, **answers: Any) -> None:
        """A whole rally: each answer by its short name (see `SHORT`), written in the order asked.

        `span=(start_us, end_us)` marks its time; `shots=["drive", ...]` are the shots from the third on.
        """
        shots, server = answers.pop("shots", None), answers.pop("striker_of_third", "a")
        unknown = set(answers) - set(SHORT)
        if unknown:
            raise TypeError(f"no answer is called {sorted(unknown)[0]!r}; there are {', '.join(SHORT)}")
        for short, what in SHORT.items():
            if short not in answers:
                continue
            value = answers[short]
            if what is EntryKind.SPAN and isinstance(value, tuple):
                value = {"start_us": value[0], "end_us": value[1], "how": "answers"}
            self.write(key, what, getattr(value, "value", value))
            if what is EntryKind.LEFT and shots is not None:
                self._shots(key, shots, server)

    def _shots(self, key: str, strokes: list[str], striker: str) -> None:
        for n, stroke in enumerate(strokes, FIRST_SHOT_ASKED):
            self.write(key, EntryKind.SHOT, {"n": n, "by": striker, "stroke": stroke})
            striker = "b" if striker == "a" else "a"
        self.write(key, EntryKind.SHOT, {"count": FIRST_SHOT_ASKED - 1 + len(strokes)})


SHORT = {
    "span": EntryKind.SPAN,
    "set_to": EntryKind.SET_TO,
    "server": EntryKind.SERVER,
    "box": EntryKind.BOX,
    "kind": EntryKind.KIND,
    "aim": EntryKind.AIM,
    "receiver_place": EntryKind.RECEIVER_PLACE,
    "how": EntryKind.HOW_TAKEN,
    "return_stroke": EntryKind.RETURN_STROKE,
    "return_to": EntryKind.RETURN_TO,
    "left": EntryKind.LEFT,
    "winner": EntryKind.WINNER,
    "ending": EntryKind.ENDING,
    "ending_stroke": EntryKind.ENDING_STROKE,
    "ending_volley": EntryKind.ENDING_VOLLEY,
    "ending_place": EntryKind.ENDING_PLACE,
    "ending_why": EntryKind.ENDING_WHY,
    "fault_why": EntryKind.FAULT_WHY,
    "called": EntryKind.CALLED,
    "note": EntryKind.NOTE,
    "keep": EntryKind.KEEP,
    "conduct": EntryKind.CONDUCT,
    "retired": EntryKind.RETIRED,
}
