"""Twenty rallies reviewed: drawn honestly, answered, thresholds adapted within bounds, figures without names."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from goodlength import tasks
from goodlength.cli.root_command import root
from goodlength.errors import InputError, NotFound
from goodlength.record.model import Footage
from goodlength.record.store import Library
from goodlength.tasks.footage.rally_detection_audit import (
    CARDS,
    DetectionReview,
    adapt_thresholds,
    answer_review,
    begin_review_again,
    review_detection,
    review_figures,
    review_words,
    undo_thresholds,
)
from goodlength.tasks.footage.rally_detection_thresholds_per_court import (
    OFFERED_BOUNDS,
    SURE_BOUNDS,
    DetectionThresholds,
    ReviewedChance,
    adapted_thresholds,
    usual_thresholds,
)

SECOND = 1_000_000


@pytest.fixture
def library(tmp_path: Path) -> Any:
    with Library.open(tmp_path / "library") as made:
        for player, name in (("a", "Imogen Ashdown"), ("b", "Petra Lindqvist")):
            tasks.add_player(made, name, player_id=player)
        for match in ("m1", "m2"):
            tasks.new_match(made, ("a", "b"), match_id=match, court="Court 3")
            made.save_footage(
                Footage(f"f-{match}", match, "/secret.mp4", 0, first_us=0, end_us=3600 * SECOND)
            )
        yield made


def found(library: Library, chances: list[float], match: str = "m1") -> None:
    """What a search would have saved: a rally each 20 s with its chance."""
    sure_at = usual_thresholds().sure_at
    film = {"id": f"f-{match}", "path": "/s.mp4", "starts_us": 0, "first_us": 0, "end_us": 3600 * SECOND}
    rallies = [
        {
            "start_us": (20 * k + 5) * SECOND,
            "end_us": (20 * k + 12) * SECOND,
            "hits_us": [(20 * k + 5 + n) * SECOND for n in range(7)],
            "doubtful": chance < sure_at,
            "why": "faint hits" if chance < sure_at else "",
            "chance": chance,
        }
        for k, chance in enumerate(chances)
    ]
    path = library.folder / "heard" / f"{match}.json"
    path.parent.mkdir(exist_ok=True)
    path.write_text(json.dumps({"films": [film], "rallies": rallies, "by": "sound", "words": "heard"}))


def opened(library: Library, match: str = "m1") -> Any:
    return tasks.open_match(library, match)


def answered(library: Library, right: Any) -> DetectionReview:
    """All cards answered as `right(card)` says."""
    for card in review_detection(opened(library)).cards:
        truth = right(card)
        answer_review(opened(library), card.id, "rally", "yes" if truth else "no")
        if truth:
            answer_review(opened(library), card.id, "hit", "a")
            answer_review(opened(library), card.id, "place", "right")
    return review_detection(opened(library))


CHANCES = [0.99, 0.98, 0.97, 0.96, 0.955] * 5 + [0.9, 0.8, 0.7, 0.5, 0.3] * 3  # sure from 0.92


def test_half_is_drawn_at_random_and_half_is_least_sure(library: Library) -> None:
    found(library, CHANCES)
    review = review_detection(opened(library))
    at_random = [card for card in review.cards if card.half == "random"]
    unsure = [card for card in review.cards if card.half == "unsure"]
    assert (len(at_random), len(unsure)) == (CARDS // 2, CARDS // 2)
    assert not any(card.doubtful for card in at_random)
    assert {card.chance for card in unsure} <= {0.97, 0.96, 0.955, 0.9, 0.8}
    assert [card.half for card in review.cards] != [card.half for card in at_random + unsure]
    assert review_detection(opened(library)).cards == review.cards, "drawn once"


def test_the_random_half_covers_every_sure_rally_alike(library: Library) -> None:
    """Drawn anew for many matches, no chance is preferred: else the error rate would not be honest."""
    drawn = []
    for n in range(60):
        match = f"r{n}"
        tasks.new_match(library, ("a", "b"), match_id=match)
        library.save_footage(Footage(f"f-{match}", match, "/s.mp4", 0, first_us=0, end_us=3600 * SECOND))
        found(library, [0.96, 0.99] * 10 + [0.5] * 20, match)
        drawn += [c.chance for c in review_detection(opened(library, match)).cards if c.half == "random"]
    assert abs(np.mean(np.array(drawn) == 0.99) - 0.5) < 0.1


def test_answers_confirm_or_reject_the_rally_and_can_be_taken_back(library: Library) -> None:
    found(library, CHANCES)
    first, second = review_detection(opened(library)).cards[:2]
    answer_review(opened(library), first.id, "rally", "yes")
    answer_review(opened(library), second.id, "rally", "no")
    states = {rally.id: rally.state for rally in tasks.listed_rallies(opened(library)).rallies}
    assert (states[first.id], states[second.id]) == ("kept", "out")
    answer_review(opened(library), second.id, "rally", "")
    states = {rally.id: rally.state for rally in tasks.listed_rallies(opened(library)).rallies}
    assert states[second.id] == ""
    with pytest.raises(InputError, match="cannot be answered"):
        answer_review(opened(library), first.id, "rally", "perhaps")
    with pytest.raises(NotFound, match="not part of the review"):
        answer_review(opened(library), "nothing", "rally", "yes")


def test_the_share_right_has_its_range_and_the_unsure_half_is_no_error_rate(library: Library) -> None:
    found(library, CHANCES)
    review = answered(library, lambda card: card.half == "random")
    assert (review.random_right.count, review.random_right.of) == (10, 10)
    assert review.random_right.low < 0.85 and review.unsure_right.count == 0
    words = " ".join(review_words(review))
    assert "Chosen at random from those not marked doubtful: 10 of 10 correct" in words
    assert "this is not the error rate" in words and "missed do not appear" in words


def test_a_rally_with_questions_left_is_counted_nowhere(library: Library) -> None:
    """Before: "0 of 20 rallies reviewed" stood beside "1 of 1 correct"."""
    found(library, CHANCES)
    card = review_detection(opened(library)).cards[0]
    review = answer_review(opened(library), card.id, "rally", "yes")
    assert (review.answered, review.random_right.of + review.unsure_right.of) == (0, 0)
    assert not any("correct" in line for line in review_words(review))
    answer_review(opened(library), card.id, "hit", "a")
    review = answer_review(opened(library), card.id, "place", "right")
    assert (review.answered, review.random_right.of + review.unsure_right.of) == (1, 1)
    unclear = answer_review(opened(library), review.cards[1].id, "rally", "unclear")
    assert review_words(unclear)[0] == "2 of 20 rallies reviewed; in 1 of them it could not be told."


def test_thresholds_adapt_on_this_court_only_and_are_undone(library: Library) -> None:
    found(library, CHANCES)
    found(library, CHANCES, "m2")
    tasks.new_match(library, ("a", "b"), match_id="elsewhere", court="Court 1")
    library.save_footage(Footage("f-elsewhere", "elsewhere", "/s.mp4", 0, first_us=0, end_us=3600 * SECOND))
    found(library, CHANCES, "elsewhere")
    before = sum(r.doubtful for r in tasks.listed_rallies(opened(library, "m2")).rallies)
    review = answered(library, lambda card: card.chance > 0.85)
    assert not review.adapted
    review = answered(library, lambda _: True)
    assert review.proposed.sure_at < usual_thresholds().sure_at - 0.02
    adapted = adapt_thresholds(opened(library))
    assert adapted.adapted and adapted.thresholds == review.proposed
    after = [
        sum(r.doubtful for r in tasks.listed_rallies(opened(library, m)).rallies) for m in ("m2", "elsewhere")
    ]
    assert after[0] < before == after[1]
    assert not undo_thresholds(opened(library)).adapted
    assert sum(r.doubtful for r in tasks.listed_rallies(opened(library, "m2")).rallies) == before


answers = st.lists(st.builds(ReviewedChance, st.floats(0.12, 0.999), st.booleans()), min_size=0, max_size=25)


@settings(max_examples=60, deadline=None)
@given(answers, st.floats(*SURE_BOUNDS), st.floats(*OFFERED_BOUNDS))
def test_adapting_is_never_worse_on_the_coachs_own_answers(
    seen: list[ReviewedChance], sure_at: float, offered_at: float
) -> None:
    now, usual = DetectionThresholds(sure_at, offered_at), DetectionThresholds(0.9, 0.12)
    made = adapted_thresholds(seen, now, usual)
    assert SURE_BOUNDS[0] <= made.sure_at <= SURE_BOUNDS[1]
    assert OFFERED_BOUNDS[0] <= made.offered_at <= OFFERED_BOUNDS[1]

    def wrong(thresholds: DetectionThresholds) -> int:
        return sum(not a.right and thresholds.marks(a.chance) == "sure" for a in seen)

    def lost(thresholds: DetectionThresholds) -> int:
        return sum(a.right and thresholds.marks(a.chance) == "not offered" for a in seen)

    assert wrong(made) <= wrong(now) and lost(made) <= lost(now)
    assert made == now or len(seen) >= 8


def test_a_damaged_setting_leaves_the_usual_thresholds(library: Library) -> None:
    found(library, CHANCES)
    usual = [r.doubtful for r in tasks.listed_rallies(opened(library)).rallies]
    for damaged in ("text", {"court 3": {"sure_at": 0.2, "offered_at": 0.12}}, {"court 3": {"sure_at": "x"}}):
        library.set_setting("detection thresholds", damaged)
        assert [r.doubtful for r in tasks.listed_rallies(opened(library)).rallies] == usual


def test_the_figures_hold_no_name_no_file_and_no_time(library: Library, tmp_path: Path) -> None:
    found(library, CHANCES)
    answered(library, lambda card: card.chance > 0.85)
    text = json.dumps(review_figures(opened(library)))
    for secret in ("Imogen", "Petra", "secret", "f-m1", "m1", "Court 3", "start_us", str(tmp_path)):
        assert secret.lower() not in text.lower()
    figures = json.loads(text)
    assert len(figures["cards"]) == CARDS and figures["random_right"]["of"] == 10
    assert {"half", "chance", "rally", "hit", "place"} <= set(figures["cards"][0])


def test_the_command_asks_writes_and_shows(library: Library, tmp_path: Path, capsys: Any) -> None:
    from click.testing import CliRunner

    found(library, CHANCES)
    runner, to = CliRunner(), tmp_path / "figures.json"
    base = ["footage", "review", "m1", "--library", str(library.folder)]
    typed = "yes\na\nright\nno\n" + "\n" * 60
    said = runner.invoke(root, [*base, "--ask", "--to", str(to)], input=typed)
    assert said.exit_code == 0, said.output
    assert "2 of 20 rallies reviewed." in said.output and "random" in said.output
    assert json.loads(to.read_text())["what"] == "goodlength footage review"
    plain = json.loads(runner.invoke(root, [*base, "--json"]).stdout)
    assert plain["answered"] == 2 and len(plain["cards"]) == 20


def test_nothing_detected_and_other_rallies(library: Library) -> None:
    with pytest.raises(InputError, match="no detected rallies to review"):
        review_detection(opened(library))
    found(library, CHANCES)
    first = answered(library, lambda _: True)
    again = begin_review_again(opened(library))
    assert not {card.id for card in first.cards} & {card.id for card in again.cards}
