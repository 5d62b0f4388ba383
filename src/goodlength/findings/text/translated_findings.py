"""One finding to the player in a language other than English: whole sentences of a catalogue.

English sentences are built from parts (`finding_sentences`), which cannot be translated. Here every sentence
is whole, and its counts stand in it by name, so that a translator may change all of it. They say less than
the English ones and nothing more surely: where those give a number for chance, these say it may be chance.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from goodlength.findings.question_types import Question, QuestionResult
from goodlength.findings.result_types import Grade, Share
from goodlength.findings.text.chance_and_sample_size_sentences import (
    EQUAL,
    chance_alone_may,
    luck_words,
    match_by_match,
    nothing_to_compare,
    unlikely_words,
)
from goodlength.findings.text.finding_sentences import SentenceContext
from goodlength.findings.text.missing_answers_sentences import missing_answers_words
from goodlength.findings.text.pooled_counts_against_stratified_result import counts_hide_gap
from goodlength.findings.text.sentence_grammar import label
from goodlength.languages import Language, to_translate

_FEWER_THAN_ONE = 0.75  # expected by chance, as in English

Values = Mapping[str, object]


@dataclass(frozen=True)
class _Facts:
    """Four sentences on the counts of two sides: of both, of the first or second alone, and of none."""

    both: str
    first: str
    second: str
    none: str


@dataclass(frozen=True)
class _Headlines:
    """Sentences by grade; `more` where the first side leads, `less` where it does not."""

    more: str
    less: str
    seems_more: str
    seems_less: str
    equal: str
    question: str


def translated_finding(result: QuestionResult, scene: SentenceContext, spoken: Language) -> tuple[str, str]:
    """Return headline and text of one finding, said to the player.

    Parameters
    ----------
    result : QuestionResult
        The question with what was seen, graded.
    scene : SentenceContext
        Names, kinds and what would settle it.
    spoken : Language
        Not English: its sentences are made by `finding_sentences.say_result`.
    """
    about = _Wording(result, scene, spoken)
    headline, facts = _SAY[result.ask](about)
    parts = (facts, about.missing(), about.compared(), about.shrinks(), about.chance(), about.again())
    return headline, " ".join(part for part in parts if part)


@dataclass(frozen=True)
class _Wording:
    """A question on its way into words."""

    result: QuestionResult
    scene: SentenceContext
    spoken: Language

    def kind(self, code: int) -> str:
        """Return a kind as it is called: a default one in the language, another in the coach's words."""
        return self.spoken.known(label(self.scene.kinds[code], self.scene.kind_words))

    def headline(self, of: _Headlines, leads: bool, **values: object) -> str:
        """Return the sentence that the grade allows; counts that hide the gap judged only ask."""
        grade = self.result.grade
        if counts_hide_gap(self.result) or grade is Grade.TOO_FEW:
            sentence = of.question
        elif grade is Grade.NO_DIFFERENCE:
            sentence = of.equal
        elif grade is Grade.LEANING or not self.result.listed:
            sentence = of.seems_more if leads else of.seems_less
        else:
            sentence = of.more if leads else of.less
        return self.spoken.phrase(sentence, **values)

    def facts(self, of: _Facts, first: Share, second: Share | None, **values: object) -> str:
        """Return the counts of two sides."""
        has_first, has_second = bool(first.of), second is not None and bool(second.of)
        sentence = (
            of.both
            if has_first and has_second
            else of.first
            if has_first
            else of.second
            if has_second
            else of.none
        )
        counts: dict[str, object] = {"count": first.count, "of": first.of}
        if second is not None:
            counts |= {"other_count": second.count, "other_of": second.of}
        return self.spoken.phrase(sentence, **counts, **values)

    def expected(self) -> str:
        """Return how many repeats chance alone would give, in the comparison that is judged."""
        result = self.result
        within_boxes = result.plain_luck is not None and not result.box_explains
        luck = result.luck if within_boxes else result.plain_luck or result.luck
        many = (luck[0] if luck else 0.0) * result.first.of
        if many < _FEWER_THAN_ONE:
            return self.spoken.phrase("By chance alone fewer than one would be expected.")
        number = self.spoken.number(max(1, round(many)))
        return self.spoken.phrase("By chance alone about {expected} would be expected.", expected=number)

    def missing(self) -> str:
        """Return that answers are missing, where the English sentence says how many."""
        if not missing_answers_words(self.result, self.scene.logged):
            return ""
        return self.spoken.phrase("Some answers are missing: these counts rest on a part of what was played.")

    def compared(self) -> str:
        """Return the gap that was judged, where it is not that of the counts."""
        result = self.result
        if not match_by_match(result):
            return ""
        if result.ask is Question.SERVE_EDGE:
            assert result.server_won is not None
            won, luck, of = result.server_won
            return self.spoken.phrase(
                "In a game, the player who wins more rallies also serves more often. In all, the server won "
                "{won} of {of} rallies; the same scores in another order would give about {expected}.",
                won=won,
                of=of,
                expected=self.spoken.number(round(luck)),
            )
        gap = result.gap_compared or 0.0
        points = max(1, round(abs(100 * gap)))
        if len(result.kinds) == 2:
            leads = self.kind(result.kinds[0 if gap > 0 else 1])
            return self.spoken.phrase_of(
                "These totals mislead: like compared with like, the gap is about {n} percentage point in "
                "favour of “{kind}”.",
                "These totals mislead: like compared with like, the gap is about {n} percentage points in "
                "favour of “{kind}”.",
                points,
                kind=leads,
            )
        if gap * result.gap_together < 0:
            return self.spoken.phrase_of(
                "These totals mislead: like compared with like, the gap is about {n} percentage point, the "
                "other way round.",
                "These totals mislead: like compared with like, the gap is about {n} percentage points, the "
                "other way round.",
                points,
            )
        return self.spoken.phrase_of(
            "These totals mislead: like compared with like, the gap is about {n} percentage point.",
            "These totals mislead: like compared with like, the gap is about {n} percentage points.",
            points,
        )

    def shrinks(self) -> str:
        """Return that a graded gap is likely smaller than it looks."""
        if not self.scene.likely:
            return ""
        return self.spoken.phrase("In the long run the difference is likely smaller than these counts.")

    def chance(self) -> str:
        """Return what chance has to do with it, in one sentence."""
        result, spoken = self.result, self.spoken
        plain = luck_words(result, self.scene.scope, self.scene.asked)
        if result.grade is Grade.CLEAR:
            very = unlikely_words(result) == "very unlikely"
            if very:
                return spoken.phrase("A gap this big is very unlikely to be chance.")
            return spoken.phrase("A gap this big is unlikely to be chance.")
        if result.grade is Grade.NO_DIFFERENCE:
            return spoken.phrase("Any difference is too small to matter.")
        if result.doubted:
            return spoken.phrase("Two observers disagreed too often to judge this.")
        if result.unwritten:
            return spoken.phrase("Too little was logged to judge this.")
        if result.runs_explain:
            if chance_alone_may(result):
                return spoken.phrase("It may be chance or a run of points.")
            return spoken.phrase(
                "A run of points would look the same, because the winner of a rally serves next."
            )
        if result.grade is Grade.LEANING:
            if result.ask is Question.SERVE_EDGE and result.gap > 0:
                return spoken.phrase("It may be chance or a run of points.")
            return spoken.phrase("It may still be chance.")
        if nothing_to_compare(result):
            return spoken.phrase("There is nothing to compare.")
        if not plain:
            return ""
        return (
            spoken.phrase("So far the two are equal.")
            if plain == EQUAL
            else spoken.phrase("There is too little to be sure.")
        )

    def again(self) -> str:
        """Return what would show more, of a gap that is only possible."""
        if self.result.grade is not Grade.LEANING:
            return ""
        if not self.result.listed:
            return self.spoken.phrase("This was not a planned question: look for it again in another match.")
        return self.spoken.phrase("More matches will show.")


