"""Docs hold what they say: commands parse, pages named exist, terms of the glossary stand in the code."""

from __future__ import annotations

import importlib
import re
import shlex
import tomllib
from collections.abc import Iterator
from pathlib import Path

import click
import pytest

from goodlength.cli.root_command import root

ROOT = Path(__file__).resolve().parents[2]
DOCS = ROOT / "docs"
GENERATED = {DOCS / "reference" / "commands.md"}
PAGES = [p for p in sorted(DOCS.rglob("*.md")) if p not in GENERATED] + sorted(ROOT.glob("*.md"))
STARTS = ("goodlength ", "./start ")


def page_id(page: Path) -> str:
    return page.relative_to(ROOT).as_posix()


def commands_of(text: str) -> Iterator[tuple[str, bool]]:
    """Yield each command line of a page, and whether it stands in a fence, where it must be whole."""
    for fence in re.findall(r"^```\w*\n(.*?)^```", text, flags=re.MULTILINE | re.DOTALL):
        yield from ((line, True) for line in fence.splitlines() if line.startswith(STARTS))
    outside = re.sub(r"^```\w*\n.*?^```", "", text, flags=re.MULTILINE | re.DOTALL)
    yield from ((code, False) for code in re.findall(r"`([^`\n]+)`", outside) if code.startswith(STARTS))


def refusal(line: str, whole: bool) -> str:
    """Return why the command line does not take these words, or nothing; none is run."""
    words = shlex.split(line, comments=True)[1:]
    if words[0] == "--library":
        words = words[2:]
    if words[0].startswith("-"):
        return "" if words in (["--help"], ["--version"]) else f"no option {words[0]}"
    command: click.Command = root
    ctx = click.Context(root, info_name="goodlength")
    while isinstance(command, click.Group):
        if not words:
            return "the verb is missing" if whole else ""
        name, *words = words
        found = command.get_command(ctx, name)
        if found is None or (found.hidden and name != "bench"):
            return f"the help lists no command {name!r}"
        command, ctx = found, click.Context(found, info_name=name, parent=ctx)
    return _parsed(command, words, whole)


def _parsed(command: click.Command, words: list[str], whole: bool) -> str:
    earlier = {name for param in command.params for name in getattr(param, "earlier", ())}
    if old := earlier & {word.partition("=")[0] for word in words}:
        return f"the help shows no option {', '.join(sorted(old))}"
    try:
        command.make_context(command.name, words)
    except click.exceptions.Exit:
        return ""  # --help answers at once
    except click.BadParameter as wrong:
        return wrong.format_message() if whole else ""  # prose may name a verb alone, or FILE for a file
    except click.UsageError as wrong:
        return wrong.format_message()
    return ""


