"""The agreement of two observers as JSON and as lines for the terminal."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from goodlength.record.model import Rally
from goodlength.tasks.match.observers import Agreement

if TYPE_CHECKING:
    pass


LIMIT_WORDS = (
    "Below 0.667 a variable is greyed in findings and carries no grade; from 0.80 it is good to build on."
)


def agree_form(found: Agreement) -> dict[str, Any]:
    """`match agree ID --json`."""
    told = found.layers.reliability
    first, second = ({rally.key: rally for rally in layer.rallies} for layer in (found.first, found.second))

    def at(rally: Rally | None) -> dict[str, Any] | None:
        if rally is None:
            return None
        start, end = (None if us is None else us / 1e6 for us in (rally.start_us, rally.end_us))
        return {"key": rally.key, "n": rally.n, "game": rally.game, "start_s": start, "end_s": end}

    def differ(rows: Any) -> list[dict[str, Any]]:
        return [
            {
                "first": one.first,
                "second": one.second,
                "rally": at(first.get(one.first_key)),
                "second_rally": at(second.get(one.second_key)),
            }
            for one in rows
        ]

    return {
        "match": found.match,
        "observers": [found.first.observer, found.second.observer],
        "words": told.words,
        "matched": told.matched,
        "matched_by": told.by,
        "f1": told.f1,
        "only_first": [at(first.get(key)) for key in told.only_first],
        "only_second": [at(second.get(key)) for key in told.only_second],
        "variables": [
            {
                "variable": row.variable,
                "words": row.said,
                "compared": row.compared,
                "agreed": row.agreed,
                "agreed_count": None if row.agreed is None else round(row.agreed * row.compared),
                "kappa": row.kappa,
                "alpha": row.alpha,
                "ac1": row.ac1,
                "percentage_error": row.percentage_error,
                "measure": row.measure,
                "value": row.value,
                "interval": [row.low, row.high],
                "trust": row.trust.value,
                "greyed": row.variable in found.greyed,
                "disagreements": differ(row.disagreements),
            }
            for row in told.rows
        ],
        "weighed": [
            {
                "variable": row.variable,
                "words": row.words,
                "weights": row.weights,
                "count": row.agreed.count,
                "of": row.agreed.of,
                "kappa": row.kappa,
                "interval": [row.low, row.high],
                "disagreements": differ(row.disagreements),
            }
            for row in found.layers.weighed
        ],
        "greyed": sorted(found.greyed),
        "limits": LIMIT_WORDS,
    }


def agree_lines(found: Agreement) -> Iterator[str]:
    """The same as lines for a terminal."""
    form = agree_form(found)
    yield f"{form['observers'][0]} beside {form['observers'][1]}: {form['words']}"
    yield f"Put together by {form['matched_by']}."
    for row in form["variables"]:
        yield ""
        yield ("Greyed. " if row["greyed"] else "") + row["words"]
        if row["value"] is not None:
            low, high = row["interval"]
            between = "" if low is None else f", between {low:.2f} and {high:.2f}"
            yield f"  {row['measure']} {row['value']:.2f}{between}"
        yield from _differing(row["disagreements"])
    for row in form["weighed"]:
        yield ""
        weighed = (
            ""
            if row["kappa"] is None
            else f"; kappa {row['kappa']:.2f}, disagreements weighed {row['weights']}"
        )
        yield f"{row['words'].capitalize()}: the same in {row['count']} of {row['of']}{weighed}"
    yield ""
    yield LIMIT_WORDS


def _differing(rows: list[dict[str, Any]]) -> Iterator[str]:
    from goodlength.clock import clock_words

    for one in rows:
        rally = one["rally"]
        at = "" if rally["start_s"] is None else f" at {clock_words(rally['start_s'])}"
        yield f"  rally {rally['n']}, game {rally['game']}{at}: {one['first']} / {one['second']}"
