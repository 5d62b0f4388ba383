"""Messages for everything in a record that contradicts the rules."""

from __future__ import annotations

from goodlength.scoring.scoring_types import Box, Points, RuleFault


class FaultList:
    """Collects faults while a match is worked through; nothing is raised for bad play."""

    def __init__(self, names: tuple[str, str]) -> None:
        self.names = names
        self.found: list[RuleFault] = []

    def copied(self) -> FaultList:
        """Return the same faults in a list of its own."""
        other = FaultList(self.names)
        other.found = list(self.found)
        return other

    def add(self, key: str, code: str, place: str, words: str) -> None:
        """Add one fault; `place` says where ("Rally 12 of game 2")."""
        self.found.append(RuleFault(key, code, f"{place}: {words}"))

    def wrong_server(self, key: str, place: str, seen: int, expected: int) -> None:
        """Somebody served who had not won the rally before."""
        self.add(
            key,
            "wrong-server",
            place,
            f"{self.names[seen]} served, but by the score it was {self.names[expected]}'s serve. "
            "The rally counts as played. Check who won the rally before it, and whether a rally is missing.",
        )

    def wrong_box(self, key: str, place: str, seen: Box, expected: Box) -> None:
        """The server kept the serve and did not change sides (or changed after a let)."""
        self.add(
            key,
            "wrong-box",
            place,
            f"served from the {seen} box where the {expected} box was due. The rally counts, and the "
            "next serve is "
            f"due from the other box. Check the box, and whether a rally is missing before it.",
        )

    def server_missing(self, key: str, place: str) -> None:
        """Nobody wrote down who served first."""
        self.add(
            key,
            "server-missing",
            place,
            f"who served first is not logged. Choose {self.names[0]} or {self.names[1]}.",
        )

    def winner_missing(self, key: str, place: str) -> None:
        """Nobody wrote down who won."""
        self.add(
            key,
            "winner-missing",
            place,
            "who won is not logged, so the score is uncertain from here. "
            "Enter who won, or correct the score at the next call you hear.",
        )

    def contradiction(self, key: str, place: str, words: str) -> None:
        """Two answers about one rally that cannot both be true."""
        self.add(key, "contradiction", place, words)

    def setting_missing(self, key: str, place: str, tie: int, choices: tuple[int, ...]) -> None:
        """The receiver's choice at the tie was not written down."""
        self.add(
            key,
            "setting-missing",
            place,
            f"at {tie}-all the receiver chooses {choices[0]} or {choices[1]}, and the choice is not logged. "
            f"{choices[1]} is used for now, so the score is uncertain. Enter the choice.",
        )

    def setting_wrong(self, key: str, place: str, got: int, tie: int, choices: tuple[int, ...]) -> None:
        """A choice that the rules do not offer here."""
        if choices:
            words = (
                f"a game to {got} was chosen. The receiver may choose {choices[0]} or {choices[1]}, "
                f"once in a game, when the score first reaches {tie}-all. The choice is ignored."
            )
        else:
            words = f"a game to {got} was chosen, but this scoring has no choice. It is ignored."
        self.add(key, "setting-wrong", place, words)

    def score_impossible(self, key: str, place: str, points: Points, why: str) -> None:
        """The score was put right to one that no game can have."""
        self.add(
            key,
            "score-impossible",
            place,
            f"the score cannot be corrected to {points[0]}–{points[1]}: {why}. It was not changed.",
        )

    def after_the_end(self, key: str, place: str, more: int) -> None:
        """Play was written down after the match was over."""
        rest = f", with {more} more after it," if more else ""
        self.add(
            key,
            "after-the-end",
            place,
            f"this{rest} comes after the match was over. "
            "Check the score, best of three or five, and whether a second match starts here.",
        )
