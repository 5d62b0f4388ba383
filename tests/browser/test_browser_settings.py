"""Settings are saved as they are changed: also while an earlier change is on its way, and something is typed."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from oracles.awaited_value import comes_to


def test_kinds_changed_while_an_earlier_change_is_on_its_way(served: Any, open_page: Any) -> None:
    """Before: the second change made a kind "nick-2", and the answer overwrote what was being typed."""
    page = open_page("/settings")
    known = [kind.id for kind in served.library.kinds()]
    on_its_way: list[Any] = []

    def hold(route: Any) -> None:
        on_its_way.append(route)

    def soon(show: Callable[[], Any], wanted: Any) -> None:
        def shown() -> Any:
            page.wait_for_timeout(20)
            return show()

        assert comes_to(shown, wanted, 10.0) == wanted

    page.route("**/settings/kinds", hold, times=1)
    names = page.locator('form[action="/settings/kinds"] input[name="words"]')
    names.last.fill("Nick")
    names.last.press("Tab")
    names.first.fill("High lob")
    names.first.press("Tab")
    names.nth(1).focus()
    names.nth(1).press("End")
    page.keyboard.type(" and h")
    soon(lambda: len(on_its_way), 1)
    on_its_way[0].continue_()
    soon(names.count, len(known) + 2)
    page.keyboard.type("ard")
    assert names.nth(1).input_value().endswith(" and hard")
    soon(lambda: served.library.kinds()[0].words, "High lob")
    page.keyboard.press("Tab")
    soon(lambda: served.library.kinds()[1].words, names.nth(1).input_value())
    kinds = served.library.kinds()
    assert [(kind.id, kind.retired) for kind in kinds] == [(name, False) for name in (*known, "nick")]
    assert kinds[-1].words == "Nick"
    assert [names.nth(k).input_value() for k in (0, -2, -1)] == ["High lob", "Nick", ""]
    keys = page.locator('form[action="/settings/kinds"] tbody td:first-child')
    assert keys.all_text_contents() == [*map(str, range(1, len(known) + 2)), ""]
