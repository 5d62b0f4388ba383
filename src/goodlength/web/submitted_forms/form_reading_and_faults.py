"""A submitted HTML form read into its model: every fault by its field, and the texts to be shown again.

```
request ── posted(PlayerForm) ──> Submitted[PlayerForm]
                                    .value   the model; InputError with the first fault where there is one
                                    .faults  a sentence a field
                                    .texts   what was typed
```
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar, get_origin

from fastapi import Request
from pydantic import BaseModel, ConfigDict, ValidationError
from starlette.datastructures import FormData, UploadFile

from goodlength.errors import InputError
from goodlength.files.typed_value_parsing import needed_words

MOST_FIELDS = 500


class HtmlForm(BaseModel):
    """The values of one form; names that it does not have are ignored.

    A field takes the last value of its name, a list every value in the order of the page.
    """

    model_config = ConfigDict(frozen=True, extra="ignore")

    @classmethod
    def gather(cls, texts: Mapping[str, str], lists: Mapping[str, Sequence[str]], /) -> dict[str, object]:
        """Return the plain value of each field; a form with rows of fields collects them here."""
        plain: dict[str, object] = {}
        for name, field in cls.model_fields.items():
            if get_origin(field.annotation) is list:
                plain[name] = lists.get(name, [])
            elif name in texts:
                plain[name] = texts[name]
        return plain


M = TypeVar("M", bound=HtmlForm)


@dataclass(frozen=True)
class Submitted(Generic[M]):
    """A form as it was sent."""

    texts: Mapping[str, str]
    lists: Mapping[str, Sequence[str]]
    faults: Mapping[str, str]
    model: M | None

    @property
    def value(self) -> M:
        """The form read.

        Raises
        ------
        InputError
            A field cannot be read: the first one, in words.
        """
        if self.model is None:
            raise InputError(next(iter(self.faults.values())))
        return self.model

    def every(self, name: str) -> Sequence[str]:
        """Return every text of a name, in the order of the page."""
        return self.lists.get(name, ())

    def shown(self, name: str) -> str:
        """Return what was typed in a field, without blanks or quotation marks around it."""
        return self.texts.get(name, "").strip().strip('"')


def read_form(
    kind: type[M], texts: Mapping[str, str], lists: Mapping[str, Sequence[str]] | None = None
) -> Submitted[M]:
    """Read texts by name into a form.

    Parameters
    ----------
    kind : type of HtmlForm
        The form.
    texts : mapping of str to str
        The last value of each name.
    lists : mapping of str to sequence of str, optional
        Every value of each name.

    Returns
    -------
    Submitted
        With the model, or with the faults of all fields.
    """
    every = lists or {}
    try:
        return Submitted(texts, every, {}, kind.model_validate(kind.gather(texts, every)))
    except ValidationError as error:
        return Submitted(texts, every, _faults(error), None)


def posted(kind: type[M]) -> Callable[[Request], Awaitable[Submitted[M]]]:
    """Return the dependency that reads the form a request posts; files are left to routes that take one."""

    async def read(request: Request) -> Submitted[M]:
        async with request.form(max_files=0, max_fields=MOST_FIELDS) as sent:
            return read_sent(kind, sent)

    return read


def queried(kind: type[M]) -> Callable[[Request], Awaitable[Submitted[M]]]:
    """Return the dependency that reads the form whose values an address holds."""

    async def read(request: Request) -> Submitted[M]:
        asked = request.query_params
        return read_form(kind, dict(asked), {name: asked.getlist(name) for name in asked})

    return read


def read_sent(kind: type[M], sent: FormData) -> Submitted[M]:
    """Read the texts of form data into a form."""
    lists: dict[str, list[str]] = {}
    for name, value in sent.multi_items():
        if not isinstance(value, UploadFile):
            lists.setdefault(name, []).append(value)
    return read_form(kind, {name: values[-1] for name, values in lists.items()}, lists)


def file_in(sent: FormData, name: str) -> UploadFile | None:
    """Return the file that form data holds; None where no file was chosen."""
    file = sent.get(name)
    return file if isinstance(file, UploadFile) and file.filename else None


def _faults(error: ValidationError) -> dict[str, str]:
    """Return the first fault of each field, in words."""
    faults: dict[str, str] = {}
    for fault in error.errors(include_url=False):
        name = str(fault["loc"][0]) if fault["loc"] else ""
        faults.setdefault(name, needed_words(fault))
    return faults
