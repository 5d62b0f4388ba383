"""The keys of the Record page: one list for the page, its `?` dialog and docs/reference/keys.md."""

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
        "skip the question; after the call: next rally with open questions",
        "enter",
        "Skip",
    ),
    Key(("Backspace",), "Backspace", "step back one answer", "back", "Step back"),
    Key(("Space",), "Space", "play or stop", "play", "Play or stop"),
    Key(("ArrowLeft",), "Left", "two seconds back", "earlier", "2 s back"),
    Key(("ArrowRight",), "Right", "two seconds on", "later", "2 s on"),
    Key(("Shift+ArrowLeft",), "Shift Left", "to the rally before", "rally-before", "Rally before"),
    Key(("Shift+ArrowRight",), "Shift Right", "to the rally after", "rally-after", "Rally after"),
    Key(("[",), "[", "one frame back", "frame-back", "Frame back"),
    Key(("]",), "]", "one frame on", "frame-on", "Frame on"),
    Key(("a",), "A", "from the serve again", "serve-again", "Serve again"),
    Key(("s",), "S", "next speed: full, half, quarter", "speed", "Speed"),
    Key(("p",), "P", "play the rallies only, without dead time", "rallies-only", "Rallies only"),
    Key((",",), ",", "the rally starts here", "starts-here", "Starts here"),
    Key((".",), ".", "the rally ends here", "ends-here", "Ends here"),
    Key(("b",), "B", "other box", "box", "Other box"),
    Key(("n",), "N", "write a note", "note", "Note"),
    Key(("k",), "K", "keep this rally for the clips", "keep", "Keep"),
    Key(
        ("c",),
        "C",
        "the marker called it otherwise (let, no let, stroke, score put right)",
        "called",
        "Called otherwise",
    ),
    Key(("g",), "G", "go to a rally of the sheet (arrow keys move, Enter opens)", "go", "Go to a rally"),
    Key(("d",), "D", "dim or light room", "room", "Room"),
    Key(("?",), "?", "this list", "help", "All keys"),
)

_SHARED = ("play", "earlier", "later", "rally-before", "rally-after", "frame-back", "frame-on", "speed")

RALLY_KEYS = (
    Key(tuple("123456"), "1–6", "answer with that number, and on to the next rally", "answer", ""),
    Key(("Enter",), "Enter", "it is a rally as it stands; next rally", "enter", "Keep, next"),
    Key(("Backspace",), "Backspace", "back to the rally before", "back", "Back"),
    *(key for key in KEYS if key.action in _SHARED),
    Key(("a",), "A", "play this rally again", "again", "Again"),
    Key(("u",), "U", "next doubtful rally not looked at", "doubtful", "Next doubtful"),
    Key((",",), ",", "the rally starts here", "starts-here", "Starts here"),
    Key((".",), ".", "the rally ends here", "ends-here", "Ends here"),
    Key(("m",), "M", "a rally was missed here: mark one, then set its start and end", "missed", "Missed one"),
    *(key for key in KEYS if key.action in ("room", "help")),
)

DRAFT_KEYS = (
    Key(tuple("1234"), "1–4", "who won, a let, or no rally; then the next doubtful one", "answer", ""),
    Key(("Enter",), "Enter", "as proposed; then the next doubtful one", "enter", "As proposed"),
    Key(("Backspace",), "Backspace", "back to the rally before", "back", "Back"),
    *(key for key in KEYS if key.action in _SHARED),
    Key(("a",), "A", "play this rally again", "again", "Again"),
    Key(("w",), "W", "write the draft on the marker's sheet", "write", ""),
    *(key for key in KEYS if key.action in ("room", "help")),
)

