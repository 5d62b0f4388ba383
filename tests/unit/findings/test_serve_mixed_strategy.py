"""The mix of serves of a recorded match."""

from __future__ import annotations

from goodlength.findings.analyses.serve_mixed_strategy import advise_match
from goodlength.findings.rally_masks import RallyMasks


def test_counts_by_kind_come_from_decided_rallies(tale):
    advice = advise_match(RallyMasks(tale), 0)
    assert advice.serves == 37
    assert advice.kinds[:2] == ("lob", "hard serve")
    assert advice.present[0] == 17 / 37
    assert not advice.settled


def test_nothing_decided_gives_none(make):
    assert advise_match(RallyMasks(make([])), 0) is None
    assert advise_match(RallyMasks(make([{"server": "a", "kind": "lob", "let": True}])), 0) is None


def test_one_kind_is_no_mix(make):
    rows = [{"server": "a", "kind": "lob", "winner": "a"}] * 3
    assert (
        advise_match(RallyMasks(make(rows)), 0).words
        == "Only one kind was served (lob): there is no mix to speak of."
    )
