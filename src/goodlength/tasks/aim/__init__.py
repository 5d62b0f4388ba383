"""Where to aim a serve, how hard, and what a miss costs."""

from goodlength.tasks.aim.serve_aim import (
    AimAnswer,
    aim_serve,
    aim_setting,
    drill_from_aim,
    fly_aim,
    fly_kind,
    map_serve,
    scatter_of_player,
    spread_serve,
)

__all__ = [
    "AimAnswer",
    "aim_serve",
    "aim_setting",
    "drill_from_aim",
    "fly_aim",
    "fly_kind",
    "map_serve",
    "scatter_of_player",
    "spread_serve",
]
