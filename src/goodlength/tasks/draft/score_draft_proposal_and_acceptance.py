"""Draft the score of a match from detected rallies and observed servers: propose, confirm, accept.

Nothing of a draft is recorded until it is accepted; then each rally becomes answers like any other, under
the observer's name with the tab "draft", and can be taken back as one. A winner that the draft is in doubt
of bears the tab "draft-doubtful": whoever watches the rally is asked for it again.
"""

from __future__ import annotations

from collections.abc import Mapping, Set
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from goodlength.errors import DamagedFile, InputError, RulesError
from goodlength.files.library_layout import followed_ball_file
from goodlength.measure.draft.answers_from_ball_path import SERVE_LIKE_RATIO, starts_like_a_serve
from goodlength.measure.draft.winner_likelihood_from_rally_ending import EndingFit, EndingSeen, ending_seen
from goodlength.measure.shots.followed_ball_storage import read_followed_lightly
from goodlength.record.effective_answers import (
    DOUBTFUL_TAB,
    DRAFT_TAB,
    is_along,
    is_by_person,
    is_drafted,
    layer_of,
    next_rally_key,
    undone_ids,
)
from goodlength.record.entry_ids_and_timestamps import new_id, utc_now
from goodlength.record.entry_sequence_builder import EntryWriter
from goodlength.record.model import Entry, EntryKind, Match
from goodlength.scoring import Box, Side, Start, read_scores
from goodlength.tasks.ball.ball_following_inputs import followed_now
from goodlength.tasks.footage.detected_rallies_not_on_sheet import rallies_to_come
from goodlength.tasks.footage.player_tracking import FeetSeen, feet_at_serves
from goodlength.tasks.footage.rally_detection import ListedRally, listed_rallies, save_scores
from goodlength.tasks.match.match_editing_and_answers import AppendResult, record_answers

if TYPE_CHECKING:
    from goodlength.measure import DraftRefused, Observation, Proposal, ScoreDraft, Scores
    from goodlength.tasks.match.lazy_match import OpenMatch

# Chances that what the coach saw, or hearing said, is wrong: ASSUMED
ASSUMED_OBSERVER_ERROR = 0.02
ASSUMED_NO_RALLY = {"kept": 0.0, "sure": 0.02, "doubtful": 0.5}
ASSUMED_RALLY_EVERY_US = 30_000_000  # a stretch without footage may hide a rally each half minute


@dataclass(frozen=True)
class MatchDraft:
    """A draft with the rallies it speaks of; `sheet` is a `DraftRefused` where none could be made."""

    match: Match
    rallies: tuple[ListedRally, ...]
    sheet: ScoreDraft | DraftRefused
    scores: str
    written: int  # rallies of an earlier draft that stand on the sheet
    doubtful_sounds: frozenset[str] = frozenset()  # rallies asked about as their sounds may be no rally

    @property
    def words(self) -> str:
        """What came out, in one line."""
        from goodlength.measure import DraftRefused

        return self.sheet.why if isinstance(self.sheet, DraftRefused) else self.sheet.words


def draft_match(opened: OpenMatch, scores: str | None = None) -> MatchDraft:
    """Work out the draft of what is not recorded yet; `scores` are kept for the next time.

    Parameters
    ----------
    scores : str, optional
        Game scores as far as known, the first-named player's first: "11-8 6-11 4-3"; left out, those kept.

    Raises
    ------
    InputError
        Nothing was heard; the record ends with a rally nobody decided; the scores cannot be read.
    RulesError
        For hand-out scoring, which does not tell the winner by the next server.
    """
    if scores is not None:
        save_scores(opened, scores.strip())
    match, found = opened.match, listed_rallies(opened)
    begin = max((rally.end_us or rally.start_us or 0 for rally in match.rallies), default=0)
    rallies = tuple(rally for rally in rallies_to_come(opened, found) if rally.start_us >= begin)
    written = len(_drafted_entries(opened)[1])
    if not rallies:
        raise InputError(
            "All detected rallies are already on the sheet."
            if found.played
            else "No rallies have been detected yet. Detect the rallies on the Footage page first."
        )
    from goodlength.measure import CoachAnswer, draft_scores

    answers = [
        CoachAnswer(
            rally.id,
            winner=None if rally.outcome == "let" else Side(rally.outcome),
            no_point=rally.outcome == "let",
        )
        for rally in rallies
        if rally.outcome
    ]
    known = _scores(match, found.scores)
    feet, served = feet_at_serves(opened), rallies_served(opened)
    observed = observations_of(rallies, feet, served, endings_seen(opened))
    sheet = draft_scores(match.info.format, _start(match), observed, known, answers)
    doubtful = to_watch(rallies, feet, served)
    sheet = _with_doubtful_sounds(sheet, doubtful)
    return MatchDraft(match, rallies, sheet, found.scores, written, doubtful)


