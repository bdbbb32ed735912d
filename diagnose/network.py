"""Knowledge → numbers: which cause makes which state, which state shows as what.

    P(state)           = 1 - product over its makers that are there of (1 - strength)
    P(finding is yes)  = 1 - (1 - seen_anyway) * the same product          (noisy-OR)
    P(choice is v)     = none * usual(v) + (1 - none) * claim(v) / sum of the claims,
                         where claim(v) = 1 - the same product over the makers of v,
                         and none = the product of (1 - claim) over all the choices

The noisy-OR is Pearl's (Probabilistic Reasoning in Intelligent Systems, 1988,
section 4.3); strengths are those of one maker by itself, without seen_anyway.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from diagnose.records import Cause, Knowledge, Proof, State
from diagnose.rules import links_of

NOT_COVERED = "not-covered"
"""The cause that is always on the table: something that no record describes."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """One value of a finding: its chance without any maker, and its makers."""

    finding: str
    value: str
    anyway: float
    makers: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class Network:
    """Causes, states and findings as numbers.

    Args:
        odds: for each cause, the odds that a fault has it: p / (1 - p).
        states: for each state, in an order in which makers come first, its makers
            (causes or states) with the chance that each makes it.
        outcomes: for each finding its outcomes. A finding with one outcome is
            yes-no and that outcome is 'yes'; one with several is a choice.
    """

    odds: dict[str, float]
    states: dict[str, tuple[tuple[str, float], ...]]
    outcomes: dict[str, tuple[Outcome, ...]]

    def values(self, finding: str) -> tuple[str, ...]:
        """The values of a finding, 'yes' and 'no' or its choices."""
        outcomes = self.outcomes[finding]
        if len(outcomes) == 1:
            return (outcomes[0].value, "no")
        return tuple(outcome.value for outcome in outcomes)

    def is_usual(self, finding: str, value: str) -> bool:
        """Whether a value wants no cause: 'no', or a choice that nothing makes."""
        outcomes = self.outcomes[finding]
        if len(outcomes) == 1:
            return value == "no"
        return not any(
            outcome.value == value and maker != NOT_COVERED
            for outcome in outcomes
            for maker, _ in outcome.makers
        )


def build_network(knowledge: Knowledge) -> Network:
    """The numbers behind the words of the knowledge."""
    scales = knowledge.scales
    owners: list[Cause | State] = [
        *knowledge.causes.values(),
        *knowledge.states.values(),
    ]
    makers: dict[tuple[str, str | None], list[tuple[str, float]]] = {}
    for owner in owners:
        for link in links_of(owner):
            maker = (owner.id, scales.strengths[link.strength])
            makers.setdefault((link.target, link.value), []).append(maker)
    outcomes: dict[str, tuple[Outcome, ...]] = {}
    for finding in knowledge.findings.values():
        if finding.kind == "yes-no":
            anyway = [("yes", scales.seen_anyway[finding.seen_anyway or ""])]
        elif finding.kind == "choice":
            anyway = [(choice.id, choice.usual) for choice in finding.choices]
        else:
            continue
        odd = [
            (NOT_COVERED, strength)
            for role, strength in scales.not_covered_shows.items()
            if role == finding.role and not isinstance(finding, Proof)
        ]
        outcomes[finding.id] = tuple(
            Outcome(
                finding.id,
                value,
                chance,
                tuple(sorted(makers.get((finding.id, value), []) + odd)),
            )
            for value, chance in anyway
        )
    odds = {
        cause.id: _odds(scales.how_common[cause.how_common])
        for cause in knowledge.causes.values()
    }
    odds[NOT_COVERED] = _odds(scales.not_covered_prior)
    states = {
        state: tuple(sorted(makers.get((state, None), [])))
        for state in in_order(knowledge)
    }
    return Network(odds, states, outcomes)


def in_order(knowledge: Knowledge) -> list[str]:
    """The states, each after every state that makes it; by id where that is open."""
    made_by: dict[str, set[str]] = {state: set() for state in knowledge.states}
    for state in knowledge.states.values():
        for makes in state.makes:
            made_by[makes.state].add(state.id)
    ordered: list[str] = []
    while made_by:
        ready = sorted(state for state, makers in made_by.items() if not makers)
        if not ready:
            raise ValueError("states lead round in a ring")
        ordered += ready
        for done in ready:
            del made_by[done]
        for makers in made_by.values():
            makers.difference_update(ready)
    return ordered


def reachable(network: Network, causes: Iterable[str]) -> list[str]:
    """The states that these causes can bring about, makers first."""
    on = set(causes)
    for state, makers in network.states.items():
        if any(maker in on for maker, _ in makers):
            on.add(state)
    return [state for state in network.states if state in on]


def _odds(chance: float) -> float:
    return chance / (1 - chance)
