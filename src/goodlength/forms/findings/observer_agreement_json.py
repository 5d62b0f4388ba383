"""JSON form and terminal lines of the agreement of two observers."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, TypedDict

from goodlength.record.model import Rally
from goodlength.tasks.match.observer_comparison import Agreement

LIMIT_WORDS = "Below 0.667 a question is not used in findings and has no grade; from 0.80 it is reliable."

IDENTICAL_WORDS = (
    "All answers are the same as in the first log. Two people rarely agree so. Is it your own export? Then "
    "it shows nothing about agreement: a second person must log the match without seeing your answers."
)


class RallyAtJson(TypedDict):
    """Where a rally stands in the match."""

    key: str
    n: int
    game: int
    start_s: float | None
    end_s: float | None


class DisagreementJson(TypedDict):
    """One rally that two observers answered differently."""

    first: str
    second: str
    rally: RallyAtJson | None
    second_rally: RallyAtJson | None


class VariableJson(TypedDict):
    """How well two observers agree on one variable."""

    variable: str
    words: str
    compared: int
    agreed: float | None
    agreed_count: int | None
    kappa: float | None
    alpha: float | None
    ac1: float | None
    percentage_error: float | None
    measure: str
    value: float | None
    interval: tuple[float | None, float | None]
    trust: str
    greyed: bool
    disagreements: list[DisagreementJson]


class WeighedJson(TypedDict):
    """How well two observers agree where some disagreements are larger than others."""

    variable: str
    words: str
    weights: str
    count: int
    of: int
    kappa: float | None
    interval: tuple[float | None, float | None]
    disagreements: list[DisagreementJson]


class AgreementJson(TypedDict):
    """`match agree ID --json`."""

    match: str
    observers: tuple[str, str]
    words: str
    matched: int
    matched_by: str
    f1: float | None
    only_first: list[RallyAtJson | None]
    only_second: list[RallyAtJson | None]
    variables: list[VariableJson]
    weighed: list[WeighedJson]
    identical: bool
    greyed: list[str]
    limits: str


def agree_form(found: Agreement) -> AgreementJson:
    """Return the JSON of `match agree ID --json`."""
    reliability = found.layers.reliability
    first, second = ({rally.key: rally for rally in layer.rallies} for layer in (found.first, found.second))

    def at(rally: Rally | None) -> RallyAtJson | None:
        if rally is None:
            return None
        start, end = (None if us is None else us / 1e6 for us in (rally.start_us, rally.end_us))
        return {"key": rally.key, "n": rally.n, "game": rally.game, "start_s": start, "end_s": end}

    def differ(rows: Any) -> list[DisagreementJson]:
        return [
            {
                "first": row.first,
                "second": row.second,
                "rally": at(first.get(row.first_key)),
                "second_rally": at(second.get(row.second_key)),
            }
            for row in rows
        ]

    return {
        "match": found.match,
        "observers": (found.first.observer, found.second.observer),
        "words": reliability.words,
        "matched": reliability.matched,
        "matched_by": reliability.by,
        "f1": reliability.f1,
        "only_first": [at(first.get(key)) for key in reliability.only_first],
        "only_second": [at(second.get(key)) for key in reliability.only_second],
        "variables": [
            {
                "variable": row.variable,
                "words": row.sentence,
                "compared": row.compared,
                "agreed": row.agreed,
                "agreed_count": None if row.agreed is None else round(row.agreed * row.compared),
                "kappa": row.kappa,
                "alpha": row.alpha,
                "ac1": row.ac1,
                "percentage_error": row.percentage_error,
                "measure": row.measure,
                "value": row.value,
                "interval": (row.low, row.high),
                "trust": row.trust.value,
                "greyed": row.variable in found.greyed,
                "disagreements": differ(row.disagreements),
            }
            for row in reliability.rows
        ],
        "weighed": [
            {
                "variable": row.variable,
                "words": row.words,
                "weights": row.weights,
                "count": row.agreed.count,
                "of": row.agreed.of,
                "kappa": row.kappa,
                "interval": (row.low, row.high),
                "disagreements": differ(row.disagreements),
            }
            for row in found.layers.weighed
        ],
        "identical": reliability.is_identical,
        "greyed": sorted(found.greyed),
        "limits": LIMIT_WORDS,
    }


def agree_lines(found: Agreement) -> Iterator[str]:
    """Yield the same as lines for a terminal."""
    form = agree_form(found)
    yield f"{form['observers'][0]} compared with {form['observers'][1]}: {form['words']}"
    yield f"Matched by {form['matched_by']}."
    if form["identical"]:
        yield IDENTICAL_WORDS
    for row in form["variables"]:
        yield ""
        yield ("Not used in findings. " if row["greyed"] else "") + row["words"]
        if row["value"] is not None:
            low, high = row["interval"]
            between = " (95% range unknown)" if low is None else f" (95% range {low:.2f} to {high:.2f})"
            yield f"  {row['measure']} {row['value']:.2f}{between}"
        yield from _differing(row["disagreements"])
    for rated in form["weighed"]:
        yield ""
        kappa = rated["kappa"]
        weighed = "" if kappa is None else f"; kappa {kappa:.2f}, weighted {rated['weights']}"
        yield f"{rated['words'].capitalize()}: the same in {rated['count']} of {rated['of']}{weighed}"
    yield ""
    yield "Alpha and kappa show agreement beyond chance: 1 is perfect, 0 no better than guessing."
    yield LIMIT_WORDS


def _differing(rows: list[DisagreementJson]) -> Iterator[str]:
    from goodlength.media_time import clock_words

    for row in rows:
        rally = row["rally"]
        if rally is None:
            continue
        at = "" if rally["start_s"] is None else f" at {clock_words(rally['start_s'])}"
        yield f"  rally {rally['n']}, game {rally['game']}{at}: {row['first']} / {row['second']}"
