"""The Findings page: every number opens its rallies, and nothing is said more surely than it is known."""

import re
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import pytest
from starlette.testclient import TestClient

from goodlength import tasks
from goodlength.findings.analyses.last_shots_and_strike_intervals import SequenceRow, Sequences
from goodlength.findings.analyses.serve_mixed_strategy import MixAdvice
from goodlength.findings.result_types import Share
from goodlength.web.routes.match import findings as routes


@pytest.fixture
def library_template(request: pytest.FixtureRequest) -> Path | None:
    return request.getfixturevalue("demo_library") if "told" in request.fixturenames else None


@pytest.fixture
def told(client: TestClient) -> str:
    """The demo's page."""
    return client.get("/matches/demo/findings").text


def lists(page: str) -> list[list[str]]:
    return [unquote(found).split(",") for found in re.findall(r'/show\?rallies=([^"]*)"', page)]


@pytest.mark.usefixtures("told")
def test_every_finding_and_every_share_opens_rallies_of_the_match(
    client: TestClient, library: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    keys = {rally.key for rally in tasks.show_match(library, "demo").rallies}
    monkeypatch.setattr(routes, "playable_rallies", lambda _: frozenset(keys))
    told = client.get("/matches/demo/findings").text
    plays = lists(told)
    assert len(plays) > 100
    assert all(keys >= set(play) for play in plays)
    top = told.split('<ol class="three">')[1].split("</ol>", maxsplit=1)[0]
    assert top.count('class="clips"') == 3
    every = told.split('class="every">')[1].split("</ul>", maxsplit=1)[0]
    assert every.count('class="clips"') == every.count("<li>")
    for words, play in re.findall(r'rallies=([^"]+)"><b>(\d+)</b>', told):
        assert len(unquote(words).split(",")) == int(play)  # the link holds as many rallies as it says
    assert client.get(f"/matches/demo/show?rallies={','.join(plays[0])}").status_code == 200


def test_the_questions_counted_are_accounted_for_by_those_listed(library: Any, told: str) -> None:
    """Each finding is one of 28 things checked, of both players; the page of one player lists its own."""
    found = tasks.find(library, "demo", "coached")
    every = told.split('id="asked-questions">')[1].split("</details>", maxsplit=1)[0]
    both, tested, untested = (
        int(number)
        for number in re.search(
            r"(\d+) questions about both players.*Listed here: (\d+) of them, about Imogen or the match, "
            r"and (\d+) with too little data to test\. The rest are about Petra\.",
            every,
            re.DOTALL,
        ).groups()  # type: ignore[union-attr]
    )
    assert both == found.asked + found.exploratory
    assert tested < both
    assert tested + untested == every.count("<li>")


def test_a_finding_led_by_none_links_to_what_it_is_held_against(library: Any, told: str) -> None:
    found = tasks.find(library, "demo", "coached")
    none = next(item for item in found.all if not item.rallies and item.against and item.against.rallies)
    other = len(none.against.rallies)
    assert routes.rallies_behind(none, ("x",), frozenset(none.against.rallies)) == (
        none.against.rallies,
        f"Show the {other} other rallies",
    )
    lonely = next(
        item for item in found.all if not item.rallies and not (item.against and item.against.rallies)
    )
    assert routes.rallies_behind(lonely, ("x", "y"), frozenset("x")) == (
        ("x", "y"),
        "Show all 2 serves (1 with video)",
    )
    assert routes.rallies_behind(lonely, (), frozenset()) == ((), "")
    assert routes.rallies_behind(lonely, ("x", "y"), frozenset()) == ((), "All 2 serves have no video")
    assert "other rallies have no video" in told


def test_nothing_leads_to_clips_where_nothing_plays(
    client: TestClient, library: Any, told: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert "/show?rallies=" not in told
    assert "/show?rallies=" not in client.get("/matches/demo/findings/parents").text
    assert "/show?rallies=" not in client.get("/matches/demo/between?game=2").text
    keys = [rally.key for rally in tasks.show_match(library, "demo").rallies]
    monkeypatch.setattr(routes, "playable_rallies", lambda _: frozenset(keys))
    assert client.get("/matches/demo/findings").text.count("/show?rallies=") > 50
    assert "/show?rallies=" in client.get("/matches/demo/between?game=2").text


@pytest.mark.usefixtures("told")
def test_every_rally_with_video_plays_from_the_drawing(
    client: TestClient, library: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    keys = [rally.key for rally in tasks.show_match(library, "demo").rallies]
    with_video = frozenset(keys[1:])
    monkeypatch.setattr(routes, "playable_rallies", lambda _: with_video)
    section = client.get("/matches/demo/findings").text.split('id="q3"')[1].split("</section>", maxsplit=1)[0]
    links = re.findall(r"<a href=[^>]*play the rally[^>]*>", section)
    assert len(links) > 20 and not any(f"rallies={keys[0]}" + '"' in link for link in links)
    assert "the arrow keys go from step to step" in section
    stops = [link for link in links if "tabindex" not in link]
    games = section.count("<svg")
    assert 3 <= len(stops) <= 3 + games  # the turning points, and a way into each game


def test_the_line_the_assumption_and_its_test_stand_on_the_page(told: str) -> None:
    section = told.split('id="q3"')[1].split("</section>", maxsplit=1)[0]
    assert "assuming two equal players from that point" in section
    assert "This treats every rally as independent" in section
    assert (
        "No sign against it here, but one match would rarely show it." in section
    )  # the test of independence, printed
    assert "play the rally" not in section and "Click a step" not in section  # no video is here
    assert "not a forecast" in section
    assert "too few to say which kind wins most" in section


def test_raw_and_drawn_in_stand_side_by_side(library: Any, told: str) -> None:
    lob = tasks.find(library, "demo", "coached").tables.effects[0]
    assert lob.whole is not None
    row = told.split("Results by kind of serve")[1].split("<tbody>")[1].split("</tr>", maxsplit=1)[0]
    assert f"<b>{lob.whole.count}</b> of {lob.whole.of}" in row
    assert routes.pooled_share_words(lob.weak_shrunk) in row
    assert "Trust it more than the raw count" in told


def test_both_denominators_are_named(told: str) -> None:
    section = told.split("Who won on whose serve?")[1].split("</table>", maxsplit=1)[0]
    assert "counts a let as not won" in section
    for phase in ("First four points of a game", "Both on 8 or more", "After a let"):
        assert phase in section


def test_the_page_keeps_to_its_security_rules_and_words(told: str) -> None:
    assert ' style="' not in told
    assert "<style" not in told
    for word in ("significan", "proven", "confidence", "nan", "None"):
        assert not re.search(rf"\b{word}", re.sub(r"<[^>]*>", " ", told)), word


def test_parents_get_counts_and_no_percentages(client: TestClient, told: str) -> None:
    assert "/matches/demo/findings/parents?side=a" in told
    for side in ("a", "b"):
        page = client.get(f"/matches/demo/findings/parents?side={side}")
        assert page.status_code == 200
        assert "%" not in re.sub(r"<[^>]*>", " ", page.text)
    assert "This is very unlikely to be chance." in client.get("/matches/demo/findings/parents").text


@pytest.mark.parametrize("side", ["a", "b", "", "nonsense"])
def test_nothing_recorded_says_so(client: TestClient, match_id: str, side: str) -> None:
    page = client.get(f"/matches/{match_id}/findings?side={side}")
    assert page.status_code == 200
    assert "Nothing clear yet" in page.text
    assert "What the match shows will stand here" in page.text
    assert client.get(f"/matches/{match_id}/findings/parents?side={side}").status_code == 200


def test_one_kind_only_all_lets_and_all_skipped(client: TestClient, match_id: str, say: Any) -> None:
    for n in range(5):
        say(f"r{n}", "serve.kind", "lob")
        say(f"r{n}", "ending", "let")
    page = client.get(f"/matches/{match_id}/findings").text
    assert "No rally is logged as won or lost yet." in page
    assert "nan" not in re.sub(r"<[^>]*>", " ", page)
    for n in range(5, 10):
        say(f"r{n}", "serve.kind", None)
        say(f"r{n}", "winner", "a")
    page = client.get(f"/matches/{match_id}/findings").text
    assert "5 serves have no kind logged and are excluded." in page


def test_where_returns_went_and_where_the_receiver_stood(client: TestClient, match_id: str, say: Any) -> None:
    for n in range(11):
        say(f"r{n}", "serve.kind", ("lob", "hard")[n % 2])
        say(f"r{n}", "serve.receiver-place", "up" if n % 4 < 2 else "back")
        say(f"r{n}", "return.to", "straight" if n % 3 else "cross-court")
        say(f"r{n}", "return.left", "tight")
        say(f"r{n}", "winner", "a")
    page = client.get(f"/matches/{match_id}/findings").text
    assert "Where to" in page
    assert "Cross-court" in page
    assert "Best mix (95% range)" in page
    assert "(up, back)" in page
    assert "A receiver who knew the current mix could win" in page


def test_the_page_is_made_anew_only_when_the_record_changes(
    client: TestClient, match_id: str, say: Any
) -> None:
    say("r0", "winner", "a")
    found = client.app.state.found  # type: ignore[attr-defined]
    client.get(f"/matches/{match_id}/findings")
    kept = dict(found._cache)
    client.get(f"/matches/{match_id}/findings")
    assert dict(found._cache) == kept
    say("r1", "winner", "b")
    assert "won 1 of 2 rallies" in client.get(f"/matches/{match_id}/findings").text


def test_last_shots_with_names_and_the_time_before_each(told: str) -> None:
    section = told.split("The last shots, and the time before each")[1].split("</section>", maxsplit=1)[0]
    assert "18 rallies logged shot by shot" in section
    times = re.findall(r"<th scope=\"row\">(Imogen|Petra)</th><td class=\"num tab\">(\d+)</td>", section)
    assert [who for who, _ in times] == ["Imogen", "Petra"]
    assert all(int(hits) > 20 for _, hits in times)
    item = Sequences(
        2,
        (SequenceRow("drive by loser, then drop by winner", Share(4, 6, 0.3, 0.9, ("k",) * 4), 1.2),),
        (
            SequenceRow("boast by winner, then kill by loser", Share(3, 5, 0.2, 0.9, ("k",) * 3), 0.2),
            SequenceRow("All others", Share(2, 5, 0.1, 0.8), None),
        ),
        0,
    )
    won, lost = routes.ends([item], "Imogen", "Petra")
    assert (won["result"], won["words"]) == ("Won", "Drive by Petra, then drop by Imogen")
    assert won["expected"] == "about 1"
    assert (lost["words"], lost["expected"]) == ("Boast by Petra, then kill by Imogen", "fewer than one")


def test_small_words() -> None:
    assert routes.percent(Share(0, 0, 0, 1)) == ""
    assert routes.pooled_share_words(None) == "–"
    assert routes.seconds_words(None) == "–"
    assert str(routes.bold_counts("<b> 3 of 4 & 5")) == "&lt;b&gt; <b>3 of 4</b> &amp; 5"
    alone = MixAdvice(("lob",), 3, (1.0,), (1.0,), (1.0,), (1.0,), (0, 0, 0), (0, 0, 0), (0, 0, 0), True, "")
    for none in (None, alone):
        assert routes.mix_rows(none) == []
        assert routes.loss_words(none) == ""


def test_why_a_grade_is_what_it_is_stands_one_press_away(library: Any, told: str) -> None:
    found = tasks.find(library, "demo", "coached")
    assert told.count('<details class="why">') == len(found.top) == 3
    for finding in found.all:
        lines = routes.grade_reasons(finding)
        low, high = finding.interval
        assert f"Counted: {finding.count} of {finding.of} (95% range {100 * low:.0f} to {high:.0%})." in lines
        if finding.q is None:
            assert "There was too little data to test it." in lines
        else:
            assert f"Sample size that counts for the grade: {finding.smaller_side}." in lines
        assert lines[0] in told


def test_counts_come_first_where_nothing_is_sure(
    client: TestClient, library: Any, match_id: str, say: Any
) -> None:
    for n, winner in enumerate("aabab"):
        say(f"r{n}", "serve.kind", "lob")
        say(f"r{n}", "winner", winner)
    page = client.get(f"/matches/{match_id}/findings").text
    facts = page.split('class="facts"')[1].split("</section>", maxsplit=1)[0]
    serving = tasks.find(library, match_id, "coached").tables.serving.decided
    assert f"<b>{serving.count} of {serving.of}</b> rallies on Imogen’s serve" in facts
    assert "Most served: lob" in facts


def test_facts_step_back_where_something_is_clear(told: str) -> None:
    assert 'class="facts"' not in told


def test_the_jump_list_leads_to_parts_that_are_there(told: str) -> None:
    jump = told.split('class="jump"')[1].split("</nav>", maxsplit=1)[0]
    places = re.findall(r'href="#([\w-]+)"', jump)
    assert len(places) == 9
    assert [place for place in places if f'id="{place}"' not in told] == []
