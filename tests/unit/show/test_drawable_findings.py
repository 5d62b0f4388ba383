"""What findings hands out can be drawn as it stands."""

import pytest

from goodlength.findings.result_types import EffectRow, Grade, RepeatRow, Share
from goodlength.show.draw import evidence_grade_icons, proportion_charts


@pytest.mark.parametrize("grade", list(Grade))
def test_grades_are_worded_and_drawn_alike(grade):
    assert evidence_grade_icons.grade_words(grade) == grade.words
    assert evidence_grade_icons.grade_svg(grade).startswith("<svg")


def test_every_grade_drawn_is_one_that_findings_give():
    assert set(evidence_grade_icons.WORDS) == {grade.value for grade in Grade}


def test_rows_of_findings_go_straight_into_the_charts():
    share = Share(7, 12, 0.32, 0.81, ("r1",))
    effect = EffectRow("lob", "Lob", share, None, share, (), share, None, None, Grade.CLEAR)
    repeat = RepeatRow(None, "Any serve", share, 0.2, 0.4, 0.3, Grade.LEANING)
    assert "7 of 12" in proportion_charts.effect_chart([effect], share, what="x")
    assert "7 of 12" in proportion_charts.repeat_chart([repeat], what="x")
    assert "7 of 12" in proportion_charts.range_bar(share)
