"""Writes entries one after the other: for imports, for the demo, for tests."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import uuid4

from goodlength.record.model import Entry, What
from goodlength.record.questions import FIRST_SHOT_ASKED

_BEGIN = datetime(2000, 1, 1, tzinfo=UTC)


class Pen:
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
    >>> pen = Pen("m1", mark="e")
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

    def write(self, rally: str, what: What, value: Any, replaces: str | None = None) -> Entry:
        """One more entry."""
        n = len(self.entries) + 1
        at = self.at_utc + timedelta(seconds=n - 1)
        entry = Entry(f"{self.mark}{n}", self.match, self.observer, at, rally, what, value, replaces)
        self.entries.append(entry)
        return entry

    def undo(self, entry: Entry) -> Entry:
        """Take an entry back."""
        return self.write(entry.rally, What.UNDO, None, entry.id)

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
            if what is What.SPAN and isinstance(value, tuple):
                value = {"start_us": value[0], "end_us": value[1], "how": "answers"}
            self.write(key, what, getattr(value, "value", value))
            if what is What.LEFT and shots is not None:
                self._shots(key, shots, server)

    def _shots(self, key: str, strokes: list[str], striker: str) -> None:
        for n, stroke in enumerate(strokes, FIRST_SHOT_ASKED):
            self.write(key, What.SHOT, {"n": n, "by": striker, "stroke": stroke})
            striker = "b" if striker == "a" else "a"
        self.write(key, What.SHOT, {"count": FIRST_SHOT_ASKED - 1 + len(strokes)})


SHORT = {
    "span": What.SPAN,
    "set_to": What.SET_TO,
    "server": What.SERVER,
    "box": What.BOX,
    "kind": What.KIND,
    "aim": What.AIM,
    "receiver_place": What.RECEIVER_PLACE,
    "how": What.HOW_TAKEN,
    "return_stroke": What.RETURN_STROKE,
    "return_to": What.RETURN_TO,
    "left": What.LEFT,
    "winner": What.WINNER,
    "ending": What.ENDING,
    "ending_stroke": What.ENDING_STROKE,
    "ending_volley": What.ENDING_VOLLEY,
    "ending_place": What.ENDING_PLACE,
    "ending_why": What.ENDING_WHY,
    "fault_why": What.FAULT_WHY,
    "called": What.CALLED,
    "note": What.NOTE,
    "keep": What.KEEP,
    "conduct": What.CONDUCT,
    "retired": What.RETIRED,
}
