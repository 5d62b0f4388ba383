"""Coach-facing strings: plain words, short sentences, whole errors, one form of dates; and sentences without traps."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import cache
from html import unescape
from pathlib import Path

import numpy as np
import pytest

from goodlength.synthetic.findings_of_simulated_matches import generated
from oracles.parsed_source import parsed

ROOT = Path(__file__).resolve().parents[2]
SRC = ROOT / "src" / "goodlength"
TEMPLATES = sorted((SRC / "web" / "templates").rglob("*.html")) + sorted(
    (SRC / "show" / "paper").glob("*.html")
)
SCRIPTS = sorted((SRC / "web" / "static" / "js").rglob("*.js"))
SPOKEN = [
    *sorted((SRC / "web").rglob("*.py")),
    *sorted((SRC / "cli").rglob("*.py")),
    *sorted((SRC / "tasks").rglob("*.py")),
    *sorted((SRC / "findings" / "text").glob("*.py")),
    *sorted((SRC / "findings" / "reports").glob("*.py")),
    *sorted((SRC / "practice").rglob("*.py")),
    *sorted((SRC / "show").rglob("*.py")),
    *sorted((SRC / "footage").rglob("*.py")),
    *sorted((SRC / "measure").rglob("*.py")),
    *sorted((SRC / "scoring").rglob("*.py")),
    *sorted((SRC / "jobs").rglob("*.py")),
    *sorted((SRC / "record").rglob("*.py")),
]
LONGEST_SENTENCE = 30  # words; one that carries counts and names needs a few more than twenty

BANNED = re.compile(
    r"\b(anew|altogether|nought|whoever|whom|anybody|is no (?!longer)|in 100\b(?! matches| rallies| times)|"
    r"times in 100|held against|hold against|picture back|take (?:it )?back|taken back|put right|taken off|"
    r"take (?:it |them )?off|told apart|not made|written down|write down|(?-i:on record)|steadying|"
    r"some hundred|hardly|by luck|luck would|luck alone|left to luck|season book|every head|heads covered|"
    r"too few to say|drawn in|begins nowhere|recording (?:is|was)|beside each other|dead time|turn(?:ed)? over|"
    r"the room|lets left out|stands beside|stand beside)\b",
    re.IGNORECASE,
)
# Where a banned word is the right one: a part of the string, and why.
EXCEPTIONS = {
    "there is no ": "names what is missing",
    "there are no ": "names what is missing",
    "is no consent": "names what is missing, inside a longer sentence",
    "was not made": "of a file that was refused",
    "three at most can be told apart": "of colours",
    "1 time in 100": "a chance in words",
    "more matches in 100": "a chance in words",
    "more X in 100": "a chance in words",
}
ERROR_ROOT = {
    node.name
    for node in ast.parse((SRC / "errors.py").read_text("utf-8")).body
    if isinstance(node, ast.ClassDef)
}


def visible(html: str) -> str:
    """What a template shows: its text, labels, hints and alternatives, without tags and code."""
    bare = re.sub(r"\{#.*?#\}|<(script|style)\b.*?</\1>", " ", html, flags=re.DOTALL)
    tags = re.findall(r"\{[%{].*?[%}]\}", bare, re.DOTALL)
    quoted = "\n".join(
        said for tag in tags for said in re.findall(r"'((?:[^'\\\n]|\\.)*[a-z] [^'\\\n]*)'", tag)
    )
    labels = " \n".join(re.findall(r'(?:aria-label|alt|title|placeholder)="([^"]*)"', bare))
    text = re.sub(r"\{%.*?%\}", " ", bare, flags=re.DOTALL)
    text = re.sub(r"\{\{.*?\}\}", "X", text, flags=re.DOTALL)
    text = re.sub(
        r"</(p|li|h\d|td|th|dd|dt|button|a|span|label|summary|legend|option|figcaption)>", " \n", text
    )
    text = re.sub(r"<[^>]*>", " ", text, flags=re.DOTALL)
    return unescape(f"{text}\n{labels}\n{quoted}")


def docstrings(tree: ast.AST) -> set[int]:
    """Ids of nodes that are docstrings; a command's is its help, and stays in."""
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef):
            first = node.body[0] if node.body else None
            if isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant):
                command = not isinstance(node, ast.Module | ast.ClassDef) and any(
                    isinstance(item, ast.Call) and "command" in ast.unparse(item.func)
                    for item in node.decorator_list
                )
                if not command:
                    found.add(id(first.value))
    return found