def _pair(about: _Wording) -> tuple[Share, Share | None, str, str]:
    """Return both shares and kinds, the higher share first."""
    result = about.result
    a, b = about.kind(result.kinds[0]), about.kind(result.kinds[-1])
    if result.second is None or result.gap >= 0:
        return result.first, result.second, a, b
    return result.second, result.first, b, a


_WEAK_COUNTS = _Facts(
    to_translate(
        "Weak returns (loose or missed): {count} of {of} on “{kind}”, {other_count} of {other_of} on "
        "“{other}”."
    ),
    to_translate(
        "Weak returns (loose or missed): {count} of {of} on “{kind}”. No return on “{other}” is logged."
    ),
    to_translate(
        "Weak returns (loose or missed): {other_count} of {other_of} on “{other}”. No return on “{kind}” is "
        "logged."
    ),
    to_translate("No return on “{kind}” or “{other}” is logged."),
)
_ONE_KIND_WEAK = to_translate("Weak returns (loose or missed): {count} of {of} on “{kind}”.")
_ONE_KIND_WEAK_NONE = to_translate("No return on “{kind}” is logged.")
_NO_COMPARISON = to_translate("“{kind}” has nothing to be compared with yet.")
_WEAK = _Headlines(
    to_translate("Your serve “{kind}” draws weak returns more often than “{other}”."),
    to_translate("Your serve “{kind}” draws weak returns more often than “{other}”."),
    to_translate("Your serve “{kind}” seems to draw weak returns more often than “{other}”."),
    to_translate("Your serve “{kind}” seems to draw weak returns more often than “{other}”."),
    to_translate("Your serves “{kind}” and “{other}” draw weak returns about as often."),
    to_translate("Which draws weak returns more often, “{kind}” or “{other}”?"),
)


