"""Content blocks of the handout, text and drawings, shared by PDF and HTML."""

from __future__ import annotations

import re
from base64 import b64encode
from html import unescape
from typing import TYPE_CHECKING

from goodlength.files.json_types import Json
from goodlength.languages import Language, language
from goodlength.show.draw.court.floor_maps import SpotMark, box_map, landing_map, spot_key
from goodlength.show.draw.evidence_grade_icons import grade_svg, grade_words
from goodlength.show.draw.proportion_charts import range_bar, range_key
from goodlength.show.draw.proportion_protocols_and_wording import share_words
from goodlength.show.draw.rally_leverage_chart import turning_games
from goodlength.show.draw.svg_primitives_and_themes import DrawingTheme, drawing
from goodlength.show.handout.handout_types import PLAIN

if TYPE_CHECKING:
    from goodlength.show.handout.handout_types import (
        HandoutCourt,
        HandoutData,
        HandoutServe,
        HandoutStill,
        HandoutTurningPoints,
    )

COURT_WIDE = 248.0  # px
BAR_WIDE = 104.0  # px
TURNING_HIGH = 150.0  # px, the rallies of the longest game

Contents = dict[str, Json]


class Picture(str):
    """An SVG of our own making; every other string is somebody's words and is escaped."""

    __slots__ = ()


def contents(data: HandoutData, theme: DrawingTheme) -> Contents:
    """Return every string and picture of the page, in the order of reading."""
    spoken = language(data.language)
    return {
        "title": _title(data, spoken),
        "heading": spoken.phrase("For {player}", player=data.player),
        "line": _match_line(data, spoken),
        "result": data.result,
        "club": data.club,
        "made": spoken.phrase("Created {day}", day=spoken.day(data.made)),
        "brand": Picture(brand(theme)),
        "findings": [
            {
                "mark": None
                if finding.grade == PLAIN
                else Picture(grade_svg(finding.grade, theme=theme, size=15)),
                "grade": finding.label or spoken.known(grade_words(finding.grade)),
                "headline": finding.headline,
                "words": finding.words,
            }
            for finding in data.findings
        ],
        "no_findings": spoken.phrase("Nothing in this match stands out clearly yet."),
        "serves": [_serve(serve, theme, spoken) for serve in data.serves],
        "bars": any(serve.weak is not None and serve.weak.of for serve in data.serves),
        "bar_key": {
            "mark": Picture(range_key(theme=theme)),
            "words": spoken.phrase(
                "Dot: the share in this match; open: fewer than five returns. Bar: 95% range for the "
                "true rate. Line: 0 to 100%."
            ),
        },
        "court": _court(data.court, theme, spoken) if data.court else None,
        "stills": [_still(still, spoken) for still in data.stills],
        **({"turning": _turning(data.turning, theme, spoken)} if data.turning else {}),
        "week": [{"name": name, "do": do} for name, do in data.week],
        "words": paragraphs(data.words),
        "unknown": list(data.unknown),
        "caution": data.caution,
        "lang": data.language,
    }


def labels(data: HandoutData) -> Contents:
    """Return the headings and fixed words that the two templates set, and the direction of the writing."""
    spoken = language(data.language)
    return {
        "dir": spoken.direction,
        "nothing_clear": all(finding.grade == PLAIN for finding in data.findings),
        "findings": spoken.phrase("What we saw"),
        "serves": spoken.phrase("Your serves"),
        "no_serves": spoken.phrase("No serve of yours is logged."),
        "kind": spoken.phrase_in("column of a table", "Kind"),
        "served": spoken.phrase_in("column of a table", "Served"),
        "weak": spoken.phrase("Weak return (loose or missed)"),
        "not_recorded": spoken.phrase("not recorded"),
        "counts": [_count_of(serve, spoken) for serve in data.serves],
        "turning": spoken.phrase("Turning points"),
        "unknown": spoken.phrase("What we do not know"),
        "stills": spoken.phrase("Stills"),
        "words": spoken.phrase("From your coach"),
        "week": spoken.phrase("To practise"),
        "notes": spoken.phrase("Notes"),
        "own_aim": spoken.phrase("What I want to try"),
        "over": spoken.phrase("Continued on the back"),
        "caution": spoken.phrase("Read with care."),
    }


def _count_of(serve: HandoutServe, spoken: Language) -> list[str]:
    """Return "{count} of {of}" in three parts: what stands before the count, the count, and what follows."""
    if serve.weak is None or not serve.weak.of:
        return []
    of = spoken.number(serve.weak.of)
    before, mark, after = spoken.phrase("{count} of {of}", count="\0", of=of).partition("\0")
    return [before, spoken.number(serve.weak.count), after] if mark else ["", "", before]


def _title(data: HandoutData, spoken: Language) -> str:
    if data.event:
        return spoken.phrase("Handout for {player}: {event}", player=data.player, event=data.event)
    return spoken.phrase("Handout for {player}", player=data.player)


