"""Writes message-types.d.ts of the page from the server's models, so that it stays up to date."""

from __future__ import annotations

import importlib
import pkgutil
import re
import sys
import types
from collections.abc import Iterator, Mapping
from enum import Enum
from pathlib import Path
from types import ModuleType
from typing import (
    Annotated,
    Any,
    Literal,
    NotRequired,
    Union,
    get_args,
    get_origin,
    get_type_hints,
    is_typeddict,
)

from pydantic import BaseModel

from goodlength import web
from goodlength.record.entry_validation_schemas import VALUES
from goodlength.record.model import EntryKind
from goodlength.web import page_json_types
from goodlength.web.page_json_types.shared_types import ScriptType

SCRIPTS = Path(__file__).resolve().parent.parent / "src" / "goodlength" / "web" / "static" / "js"
PAGE = SCRIPTS / "lib" / "server" / "message-types.d.ts"
HEAD = """/* What the server sends to the scripts and takes from them.

   Written by scripts/typescript_message_types.py from web/page_json_types/, from
   record/entry_validation_schemas.py and the bodies that routes take; a test holds it against them. */
"""
ENTRY = """/** One answer of a kind, as it is sent. */
export interface EntryOf<Kind extends EntryKind> {
  id: string;
  match: string;
  observer: string;
  at_utc: string;
  rally: string;
  what: Kind;
  value: EntryValues[Kind];
  replaces: string | null;
}

/** One answer as it is sent. */
export type Entry = { [Kind in EntryKind]: EntryOf<Kind> }[EntryKind];
"""
PLAIN = {
    str: "string",
    bool: "boolean",
    int: "number",
    float: "number",
    type(None): "null",
    object: "unknown",
}


def type_words(kind: Any) -> str:
    """Return the type as the scripts write it.

    Raises
    ------
    TypeError
        For a type that JSON has no word for.
    """
    origin, args = get_origin(kind), get_args(kind)
    if origin is Annotated:
        named = next((str(arg) for arg in args[1:] if isinstance(arg, ScriptType)), None)
        return named or type_words(args[0])
    if origin in (NotRequired,):
        return type_words(args[0])
    if origin is Literal:
        return " | ".join(sorted(literal(value) for value in args))  # typing keeps no order of its own
    if origin in (Union, types.UnionType):
        return " | ".join(dict.fromkeys(type_words(arg) for arg in args))
    if origin is tuple and args[-1] is not ...:
        return f"[{', '.join(type_words(arg) for arg in args)}]"
    if origin in (list, tuple):
        words = type_words(args[0])
        alone = re.fullmatch(r"\[[^\[\]]*\]", words)  # one tuple, not a union that begins with one
        return f"({words})[]" if " | " in words and not alone else f"{words}[]"
    if origin in (dict, Mapping):
        return f"Record<{type_words(args[0])}, {type_words(args[1])}>"
    return plain_words(kind)


def plain_words(kind: Any) -> str:
    """Return the name of a class, or the word for a plain value."""
    if kind is Any:
        return "unknown"
    if kind in PLAIN:
        return PLAIN[kind]
    if is_typeddict(kind) or (isinstance(kind, type) and issubclass(kind, BaseModel | Enum)):
        return script_name(kind)
    raise TypeError(f"{kind!r} has no type in the scripts: say it as a plain value, a list or a TypedDict.")


def literal(value: object) -> str:
    """Return a value as the scripts write it."""
    return f"'{value}'" if isinstance(value, str) else str(value).lower()


def script_name(kind: type) -> str:
    """Return the name of a class in the scripts."""
    return kind.__name__.removesuffix("Json")


def reached(kind: Any) -> Iterator[type]:
    """Yield every class that a type is made of, those it is made of first."""
    if is_typeddict(kind) or (isinstance(kind, type) and issubclass(kind, BaseModel)):
        for name, hint in get_type_hints(kind, include_extras=True).items():
            if name != "model_config":
                yield from reached(hint)
    if get_origin(kind) is None:
        if isinstance(kind, type) and (is_typeddict(kind) or issubclass(kind, BaseModel | Enum)):
            yield kind
        return
    for get_arg in get_args(kind):
        if get_origin(kind) is not Literal:
            yield from reached(get_arg)


def interface(kind: type) -> str:
    """Return one class as the scripts write it."""
    if issubclass(kind, Enum):
        return f"export type {script_name(kind)} = {' | '.join(literal(item.value) for item in kind)};\n"
    optional = (
        {name for name, field in kind.model_fields.items() if not field.is_required()}
        if issubclass(kind, BaseModel)
        else kind.__optional_keys__  # type: ignore[attr-defined]
    )
    hints = get_type_hints(kind, include_extras=True)
    fields = [
        f"  {name}{'?' if name in optional else ''}: {type_words(hint)};\n"
        for name, hint in hints.items()
        if name != "model_config"
    ]
    words = (kind.__doc__ or "").strip().split("\n\n")[0]
    doc_text = " ".join(words.split())
    return f"/** {doc_text} */\nexport interface {script_name(kind)} {{\n{''.join(fields)}}}\n"


def entry_values() -> str:
    """Return what each kind of entry may hold; null is an answer that was skipped."""
    fields = [f"  '{item.value}': {type_words(VALUES.get(item, type(None)) | None)};\n" for item in EntryKind]
    opening = "/** What each kind of entry may hold; null: skipped. */\nexport interface EntryValues"
    return f"{opening} {{\n{''.join(fields)}}}\n\n{ENTRY}"


def modules(package: ModuleType) -> Iterator[ModuleType]:
    """Yield every module of a package."""
    for module in pkgutil.walk_packages(package.__path__, f"{package.__name__}."):
        yield importlib.import_module(module.name)


def shapes() -> list[Any]:
    """Return every shape that is sent."""
    found = [
        kind for module in modules(page_json_types) for kind in vars(module).values() if is_typeddict(kind)
    ]
    return [kind for kind in dict.fromkeys(found) if kind.__name__.endswith("Json")]


def bodies() -> list[type]:
    """Return the bodies that routes take: the classes of the page whose names end in "In"."""
    found: dict[str, type] = {}
    for module in modules(web):
        for name, kind in vars(module).items():
            if isinstance(kind, type) and issubclass(kind, BaseModel) and name.endswith("In"):
                found[name] = kind
    return [found[name] for name in sorted(found)]


def text() -> str:
    """Return the whole file."""
    roots = [*shapes(), *VALUES.values(), EntryKind, *bodies()]
    every = dict.fromkeys(kind for root in roots for kind in reached(root))
    return "\n".join([HEAD, *(interface(kind) for kind in every), entry_values()])


if __name__ == "__main__":
    PAGE.write_text(text(), encoding="utf-8")
    sys.exit(0)
