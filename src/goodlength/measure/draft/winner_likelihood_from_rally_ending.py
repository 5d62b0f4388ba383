"""By what a rally ended and who struck last, as its paths say: evidence of who won.

```
 last shot ──┬─ bounced twice ──> who struck it won       who served, how many shots, who struck
             └─ tin or out ─────> the other won           ──> evidence by server and winner
```
It enters the draft of the score as a likelihood, so that the end, the next server and the score mend one
another; a let is neither favoured nor excluded by it. Who struck last is counted once: the ball's follower
takes strikes in turn, so its last striker says no more than the first and the count.
"""

from __future__ import annotations

from dataclasses import dataclass

from goodlength.measure.draft.answers_from_ball_path import ENDINGS, rally_answers
from goodlength.measure.shots.followed_ball_types import ContactKind, FollowedRally, PathAnswerKind
from goodlength.scoring import Side

SECOND_BOUNCE = ENDINGS[ContactKind.SECOND_BOUNCE]
EndingFit = tuple[tuple[float, float, float], tuple[float, float, float]]
COUNT_RIGHT = 0.9  # chance that an even count of shots is one, and an odd one
# Where the end was another than the paths say, a last shot into the tin was often missed: then the ball was
# said to bounce twice after the shot before, and whoever struck that won all the same.
SAME_WINNER = 0.8
# Play that stops for interference ends with two bounces too: for a let, a stroke to who was about to strike,
# or no let for who had struck. How often is not known; where it gave a point, either player got it as often.
ASSUMED_INTERFERENCE = 0.05
LEAST_FIT = 0.02  # nothing seen of an end excludes a winner


@dataclass(frozen=True)
class EndingSeen:
    """What the paths of a rally say of its end.

    Parameters
    ----------
    word : str
        "tin", "out" or "second-bounce".
    chance : float
        That it is right.
    shots : int
        How many shots were found, the serve among them.
    striker : Side or None
        Who struck the last one by the tracks: who struck first, and then in turn; None where nobody is named.
    """

    word: str
    chance: float
    shots: int
    striker: Side | None = None

    def fit(self, server: Side, winner: Side) -> float:
        """Return how well the end fits a winner, given who served, 0 to 1; those of the two add up to 1."""
        right, other = self._parts(server, winner)
        return LEAST_FIT + (1.0 - 2.0 * LEAST_FIT) * (right + other)

    def chance_given(self, server: Side, winner: Side) -> float:
        """Return the chance that the rally ended as the word says, given who served and who won."""
        right, other = self._parts(server, winner)
        return right / (right + other)

    def table(self) -> EndingFit:
        """Return for each server the fits of A won, B won and no point."""
        of_a, of_b = (
            (self.fit(server, Side.A), self.fit(server, Side.B), 0.5) for server in (Side.A, Side.B)
        )
        return of_a, of_b

    def _parts(self, server: Side, winner: Side) -> tuple[float, float]:
        """Return the chances of this winner where the word says how the rally ended, and where not."""
        struck = self._struck_by(winner, server)
        stopped = ASSUMED_INTERFERENCE if self.word == SECOND_BOUNCE else 0.0
        fits = struck if self.word == SECOND_BOUNCE else 1.0 - struck
        other = SAME_WINNER * fits + (1.0 - SAME_WINNER) * (1.0 - fits)
        chance = self.chance * (1.0 - stopped)
        return chance * fits, (1.0 - self.chance) * other + self.chance * stopped * 0.5

    def _struck_by(self, side: Side, server: Side) -> float:
        """Return the chance that a player struck the last shot found, by the count of shots.

        Tracks that name the other one mean that the first shot was not the server's: then nothing is known.
        """
        last = server if self.shots % 2 == 1 else server.other
        if self.striker not in (None, last):
            return 0.5
        return COUNT_RIGHT if side is last else 1.0 - COUNT_RIGHT


def ending_seen(rally: FollowedRally) -> EndingSeen | None:
    """Return what the paths of a rally say of its end; None where they say nothing or are out of date."""
    answer = next((each for each in rally_answers(rally) if each.what is PathAnswerKind.ENDED), None)
    if answer is None:
        return None
    return EndingSeen(answer.value, answer.chance, len(rally.shots), rally.shots[-1].striker)
