"""Keyboard shortcuts of the Record page: one list for the page, its `?` dialog and docs/reference/keys.md."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Key:
    """One key: what is pressed, what it does, and the name of the action in the page.

    `press` is the browser's name of the key ("Space" for a blank), with "Shift+" before it where needed;
    `cap` is what the page prints on the key; `touch` is the word on its button where there is no keyboard.
    """

    press: tuple[str, ...]
    cap: str
    does: str
    action: str
    touch: str


KEYS = (
    Key(tuple("123456789"), "1–9", "answer with that number", "answer", ""),
    Key(
        ("Enter",),
        "Enter",
        "skip the question, or accept what is proposed; after the call: next rally with open questions",
        "enter",
        "Skip",
    ),
    Key(("Backspace",), "Backspace", "step back one answer", "back", "Step back"),
    Key(("Space",), "Space", "play or stop", "play", "Play or stop"),
    Key(("ArrowLeft",), "Left", "two seconds back", "earlier", "2 s back"),
    Key(("ArrowRight",), "Right", "two seconds forward", "later", "2 s forward"),
    Key(("Shift+ArrowLeft",), "Shift Left", "previous rally", "rally-before", "Previous rally"),
    Key(("Shift+ArrowRight",), "Shift Right", "next rally", "rally-after", "Next rally"),
    Key(("[",), "[", "previous frame", "frame-back", "Previous frame"),
    Key(("]",), "]", "next frame", "frame-on", "Next frame"),
    Key(("a",), "A", "replay from the serve", "serve-again", "Replay"),
    Key(("s",), "S", "next speed: full, half, quarter", "speed", "Speed"),
    Key(("p",), "P", "play rallies only", "rallies-only", "Rallies only"),
    Key((",",), ",", "the rally starts here", "starts-here", "Starts here"),
    Key((".",), ".", "the rally ends here", "ends-here", "Ends here"),
    Key(("b",), "B", "other box", "box", "Other box"),
    Key(("x",), "X", "no rally was played here: delete it", "no-rally", "No rally"),
    Key(("n",), "N", "write a note", "note", "Note"),
    Key(("k",), "K", "flag this rally for clips", "keep", "Flag"),
    Key(
        ("c",),
        "C",
        "the referee or marker called it differently (let, no let, stroke, corrected score)",
        "called",
        "Official call",
    ),
    Key(("w",), "W", "at the depth Score: ask only who won, one press a rally", "winner-only", ""),
    Key(("g",), "G", "go to a rally (arrow keys move, Enter opens)", "go", "Go to a rally"),
    Key(("d",), "D", "light or dark screen", "room", "Screen"),
    Key(("?",), "?", "this list", "help", "All keys"),
)

# The player, on every page that shows a match; its buttons stand under the video, so none has a touch word
PLAYER_KEYS = (
    Key(("e",), "E", "next faster speed: 1.25, 1.5, 2 times", "faster", ""),
    Key(("q",), "Q", "play only the serve, the return and the last two shots", "short", ""),
    Key(("j",), "J", "next hit, wall, bounce or drawing", "impact-after", ""),
    Key(("h",), "H", "previous hit, wall, bounce or drawing", "impact-before", ""),
    Key(("t",), "T", "draw on the frame; then 1–7 choose, arrow keys and Enter set points", "draw", ""),
    Key(("o",), "O", "court lines, the players' paths and body points over the video", "overlay", ""),
    Key(("i",), "I", "the ball found in each frame, over the video", "ball", ""),
    Key(("l",), "L", "loop: from here, to here, off", "loop", ""),
    Key(("v",), "V", "sound on or off", "sound", ""),
    Key(("f",), "F", "full screen", "full", ""),
    Key(("+", "="), "+", "larger picture; with the picture selected, arrow keys move it", "zoom-in", ""),
    Key(("-",), "-", "smaller picture", "zoom-out", ""),
    Key(("0",), "0", "whole picture", "zoom-whole", ""),
)

# On pages where P is free; on Record, where it plays the rallies only, the button under More does it
PATH_DOOR = Key(("p",), "P", "the ball's path at this moment, on the page Ball paths", "ball-path", "")

_SHARED = ("play", "earlier", "later", "rally-before", "rally-after", "frame-back", "frame-on", "speed")

RALLY_KEYS = (
    Key(tuple("123456"), "1–6", "answer with that number, and on to the next rally", "answer", ""),
    Key(("Enter",), "Enter", "accept as it is; next rally", "enter", "Accept"),
    Key(("Backspace",), "Backspace", "back to the previous rally", "back", "Back"),
    *(key for key in KEYS if key.action in _SHARED),
    Key(("a",), "A", "play this rally again", "again", "Again"),
    Key(("u",), "U", "next doubtful rally you have not checked", "doubtful", "Next doubtful"),
    Key((",",), ",", "the rally starts here", "starts-here", "Starts here"),
    Key((".",), ".", "the rally ends here", "ends-here", "Ends here"),
    Key(("m",), "M", "add a missed rally, then set its start and end", "missed", "Add missed"),
    *(key for key in KEYS if key.action in ("room", "help")),
)

REVIEW_KEYS = (
    Key(tuple("1234"), "1–4", "answer with that number, and on to the next question", "answer", ""),
    Key(("Backspace",), "Backspace", "back to the question before", "back", "Back"),
    *(key for key in KEYS if key.action in _SHARED and key.action not in ("rally-before", "rally-after")),
    Key(("a",), "A", "play this again", "again", "Again"),
    *(key for key in KEYS if key.action in ("room", "help")),
)

DRAFT_KEYS = (
    Key(tuple("1234"), "1–4", "who won, a let, or not a rally; then the next doubtful one", "answer", ""),
    Key(("Enter",), "Enter", "accept; then the next doubtful one", "enter", "Accept"),
    Key(("Backspace",), "Backspace", "back to the previous rally", "back", "Back"),
    *(key for key in KEYS if key.action in _SHARED),
    Key(("a",), "A", "play this rally again", "again", "Again"),
    Key(("w",), "W", "add the draft to the marker's sheet", "write", ""),
    *(key for key in KEYS if key.action in ("room", "help")),
)

_MARKS = (
    Key(("Enter",), "Enter", "set the current mark at the cross and go to the next", "set", "Set it"),
    Key(("n",), "N", "the next mark", "mark-after", "Next mark"),
    Key(("p",), "P", "the previous mark", "mark-before", "Previous mark"),
    Key((), "Arrows", "move the cross and the current mark in fine steps; with Shift in large steps", "", ""),
    Key(("Delete", "Backspace"), "Delete", "remove the current mark", "clear", "Remove"),
)
_ONE_FILE = (
    Key(("Space",), "Space", "play or stop; marks are set while it is stopped", "play", ""),
    *(key for key in KEYS if key.action in ("frame-back", "frame-on")),
    Key(("s",), "S", "next speed: full, half, quarter", "speed", ""),
    *(key for key in KEYS if key.action in ("room", "help")),
)

CAMERA_KEYS = (
    *_MARKS,
    Key(("x",), "X", "ignore the current mark, or use it again", "leave-out", "Ignore"),
    Key(("m",), "M", "find more marks on the red lines", "suggest", "Find more"),
    Key(("k",), "K", "save the calibration", "keep", "Save"),
    *_ONE_FILE,
)

MEASURE_KEYS = (*_MARKS, Key(("k",), "K", "save the measurement", "keep", "Save"), *_ONE_FILE)

# On the page Ball paths; N, X, Shift and the brackets mean this only while a path is in hand
PATH_KEYS = (
    *(key for key in KEYS if key.action in _SHARED),
    Key(("a",), "A", "play this shot again", "again", "Again"),
    Key(("p",), "P", "take the path of this shot in hand", "path", "Path"),
    Key(("Escape",), "Esc", "leave the path", "leave-path", "Leave"),
    Key((",",), ",", "the shot before", "shot-before", "Shot before"),
    Key((".",), ".", "the shot after", "shot-after", "Shot after"),
    Key(("n",), "N", "path in hand: next-best path", "next-path", "Next path"),
    Key(
        ("{", "Shift+["),
        "Shift [",
        "path in hand: the strike at the sound before",
        "strike-before",
        "Earlier",
    ),
    Key(("}", "Shift+]"), "Shift ]", "path in hand: the strike at the sound after", "strike-after", "Later"),
    Key(("x",), "X", "path in hand: no shot", "no-shot", "No shot"),
    Key(("u",), "U", "undo your corrections of this rally", "undo-path", "Undo"),
    Key((), "Click", "path in hand: a click on the ball in the video is a mark the path must pass", "", ""),
    *(key for key in KEYS if key.action in ("room", "help")),
)

SIDE_BY_SIDE_KEYS = (
    Key(("Space",), "Space", "play both or stop", "play", ""),
    Key(("ArrowLeft", "["), "Left", "both to the previous frame", "frame-back", ""),
    Key(("ArrowRight", "]"), "Right", "both to the next frame", "frame-on", ""),
    Key(("a",), "A", "both to their common moment", "contact", ""),
    Key(("s",), "S", "next speed: full, half, quarter", "speed", ""),
    Key(("m",), "M", "mirror the second", "mirror", ""),
    Key((",",), ",", "the first one's moment a frame earlier", "first-earlier", ""),
    Key((".",), ".", "the first one's moment a frame later", "first-later", ""),
    Key((";",), ";", "the second one's moment a frame earlier", "second-earlier", ""),
    Key(("'",), "'", "the second one's moment a frame later", "second-later", ""),
    Key(("c",), "C", "together at contact with the racket", "align-strike", ""),
    Key(("w",), "W", "together at the front wall, where it was heard", "align-wall", ""),
    Key(("b",), "B", "together at the first bounce, where it was heard", "align-bounce", ""),
    *(key for key in KEYS if key.action in ("room", "help")),
)

TRACK_KEYS = (
    *(key for key in KEYS if key.action in ("play", "earlier", "later", "frame-back", "frame-on", "speed")),
    Key(("a",), "A", "play this rally again", "again", "Again"),
    *(key for key in KEYS if key.action in ("room", "help")),
)

BODY_KEYS = (
    *(key for key in KEYS if key.action in ("play", "earlier", "later", "frame-back", "frame-on", "speed")),
    Key(("a",), "A", "back to contact", "again", "Contact"),
    *(key for key in KEYS if key.action in ("room", "help")),
)

PRESENTATION_KEYS = (
    Key(("Enter",), "Enter", "show the cue, then the next clip", "enter", ""),
    Key(("Backspace",), "Backspace", "previous clip", "back", ""),
    Key(("a",), "A", "play this clip again", "again", ""),
    *(key for key in KEYS if key.action in ("play", "earlier", "later", "frame-back", "frame-on", "speed")),
    *(key for key in KEYS if key.action in ("room", "help")),
)

ATTEMPT_KEYS = (
    Key(("h",), "H", "a hit; then the next attempt", "hit", ""),
    Key(("m",), "M", "a miss; then the next attempt", "miss", ""),
    Key(("x",), "X", "not an attempt; then the next", "none", ""),
    Key(("Backspace",), "Backspace", "back to the attempt before, to mark it again", "back", ""),
    Key(("a",), "A", "play this attempt again", "again", ""),
    *(key for key in KEYS if key.action in ("play", "earlier", "later", "frame-back", "frame-on", "speed")),
    *(key for key in KEYS if key.action in ("room", "help")),
)
# What the player has no use for where what it plays is of no match; H marks a hit there
NO_MATCH = ("short", "draw", "overlay", "ball", "ball-path", "impact-before", "impact-after")

CLIP_KEYS = (
    *(key for key in KEYS if key.action in ("play", "earlier", "later", "frame-back", "frame-on", "speed")),
    *PLAYER_KEYS,
    *(key for key in KEYS if key.action in ("room", "help")),
)


def with_player(keys: tuple[Key, ...], without: tuple[str, ...] = ()) -> tuple[Key, ...]:
    """Return the keys of a page that shows a match, with those of the player before the last two."""
    players = tuple(key for key in PLAYER_KEYS if key.action not in without)
    taken = {press for key in keys for press in key.press}
    door = () if taken & set(PATH_DOOR.press) or PATH_DOOR.action in without else (PATH_DOOR,)
    return (*keys[:-2], *players, *door, *keys[-2:])


_TABLES = (
    KEYS,
    RALLY_KEYS,
    REVIEW_KEYS,
    DRAFT_KEYS,
    CAMERA_KEYS,
    MEASURE_KEYS,
    SIDE_BY_SIDE_KEYS,
    ATTEMPT_KEYS,
)


def _rows(keys: tuple[Key, ...]) -> str:
    return "\n".join(f"| {key.cap} | {key.does} |" for key in keys)


def _player_section() -> str:
    return f"""# Keys of the player

