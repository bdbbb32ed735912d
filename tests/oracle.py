"""Answers a consultation as a given cause would make it."""

from __future__ import annotations

from collections.abc import Callable

from diagnose import Consultation
from diagnose.checks import conditions
from diagnose.errors import AnswerError
from diagnose.model import Model, model_of
from diagnose.questions import Question
from diagnose.records import Condition, Finding, Knowledge, Proof
from diagnose.sheets import DONT_KNOW

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


def reading_as(model: Model, seen: Callable[[str], str], reading: Finding) -> str:
    """A reading that lies well on the side of a limit where what is seen would be.

    One that only others follow from is not known; those are asked for then.
    """
    if reading.id not in model.tests:
        return DONT_KNOW
    low, high = reading.lowest or 0.0, reading.highest or 0.0
    margin = 3 * (reading.give_or_take or 0.0)
    for rule in model.knowledge.rules.values():
        for _, _, condition in conditions(rule):
            if condition.reading != reading.id:
                continue
            for part in rule.then.conclude:
                if seen(part.finding) == part.value:
                    return f"{beyond(condition, margin, low, high):g} {reading.unit}"
    limits = list(model.tests.get(reading.id, {}).values())
    lower = max([low, *(c.below + margin for c in limits if c.below is not None)])
    upper = min([high, *(c.above - margin for c in limits if c.above is not None)])
    return f"{(lower + upper) / 2:g} {reading.unit}"


def beyond(condition: Condition, margin: float, low: float, high: float) -> float:
    """A value that meets a limit clearly, and lies in the reading's range."""
    if condition.below is not None:
        return max(low, condition.below - margin)
    if condition.above is not None:
        return min(high, condition.above + margin)
    first, last = condition.between or (low, high)
    return (first + last) / 2


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
