"""Names in the page: none of the retired words in scripts, macros, ids, classes and data of elements."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from pathlib import Path

from tests.house.test_names import RETIRED, words_of

WEB = Path(__file__).parents[2] / "src" / "goodlength" / "web"
SENT_BY_THE_SERVER = frozenset(["kept", "seen", "told"])
"""Keys of JSON that is stored or exported as well: `state: "kept"`, `told: "a"`, `seen: "a-right"`."""
OF_THE_PAGE = frozenset(["lane", "room", "listening", "followed", "following", "talk", "talked"])
"""Retired in elements: a room is a room; the rest were riddles."""
COMMENT = re.compile(r"/\*.*?\*/|(?<!:)//[^\n]*", re.DOTALL)
TEXT = re.compile(r"'(?:[^'\\\n]|\\.)*'|\"(?:[^\"\\\n]|\\.)*\"")
PART_OF_TEMPLATE = re.compile(r"\$\{([^{}]*)\}")
ATTRIBUTE = re.compile(r'(?<![\w-])(?:id|class|for|aria-labelledby|aria-describedby)="([^"]*)"')


def script_names(source: str) -> set[str]:
    """Return the identifiers of a script: no comments, no strings; keys of the server are left out."""
    code = TEXT.sub(" ", COMMENT.sub(" ", source))
    code = re.sub(
        r"`[^`]*`", lambda text: " ; ".join(PART_OF_TEMPLATE.findall(text[0])), code, flags=re.DOTALL
    )
    code = re.sub(rf"\.(?:{'|'.join(SENT_BY_THE_SERVER)})\b|\b(?:{'|'.join(SENT_BY_THE_SERVER)}):", " ", code)
    return set(re.findall(r"[A-Za-z_$][\w$]*", code))


def script_selectors(source: str) -> Iterator[str]:
    """Yield the ids and classes that a script asks for or sets."""
    for text in TEXT.findall(COMMENT.sub(" ", source)):
        yield from re.findall(r"(?<=[#.])[a-z][\w-]*", text)
    yield from re.findall(r"class: '([\w -]*)'", source)
    yield from re.findall(r"dataset\.(\w+)", source)


def template_names(source: str) -> Iterator[str]:
    """Yield the ids, classes, data and macros of a template."""
    for value in ATTRIBUTE.findall(source):
        yield from re.findall(r"[A-Za-z][\w-]*", re.sub(r"\{[{%].*?[%}]\}", " ", value))
    yield from re.findall(r"(?<![\w-])(data-[\w-]+)=", source)
    for head in re.findall(r"\{% macro (\w+\([^)]*\))", source):
        yield from re.findall(r"[A-Za-z_]\w*", re.sub(r"'[^']*'", "", head))


def style_names(source: str) -> Iterator[str]:
    """Yield the ids and classes of a style sheet."""
    yield from re.findall(r"(?<=[.#])[A-Za-z][\w-]*", COMMENT.sub(" ", source))


def retired(names: Iterable[str], words: frozenset[str]) -> list[str]:
    return sorted({name for name in names if words_of(name) & words})


def files(pattern: str) -> list[Path]:
    found = sorted(WEB.glob(pattern))
    assert found, pattern
    return found


def test_retired_names_are_seen() -> None:
    """Names as they once stood in the page."""
    script = "/* said */ const heardAt = 1; // told\nrally.told; x({ state: 'kept' }); need('#kept-rows');"
    assert retired(script_names(script), RETIRED) == ["heardAt"]
    assert retired(script_selectors(script), RETIRED) == ["kept-rows"]
    template = '{% macro said(words) %}<p class="{% if told %}held{% endif %} said-words" data-kept="1">'
    assert retired(template_names(template), RETIRED) == ["data-kept", "held", "said", "said-words"]
    assert retired(style_names(".heard-list td { color: #7A1F1F } /* .told */"), RETIRED) == ["heard-list"]


def test_no_retired_word_in_a_script() -> None:
    found = {
        path.name: names
        for path in files("static/js/**/*.js")
        if (names := retired(script_names(path.read_text("utf-8")), RETIRED))
    }
    assert found == {}


def test_no_retired_word_in_an_element() -> None:
    words = RETIRED | OF_THE_PAGE
    found = {
        path.name: names
        for pattern, read in (
            ("static/js/**/*.js", script_selectors),
            ("templates/**/*.html", template_names),
            ("static/css/**/*.css", style_names),
        )
        for path in files(pattern)
        if (names := retired(read(path.read_text("utf-8")), words))
    }
    assert found == {}


def test_no_retired_word_in_the_name_of_a_page_file() -> None:
    words = RETIRED | OF_THE_PAGE
    paths = [*files("static/**/*.*"), *files("templates/**/*.html")]
    assert [path.name for path in paths if words_of(path.name.split(".")[0].replace("-", "_")) & words] == []


def test_every_id_that_a_script_needs_is_in_a_template() -> None:
    """A renamed id is renamed everywhere: each `#name` of a script stands in a template or is made by a script."""
    scripts = [path.read_text("utf-8") for path in files("static/js/**/*.js")]
    templates = " ".join(path.read_text("utf-8") for path in files("templates/**/*.html"))
    made = set(re.findall(r'(?<![\w-])id="([\w-]+)"', templates))
    made |= {f"f-{name}" for name in re.findall(r"m\.(?:text|select)_field\('([\w-]+)'", templates)}
    made |= {name for source in scripts for name in re.findall(r"\bid: '([\w-]+)'", source)}
    wanted = {
        name for source in scripts for name in re.findall(r"(?:need|querySelector)\('#([\w-]+)", source)
    }
    assert len(wanted) > 60
    assert sorted(wanted - made) == []


def test_every_page_file_that_a_template_loads_exists() -> None:
    for path in files("templates/**/*.html"):
        for address in re.findall(r'"/static/([^"]+)"', path.read_text("utf-8")):
            assert (WEB / "static" / address).is_file(), f"{path.name}: {address}"
