"""cli: the command line, `goodlength NOUN VERB`.

A thin door: each command parses, calls one task, and prints.
It never holds rules or maths of its own; data goes to stdout, progress and errors to stderr.
Public name: `main`.
"""

from goodlength.cli.root_command import main

__all__ = ["main"]
