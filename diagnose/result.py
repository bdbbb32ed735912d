"""The whole result of a consultation as plain data, as `rank --json` prints it."""

from __future__ import annotations

from typing import Any

from diagnose.consultation import Consultation
from diagnose.questions import Question
from diagnose.ranking import RankedCause
from diagnose.words import Understood

DIGITS = 6
"""Places a chance is rounded to."""


def result(consultation: Consultation, understood: Understood | None) -> dict[str, Any]:
    """Everything that follows from the answers, ready for JSON."""
    ranking = consultation.ranking()
    plan = consultation.plan()
    cautions = consultation.knowledge.cautions
    question = consultation.next_question()
    return {
        "causes": [_cause(cause) for cause in ranking.causes],
        "suspected_states": [
            {
                "state": state.state,
                "name": state.name,
                "probability": round(state.probability, DIGITS),
                "by": list(state.by),
            }
            for state in ranking.states
        ],
        "ruled_out": [
            {
                "cause": out.cause,
                "name": out.name,
                "because": out.because,
                "by": list(out.by),
            }
            for out in ranking.ruled_out
        ],
        "unexplained": [
            {"finding": one.finding, "value": one.value, "says": one.says}
            for one in ranking.unexplained
        ],
        "contradictions": list(ranking.contradictions),
        "tell_at_once": list(ranking.tells),
        "understood": _understood(understood),
        "next_question": _question(question) if question else None,
        "nothing_to_ask": consultation.nothing_to_ask(),
        "plan": {
            moment: [
                {
                    "fix": one.fix.id,
                    "name": one.fix.name,
                    "chance": round(one.chance, DIGITS),
                    "minutes": one.fix.minutes,
                    "how": one.fix.how,
                    "in_numbers": list(one.in_numbers),
                    "why": one.fix.why,
                    "worked_when": one.fix.worked_when,
                    "materials": list(one.fix.materials),
                    "for_causes": list(one.causes),
                    "cautions": list(one.fix.cautions),
                }
                for one in part
            ]
            for moment, part in plan.parts.items()
        },
        "cautions": [
            {
                "caution": id,
                "name": cautions[id].name,
                "danger": cautions[id].danger,
                "do": cautions[id].do,
                "ask": cautions[id].ask,
            }
            for id in plan.cautions
        ],
    }


def _cause(cause: RankedCause) -> dict[str, Any]:
    return {
        "cause": cause.cause,
        "name": cause.name,
        "probability": round(cause.probability, DIGITS),
        "because": [" ".join(trail) for trail in cause.trails] + list(cause.weighed),
        "against": list(cause.objections),
        "settled_by": list(cause.settled_by),
    }


def _understood(understood: Understood | None) -> dict[str, Any]:
    if understood is None:
        return {"heard": [], "unclear": [], "twofold": [], "maybe": [], "left": []}
    return {
        "heard": [
            {"finding": one.finding, "value": one.value, "words": one.words}
            for one in understood.heard
        ],
        "unclear": [
            {"words": one.words, "findings": list(one.findings)}
            for one in understood.unclear
        ],
        "twofold": [
            {"words": one.words, "finding": one.finding, "ways": list(one.ways)}
            for one in understood.twofold
        ],
        "maybe": [
            {
                "words": one.words,
                "meanings": [
                    {"finding": id, "value": value} for id, value in one.meanings
                ],
            }
            for one in understood.maybe
        ],
        "left": list(understood.left),
    }


def _question(question: Question) -> dict[str, Any]:
    return {
        "id": question.id,
        "kind": question.kind,
        "question": question.text,
        "how": question.how,
        "takes": dict(question.takes),
        "unit": question.unit,
        "minutes": question.minutes,
    }