def _weak(about: _Wording) -> tuple[str, str]:
    first, second, kind, other = _pair(about)
    if len(about.result.kinds) == 1:
        facts = _Facts(_ONE_KIND_WEAK, _ONE_KIND_WEAK, _ONE_KIND_WEAK_NONE, _ONE_KIND_WEAK_NONE)
        return about.spoken.phrase(_NO_COMPARISON, kind=kind), about.facts(facts, first, None, kind=kind)
    return (
        about.headline(_WEAK, True, kind=kind, other=other),
        about.facts(_WEAK_COUNTS, first, second, kind=kind, other=other),
    )


_WON_COUNTS = _Facts(
    to_translate(
        "Rallies won, lets excluded: {count} of {of} on “{kind}”, {other_count} of {other_of} on “{other}”."
    ),
    to_translate(
        "Rallies won, lets excluded: {count} of {of} on “{kind}”. No rally on “{other}” is logged as won or "
        "lost."
    ),
    to_translate(
        "Rallies won, lets excluded: {other_count} of {other_of} on “{other}”. No rally on “{kind}” is "
        "logged as won or lost."
    ),
    to_translate("No rally on “{kind}” or “{other}” is logged as won or lost."),
)
_ONE_KIND_WON = to_translate("Rallies won, lets excluded: {count} of {of} on “{kind}”.")
_ONE_KIND_WON_NONE = to_translate("No rally on “{kind}” is logged as won or lost.")
_WON = _Headlines(
    to_translate("You win more often on “{kind}” than on “{other}”."),
    to_translate("You win more often on “{kind}” than on “{other}”."),
    to_translate("You seem to win more often on “{kind}” than on “{other}”."),
    to_translate("You seem to win more often on “{kind}” than on “{other}”."),
    to_translate("You win about as often on “{kind}” as on “{other}”."),
    to_translate("Which wins more often, “{kind}” or “{other}”?"),
)


def _won(about: _Wording) -> tuple[str, str]:
    first, second, kind, other = _pair(about)
    if len(about.result.kinds) == 1:
        facts = _Facts(_ONE_KIND_WON, _ONE_KIND_WON, _ONE_KIND_WON_NONE, _ONE_KIND_WON_NONE)
        return about.spoken.phrase(_NO_COMPARISON, kind=kind), about.facts(facts, first, None, kind=kind)
    return (
        about.headline(_WON, True, kind=kind, other=other),
        about.facts(_WON_COUNTS, first, second, kind=kind, other=other),
    )


_REPEAT = _Headlines(
    to_translate("You repeat the same serve more often than chance would explain."),
    to_translate("You change the serve more often than chance would explain."),
    to_translate("You may be repeating the same serve."),
    to_translate("You may be changing the serve often."),
    to_translate("Your serves follow each other about as chance would have it."),
    to_translate("Does one of your serves give away the next?"),
)


