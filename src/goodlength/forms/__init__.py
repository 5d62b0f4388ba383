"""forms: results of tasks as plain values for `--json` and the page, and as lines for the terminal.

It never changes a library, asks a room below tasks, or decides anything.
"""
