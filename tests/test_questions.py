"""The next question: what it is worth, which is asked, and when asking stops."""

from __future__ import annotations

import random
from unittest.mock import patch

import msgspec
import numpy as np
import pytest
from bayes_reference import full_sum, mutual_information
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from test_look import look_at, random_answers, takes, with_rules

from diagnose import Consultation
from diagnose.explanations import information
from diagnose.look import Look
from diagnose.model import model_of
from diagnose.network import NOT_COVERED
from diagnose.questions import (
    LIKELY_ENOUGH,
    answers_of,
    minutes_for,
    next_question,
    question_for,
    unexplained,
)
from diagnose.records import Knowledge
from diagnose.sheets import DONT_KNOW, Sheet

EXACT = 1e-9
replace = msgspec.structs.replace


# --- information -------------------------------------------------------------------

joints = st.integers(1, 6).flatmap(
    lambda columns: st.lists(
        st.lists(st.floats(0, 1), min_size=columns, max_size=columns),
        min_size=1,
        max_size=8,
    )
)


@settings(max_examples=200, deadline=None)
@given(joints)
def test_information_is_mutual_information(rows: list[list[float]]) -> None:
    """It equals the sum of p log p/qr; is never negative, nor above log2(values)."""
    joint = np.array(rows)
    assume(joint.sum() > 0.01)
    joint /= joint.sum()
    (bits,) = information([joint])
    assert bits == pytest.approx(mutual_information(joint), abs=1e-12)
    assert 0 <= bits <= np.log2(joint.shape[1]) + 1e-12


@given(
    st.lists(st.floats(0.01, 1), min_size=1, max_size=8),
    st.lists(st.floats(0.01, 1), min_size=1, max_size=6),
)
def test_no_information_in_what_is_independent(
    sets: list[float], values: list[float]
) -> None:
    """A finding that is the same whatever the cause tells nothing."""
    joint = np.outer(sets, values)
    assert information([joint / joint.sum()])[0] == pytest.approx(0, abs=1e-12)


def test_information_of_a_perfect_test() -> None:
    """One that says which of two equal causes it is tells one bit; of four, two."""
    assert information([np.eye(2) / 2])[0] == pytest.approx(1)
    assert information([np.eye(4) / 4])[0] == pytest.approx(2)


# --- which question ----------------------------------------------------------------


def exact_worths(look: Look) -> dict[str, tuple[str, float, float]]:
    """By the full sum: for each finding that may be asked, what is asked for it, the
    bits, and the bits a minute."""
    model, sheet = look.model, look.sheet
    knowledge, network, scales = model.knowledge, model.network, model.knowledge.scales
    causes = list(look.chances)
    evidence = {}
    for id, known in look.known.items():
        values = network.values(id)
        rest = (1 - known.degree) / (len(values) - 1)
        evidence[id] = [known.degree if v == known.value else rest for v in values]
    weights = dict.fromkeys(look.table.weighed, 2.5)
    excluded = {("stencil", "film"): ("nick", "few-coats")}
    found = {}
    for id, outcomes in network.outcomes.items():
        finding = knowledge.findings[id]
        asked = knowledge.findings[finding.measured_by or id]
        done = {*sheet.given(), *look.table.concluded}
        if id in done or asked.id in done:
            continue
        makers = {maker for outcome in outcomes for maker, _ in outcome.makers}
        nodes = {*causes, *look.close.rows.states} - {NOT_COVERED}
        if not nodes & makers and id != "stencil":  # no cause on the table shows it
            continue
        if any(sheet.to_hand.get(tool) == "no" for tool in asked.needs):
            continue
        columns = []
        for n, value in enumerate(network.values(id)):
            count = max(len(outcomes), 2)
            plain = [float(n == other) for other in range(count)]
            exact = full_sum(network, causes, {**evidence, id: plain}, weights)
            out = excluded.get((id, value), ())
            columns.append(
                [
                    0.0 if names & set(out) else chance * exact.evidence
                    for names, chance in exact.sets.items()
                ]
            )
        joint = np.array(columns).T
        bits = mutual_information(joint / joint.sum())
        minutes = asked.minutes + scales.asking_minutes
        unsure = any(tool not in sheet.to_hand for tool in asked.needs)
        chance = scales.tool_to_hand if unsure else 1.0
        found[id] = (asked.id, bits, bits * chance / minutes)
    return found


