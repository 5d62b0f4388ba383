"""A player over the matches as the page shows it: one chart and one sentence a measure."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, TypedDict

from goodlength.findings.reports.player_trends import FEWEST_FOR_TREND
from goodlength.findings.text.sentence_grammar import capital, number_in_words
from goodlength.show.draw.shares_by_match_chart import shares_chart

if TYPE_CHECKING:
    from goodlength.findings.reports.player_across_matches import PlayerAcrossMatches
    from goodlength.findings.reports.player_trends import ProfileRow

NEWEST = 20  # matches
KEY_WORDS = (
    "Disc: what was logged in a match; bar: its 95% range. Open disc: fewer than five. In the order played."
)


class MeasureRow(TypedDict):
    """One measure over the matches: its counts, its chart, and what can be said of a trend."""

    words: str
    total: str
    trend: str
    chart: str


def trend_rows(found: PlayerAcrossMatches) -> list[MeasureRow]:
    """Return each measure with its counts over all matches, its chart and what can be said of a trend."""
    return [_row(row) for row in found.rows if any(figure.share.of for figure in row.figures)]


def honest_words(matches: int) -> str:
    """Return how far a trend can be told from so many matches.

    Examples
    --------
    >>> honest_words(3)
    'Three matches are too few for a trend; four are needed, and even then only a large change shows.'
    >>> honest_words(9)
    'A trend is only named where it is larger than the scatter from match to match.'
    """
    if matches < FEWEST_FOR_TREND:
        many = "One match is" if matches == 1 else f"{capital(number_in_words(matches))} matches are"
        return (
            f"{many} too few for a trend; {number_in_words(FEWEST_FOR_TREND)} are needed, and even then only "
            "a large change shows."
        )
    return "A trend is only named where it is larger than the scatter from match to match."


def _row(row: ProfileRow) -> MeasureRow:
    shown = row.figures[-NEWEST:]
    count = sum(figure.share.count for figure in row.figures)
    of = sum(figure.share.of for figure in row.figures)
    total = f"{count} of {of}"
    if row.usual is not None:
        total += f", usually {_percent(row.usual.low)} to {_percent(row.usual.high)} (95% range)"
    trend = "" if row.trend is None else row.trend.words.removeprefix(f"{row.words}: ")
    years = len({figure.played_on.year for figure in shown if figure.played_on}) > 1
    days = [_day(figure.played_on, years) for figure in shown]
    chart = shares_chart([figure.share for figure in shown], days, row.words)
    return {"words": row.words, "total": total, "trend": capital(trend) if trend else "", "chart": chart}


def _percent(share: float) -> str:
    return f"{100 * share:.0f}%"


def _day(day: date | None, years: bool) -> str:
    """Return a short day, with its year where the matches are of more than one."""
    return "no date" if day is None else f"{day.day} {day:%b %y}" if years else f"{day.day} {day:%b}"
