"""The syntax trees of source files, parsed once: a dozen tests of the house look through all of them."""

from __future__ import annotations

import ast
from functools import cache


@cache
def parsed(source: str) -> ast.Module:
    """Return the tree of a source text; it is shared, so it must not be changed."""
    return ast.parse(source)
