"""What a browser posts, as plain texts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated

from fastapi import Depends, Request
from starlette.datastructures import UploadFile

MOST_FIELDS = 500


@dataclass(frozen=True)
class Form:
    """The texts of a form by name, and every value of a name that comes more than once."""

    texts: Mapping[str, str]
    lists: Mapping[str, list[str]]

    def every(self, name: str) -> list[str]:
        """All values of a name, in the order of the page."""
        return self.lists.get(name, [])


async def read_form(request: Request) -> Form:
    """Read a posted form; files are left to the routes that take one."""
    lists: dict[str, list[str]] = {}
    async with request.form(max_files=0, max_fields=MOST_FIELDS) as form:
        for name, value in form.multi_items():
            if not isinstance(value, UploadFile):
                lists.setdefault(name, []).append(value)
    return Form({name: values[-1] for name, values in lists.items()}, lists)


Posted = Annotated[Form, Depends(read_form)]