def _repeat(about: _Wording) -> tuple[str, str]:
    result, spoken = about.result, about.spoken
    counts = spoken.phrase(
        "Your next serve in the game was of the same kind as the one before {count} of {of} times.",
        count=result.first.count,
        of=result.first.of,
    )
    if len(about.scene.used) == 1:
        kind = about.kind(about.scene.used[0])
        return spoken.phrase("Only “{kind}”: there is no order to read.", kind=kind), counts
    if result.box_explains:
        headline = spoken.phrase("Your serves may follow the box rather than a habit.")
    else:
        headline = about.headline(_REPEAT, result.gap >= 0)
    return headline, f"{counts} {about.expected()}" if result.first.of else counts


_AFTER = _Headlines(
    to_translate("After “{kind}” you seem to serve the same again more often than chance would explain."),
    to_translate("After “{kind}” you seem to serve the same again less often than chance would explain."),
    to_translate("After “{kind}” you seem to serve the same again more often than chance would explain."),
    to_translate("After “{kind}” you seem to serve the same again less often than chance would explain."),
    to_translate("After “{kind}” your serves follow about as chance would have it."),
    to_translate("What follows “{kind}”?"),
)


def _after(about: _Wording) -> tuple[str, str]:
    result, kind = about.result, about.kind(about.result.kinds[0])
    counts = about.spoken.phrase(
        "After “{kind}” you served the same again {count} of {of} times.",
        kind=kind,
        count=result.first.count,
        of=result.first.of,
    )
    facts = f"{counts} {about.expected()}" if result.first.of else counts
    return about.headline(_AFTER, result.gap >= 0, kind=kind), facts


_DRIFT = _Headlines(
    to_translate("You used “{kind}” less often as the match went on."),
    to_translate("You used “{kind}” more often as the match went on."),
    to_translate("You seem to have used “{kind}” less often as the match went on."),
    to_translate("You seem to have used “{kind}” more often as the match went on."),
    to_translate("You used “{kind}” about as often throughout the match."),
    to_translate("Did your use of “{kind}” change during the match?"),
)
_DRIFT_COUNTS = _Facts(
    to_translate(
        "“{kind}”: {count} of {of} serves early on (game {early}), {other_count} of {other_of} later (game "
        "{late})."
    ),
    to_translate("“{kind}”: {count} of {of} serves early on (game {early}); later none has a kind logged."),
    to_translate(
        "“{kind}”: {other_count} of {other_of} serves later (game {late}); early on none has a kind logged."
    ),
    to_translate("No serve has a kind logged."),
)


def _drift(about: _Wording) -> tuple[str, str]:
    result = about.result
    assert result.second is not None and result.games is not None
    kind = about.kind(result.kinds[0])
    early, late = (about.spoken.listing([str(n) for n in games]) for games in result.games)
    facts = about.facts(_DRIFT_COUNTS, result.first, result.second, kind=kind, early=early, late=late)
    return about.headline(_DRIFT, result.gap >= 0, kind=kind), facts


_CHANGE = _Headlines(
    to_translate("You win more often after changing the serve than after repeating it."),
    to_translate("You win more often after repeating the serve than after changing it."),
    to_translate("You seem to win more often after changing the serve than after repeating it."),
    to_translate("You seem to win more often after repeating the serve than after changing it."),
    to_translate("It makes no real difference whether you change the serve or repeat it."),
    to_translate("Does changing the serve pay?"),
)
_NOT_BOTH = to_translate(
    "No kind of serve was both changed to and repeated from one box, so nothing can be compared."
)
_CHANGE_COUNTS = _Facts(
    to_translate(
        "Rallies won, lets excluded, with the same kind from the same box: {count} of {of} after changing to "
        "it, {other_count} of {other_of} after repeating it."
    ),
    _NOT_BOTH,
    _NOT_BOTH,
    _NOT_BOTH,
)
_SERVE_EDGE = _Headlines(
    to_translate("You win more often serving than receiving."),
    to_translate("You win more often receiving than serving."),
    to_translate("You seem to win more often serving than receiving."),
    to_translate("You seem to win more often receiving than serving."),
    to_translate("You win about as often serving as receiving."),
    to_translate("Does serving help?"),
)
_SERVE_COUNTS = _Facts(
    to_translate(
        "Rallies won, lets excluded: {count} of {of} serving, {other_count} of {other_of} receiving."
    ),
    to_translate("Rallies won, lets excluded: {count} of {of} serving."),
    to_translate("Rallies won, lets excluded: {other_count} of {other_of} receiving."),
    to_translate("No rally is logged as won or lost."),
)


