"""The sentences of a template, found in its source: a whole one each, with what changes in it by name.

    <p>Search <b>all</b> of {{ count }} matches</p>    gives    Search <b>all</b> of {count} matches

A template stays as it is written, in English. For another language its source is read anew with each sentence
replaced, before Jinja compiles it, so that a page costs no more than in English and a template needs no mark
that could be forgotten. Words that a template gets as values are looked up where they are put out.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import jinja2

INLINE = frozenset(
    ("a", "abbr", "b", "br", "code", "em", "i", "kbd", "mark", "q", "small", "span", "strong", "sub", "time")
)
OPAQUE = frozenset(("svg", "script", "style", "textarea"))  # a text box sends back what stands in it
READ_ATTRIBUTES = frozenset(("alt", "aria-label", "placeholder", "title"))
_EMPTY = frozenset(("br",))
# Names of what somebody typed, which is shown as it is
TYPED = frozenset(
    ("address", "call", "club", "code", "event", "file", "file_name", "find", "folder", "note", "observer")
) | frozenset(("path", "player", "pasted", "title", "typed", "who"))
NAMED_BY_US = frozenset(("step", "key"))  # whose `name` is a word of the program
_LETTER = re.compile(r"[^\W\d_]")
_NAME = re.compile(r"[A-Za-z_]\w*")
_ATTRIBUTE = re.compile(r"""([\w:-]+)\s*=\s*("(?:[^"{]|\{\{.*?\}\}|\{%.*?%\}|\{)*")""", re.DOTALL)
_LEXER = jinja2.Environment(trim_blocks=False, lstrip_blocks=False)

Translate = Callable[[str], str]


@dataclass(frozen=True)
class Piece:
    """A part of a template's source: text, tag, expression, statement, or what is left alone."""

    kind: str  # "text" | "tag" | "value" | "statement" | "other"
    source: str

    @property
    def tag(self) -> str:
        """The name of a tag, in small letters."""
        found = re.match(r"</?\s*([\w-]+)", self.source)
        return found.group(1).lower() if found and self.kind == "tag" else ""

    @property
    def closes(self) -> bool:
        """Whether it is a closing tag."""
        return self.kind == "tag" and self.source.startswith("</")


def pieces(source: str) -> list[Piece]:
    """Return a template's source cut into its parts, which joined give it again."""
    out: list[Piece] = []
    at = 0
    while at < len(source):
        end, kind = _next(source, at)
        if out and kind == out[-1].kind == "text":
            out[-1] = Piece("text", out[-1].source + source[at:end])
        else:
            out.append(Piece(kind, source[at:end]))
        at = end
    return out


def _next(source: str, at: int) -> tuple[int, str]:
    """Return where the part at a place ends, and what it is."""
    for opening, closing, kind in (("{#", "#}", "other"), ("<!", ">", "other"), ("{{", "}}", "value")):
        if source.startswith(opening, at):
            return source.index(closing, at + 2) + len(closing), kind
    if source.startswith("{%", at):
        return source.index("%}", at) + 2, "statement"
    if source[at] == "<" and at + 1 < len(source) and (source[at + 1].isalpha() or source[at + 1] == "/"):
        end = _tag_end(source, at)
        name = re.match(r"<([\w-]+)", source[at:end])
        if name and name.group(1).lower() in OPAQUE and not source[at:end].endswith("/>"):
            closing = f"</{name.group(1)}>"
            return source.index(closing, end) + len(closing), "other"
        return end, "tag"
    stops = [found for mark in ("{#", "{{", "{%", "<") if (found := source.find(mark, at + 1)) > 0]
    return min(stops, default=len(source)), "text"


def _tag_end(source: str, at: int) -> int:
    """Return where a tag ends; Jinja's parts in it may hold a ">"."""
    while at < len(source):
        for opening, closing in (("{{", "}}"), ("{%", "%}")):
            if source.startswith(opening, at):
                at = source.index(closing, at) + 2
                break
        else:
            at += 1
            if source[at - 1] == ">":
                return at
    raise ValueError("a tag is not closed")


