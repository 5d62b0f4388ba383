"""Parse plain values into types, with one wording of faults.

Every door that takes JSON, a form or a stored value reads it with a pydantic model through `read_as`. A fault
says what is wrong, which value it has, and what is accepted; all faults come at once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from goodlength.errors import InputError

T = TypeVar("T")
M = TypeVar("M", bound=BaseModel)
_NEEDED = {
    "string_type": "a text is needed",
    "string_too_short": "a text that is not empty is needed",
    "int_type": "a whole number is needed",
    "int_parsing": "a whole number is needed",
    "int_from_float": "a whole number is needed",
    "float_type": "a number is needed",
    "float_parsing": "a number is needed",
    "finite_number": "a number is needed",
    "bool_type": "true or false is needed",
    "bool_parsing": "true or false is needed",
    "list_type": "a list is needed",
    "tuple_type": "a list is needed",
    "dict_type": "named values are needed",
    "model_type": "named values are needed",
    "model_attributes_type": "named values are needed",
    "date_type": "a day such as 2026-03-07 is needed",
    "date_parsing": "a day such as 2026-03-07 is needed",
    "date_from_datetime_parsing": "a day such as 2026-03-07 is needed",
    "extra_forbidden": "no value of this name is known",
}
_LIMITS: dict[str, Callable[[Mapping[str, Any]], str]] = {
    "string_too_long": lambda c: f"at most {c['max_length']} letters are taken",
    "too_long": lambda c: f"at most {c['max_length']} are taken",
    "too_short": lambda c: f"at least {c['min_length']} are needed",
    "greater_than_equal": lambda c: f"{_figure(c['ge'])} or more is needed",
    "greater_than": lambda c: f"more than {_figure(c['gt'])} is needed",
    "less_than_equal": lambda c: f"{_figure(c['le'])} or less is needed",
    "less_than": lambda c: f"less than {_figure(c['lt'])} is needed",
    "literal_error": lambda c: f"one of {_listed(c['expected'])} is needed",
    "enum": lambda c: f"one of {_listed(c['expected'])} is needed",
    "value_error": lambda c: str(c["error"]),
}


def read_as(kind: type[M], plain: object, where: str) -> M:
    """Return plain values as a model.

    Parameters
    ----------
    kind : type of BaseModel
        What they are to be.
    where : str
        What is read, as the fault says it: "match", "click 3".

    Raises
    ------
    InputError
        With every fault.
    """
    try:
        return kind.model_validate(plain)
    except ValidationError as error:
        raise InputError("; ".join(faults_in_words(error, where)) + ".") from None


def faults_in_words(error: ValidationError, where: str) -> list[str]:
    """Return one sentence a fault, without its full stop."""
    return fault_list(error.errors(include_url=False), where)


def fault_list(faults: Iterable[ErrorDetails], where: str, skip: int = 0) -> list[str]:
    """Return one sentence for each of pydantic's faults; `skip` parts of its place are left out."""
    return [_in_words(fault, where, skip) for fault in faults]


def _in_words(fault: ErrorDetails, where: str, skip: int) -> str:
    name = ".".join(str(part) for part in fault["loc"][skip:])
    if fault["type"] == "missing":
        return f"{where}: {name} is missing"
    needed = needed_words(fault)
    if not name:
        return f"{where}: {needed}, got {fault['input']!r:.60}"
    return f"{where}: {name} is {fault['input']!r:.60}; {needed}"


def needed_words(fault: ErrorDetails) -> str:
    """Return what would be accepted in place of a fault."""
    kind, limits = fault["type"], fault.get("ctx", {})
    if kind in _LIMITS:
        return _LIMITS[kind](limits)
    message = str(fault["msg"])
    return _NEEDED.get(kind, f"{message[:1].lower()}{message[1:]}")


def _figure(limit: float) -> str:
    return str(limit) if isinstance(limit, int) else f"{limit:g}"


def _listed(expected: str) -> str:
    return expected.replace("'", "").replace(" or ", ", ")