def to_watch(rallies: tuple[ListedRally, ...], feet: dict[str, FeetSeen], served: Set[str]) -> frozenset[str]:
    """Return the ids of doubtful detections that are not offered, whatever their chance.

    How likely a doubtful sound is a rally was never checked against real matches, so no chance built on it
    is enough. One is offered only where both players were seen at its first strike and the first path goes as
    a serve does, or where the coach saw it.
    """
    return frozenset(
        rally.id
        for rally in rallies
        if rally.doubtful
        and rally.state != "kept"
        and not rally.seen
        and not (rally.id in served and rally.id in feet and None not in feet[rally.id][:2])
    )


def _with_doubtful_sounds(sheet: ScoreDraft | DraftRefused, doubtful: Set[str]) -> ScoreDraft | DraftRefused:
    """Return a draft in which these rallies are asked about, though the score is sure of them."""
    from goodlength.measure import DraftRefused

    if isinstance(sheet, DraftRefused):
        return sheet
    asked = [item for item in sheet.proposals if item.key in doubtful and item.offered and not item.answered]
    if not asked:
        return sheet
    keys = {item.key for item in asked}
    proposals = tuple(replace(item, offered=False) if item.key in keys else item for item in sheet.proposals)
    first = (*sheet.first, *(item.key for item in sorted(asked, key=lambda item: item.chance)))
    return replace(sheet, proposals=proposals, first=first)


def _start(match: Match) -> Start:
    """Return where the part to be drafted begins."""
    if match.next is None:
        raise InputError("The match on the sheet is over; there is nothing left to draft.")
    if not match.rallies:
        return match.info.start
    if any(not rally.certain or (rally.winner is None and not rally.let) for rally in match.rallies):
        raise InputError(
            "A rally on the sheet has no winner, so the score after it is not known. Answer who won it, "
            "then draft the rest."
        )
    box = None if match.next.box_free else match.next.box
    return Start(match.games_won, match.next.points, match.next.server, box, match.info.start.handicap)


def _scores(match: Match, text: str) -> Scores:
    """Return what is known of the score from the game on in which the draft begins."""
    from goodlength.measure import Scores, scores_from

    if not text.strip():
        return Scores()
    try:
        known = scores_from(read_scores(text, match.info.format))
    except RulesError as error:
        raise InputError(f"The scores {text!r} cannot be read: {error}") from error
    gone = sum(match.games_won) - sum(match.info.start.games)
    return Scores(known.finals[gone:], known.stands, known.over)


def rallies_served(opened: OpenMatch) -> frozenset[str]:
    """Return the detected rallies in which the ball was followed, and its first path goes as a serve does."""
    try:
        followed = read_followed_lightly(followed_ball_file(opened.library.folder, opened.id))
    except DamagedFile:
        followed = None
    rallies = () if followed is None else followed.rallies
    return frozenset(
        rally.key.removeprefix("h:")
        for rally in rallies
        if rally.key.startswith("h:") and starts_like_a_serve(rally)
    )


def endings_seen(opened: OpenMatch) -> dict[str, EndingSeen]:
    """Return what paths say of the end of detected rallies, by id; nothing of what is out of date."""
    try:
        followed = followed_now(opened, samples=False)
    except DamagedFile:
        followed = None
    found = {}
    for rally in () if followed is None else followed.rallies:
        seen = ending_seen(rally) if rally.key.startswith("h:") else None
        if seen is not None:
            found[rally.key.removeprefix("h:")] = seen
    return found


def _no_rally(rally: ListedRally, sure: str) -> float:
    """Return the chance that a detected rally is none: of a doubtful one what the detection says of it."""
    if sure == "doubtful" and rally.chance is not None:
        return min(max(1.0 - rally.chance, ASSUMED_NO_RALLY["sure"]), 0.99)
    return ASSUMED_NO_RALLY[sure]


