"""Routes of the findings of one player, with the evidence behind them."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import replace
from typing import Any
from urllib.parse import quote

from fastapi import APIRouter, Request
from markupsafe import Markup
from starlette.responses import Response

from goodlength.findings.analyses.last_shots_and_strike_intervals import Sequences
from goodlength.findings.analyses.serve_mixed_strategy import MixAdvice
from goodlength.findings.analyses.win_probability import MatchLine
from goodlength.findings.result_types import Finding, Findings, Grade, PooledShare, Share
from goodlength.findings.statistics.evidence_grades import (
    CLEAR_Q,
    CLEAR_SIDE,
    LEANING_Q,
    LEANING_SIDE,
)
from goodlength.forms.findings.answer_authors_and_acceptance_rate_json import origins_of
from goodlength.show.draw import evidence_grade_icons, proportion_charts, rally_leverage_chart
from goodlength.tasks.match.lazy_match import OpenMatch
from goodlength.tasks.sharing.turning_point_chart_data import game_scores, point_games
from goodlength.web.http.route_dependencies import CurrentMatch
from goodlength.web.views.findings_cache import FindingsPage
from goodlength.web.views.keyboard_shortcuts import CLIP_KEYS
from goodlength.web.views.match_description_and_result_phrases import count_words
from goodlength.web.views.match_page_header import match_page
from goodlength.web.views.match_page_loader import sheet_data
from goodlength.web.views.rally_scoresheet import SheetData

router = APIRouter(include_in_schema=False)
NOTHING = Share(0, 0, 0.0, 1.0)
_COUNTS = re.compile(r"\b\d+ of \d+\b")
_SURE = (Grade.CLEAR, Grade.LEANING)
_ASKED_HERE = ("change", "repeat")  # findings that also stand in a section of their own


@router.get("/matches/{match_id}/findings")
def findings(request: Request, opened: CurrentMatch, side: str = "", answers: str = "") -> Response:
    """Return findings about one player's serve, and the tables behind them.

    With `answers=watched` what was proposed and taken in rallies nobody watched is left out.
    """
    opened = replace(opened, only_watched=answers == "watched")
    data, side, whole = _read(request, opened, side)
    found = whole.findings
    names, name, other = _names(data, side)
    asked = dict.fromkeys(_ASKED_HERE) | {finding.question: finding for finding in found.all}
    return match_page(
        request,
        data,
        "match/findings.html",
        "findings",
        found=found,
        tables=found.tables,
        whole=whole,
        asked=asked,
        side=side,
        origins=origins_of(opened),
        names=names,
        name=name,
        other=other,
        scores=game_scores(data.match),
        none_share=NOTHING,
        count=count_words,
        percent=percent,
        pooled_share=pooled_share_words,
        seconds=seconds_words,
        bold=bold_counts,
        why=grade_reasons,
        facts=() if any(finding.grade in _SURE for finding in found.top) else plain_facts(found, name, other),
        clips=_clips(data),
        keys=CLIP_KEYS,
        behind=lambda item: rallies_behind(item, whole.served, playable_rallies(data)),
        bar=proportion_charts.range_bar,
        bar_key=proportion_charts.range_key,
        luck_key=proportion_charts.luck_key,
        grade_mark=grade_mark,
        turns=turns(whole.line),
        sheets=_sheets(whole.line, data, game_scores(data.match), (name, other)),
        playable=playable_rallies(data),
        ends=ends(whole.ends, name, other),
        mix_rows=mix_rows(whole.mix),
        mix_loss=loss_words(whole.mix),
        places=request.app.state.found.places(opened, side),
        **_drawings(found, side, name, other),
    )


@router.get("/matches/{match_id}/findings/parents")
def parents(request: Request, opened: CurrentMatch, side: str = "") -> Response:
    """Return the same findings for a player's parents: counts, and in plain words how far to believe them."""
    data, side, whole = _read(request, opened, side)
    _, name, _ = _names(data, side)
    found = whole.findings
    return match_page(
        request,
        data,
        "match/findings_for_parents.html",
        "findings",
        found=found,
        side=side,
        name=name,
        other_graded=tuple(
            finding
            for finding in found.all
            if finding.grade in ("clear", "leaning") and finding not in found.top
        ),
        grade_mark=grade_mark,
        bold=bold_counts,
        behind=lambda item: rallies_behind(item, whole.served, playable_rallies(data)),
    )


def _read(request: Request, opened: OpenMatch, side: str) -> tuple[SheetData, str, FindingsPage]:
    data = sheet_data(opened)
    coached = opened.info.coached
    side = side if side in ("a", "b") else coached.value
    whose = "coached" if side == coached.value else "opponent"
    return data, side, request.app.state.found.page(data, whose)


def _names(data: SheetData, side: str) -> tuple[tuple[str, str], str, str]:
    names = data.opened.names
    return (names, names[0], names[1]) if side == "a" else (names, names[1], names[0])


