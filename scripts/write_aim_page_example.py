"""Calculates the answer that the Aim page opens with in an empty library, and writes it beside its reader.

Usage: python scripts/write_aim_page_example.py
"""

from __future__ import annotations

import json
from pathlib import Path

from goodlength import tasks
from goodlength.aim.serve_goals import task_of
from goodlength.aim.serve_scatter_on_front_wall import AimScatter
from goodlength.files.json_types import Json
from goodlength.web.aim_page_first_answer import EXAMPLE
from goodlength.web.submitted_forms.aim_form import USUAL_AIM
from goodlength.web.views.aim_view import answer_view


def example() -> dict[str, Json]:
    """Return the answer to the page's usual question."""
    task = task_of(USUAL_AIM["kind"], USUAL_AIM["box"])
    scatter = AimScatter.of_level(USUAL_AIM["level"])
    return answer_view(tasks.aim_serve(task, tasks.aim_setting(), scatter))


def main() -> None:
    """Write the file."""
    Path(EXAMPLE).write_text(json.dumps(example(), indent=1, ensure_ascii=False) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
