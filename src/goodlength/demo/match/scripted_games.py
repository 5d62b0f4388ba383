"""The four scripted games of the demo match, rally by rally, with the score of the design's scenario.

Each line: server, box, kind of serve, how the return was taken, what it left, winner, ending,
stroke it ended with, shots, marks. A is Imogen Vale, B is Petra Lindqvist-Ode. Nobody played this match.
"""

from __future__ import annotations

from goodlength.demo.match.scripted_rally_table_reader import RallyPlan, read_game

GAME_1 = """
A R lob        after-the-side-wall loose    A winner         drive       7
A L lob        after-the-bounce    loose    B winner         cross-court 6
B L hard       volleyed            tight    A forced-error   drive       9
A R lob        not-made            not-made A forced-error   -           2 keep
A L lob        after-the-side-wall loose    B unforced-error drop        5 note=Loose ball: length first.
B L mid-height volleyed            loose    B winner         drive       5 volley
B R mid-height after-the-bounce    tight    A winner         drop        8 keep
A R hard       volleyed            tight    A forced-error   drive       8
A L hard       after-the-bounce    tight    A winner         kill        5 volley
A R hard       volleyed            tight    B winner         boast       10
B R lob        -                   -        A service-fault  -           1 why=out
A R lob        volleyed            attacked B winner         drop        4 volley keep
B L hard       off-the-back-wall   loose    B winner         drive       7
B R hard       volleyed            tight    A unforced-error cross-court 11
A R lob        after-the-side-wall loose    A winner         drop        3 volley keep
A L lob        after-the-bounce    loose    A forced-error   lob         6
A R mid-height volleyed            attacked B winner         kill        6
B L mid-height volleyed            tight    B forced-error   drive       8
B R hard       after-the-side-wall tight    A winner         drive       10
"""

GAME_2 = """
A R lob        after-the-bounce    tight    B winner         drive       8
B L hard       volleyed            loose    A unforced-error drop        7
A R lob        volleyed            loose    A winner         drive       7 keep
A L hard       volleyed            tight    B forced-error   drive       9
B L mid-height after-the-bounce    tight    B winner         drop        9
B R hard       volleyed            tight    - let            -           6 note=Could not get past.
B R hard       volleyed            tight    B unforced-error boast       8
B L lob        off-the-back-wall   tight    A winner         drop        10 volley
A R hard       volleyed            tight    B winner         cross-court 6
B R mid-height volleyed            loose    B winner         drive       3
B L hard       after-the-bounce    loose    B stroke         -           8 keep
B R mid-height volleyed            attacked A winner         drop        2
A R lob        not-made            not-made A forced-error   -           2
A L lob        volleyed            attacked B winner         kill        4 keep
B L lob        after-the-side-wall loose    B winner         drive       9
B R hard       not-made            not-made B unforced-error -           2
B L hard       volleyed            tight    A forced-error   drive       11
A R body-feet  not-made            not-made A forced-error   -           2 keep
A L hard       volleyed            tight    B winner         drive       8
"""

GAME_3 = """
B L hard       volleyed            tight    A winner         drive       10
A R hard       volleyed            tight    A forced-error   cross-court 10
A L hard       after-the-bounce    tight    B winner         drop        8
B L mid-height volleyed            tight    A unforced-error drive       9
A R mid-height volleyed            tight    - let            -           4
A R hard       after-the-side-wall tight    B unforced-error drop        9
B L hard       not-made            not-made B forced-error   -           2
B R mid-height after-the-bounce    tight    B winner         drive       9
B L mid-height volleyed            attacked A winner         drop        2 keep
A R hard       volleyed            tight    A winner         kill        7
A L lob        volleyed            loose    A winner         drive       5
A R lob        volleyed            attacked B winner         drop        8 volley keep
B L lob        after-the-bounce    loose    B winner         drive       5
B R hard       volleyed            tight    A forced-error   boast       13
A R lob        after-the-side-wall loose    B unforced-error drop        5
B L mid-height volleyed            ?        A winner         drive       6
A R lob        off-the-back-wall   tight    B winner         drive       12
B R body-feet  after-the-bounce    loose    A winner         lob         8
A R body-feet  volleyed            loose    B winner         cross-court 8 note=Hurried: look at it.
B L hard       volleyed            loose    B forced-error   drive       12
B R hard       volleyed            tight    B winner         drive       15
"""

GAME_4 = """
B R hard       volleyed            loose    B winner         drive       5
B L mid-height after-the-bounce    tight    A forced-error   drive       9
A R lob        after-the-side-wall tight    B winner         drop        6
B L hard       volleyed            tight    A winner         drive       8
A R lob        after-the-side-wall loose    B unforced-error cross-court 7
B R mid-height volleyed            loose    B winner         drop        5 volley
B L lob        off-the-back-wall   tight    A unforced-error drive       7
A R mid-height after-the-side-wall loose    A winner         drop        5
A L mid-height after-the-bounce    tight    B winner         drive       10
B L hard       after-the-bounce    tight    A winner         kill        10
A R hard       volleyed            loose    A winner         drive       3
A L hard       volleyed            tight    B winner         boast       8
B L mid-height after-the-side-wall tight    B forced-error   drop        10
B R lob        volleyed            attacked A winner         drop        2 keep
A R body-nick  off-the-back-wall   loose    B no-let         -           6 called=no-let
B L hard       volleyed            tight    A forced-error   cross-court 11
A R body-nick  volleyed            attacked B winner         drop        2
B R mid-height volleyed            loose    B winner         drive       7
B L hard       volleyed            tight    B winner         drive       9 keep
"""


def rallies() -> tuple[RallyPlan, ...]:
    """Return every rally of the demo match in the order played, the two lets included."""
    tables = (GAME_1, GAME_2, GAME_3, GAME_4)
    return tuple(rally for i, table in enumerate(tables) for rally in read_game(i + 1, table))
