"""Terminal lines of command results: matches, faults, findings, plans, drafts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from typing import TYPE_CHECKING, Any

from goodlength.media_time import day_words
from goodlength.practice.planning.practice_plan import PracticePlanJson
from goodlength.tasks.findings.season_search import value_words

if TYPE_CHECKING:
    from goodlength.findings.result_types import Findings
    from goodlength.tasks.footage.score_draft import MatchDraft

Plain = Mapping[str, Any]


def match_lines(shown: Plain, kinds: Mapping[str, str] | None = None) -> Iterator[str]:
    """Yield a match as a heading, its games, its faults and a line a rally; `kinds` are the words of
    serves.
    """
    names = dict(zip(shown["players"], str(shown["title"]).split(" v "), strict=False))
    yield str(shown["title"])
    yield (
        ", ".join(f"game {g['n']}: {g['score'][0]}–{g['score'][1]}" for g in shown["games"]) or "no game yet"
    )
    yield from fault_lines(shown)
    for rally in shown["rallies"]:
        kind = rally["serve_kind"] or ""
        serve_words = [(kinds or {}).get(kind, kind).lower(), value_words(rally["return_left"] or "")]
        summary = ", ".join(word for word in [*serve_words, "let" if rally["let"] else ""] if word)
        server = names.get(rally["server"], rally["server"]) or "?"
        box = f"{rally['box']}{'' if rally['box_known'] else '?'}"
        yield f"{rally['n']:>4}  {server:<14} {box:<6} {summary:<38} {rally['call']}"


def fault_lines(shown: Plain) -> Iterator[str]:
    """Yield what cannot be, each with its rally's number where it has one."""
    number = {rally["key"]: rally["n"] for rally in shown["rallies"]}
    for fault in shown["faults"]:
        at = f"rally {number[fault['rally']]}: " if fault["rally"] in number else ""
        yield at + fault["words"]


def findings_lines(found: Findings) -> Iterator[str]:
    """Yield each finding: its grade, its headline, its words, and its share with the range."""
    yield found.summary
    for finding in found.all:
        yield ""
        yield f"{finding.grade.words}: {finding.headline}"
        yield f"  {finding.words}"
        if finding.of:
            low, high = (round(100 * end) for end in finding.interval)
            yield f"  {finding.count} of {finding.of}: 95% range {low} to {high}%."
    for note in found.notes:
        yield f"Note: {note}"


GRADES = {
    "clear": "clear",
    "leaning": "possible",
    "too-few": "not enough data",
    "no-difference": "no real difference",
}


def plan_lines(plan: PracticePlanJson) -> Iterator[str]:
    """Yield a plan: its drills with what they serve, when it is checked, and the cautions."""
    for item in plan["items"]:
        aim = f", target {item['target']} of {item['attempts']}" if item["target"] is not None else ""
        yield f"{item['name']}: {item['sets']} x {item['attempts']}, {item['minutes']} min{aim}"
        yield f"  Task: {item['do']}"
        grade = GRADES.get(item["grade"], "your choice")
        yield f"  Why: {item['why'].rstrip('.')} ({grade}). Check next match: {item['shows']}."
    for words in plan["left_out"]:
        yield f"Left out: {words}"
    review = date.fromisoformat(plan["check_on"])
    sessions = "1 session" if plan["sessions"] == 1 else f"{plan['sessions']} sessions"
    yield f"{sessions}. Review on {day_words(review)}."
    for caution in plan["cautions"]:
        yield f"{caution['lead']} {caution['words']}"


def draft_lines(drafted: MatchDraft) -> Iterator[str]:
    """Yield a draft, one rally a line, the doubtful ones marked."""
    for n, item in enumerate(getattr(drafted.sheet, "proposals", ()), 1):
        winner = "no point" if item.winner is None else ("first", "second")[item.winner.place]
        warning = "" if item.offered else f"  doubtful, {100 * round(item.chance, 4):.0f}% sure"
        score = f"{item.before[0]}-{item.before[1]}"
        yield (
            f"{n:>4}  game {item.game}  {score:>5}  "
            f"{item.server.value.upper()} from the {item.box.value} box  "
            f"won by: {winner}{warning}"
        )
