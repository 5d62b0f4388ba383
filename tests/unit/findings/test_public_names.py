"""The public names of the room: each can be had, again and again, whatever was imported in between."""

from __future__ import annotations

from importlib import import_module

import pytest

import goodlength.findings as room


@pytest.mark.parametrize("name", room.__all__)
def test_every_public_name_stays_what_it_is(name):
    first = getattr(room, name)
    for home in set(room._HOMES.values()):
        import_module(f"goodlength.findings.{home}")
    assert getattr(room, name) is first
    assert callable(first)


def test_an_unknown_name_is_refused():
    with pytest.raises(AttributeError, match="no attribute"):
        room.nothing  # noqa: B018