@pytest.mark.parametrize("page", PAGES, ids=page_id)
def test_commands_in_docs_are_taken_as_they_stand(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    wrong = {line: why for line, whole in commands_of(text) if (why := refusal(line, whole))}
    assert not wrong, wrong


@pytest.mark.parametrize(
    "line",
    [
        "goodlength footage listen match.mp4",
        "goodlength match show demo --verbose",
        "goodlength match list demo earlier",
        "goodlength footage rallies match.mp4 --picture",
        "./start matches",
    ],
)
def test_a_command_that_does_not_exist_is_noticed(line: str) -> None:
    assert refusal(line, whole=True)


@pytest.mark.parametrize("page", PAGES, ids=page_id)
def test_pages_named_in_docs_exist(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    named = [n for n in re.findall(r"`([\w./-]+\.md)`", text) if "NNNN" not in n]
    missing = [n for n in named if not any((base / n).is_file() for base in (page.parent, DOCS, ROOT))]
    assert not missing


def test_every_page_is_reached_from_the_table_of_contents() -> None:
    contents = (DOCS / "README.md").read_text(encoding="utf-8")
    linked = {(DOCS / target).resolve() for target in re.findall(r"\]\(([^)#]+)\)", contents)}
    folders = {DOCS / "sources", DOCS / "decisions"}
    left = [p for p in DOCS.rglob("*.md") if p.parent not in folders and p not in linked]
    assert not [page_id(p) for p in left if p != DOCS / "README.md"]


def test_terms_in_code_of_the_glossary_exist() -> None:
    text = (DOCS / "glossary.md").read_text(encoding="utf-8")
    table = text.split("| on the page | term in code | name |", 1)[1]
    names = re.findall(r"`((?:\w+\.)+\w+)`", table)
    assert len(names) >= 30
    for name in names:
        module, _, rest = f"goodlength.{name}".rpartition(".")
        try:
            importlib.import_module(f"{module}.{rest}")
        except ModuleNotFoundError:
            assert hasattr(importlib.import_module(module), rest), name


STANDARD_TERMS = """
unforced error, forced error, 95% range, confidence interval, median, interquartile range, shrinkage,
adjusted rate, expected by chance, multiple comparisons, win probability, turning point, swing,
percentage points, inter-observer reliability, kappa, Krippendorff's alpha, frame, frame rate,
stabilisation, slow motion, mirror, freeze frame, camera calibration, court calibration, tracking, pose,
joint angle, distance covered, time away from the T, PAR, HiHo, ghosting, disguise, reading the serve,
blocked practice, random practice, retention, transfer, QR code, upload, export, undo, withdraw, accuracy,
bias, precision, scatter, group, warm-up, stroke, shot, problem, contact, grade, chance
"""


def test_the_glossary_explains_every_standard_term() -> None:
    text = (DOCS / "glossary.md").read_text(encoding="utf-8")
    explained = " ".join(re.findall(r"\*\*([^*]+)\*\*", text))
    terms = [term.strip() for term in " ".join(STANDARD_TERMS.split()).split(",")]
    assert not [t for t in terms if not re.search(rf"(?<!\w){re.escape(t)}(?!\w)", explained)]


NO_LABELS = {"A larger share of your lobs drew weak returns: keep it"}  # example sentences in quotes


def label_text() -> str:
    """Return all that pages may show as one line: templates, scripts, and the modules that word answers."""
    rooms = {"web", "record", "findings", "forms"}
    sources = [
        path.read_text(encoding="utf-8")
        for path in (ROOT / "src" / "goodlength").rglob("*")
        if path.suffix in {".html", ".js"} or (path.suffix == ".py" and rooms & set(path.parts))
    ]
    bare = re.sub(r"<[^>]*>", "", "\n".join(sources)).replace("\u2019", "'")
    return re.sub(r"\s+", " ", bare)


@pytest.mark.parametrize("page", [*sorted((DOCS / "how-to").glob("*.md")), DOCS / "tutorial.md"], ids=page_id)
def test_labels_quoted_in_docs_stand_on_a_page(page: Path) -> None:
    text = re.sub(r"```.*?```|`[^`]*`", "", page.read_text(encoding="utf-8"), flags=re.DOTALL)
    quoted = {label.rstrip(".:,") for label in re.findall(r'"([A-Z][^"]+)"', text)}
    shown = label_text()
    missing = [label for label in quoted - NO_LABELS if label not in shown]
    assert not missing


def packages() -> list[str]:
    """Return every package with code below the rooms, such as `footage.audio`."""
    source = ROOT / "src" / "goodlength"
    found = {p.parent.relative_to(source) for p in source.rglob("*.py") if p.parent != source}
    return sorted(".".join(path.parts) for path in found if len(path.parts) > 1)


def test_every_sub_package_stands_in_the_architecture() -> None:
    text = (ROOT / "ARCHITECTURE.md").read_text(encoding="utf-8")
    parents = ("web.routes.", "synthetic.recordings.", "record.store.migrations.")
    left = [name for name in packages() if f"`{name}`" not in text and not name.startswith(parents)]
    assert not left, f"add a row to ARCHITECTURE.md, Sub-packages: {left}"


def test_sub_packages_named_in_the_architecture_exist() -> None:
    text = (ROOT / "ARCHITECTURE.md").read_text(encoding="utf-8")
    table = text.split("## Sub-packages", 1)[1].split("##", 1)[0]
    named = re.findall(r"`((?:\w+\.)+\w+)`", table)
    assert len(named) > 30
    assert not [n for n in named if not (ROOT / "src" / "goodlength" / Path(*n.split("."))).is_dir()]


def test_the_order_of_rooms_in_the_architecture_is_the_contract() -> None:
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    contract = settings["tool"]["importlinter"]["contracts"][0]["layers"]
    text = (ROOT / "ARCHITECTURE.md").read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if line.startswith("`cli` > ")]
    written = [part.strip(" `") for part in lines[0].split(">")]
    assert written == [layer for layer in contract if layer != "__main__"]