def random_look(knowledge: Knowledge, seed: int) -> Look:
    """A random sheet with up to five answers, and the gauge here, not here or open."""
    pick = random.Random(seed)
    consultation = Consultation(knowledge)
    consultation.answer(pick.choice(["stairs", "bands"]), "yes")
    for finding, value in random_answers(knowledge, pick, pick.randint(0, 4)):
        if finding not in consultation.sheet.given():
            consultation.answer(finding, value)
    here = pick.choice([True, False, None])
    if here is not None:
        consultation.have("gauge", here)
    return consultation.look


@pytest.mark.parametrize("minutes", [5, 0.4])
@pytest.mark.parametrize("seed", range(40))
def test_the_most_telling_a_minute_is_asked(
    small: Knowledge, seed: int, minutes: float
) -> None:
    """Of all that may be asked, by the full sum, the most bits a minute."""
    knowledge = with_minutes(small, "thickness", minutes)
    with patch("diagnose.explanations.ENOUGH", 1.0):  # leave no set of causes out
        look = random_look(knowledge, seed)
    scales = small.scales
    worths = {
        id: worth
        for id, worth in exact_worths(look).items()
        if worth[1] >= scales.least_information
    }
    found = next_question(look)
    best = max((a_minute for _, _, a_minute in worths.values()), default=0.0)
    question = found.question
    if question is None:
        stops = "No likely answer" in found.because
        assert stops or best < scales.least_worth + EXACT
        return
    asked = "thickness" if question.kind == "tool" else question.id
    chosen = [worth for worth in worths.values() if worth[0] == asked]
    assert max(a_minute for _, _, a_minute in chosen) == pytest.approx(best, abs=EXACT)
    assert question.information == pytest.approx(chosen[0][1], abs=EXACT)
    assert (question.kind == "tool") == (
        asked == "thickness" and "gauge" not in look.sheet.to_hand
    )


@pytest.mark.parametrize("seed", range(20))
def test_unlikely_sets_hardly_count(small: Knowledge, seed: int) -> None:
    """With the last thousandth of the weight left out, the worth is right to 0.01."""
    look = random_look(small, seed)
    question = next_question(look).question
    if question is not None:
        bits = [b for id, b, _ in exact_worths(look).values() if id == question.id]
        if question.kind != "tool":
            assert question.information == pytest.approx(max(bits), abs=0.01)


def test_measured_findings_are_asked_as_their_reading(small: Knowledge) -> None:
    """'stencil measured thin' is never asked: the thickness is, in its unit."""
    quick = with_minutes(small, "thickness", 0.1)
    consultation = Consultation(quick)
    consultation.answer("stairs", "yes")
    consultation.have("gauge", True)
    question = consultation.next_question()
    assert question is not None
    assert (question.id, question.kind, question.unit) == ("thickness", "reading", "%")
    assert question.takes == {DONT_KNOW: "I don't know, or can't look."}
    assert question.needs == ("gauge",)
    assert question.cautions == ("lamp",)
    consultation.answer("thickness", "4")
    assert set(asked_on(consultation)).isdisjoint({"thickness", "thickness-low"})


def with_minutes(knowledge: Knowledge, finding: str, minutes: float) -> Knowledge:
    """The knowledge with other minutes for a finding."""
    record = replace(knowledge.findings[finding], minutes=minutes)
    return replace(knowledge, findings={**knowledge.findings, finding: record})


def asked_on(consultation: Consultation, answer: str = DONT_KNOW) -> list[str]:
    """All that is asked from here on, where every answer is the same."""
    asked = []
    while (question := consultation.next_question()) is not None:
        asked.append(question.id)
        if question.kind == "tool":
            consultation.have(question.id, False)
        else:
            consultation.answer(question.id, answer)
    return asked


def test_a_tool_is_asked_for_first_and_once(small: Knowledge) -> None:
    """Whether the gauge is here comes before the thickness; after a no, neither."""
    quick = with_minutes(small, "thickness", 0.1)
    consultation = Consultation(quick)
    consultation.answer("stairs", "yes")
    for finding in ("bands", "nick-felt", "gives"):
        consultation.answer(finding, DONT_KNOW)
    question = consultation.next_question()
    assert question is not None
    assert (question.id, question.kind) == ("gauge", "tool")
    assert question.text == "Do you have a thickness gauge to hand?"
    assert "thickness over mesh" in question.how
    assert set(question.takes) == {"yes", "no"}
    consultation.have("gauge", True)
    after = consultation.next_question()
    assert after is not None
    assert after.id == "thickness"
    consultation.have("gauge", False)
    assert set(asked_on(consultation)) == {"coats", "stencil"}


