"""The line with Undo: said to screen readers, pressed with Z or from the keyboard, never while typing."""

from __future__ import annotations

from typing import Any

from goodlength import tasks


def test_a_change_is_undone_with_a_key(served: Any, open_page: Any) -> None:
    player = tasks.add_player(served.library, "Imogen Vale")
    page = open_page(f"/players/{player.id}")
    name = page.locator("input[name=name]")
    name.fill("Imogen Vail")
    name.press("Enter")
    line = page.locator("#undo-place[role=status]")
    line.get_by_text("Changed: Details of Imogen Vale.").wait_for()
    assert served.library.player(player.id).name == "Imogen Vail"
    name.focus()
    page.keyboard.press("z")  # typed, not pressed
    assert "z" in name.input_value()
    line.get_by_role("button", name="Undo").focus()
    page.keyboard.press("z")
    page.wait_for_url(lambda address: "undo=" not in address)
    assert served.library.player(player.id).name == "Imogen Vale"
