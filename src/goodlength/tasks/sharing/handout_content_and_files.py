"""The handout for the player: its content, the coach's edits, and the files."""

from __future__ import annotations

import contextlib
import glob
import re
import shutil
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from goodlength.errors import ConsentMissing, GoodlengthError, InputError, NotFound, PageFull
from goodlength.files import library_layout
from goodlength.findings import Finding, Findings, Grade
from goodlength.languages import Language, language, to_translate
from goodlength.record.model import Match, Player
from goodlength.scoring import Box
from goodlength.show.draw.court.floor_maps import BoxServes
from goodlength.show.figure_and_injury_caution_texts import handout_caution
from goodlength.show.handout.handout_pdf_and_html_files import make
from goodlength.show.handout.handout_types import (
    MOST_STILLS,
    MOST_STILLS_WITH_BACK,
    PLAIN,
    HandoutCourt,
    HandoutData,
    HandoutFiles,
    HandoutFinding,
    HandoutServe,
    HandoutStill,
    HandoutTurningPoints,
)
from goodlength.tasks.findings.answer_origin_sentences import origin_sentences
from goodlength.tasks.people.handout_still_cache import remembered_still
from goodlength.tasks.people.player_handout_language import player_language
from goodlength.tasks.people.player_records_and_consent import has_agreed, is_junior, require_consent
from goodlength.tasks.practice.practice_plans_and_log import plans_of
from goodlength.tasks.sharing.handout_counts_without_findings import PlainCount, plain_counts
from goodlength.tasks.sharing.handout_length_and_tightness_counts import place_counts
from goodlength.tasks.sharing.turning_point_chart_data import game_scores, handout_turning_points

if TYPE_CHECKING:
    from goodlength.findings.result_types import SideKey
    from goodlength.record.store import Library
    from goodlength.tasks.match.lazy_match import OpenMatch

MOST_DRILLS, MOST_VERSIONS = 3, 10
_ENGLISH = language("en")
STILL_PX = 360  # shorter side of a still on the page


@dataclass(frozen=True)
class EditedFinding:
    """One finding as the coach wants it said; None keeps the program's own words."""

    key: str
    headline: str | None = None
    words: str | None = None


@dataclass(frozen=True)
class HandoutEdits:
    """What the coach chose: which findings in which order and words, and a text of their own.

    `findings` None takes those of the program's three that have a grade, else plain counts. `stills` puts
    the first two clips chosen for the player on the page, at the strike, each with its cue, where everybody
    agreed to clips and the page has room; `week` the first drills of the player's newest plan, as many as
    have room; `turning` the chart of turning points where it has room. With `back` the page may go on over
    its back, which has room for more stills. `only_watched` leaves out answers that were proposed and
    taken in rallies nobody watched.
    """

    findings: tuple[EditedFinding, ...] | None = None
    words: str = ""
    stills: bool = False
    week: bool = False
    turning: bool = False
    back: bool = False
    only_watched: bool = False


@dataclass(frozen=True)
class HandoutDraft:
    """The page as it would be made, every finding and every plain count it could hold.

    `places` are counts of length and tightness: the program itself never chooses them.
    """

    data: HandoutData
    found: Findings
    opponent_named: bool
    counts: tuple[PlainCount, ...] = ()
    places: tuple[PlainCount, ...] = ()


