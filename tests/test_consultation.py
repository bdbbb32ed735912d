"""One conversation: answers in; ranking, next question and plan out."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from diagnose import AnswerError, Consultation, FolderError, SheetError
from diagnose.consultation import Outlook
from diagnose.records import Knowledge
from diagnose.result import result
from diagnose.sheets import Sheet, sheet_text

ANSWERS = {
    "stairs": ["yes", "no", "somewhat", "don't know"],
    "bands": ["yes", "no", "somewhat", "don't know"],
    "gives": ["yes", "no", "somewhat", "don't know"],
    "nick-felt": ["yes", "no", "somewhat", "don't know"],
    "thickness-low": ["yes", "no", "somewhat", "don't know"],
    "coats": ["one", "two", "many", "don't know"],
    "stencil": ["emulsion", "film", "don't know"],
    "thickness": ["3", "9 ± 3 %", "25 %", "don't know"],
}

answer_lists = st.lists(
    st.sampled_from(sorted(ANSWERS)), unique=True, max_size=len(ANSWERS)
).flatmap(
    lambda ids: st.tuples(
        *(st.tuples(st.just(i), st.sampled_from(ANSWERS[i])) for i in ids)
    )
)

on_the_small = settings(
    max_examples=40,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)


def consulted(knowledge: Knowledge, *answers: tuple[str, str]) -> Consultation:
    """A consultation with these answers."""
    consultation = Consultation(knowledge)
    for finding, value in answers:
        consultation.answer(finding, value)
    return consultation


def everything(consultation: Consultation) -> object:
    """All that comes out of a consultation, to be compared."""
    return result(consultation, None)


# answers in


def test_the_example_of_the_guide(small: Knowledge) -> None:
    """Describe, answer, and read off question, ranking and plan."""
    consultation = Consultation(small)
    understood = consultation.describe("they print with blocky edges")
    assert [heard.finding for heard in understood.heard] == ["stairs"]
    consultation.answer("coats", "one")
    assert consultation.ranking().causes[0].cause == "few-coats"
    question = consultation.next_question()
    assert question is not None
    assert question.id not in consultation.sheet.given()
    first = consultation.plan().parts["remake"][0].fix
    assert first.id == "coat-again"


@on_the_small
@given(answer_lists, st.randoms())
def test_the_order_of_the_answers_does_not_matter(
    small: Knowledge, answers: tuple[tuple[str, str], ...], chance: object
) -> None:
    """The same answers in any order come to the same result, to the last digit."""
    shuffled = list(answers)
    chance.shuffle(shuffled)  # type: ignore[attr-defined]
    one, other = consulted(small, *answers), consulted(small, *shuffled)
    assert everything(one) == everything(other)


@on_the_small
@given(answer_lists, st.sampled_from(sorted(ANSWERS)))
def test_a_second_answer_takes_the_place_of_the_first(
    small: Knowledge, answers: tuple[tuple[str, str], ...], changed: str
) -> None:
    """Changing an answer equals having given the new one at once."""
    new = ANSWERS[changed][0]
    consultation = consulted(small, *answers)
    everything(consultation)
    consultation.answer(changed, new)
    fresh = consulted(small, *{**dict(answers), changed: new}.items())
    assert everything(consultation) == everything(fresh)


@on_the_small
@given(answer_lists, st.sampled_from(sorted(ANSWERS)))
def test_withdrawing_an_answer_undoes_it(
    small: Knowledge, answers: tuple[tuple[str, str], ...], also: str
) -> None:
    """Answering and withdrawing leaves no trace."""
    before = [one for one in answers if one[0] != also]
    consultation = consulted(small, *before, (also, ANSWERS[also][0]))
    everything(consultation)
    consultation.withdraw(also)
    assert everything(consultation) == everything(consulted(small, *before))
    with pytest.raises(AnswerError, match="was not answered"):
        consultation.withdraw(also)


@on_the_small
@given(answer_lists, st.sampled_from(sorted(ANSWERS)))
def test_dont_know_is_no_evidence(
    small: Knowledge, answers: tuple[tuple[str, str], ...], unknown: str
) -> None:
    """It moves no chance; it only keeps the question from being asked again."""
    before = [one for one in answers if one[0] != unknown]
    without = consulted(small, *before)
    consultation = consulted(small, *before, (unknown, "don't know"))
    assert consultation.chances() == without.chances()
    question = consultation.next_question()
    assert question is None or question.id != unknown


@on_the_small
@given(answer_lists, st.sampled_from(sorted(ANSWERS)))
def test_what_if_changes_nothing_here(
    small: Knowledge, answers: tuple[tuple[str, str], ...], asked: str
) -> None:
    """The other consultation has one more answer; this one stays as it was."""
    consultation = consulted(small, *answers)
    before, sheet = everything(consultation), sheet_text(consultation.sheet)
    other = consultation.what_if(asked, ANSWERS[asked][0])
    other.have("gauge", False)
    other.tried("coat-again", False)
    assert sheet_text(consultation.sheet) == sheet
    assert everything(consultation) == before
    assert other.sheet.given()[asked] == ANSWERS[asked][0]


@on_the_small
@given(answer_lists)
def test_the_chances_are_chances(
    small: Knowledge, answers: tuple[tuple[str, str], ...]
) -> None:
    """Each lies between 0 and 1, likeliest first, and they add up to 1 or more."""
    chances = [chance for _, _, chance in consulted(small, *answers).chances()]
    assert all(0 <= chance <= 1 for chance in chances)
    assert chances == sorted(chances, reverse=True)
    assert sum(chances) >= 1 - 1e-9


@on_the_small
@given(st.data())
def test_asking_comes_to_an_end(small: Knowledge, data: st.DataObject) -> None:
    """No question comes twice, and whatever is answered there is a last one."""
    consultation = consulted(small, ("stairs", "yes"))
    asked = set()
    while (question := consultation.next_question()) is not None:
        assert question.id not in asked
        assert consultation.nothing_to_ask() == ""
        asked.add(question.id)
        if question.kind == "tool":
            consultation.have(question.id, data.draw(st.booleans()))
        else:
            value = data.draw(st.sampled_from(ANSWERS[question.id]))
            consultation.answer(question.id, value)
    assert consultation.nothing_to_ask() != ""


def test_what_is_not_there_is_never_asked_for(small: Knowledge) -> None:
    """Without a gauge no reading of it is asked."""
    consultation = consulted(small, ("stairs", "yes"))
    consultation.have("gauge", False)
    asked = []
    while (question := consultation.next_question()) is not None:
        asked.append(question.id)
        consultation.answer(question.id, "don't know")
    assert "thickness" not in asked
    assert "gauge" not in asked
    assert asked


@pytest.mark.parametrize(
    ("finding", "value", "says"),
    [
        ("stares", "yes", r"'stares'.*did you mean 'stairs'"),
        ("stairs", "maybe", "'stairs' does not take 'maybe'"),
        ("coats", "three", "'coats' does not take 'three'"),
        ("thickness", "5 kg", "'kg' does not fit thickness over mesh"),
        ("thickness", "500", "between 0 and 100"),
        ("thickness", "yes", "yes"),
    ],
)
def test_a_wrong_answer_is_refused_and_changes_nothing(
    small: Knowledge, finding: str, value: str, says: str
) -> None:
    """The error says what is wrong, and the sheet is as before."""
    consultation = consulted(small, ("bands", "yes"))
    with pytest.raises(AnswerError, match=says):
        consultation.answer(finding, value)
    assert consultation.sheet.given() == {"bands": "yes"}


def test_every_name_that_is_not_there_is_refused(small: Knowledge) -> None:
    """Findings, tools, fixes and stages: each with the nearest that there is."""
    consultation = Consultation(small)
    with pytest.raises(AnswerError, match="'gauge'"):
        consultation.have("gage", True)
    with pytest.raises(AnswerError, match="'coat-again'"):
        consultation.tried("coat-agin", True)
    with pytest.raises(AnswerError, match="'press'"):
        consultation.at_stage("pres")
    with pytest.raises(AnswerError, match="'stairs'"):
        consultation.question("stair")
    with pytest.raises(AnswerError, match="'stairs'"):
        consultation.finding("stair")
    with pytest.raises(AnswerError, match="'stairs'"):
        consultation.withdraw("stair")


# own words


def test_own_words_never_override_an_answer(small: Knowledge) -> None:
    """What the person answered stays; the words are kept all the same."""
    consultation = consulted(small, ("stairs", "no"))
    understood = consultation.describe("blocky edges")
    assert understood.heard[0].finding == "stairs"
    assert consultation.sheet.given() == {"stairs": "no"}
    assert consultation.sheet.said == ["blocky edges"]


def test_understanding_alone_answers_nothing(small: Knowledge) -> None:
    """`understand` only says what would be made of the words."""
    consultation = Consultation(small)
    understood = consultation.understand("blocky edges")
    assert understood.heard[0].value == "yes"
    assert consultation.sheet == Sheet()


def test_words_and_answers_come_to_the_same(small: Knowledge) -> None:
    """It makes no difference how a finding was given."""
    spoken = Consultation(small)
    spoken.describe("blocky edges")
    assert everything(spoken) == everything(consulted(small, ("stairs", "yes")))


@on_the_small
@given(st.text(max_size=200))
def test_any_text_can_be_described_and_kept(
    small: Knowledge, tmp_path: Path, text: str
) -> None:
    """Whatever is said, a saved sheet comes back as it was."""
    consultation = Consultation(small)
    consultation.at_stage("press")
    consultation.describe(text)
    consultation.save(tmp_path / "sheet.yaml")
    again = Consultation.resume(tmp_path / "sheet.yaml", small)
    assert again.sheet == consultation.sheet
    assert again.sheet.said == ([text] if text.strip() else [])


def test_half_a_pair_of_characters_can_be_kept(
    small: Knowledge, tmp_path: Path
) -> None:
    """What a shell passes on of broken bytes is replaced, and breaks nothing."""
    consultation = Consultation(small)
    consultation.describe("blocky edges \udcff")
    consultation.save(tmp_path / "sheet.yaml")
    again = Consultation.resume(tmp_path / "sheet.yaml", small)
    assert again.sheet.said == ["blocky edges ?"]


# keeping


@on_the_small
@given(answer_lists)
def test_a_consultation_gone_on_with_is_the_same(
    small: Knowledge, tmp_path: Path, answers: tuple[tuple[str, str], ...]
) -> None:
    """Saved and resumed, it holds and says the same as before."""
    consultation = consulted(small, *answers)
    consultation.at_stage("press")
    consultation.have("gauge", True)
    consultation.tried("coat-again", False)
    consultation.save(tmp_path / "kept.yaml")
    again = Consultation.resume(tmp_path / "kept.yaml", small)
    assert again.sheet == consultation.sheet
    assert everything(again) == everything(consultation)


def test_saving_writes_down_when_it_began_and_ended(
    small: Knowledge, tmp_path: Path
) -> None:
    """The first save fixes the beginning; only `finish` sets the end."""
    consultation = consulted(small, ("stairs", "yes"))
    consultation.save(tmp_path / "kept.yaml")
    begun = consultation.sheet.begun
    assert begun.endswith("+00:00")
    assert consultation.sheet.ended == ""
    consultation.save(tmp_path / "kept.yaml")
    assert consultation.sheet.begun == begun
    consultation.finish()
    assert consultation.sheet.ended >= begun


def test_what_cannot_be_read_or_written_is_said(
    small: Knowledge, tmp_path: Path
) -> None:
    """A missing file, a folder in its place, and a sheet that fits no knowledge."""
    with pytest.raises(FolderError):
        Consultation.resume(tmp_path / "none.yaml", small)
    with pytest.raises(FolderError):
        Consultation(small).save(tmp_path)
    (tmp_path / "bad.yaml").write_text("answers:\n  stares: yes\n")
    with pytest.raises(SheetError, match=r"bad\.yaml:2.*did you mean 'stairs'"):
        Consultation.resume(tmp_path / "bad.yaml", small)


# fixes that were tried


def test_a_fix_that_did_not_work_speaks_against_what_it_cures(
    small: Knowledge,
) -> None:
    """Its cause becomes less likely, it says why, and the fix leaves the plan."""
    before = consulted(small, ("stairs", "yes"))
    after = consulted(small, ("stairs", "yes"))
    after.tried("coat-again", False)
    there = {cause: chance for cause, _, chance in before.chances()}
    then = {cause: chance for cause, _, chance in after.chances()}
    assert then["few-coats"] < there["few-coats"]
    blamed = next(c for c in after.ranking().causes if c.cause == "few-coats")
    assert "“Coat again” was tried and did not help." in blamed.objections
    assert all(one.fix.id != "coat-again" for one in after.plan().parts["remake"])


def test_a_fix_that_worked_stays_in_the_plan_and_is_marked(small: Knowledge) -> None:
    """What helped is not taken away."""
    consultation = consulted(small, ("stairs", "yes"))
    consultation.tried("coat-again", True)
    found = [o for o in consultation.plan().parts["remake"] if o.fix.id == "coat-again"]
    assert [one.tried for one in found] == [True]


# looking ahead


@on_the_small
@given(answer_lists)
def test_an_outlook_is_what_would_come_of_the_answer(
    small: Knowledge, answers: tuple[tuple[str, str], ...]
) -> None:
    """For each answer, the causes in front are those that it would really leave."""
    consultation = consulted(small, *answers)
    outlooks = consultation.outlook(consultation.question("bands"))
    assert [outlook.answer for outlook in outlooks] == ["yes", "no"]
    for outlook in outlooks:
        then = consultation.what_if("bands", outlook.answer)
        assert list(outlook.chances) == then.chances()[:2]


def test_an_outlook_gives_the_reason_of_the_link(small: Knowledge) -> None:
    """Where the answer points to the first cause, it says why."""
    consultation = consulted(small, ("stairs", "yes"))
    yes, no = consultation.outlook(consultation.question("bands"))
    assert yes.because == "The thickness shows."
    assert no.because == ""


def test_a_choice_and_a_reading_have_an_outlook_for_each_side(
    small: Knowledge,
) -> None:
    """A choice by its names, a reading by the limits that rules hold it against."""
    consultation = consulted(small, ("stairs", "yes"))
    assert [o.answer for o in consultation.outlook(consultation.question("coats"))] == [
        "one coat",
        "two coats",
        "more",
    ]
    sides = consultation.outlook(consultation.question("thickness"), most=1)
    assert [side.answer for side in sides] == ["below 10 %", "above 10 %"]
    assert sides[0].because == "That is what thin means."
    assert len(sides[0].chances) == 1
    assert sides[0].chances[0][0] == "few-coats"


def test_a_question_after_a_tool_has_no_outlook(small: Knowledge) -> None:
    """Having a gauge says nothing of the causes."""
    consultation = consulted(small, ("stairs", "yes"))
    for finding in ("bands", "gives", "nick-felt", "coats", "stencil"):
        consultation.answer(finding, "don't know")
    question = consultation.next_question()
    assert question is not None
    assert question.kind == "tool"
    nothing: list[Outlook] = []
    assert consultation.outlook(question) == nothing


def test_the_opening_list_is_short_and_of_that_stage(built_in: Knowledge) -> None:
    """Each stage that can be picked has signs, all of that stage, on one screen."""
    consultation = Consultation(built_in)
    for stage in built_in.stages.values():
        if stage.here:
            signs = consultation.opening_signs(stage.id, most=14)
            assert 1 <= len(signs) <= 14
            every = consultation.opening_signs(stage.id)
            assert every[: len(signs)] == signs
            assert all(stage.id in sign.stages for sign in signs)
            assert all(sign.role == "sign" for sign in signs)