def test_a_tool_that_is_always_there_is_not_asked_for(small: Knowledge) -> None:
    """A tool with `asked: no` is taken to be to hand."""
    quick = with_minutes(small, "thickness", 0.1)
    tool = replace(small.tools["gauge"], asked="no")
    consultation = Consultation(replace(quick, tools={"gauge": tool}))
    consultation.answer("stairs", "yes")
    assert "gauge" not in asked_on(consultation)


def test_what_bears_on_nothing_is_not_asked(small: Knowledge) -> None:
    """A finding that no cause on the table shows, and no rule asks for, tells 0."""
    idle = replace(small.findings["gives"], id="idle", role="timing")
    knowledge = replace(small, findings={**small.findings, "idle": idle})
    consultation = Consultation(knowledge)
    consultation.answer("bands", "yes")
    (share,) = consultation.look.weighed.split(["idle"])[1]
    assert information([share])[0] == pytest.approx(0, abs=1e-9)
    asked = asked_on(consultation)
    assert "gives" in asked
    assert "idle" not in asked
    assert "coats" not in asked  # too few coats makes no bands: it is not on the table


def test_a_concluded_finding_is_not_asked(small: Knowledge) -> None:
    """What a rule has settled is not asked; without the rule it would be."""
    gives = {
        "id": "gives-by-bands",
        "when": {"all": [{"finding": "bands"}]},
        "then": {"conclude": [{"finding": "gives", "value": "no"}]},
    }
    for rules, expected in (([], True), ([gives], False)):
        consultation = Consultation(with_rules(small, *rules))
        consultation.answer("bands", "yes")
        assert ("gives" in asked_on(consultation)) is expected


@pytest.mark.parametrize("seed", range(40))
def test_asking_ends_and_never_repeats(small: Knowledge, seed: int) -> None:
    """Whatever is answered, nothing is asked twice and a sentence says why it ends."""
    walk(small, random.Random(seed), "bands")


@pytest.mark.parametrize("seed", range(2))
def test_asking_ends_and_never_repeats_in_the_built_in(
    built_in: Knowledge, seed: int
) -> None:
    """So it is with the built-in knowledge."""
    pick = random.Random(seed)
    opening = [f.id for f in built_in.findings.values() if f.opening == "yes"]
    walk(built_in, pick, pick.choice(opening))


def walk(knowledge: Knowledge, pick: random.Random, sign: str) -> None:
    """Answer at random to the end."""
    consultation = Consultation(knowledge)
    consultation.answer(sign, "yes")
    asked = {sign}
    while (question := consultation.next_question()) is not None:
        assert consultation.nothing_to_ask() == ""
        assert question.id not in asked
        asked.add(question.id)
        if question.kind == "tool":
            consultation.have(question.id, pick.random() < 0.5)
            continue
        finding = knowledge.findings[question.id]
        assert finding.measured_by is None
        assert finding.id not in consultation.look.known
        consultation.answer(finding.id, pick.choice(takes(finding)))
    assert consultation.nothing_to_ask().endswith(".")


# --- when asking stops -------------------------------------------------------------


def test_nothing_said_yet(small: Knowledge) -> None:
    """With no answer, or only 'don't know', there is nothing to go on."""
    for answers in ({}, {"stairs": DONT_KNOW}):
        found = next_question(look_at(small, answers))
        assert found.question is None
        assert found.because == "Nothing has been said yet of what went wrong."


def test_nothing_tells_the_causes_apart(small: Knowledge) -> None:
    """All is answered, and no cause is sure."""
    answers = {"bands": "yes", "stairs": "no", "gives": "no", "nick-felt": "no"}
    rest = {"coats": "two", "stencil": "emulsion", "thickness": "20"}
    found = next_question(look_at(small, {**answers, **rest}))
    assert found.question is None
    assert found.because == "Nothing that could still be asked tells the causes apart."


