"""Cases of an imagined shop, drawn in bulk from a network whose numbers are known.

A shop's own numbers are the written ones, shaken: how common a cause is by a factor, a
strength by a step in log-odds. A case has one cause; its states, and then its findings,
are drawn from the links (ancestral sampling); a few answers are slips. What is answered
does not hang on what the answer is: a share of all that bears on the cause and on those
it is taken for.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from diagnose.cases.learn import Learnt
from diagnose.cases.record import Case, Confirmed
from diagnose.explanations import spread
from diagnose.model import Model
from diagnose.network import NOT_COVERED, Network, reachable
from diagnose.records import Knowledge, Proof

Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]


def with_network(knowledge: Knowledge, network: Network) -> Model:
    """A model of the knowledge with other numbers."""
    model = Model(knowledge)
    model.__dict__["network"] = network
    return model


def shaken(
    network: Network, rng: np.random.Generator, common: float = 1.0, links: float = 0.7
) -> Network:
    """The network of a shop: other numbers, the same links.

    Args:
        network: the written numbers.
        rng: chance.
        common: standard deviation of the log of how common causes are.
        links: standard deviation of the log-odds of strengths.
    """

    def moved(strength: float) -> float:
        odds = np.log(strength / (1 - strength)) + links * rng.standard_normal()
        return float(np.clip(1 / (1 + np.exp(-odds)), 0.02, 0.98))

    def makers(old: Sequence[tuple[str, float]]) -> tuple[tuple[str, float], ...]:
        return tuple((m, s if m == NOT_COVERED else moved(s)) for m, s in old)

    return Network(
        {
            cause: odds
            * (1.0 if cause == NOT_COVERED else np.exp(common * rng.standard_normal()))
            for cause, odds in network.odds.items()
        },
        {state: makers(old) for state, old in network.states.items()},
        {
            finding: tuple(replace(one, makers=makers(one.makers)) for one in outcomes)
            for finding, outcomes in network.outcomes.items()
        },
    )


def as_learnt(network: Network, learnt: Learnt) -> Network:
    """The network with the numbers that were learnt."""

    def link(maker: str, target: str, value: str) -> float:
        return learnt.links[maker, target, value].after

    return Network(
        {c: e.after / (1 - e.after) for c, e in learnt.causes.items()},
        {
            state: tuple((m, link(m, state, "")) for m, _ in makers)
            for state, makers in network.states.items()
        },
        {
            finding: tuple(
                replace(
                    one,
                    makers=tuple(
                        (m, link(m, finding, one.value)) for m, _ in one.makers
                    ),
                )
                for one in outcomes
            )
            for finding, outcomes in network.outcomes.items()
        },
    )


@dataclass(frozen=True)
class Draws:
    """Draws cases of a shop.

    Args:
        model: the knowledge; its numbers are not used.
        truth: the shop's numbers.
        share: so much of what bears on the cause is answered.
    """

    model: Model
    truth: Network
    share: float = 0.5

    def cases(self, count: int, rng: np.random.Generator) -> list[tuple[str, Case]]:
        """So many cases with their ids, in no order."""
        causes = [c for c in self.truth.odds if c != NOT_COVERED]
        odds = np.array([self.truth.odds[c] for c in causes])
        drawn = rng.choice(len(causes), size=count, p=odds / odds.sum())
        found: list[Case] = []
        for place, size in enumerate(np.bincount(drawn, minlength=len(causes))):
            if size:
                found += self.of(causes[place], int(size), rng)
        order = rng.permutation(len(found))
        start = datetime.date(2025, 1, 1)
        made = []
        for number, n in enumerate(order):
            case = found[n]
            case.date = (start + datetime.timedelta(days=number % 365)).isoformat()
            made.append((f"{case.date}-{number:06x}", case))
        return made

    def of(self, cause: str, size: int, rng: np.random.Generator) -> list[Case]:
        """So many cases of one cause."""
        network, findings = self.truth, self.model.knowledge.findings
        on: dict[str, Bools] = {cause: np.ones(size, dtype=bool)}
        for state in reachable(network, [cause]):
            made = 1 - _missed(network.states[state], on, size)
            on[state] = rng.random(size) < made
        own = self._asked(cause)
        sure = self.model.knowledge.scales.answer_sure
        rules_out = {key for key, e in self.model.effects.items() if e.get(cause) == 0}
        values: dict[str, list[str]] = {}
        for finding in own:
            outcomes = network.outcomes[finding]
            chances = spread(
                [1 - _missed(one.makers, on, size) for one in outcomes],
                [one.anyway for one in outcomes],
            )
            for n, value in enumerate(network.values(finding)):
                if (finding, value) in rules_out:
                    chances[:, n] = 0.0
            chances /= chances.sum(axis=1, keepdims=True)
            pick = (chances.cumsum(axis=1) < rng.random((size, 1))).sum(axis=1)
            names = network.values(finding)
            slip = rng.random(size) > sure
            other = (pick + 1 + rng.integers(len(names) - 1, size=size)) % len(names)
            if not rules_out.isdisjoint((finding, name) for name in names):
                slip[:] = False
            pick = np.minimum(np.where(slip, other, pick), len(names) - 1)
            values[finding] = [names[n] for n in pick]
        answered = rng.random((size, len(own))) < self.share
        cases = []
        for n in range(size):
            case = Case(date="2025-01-01", confirmed=[Confirmed(cause)])
            for finding, is_answered in zip(own, answered[n], strict=True):
                if is_answered:
                    record = findings[finding]
                    case.group(record)[finding] = values[finding][n]
            cases.append(case)
        return cases

    def _asked(self, cause: str) -> list[str]:
        """The findings that bear on the cause and on those that it is taken for."""
        knowledge = self.model.knowledge
        alike = [one.id for one in knowledge.causes[cause].looks_like]
        there = {cause, *alike, *reachable(self.truth, [cause, *alike])}
        found = []
        for id, outcomes in self.truth.outcomes.items():
            finding = knowledge.findings[id]
            if isinstance(finding, Proof) or finding.measured_by is not None:
                continue
            if any(m in there for one in outcomes for m, _ in one.makers):
                found.append(id)
        return found


def _missed(
    makers: Sequence[tuple[str, float]], on: Mapping[str, Bools], size: int
) -> Floats:
    chance: Floats = np.ones(size)
    for maker, strength in makers:
        if maker in on:
            chance[on[maker]] *= 1 - strength
    return chance
