"""JSON form and terminal lines of a player over many matches."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

from goodlength.files.json_types import Json
from goodlength.forms.findings.answer_authors_and_acceptance_rate_json import counted_form, origin_words
from goodlength.media_time import day_words
from goodlength.tasks.findings.opponent_report import graded

if TYPE_CHECKING:
    from goodlength.findings.reports.player_across_matches import PlayerAcrossMatches
    from goodlength.findings.result_types import Share


def across_form(found: PlayerAcrossMatches) -> dict[str, Json]:
    """Return the JSON of `findings show --player X --json`: shares 0 to 1 with counts, ranges and rallies
    ("match/key").
    """
    from goodlength.findings.reference.published_norms_table import CAUTIONS
    from goodlength.findings.reports.findings_json import plain
    from goodlength.findings.reports.player_across_matches import OUT_OF, REGRESSION

    form = plain(replace(found, answers=None))
    form["answers"], form["origins"] = counted_form(found.answers), origin_words(found.answers)
    for name in ("first_played", "last_played", "change_on"):
        form[name] = _day(form[name])
    for row, finding in zip(form["findings"], found.findings, strict=True):
        row["grade_words"] = finding.grade.words
    for row in form["rows"]:
        row["out_of"] = OUT_OF[row["measure"]]
        for figure in row["figures"]:
            figure["played_on"] = _day(figure["played_on"])
    for row in form["opponents"]:
        row["last_played"] = _day(row["last_played"])
    for row in form["changes"]:
        row["change"].pop("words")  # said with its grade in row["words"]
        row["warning"] = REGRESSION
    form["cautions"] = list(CAUTIONS)
    made: dict[str, Json] = form
    return made


def across_lines(found: PlayerAcrossMatches) -> Iterator[str]:
    """Yield the same as lines for a terminal."""
    from goodlength.findings.reports.player_across_matches import REGRESSION
    from goodlength.findings.result_types import Grade

    yield _title(found)
    yield found.stable
    if origin_words(found.answers):
        yield origin_words(found.answers)
    yield from found.notes
    for finding in found.findings:
        yield ""
        yield graded(finding)
        yield f"  {finding.words}"
    yield ""
    yield "Usual values, match by match"
    yield from _profile(found)
    yield ""
    yield "Kinds of serve"
    for kind in found.kinds:
        yield (
            f"  {kind.words}: {_of(kind.served)} serves, in {kind.matches} of {len(found.matches)} matches; "
            f"weak returns (loose or missed) {_of(kind.weak)}; won {_of(kind.won)}, lets excluded"
        )
        if kind.trend is not None:
            yield f"    {kind.trend.words}"
    yield ""
    yield "Opponents (rallies won, lets excluded)"
    for opponent in found.opponents:
        last = f", the last on {day_words(opponent.last_played)}" if opponent.last_played else ""
        many = "one match" if opponent.matches == 1 else f"{opponent.matches} matches"
        yield (
            f"  {opponent.name}: {many}{last}; "
            f"serving {_of(opponent.serving)}, receiving {_of(opponent.receiving)}"
            + (
                f"; {_chance(opponent.chance.chance, opponent.chance.low, opponent.chance.high)}"
                if opponent.chance
                else ""
            )
        )
    if found.change_on is not None:
        yield ""
        yield f"From {day_words(found.change_on)} on (after), and before that day (before)"
        for change in found.changes:
            leaning = f"{change.grade.words}: " if change.grade is Grade.LEANING else ""
            yield f"  {leaning}{change.words}"
        yield f"  {REGRESSION}"


def _profile(found: PlayerAcrossMatches) -> Iterator[str]:
    from goodlength.findings.reports.player_across_matches import OUT_OF

    for words, won_row in (("serving", found.serving), ("receiving", found.receiving)):
        yield (
            f"  Rallies won {words}: {_of(won_row.decided)} excluding lets, "
            f"{_of(won_row.with_lets)} with lets "
            "counted as not won"
        )
    for row in found.rows:
        middle = row.middle
        if middle.median is None:
            yield f"  {row.words}: not recorded"
            continue
        usual = f"median {_hundred(middle.median)}% over {middle.of} matches"
        if middle.low is not None and middle.high is not None:
            usual += f" (95% range {_span(middle.low, middle.high)})"
        if row.usual is not None:
            usual += f"; rate over all matches: 95% range {_span(row.usual.low, row.usual.high)}"
        yield f"  {row.words}: {usual}. Out of {OUT_OF[row.measure]}."
        if row.trend is not None:
            yield f"    {row.trend.words}"


def _title(found: PlayerAcrossMatches) -> str:
    many = "one match" if len(found.matches) == 1 else f"{len(found.matches)} matches"
    first, last = found.first_played, found.last_played
    if first is None or last is None:
        return f"{found.player}: {many}"
    days = day_words(first) if first == last else f"{day_words(first)} to {day_words(last)}"
    return f"{found.player}: {many}, {days}"


def _chance(mean: float, low: float, high: float) -> str:
    return f"adjusted rate of rallies won serving {_hundred(mean)}% (95% range {_span(low, high)})"


def _of(share: Share) -> str:
    return f"{share.count} of {share.of}"


def _span(low: float, high: float) -> str:
    return f"{_hundred(low)} to {_hundred(high)}%"


def _hundred(share: float) -> str:
    return f"{100 * share:.0f}"


def _day(day: date | None) -> str | None:
    return None if day is None else day.isoformat()