def test_nothing_is_worth_the_minutes(small: Knowledge) -> None:
    """What is left to ask takes too long for the little that it tells."""
    slow = with_minutes(with_minutes(small, "stencil", 60), "thickness", 600)
    answers = {"stairs": "yes", "bands": "yes", "gives": "no", "nick-felt": "no"}
    look = look_at(slow, {**answers, "coats": "two"})
    found = next_question(look)
    assert found.question is None
    assert found.because == "No question left is worth the minutes it takes."


def test_stops_when_one_cause_is_sure(small: Knowledge) -> None:
    """A nick that was felt, and bands: nothing would put another cause before it."""
    look = look_at(small, {"bands": "yes", "nick-felt": "yes"})
    assert look.chances["nick"] > small.scales.enough_chance
    found = next_question(look)
    assert found.question is None
    assert found.because == (
        "No likely answer could put another cause before “nicked trough”."
    )


@pytest.fixture(scope="module")
def faulty(small: Knowledge) -> Knowledge:
    """A shop where every cause is there three times in ten: two often are at once."""
    common = dict.fromkeys(small.scales.how_common, 0.3)
    return replace(small, scales=replace(small.scales, how_common=common))


def test_asks_on_while_a_second_cause_is_in_doubt(faulty: Knowledge) -> None:
    """Slack mesh is sure; too few coats may well be there beside it."""
    answers = {
        "stairs": "yes",
        "bands": "yes",
        "coats": "one",
        "gives": "yes",
        "nick-felt": "no",
        "thickness": "3",
    }
    look = look_at(faulty, answers)
    assert look.chances["slack"] > faulty.scales.enough_chance
    assert 0.5 < look.chances["few-coats"] < faulty.scales.enough_chance
    question = next_question(look).question
    assert question is not None
    assert question.id == "stencil"  # a film rules too few coats out


def test_stops_with_two_causes_that_are_sure(faulty: Knowledge) -> None:
    """Both are named."""
    answers = {"gives": "yes", "nick-felt": "yes", "bands": "no", "stairs": "no"}
    look = look_at(faulty, {**answers, "coats": "two", "thickness": "20"})
    assert min(look.chances["slack"], look.chances["nick"]) > 0.9
    found = next_question(look)
    assert found.question is None
    assert found.because == (
        "No likely answer could put another cause before "
        "“nicked trough” and “slack mesh”."
    )


def test_asks_on_while_a_sign_is_unexplained(small: Knowledge) -> None:
    """A cause may be sure and yet not account for all that is there."""
    slack = {"bands": "yes", "gives": "yes", "coats": "two", "nick-felt": "no"}
    assert next_question(look_at(small, slack)).question is None
    odd = replace(small.findings["stairs"], id="odd", role="timing")
    knowledge = replace(small, findings={**small.findings, "odd": odd})
    look = look_at(knowledge, {**slack, "odd": "yes"})
    assert look.chances["slack"] > small.scales.enough_chance
    assert unexplained(look) == ["odd"]
    assert "No likely answer" not in next_question(look).because


def test_no_likely_answer_changes_a_settled_result(built_in: Knowledge) -> None:
    """Once asking stops with sure causes, no answer that is likely unseats them.

    Tried are all answers to findings that bear on the causes on the table. Left out
    are answers on which rules exclude or weigh: what chance those have is reckoned
    with the rules, and is small.
    """
    tried = 0
    for seed in range(3):
        consultation = settled_consultation(built_in, random.Random(seed))
        look = consultation.look
        sure = {c for c, chance in look.chances.items() if chance >= 0.9}
        nodes = {*look.chances, *look.weighed.rows.states} - {NOT_COVERED}
        for id, outcomes in look.model.network.outcomes.items():
            makers = {maker for outcome in outcomes for maker, _ in outcome.makers}
            if id in look.known or not nodes & makers:
                continue
            for value, chance in look.weighed.predicted(id).items():
                if chance >= LIKELY_ENOUGH and (id, value) not in look.model.effects:
                    after = consultation.what_if(id, value).look
                    assert after.leader in sure, (seed, id, value, chance)
                    tried += 1
    assert tried > 50