def draft_handout(
    opened: OpenMatch, edits: HandoutEdits | None = None, today: date | None = None
) -> HandoutDraft:
    """Return the handout's contents, before any file is made.

    The opponent is named only with a consent for handouts in force.

    Raises
    ------
    NotFound
        If an edit names a finding that is not there.
    """
    edits = edits or HandoutEdits()
    today = today or date.today()
    if edits.only_watched:
        opened = replace(opened, only_watched=True)
    match, info = opened.match, opened.info
    player, opponent = opened.coached, opened.opponent
    named = has_agreed(opponent, "handout", today)
    code = player_language(opened.library, player.id)
    spoken = language(code)
    found = opened.findings(name_opponent=named, language=code)
    counts, places = plain_counts(opened.counted_match, found, spoken), place_counts(opened, spoken)
    data = HandoutData(
        player=player.name,
        made=today,
        opponent=opponent.name if named else None,
        club=str(opened.settings.get("club", "")),
        event=info.event,
        played=info.played_on,
        result=result_words(match, spoken),
        findings=_findings(found, counts, places, edits),
        serves=_serves(found, spoken),
        court=_court(opened.counted_match, found, spoken),
        words=edits.words,
        unknown=(*found.notes[:2], *origin_sentences(opened, spoken)),
        week=week_of(opened.library, player.id, spoken) if edits.week else (),
        turning=_turning(opened, found.side, named, spoken) if edits.turning else None,
        caution=handout_caution(junior=is_junior(player, today), spoken=spoken),
        language=code,
        back=edits.back,
    )
    return HandoutDraft(data, found, named, counts, places)


def make_handout(
    opened: OpenMatch,
    folder: str | Path,
    edits: HandoutEdits | None = None,
    today: date | None = None,
) -> HandoutFiles:
    """Write the handout as one A4 PDF and one HTML file; no person's name stands in the file names.

    Raises
    ------
    ConsentMissing
        If the player (for a junior: a parent or guardian) has not agreed to handouts; nothing is written.
    InputError
        If the page cannot hold the text, or the coach's words name an opponent who did not agree.
    NoSpace
        If the files cannot be written.
    """
    today = today or date.today()
    refusal = handout_refusal(opened.coached, today)
    if refusal:
        raise ConsentMissing(refusal)
    draft = draft_handout(opened, edits, today)
    if not draft.opponent_named:
        refuse_unnamed(opened.opponent, draft.data)
    where, stem = Path(folder).expanduser(), library_layout.handout_stem(opened.id)
    aside = _set_aside(where, stem)
    try:
        return _largest_page(opened, draft.data, edits or HandoutEdits(), where, stem)
    except GoodlengthError:
        for path in aside:
            path.unlink(missing_ok=True)
        raise


def _largest_page(
    opened: OpenMatch, data: HandoutData, edits: HandoutEdits, folder: Path, stem: str
) -> HandoutFiles:
    """Make the page with all that has room: words and first drill, then more drills, the chart, stills."""
    *fuller, least = _ever_less(opened, data, edits)
    for handout_data in fuller:
        with contextlib.suppress(PageFull):
            return make(handout_data, folder, stem)
    return make(least, folder, stem)


def _ever_less(opened: OpenMatch, data: HandoutData, edits: HandoutEdits) -> Iterator[HandoutData]:
    """Yield the page as it was asked for, then without what matters least, down to the words."""
    if edits.stills:
        yield replace(data, stills=stills_of(opened, most_stills(edits)))
    if data.turning is not None:
        yield data
    for drills in range(max(1, len(data.week)), 0, -1):
        yield replace(data, turning=None, week=data.week[:drills])


def _turning(opened: OpenMatch, side: SideKey, named: bool, spoken: Language) -> HandoutTurningPoints | None:
    """Return the chart of turning points, with the opponent's name only where it is allowed."""
    from goodlength.findings import Names, match_line

    info, me = opened.info, opened.info.coached
    names = (opened.coached.name, opened.opponent.name if named else spoken.phrase("Opponent"))
    short = (names[0].split()[0], names[1].split()[0])
    names = names if short[0] == short[1] else short
    both = names if me.place == 0 else names[::-1]
    line = match_line(opened.table, side, Names(*both), info.format, info.start)
    return handout_turning_points(line, game_scores(opened.match, first=me.place), names, spoken)


def handout_exists(library: Library, match_id: str) -> bool:
    """Return whether the page of a match was made."""
    return (
        library_layout.handout_folder(library.folder) / f"{library_layout.handout_stem(match_id)}.pdf"
    ).is_file()


