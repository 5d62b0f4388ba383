"""tasks: one function per thing a coach asks for; the public Python API (`from goodlength import tasks`).

Arguments are typed, results frozen; `tasks.forms` turns them into the JSON the doors print.
It never holds rules or maths of its own: it asks the rooms below and puts their answers together.
"""

from goodlength.tasks.library import LibraryState, library_check, open_library

__all__ = ["LibraryState", "library_check", "open_library"]
