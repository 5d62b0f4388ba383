"""Sentences of a rally: for its card, and short words for the scoresheet."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from goodlength.record.model import DEFAULT_KINDS, Ending, KindOfServe, Left, Rally, ReturnKind

_TAKEN = {
    ReturnKind.VOLLEYED: "volleyed it",
    ReturnKind.AFTER_SIDE_WALL: "took it after the side wall",
    ReturnKind.AFTER_BOUNCE: "took it after the bounce",
    ReturnKind.OFF_BACK_WALL: "took it off the back wall",
    ReturnKind.NOT_MADE: "missed the return",
}
_LEFT = {
    Left.TIGHT: "returned tight",
    Left.LOOSE: "returned loose",
    Left.ATTACKED: "attacked it",
    Left.NOT_MADE: "missed the return",
}
_SHEET = {Left.TIGHT: "tight", Left.LOOSE: "loose", Left.ATTACKED: "attacked", Left.NOT_MADE: "return missed"}


def kind_words(kinds: Sequence[KindOfServe] = DEFAULT_KINDS) -> dict[str, str]:
    """Return the words of each kind by its id."""
    return {kind.id: kind.words for kind in kinds}


def sheet_words(rally: Rally, words: Mapping[str, str]) -> str:
    """Return the few words beside a line of the marker's sheet: "Lob, attacked"."""
    if rally.let:
        return "let, played again"
    if rally.ending is Ending.SERVICE_FAULT:
        kind = words.get(rally.serve.kind or "", "")
        return f"{kind}, fault" if kind else "Fault"
    parts = [words.get(rally.serve.kind or "", ""), _SHEET[rally.ret.left] if rally.ret.left else ""]
    if rally.ending is Ending.STROKE:
        parts.append("stroke")
    elif rally.ending is Ending.NO_LET:
        parts.append("no let")
    joined = ", ".join(part for part in parts if part)
    return joined[:1].upper() + joined[1:]


def served_words(rally: Rally, names: tuple[str, str], words: Mapping[str, str]) -> str:
    """Return who served, and the serve and its return: "Imogen: lob, return missed"."""
    short = sheet_words(rally, words)
    if rally.server is None or not short:
        return short
    return f"{names[rally.server.place]}: {short[0].lower()}{short[1:]}"


def rally_sentence(rally: Rally, names: tuple[str, str], words: Mapping[str, str]) -> str:
    """Return a rally in one or two sentences, saying only what was written down.

    Examples
    --------
    >>> from goodlength.record.model import MatchInfo
    >>> from goodlength.record.entry_sequence_builder import EntryWriter
    >>> from goodlength.record.entry_log_replay import match_from
    >>> from goodlength.scoring.scoring_types import Side, Start
    >>> pen = EntryWriter("m1")
    >>> pen.rally("r1", box="right", kind="lob", how="volleyed", left="attacked", winner="b", ending="winner")
    >>> info = MatchInfo("m1", ("iv", "pl"), start=Start(server=Side.A))
    >>> rally = match_from(info, pen.entries).rallies[0]
    >>> rally_sentence(rally, ("Imogen", "Petra"), kind_words())
    'Imogen served from the right box at love-all: lob. Petra attacked it. Petra won with a winner.'
    """
    from goodlength.scoring.score_calls import score_words

    server, receiver = names[rally.server.place], names[rally.server.other.place]
    sentences = []
    if rally.server_known:
        served = f"{server} served"
        if rally.box_known:
            served += f" from the {rally.box} box"
        if rally.certain:
            served += (
                f" at {score_words(rally.before[rally.server.place], rally.before[rally.server.other.place])}"
            )
        if rally.serve.kind:
            kind = words.get(rally.serve.kind, rally.serve.kind)
            served += f": {kind[:1].lower()}{kind[1:]}"
        sentences.append(served)
    returned = (
        _LEFT.get(rally.ret.left) if rally.ret.left else _TAKEN.get(rally.ret.how) if rally.ret.how else None
    )
    if returned:
        sentences.append(f"{receiver} {returned}")
    ended = _ended(rally, names)
    if ended:
        sentences.append(ended)
    return ". ".join(sentences) + "." if sentences else "Nothing is logged about this rally."


def _ended(rally: Rally, names: tuple[str, str]) -> str:
    if rally.let:
        return "Let, played again"
    if rally.winner is None:
        return "Who won is not recorded" if rally.complete else ""
    winner, loser = names[rally.winner.place], names[rally.winner.other.place]
    ways = {
        Ending.WINNER: f"{winner} won with a winner",
        Ending.FORCED_ERROR: f"{winner} won on a forced error by {loser}",
        Ending.UNFORCED_ERROR: f"{winner} won on an unforced error by {loser}",
        Ending.STROKE: f"Stroke to {winner}",
        Ending.NO_LET: f"No let: {winner} won",
        Ending.SERVICE_FAULT: f"Fault: {winner} won",
        Ending.CONDUCT: f"Conduct stroke to {winner}",
    }
    return ways.get(rally.ending, f"{winner} won") if rally.ending else f"{winner} won"