def week_of(library: Library, player_id: str, spoken: Language = _ENGLISH) -> tuple[tuple[str, str], ...]:
    """Return the first three drills of the player's newest plan, each with its dose and what to do.

    A drill made on the Aim page says where on the wall, in tape-measure words.
    """
    plans = plans_of(library, player_id)
    items = plans[0][1]["items"][:MOST_DRILLS] if plans else []
    return tuple(
        (
            spoken.phrase(
                "{drill}, {sets} times {attempts}",
                drill=spoken.known(item["name"]),
                sets=item["sets"],
                attempts=item["attempts"],
            ),
            spoken.known(str(item["do"])),
        )
        for item in items
    )


def _set_aside(folder: Path, stem: str) -> list[Path]:
    """Keep the page made before as an earlier version, the last few of them; gives the new files."""
    earlier = []
    timestamp = f"{datetime.now(UTC):%Y%m%d%H%M%S%f}"
    for ending in ("pdf", "html"):
        file = folder / f"{stem}.{ending}"
        if file.is_file():
            earlier.append(folder / f"{stem}.v{timestamp}.{ending}")
            shutil.copy2(file, earlier[-1])
    for old in sorted(folder.glob(f"{glob.escape(stem)}.v*.pdf"))[:-MOST_VERSIONS]:
        old.unlink(missing_ok=True)
        old.with_suffix(".html").unlink(missing_ok=True)
    return earlier


def most_stills(edits: HandoutEdits) -> int:
    """Return how many stills a handout may hold."""
    return MOST_STILLS_WITH_BACK if edits.back else MOST_STILLS


def stills_of(opened: OpenMatch, most: int = MOST_STILLS) -> tuple[HandoutStill, ...]:
    """Return the first clips chosen for the player at the strike, with score and cue.

    Raises
    ------
    ConsentMissing
        Somebody who can be seen has not agreed to clips.
    InputError
        No clip is chosen, or none was filmed.
    """
    from goodlength.tasks.sharing.video_export_jobs import pieces_of
    from goodlength.tasks.sharing.video_session_playlist import review_list

    require_consent(opened.players, "clips", "A still")
    rallies = {rally_item.key: rally_item for rally_item in opened.match.rallies}
    spoken = language(player_language(opened.library, opened.coached.id))
    found: list[HandoutStill] = []
    for item in review_list(opened).items:
        rally = rallies[item.rally]
        if rally.start_us is None or len(found) == most:
            continue
        (piece, *_) = pieces_of(opened, rally.start_us, rally.start_us + 1)
        assert piece.from_us is not None
        score = f"{rally.before[0]}–{rally.before[1]}"
        words = spoken.phrase("Game {n}, {score}.", n=rally.game, score=score)
        words += f" {item.cue}" if item.cue else ""
        found.append(HandoutStill(*remembered_still(piece.src, piece.from_us, STILL_PX), words))
    if not found:
        raise InputError("No clip with a time is chosen for the player: choose one on the page Clips first.")
    return tuple(found)


def handout_refusal(player: Player, today: date | None = None) -> str:
    """Return why no handout may be made of a player, in words; empty where it may."""
    if has_agreed(player, "handout", today):
        return ""
    who = "a parent or guardian" if is_junior(player, today) else player.name
    return (
        f"No handout of {player.name} can be made: {who} has not agreed, withdrew consent, or the time has "
        "run out. Save the consent on the player's page; you can read the findings on screen meanwhile."
    )


def refuse_unnamed(opponent: Player, data: HandoutData) -> None:
    """Refuse words of the coach's that name somebody who has not agreed to be named."""
    parts = {opponent.name, *(part for part in opponent.name.split() if len(part) > 2)}
    texts = " ".join([data.words, *(f"{finding.headline} {finding.words}" for finding in data.findings)])
    named = sorted(part for part in parts if re.search(rf"\b{re.escape(part)}\b", texts, re.IGNORECASE))
    if named:
        raise InputError(
            f"Your words name the opponent ({named[0]}), who has not agreed to be named on handouts. "
            "Write “your opponent” instead, or save the consent on the player's page."
        )


