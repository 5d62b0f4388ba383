"""JSON as a type: for forms, stored files and answers to the page.

A date, an array or an object of the program is no JSON value, and the type checker says so. Reading a part
needs a check of what it is; where the parts are known, a model or a TypedDict says more than this.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TypeAlias

Json: TypeAlias = "str | int | float | bool | Sequence[Json] | Mapping[str, Json] | None"
JsonObject: TypeAlias = Mapping[str, Json]