def python_strings(path: Path) -> Iterator[tuple[int, str]]:
    """Every string of a file that reads like a sentence; the values in an f-string stand as X."""
    tree = parsed(path.read_text("utf-8"))
    skip = docstrings(tree)
    inside: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            inside |= {id(value) for value in node.values}
            words = "".join(value.value if isinstance(value, ast.Constant) else "X" for value in node.values)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in inside | skip:
            words = node.value
        else:
            continue
        if re.search(r"[a-z] [a-z]", words):
            yield node.lineno, words


def script_strings(path: Path) -> Iterator[tuple[int, str]]:
    """Strings of a script that read like a sentence, without its comments."""
    source = re.sub(
        r"/\*.*?\*/", lambda item: "\n" * item.group().count("\n"), path.read_text("utf-8"), flags=re.DOTALL
    )
    for n, line in enumerate(source.split("\n"), 1):
        bare = re.sub(r"(^|\s)//.*$", "", line)
        if "import " in bare:
            continue
        for words in re.findall(r"'((?:[^'\\]|\\.)*)'|`((?:[^`\\]|\\.)*)`", bare):
            said = re.sub(r"\$\{[^}]*\}", "X", words[0] or words[1])
            if re.search(r"[a-z] [a-z]", said):
                yield n, said


@cache
def all_strings() -> tuple[tuple[str, int, str], ...]:
    return tuple(read_strings())


def read_strings() -> Iterator[tuple[str, int, str]]:
    for path in TEMPLATES:
        yield path.name, 0, visible(path.read_text("utf-8"))
    for path in SCRIPTS:
        yield from ((path.name, n, words) for n, words in script_strings(path))
    for path in SPOKEN:
        yield from ((path.relative_to(SRC).as_posix(), n, words) for n, words in python_strings(path))


def excused(words: str) -> str:
    for part in EXCEPTIONS:
        words = re.sub(re.escape(part), " ", words, flags=re.IGNORECASE)
    return words


def test_no_coach_reads_a_banned_word() -> None:
    found = [
        f"{where}:{n}: {item.group()!r} in {words[max(0, item.start() - 40) : item.end() + 40]!r}"
        for where, n, given in all_strings()
        for words in [excused(given)]
        for item in BANNED.finditer(words)
    ]
    assert not found, "\n".join(found)


def test_sentences_are_short() -> None:
    found = []
    for where, n, words in all_strings():
        for sentence in re.split(r"(?<=[.!?:;])\s+|\n+|</", words):
            if len(sentence.split()) > LONGEST_SENTENCE:
                found.append(f"{where}:{n}: {' '.join(sentence.split())[:140]}")
    assert not found, "\n".join(found)


def raised_texts(path: Path) -> Iterator[tuple[int, str]]:
    """The text of every error raised with words of its own; values stand as X."""
    for node in ast.walk(parsed(path.read_text("utf-8"))):
        if not isinstance(node, ast.Call) or not node.args:
            continue
        name = node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")
        text = node.args[0]
        if name not in ERROR_ROOT or not isinstance(text, ast.Constant | ast.JoinedStr):
            continue
        parts = text.values if isinstance(text, ast.JoinedStr) else [text]
        yield (
            node.lineno,
            "".join(str(part.value) if isinstance(part, ast.Constant) else "X" for part in parts),
        )


@pytest.mark.parametrize(
    "path",
    [
        item
        for item in sorted(SRC.rglob("*.py"))
        if item.relative_to(SRC).parts[0] not in ("bench", "demo", "synthetic")
    ],
    ids=lambda item: item.relative_to(SRC).as_posix(),
)
def test_errors_are_whole_sentences(path: Path) -> None:
    for n, words in raised_texts(path):
        assert not words[:1].islower() or words.startswith("goodlength"), f"{path.name}:{n}: {words[:80]}"
        assert words.rstrip()[-1:] in ".?X)”!", f"{path.name}:{n}: …{words[-60:]}"


# What a page must not say: a command, an option, a name of a form, a value that only a program knows.
ONLY_FOR_COMMANDS = re.compile(
    r"\bgoodlength (?:aim|bench|court|demo|findings|footage|handout|library|match|open|player|practice|serve|show) "
    r"|(?<![\w-])--[a-z]|`[a-z]+ [a-z]+|\bJSON\b(?! \(|,| file)|\bpx\b|\bpixels?\b|\.py\b|\bTraceback\b"
)
ONLY_FOR_PROGRAMS = re.compile(r"\b(?:\w+_id|\w+\.id|id_|rally_key|key|digest)\b(?!\()")
# Rooms whose errors a page may show; the modules after them speak where only commands or code come.
ROOMS_OF_PAGES = (
    "web",
    "tasks",
    "record",
    "footage",
    "measure",
    "practice",
    "findings",
    "show",
    "jobs",
    "scoring",
)
COMMANDS_ONLY = frozenset(
    {
        "tasks/library/untrusted_backup_unpacking_limits.py",
        "record/store/postgres.py",
    }
)