def rallies_behind(
    finding: Finding, served: Sequence[str], playable: frozenset[str]
) -> tuple[tuple[str, ...], str]:
    """Return the rallies to look at, and what they are called.

    A finding led by a share of 0 has none of its own: then those it is compared with, else all serves. Where
    none of them plays there is nothing to look at, and the words say so.
    """
    for rallies, single, several in (
        (finding.rallies, "the rally", "the {} rallies"),
        (finding.against.rallies if finding.against else (), "the other rally", "the {} other rallies"),
        (tuple(served), "the only serve", "all {} serves"),
    ):
        if rallies:
            count = len(rallies)
            words = single if count == 1 else several.format(count)
            if not playable.intersection(rallies):
                return (), f"{words[0].upper()}{words[1:]} {'has' if count == 1 else 'have'} no video"
            return rallies, f"Show {words}{video_words(len(playable.intersection(rallies)), count)}"
    return (), ""


def grade_reasons(finding: Finding) -> tuple[str, ...]:
    """Return what a finding's grade rests on, a sentence each: counts, chance, and what the grades need."""
    lines = [f"Counted: {_with_range(Share(finding.count, finding.of, *finding.interval))}."]
    if finding.against is not None and finding.against.of:
        lines.append(f"Compared with {_with_range(finding.against)}.")
    if finding.q is None:
        lines.append("There was too little data to test it.")
    else:
        chance = "less than 1%" if finding.q < 0.01 else f"{min(1.0, finding.q):.0%}"
        lines.append(f"Adjusted p-value: {chance}. So often chance alone would show a gap like this.")
        lines.append(f"Sample size that counts for the grade: {finding.smaller_side}.")
    for needed, most, least in (
        (Grade.CLEAR, CLEAR_Q, CLEAR_SIDE),
        (Grade.LEANING, LEANING_Q, LEANING_SIDE),
    ):
        lines.append(
            f"{needed.words} needs a p-value of {most:.0%} or less and a sample size of at least {least}."
        )
    if not finding.listed:
        lines.append(f"It was not a planned question, so one match cannot make it {Grade.CLEAR.words}.")
    return tuple(lines)


def _with_range(share: Share) -> str:
    return f"{share.count} of {share.of} (95% range {100 * share.low:.0f} to {share.high:.0%})"


def plain_facts(found: Findings, name: str, other: str) -> tuple[str, ...]:
    """Return counts for a page on which nothing is sure: what happened, with no word on why."""
    tables = found.tables
    facts = []
    for row, words in ((tables.serving, f"on {name}’s serve"), (tables.receiving, f"on {other}’s serve")):
        if row.decided.of:
            facts.append(f"{name} won {row.decided.count} of {row.decided.of} rallies {words}.")
    most = max(tables.serves, key=lambda kind: kind.whole.count, default=None)
    if most is not None and most.whole.count:
        facts.append(f"Most served: {most.words.lower()}, {most.whole.count} of {most.whole.of}.")
    weak = tables.weak_all[2]
    if weak.of:
        facts.append(f"{other}’s return was loose or missed on {weak.count} of {weak.of} serves.")
    return tuple(facts)


def _clips(data: SheetData) -> str:
    """Return the rallies that can be played, by key, for the page's script; empty where none can."""
    playable = playable_rallies(data)
    clips = {
        rally.key: {
            "start_us": rally.start_us,
            "end_us": rally.end_us,
            "words": f"Game {rally.game}, {rally.before[0]}–{rally.before[1]}",
        }
        for rally in data.match.rallies
        if rally.key in playable
    }
    return json.dumps(clips, ensure_ascii=False) if clips else ""


def playable_rallies(data: SheetData) -> frozenset[str]:
    """Return the keys of the rallies with a start and an end time, in a match with video."""
    if not data.films.parts:
        return frozenset()
    return frozenset(
        rally.key for rally in data.match.rallies if rally.start_us is not None and rally.end_us is not None
    )


def video_words(playable: int, count: int) -> str:
    """Return how many of the rallies can be played, in brackets; empty where all can.

    Examples
    --------
    >>> video_words(7, 19), video_words(3, 3)
    (' (7 with video)', '')
    """
    return "" if playable == count else f" ({playable} with video)"


def bold_counts(words: str) -> Markup:
    """Return a sentence with its counts ("7 of 17") in bold; everything else is escaped.

    Examples
    --------
    >>> str(bold_counts("<7 of 17 lobs"))
    '&lt;<b>7 of 17</b> lobs'
    """
    out, at = Markup(), 0
    for hit in _COUNTS.finditer(words):
        out += Markup("{}<b>{}</b>").format(words[at : hit.start()], hit.group())
        at = hit.end()
    return out + words[at:]


