"""What public fuzzers draw: JSON values by hypothesis, requests by schemathesis for the page."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from typing import Any

HERE = "127.0.0.1"


def json_values(count: int, seed: int) -> list[Any]:
    """So many JSON values of any shape."""
    import hypothesis
    from hypothesis import strategies as st

    leaves = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=40)
    values = st.recursive(
        leaves,
        lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=10), inner, max_size=4),
        max_leaves=8,
    )
    found: list[Any] = []

    @hypothesis.seed(seed)
    @hypothesis.settings(
        max_examples=count, database=None, deadline=None, suppress_health_check=list(hypothesis.HealthCheck)
    )
    @hypothesis.given(values)
    def draw(value: Any) -> None:
        found.append(value)

    draw()
    return (found * (count // max(1, len(found)) + 1))[:count]


def cases(app: Any, count: int, seed: int) -> Iterator[tuple[str, str, dict[str, str], bytes]]:
    """So many requests altogether, spread over the operations of the page's OpenAPI description."""
    import hypothesis

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import schemathesis

        schema: Any = schemathesis.openapi.from_dict(app.openapi())
        operations: list[Any] = [get_all_operation.ok() for get_all_operation in schema.get_all_operations()]
    generated: list[tuple[str, str, dict[str, str], bytes]] = []
    for operation in operations:

        @hypothesis.seed(seed)
        @hypothesis.settings(
            max_examples=max(1, count // len(operations)),
            database=None,
            deadline=None,
            suppress_health_check=list(hypothesis.HealthCheck),
            phases=[hypothesis.Phase.generate],
        )
        @hypothesis.given(case=operation.as_strategy())
        def draw(case: Any) -> None:
            generated.append(_request(case))

        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            draw()
    yield from generated


def _request(case: Any) -> tuple[str, str, dict[str, str], bytes]:
    import requests

    arguments = case.as_transport_kwargs(base_url=f"http://{HERE}")
    allowed = ("method", "url", "headers", "params", "json", "data", "files", "cookies")
    made = requests.Request(
        **{name: arguments[name] for name in allowed if arguments.get(name) is not None}
    ).prepare()
    body: Any = made.body or b""
    headers = {name.lower(): str(value) for name, value in made.headers.items() if name.lower() != "host"}
    headers.pop("content-length", None)
    raw = body.encode() if isinstance(body, str) else bytes(body)
    return str(made.method), str(made.url).replace(f"http://{HERE}", "", 1), headers, raw
