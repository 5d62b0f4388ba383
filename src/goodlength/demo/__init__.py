"""demo: the invented match with its truth, and a film of one game made by code.

Two invented players and a third, three matches as entries, footage with sound, and beside it what is true
of every frame. It is never needed by anything but doors, bench and tests; no real person or match is in it.
Public: `build`, `demo_job`, `remove`, `is_built`, `Built`, `Removed`; the setting `SETTING` with `COACHED`.
"""

from goodlength.demo.demo_library import (
    COACHED,
    SETTING,
    Built,
    Removed,
    build,
    demo_job,
    is_built,
    remove,
)

__all__ = ["COACHED", "SETTING", "Built", "Removed", "build", "demo_job", "is_built", "remove"]