def settled_consultation(knowledge: Knowledge, pick: random.Random) -> Consultation:
    """One that ends with a sure cause: answered as a random cause makes it likeliest,
    with no gauge to hand."""
    model = model_of(knowledge)
    opening = [f.id for f in knowledge.findings.values() if f.opening == "yes"]
    while True:
        cause = pick.choice(list(knowledge.causes))
        signs = {sign: model.chances_alone(cause, sign)["yes"] for sign in opening}
        consultation = Consultation(knowledge)
        consultation.answer(max(signs, key=lambda sign: signs[sign]), "yes")
        while (question := consultation.next_question()) is not None:
            if question.kind == "tool":
                consultation.have(question.id, False)
            elif question.kind == "reading":
                consultation.answer(question.id, DONT_KNOW)
            else:
                chances = model.chances_alone(cause, question.id)
                likeliest = max(chances, key=lambda value: chances[value])
                consultation.answer(question.id, likeliest)
        if consultation.nothing_to_ask().startswith("No likely answer"):
            return consultation


# --- what is not explained ---------------------------------------------------------


def test_unexplained(small: Knowledge) -> None:
    """A sign whose causes are ruled out is unexplained; a no or a habit never is."""
    answers = {"nick-felt": "yes", "stairs": "no", "coats": "one"}
    assert unexplained(look_at(small, {**answers, "stencil": "film"})) == ["nick-felt"]
    assert unexplained(look_at(small, answers)) == []


def test_two_faults_are_both_explained(small: Knowledge) -> None:
    """Two signs with nothing in common take two causes; a third is one too many."""
    quiet = dict.fromkeys(small.scales.seen_anyway, 0.001)
    scales = replace(small.scales, seen_anyway=quiet, not_covered_prior=0.0001)
    knowledge = replace(small, scales=scales)
    two = {"gives": "yes", "nick-felt": "yes"}
    assert unexplained(look_at(knowledge, two)) == []
    third = replace(small.findings["gives"], id="third")
    more = replace(knowledge, findings={**knowledge.findings, "third": third})
    assert unexplained(look_at(more, {**two, "third": "yes"})) == ["third"]


def test_an_ordinary_choice_needs_no_cause(small: Knowledge) -> None:
    """Of a choice that is looked at, only a value that causes make wants one."""
    coats = replace(small.findings["coats"], role="check")
    knowledge = replace(small, findings={**small.findings, "coats": coats})
    ruled_out = {"bands": "yes", "stencil": "film"}
    assert unexplained(look_at(knowledge, {**ruled_out, "coats": "two"})) == []
    assert unexplained(look_at(knowledge, {**ruled_out, "coats": "one"})) == ["coats"]


# --- how it is put -----------------------------------------------------------------


def test_what_each_kind_takes(small: Knowledge) -> None:
    """Every answer with what it means; 'don't know' is always one of them."""
    dont_know = {DONT_KNOW: "I don't know, or can't look."}
    assert answers_of(small.findings["gives"]) == {
        "yes": "The mesh gives.",
        "no": "The mesh is tight.",
        "somewhat": "A little, or I think so.",
        **dont_know,
    }
    assert answers_of(small.findings["stencil"]) == {
        "emulsion": "emulsion",
        "film": "film",
        **dont_know,
    }
    assert answers_of(small.findings["thickness"]) == dont_know


def test_any_finding_as_a_question(small: Knowledge) -> None:
    """One known from a reading is asked as that, unless it was answered itself."""
    look = look_at(small, {"thickness-low": "yes"})
    assert question_for(look, "nick-felt").text == "Can a nick be felt?"
    assert question_for(look, "thickness-low").kind == "finding"
    assert question_for(look_at(small, {}), "thickness-low").id == "thickness"


def test_every_question_of_the_built_in_takes_what_it_offers(
    built_in: Knowledge,
) -> None:
    """Each answer that a question offers is taken by its finding."""
    look = look_at(built_in, {})
    for finding in built_in.findings.values():
        question = question_for(look, finding.id)
        consultation = Consultation(built_in, Sheet())
        for value in question.takes:
            consultation.answer(question.id, value)
            assert consultation.sheet.given()[question.id] == value


def test_what_lies_elsewhere_costs_more(small: Knowledge) -> None:
    """At the press a look at the coat costs the way there; a set-up fact does not."""
    bands = small.findings["bands"]
    coats = small.findings["coats"]
    look = look_at(small, {"stairs": "yes"})
    usual = minutes_for(look, bands)
    look.sheet.stage = "press"
    assert minutes_for(look, bands) == usual
    look.sheet.stage = "wash-out"
    assert minutes_for(look, bands) == usual + small.scales.elsewhere_minutes
    asking = small.scales.asking_minutes
    assert minutes_for(look, coats) == coats.minutes + asking