def _plain(headlines: _Headlines, counts: _Facts) -> Callable[[_Wording], tuple[str, str]]:
    """Return what says a question whose sides have no names of their own."""

    def say(about: _Wording) -> tuple[str, str]:
        result = about.result
        return about.headline(headlines, result.gap >= 0), about.facts(counts, result.first, result.second)

    return say


def _serve_edge(about: _Wording) -> tuple[str, str]:
    result = about.result
    headline, facts = _plain(_SERVE_EDGE, _SERVE_COUNTS)(about)
    if result.games is not None and result.games[0]:
        games = about.spoken.listing([str(n) for n in result.games[0]])
        only = about.spoken.phrase(
            "Only games where every winner is known are counted (game {games}).", games=games
        )
        facts = f"{facts} {only}"
    if result.runs_explain and not chance_alone_may(result):
        headline = about.spoken.phrase("Serving, or a run of points? One match cannot tell.")
    return headline, facts


_LONG = _Headlines(
    to_translate("You win longer rallies more often than shorter ones."),
    to_translate("You win shorter rallies more often than longer ones."),
    to_translate("You seem to win longer rallies more often than shorter ones."),
    to_translate("You seem to win shorter rallies more often than longer ones."),
    to_translate("Rally length makes no real difference."),
    to_translate("Who gains from long rallies?"),
)
_LONG_COUNTS = {
    "shots": to_translate(
        "Rallies won, lets excluded: {count} of {of} longer ones (over about {limit} shots), {other_count} "
        "of {other_of} shorter ones."
    ),
    "seconds": to_translate(
        "Rallies won, lets excluded: {count} of {of} longer ones (over about {limit} seconds), {other_count} "
        "of {other_of} shorter ones."
    ),
}


def _long(about: _Wording) -> tuple[str, str]:
    result = about.result
    limit, _, unit = about.scene.longer_than.partition(" ")
    none = to_translate("No rally with a known length is logged as won or lost.")
    both = _LONG_COUNTS.get(unit, none)
    whole = both if result.first.of and result.second is not None and result.second.of else none
    facts = about.facts(_Facts(whole, none, none, none), result.first, result.second, limit=limit)
    if about.scene.length_of:
        unknown = about.spoken.phrase("The length is not known of every rally.")
        facts = f"{facts} {unknown}"
    return about.headline(_LONG, result.gap >= 0), facts


_OTHER_SERVES_WEAK = _Facts(
    to_translate(
        "Weak returns (loose or missed): {count} of {of} on “{kind}”, {other_count} of {other_of} on other "
        "serves."
    ),
    _ONE_KIND_WEAK,
    _ONE_KIND_WEAK_NONE,
    _ONE_KIND_WEAK_NONE,
)
_KIND_WEAK = _Headlines(
    to_translate("Your serve “{kind}” seems to draw weak returns more often than your other serves."),
    to_translate("Your serve “{kind}” seems to draw weak returns less often than your other serves."),
    to_translate("Your serve “{kind}” seems to draw weak returns more often than your other serves."),
    to_translate("Your serve “{kind}” seems to draw weak returns less often than your other serves."),
    to_translate("Your serve “{kind}” draws weak returns about as often as your other serves."),
    to_translate("Does “{kind}” draw weak returns?"),
)
_OTHER_SERVES_WON = _Facts(
    to_translate(
        "Rallies won, lets excluded: {count} of {of} on “{kind}”, {other_count} of {other_of} on other "
        "serves."
    ),
    _ONE_KIND_WON,
    _ONE_KIND_WON_NONE,
    _ONE_KIND_WON_NONE,
)
_KIND_WON = _Headlines(
    to_translate("You seem to win more often on “{kind}” than on other serves."),
    to_translate("You seem to win less often on “{kind}” than on other serves."),
    to_translate("You seem to win more often on “{kind}” than on other serves."),
    to_translate("You seem to win less often on “{kind}” than on other serves."),
    to_translate("You win about as often on “{kind}” as on other serves."),
    to_translate("Does “{kind}” win rallies?"),
)


