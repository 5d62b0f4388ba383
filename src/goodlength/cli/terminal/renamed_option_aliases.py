"""Options and choices that were renamed: the help shows the present name, the earlier ones stay accepted."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import click


class RenamedOption(click.Option):
    """An option that also answers to its earlier names, which no help and no message shows.

    Use as `@click.option("--hide-faces", cls=RenamedOption, earlier=("--cover-heads",), ...)`.
    """

    def __init__(self, param_decls: Sequence[str], *, earlier: Sequence[str], **attrs: Any) -> None:
        super().__init__(param_decls, **attrs)
        self.earlier = tuple(earlier)

    def add_to_parser(self, parser: Any, ctx: click.Context) -> None:
        """Register the present name and the earlier ones with the parser."""
        shown = self.opts
        self.opts = [*shown, *self.earlier]
        try:
            super().add_to_parser(parser, ctx)
        finally:
            self.opts = shown


class RenamedChoice(click.Choice[str]):
    """A choice that also takes earlier words for its values, and returns the value that is stored.

    Parameters
    ----------
    stored : mapping of str to str
        The word shown in the help, and the stored value that it stands for.
    earlier : mapping of str to str, optional
        Words accepted silently, with the word shown today.
    """

    def __init__(self, stored: Mapping[str, str], earlier: Mapping[str, str] | None = None) -> None:
        super().__init__(list(stored))
        self.stored = dict(stored)
        self.earlier = {value: word for word, value in stored.items()} | dict(earlier or {})

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """Return the stored value of a word, or a usage error that lists the words shown."""
        word = super().convert(self.earlier.get(value, value), param, ctx)
        return self.stored[word]
