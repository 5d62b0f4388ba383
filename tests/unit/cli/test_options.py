"""Options: the help says what is accepted, earlier names stay accepted, a player is named in one way."""

from __future__ import annotations

import json
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

import click
import pytest

from goodlength.cli import main
from goodlength.cli.root_command import HIDDEN, NOUNS, root
from goodlength.cli.terminal.renamed_option_aliases import RenamedChoice, RenamedOption
from goodlength.cli.terminal.shared_options import print_lines

IMOGEN, PETRA = "demo-imogen-vale", "demo-petra-lindqvist-ode"
# Where a name used before stays accepted: the verb, the name, and the name shown today.
EARLIER = [
    ("match new", "--on", "--date"),
    ("match new", "--to", "--points"),
    ("match interval", "--of", "--player"),
    ("match compare", "--keep-as", "--save-as"),
    ("footage rallies", "--picture", "--movement"),
    ("footage repack", "--picture", "--video-track"),
    ("footage repack", "--sound", "--sound-track"),
    ("footage calibrate", "--keep", "--save"),
    ("footage calibrate", "--leave-out", "--ignore"),
    ("footage track", "--first", "--first-track"),
    ("footage measure", "--keep", "--save"),
    ("footage pose", "--who", "--player"),
    ("findings show", "--of", "--player"),
    ("findings search", "--how", "--return-type"),
    ("findings search", "--left", "--return-quality"),
    ("findings search", "--to", "--return-to"),
    ("findings search", "--stroke", "--shot"),
    ("findings search", "--kept", "--flagged"),
    ("serve solve", "--room", "--second-bounce"),
    ("show clip", "--cover-heads", "--hide-faces"),
    ("show highlights", "--cover-heads", "--hide-faces"),
    ("show highlights", "--every", "--all"),
    ("show disguise", "--whose", "--player"),
    ("practice log", "--on", "--date"),
    ("practice log", "--order", "--type"),
    ("library backup", "--with-films", "--with-videos"),
    ("court add", "--room", "--temperature"),
]


def verbs() -> Iterator[tuple[str, click.Command]]:
    """Every command a coach's help shows, with its words."""
    ctx = click.Context(root, info_name="goodlength")
    for noun in NOUNS:
        command = root.get_command(ctx, noun)
        assert command is not None
        if noun in HIDDEN:
            continue
        if not isinstance(command, click.Group):
            yield noun, command
            continue
        yield from ((f"{noun} {verb}", sub) for verb, sub in command.commands.items() if not sub.hidden)


VERBS = dict(verbs())


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory, demo_library: Path) -> Path:
    folder = tmp_path_factory.mktemp("options")
    shutil.copytree(demo_library, folder, dirs_exist_ok=True)
    return folder


