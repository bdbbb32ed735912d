"""Consultations in worlds drawn from the knowledge's own links."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from diagnose import Consultation
from diagnose.questions import Question
from diagnose.sheets import DONT_KNOW
from diagnose.worlds import World, opening, played

__all__ = ["Told", "World", "consult", "one_at_a_time", "opening", "played"]

Ask = Callable[[Consultation], list[Question]]
"""From a consultation to the questions that are put next; [] to stop."""


def one_at_a_time(consultation: Consultation) -> list[Question]:
    """The interview's choice, each question by itself."""
    return consultation.next_questions(1)


@dataclass(frozen=True, slots=True)
class Told:
    """How one simulated consultation went."""

    causes: tuple[str, ...]
    places: tuple[int, ...]
    """Where each cause ended in the ranking; 1 is first."""
    chance: float
    """The chance that the first cause had at the end."""
    first: str
    questions: int
    screens: int
    """Questions that one glance answers stand on one screen."""
    minutes: float


def consult(
    world: World,
    stage: str,
    signs: Iterable[str],
    unknown: float,
    wrong: float = 0.0,
    most: int = 60,
    ask: Ask = one_at_a_time,
) -> Told:
    """A whole consultation.

    Args:
        world: what is so.
        stage: where the person stands.
        signs: what they come with.
        unknown: the share of the questions that gets no answer.
        wrong: the share of the other answers that is any other of the values.
        most: the screens after which they give up.
        ask: what is put next.
    """
    consultation = Consultation(world.model.knowledge)
    consultation.at_stage(stage)
    for sign in signs:
        consultation.answer(sign, "yes")
    questions, screens, minutes = 0, 0, 0.0
    while screens < most and (asked := ask(consultation)):
        screens += 1
        for question in asked:
            draw = world.asked(question.id)
            if question.kind == "tool":
                consultation.have(question.id, draw.random() < 0.5)
                continue
            questions += 1
            minutes += question.minutes
            value = world.answer(question)
            if draw.random() < unknown:
                value = DONT_KNOW
            elif draw.random() < wrong and question.kind == "finding":
                others = world.model.network.values(question.id)
                value = draw.choice([one for one in others if one != value])
            consultation.answer(question.id, value)
    chances = consultation.chances()
    order = [cause for cause, _, _ in chances]
    places = tuple(
        order.index(cause) + 1 if cause in order else len(order) + 1
        for cause in world.causes
    )
    return Told(
        world.causes, places, chances[0][2], order[0], questions, screens, minutes
    )