def paragraphs(words: str) -> list[str]:
    """Return the coach's text in paragraphs, parted by blank lines; single line ends become spaces.

    Examples
    --------
    >>> paragraphs("One.\\ntwo\\n\\n  Three.")
    ['One. two', 'Three.']
    """
    parts = (" ".join(part.split()) for part in re.split(r"\n\s*\n", words))
    return [part for part in parts if part]


def brand(theme: DrawingTheme) -> str:
    """Return the mark beside the name: a floor, a wall, and a ball into the nick."""
    ink, line = theme.paint("ink"), theme.paint("court-line")
    body = (
        f'<path d="M1 20.5H28.5V2" fill="none" stroke="{ink}" stroke-width="2.2"/>'
        f'<path d="M2 6C9 4.5 14 9 17.5 20 19.5 13 23 11.5 27 18.4" fill="none" stroke="{ink}"'
        ' stroke-width="1.4"/>'
        f'<circle cx="26.6" cy="18.2" r="2.6" fill="{line}"/>'
    )
    return drawing(theme, 26, 19, body, None, view=(0, 0, 30, 22))


def _match_line(data: HandoutData, spoken: Language) -> str:
    """Event, day and opponent: only what is known and allowed."""
    where = [data.event] if data.event else []
    where += [spoken.day(data.played)] if data.played else []
    where += [spoken.phrase("v {opponent}", opponent=data.opponent)] if data.opponent else []
    return ", ".join(where)


def _serve(serve: HandoutServe, theme: DrawingTheme, spoken: Language) -> Contents:
    weak = serve.weak if serve.weak is not None and serve.weak.of else None
    return {
        "words": serve.words,
        "served": serve.served,
        "count": weak.count if weak else None,
        "of": weak.of if weak else None,
        "bar": Picture(range_bar(weak, theme=theme, wide=BAR_WIDE, spoken=spoken)) if weak else None,
        "alt": spoken.phrase("Weak returns: {share}", share=share_words(weak, spoken=spoken))
        if weak
        else None,
    }


def _still(still: HandoutStill, spoken: Language) -> Contents:
    """Return a photograph inside a drawing, as both PDF and HTML take it."""
    encoded = b64encode(still.jpeg).decode("ascii")
    size = f'width="{still.wide}" height="{still.high}"'
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {still.wide} {still.high}" {size}>'
        f'<image href="data:image/jpeg;base64,{encoded}" {size}/></svg>'
    )
    alt = spoken.phrase("Still: {words}", words=still.words)
    return {"svg": Picture(svg), "alt": alt, "words": still.words}


def _turning(turning: HandoutTurningPoints, theme: DrawingTheme, spoken: Language) -> Contents:
    """Return the chart of turning points, one drawing a game, each also in words."""
    drawings = turning_games(
        turning.games, turning.names, side=turning.side, theme=theme, most_high=TURNING_HIGH, spoken=spoken
    )
    alts = [re.search(r'aria-label="([^"]*)"', svg) for svg in drawings]
    return {
        "note": spoken.phrase(
            "Each bar is a rally, in the column of its winner; the wider, the more it could change the "
            "match. Beside a turning point: the score before it, the server’s points first. Below: "
            "{player}’s chance to win the match after that game, if the two are equal. "
            "Not a forecast.",
            player=turning.names[0],
        ),
        "games": [
            {"svg": Picture(svg), "alt": unescape(alt.group(1)) if alt else ""}
            for svg, alt in zip(drawings, alts, strict=True)
        ],
    }


def _court(court: HandoutCourt, theme: DrawingTheme, spoken: Language) -> Contents:
    if court.landings:
        svg = landing_map(
            court.landings,
            served=court.served,
            from_right=court.right.served if court.right else None,
            from_left=court.left.served if court.left else None,
            wide=COURT_WIDE,
            theme=theme,
            spoken=spoken,
        )
        present = {point.spot for point in court.landings}
        key = [
            {"mark": Picture(spot_key(spot, theme=theme)), "words": words}
            for spot, words in (
                (SpotMark.WEAK, spoken.phrase("weak return")),
                (SpotMark.GOOD, spoken.phrase("returned well")),
                (SpotMark.UNKNOWN, spoken.phrase("return not logged")),
            )
            if spot in present
        ]
        note = ""
    else:
        svg = box_map(court.right, court.left, wide=COURT_WIDE, theme=theme, spoken=spoken)
        key = []
        note = spoken.phrase("In each box: number of serves. In the quarter across: weak returns of them.")
    alt = re.search(r'aria-label="([^"]*)"', svg)
    return {
        "title": court.title,
        "svg": Picture(svg),
        "alt": unescape(alt.group(1)) if alt else "",
        "key": key,
        "note": note,
    }