def result_words(match: Match, spoken: Language = _ENGLISH) -> str:
    """Return how the match ended for the coached player: "Lost 1–3: 11–8, 7–11, 9–11, 8–11"."""
    me = match.info.coached
    scores = ", ".join(
        f"{game.points[me.place]}–{game.points[me.other.place]}" for game in match.games if any(game.points)
    )
    if match.winner is None:
        return spoken.phrase("Not finished: {scores}", scores=scores) if scores else ""
    games = f"{match.games_won[me.place]}–{match.games_won[me.other.place]}"
    plain = match.how_over in (None, "won")
    how = "" if plain or match.how_over is None else spoken.known(match.how_over)
    sentence = _RESULTS[match.winner is me, bool(scores), plain]
    return spoken.phrase(sentence, games=games, scores=scores, how=how)


# Won or lost, with scores or without, played to the end or not
_RESULTS = {
    (True, True, True): to_translate("Won {games}: {scores}"),
    (True, True, False): to_translate("Won {games}: {scores} ({how})"),
    (True, False, True): to_translate("Won"),
    (True, False, False): to_translate("Won ({how})"),
    (False, True, True): to_translate("Lost {games}: {scores}"),
    (False, True, False): to_translate("Lost {games}: {scores} ({how})"),
    (False, False, True): to_translate("Lost"),
    (False, False, False): to_translate("Lost ({how})"),
}


def usual_findings(found: Findings) -> tuple[Finding, ...]:
    """Return the findings of a handout the coach has not chosen: those to talk about that have a grade."""
    return tuple(finding for finding in found.top if finding.grade is not Grade.TOO_FEW)


def _findings(
    found: Findings,
    counts: tuple[PlainCount, ...],
    places: tuple[PlainCount, ...],
    edits: HandoutEdits,
) -> tuple[HandoutFinding, ...]:
    by_key: dict[str, HandoutFinding] = {
        count.key: HandoutFinding(PLAIN, count.headline, count.words, count.label)
        for count in (*counts, *places)
    }
    by_key |= {
        finding.key: HandoutFinding(finding.grade.value, finding.you_headline, finding.you_words)
        for finding in found.all
    }
    usual = [EditedFinding(item.key) for item in usual_findings(found) or counts]
    edited = []
    for edit in usual if edits.findings is None else edits.findings:
        if edit.key not in by_key and edits.only_watched:
            raise NotFound(
                f"Finding {edit.key!r} has nothing left where only watched rallies are counted. Choose "
                "another, or count all rallies.",
                page="A finding you chose has nothing left where only rallies that you watched are counted. "
                "Untick it, or count all rallies.",
            )
        if edit.key not in by_key:
            raise NotFound(
                f"Finding {edit.key!r} is no longer in this match because the data changed. "
                "Open the handout again and choose another.",
                page="That finding is no longer in this match because the data changed. Open Findings "
                "and choose again.",
            )
        finding = by_key[edit.key]
        headline = finding.headline if edit.headline is None else edit.headline
        words = finding.words if edit.words is None else edit.words
        edited.append(replace(finding, headline=headline, words=words))
    return tuple(edited)


def _serves(found: Findings, spoken: Language) -> tuple[HandoutServe, ...]:
    served = {row.kind: row.whole.count for row in found.tables.serves}
    return tuple(
        HandoutServe(spoken.known(row.words), served.get(row.kind, 0), row.whole)
        for row in found.tables.effects
        if served.get(row.kind, 0)
    )


def _court(match: Match, found: Findings, spoken: Language) -> HandoutCourt | None:
    mine = [r for r in match.rallies if r.server is match.info.coached and r.server_known and r.box_known]
    if not mine:
        return None
    weak = dict(zip((Box.RIGHT, Box.LEFT), found.tables.weak_all[:2], strict=True))
    boxes = {
        box: BoxServes(sum(r.box is box for r in mine), weak[box] if weak[box].of else None) for box in weak
    }
    return HandoutCourt(spoken.phrase("Serves from each box"), boxes[Box.RIGHT], boxes[Box.LEFT])
