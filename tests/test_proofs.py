"""The checks that settle a cause, as findings."""

from __future__ import annotations

import pytest
from knowledge_copy import KnowledgeCopy

from diagnose import Consultation
from diagnose.model import model_of
from diagnose.proofs import proofs_of
from diagnose.records import Knowledge, Proof


def test_each_settling_check_is_a_finding_of_its_cause_alone(
    built_in: Knowledge,
) -> None:
    """Its text, minutes, tools and cautions are those of the check."""
    model = model_of(built_in)
    for cause in built_in.causes.values():
        proofs = list(proofs_of(cause))
        assert len(proofs) == len(cause.settled_by)
        for id, check in proofs:
            proof = built_in.findings[id]
            assert isinstance(proof, Proof)
            assert (proof.how, proof.minutes) == (check.how, check.minutes)
            assert (proof.needs, proof.cautions) == (check.needs, check.cautions)
            (outcome,) = model.network.outcomes[id]
            assert [maker for maker, _ in outcome.makers] == [cause.id]
            assert cause.name in proof.question


def test_a_check_that_found_it_puts_its_cause_first(built_in: Knowledge) -> None:
    """Whatever the cause: nothing else is made likely by its own check."""
    for cause in built_in.causes:
        consultation = Consultation(built_in)
        consultation.answer(f"proof-of-{cause}", "yes")
        assert consultation.chances()[0][0] == cause


def test_a_check_settles_what_the_signs_leave_open(
    small_with_proofs: Knowledge,
) -> None:
    """A yes raises the cause, a no lowers it; by Bayes' rule as 0.91 against 0.02."""
    consultation = Consultation(small_with_proofs)
    consultation.answer("bands", "yes")
    chances = {cause: chance for cause, _, chance in consultation.chances()}
    yes = consultation.what_if("proof-of-nick", "yes").chances()
    no = {c: p for c, _, p in consultation.what_if("proof-of-nick", "no").chances()}
    assert yes[0][0] == "nick"
    assert yes[0][2] > chances["nick"] > no["nick"]
    odds = chances["nick"] / (1 - chances["nick"])
    leak = small_with_proofs.scales.seen_anyway["rarely"]
    finds = 1 - (1 - small_with_proofs.scales.strengths["almost always"]) * (1 - leak)
    after = odds * finds / leak
    assert yes[0][2] == pytest.approx(after / (1 + after))


def test_it_is_asked_with_the_words_of_the_check(small_with_proofs: Knowledge) -> None:
    """The question names the cause, and says how to check."""
    question = Consultation(small_with_proofs).question("proof-of-nick")
    record = small_with_proofs.causes["nick"]
    assert question.text == f"Make this check. Is it {record.name}?"
    assert question.how == record.settled_by[0].how
    assert set(question.takes) == {"yes", "no", "somewhat", "don't know"}


def test_words_never_answer_it(built_in: Knowledge) -> None:
    """What the person blames is no check that was made."""
    consultation = Consultation(built_in)
    for cause in built_in.causes.values():
        heard = consultation.understand(f"I think it is {cause.name}.").heard
        assert not any(one.finding.startswith("proof-of-") for one in heard)


def test_no_record_may_take_its_id(copy: KnowledgeCopy) -> None:
    """Ids that start so are made from the causes."""
    copy.edit("findings/all.yaml", "id: gives", "id: ¦proof-of-slack")
    assert any("'proof-of-'" in fault for fault in copy.faults())