def _one_kind(headlines: _Headlines, counts: _Facts) -> Callable[[_Wording], tuple[str, str]]:
    """Return what says a question of one kind of serve beside all others."""

    def say(about: _Wording) -> tuple[str, str]:
        result, kind = about.result, about.kind(about.result.kinds[0])
        facts = about.facts(counts, result.first, result.second, kind=kind)
        return about.headline(headlines, result.gap >= 0, kind=kind), facts

    return say


_BOX_WEAK = _Headlines(
    to_translate("Your serves from the right box seem to draw weak returns more often."),
    to_translate("Your serves from the left box seem to draw weak returns more often."),
    to_translate("Your serves from the right box seem to draw weak returns more often."),
    to_translate("Your serves from the left box seem to draw weak returns more often."),
    to_translate("The service box makes no real difference."),
    to_translate("Does one service box draw weak returns more often?"),
)
_BOX_WEAK_COUNTS = _Facts(
    to_translate(
        "Weak returns (loose or missed): {count} of {of} serves from the right box, {other_count} of "
        "{other_of} from the left."
    ),
    to_translate("Weak returns (loose or missed): {count} of {of} serves from the right box."),
    to_translate("Weak returns (loose or missed): {other_count} of {other_of} serves from the left box."),
    to_translate("No return to a serve with its box is logged."),
)
_BOX_WON = _Headlines(
    to_translate("You seem to win more often serving from the right box than from the left."),
    to_translate("You seem to win more often serving from the left box than from the right."),
    to_translate("You seem to win more often serving from the right box than from the left."),
    to_translate("You seem to win more often serving from the left box than from the right."),
    to_translate("The service box makes no real difference."),
    to_translate("Does one service box win rallies more often?"),
)
_BOX_WON_COUNTS = _Facts(
    to_translate(
        "Rallies won, lets excluded: {count} of {of} served from the right box, {other_count} of {other_of} "
        "from the left."
    ),
    to_translate("Rallies won, lets excluded: {count} of {of} served from the right box."),
    to_translate("Rallies won, lets excluded: {other_count} of {other_of} served from the left box."),
    to_translate("No rally is logged as won or lost."),
)
_VOLLEY = _Headlines(
    to_translate("Volleyed returns seem to be loose more often than later ones."),
    to_translate("Later returns seem to be loose more often than volleyed ones."),
    to_translate("Volleyed returns seem to be loose more often than later ones."),
    to_translate("Later returns seem to be loose more often than volleyed ones."),
    to_translate("Your serve is returned about as well on the volley as later."),
    to_translate("Is it better to make the receiver volley?"),
)
_VOLLEY_COUNTS = _Facts(
    to_translate(
        "Loose returns, of those made: {count} of {of} volleyed, {other_count} of {other_of} taken later."
    ),
    to_translate("Loose returns, of those made: {count} of {of} volleyed."),
    to_translate("Loose returns, of those made: {other_count} of {other_of} taken later."),
    to_translate("No return made is logged."),
)
_SAY: dict[Question, Callable[[_Wording], tuple[str, str]]] = {
    Question.WEAK: _weak,
    Question.WON: _won,
    Question.REPEAT: _repeat,
    Question.DRIFT: _drift,
    Question.CHANGE: _plain(_CHANGE, _CHANGE_COUNTS),
    Question.SERVE_EDGE: _serve_edge,
    Question.LONG: _long,
    Question.KIND_WEAK: _one_kind(_KIND_WEAK, _OTHER_SERVES_WEAK),
    Question.KIND_WON: _one_kind(_KIND_WON, _OTHER_SERVES_WON),
    Question.KIND_DRIFT: _drift,
    Question.AFTER: _after,
    Question.BOX_WEAK: _plain(_BOX_WEAK, _BOX_WEAK_COUNTS),
    Question.BOX_WON: _plain(_BOX_WON, _BOX_WON_COUNTS),
    Question.VOLLEY: _plain(_VOLLEY, _VOLLEY_COUNTS),
}
