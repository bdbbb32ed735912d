"""Why a cause is not the first, what would change that, and what is at odds."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from diagnose import AnswerError, Consultation
from diagnose.contrast import Turn, moved
from diagnose.network import NOT_COVERED
from diagnose.records import Knowledge, Proof

ANSWERS = {
    "stairs": ["yes", "no", "somewhat"],
    "bands": ["yes", "no", "somewhat"],
    "gives": ["yes", "no"],
    "nick-felt": ["yes", "no"],
    "coats": ["one", "two", "many"],
    "stencil": ["emulsion", "film"],
    "thickness": ["3", "25 %"],
}

some_answers = st.fixed_dictionaries(
    {}, optional={id: st.sampled_from(values) for id, values in ANSWERS.items()}
)

on_the_small = settings(
    max_examples=40,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)


def consulted(knowledge: Knowledge, **answers: str) -> Consultation:
    """A consultation with these answers; _ stands for - in the names."""
    consultation = Consultation(knowledge)
    for finding, value in answers.items():
        consultation.answer(finding.replace("_", "-"), value)
    return consultation


def leader(consultation: Consultation) -> str:
    return consultation.chances()[0][0]


# what would change the result


def every_turn(consultation: Consultation) -> Iterator[tuple[str, str]]:
    """By brute force: each open answer that puts another cause of the table first."""
    table = [cause for cause, _, _ in consultation.chances()]
    given = consultation.sheet.given()
    for id, finding in consultation.knowledge.findings.items():
        known = {*given, *consultation.look.known}
        if finding.kind == "reading" or id in known or finding.measured_by in known:
            continue
        for value in finding.values():
            then = leader(consultation.what_if(id, value))
            if then in table and then not in (table[0], NOT_COVERED):
                yield id, value


@on_the_small
@given(some_answers)
def test_what_would_change_it_is_found_as_by_trying_all(
    small: Knowledge, answers: dict[str, str]
) -> None:
    """Each turn found does turn it, and none is missed where there is one."""
    consultation = consulted(small, **answers)
    everything = set(every_turn(consultation)) if consultation.look.known else set()
    found = consultation.turning(most=99) if consultation.look.known else []
    assert {finding for finding, _ in everything} <= {turn.finding for turn in found}
    for turn in found:
        then = consultation.what_if(turn.finding, turn.value)
        assert leader(then) == turn.cause
        assert then.chances()[0] == (turn.cause, turn.name, turn.chance)
        assert turn.is_first
        assert 0 < turn.likely < 1


def test_no_more_turns_than_wanted_and_a_question_once(small: Knowledge) -> None:
    """The first are the likeliest ones that would put it well in front."""
    consultation = consulted(small, stairs="yes")
    every = consultation.turning(most=99)
    assert consultation.turning(most=1) == every[:1]
    assert consultation.turning() == every[:2]
    assert len({turn.finding for turn in every}) == len(every)


def test_the_checks_that_settle_a_cause_come_last(
    small_with_proofs: Knowledge,
) -> None:
    """They would do it always, and say nothing."""
    turns = consulted(small_with_proofs, stairs="yes").turning()
    findings = small_with_proofs.findings
    assert turns
    assert not any(isinstance(findings[turn.finding], Proof) for turn in turns)


def test_what_needs_a_tool_that_is_not_here_is_not_named(small: Knowledge) -> None:
    """Nobody can look at it."""
    consultation = consulted(small, stairs="yes")
    assert "thickness-low" in [turn.finding for turn in consultation.turning(99)]
    consultation.have("gauge", False)
    assert "thickness-low" not in [turn.finding for turn in consultation.turning(99)]


# why not


def test_a_cause_that_comes_second_says_what_would_raise_it(small: Knowledge) -> None:
    """Its place, the leading one, what speaks against it, and two answers."""
    found = consulted(small, stairs="yes", bands="no").why_not("slack")
    assert (found.name, found.place, found.leader) == ("slack mesh", 3, "too few coats")
    assert found.against == (
        "There are no bands. With “coat uneven” it is usually otherwise.",
    )
    assert found.apart == "Count."
    assert found.needs[0] == Turn(
        finding="gives",
        value="yes",
        question="Does the mesh give?",
        says="The mesh gives.",
        likely=found.needs[0].likely,
        cause="slack",
        name="slack mesh",
        chance=found.needs[0].chance,
        is_first=False,
    )
    assert found.needs[0].chance > found.chance


def test_a_cause_that_rules_exclude_says_why_and_from_what(small: Knowledge) -> None:
    """The rule's reason, and the answer to change if it is not so."""
    found = consulted(small, stairs="yes", stencil="film").why_not("few-coats")
    assert (found.place, found.chance) == (0, 0.0)
    assert found.ruled_out == ("No trough touched it.",)
    assert found.because_of == ("stencil",)
    assert found.needs == ()