These work on the pages Record, Detected rallies, Review the detection, Draft, Ball paths and Clips.
On Camera calibration, Measure a serve, Player movement, Side by side and Player review all but Q work.
On Findings they work while clips play.
Each has a button under the video; those that fold are under More.
Where P has another meaning, as on Record, the button "Ball path" under More opens the path.

| Key | Does |
| --- | --- |
{_rows((*PLAYER_KEYS, PATH_DOOR))}

Drag on the timeline under the video to scrub; Home and End go to its ends.
The wheel, two fingers or the keys + and - enlarge the picture, and dragging moves it.
While you draw, 8 removes a piece, Backspace undoes and Escape ends.
Drawings are saved with the rally and show when you pause on their frame."""


def _path_section() -> str:
    return f"""# Keys of the page Ball paths

P takes a path in hand, Esc leaves it; N, X and Shift with the brackets work only in between.

| Key | Does |
| --- | --- |
{_rows(PATH_KEYS)}"""


def _last_sections(side_by_side: str, attempts: str) -> str:
    return f"""# Keys of the page Side by side

Both play in one player: its keys work on both. While you draw, Tab or a press chooses the picture.

| Key | Does |
| --- | --- |
{side_by_side}

# Keys of the page Detected attempts

Of the player's keys those of speed, frames, loop, sound, full screen and the larger picture work here.