def unfit_for_a_page(path: Path) -> Iterator[str]:
    """Errors with a command, an option or an id in their text, and no text of their own for a page."""
    for node in ast.walk(parsed(path.read_text("utf-8"))):
        if not isinstance(node, ast.Call) or not node.args:
            continue
        name = node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")
        if name not in ERROR_ROOT or any(keyword.arg == "page" for keyword in node.keywords):
            continue
        text = node.args[0]
        parts = text.values if isinstance(text, ast.JoinedStr) else [text]
        said = "".join(str(part.value) if isinstance(part, ast.Constant) else "X" for part in parts)
        values = [ast.unparse(part.value) for part in parts if isinstance(part, ast.FormattedValue)]
        ids = [value for value in values if ONLY_FOR_PROGRAMS.search(value)]
        if ONLY_FOR_COMMANDS.search(said) or ids:
            yield f"{path.relative_to(SRC).as_posix()}:{node.lineno}: {said[:120]} {ids or ''}"


def test_errors_that_a_page_shows_name_no_command_id_or_code() -> None:
    found = [
        fault
        for room in ROOMS_OF_PAGES
        for path in sorted((SRC / room).rglob("*.py"))
        if path.relative_to(SRC).as_posix() not in COMMANDS_ONLY
        for fault in unfit_for_a_page(path)
    ]
    assert not found, f"{len(found)}:\n" + "\n".join(found)


def test_pages_show_what_an_error_says_to_pages() -> None:
    """A route shows `page_words`: the text itself may name an id or an option."""
    found = [
        f"{path.relative_to(SRC).as_posix()}:{n}: {line.strip()}"
        for path in sorted((SRC / "web").rglob("*.py"))
        if path.name != "server.py"  # what it says is read where goodlength was started
        for n, line in enumerate(path.read_text("utf-8").split("\n"), 1)
        if re.search(r"\bstr\((?:error|fault|why|told|refused)\)", line)
    ]
    assert not found, "\n".join(found)


def test_dates_on_pages_are_said_in_one_form() -> None:
    """A date reaches a page through the filter `day` or day_words: never as it is stored."""
    for path in TEMPLATES:
        source = path.read_text("utf-8")
        for shown in re.findall(r"\{\{[^}]*(?:\.day|_on|\.on|last_seen|until|since)\s*\}\}", source):
            assert (
                "| day" in shown
                or "day.day" in shown
                or path.name in ("recycle_bin.html", "video_review_setup.html")
            ), f"{path.name}: {shown}"


TRAPS = {
    "one of many": re.compile(
        r"(?<!of )\b1 (?:of 1 )?(rallies|serves|returns|lobs|times|matches|points|games)\b"
    ),
    "many of one": re.compile(r"\b([02-9]|\d\d+) (rally|serve|return|lob|time|match)\b(?! (of|to|and))"),
    "a doubled word": re.compile(r"\b(?!had\b|that\b)(\w+) \1\b", re.IGNORECASE),
    "an article before a vowel": re.compile(r"\ba (?=[aeio]\w)(?!one\b)", re.IGNORECASE),
    "one with a plural verb": re.compile(r"\b1 of \d+ [^.,]*\bwere\b|\bof 1 \w+ [^.,]*\bwere\b"),
    "a winner that may be a shot": re.compile(r"\bwinner logged\b"),
    "about so many, to the last one": re.compile(r"\babout (?:[5-9]\d|\d{3,})(?<!0) more\b"),
    "a label in place of a noun": re.compile(r"Body, bouncing|Body, for|body, bouncing|body, for"),
    "two full stops": re.compile(r"\.\.|\. \.|\?\.|,\.|:\."),
    "a hole": re.compile(r"\bNone\b|\bnan\b|\{|\}|  |\(\)| ,| \."),
}


def test_generated_sentences_hold_no_trap() -> None:
    said = [
        words
        for finding in generated(np.random.default_rng(16), 200)
        for words in (
            finding.headline,
            finding.you_headline,
            finding.words,
            finding.you_words,
            finding.parent_words,
        )
    ]
    assert len(set(said)) > 200
    found = []
    for words in dict.fromkeys(said):
        if not words.rstrip().endswith((".", "?")):
            found.append(f"no full stop: {words}")
        if not words[:1].isupper() and not words[:1].isdigit():
            found.append(f"no capital: {words}")
        found += [f"{name}: {words}" for name, trap in TRAPS.items() if trap.search(words)]
    assert not found, "\n".join(found[:20])
