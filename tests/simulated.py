"""Consultations drawn from the knowledge's own links: a world, and who answers of it.

A world has one or two causes. Its states, and then its findings, are drawn from the
links once, so that what hangs on one state comes or stays away together. An answer
that would rule one of its causes out is not drawn: in that world it isn't so.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass, field

from oracle import reading_as

from diagnose import Consultation
from diagnose.model import Model
from diagnose.network import Outcome
from diagnose.questions import Question
from diagnose.sheets import DONT_KNOW

Ask = Callable[[Consultation], list[Question]]
"""From a consultation to the questions that are put next; [] to stop."""


def one_at_a_time(consultation: Consultation) -> list[Question]:
    """The interview's choice, each question by itself."""
    return consultation.next_questions(1)


@dataclass
class World:
    """What is so where these causes are there; the same for the same seed."""

    model: Model
    causes: tuple[str, ...]
    seed: str
    on: set[str] = field(init=False)
    drawn: dict[str, str] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        self.on = set(self.causes)
        for state, makers in self.model.network.states.items():
            if self._random(state).random() < self._any(makers):
                self.on.add(state)

    def is_made(self, finding: str) -> bool:
        """Whether the causes brought a yes-no finding about."""
        (outcome,) = self.model.network.outcomes[finding]
        return self._random(finding).random() < self._any(outcome.makers)

    def value(self, finding: str) -> str:
        """What is to be seen of a finding."""
        if finding not in self.drawn:
            chances = self._chances(finding)
            draw = self._random(finding)
            self.drawn[finding] = draw.choices(list(chances), list(chances.values()))[0]
        return self.drawn[finding]

    def answer(self, question: Question) -> str:
        """What someone in this world answers."""
        if question.kind == "reading":
            reading = self.model.knowledge.findings[question.id]
            return reading_as(self.model, self.value, reading)
        return self.value(question.id)

    def asked(self, what: str) -> random.Random:
        """Chance about the person: whether they know, whether they have the tool."""
        return self._random(f"asked {what}")

    def _random(self, what: str) -> random.Random:
        return random.Random(f"{self.seed}/{'+'.join(self.causes)}/{what}")

    def _any(self, makers: Iterable[tuple[str, float]]) -> float:
        return 1 - math.prod(1 - share for maker, share in makers if maker in self.on)

    def _chances(self, finding: str) -> dict[str, float]:
        outcomes = self.model.network.outcomes[finding]
        if len(outcomes) == 1:
            yes = 1 - (1 - outcomes[0].anyway) * (1 - self._any(outcomes[0].makers))
            chances = {outcomes[0].value: yes, "no": 1 - yes}
        else:
            chances = self._choice(outcomes)
        for value in chances:
            effect = self.model.effects.get((finding, value), {})
            chances[value] *= math.prod(effect.get(cause, 1.0) for cause in self.causes)
        assert sum(chances.values()) > 0, f"{finding} rules {self.causes} out anyhow"
        return chances

    def _choice(self, outcomes: Collection[Outcome]) -> dict[str, float]:
        claims = {one.value: self._any(one.makers) for one in outcomes}
        none = math.prod(1 - claim for claim in claims.values())
        total = sum(claims.values()) or 1.0
        usual = sum(one.anyway for one in outcomes)
        return {
            one.value: none * one.anyway / usual
            + (1 - none) * claims[one.value] / total
            for one in outcomes
        }


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


def opening(world: World, told: float) -> tuple[str, list[str]]:
    """Where the person stands, and the signs that they come with.

    They come with what the causes did: they stand where one such sign is met, and
    tell each other that is met there with the chance `told`. What is there for no
    listed reason brings nobody. ('', []) where the causes show in no opening sign.
    """
    findings = world.model.knowledge.findings.values()
    signs = [f for f in findings if f.opening == "yes" and world.is_made(f.id)]
    if not signs:
        return "", []
    draw = world.asked("opening")
    first = draw.choice(signs)
    stage = draw.choice(first.stages)
    seen = [f.id for f in signs if stage in f.stages and f is not first]
    return stage, [first.id, *(sign for sign in seen if draw.random() < told)]


def played(
    model: Model, causes: tuple[str, ...], run: int, told: float = 2 / 3
) -> tuple[World, str, list[str]]:
    """The first world of that run in which the causes show: the world, where the
    person stands, and the signs that they come with."""
    for again in range(50):
        world = World(model, causes, f"{run}.{again}")
        stage, signs = opening(world, told)
        if signs:
            return world, stage, signs
    raise AssertionError(f"{causes} show in no opening sign")


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