CAMERA_KEYS = (
    Key(
        ("Enter",), "Enter", "set the mark in hand where the cross is, and take up the next", "set", "Set it"
    ),
    Key(("n",), "N", "the next mark", "mark-after", "Next mark"),
    Key(("p",), "P", "the mark before", "mark-before", "Mark before"),
    Key((), "Arrows", "move the cross, and the mark in hand, by half a pixel; with Shift by ten", "", ""),
    Key(("Delete", "Backspace"), "Delete", "take the mark in hand off", "clear", "Take off"),
    Key(("x",), "X", "leave the mark in hand out, or use it again", "leave-out", "Leave out"),
    Key(("l",), "L", "look for more marks along the red lines", "suggest", "Look for more"),
    Key(("k",), "K", "keep this camera", "keep", "Keep"),
    Key(("[",), "[", "one picture back", "frame-back", "Picture back"),
    Key(("]",), "]", "one picture on", "frame-on", "Picture on"),
    *(key for key in KEYS if key.action in ("room", "help")),
)

MEASURE_KEYS = (
    Key(("Enter",), "Enter", "set what is in hand where the cross is, and take up the next", "set", "Set it"),
    Key(("n",), "N", "the next thing to mark", "mark-after", "Next"),
    Key(("p",), "P", "the thing before", "mark-before", "Before"),
    Key((), "Arrows", "move the cross, and what is in hand, by half a pixel; with Shift by ten", "", ""),
    Key(("Delete", "Backspace"), "Delete", "take what is in hand off", "clear", "Take off"),
    Key(("[",), "[", "one picture back", "frame-back", "Picture back"),
    Key(("]",), "]", "one picture on", "frame-on", "Picture on"),
    Key(("k",), "K", "keep what was measured", "keep", "Keep"),
    *(key for key in KEYS if key.action in ("room", "help")),
)

BESIDE_KEYS = (
    Key(("Space",), "Space", "play both or stop", "play", "Play or stop"),
    Key(("ArrowLeft", "["), "Left", "both one frame back", "frame-back", "Frame back"),
    Key(("ArrowRight", "]"), "Right", "both one frame on", "frame-on", "Frame on"),
    Key(("a",), "A", "both to contact", "contact", "Contact"),
    Key(("s",), "S", "next speed: full, half, quarter", "speed", "Speed"),
    Key(("m",), "M", "turn the second one over", "mirror", "Turn over"),
    Key((",",), ",", "the first one's contact a frame earlier", "first-earlier", ""),
    Key((".",), ".", "the first one's contact a frame later", "first-later", ""),
    Key((";",), ";", "the second one's contact a frame earlier", "second-earlier", ""),
    Key(("'",), "'", "the second one's contact a frame later", "second-later", ""),
    Key(("l",), "L", "draw a line", "line", ""),
    Key(("r",), "R", "draw an arrow", "arrow", ""),
    Key(("g",), "G", "draw an angle", "angle", ""),
    Key(("Backspace",), "Backspace", "take the last one drawn back", "undo", "Take back"),
    *(key for key in KEYS if key.action in ("room", "help")),
)


def keys_page() -> str:
    """The text of docs/reference/keys.md; a test holds the file to it."""
    tables = (KEYS, RALLY_KEYS, DRAFT_KEYS, CAMERA_KEYS, MEASURE_KEYS, BESIDE_KEYS)
    rows, heard, draft, camera, measure, beside = (
        "\n".join(f"| {key.cap} | {key.does} |" for key in keys) for keys in tables
    )
    return f"""# Keys of the Record page

Each key acts only while no text field has the focus and no dialog is open.
On a touch screen each key has a button of at least 44 px.
A letter acts in small and in capital form.

| Key | Does |
| --- | --- |
{rows}

The first answer to a rally sets its start: the time shown less a lead that Settings names (2 s at first).
The answer to "who won" sets its end: the time shown, or the furthest that was played before going back.
The keys `,` and `.` set both exactly, and what they set is not moved again by an answer.
The picture and the card show the same rally: whichever is moved, the other goes along.
The picture stops where the rally in hand ends.
Enter goes on to the next rally with open questions, and `Space` plays on.
Without footage the clock is the time; the keys that move the picture then do nothing.

# Keys of the page Rallies heard

| Key | Does |
| --- | --- |
{heard}

# Keys of the page Draft

| Key | Does |
| --- | --- |
{draft}

# Keys of the page Camera

| Key | Does |
| --- | --- |
{camera}

# Keys of the page Measure a serve

| Key | Does |
| --- | --- |
{measure}

# Keys of the page Beside each other

| Key | Does |
| --- | --- |
{beside}
"""
