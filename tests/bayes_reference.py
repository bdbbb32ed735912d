"""The same network worked out in two other ways, and random networks to compare on.

`full_sum` adds up the whole joint distribution, term by term, from the definitions
in `diagnose.network`. `Agrum` gives the network to pyAgrum, an independent library
for exact inference; the limit on the number of causes is a node there that counts
the causes and is observed as one or two.
"""

from __future__ import annotations

import random
import warnings
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from math import log2, prod
from typing import Any

import numpy as np

from diagnose.network import Network, Outcome

with warnings.catch_warnings():
    # Its wrapper warns on import, and breaks where that warning is made an error.
    warnings.simplefilter("ignore")
    import pyagrum as _pyagrum

agrum: Any = _pyagrum  # it has types in part only

Evidence = Mapping[str, Sequence[float]]
Chances = dict[str, float]


@dataclass(frozen=True, slots=True)
class Posterior:
    """The chances of causes, of states and of sets of causes, and of the evidence.

    `evidence` is the chance of the evidence within the limit on the causes, with
    the odds of each set of causes for its prior (they do not sum to one).
    """

    causes: dict[str, float]
    states: dict[str, float]
    sets: dict[frozenset[str], float]
    evidence: float


def full_sum(
    network: Network,
    causes: Iterable[str],
    evidence: Evidence,
    weights: Mapping[str, float] | None = None,
    sizes: Sequence[int] = (1, 2),
) -> Posterior:
    """Add up the joint distribution over all causes and all states."""
    causes = list(causes)
    states = list(network.states)
    total = 0.0
    on = dict.fromkeys([*causes, *states], 0.0)
    sets: dict[frozenset[str], float] = {}
    for there in product((False, True), repeat=len(causes)):
        present = {c for c, is_there in zip(causes, there, strict=True) if is_there}
        if len(present) not in sizes:
            continue
        prior = prod(network.odds[c] * (weights or {}).get(c, 1.0) for c in present)
        for made in product((False, True), repeat=len(states)):
            nodes = present | {
                s for s, is_on in zip(states, made, strict=True) if is_on
            }
            weight = prior
            for state in states:
                chance = 1 - missed(network.states[state], nodes)
                weight *= chance if state in nodes else 1 - chance
            for finding, speaks in evidence.items():
                chances = value_chances(network, finding, nodes)
                weight *= sum(c * s for c, s in zip(chances, speaks, strict=True))
            total += weight
            key = frozenset(present)
            sets[key] = sets.get(key, 0.0) + weight
            for node in nodes:
                on[node] += weight
    return Posterior(
        {cause: on[cause] / total for cause in causes},
        {state: on[state] / total for state in states},
        {members: weight / total for members, weight in sets.items()},
        total,
    )


def missed(makers: Iterable[tuple[str, float]], nodes: set[str]) -> float:
    """The chance that none of the makers that are there brings it about."""
    return prod(1 - strength for maker, strength in makers if maker in nodes)


def value_chances(network: Network, finding: str, nodes: set[str]) -> list[float]:
    """P(value | causes and states that are there), for each value of a finding."""
    outcomes = network.outcomes[finding]
    claims = [1 - missed(outcome.makers, nodes) for outcome in outcomes]
    if len(outcomes) == 1:
        no = (1 - outcomes[0].anyway) * (1 - claims[0])
        return [1 - no, no]
    none = prod(1 - claim for claim in claims)
    usual = [outcome.anyway / sum(o.anyway for o in outcomes) for outcome in outcomes]
    if sum(claims) == 0:
        return usual
    return [
        none * share + (1 - none) * claim / sum(claims)
        for share, claim in zip(usual, claims, strict=True)
    ]