def grade_mark(grade: str) -> str:
    """Return the ring of a grade; its word stands beside it."""
    return evidence_grade_icons.grade_svg(str(grade))


def percent(share: Share) -> str:
    """Return a share in whole percent, for beside its count; empty where nothing was counted."""
    return "" if share.seen is None else f"{share.seen:.0%}"


def pooled_share_words(shrunk: PooledShare | None) -> str:
    """Return a share drawn in towards the other kinds, with its range; a dash where it has none.

    Examples
    --------
    >>> pooled_share_words(PooledShare(0.586, 0.36, 0.803))
    '59% (36 to 80)'
    """
    return "–" if shrunk is None else f"{shrunk.mean:.0%} ({100 * shrunk.low:.0f} to {100 * shrunk.high:.0f})"


def seconds_words(length_s: float | None) -> str:
    """Return a length in seconds; a dash where none is known."""
    return "–" if length_s is None else f"{length_s:.0f} s"


def turns(line: MatchLine) -> list[dict[str, str]]:
    """Return the rallies that decided the match in the order played: key, score, and what happened."""
    order = {moment.key: n for n, moment in enumerate(line.moments)}
    turning = []
    for moment in sorted(line.decided, key=lambda moment: order[moment.key]):
        score, _, rest = moment.words.partition(". ")
        turning.append({"key": moment.key, "score": f"{score}.", "rest": rest})
    return turning


def ends(found: Sequence[Sequences], name: str, other: str) -> list[dict[str, object]]:
    """Return the last shots of rallies won and lost, with the players' names; rows seen at least three
    times.
    """
    endings: list[dict[str, object]] = []
    for sequences in found:
        for won, rows in ((True, sequences.won), (False, sequences.lost)):
            by = {"winner": name if won else other, "loser": other if won else name}
            endings += [
                {
                    "result": "Won" if won else "Lost",
                    "words": _by_name(row.words, by),
                    "observed": row.seen,
                    "expected": "fewer than one" if row.expected < 0.5 else f"about {row.expected:.0f}",
                }
                for row in rows
                if row.expected is not None
            ]
    return endings


def _by_name(words: str, by: dict[str, str]) -> str:
    """ "drive by loser, then drop by winner" with the names of both."""
    parts = (part.rpartition(" by ") for part in words.split(", then "))
    chain = ", then ".join(f"{stroke} by {by[who]}" for stroke, _, who in parts)
    return chain[:1].upper() + chain[1:]


def _sheets(line: MatchLine, data: SheetData, scores: dict[int, str], names: tuple[str, str]) -> list[str]:
    """Return the small sheet of each game, with links to what can be played; none with no rally decided."""
    if not line.moments:
        return []
    games = point_games(line, scores)
    show, playable = f"/matches/{quote(data.opened.id, safe='')}/show?rallies=", playable_rallies(data)
    return rally_leverage_chart.turning_games(
        games,
        names,
        side=line.side,
        play=lambda key: show + quote(key, safe="") if key in playable else "",
    )


def mix_rows(mix: MixAdvice | None) -> list[dict[str, str]]:
    """Kinds with their present share and the range of their share in the best mix; none without a game."""
    if mix is None or not mix.stances:
        return []
    return [
        {
            "words": kind[:1].upper() + kind[1:],
            "present": f"{present:.0%}",
            "best": f"{100 * low:.0f} to {high:.0%}",
        }
        for kind, present, low, high in zip(
            mix.kinds, mix.present, mix.share_low, mix.share_high, strict=True
        )
    ]


def loss_words(mix: MixAdvice | None) -> str:
    """Return what a receiver who knows it could take off the present mix, as a range; empty without a
    game.
    """
    if mix is None or not mix.stances:
        return ""
    _, low, high = mix.present_loss
    _, even_low, even_high = mix.even_loss
    now, even = (f"{100 * low:.0f} to {100 * high:.0f}", f"{100 * even_low:.0f} to {100 * even_high:.0f}")
    return (
        f"A receiver who knew the current mix could win {now} more in every 100 rallies than against the "
        f"best mix; against an even mix, {even} (90% ranges)."
    )


def _drawings(found: Findings, side: str, name: str, other: str) -> dict[str, Any]:
    tables = found.tables
    variety = tables.variety
    drawings = {"effect": "", "repeat": "", "in_use": ""}
    if tables.effects:
        what = f"Share of {other}’s returns that were weak (loose or missed)"
        drawings["effect"] = proportion_charts.effect_chart(
            tables.effects, tables.weak_all[2], side, what=what
        )
    rows = [row for row in tables.repeats if row.seen.of]
    if rows:
        what = f"How often {name}’s next serve was the same kind as the last"
        drawings["repeat"] = proportion_charts.repeat_chart(rows, side, what=what)
    if variety.effective is not None:
        drawings["in_use"] = proportion_charts.kinds_in_use(variety.effective, variety.kinds_open, side)
    return drawings
