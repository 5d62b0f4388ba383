"""Evidence tables behind one player's findings: counts, proportions and intervals, each with its rallies."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from goodlength.findings.analyses.rallies_by_phase_stroke_place import (
    by_place,
    by_stroke,
    phases,
    won_row,
)
from goodlength.findings.analyses.serve_predictability import guess_serves
from goodlength.findings.question_types import Question, QuestionResult
from goodlength.findings.rally_masks import (
    KINDS,
    NOT_MADE,
    SIDES,
    WEAK,
    WEAK_BY_KIND,
    WON_BY_KIND,
    Mask,
    RallyMasks,
)
from goodlength.findings.result_types import (
    EffectRow,
    EndingRow,
    Grade,
    KindRow,
    LengthRow,
    Names,
    PooledShare,
    RepeatRow,
    ReturnRow,
    Share,
    Tables,
    ToRow,
    Variety,
)
from goodlength.findings.statistics.diversity_entropy import effective_kinds
from goodlength.findings.statistics.partial_pooling_over_serve_kinds import pooled_shares
from goodlength.findings.text import sample_size_and_serve_variety_sentences
from goodlength.findings.text.sentence_grammar import label, noun, short
from goodlength.record.answer_enumerations import PLACES, RETURN_TO
from goodlength.record.model import Ending, ReturnKind
from goodlength.record.tables.rally_table import ENDINGS, HOW_TAKEN, LEFT

# Who did it: a winner, a stroke and a conduct stroke stand beside the player who got the rally; an error,
# a no let and a service fault beside the player who lost it.
_BY_WINNER = frozenset({Ending.WINNER, Ending.STROKE, Ending.CONDUCT})


def _grade_of(asked: Sequence[QuestionResult], asks: tuple[Question, ...], kind: int | None = None) -> Grade:
    for result in asked:
        if result.ask in asks and (kind is None or kind in result.kinds):
            return result.grade
    return Grade.TOO_FEW


def _kind_rows(
    view: RallyMasks, side: int, kind_words: Mapping[str, str], asked: Sequence[QuestionResult]
) -> tuple[KindRow, ...]:
    table, own = view.table, view.served(side) & view.kind_known
    rows, part = [], view.independent_part(side)
    for kind in view.kinds_by_use(side):
        item = table.kind == kind
        rows.append(
            KindRow(
                table.kinds[kind],
                label(table.kinds[kind], kind_words),
                tuple(view.share(item, own & (table.game == g), part, KINDS) for g in view.games),
                view.share(item, own & (table.box == 0), part, KINDS),
                view.share(item, own & (table.box == 1), part, KINDS),
                view.share(item, own, part, KINDS),
                _grade_of(asked, (Question.DRIFT, Question.KIND_DRIFT), kind),
            )
        )
    return tuple(rows)


def _known(share: Share) -> Share | None:
    return share if share.of else None


def _effect_rows(
    view: RallyMasks, side: int, kind_words: Mapping[str, str], asked: Sequence[QuestionResult]
) -> tuple[EffectRow, ...]:
    table, kinds, won = view.table, view.kinds_by_use(side), view.won(side)
    served = [view.served(side) & (table.kind == kind) for kind in kinds]
    weak_of = [view.share(view.weak, own & view.return_known, rests=WEAK_BY_KIND) for own in served]
    won_of = [view.share(won, own & view.decided, rests=WON_BY_KIND) for own in served]
    rows = []
    for kind, own, weak, wins, weak_in, won_in in zip(
        kinds, served, weak_of, won_of, _pooled_shares(weak_of), _pooled_shares(won_of), strict=True
    ):
        known = own & view.return_known
        rows.append(
            EffectRow(
                table.kinds[kind],
                label(table.kinds[kind], kind_words),
                _known(view.share(view.weak, known & (table.box == 0), rests=WEAK_BY_KIND)),
                _known(view.share(view.weak, known & (table.box == 1), rests=WEAK_BY_KIND)),
                _known(weak),
                tuple(
                    (left, view.share(view.return_made == i, known, rests=WEAK_BY_KIND))
                    for i, left in enumerate(LEFT)
                ),
                wins,
                weak_in,
                won_in,
                _grade_of(asked, (Question.WEAK, Question.KIND_WEAK), kind),
            )
        )
    return tuple(rows)


def _pooled_shares(shares: Sequence[Share]) -> list[PooledShare | None]:
    """Return each share drawn in towards the others; None where a kind has no count, or no other stands
    by it.
    """
    known = [share for share in shares if share.of]
    if len(known) < 2:
        return [None for _ in shares]
    pooled = iter(pooled_shares([share.count for share in known], [share.of for share in known]))
    return [next(pooled) if share.of else None for share in shares]


def _repeat_rows(
    view: RallyMasks, kind_words: Mapping[str, str], asked: Sequence[QuestionResult]
) -> tuple[RepeatRow, ...]:
    rows = []
    for result in asked:
        if result.ask in (Question.REPEAT, Question.AFTER) and result.luck:
            kind = view.table.kinds[result.kinds[0]] if result.kinds else None
            row_label = "Any serve" if kind is None else f"After {noun(kind, kind_words).with_article}"
            mean, low, high = result.luck
            rows.append(RepeatRow(kind, row_label, result.first, low, high, mean, result.grade))
    return tuple(rows)


def _variety(view: RallyMasks, side: int, names: Names, kind_words: Mapping[str, str]) -> Variety:
    table = view.table
    mine = table.kind[view.served(side) & view.kind_known]
    counts = np.bincount(mine, minlength=len(table.kinds))
    seen = np.bincount(table.kind[view.kind_known], minlength=len(table.kinds))
    used, n = int((counts > 0).sum()), int(counts.sum())
    if not n:
        nothing = view.share(view.weak, view.weak & False)
        sentence = sample_size_and_serve_variety_sentences.variety(
            names, SIDES[side], 0, 0, None, nothing, ""
        )
        return Variety(0, 0, int((seen > 0).sum()), None, None, None, None, "", nothing, sentence)
    commonest = view.kinds_by_use(side)[0]
    part = view.independent_part(side)
    kinds, low, high = effective_kinds([int(c) for c in counts[seen > 0]], independent=part)
    guess = view.share(table.kind == commonest, view.served(side) & view.kind_known, rests=KINDS)
    name = table.kinds[commonest]
    sentence = sample_size_and_serve_variety_sentences.variety(
        names, SIDES[side], n, used, kinds, guess, noun(name, kind_words).one
    )
    open_to = int((seen > 0).sum())
    return Variety(n, used, open_to, kinds, low, high, name, label(name, kind_words), guess, sentence)


def _quartiles(values: NDArray[np.float64]) -> tuple[float | None, float | None, float | None]:
    """Return median, lower and upper quartile; quartiles only from four values on."""
    if not values.size:
        return None, None, None
    low, middle, high = (float(q) for q in np.percentile(values, (25, 50, 75)))
    return (middle, low, high) if values.size >= 4 else (middle, None, None)


def _length_row(view: RallyMasks, label_words: str, mask: Mask) -> LengthRow:
    seconds = view.table.length_s[mask & np.isfinite(view.table.length_s)]
    shots = view.table.shots[mask & (view.table.shots >= 0)].astype(float)
    return LengthRow(
        label_words, view.keys(mask), seconds.size, *_quartiles(seconds), shots.size, *_quartiles(shots)
    )


def _endings(view: RallyMasks) -> tuple[EndingRow, ...]:
    known = view.decided & (view.table.ending >= 0) & (view.table.ending != ENDINGS.index(Ending.LET))
    rows = []
    for code, ending in enumerate(ENDINGS):
        if ending is Ending.LET:
            continue
        this = view.table.ending == code
        if not (this & known).any() and ending in (Ending.CONDUCT, Ending.SERVICE_FAULT, Ending.NO_LET):
            continue  # rare ones are listed when they happened
        a_did = view.won(0) if ending in _BY_WINNER else view.won(1)
        b_did = view.won(1) if ending in _BY_WINNER else view.won(0)
        rows.append(
            EndingRow(
                ending,
                sample_size_and_serve_variety_sentences.ENDINGS[ending],
                view.share(this & a_did, known),
                view.share(this & b_did, known),
            )
        )
    return tuple(rows)


def _return_rows(view: RallyMasks, server: int) -> tuple[ReturnRow, ...]:
    own = view.served(server) & (view.table.how_taken >= 0)
    rows = []
    for code, how in enumerate(HOW_TAKEN):
        this = view.table.how_taken == code
        if not (this & own).any():
            continue
        weak = (
            None
            if how is ReturnKind.NOT_MADE
            else _known(view.share(view.weak, own & this & view.return_known))
        )
        won = view.share(view.won(1 - server), own & this & view.decided)
        rows.append(
            ReturnRow(
                how, sample_size_and_serve_variety_sentences.HOW_TAKEN[how], view.share(this, own), weak, won
            )
        )
    return tuple(rows)


def _to_rows(view: RallyMasks, server: int) -> tuple[ToRow, ...]:
    """Returns by where they went; a return not made went nowhere, whatever was written."""
    made = view.served(server) & view.written(view.table.return_to) & (view.return_made != NOT_MADE)
    rows = []
    for to in RETURN_TO:
        this = np.array([text == to for text in view.table.return_to], dtype=bool)
        if not this.any() or not (this & made).any():
            continue
        weak = _known(view.share(view.weak, made & this & view.return_known))
        won = view.share(view.won(1 - server), made & this & view.decided)
        target = (to.replace("-", " ") if to in PLACES else to).capitalize()
        rows.append(ToRow(to, target, view.share(this, made), weak, won))
    return tuple(rows)


def tables(
    view: RallyMasks, side: int, names: Names, kind_words: Mapping[str, str], asked: Sequence[QuestionResult]
) -> Tables:
    """Return all tables behind one player's findings.

    Parameters
    ----------
    view : View
        The match.
    side : int
        0 for A, 1 for B.
    names : Names
        For the sentence about variety and the rows of lengths.
    kind_words : mapping of str to str
        The coach's words for each kind of serve.
    asked : sequence of Asked
        The questions about this player, graded.
    """
    own, table = view.served(side), view.table
    listed = own & view.kind_known
    known = own & view.return_known
    right, left = table.box == 0, table.box == 1
    # a return not made is the ending: how such a rally ended is never asked
    unended = view.decided & (table.ending < 0) & (view.return_made != NOT_MADE)
    return Tables(
        games=view.games,
        serves=_kind_rows(view, side, kind_words, asked),
        serves_by_game=tuple(int((listed & (table.game == g)).sum()) for g in view.games),
        kind_missing=int((own & ~view.kind_known).sum()),
        effects=_effect_rows(view, side, kind_words, asked),
        weak_all=(
            view.share(view.weak, known & right, rests=WEAK),
            view.share(view.weak, known & left, rests=WEAK),
            view.share(view.weak, known, rests=WEAK),
        ),
        repeats=_repeat_rows(view, kind_words, asked),
        variety=_variety(view, side, names, kind_words),
        guess=guess_serves(
            view,
            side,
            names,
            kind_words,
            _grade_of(asked, (Question.REPEAT,)),
            any(result.box_explains for result in asked),
        ),
        lengths=(
            _length_row(view, "All rallies, lets excluded", view.decided),
            _length_row(view, f"Won by {short(names, SIDES[side])}", view.won(side)),
            _length_row(view, f"Won by {short(names, SIDES[1 - side])}", view.won(1 - side)),
        ),
        endings=_endings(view),
        endings_lets=int(table.let.sum()),
        endings_missing=int(unended.sum()),
        returned=_return_rows(view, side),
        returns=_return_rows(view, 1 - side),
        serving=won_row(view, "Serving", side, own),
        receiving=won_row(view, "Receiving", side, view.served(1 - side)),
        phases=phases(view, side),
        strokes=by_stroke(view, side),
        places=by_place(view, side),
        returned_to=_to_rows(view, side),
        returns_to=_to_rows(view, 1 - side),
    )
