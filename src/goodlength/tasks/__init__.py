"""tasks: one function per thing a coach asks for; the public Python API (`from goodlength import tasks`).

Arguments are typed, results frozen; `forms.command_results_json` turns them into the JSON the doors print.
It never holds rules or maths of its own: it asks the rooms below and puts their answers together.
"""

from goodlength.tasks import (
    aim,
    findings,
    footage,
    library,
    match,
    people,
    practice,
    preparation,
    removal,
    sharing,
    transfer,
)
from goodlength.tasks.aim import *
from goodlength.tasks.findings import *
from goodlength.tasks.footage import *
from goodlength.tasks.library import *
from goodlength.tasks.match import *
from goodlength.tasks.people import *
from goodlength.tasks.practice import *
from goodlength.tasks.preparation import *
from goodlength.tasks.removal import *
from goodlength.tasks.sharing import *
from goodlength.tasks.transfer import *

__all__ = [
    "aim",
    "findings",
    "footage",
    "library",
    "match",
    "people",
    "practice",
    "preparation",
    "removal",
    "sharing",
    "transfer",
]
__all__ += aim.__all__
__all__ += findings.__all__
__all__ += footage.__all__
__all__ += library.__all__
__all__ += match.__all__
__all__ += people.__all__
__all__ += practice.__all__
__all__ += preparation.__all__
__all__ += removal.__all__
__all__ += sharing.__all__
__all__ += transfer.__all__