def _runs(parts: Sequence[Piece]) -> Iterator[tuple[int, int]]:
    """Yield where text runs on: text, values and tags within a line, each of whose pairs is whole."""
    begin = 0
    for at, part in enumerate([*parts, Piece("statement", "")]):
        if part.kind in ("text", "value") or part.tag in INLINE:
            continue
        yield from _balanced(parts, begin, at)
        begin = at + 1


def _balanced(parts: Sequence[Piece], begin: int, end: int) -> Iterator[tuple[int, int]]:
    """Cut a run at tags whose partner lies outside it, then take off what only surrounds it."""
    opened: list[int] = []
    partner: dict[int, int] = {}
    for at in range(begin, end):
        part = parts[at]
        if part.kind != "tag" or part.tag in _EMPTY:
            continue
        if not part.closes:
            opened.append(at)
        elif opened and parts[opened[-1]].tag == part.tag:
            partner[opened.pop()] = at
    whole = {*partner, *partner.values()}
    first = begin
    for at in range(begin, end + 1):
        alone = at < end and parts[at].kind == "tag" and parts[at].tag not in _EMPTY and at not in whole
        if at == end or alone:
            yield from _trimmed(parts, first, at, partner)
            first = at + 1


def _trimmed(
    parts: Sequence[Piece], first: int, end: int, partner: dict[int, int]
) -> Iterator[tuple[int, int]]:
    def blank(at: int) -> bool:
        return parts[at].kind == "text" and not parts[at].source.strip()

    while first < end:
        if blank(first) or parts[first].tag in _EMPTY:
            first += 1
        elif blank(end - 1) or parts[end - 1].tag in _EMPTY:
            end -= 1
        elif partner.get(first) == end - 1:
            first, end = first + 1, end - 1
        else:
            break
    if first >= end:
        return
    is_address = parts[first].source.lstrip().startswith("/")
    if any(part.kind == "text" and _LETTER.search(_plain(part.source)) for part in parts[first:end]):
        if not is_address:
            yield first, end
        return
    for at in range(first, end):  # values alone: nothing to say around them
        if parts[at].kind == "value":
            yield at, at + 1


def _plain(text: str) -> str:
    """Return text without entities, which hold letters and say nothing."""
    return re.sub(r"&#?\w+;", "", text)


@dataclass(frozen=True)
class Sentence:
    """A sentence of a template: its words, and the source that each name in it stands for."""

    words: str
    stands_for: tuple[tuple[str, str], ...]
    is_value: bool = False  # a value alone, which is looked up when it is put out

    def source(self, translated: str) -> str:
        """Return a translation as source, each name replaced by what it stands for."""
        for name, source in self.stands_for:
            translated = translated.replace(name, source)
        return translated


def _sentence(parts: Sequence[Piece]) -> Sentence:
    """Return the sentence that some parts make."""
    if len(parts) == 1 and parts[0].kind == "value":
        return Sentence("", ((("{0}"), parts[0].source),), is_value=True)
    words = ""
    known: list[tuple[str, str]] = []
    opened: list[str] = []
    taken: dict[str, int] = {}

    def fresh(name: str) -> str:
        taken[name] = taken.get(name, 0) + 1
        return name if taken[name] == 1 else f"{name}{taken[name]}"

    for part in parts:
        if part.kind == "text":
            words += re.sub(r"\s+", " ", part.source)
        elif part.kind == "value":
            name = "{" + fresh(value_name(part.source)) + "}"
            known.append((name, value_source(part.source)))
            words += name
        elif part.closes:
            name = f"</{opened.pop()}>"
            known.append((name, part.source))
            words += name
        else:
            name = fresh(part.tag)
            if part.tag not in _EMPTY:
                opened.append(name)
            known.append((f"<{name}>", part.source))
            words += f"<{name}>"
    return Sentence(words.strip(), tuple(known))


def value_name(source: str) -> str:
    """Return a name for a value in a sentence, from its expression."""
    inner = re.sub(r"'[^']*'|\"[^\"]*\"", "", source.strip("{}- ").split("|")[0])
    names = [
        name for name in _NAME.findall(inner) if name not in ("if", "else", "or", "and", "not", "m", "p")
    ]
    return (names[-1] if len(names) < 3 else "value").lower() if names else "value"


