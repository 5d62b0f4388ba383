"""The coach's hands: opens each next step, answers with the truth, and counts what it costs."""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from goodlength.errors import GoodlengthError
from goodlength.record.model import Ending, EntryKind
from robustness.coach_workflow.interaction_time_model import HandsOnCost
from robustness.coach_workflow.simulated_match_video import FilmedMatch

NAMES = ("Rosa Kell", "Dana Whitmore")
LONGEST_WAIT_S = 7200.0
BETWEEN_LOOKS_S = 10.0
MOST_STEPS = 40
MOST_PRESSES = 40  # of one rally
NONE_HERE = "x"
MISSING = "Was there a rally here?"
# Steps before which nothing is recorded, and all that takes long is done
PREPARED = re.compile("Check the draft|Log [0-9]+ rall(y|ies)")


class PageCoach:
    """Goes the whole way through the page for one match."""

    def __init__(
        self,
        page: Any,
        match: FilmedMatch,
        cost: HandsOnCost,
        tell: Callable[[str], None],
        on_prepared: Callable[[str], None] | None = None,
    ) -> None:
        self.page, self.match, self.cost, self.tell = page, match, cost, tell
        self.on_prepared = on_prepared
        self.id = ""
        self.is_recording = False
        self.missing: list[dict[str, Any]] = []  # pauses asked about, with the true rallies missing there
        self.offers: list[dict[str, Any]] = []  # what the card of the sure rallies said, as it came up
        self.steps: dict[str, Callable[[], None]] = {
            "Check the detected court": self.court,
            "Say who is who": self.who,
            "Check the draft": self.draft,
            "Log the match": self.record,
            "Read the findings": self.findings,
            "Make a plan": self.plan,
            "Make the handout": self.handout,
        }

    # ---- the way

    def whole_way(self, film: Path, prepared: str = "") -> str:
        """Go from the drop of the video, or from a prepared match, to the handout; return the match's id."""
        if prepared:
            self.id = prepared
            self.page.goto(f"/matches/{prepared}/prepare")
        else:
            self.begin(film)
        before = ""
        for _ in range(MOST_STEPS):
            words = self.next_words()
            if words == "Open the handout":
                return self.id
            if words == before == "Log the match":  # not all games were filmed
                self.findings()
                return self.id
            if words == before:
                raise GoodlengthError(f"The page asks for the same step twice: {words}.")
            before = words
            self.tell(words)
            if PREPARED.fullmatch(words) and not self.is_recording:
                self.is_recording = True
                self.before_the_record(is_prepared=bool(prepared))
            self.press_next(words)
            if re.match(r"(Answer|Log) \d", words):
                self.record()
            elif words in self.steps:
                self.steps[words]()
            else:
                raise GoodlengthError(f"The page asks for a step that the script does not know: {words}.")
        raise GoodlengthError("The way through the page has no end.")

    def before_the_record(self, *, is_prepared: bool) -> None:
        """Wait for what goodlength does by itself, keep the library as it is then, and choose the depth."""
        if not is_prepared:
            self.wait_for_all()
            if self.on_prepared is not None:
                self.on_prepared(self.id)
        self.depth()

    def begin(self, film: Path) -> None:
        """Choose the video, type the two names."""
        page, step = self.page, "video and names"
        page.goto("/matches")
        page.wait_for_selector('html[data-ready="matches"]')
        page.set_input_files("#f-video", film)
        self.cost.press(step, 2)
        for field, name in zip(("#n-a", "#n-b"), NAMES, strict=True):
            page.fill(field, name)
            self.cost.press(step)
            self.cost.letters += len(name)
        page.wait_for_url("**/prepare", timeout=300_000)
        self.id = page.url.split("/matches/")[1].split("/")[0]

    def next_words(self) -> str:
        """Return the next step's words, once a person is asked: a coach does something else meanwhile."""
        started = time.monotonic()
        while time.monotonic() - started < LONGEST_WAIT_S:
            here = "" if "/findings" in self.page.url or "/plan" in self.page.url else "prepare"
            self.page.goto(f"/matches/{self.id}/{here}" if here else self.page.url)
            words = self.page.inner_text("#next-step a").removeprefix("Next: ")
            if "See the progress" not in words:
                self.cost.waited_s[words] = self.cost.waited_s.get(words, 0.0) + time.monotonic() - started
                return str(words)
            time.sleep(BETWEEN_LOOKS_S)
        raise GoodlengthError(f"goodlength was still at work after {LONGEST_WAIT_S / 60:.0f} minutes.")

    def wait_for_all(self) -> None:
        """Wait until goodlength has done all that it does by itself, the ball's paths among it.

        Where it asks whether to search the ball, the coach says so on the page of the preparation.
        """
        step, started = "search the ball", time.monotonic()
        while time.monotonic() - started < LONGEST_WAIT_S:
            state = self.page.request.get(f"/api/matches/{self.id}/preparation").json()
            ball = next((part for part in state["steps"] if part["name"] == "ball"), None)
            if ball is not None and ball["state"] == "person":
                self.page.goto(f"/matches/{self.id}/prepare")
                self.cost.glance(step)
                self.follow('form[action$="/ball/search"] button')
                self.cost.press(step, 2)  # the page, and the button
            elif not state["works"]:
                self.cost.waited_s[step] = time.monotonic() - started
                self.page.goto(f"/matches/{self.id}/prepare")
                return
            time.sleep(BETWEEN_LOOKS_S)
        raise GoodlengthError(f"goodlength was still at work after {LONGEST_WAIT_S / 60:.0f} minutes.")

    def press_next(self, words: str) -> None:
        """Press Next."""
        self.cost.press(" ".join(word for word in words.split(" ") if not word.isdigit()))
        self.page.click("#next-step a")

    # ---- steps

    def court(self) -> None:
        """Look at the court drawn over the picture, and save it."""
        self.cost.glance("Check the detected court")
        self.cost.press("Check the detected court")
        self.follow('form[action$="/court"] button')

    def depth(self) -> None:
        """Choose the depth Score on the page Details: the winner is asked, one press a rally."""
        step = "choose the depth"
        here = self.page.url
        self.page.goto(f"/matches/{self.id}/details")
        self.page.check('input[name="depth"][value="score"]')
        self.follow('section[aria-label="Details"] button[type="submit"]')
        self.cost.press(step, 3)  # Details, the choice, save
        self.page.goto(here)

    def who(self) -> None:
        """Say which player wears the colours shown."""
        step = "Say who is who"
        self.cost.glance(step)
        shirt = self.page.locator("fieldset .clothes rect").first.get_attribute("fill") or ""
        side = self.match.side_in(shirt)
        self.page.check(f'input[name="first_is"][value="{side.value}"]')
        self.follow('section[aria-labelledby="who"] button[type="submit"]')
        self.cost.press(step, 2)

    def draft(self) -> None:
        """Glance at the draft and add it: Record asks about the doubtful winners."""
        step = "Check the draft"
        self.page.wait_for_selector('html[data-ready="draft"]')
        self.cost.glance(step)
        with self.page.expect_response(lambda answer: answer.url.endswith("/draft/accept")):
            self.page.keyboard.press("w")
        self.cost.press(step)

    def record(self) -> None:
        """Go through the doubtful rallies, check the ten drawn, take the others if the page offers it."""
        step = "Answer rallies"
        self.page.wait_for_selector('html[data-ready="record"]')
        self.page.wait_for_selector('html[data-proposals="read"]')
        self.press_key("w", step)  # one press a rally
        for _ in range(3 * len(self.match.plans)):
            self.page.wait_for_selector('html[data-waiting="0"]')
            self.page.wait_for_timeout(300)
            self.page.wait_for_selector('html[data-offer="read"]')  # read again after each answer
            if self.on_missing_card():
                self.answer_missing()
            elif self.on_bulk_card():
                if self.answer_bulk() == "done":
                    break
            elif self.record_one(self.sheet()) == "done":
                break
        self.page.wait_for_selector('html[data-waiting="0"]')

    def on_bulk_card(self) -> bool:
        """Return whether the card speaks of the rallies that are sure."""
        return bool(self.page.locator("#card .about-these").count())

    def answer_bulk(self) -> str:
        """Do what the card offers: have ten drawn, or take the others; return "done" once they are taken."""
        step = "Take sure rallies together"
        self.page.wait_for_selector("#card .answers button")
        offer = self.page.request.get(f"/api/matches/{self.id}/bulk").json()
        self.offers.append({**offer, "sure": len(offer["sure"]), "sample": len(offer["sample"])})
        if offer["state"] in ("offered", "ready"):
            self.cost.glance(step)
            with self.page.expect_response(lambda answer: "/bulk/" in answer.url):
                self.press_key("1", step)
            self.page.wait_for_timeout(400)
            return ""
        return "done" if offer["state"] == "taken" else ""

    def on_missing_card(self) -> bool:
        """Return whether the card asks for a rally that may be missing."""
        asked = self.page.locator("#question")
        return bool(asked.count()) and asked.inner_text() == MISSING

    def answer_missing(self) -> None:
        """Look at the pause on the card, and say whether there was a rally."""
        step = "Look for missing rallies"
        pause = self.page.request.get(f"/api/matches/{self.id}/missing").json()["questions"][0]
        rallies = self.sheet()["rallies"]
        spans = [(each["start_us"], each["end_us"]) for each in rallies if each["start_us"] is not None]
        known = {self.match.rally_in(*span) for span in spans}
        lost = [n for n in self.match.rallies_within(pause["start_us"], pause["end_us"]) if n not in known]
        self.missing.append({**pause, "truth": lost})
        if not lost:
            self.cost.glance(step)
            self.press_key("1", step)
            return
        self.cost.watch(step)
        self.press_key("2", step)
        self.page.wait_for_selector('html[data-waiting="0"]')
        if self.match.rally_in(pause["likely_start_us"], pause["likely_end_us"]) != lost[0]:
            rally = self.match.filmed.rallies[lost[0]]
            for at_s, key in ((rally.start_s, ","), (rally.end_s, ".")):
                self.cost.glance(step)  # the place is searched for in the film
                self.page.evaluate("at => { document.querySelector('video.front').currentTime = at }", at_s)
                self.page.wait_for_timeout(600)
                self.press_key(key, step)

    def sheet(self) -> dict[str, Any]:
        """Return the sheet as the page knows it."""
        got: dict[str, Any] = self.page.request.get(f"/api/matches/{self.id}/sheet?follow=true").json()
        return got

    def record_one(self, sheet: dict[str, Any]) -> str:
        """Watch the rally on the card and answer; return "done" where none is open."""
        key = self.on_card()
        if self.on_bulk_card() or self.on_missing_card():
            return ""
        rally = self.in_hand(sheet, key)
        if rally is None or self.open_question(sheet) is None:
            return "done"
        step = "Check ten" if "Check " in self.page.inner_text("#card .count") else "Answer rallies"
        n = self.true_rally(sheet, rally)
        if n is not None and self.is_logged(sheet, n, before=rally):
            n = None  # a second part of a rally that is on the sheet already
        self.cost.watch(step)
        if n is None:
            self.press_key(NONE_HERE, step)
            return "" if self.on_card() != key or self.on_bulk_card() else "done"
        plan = self.match.plans[n]
        self.correct_sentence(rally, plan, step)
        for _ in range(MOST_PRESSES):
            question = self.open_question(sheet)
            if question is None or self.on_card() != key or self.on_bulk_card():
                break
            self.press_key(self.key_for(question, plan), step)
        if self.page.get_by_role("button", name="Findings").count():
            return ""  # the last one: what may be missing is asked about next
        if self.on_card() == key and not self.on_bulk_card():
            self.press_key("Enter", step)
        return "done" if self.on_card() == key and not self.on_bulk_card() else ""

    def in_hand(self, sheet: dict[str, Any], key: str | None) -> dict[str, Any] | None:
        """Return the rally on the card: one of the sheet, or the detected one that its answers will take."""
        listed = next((rally for rally in sheet["rallies"] if rally["key"] == key), None)
        if listed is not None or sheet["next"] is None:
            found: dict[str, Any] | None = listed
            return found
        ends = max((rally["end_us"] or 0 for rally in sheet["rallies"]), default=0)
        coming = next((rally for rally in sheet["proposed"] if rally["start_us"] >= ends), None)
        return None if coming is None else {**coming, "key": key, "server": sheet["next"]["server"]}

    def correct_sentence(self, rally: dict[str, Any], plan: Any, step: str) -> None:
        """Say otherwise what stands wrong in the sentence: the server, or a proposed kind of serve."""
        if rally["server"] not in (None, plan.server.value):
            self.page.get_by_role("button", name=re.compile(" served$")).click()
            self.cost.press(step)
            self.press_key(str(plan.server.place + 1), step)
        proposed = self.page.locator("#card .rally-sentence button.from-path")
        if not proposed.count() or rally["start_us"] is None:
            return
        sheet = self.sheet()
        kind = next(question for question in sheet["script"]["questions"] if question["id"] == "serve.kind")
        right = next((answer for answer in kind["answers"] if answer["value"] == plan.kind), None)
        path = self.page.request.get(f"/api/matches/{self.id}/proposals").json()["rallies"]
        span = (rally["start_us"], rally["end_us"])
        kinds = [
            answer["value"]
            for each in path
            if 2 * (min(each["end_us"], span[1]) - max(each["start_us"], span[0])) > span[1] - span[0]
            for answer in each["answers"]
            if answer["what"] == "serve.kind"
        ]
        if right is not None and kinds and kinds[0] != plan.kind:
            proposed.first.click()
            self.cost.press(step)
            self.press_key(right["key"], step)

    def is_logged(self, sheet: dict[str, Any], n: int, before: dict[str, Any]) -> bool:
        """Return whether a true rally stands on the sheet before the one in hand."""
        earlier = [each for each in sheet["rallies"] if (each["start_us"] or 0) < (before["start_us"] or 0)]
        return any(
            self.match.rally_in(each["start_us"], each["end_us"]) == n for each in earlier if each["start_us"]
        )

    def true_rally(self, sheet: dict[str, Any], rally: dict[str, Any]) -> int | None:
        """Return which true rally one of the sheet is; of one without a time, the one missing there."""
        if rally["start_us"] is not None:
            return self.match.rally_in(rally["start_us"], rally["end_us"])
        at = next(n for n, other in enumerate(sheet["rallies"]) if other["key"] == rally["key"])
        spans = [(other["start_us"], other["end_us"]) for other in sheet["rallies"]]
        known = [None if start is None else self.match.rally_in(start, end) for start, end in spans]
        before = max((n for n in known[:at] if n is not None), default=-1)
        return before + 1 if before + 1 < len(self.match.plans) and before + 1 not in known else None

    def press_key(self, key: str, step: str) -> None:
        """Press a key, and let the page draw."""
        self.page.keyboard.press(key)
        self.cost.press(step)
        self.page.wait_for_timeout(60)

    def on_card(self) -> str | None:
        """Return the key of the rally on the card."""
        found: str | None = self.page.get_attribute("tr.open [data-rally]", "data-rally")
        return found

    def open_question(self, sheet: dict[str, Any]) -> dict[str, Any] | None:
        """Return the question on the card; None where the rally is down."""
        asked = self.page.locator("#question")
        if not asked.count() or self.on_missing_card() or self.on_bulk_card():
            return None
        words = asked.inner_text()
        for question in sheet["script"]["questions"]:
            pattern = re.sub(r"\\\{\w+\\\}", ".+", re.escape(question["ask"]))
            if re.fullmatch(pattern, words):
                found: dict[str, Any] = question
                return found
        raise GoodlengthError(f"The script does not know the question {words!r}.")

    def key_for(self, question: dict[str, Any], plan: Any) -> str:
        """Return the key of the true answer; Enter where the truth does not say."""
        if plan.ending in (Ending.SERVICE_FAULT, Ending.LET) and any(
            answer["value"] == plan.ending.value for answer in question["answers"]
        ):
            truth: object = plan.ending.value
        else:
            truth = {
                EntryKind.SERVER.value: plan.server.value,
                EntryKind.KIND.value: plan.kind,
                EntryKind.HOW_TAKEN.value: None if plan.how is None else plan.how.value,
                EntryKind.LEFT.value: None if plan.left is None else plan.left.value,
                EntryKind.WINNER.value: None if plan.winner is None else plan.winner.value,
                EntryKind.ENDING.value: plan.ending.value,
            }.get(question["id"])
        return next((answer["key"] for answer in question["answers"] if answer["value"] == truth), "Enter")

    def findings(self) -> None:
        """Read the findings; the next step is offered once they are open."""
        self.cost.glance("Read the findings")

    def plan(self) -> None:
        """Keep the plan that is suggested."""
        step = "Make a plan"
        self.cost.glance(step)
        self.follow("text=Save the plan")
        self.cost.press(step)

    def handout(self) -> None:
        """Make the handout as it is proposed; where a consent is missing, note it first."""
        step = "Make the handout"
        create = self.page.get_by_role("button", name="Create the handout")
        if not create.is_enabled():
            self.consent(step)
        self.cost.glance(step)
        with self.page.expect_navigation(timeout=120_000):
            create.click()
        self.cost.press(step)

    def consent(self, step: str) -> None:
        """Note the player's own consent on the player's page, and come back by the match and Next."""
        page, name = self.page, NAMES[0]
        self.follow(f"text=Save the consent of {name}")
        page.fill('[name="given_by"]', name)
        self.cost.letters += len(name)
        self.follow("text=Save the consent")
        self.follow("#main .plain-list a")
        self.follow("#next-step a")
        self.cost.press(step, 5)  # link, field, save, match, Next

    def follow(self, what: str) -> None:
        """Press what leads to another page, and wait for it."""
        with self.page.expect_navigation():
            self.page.click(what)