def observations_of(
    rallies: tuple[ListedRally, ...],
    feet: dict[str, FeetSeen],
    served: Set[str] = frozenset(),
    endings: Mapping[str, EndingSeen] = MappingProxyType({}),
) -> list[Observation]:
    """Return what was seen at each first strike and end: by the coach, else by players and ball followed.

    `served` are the ids of rallies whose first path goes as a serve does.
    """
    from goodlength.measure import no_rally_given_feet, observe, observe_from_feet

    made = []
    before: ListedRally | None = None
    for rally in rallies:
        server, _, box = rally.seen.partition("-")
        sure = "kept" if rally.state == "kept" else "doubtful" if rally.doubtful else "sure"
        pause = 0 if before is None else rally.start_us - before.end_us
        missed = max(0.01, 0.1 * (pause // ASSUMED_RALLY_EVERY_US))
        before = rally
        if not server and rally.id in feet:
            a, b, swapped = feet[rally.id]
            observation = observe_from_feet(rally.id, a, b, swap_rate=swapped, missed_before=missed)
            ratio = SERVE_LIKE_RATIO if rally.id in served else 1.0
            no_rally = no_rally_given_feet(_no_rally(rally, sure), a, b, path_ratio=ratio)
            made.append(replace(observation, no_rally=no_rally, ending=_fit(endings.get(rally.id))))
            continue
        observation = observe(
            rally.id,
            Side(server) if server else None,
            Box(box) if box else None,
            server_error_rate=ASSUMED_OBSERVER_ERROR,
            box_error_rate=ASSUMED_OBSERVER_ERROR,
            missed_before=missed,
            no_rally=_no_rally(rally, sure),
        )
        made.append(replace(observation, ending=_fit(endings.get(rally.id))))
    return made


def _fit(seen: EndingSeen | None) -> EndingFit | None:
    return None if seen is None else seen.table()


def accept_draft(opened: OpenMatch) -> AppendResult:
    """Write the draft as it stands on the marker's sheet, rally by rally in the order played.

    Of the stretches for which no point is proposed, lets the coach told are written as lets, the others
    without a winner: Record asks for it, or takes the rally off where none was played. What was detected
    after the point that ended the match is left out. Rallies the score needs though nobody heard them are
    written without a time.

    Raises
    ------
    InputError
        As `draft_match`, or if there is no draft.
    """
    from goodlength.measure import DraftRefused

    drafted = draft_match(opened)
    if isinstance(drafted.sheet, DraftRefused):
        raise InputError(drafted.sheet.why)
    info = opened.info
    writer = _Writer(
        EntryWriter(opened.id, f"{info.observer}/{DRAFT_TAB}", utc_now(), mark=f"{DRAFT_TAB}-{new_id()}-"),
        _start(drafted.match),
    )
    writer.number = int(next_rally_key(opened.entries, info.observer)[1:])
    by_id = {rally.id: rally for rally in drafted.rallies}
    lost: dict[str | None, list[Any]] = {}
    for unplaced_rally in drafted.sheet.lost:
        lost.setdefault(unplaced_rally.after, []).append(unplaced_rally)
    for gone in lost.get(None, ()):
        writer.lost(gone.winner)
    for proposal in until_the_end(drafted.sheet):
        writer.write_detected(proposal, by_id[proposal.key])
        for gone in lost.get(proposal.key, ()):
            writer.lost(gone.winner)
    return record_answers(opened.library, opened.id, writer.pen.entries)


def until_the_end(sheet: ScoreDraft) -> tuple[Proposal, ...]:
    """Return the proposals; of a match that is over, none after its last point but the coach's."""
    if not sheet.over:
        return sheet.proposals
    after_lost = {unplaced_rally.after for unplaced_rally in sheet.lost}
    count = len(sheet.proposals)
    while (
        count
        and sheet.proposals[count - 1].winner is None
        and not sheet.proposals[count - 1].answered
        and sheet.proposals[count - 1].key not in after_lost
    ):
        count -= 1
    return sheet.proposals[:count]


class _Writer:
    """Answers of a draft, with the box where it was free to choose."""

    def __init__(self, pen: EntryWriter, start: Start) -> None:
        self.pen, self.number = pen, 1
        self._server = start.server
        self._hand: tuple[int, Side] | None = None
        self._first = start.server is None

    def write_detected(self, proposal: Proposal, rally: ListedRally) -> None:
        """A rally that was heard; it stands on the sheet though the score has no place for it."""
        key = self._key()
        span = {"start_us": rally.start_us, "end_us": rally.end_us, "how": "heard"}
        self.pen.write(key, EntryKind.SPAN, span)
        if self._first:
            self.pen.write(key, EntryKind.SERVER, proposal.server.value)
            self._first = False
        if self._hand != (proposal.game, proposal.server):
            self.pen.write(key, EntryKind.BOX, proposal.box.value)
            self._hand = (proposal.game, proposal.server)
        if proposal.winner is not None:
            self._proposed(key, proposal, proposal.winner)
            self._winner(key, proposal.winner, doubtful=not proposal.offered)
        elif rally.outcome == "let":
            self.pen.write(key, EntryKind.ENDING, "let")
        else:  # who won it is asked; the box after it does not follow from the rules until then
            self._hand = None

    def lost(self, winner: Side) -> None:
        """A rally the score needs."""
        self._winner(self._key(), winner, doubtful=True)
        self._hand = None

    def _proposed(self, key: str, proposal: Proposal, winner: Side) -> None:
        """What the draft proposes of a rally, with its chances: kept whatever becomes of the answers."""
        answers = [
            {"what": what.value, "value": value.value, "chance": round(min(1.0, chance), 4)}
            for what, value, chance in (
                (EntryKind.SERVER, proposal.server, proposal.server_chance),
                (EntryKind.BOX, proposal.box, proposal.box_chance),
                (EntryKind.WINNER, winner, proposal.chance),
            )
        ]
        self.pen.write(key, EntryKind.PROPOSED, {"by": "score-draft", "answers": answers})

    def _winner(self, key: str, winner: Side, *, doubtful: bool) -> None:
        """Who won, as the draft has it."""
        sure = self.pen.observer
        if doubtful:
            self.pen.observer = f"{layer_of(sure)}/{DOUBTFUL_TAB}"
        self.pen.write(key, EntryKind.WINNER, winner.value)
        self.pen.observer = sure

    def _key(self) -> str:
        key, self.number = f"r{self.number}", self.number + 1
        return key


def withdraw_draft(opened: OpenMatch) -> AppendResult:
    """Take every answer back that an accepted draft wrote and that still stands.

    Winners that a person only confirmed go too, and so does what the program wrote on top of the draft: the
    sample it drew, and rallies taken without being watched. A rally of which a person said more, or whose
    winner they corrected, keeps its time and what the person said.

    Raises
    ------
    InputError
        If no draft stands on the sheet.
    """
    standing, rallies = _drafted_entries(opened)
    if not standing:
        raise InputError("There is no draft on the sheet, so there is nothing to remove.")
    observer, mark = f"{opened.info.observer}/{DRAFT_TAB}", f"{DRAFT_TAB}-{new_id()}-"
    pen = EntryWriter(opened.id, observer, utc_now(), mark=mark)
    own = [entry for entry in _standing(opened) if entry.rally in rallies and not is_drafted(entry)]
    drafted = {entry.rally: entry.value for entry in standing if entry.what is EntryKind.WINNER}
    last = {_question_of(entry): entry for entry in own if is_by_person(entry)}
    answered = {entry.rally for entry in last.values() if _says_more(entry, drafted)}
    for entry in (*own, *reversed(standing)):
        if entry.rally not in answered or (not is_by_person(entry) and entry.what is not EntryKind.SPAN):
            pen.undo(entry)
    return record_answers(opened.library, opened.id, pen.entries)


def _says_more(entry: Entry, drafted: Mapping[str, object]) -> bool:
    """Return whether an answer says more than the winner that the draft had.

    A question skipped says nothing, nor does what went along with the winner, or a flag taken away.
    """
    if entry.value is None or is_along(entry) or entry.what is EntryKind.PROPOSED:
        return False
    if entry.what is EntryKind.WINNER:
        return bool(entry.value != drafted.get(entry.rally))
    return entry.what is not EntryKind.KEEP or bool(entry.value)


def _question_of(entry: Entry) -> tuple[str, EntryKind, str]:
    """Return what an answer says something of: its last answer counts. Each shot is its own."""
    return entry.rally, entry.what, entry.id if entry.what is EntryKind.SHOT else ""


def rallies_in_draft(opened: OpenMatch) -> int:
    """Return how many rallies of an accepted draft stand on the sheet."""
    return len(_drafted_entries(opened)[1])


def _drafted_entries(opened: OpenMatch) -> tuple[list[Entry], set[str]]:
    """Return entries written by drafts that still stand, and the rallies they are of."""
    standing = [entry for entry in _standing(opened) if is_drafted(entry)]
    return standing, {entry.rally for entry in standing}


def _standing(opened: OpenMatch) -> list[Entry]:
    """Return the match's own answers that are not taken back."""
    own = layer_of(opened.info.observer)
    mine = [entry for entry in opened.entries if layer_of(entry.observer) == own]
    gone = undone_ids(mine)
    return [entry for entry in mine if entry.what is not EntryKind.UNDO and entry.id not in gone]