class Agrum:
    """A network, within a limit on its causes, in pyAgrum.

    Args:
        network: the numbers.
        causes: the causes on the table.
        weights: what the odds of causes are multiplied by.
        findings: the findings to take along; all of them where left out.
    """

    def __init__(
        self,
        network: Network,
        causes: Iterable[str],
        weights: Mapping[str, float] | None = None,
        findings: Iterable[str] | None = None,
    ) -> None:
        self.causes = sorted(causes)
        self._net = agrum.BayesNet()
        for cause in self.causes:
            odds = network.odds[cause] * (weights or {}).get(cause, 1.0)
            self._add(cause, 2)
            self._net.cpt(cause)[:] = [1 / (1 + odds), odds / (1 + odds)]
        self.states: list[str] = []
        nodes = set(self.causes)
        for state, makers in network.states.items():
            if any(maker in nodes for maker, _ in makers):
                nodes.add(state)
                self.states.append(state)
                self._noisy_or(state, 0.0, makers, nodes)
        self._yes_no: set[str] = set()
        for finding in network.outcomes if findings is None else findings:
            outcomes = network.outcomes[finding]
            if len(outcomes) == 1:
                self._yes_no.add(finding)
                self._noisy_or(finding, outcomes[0].anyway, outcomes[0].makers, nodes)
            else:
                self._choice(network, finding, nodes)
        self._last = self._count()
        self._inference = agrum.LazyPropagation(self._net)

    def _add(self, name: str, values: int) -> None:
        self._net.add(agrum.LabelizedVariable(name, "", values))

    def _noisy_or(
        self,
        name: str,
        leak: float,
        makers: Iterable[tuple[str, float]],
        nodes: set[str],
    ) -> None:
        self._net.addNoisyORNet(agrum.LabelizedVariable(name, "", 2), leak)
        for maker, strength in makers:
            if maker in nodes:
                self._net.addWeightedArc(maker, name, strength)

    def _choice(self, network: Network, finding: str, nodes: set[str]) -> None:
        outcomes = network.outcomes[finding]
        parents = sorted(
            {maker for outcome in outcomes for maker, _ in outcome.makers} & nodes
        )
        self._add(finding, len(outcomes))
        for parent in parents:
            self._net.addArc(parent, finding)
        for values in product((0, 1), repeat=len(parents)):
            there = dict(zip(parents, values, strict=True))
            on = {parent for parent, is_on in there.items() if is_on}
            table = self._net.cpt(finding)
            if there:
                table[there] = value_chances(network, finding, on)
            else:
                table[:] = value_chances(network, finding, on)

    def _count(self) -> str:
        """Count the causes, one after the other; the node that has counted all.

        Its values are none, one, two, more.
        """
        before = "none yet"
        self._add(before, 4)
        self._net.cpt(before)[:] = [1.0, 0.0, 0.0, 0.0]
        for cause in self.causes:
            name = f"causes up to {cause}"
            self._add(name, 4)
            self._net.addArc(cause, name)
            self._net.addArc(before, name)
            for is_there, count in product((0, 1), range(4)):
                row = [0.0] * 4
                row[min(count + is_there, 3)] = 1.0
                self._net.cpt(name)[{cause: is_there, before: count}] = row
            before = name
        return before

    def posterior(
        self, evidence: Evidence
    ) -> tuple[dict[str, float], dict[str, float]]:
        """The chances of the causes and of the states."""
        given = {
            # Of a yes-no finding, no comes first there.
            name: list(speaks[::-1] if name in self._yes_no else speaks)
            for name, speaks in evidence.items()
        }
        given[self._last] = [0, 1, 1, 0]
        self._inference.setEvidence(given)
        self._inference.makeInference()
        return (
            {cause: self._chance(cause) for cause in self.causes},
            {state: self._chance(state) for state in self.states},
        )

    def _chance(self, node: str) -> float:
        return float(self._inference.posterior(node)[1])


def random_network(
    pick: random.Random, causes: int, states: int, findings: int
) -> Network:
    """A network with states in chains, yes-no and choice findings, and leaks."""
    names = [f"c{n}" for n in range(causes)]
    nodes = list(names)
    made: dict[str, tuple[tuple[str, float], ...]] = {}
    for n in range(states):
        made[f"s{n}"] = _makers(pick, nodes, 1)
        nodes.append(f"s{n}")
    outcomes: dict[str, tuple[Outcome, ...]] = {}
    for n in range(findings):
        name = f"f{n}"
        if pick.random() < 0.7:
            leak = pick.choice([0.005, 0.02, 0.07, 0.35])
            outcomes[name] = (Outcome(name, "yes", leak, _makers(pick, nodes, 0)),)
        else:
            outcomes[name] = tuple(
                Outcome(name, f"v{v}", pick.uniform(0.05, 0.9), _makers(pick, nodes, 0))
                for v in range(pick.randint(2, 4))
            )
    odds = {name: pick.uniform(0.002, 0.2) for name in names}
    return Network(odds, made, outcomes)


def _makers(
    pick: random.Random, nodes: Sequence[str], least: int
) -> tuple[tuple[str, float], ...]:
    count = pick.randint(least, min(3, len(nodes)))
    chosen = sorted(pick.sample(list(nodes), count))
    return tuple((node, pick.choice([0.07, 0.28, 0.6, 0.77, 0.91])) for node in chosen)


def random_evidence(
    pick: random.Random, network: Network, soft: float = 0.4
) -> dict[str, list[float]]:
    """Answers to some of the findings, a share of them soft."""
    evidence: dict[str, list[float]] = {}
    for finding in network.outcomes:
        count = len(network.values(finding))
        if pick.random() < 0.4:
            continue
        if pick.random() < soft:
            evidence[finding] = [pick.uniform(0.05, 1.0) for _ in range(count)]
        else:
            certain = pick.randrange(count)
            evidence[finding] = [float(n == certain) for n in range(count)]
    return evidence


def random_cases(count: int, seed: int) -> Iterator[tuple[Network, dict[str, Any]]]:
    """Random networks of random size, each with evidence."""
    for number in range(count):
        pick = random.Random(f"{seed}/{number}")
        network = random_network(
            pick, pick.randint(1, 6), pick.randint(0, 5), pick.randint(1, 8)
        )
        yield network, random_evidence(pick, network)


def differences(one: Mapping[str, float], other: Mapping[str, float]) -> float:
    """The largest difference between two sets of chances of the same things."""
    assert one.keys() == other.keys()
    return max((abs(one[name] - other[name]) for name in one), default=0.0)


def mutual_information(joint: np.ndarray) -> float:
    """Bits, from a joint distribution, by its definition, term by term."""
    bits = 0.0
    for row in range(joint.shape[0]):
        for column in range(joint.shape[1]):
            chance = float(joint[row, column])
            if chance > 0:
                both = log2(joint[row].sum()) + log2(joint[:, column].sum())
                bits += chance * (log2(chance) - both)
    return bits
