"""tasks: one function per thing a coach asks for; the public Python API (`from goodlength import tasks`).

Arguments are typed, results frozen; `forms.match_rally_and_probe_json` turns them into the JSON the doors
print. It never holds rules or maths of its own: it asks the rooms below and puts their answers together. A
subject is imported when a name of it is asked for, so that a command loads what it needs and no more.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from goodlength.tasks.aim import *
    from goodlength.tasks.draft import *
    from goodlength.tasks.findings import *
    from goodlength.tasks.footage import *
    from goodlength.tasks.library import *
    from goodlength.tasks.match import *
    from goodlength.tasks.people import *
    from goodlength.tasks.practice import *
    from goodlength.tasks.preparation import *
    from goodlength.tasks.removal import *
    from goodlength.tasks.sharing import *
    from goodlength.tasks.transfer import *

# In the order they are asked: quick to import first, so that a quick one's name never waits for a slow one
SUBJECTS = (
    "match",
    "people",
    "library",
    "removal",
    "transfer",
    "footage",
    "draft",
    "preparation",
    "practice",
    "findings",
    "aim",
    "sharing",
)


def __getattr__(name: str) -> Any:
    """Return a subject, a public name of one, or `__all__`; each import is remembered."""
    if name == "__all__":
        found: Any = [*SUBJECTS, *(item for subject in SUBJECTS for item in _subject(subject).__all__)]
    elif name in SUBJECTS:
        return _subject(name)
    elif name.startswith("_"):
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    else:
        for subject in SUBJECTS:
            if name in _subject(subject).__all__:
                found = getattr(_subject(subject), name)
                break
        else:
            raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    globals()[name] = found
    return found


def __dir__() -> list[str]:
    return sorted({*globals(), *__getattr__("__all__")})


def _subject(name: str) -> Any:
    return import_module(f"{__name__}.{name}")
