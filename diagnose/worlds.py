"""Worlds drawn from the knowledge's own links: what is so where some causes are there.

A world has one or two causes. Its states, and then its findings, are drawn from the
links once, so that what hangs on one state comes or stays away together. An answer
that would rule one of its causes out is not drawn: in that world it isn't so.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from diagnose.checks import conditions
from diagnose.figures import CLEARLY, Figures
from diagnose.model import Model
from diagnose.network import NOT_COVERED, Outcome
from diagnose.questions import Question
from diagnose.records import Condition, Finding
from diagnose.sheets import DONT_KNOW

AGAIN = 50
"""So many worlds are drawn before a set of causes is said to show in no sign."""


class NoSuchWorldError(ValueError):
    """These causes can't be there together, or show in nothing that anyone comes with.

    No person sees it: whoever draws worlds draws other causes then.
    """


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
            chance = self._any(makers)
            if chance and self._random(state).random() < chance:
                self.on.add(state)

    def is_made(self, finding: str) -> bool:
        """Whether the causes brought a yes-no finding about."""
        (outcome,) = self.model.network.outcomes[finding]
        return self._random(finding).random() < self._any(outcome.makers)

    def value(self, finding: str) -> str:
        """What is to be seen of a finding.

        Raises:
            NoSuchWorldError: every value of it rules one of the causes out.
        """
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

    def read(self, reading: str) -> str:
        """A reading as a gauge gives it: no two worlds read alike, and none is at odds
        with another of the same world."""
        return self.figures.text(reading)

    @cached_property
    def figures(self) -> Figures:
        """What gauges read here."""
        return Figures(self.model, self.value, self.asked)

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
        if sum(chances.values()) <= 0:
            raise NoSuchWorldError(f"{finding} rules {self.causes} out anyhow")
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
    person stands, and the signs that they come with.

    Raises:
        NoSuchWorldError: they show in none.
    """
    for again in range(AGAIN):
        world = World(model, causes, f"{run}.{again}")
        stage, signs = opening(world, told)
        if signs:
            return world, stage, signs
    raise NoSuchWorldError(f"{causes} show in no opening sign")


def draw_causes(
    model: Model, among: Sequence[str], many: int, draw: random.Random
) -> tuple[str, ...]:
    """One or two causes, as often as the model takes them to be there before any
    answer: in proportion to their odds, two in proportion to the product of both."""
    causes = sorted(set(among) - {NOT_COVERED})
    odds = [model.network.odds[cause] for cause in causes]
    while True:
        drawn = {draw.choices(causes, odds)[0] for _ in range(min(many, len(causes)))}
        if len(drawn) == min(many, len(causes)):
            return tuple(sorted(drawn))


def reading_as(model: Model, seen: Callable[[str], str], reading: Finding) -> str:
    """A reading that lies well on the side of a limit where what is seen would be.

    One that only others follow from is not known; those are asked for then.
    """
    if reading.id not in model.tests:
        return DONT_KNOW
    low, high = reading.lowest or 0.0, reading.highest or 0.0
    margin = CLEARLY * (reading.give_or_take or 0.0)
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
