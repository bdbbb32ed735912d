"""Answers a consultation as a given cause would make it."""

from __future__ import annotations

from collections.abc import Callable

from diagnose import Consultation
from diagnose.errors import AnswerError
from diagnose.model import model_of
from diagnose.questions import Question
from diagnose.records import Finding, Knowledge, Proof
from diagnose.sheets import DONT_KNOW
from diagnose.worlds import beyond, reading_as

__all__ = [
    "answer_as",
    "beyond",
    "consult_as",
    "opening_sign",
    "reading_as",
    "strongest",
]

Chooser = Callable[[dict[str, float]], str]
"""From the chance of each value to the value that is answered."""


def strongest(chances: dict[str, float]) -> str:
    """The likeliest value: a yes where the cause makes it more likely than not."""
    return max(chances, key=lambda value: (chances[value], value))


def answer_as(
    knowledge: Knowledge, cause: str, question: Question, choose: Chooser = strongest
) -> str:
    """What someone whose screen has that cause would answer."""
    model = model_of(knowledge)
    if question.kind == "tool":
        return "yes"
    finding = knowledge.findings[question.id]
    if isinstance(finding, Proof):
        return DONT_KNOW  # the signs alone have to lead there
    if finding.kind == "reading":
        return reading_as(
            model, lambda id: choose(model.chances_alone(cause, id)), finding
        )
    return choose(model.chances_alone(cause, finding.id))


def opening_sign(knowledge: Knowledge, cause: str) -> str:
    """The sign of the opening lists that the cause makes likeliest, for a good shop's
    share of it: what someone would come with."""
    model = model_of(knowledge)
    signs = [f for f in knowledge.findings.values() if f.opening == "yes"]

    def pull(finding: Finding) -> tuple[float, str]:
        made = model.chances_alone(cause, finding.id)["yes"]
        anyway = model.chances_anyway(finding.id)["yes"]
        return (made - anyway, finding.id)

    return max(signs, key=pull).id


def consult_as(
    knowledge: Knowledge, cause: str, choose: Chooser = strongest, most: int = 200
) -> Consultation:
    """A whole consultation answered as the cause makes it."""
    consultation = Consultation(knowledge)
    consultation.answer(opening_sign(knowledge, cause), "yes")
    for _ in range(most):
        question = consultation.next_question()
        if question is None:
            break
        value = answer_as(knowledge, cause, question, choose)
        if question.kind == "tool":
            consultation.have(question.id, value == "yes")
            continue
        try:
            consultation.answer(question.id, value)
        except AnswerError as error:  # pragma: no cover - a fault in the knowledge
            raise AssertionError(f"{question.id}: {error}") from error
    return consultation