def value_source(source: str) -> str:
    """Return an expression that looks its words up where it is put out; what was typed stays as it is."""
    inner = source[2:-2].strip("-").strip()
    plain = inner.split("|")[0].strip()
    names = _NAME.findall(re.sub(r"'[^']*'|\"[^\"]*\"", "", plain))
    simple = bool(re.fullmatch(r"[\w.]+", plain))
    if "drawing" in inner or ("(" in plain and plain.startswith(("m.", "p.", "caller", "rest"))):
        return source
    typed = names and (names[-1] in TYPED or (names[-1] == "name" and names[0] not in NAMED_BY_US))
    if simple and typed and names != ["title"]:  # what a macro is given as its title
        return source
    left, right = ("{{-" if source.startswith("{{-") else "{{"), ("-}}" if source.endswith("-}}") else "}}")
    return f"{left} ({inner}) | in_language {right}"


def sentences(source: str) -> list[str]:
    """Return the sentences of a template in their order, those in attributes too."""
    out: list[str] = []

    def noted(words: str) -> str:
        out.append(words)
        return words

    translated(source, noted)
    return out


def translated(source: str, translate: Translate) -> str:
    """Return a template's source with every sentence as `translate` gives it."""
    parts = pieces(source)
    out = [_attributes(part.source, translate) if part.kind == "tag" else part.source for part in parts]
    for first, end in _runs(parts):
        run = [Piece(part.kind, out[first + n]) for n, part in enumerate(parts[first:end])]
        before = re.match(r"\s*", run[0].source).group() if run[0].kind == "text" else ""  # type: ignore[union-attr]
        after = re.search(r"\s*$", run[-1].source).group() if run[-1].kind == "text" else ""  # type: ignore[union-attr]
        found = _sentence(run)
        if found.is_value:
            text = value_source(run[0].source)
        else:
            text = before + found.source(translate(found.words)) + after
        out[first:end] = [text, *[""] * (end - first - 1)]
    return "".join(out)


def _attributes(tag: str, translate: Translate) -> str:
    """Return a tag with what its attributes say translated."""

    def attribute(found: re.Match[str]) -> str:
        name, quoted = found.groups()
        if name.lower() not in READ_ATTRIBUTES:
            return found.group()
        inner = quoted[1:-1]
        if "{%" in inner:
            return found.group()
        run = pieces(inner)
        if all(part.kind == "value" or not _LETTER.search(part.source) for part in run):
            text = "".join(value_source(part.source) if part.kind == "value" else part.source for part in run)
        else:
            text = _sentence(run).source(translate(_sentence(run).words)).replace('"', "&quot;")
            text = re.sub(r"\{\{.*?\}\}", lambda value: value.group().replace("&quot;", '"'), text)
        return f'{name}="{text}"'

    return _ATTRIBUTE.sub(attribute, tag) if any(f"{name}=" in tag for name in READ_ATTRIBUTES) else tag


def words_of_expressions(source: str) -> list[str]:
    """Return words that stand in a template's expressions, such as what a macro is given."""
    found = []
    for part in pieces(source):
        inner = part.source
        if part.kind == "tag":
            quoted = " ".join(re.findall(r"\{[{%].*?[}%]\}", inner, re.DOTALL))
            found += _strings(quoted)
        elif part.kind in ("value", "statement"):
            found += _strings(inner)
    return found


def _strings(source: str) -> list[str]:
    strings = [
        token[2][1:-1].encode("latin-1", "backslashreplace").decode("unicode-escape")
        for token in _LEXER.lex(source)
        if token[1] == "string"
    ]
    return [words for words in strings if is_for_readers(words)]


def is_for_readers(words: str) -> bool:
    """Return whether a string is words for a reader, not a name of the program.

    Examples
    --------
    >>> is_for_readers("Club name"), is_for_readers("Matches"), is_for_readers("club")
    (True, True, False)
    >>> is_for_readers("a-b c/d"), is_for_readers("/matches")
    (False, False)
    """
    if words.startswith(("/", "#", ".", "%", "?")) or words.endswith((".html", ".css", ".js")):
        return False
    if re.search(r"[/=_{}<>]", words):
        return False
    return bool(re.match(r"[A-Z]?[a-z’']+[ ,.:;…]", words + ".")) and (
        " " in words.strip() or words[:1].isupper()
    )