def test_a_cause_that_nothing_points_to_names_its_signs(small: Knowledge) -> None:
    """It is not on the table, and what would bring it there is said."""
    found = consulted(small, coats="one").why_not("nick")
    assert (found.place, found.ruled_out) == (0, ())
    assert [turn.says for turn in found.needs] == [
        "A nick can be felt.",
        "There are bands.",
    ]
    assert all(turn.chance > 0 for turn in found.needs)


def test_what_a_cause_does_not_account_for_is_said(small: Knowledge) -> None:
    """A finding that no way leads from."""
    found = consulted(small, bands="yes", stairs="yes").why_not("few-coats")
    assert found.leaves_open == ("There are bands.",)


@on_the_small
@given(
    some_answers,
    st.sampled_from(["few-coats", "slack", "nick", NOT_COVERED]),
    st.data(),
)
def test_why_not_fits_the_ranking(
    small: Knowledge, answers: dict[str, str], cause: str, data: st.DataObject
) -> None:
    """Chance and place are those of the standing; what is needed does raise it."""
    consultation = consulted(small, **answers)
    found = consultation.why_not(cause)
    order = [one for one, _, _ in consultation.chances()]
    assert found.place == (order.index(cause) + 1 if cause in order else 0)
    chances = {one: chance for one, _, chance in consultation.chances()}
    assert found.chance == chances.get(cause, 0.0)
    for turn in found.needs:
        then = consultation.what_if(turn.finding, turn.value)
        chance = {c: p for c, _, p in then.chances()}[cause]
        assert chance == turn.chance > found.chance
        assert turn.is_first == (leader(then) == cause)


def test_a_cause_that_there_is_not_is_refused(small: Knowledge) -> None:
    with pytest.raises(AnswerError, match="did you mean 'slack'"):
        consulted(small, stairs="yes").why_not("slak")


# which causes a question tells apart


def test_the_causes_that_an_answer_raises_stand_together() -> None:
    """The one that is moved most is first; what hardly moves is left out."""
    now = {"a": 0.5, "b": 0.3, "c": 0.2, "d": 0.01}
    yes = {"a": 0.8, "b": 0.1, "c": 0.3, "d": 0.01}
    no = {"a": 0.1, "b": 0.7, "c": 0.1, "d": 0.02}
    assert moved(now, [yes, no]) == [["a", "c"], ["b"]]
    assert moved(now, [yes, no], most=2) == [["a"], ["b"]]
    assert moved(now, [now, now]) == []


def test_a_question_says_what_it_separates(small: Knowledge) -> None:
    """Slack mesh and the nick go one way, too few coats the other."""
    consultation = consulted(small, stairs="yes")
    question = consultation.question("bands")
    assert consultation.separates(question) == [["few-coats"], ["slack", "nick"]]
    assert consultation.separates(question, most=2) == [["few-coats"], ["slack"]]


# what does not go together


def test_answers_at_odds_come_with_what_they_rest_on(small: Knowledge) -> None:
    """The rule's sentence, and the answers that it looks at."""
    (one,) = consulted(small, gives="yes").at_odds()
    assert (one.says, one.between, one.rule) == (
        "Both can't be.",
        ("gives",),
        "tight-and-slack",
    )
    assert consulted(small, coats="one").at_odds() == []


def test_every_contradiction_of_the_knowledge_rests_on_answers(
    built_in: Knowledge,
) -> None:
    """Each of its examples names at least two answers, so one can be changed."""
    rules = [rule for rule in built_in.rules.values() if rule.then.contradiction]
    assert rules
    for rule in rules:
        consultation = Consultation(built_in)
        for finding, value in rule.fires_on.items():
            consultation.answer(finding, value)
        (one,) = [one for one in consultation.at_odds() if one.rule == rule.id]
        assert len(one.between) >= 2, rule.id
        assert set(one.between) <= set(rule.fires_on)
        assert one.says == rule.then.contradiction


# the built-in knowledge


@pytest.mark.parametrize("sign", ["edges-sawtooth", "deposit-uneven", "voids-in-print"])
def test_all_causes_can_be_asked_for(built_in: Knowledge, sign: str) -> None:
    """Whatever is asked for, the answer holds together."""
    consultation = Consultation(built_in)
    consultation.answer(sign, "yes")
    table = {cause for cause, _, _ in consultation.chances()}
    for cause in [*built_in.causes][::25]:
        found = consultation.why_not(cause)
        assert bool(found.place) == (cause in table)
        assert found.place == 1 or found.needs or found.ruled_out, cause
    for turn in consultation.turning():
        assert leader(consultation.what_if(turn.finding, turn.value)) == turn.cause
