"""Read a JSON file that somebody wrote by hand or with another program."""

from __future__ import annotations

import json
from pathlib import Path

from goodlength.errors import InputError, NotFound


def read_typed_json(path: Path, wanted: str, page: str = "") -> object:
    """Return the content of a JSON file named on the command line.

    Parameters
    ----------
    path : Path
        The file as it was named.
    wanted : str
        One sentence on what the file should hold, for the message.
    page : str
        What the page says instead, where it has such a form.

    Raises
    ------
    NotFound
        There is no such file.
    InputError
        It cannot be opened, or is not JSON; the text names the line.
    """
    try:
        content: object = json.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise NotFound(f"Cannot find {path}. Check its name and folder.") from None
    except OSError as error:
        raise InputError(f"Cannot read {path}: {error.strerror or error}. Choose another file.") from None
    except json.JSONDecodeError as error:
        raise InputError(f"{path.name} is not JSON (see line {error.lineno}). {wanted}", page=page) from None
    except (ValueError, RecursionError):  # no text, a number of thousands of digits, lists in lists in lists
        raise InputError(f"{path.name} is not JSON. {wanted}", page=page) from None
    return content
