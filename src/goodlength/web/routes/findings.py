"""Findings: what the record says of one player, with the evidence behind it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from goodlength.findings.model import EffectRow, Findings, Share
from goodlength.record.model import Match
from goodlength.record.names import short_names
from goodlength.show import charts, grades
from goodlength.web.frame import match_page
from goodlength.web.reading import sheet_data
from goodlength.web.words import count_words

router = APIRouter(include_in_schema=False)
NOTHING = Share(0, 0, 0.0, 1.0)


@router.get("/matches/{match_id}/findings")
def findings(request: Request, match_id: str, side: str = "") -> Response:
    """Findings about one player's serve, and the tables behind them."""
    data = sheet_data(request.app.state.library, match_id)
    coached = data.match.info.coached
    side = side if side in ("a", "b") else coached.value
    whose = "coached" if side == coached.value else "opponent"
    found = request.app.state.found.of(data, whose)
    names = short_names(data.players[0].name, data.players[1].name)
    name, other = names if side == "a" else (names[1], names[0])
    return match_page(
        request,
        data,
        "findings.html",
        "findings",
        found=found,
        tables=found.tables,
        side=side,
        names=names,
        name=name,
        other=other,
        scores=_scores(data.match),
        won_words=_won(found.tables.effects, name),
        none_share=NOTHING,
        count=count_words,
        percent=percent,
        seconds=seconds_words,
        bar=charts.range_bar,
        bar_key=charts.range_key,
        luck_key=charts.luck_key,
        grade_mark=grade_mark,
        **_drawings(found, side, name, other),
    )


def grade_mark(grade: str) -> str:
    """The ring of a grade; its word stands beside it."""
    return grades.grade_svg(str(grade))


def percent(share: Share) -> str:
    """A share in whole percent, for beside its count; empty where nothing was counted."""
    return "" if share.seen is None else f"{share.seen:.0%}"


def seconds_words(length_s: float | None) -> str:
    """A length in seconds; a dash where none is known."""
    return "–" if length_s is None else f"{length_s:.0f} s"


def _drawings(found: Findings, side: str, name: str, other: str) -> dict[str, Any]:
    tables = found.tables
    variety = tables.variety
    drawn = {"effect": "", "repeat": "", "in_use": ""}
    if tables.effects:
        what = f"Share of {other}’s returns loose or not made"
        drawn["effect"] = charts.effect_chart(tables.effects, tables.weak_all[2], side, what=what)
    rows = [row for row in tables.repeats if row.seen.of]
    if rows:
        what = f"How often {name}’s next serve was the same kind as the last"
        drawn["repeat"] = charts.repeat_chart(rows, side, what=what)
    if variety.effective is not None:
        drawn["in_use"] = charts.kinds_in_use(variety.effective, variety.kinds_open, side)
    return drawn


def _scores(match: Match) -> dict[int, str]:
    return {game.n: f"{game.points[0]}–{game.points[1]}" for game in match.games}


def _won(rows: Iterable[EffectRow], name: str) -> str:
    """Rallies won on the kinds served most, as a sentence."""
    told = sorted((row for row in rows if row.won.of), key=lambda row: -row.won.of)[:3]
    if not told:
        return ""
    parts = [f"{row.won.count} of {row.won.of} on {row.words[:1].lower()}{row.words[1:]}" for row in told]
    return f"Rallies {name} won, lets left out: {'; '.join(parts)}."
