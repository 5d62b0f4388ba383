"""Terminal lines of command results: matches, faults, findings, plans, drafts."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from typing import TYPE_CHECKING, Any

from goodlength.media_time import day_words

if TYPE_CHECKING:
    from goodlength.findings.result_types import Findings
    from goodlength.practice.planning.practice_plan import PracticePlanJson
    from goodlength.record.model import Player
    from goodlength.tasks.draft.score_draft_proposal_and_acceptance import MatchDraft
    from goodlength.tasks.match.match_editing_and_answers import MatchRow

Plain = Mapping[str, Any]


def match_list_lines(rows: Iterable[MatchRow]) -> Iterator[str]:
    """Yield a heading and a line a match; nothing without a match."""
    listed = list(rows)
    if not listed:
        return
    width = max(len("Id"), *(len(row.id) for row in listed))
    yield f"{'Id':<{width}}  {'Date':<17}  {'Rallies':>7}  Players"
    for row in listed:
        day = day_words(row.played_on) if row.played_on else "no date"
        yield f"{row.id:<{width}}  {day:<17}  {row.rallies:>7}  {row.title}"


def match_lines(shown: Plain, kinds: Mapping[str, str] | None = None) -> Iterator[str]:
    """Yield a match as a heading, its games, its problems and a table of rallies; `kinds` are the words of
    serves.
    """
    from goodlength.tasks.findings.season_search import value_words

    names = dict(zip(shown["players"], str(shown["title"]).split(" v "), strict=False))
    day = day_words(date.fromisoformat(shown["played_on"])) if shown["played_on"] else ""
    yield ", ".join(part for part in (str(shown["title"]), shown["event"], day) if part)
    games = (f"game {g['n']}: {g['score'][0]}–{g['score'][1]}" for g in shown["games"])
    yield ", ".join(games).capitalize() or "No game yet."
    yield from (f"Problem: {words}" for words in fault_lines(shown))
    if shown["rallies"]:
        yield f"{'No.':>4}  {'Server':<14} {'Box':<6} {'Serve, return':<38} Call"
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
        at = f"Rally {number[fault['rally']]}: " if fault["rally"] in number else ""
        yield at + fault["words"]


def consent_line(player: Player) -> str:
    """Return what a player's consent is for, and until when."""
    agreed = player.consent
    if agreed is None or not agreed.purposes:
        return f"No consent of {player.name} is in force."
    until = f", until {day_words(agreed.until)}" if agreed.until else ""
    return f"Consent saved: {player.name}, for {', '.join(agreed.purposes)}{until}."


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
    "clear": "Clear",
    "leaning": "Possible",
    "too-few": "Not enough data",
    "no-difference": "No real difference",
}
WITH_WORDS = {"solo": "alone", "pair": "with a partner", "feeder": "with a feeder"}


def plan_lines(plan: PracticePlanJson) -> Iterator[str]:
    """Yield a plan: when it is reviewed, its drills with what they serve, and the cautions."""
    review = day_words(date.fromisoformat(plan["check_on"]))
    sessions = "1 session" if plan["sessions"] == 1 else f"{plan['sessions']} sessions"
    yield f"{sessions[0].upper()}{sessions[1:]}. Review on {review}."
    for item in plan["items"]:
        yield ""
        yield f"{item['name']}: {item['sets']} sets of {item['attempts']}, about {item['minutes']} min"
        yield f"  Task: {item['do']}"
        if item["target"] is not None:
            yield f"  Target: {item['target']} of {item['attempts']} in the last set."
        yield f"  Why: {GRADES.get(item['grade'], 'Your choice')}. {_sentence(item['why'])}"
        yield f"  Check next match: {item['shows']}."
    for words in plan["left_out"]:
        yield ""
        yield f"Left out: {words}"
    yield ""
    yield "Safety first:"
    yield from (f"  {caution['lead']} {caution['words']}" for caution in plan["cautions"])


def _sentence(words: str) -> str:
    """Return words with a full stop where they end without a stop of their own."""
    return words if not words or words.endswith((".", "?", "!")) else f"{words}."


def draft_lines(drafted: MatchDraft, names: tuple[str, str]) -> Iterator[str]:
    """Yield a draft, one rally a line, the doubtful ones marked; `names` are those of the two players."""
    for n, item in enumerate(getattr(drafted.sheet, "proposals", ()), 1):
        winner = "no point" if item.winner is None else names[item.winner.place]
        warning = "" if item.offered else f"  doubtful, {100 * round(item.chance, 4):.0f}% sure"
        score = f"{item.before[0]}-{item.before[1]}"
        yield (
            f"{n:>4}  game {item.game}  {score:>5}  "
            f"{names[item.server.place]} from the {item.box.value} box, "
            f"winner: {winner}{warning}"
        )