| Key | Does |
| --- | --- |
{attempts}"""


def keys_page() -> str:
    """Return the text of docs/reference/keys.md; a test holds the file to it."""
    rows, detected, review, draft, camera, measure, side_by_side, attempts = map(_rows, _TABLES)
    return f"""# Keys of the Record page

The keys work while no text field is selected and no dialog is open.
On a touch screen each key has a button of at least 44 px.
Small and capital letters do the same.

| Key | Does |
| --- | --- |
{rows}

The first answer to a rally sets its start: the time shown less the lead time in Settings (2 s at first).
The answer to "who won" sets its end: the time shown, or the furthest you played before going back.
The keys `,` and `.` set both exactly. A later answer does not move them.
The video and the card always show the same rally.
The video stops where the current rally ends.
Enter goes on to the next rally with open questions, and `Space` plays on.
Without a video, times come from the clock and the keys that move the video do nothing.

{_player_section()}

# Keys of the page Detected rallies

| Key | Does |
| --- | --- |
{detected}

# Keys of the page Review the detection

| Key | Does |
| --- | --- |
{review}

# Keys of the page Draft

| Key | Does |
| --- | --- |
{draft}

{_path_section()}

# Keys of the page Camera calibration

Here and on Measure a serve the arrow keys move the cross, and an enlarged picture follows it.
On a touch screen four buttons do that.
Where the video stops, the frame of the original lies over it at full size, and marks are set on that.

| Key | Does |
| --- | --- |
{camera}

# Keys of the page Measure a serve

| Key | Does |
| --- | --- |
{measure}

{_last_sections(side_by_side, attempts)}
"""