def run(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    code = 0
    try:
        main(args=words)
    except SystemExit as left:
        code = int(left.code or 0)
    said = capsys.readouterr()
    return code, said.out, said.err


@pytest.mark.parametrize("name", VERBS)
def test_every_option_and_verb_says_what_it_does_in_a_sentence(name: str) -> None:
    command = VERBS[name]
    said = [(command.name, command.help or "")]
    said += [(p.name, p.help or "") for p in command.params if isinstance(p, click.Option) and not p.hidden]
    for option, words in said:
        assert words[:1].isupper() or words.startswith("."), (name, option, words)
        assert words.rstrip().endswith("."), (name, option, words)


@pytest.mark.parametrize("noun", [noun for noun in NOUNS if noun not in HIDDEN])
def test_no_summary_of_a_command_is_cut_off(noun: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Before: 26 of them ended in "..." in the help of their noun."""
    root.main([noun, "--help"], standalone_mode=False, terminal_width=100, prog_name="goodlength")
    listed = capsys.readouterr().out.partition("Commands:")[2].partition("Example:")[0]
    for name, command in VERBS.items():
        group, _, verb = name.partition(" ")
        if group == noun and verb:
            (line,) = (row for row in listed.splitlines() if row.split()[:1] == [verb])
            assert line.endswith("."), line
            assert not line.endswith("..."), line
            summary = command.short_help or (command.help or "").partition(".")[0]
            assert len(summary) <= 60, (name, summary)


@pytest.mark.parametrize("name", VERBS)
def test_a_placeholder_says_what_to_type(name: str) -> None:
    """Before: FLOAT, TEXT, N,N, which say the type of a number or word and not what it means."""
    command = VERBS[name]
    for option in command.params:
        if isinstance(option, click.Option) and not option.hidden and not option.is_flag:
            shown = option.make_metavar(click.Context(command))
            words = set(shown.replace(",", " ").split())
            assert not words & {"FLOAT", "TEXT", "INTEGER", "PATH", "RANGE", "N"}, (option.opts, shown)


@pytest.mark.parametrize(
    ("verb", "ending"), [("highlights", ".mp4"), ("side-by-side", ".mp4"), ("stills", ".png")]
)
def test_out_names_the_ending_of_its_own_file(verb: str, ending: str) -> None:
    (out,) = (p for p in VERBS[f"show {verb}"].params if p.name == "out")
    assert isinstance(out, click.Option)
    assert out.help == f"The {ending} file to write."


@pytest.mark.parametrize(("name", "old", "new"), EARLIER, ids=lambda words: words)
def test_an_earlier_name_is_accepted_and_not_shown(name: str, old: str, new: str) -> None:
    command = VERBS[name]
    option = next(p for p in command.params if new in p.opts)
    assert isinstance(option, RenamedOption)
    assert old in option.earlier
    ctx = click.Context(command, info_name=name)
    assert old not in (option.get_help_record(ctx) or ("",))[0].replace(",", " ").split()
    parser = command.make_parser(ctx)
    value = [] if option.is_flag else ["1"]
    before, after = (parser.parse_args(args=[word, *value])[0] for word in (old, new))
    assert before == after
    assert option.name in before


def test_every_earlier_name_stands_in_the_list_above() -> None:
    renamed = {
        (name, old)
        for name, command in VERBS.items()
        for option in command.params
        for old in getattr(option, "earlier", ())
    }
    assert {(name, old) for name, old, _ in EARLIER} >= {
        pair for pair in renamed if pair[1] != "--cover-heads"
    }


def test_a_choice_takes_its_earlier_words() -> None:
    levels = RenamedChoice({"beginner": "new", "club": "club", "advanced": "county"})
    assert [levels.convert(word, None, None) for word in ("advanced", "county", "new", "club")] == [
        "county",
        "county",
        "new",
        "club",
    ]
    with pytest.raises(click.BadParameter, match="'beginner', 'club', 'advanced'"):
        levels.convert("master", None, None)


@pytest.mark.parametrize("called", ["imogen", "Imogen Vale", IMOGEN])
@pytest.mark.parametrize(
    "words",
    [
        ("player", "serves"),
        ("practice", "progress"),
        ("player", "brief"),
        ("practice", "log", "+", "lobs-to-the-taped-box", "9", "15"),
        ("player", "consent", "+", "--given-by", "Imogen Vale", "--for", "clips"),
    ],
    ids=lambda words: " ".join(words[:2]),
)
def test_a_player_is_named_by_name_or_id(
    words: tuple[str, ...], called: str, library: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    named = [called if word == "+" else word for word in words]
    named += [] if "+" in words else [called]
    assert run(capsys, *named, "--library", str(library))[0] == 0


def test_a_consent_says_what_it_is_for(library: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ("player", "consent", "petra", "--given-by", "Petra Lindqvist-Ode", "--for", "clips")
    _, _, err = run(capsys, *words, "--until", "2027-03-01", "--library", str(library))
    assert err == "Consent saved: Petra Lindqvist-Ode, for clips, until 1 March 2027.\n"


def test_a_part_of_a_name_deletes_nobody(library: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, "player", "erase", "imogen", "--yes", "--library", str(library))
    assert (code, out) == (2, "")
    assert f"give the whole name or the id: Imogen Vale ({IMOGEN})" in err
    code, out, _ = run(capsys, "player", "erase", "Imogen Vale", "--library", str(library))
    assert code == 0
    assert "would be deleted" in out


@pytest.mark.parametrize(
    ("words", "old"),
    [
        (("findings", "show", "demo", "--json"), ("--of", "opponent")),
        (("match", "interval", "demo", "--json"), ("--of", "opponent")),
        (("show", "disguise", "demo"), ("--whose", "b")),
    ],
    ids=lambda words: " ".join(words[:2]),
)
def test_a_player_of_a_match_is_named_the_same_in_every_command(
    words: tuple[str, ...], old: tuple[str, ...], library: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    by_name, by_id, before = (
        run(capsys, *words, *option, "--library", str(library))
        for option in (("--player", "petra"), ("--player", PETRA), old)
    )
    assert by_name[0] == 0
    assert by_name == by_id == before
    assert by_name[1] != run(capsys, *words, "--library", str(library))[1]
    code, out, err = run(capsys, *words, "--player", "oona", "--library", str(library))
    assert (code, out) == (1, "")
    assert "'oona' is not a player of this match. Choose Imogen Vale or Petra Lindqvist-Ode." in err


@pytest.mark.parametrize(
    ("coached", "wanted"), [((), IMOGEN), (("petra",), PETRA), (("second",), PETRA), (("first",), IMOGEN)]
)
def test_a_new_match_takes_names_and_the_player_coached(
    coached: tuple[str, ...], wanted: str, library: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    option = ("--coached", *coached) if coached else ()
    code, out, _ = run(
        capsys, "match", "new", "imogen", "petra", "--date", "2026-03-07", *option, "--library", str(library)
    )
    assert code == 0
    rows = json.loads(run(capsys, "match", "list", "--json", "--library", str(library))[1])
    (made,) = [row for row in rows if row["id"] == out.strip()]
    assert made["players"] == [IMOGEN, PETRA]
    assert made["coached"] == wanted


def test_matches_of_the_same_two_differ_by_their_date(
    library: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _, out, _ = run(capsys, "match", "list", "--library", str(library))
    heading, *rows = out.splitlines()
    assert heading.split() == ["Id", "Date", "Rallies", "Players"]
    assert any(row.split()[:5] == ["demo", "11", "October", "2025", "78"] for row in rows)
    assert any(row.split()[:5] == ["demo-earlier", "20", "September", "2025", "74"] for row in rows)
    assert all(len(row) <= 100 for row in rows)


def test_a_match_without_video_says_so(library: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, "footage", "list", "demo-earlier", "--library", str(library))
    assert (code, out) == (0, "")
    assert "This match has no video yet. Add one with: goodlength footage add demo-earlier FILE" in err
    code, _, err = run(capsys, "footage", "calibrate", "nope", "--library", str(library))
    assert code == 1
    assert err == "There is no video 'nope' in this library. Next: goodlength footage list MATCH_ID\n"


@pytest.mark.parametrize(
    "words",
    [
        ("match", "show", "demo"),
        ("footage", "marks"),
        ("serve", "simulate", "--box", "right", "--kind", "lob"),
        ("findings", "search", "--player", "imogen", "--serving", "--lost"),
    ],
    ids=lambda words: " ".join(words[:2]),
)
def test_tables_fit_100_columns(
    words: tuple[str, ...], library: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _, out, _ = run(capsys, *words, *(() if words[1] == "marks" else ("--library", str(library))))
    tables = [line for line in out.splitlines() if "  " in line.strip()]
    assert tables or words[1] == "search"
    assert not [line for line in tables if len(line) > 100]
    if words[1] == "search":
        assert "  Rally 2, game 1" in out
        assert ": Hand-out, 1-all\n" in out
        assert "    Imogen served: lob, return loose. Petra won: winner, cross-court." in out


def test_on_a_terminal_long_lines_break_between_words(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True)
    monkeypatch.setenv("COLUMNS", "40")
    words = "  " + "seven letters " * 9
    print_lines([words, "short"])
    *broken, short = capsys.readouterr().out.splitlines()
    assert short == "short"
    assert len(broken) > 1
    assert all(len(line) <= 40 for line in broken)
    assert all(line.startswith("    ") for line in broken[1:])
    assert " ".join(" ".join(broken).split()) == " ".join(words.split())


def test_movement_is_refused_for_several_videos(capsys: pytest.CaptureFixture[str]) -> None:
    """Before: the option was passed over without a word."""
    code, out, err = run(capsys, "footage", "rallies", "a.mp4", "b.mp4", "--movement")
    assert (code, out) == (2, "")
    assert "--movement works with one video at a time." in err


def test_a_new_match_names_who_was_meant(library: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ("match", "new", "pet", "oona", "--coached", "oona", "--library", str(library))
    _, out, err = run(capsys, *words)
    assert len(out.split()) == 1
    assert err == "Created: Petra Lindqvist-Ode v Oona Marsh-Tallis. You coach Oona Marsh-Tallis.\n"


def test_a_measured_serve_is_told_in_words_and_km_h_first() -> None:
    from goodlength.forms.footage.serve_measurement_json import MeasuredForm, measured_words

    form: MeasuredForm = {
        "speed_m_s": {"middle": 20.0, "low": 18.0, "high": 22.0},
        "room_m": {"middle": -0.25, "low": -0.5, "high": 0.0},
        "range_holds": 0.95,
        "kind_proposed": "body-feet",
        "off": [
            {"what": "floor", "px": 30.0, "doubted": True},
            {"what": "front", "px": 1.0, "doubted": False},
        ],
    }
    lines = measured_words(form, "Lob", "Body, bouncing at the feet")
    assert [" ".join(line.split()) for line in lines] == [
        "Figure Best estimate (95% range)",
        "Speed off the racket 72 km/h (65 to 79)",
        "Speed off the racket 20.00 m/s (18.00 to 22.00)",
        "Second bounce, from the back wall -0.25 m (-0.50 to 0.00)",
        "The ranges allow for click error, timing, ball and court.",
        "The path looks like this kind: body, bouncing at the feet. It is logged as: lob. "
        "The log does not change.",
        "The mark “floor” does not fit the others: click it again.",
    ]
    assert "No kind is logged." in measured_words(form)[-2]


def test_a_usual_value_names_its_median_and_the_level_of_its_range(
    library: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _, out, _ = run(capsys, "findings", "show", "--player", "imogen", "--library", str(library))
    usual = [line for line in out.splitlines() if line.startswith("  Rallies won when")]
    assert usual
    assert all("median " in line and "rate over all matches: 95% range " in line for line in usual)
