"""Consistency checks of the answers: contradictions, two tabs, times. Rule violations stand in `scoring`."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from typing import Any

from goodlength.media_time import clock_words
from goodlength.record.effective_answers import RallyAnswers
from goodlength.record.entry_value_types import Content, MeasuredValue, stored_form
from goodlength.record.model import Ending, EntryKind, Left, Rally, ReturnKind
from goodlength.scoring.scoring_types import RuleFault

_ASKED = {
    EntryKind.KIND: "the kind of serve",
    EntryKind.HOW_TAKEN: "how the return was taken",
    EntryKind.LEFT: "the quality of the return",
    EntryKind.WINNER: "who won",
    EntryKind.ENDING: "how it ended",
    EntryKind.SERVER: "who served",
    EntryKind.BOX: "the box",
    EntryKind.SPAN: "when the rally was played",
    EntryKind.CALLED: "the official call",
    EntryKind.ENDING_STROKE: "the last shot",
    EntryKind.RETURN_STROKE: "the shot of the return",
    EntryKind.MEASURED: "the measured serve",
}


def place_of(rally: Rally) -> str:
    """Return where in the match a rally is, as every fault says it."""
    return f"Rally {rally.n_in_game} of game {rally.game}"


def clash_faults(rally: Rally, facts: RallyAnswers, names: tuple[str, str]) -> list[RuleFault]:
    """Return two answers of two tabs to one question: both are kept, the later is shown."""
    found = []
    for (what, n), (before, later) in facts.clashes.items():
        if what is EntryKind.REMOVE:
            words = (
                f"{place_of(rally)}: one tab deleted this rally while another answered it. It stays; "
                "delete it again if it was none."
            )
            found.append(RuleFault(rally.key, "removed-and-answered", words))
            continue
        asked = _ASKED.get(what, what.value) + (f" {n}" if n else "")
        found.append(
            RuleFault(
                rally.key,
                "two-answers",
                f"{place_of(rally)}: two tabs gave two answers for {asked}: "
                f"{_answer_words(before.content, names)}, and later {_answer_words(later.content, names)}. "
                "The later one counts for now. Answer that question again to choose.",
            )
        )
    return found


def _answer_words(value: Content, names: tuple[str, str]) -> str:
    if value is None:
        return "“not recorded”"
    if value in ("a", "b"):
        return f"“{names[0] if value == 'a' else names[1]}”"
    if isinstance(value, MeasuredValue):
        return f"“{value.speed_m_s[0]:.1f} m/s”"
    return f"“{stored_form(value)}”"


def answer_faults(
    rally: Rally,
    facts: RallyAnswers,
    bad: Iterable[EntryKind],
    known_kinds: Collection[str],
    names: tuple[str, str],
) -> list[RuleFault]:
    """Return answers about one rally that cannot be read, or that cannot all be true."""
    found: list[RuleFault] = []

    def add(code: str, words: str) -> None:
        found.append(RuleFault(rally.key, code, f"{place_of(rally)}: {words}"))

    for what in dict.fromkeys(bad):
        asked = _ASKED.get(what, what.value)
        add("damaged-answer", f"the answer for {asked} cannot be read and is left out. Answer it again.")
    kind = rally.serve.kind
    if kind is not None and kind not in known_kinds:
        add(
            "unknown-kind",
            f"the serve is of a kind {kind!r} that this library does not have. "
            "Answer it again, or add the kind in Settings.",
        )
    _contradictions(rally, facts, names, add)
    if not rally.shots:
        return found
    for shot in rally.shots:
        due = rally.server if shot.n % 2 else rally.server.other
        if rally.server_known and shot.by is not due:
            add(
                "wrong-striker",
                f"shot {shot.n} is given to {names[shot.by.place]}, but players strike in turn and it was "
                f"{names[due.place]}'s. Check whether a shot before it is missing.",
            )
            break
    if rally.shots_in_all is not None and rally.shots and rally.shots[-1].n > rally.shots_in_all:
        add(
            "shot-count",
            f"shot {rally.shots[-1].n} is logged, but the rally has {rally.shots_in_all} in all. "
            "Correct one of the two.",
        )
    return found


def _contradictions(rally: Rally, facts: RallyAnswers, names: tuple[str, str], add: Any) -> None:
    not_made = rally.ret.how is ReturnKind.NOT_MADE or rally.ret.left is Left.NOT_MADE
    awarded = rally.decision is not None or rally.ending in (Ending.CONDUCT, Ending.SERVICE_FAULT)
    if not_made and rally.winner is rally.server.other and rally.server_known and not awarded:
        add(
            "contradiction",
            f"the return was missed, yet {names[rally.winner.place]}, who returned, is logged as the "
            "winner. The winner counts. Answer one of the two again.",
        )
    if rally.ret.how is ReturnKind.NOT_MADE and facts.get(EntryKind.LEFT) not in (None, Left.NOT_MADE.value):
        add(
            "contradiction",
            f"the return was missed, yet its quality is logged "
            f"({facts.get(EntryKind.LEFT)}). It counts as missed. Answer one of the two again.",
        )


def span_faults(rallies: Sequence[Rally], length_us: int | None) -> list[RuleFault]:
    """Return spans that run backwards, overlap, come out of order, or lie outside the footage.

    Rallies that begin after the footage is over, with none after them inside it, were not filmed: that is
    no fault.
    """
    found: list[RuleFault] = []
    timed = [rally for rally in rallies if rally.start_us is not None]
    not_filmed = _not_filmed(timed, length_us)
    furthest: Rally | None = None
    for rally in timed:
        start = rally.start_us or 0
        end = start if rally.end_us is None else rally.end_us
        if end < start or (rally.end_us is not None and end == start):
            found.append(_span_fault(rally, "span-backwards", "ends before it starts. Set its end again."))
            continue
        outside = length_us is not None and max(start, end) > length_us and rally.key not in not_filmed
        if start < 0 or outside:
            whole = "" if length_us is None else f" The video is {_clock(length_us)} long."
            found.append(_span_fault(rally, "span-outside", f"is outside the video.{whole} Set it again."))
        if furthest is not None:
            found += _against(furthest, rally)
        if furthest is None or end >= _end(furthest):
            furthest = rally
    return found


def _not_filmed(timed: Sequence[Rally], length_us: int | None) -> set[str]:
    """Return keys of the rallies at the end of the match that were played after the footage was over."""
    keys: set[str] = set()
    for rally in reversed(timed):
        if length_us is None or (rally.start_us or 0) < length_us:
            break
        keys.add(rally.key)
    return keys


def _against(before: Rally, rally: Rally) -> list[RuleFault]:
    """Return how a span contradicts the one of a rally played earlier."""
    start, earlier = rally.start_us or 0, before.start_us or 0
    named = f"rally {before.n_in_game} of game {before.game} ({_span_words(before)})"
    end = start if rally.end_us is None else rally.end_us
    if end <= earlier and start < earlier:
        words = f"is before {named}, but the rally is logged after it. Correct one of the two times."
        return [_span_fault(rally, "span-order", words)]
    if start < _end(before):
        return [_span_fault(rally, "span-overlap", f"overlaps {named}. Correct one of the two times.")]
    return []


def _end(rally: Rally) -> int:
    return rally.end_us if rally.end_us is not None else (rally.start_us or 0)


def _span_words(rally: Rally) -> str:
    return f"{_clock(rally.start_us or 0)} to {'?' if rally.end_us is None else _clock(rally.end_us)}"


def _clock(us: int) -> str:
    return clock_words(us / 1e6) if us >= 0 else f"{us / 1e6:.1f} s"


def _span_fault(rally: Rally, code: str, words: str) -> RuleFault:
    return RuleFault(rally.key, code, f"{place_of(rally)}: its time, {_span_words(rally)}, {words}")
