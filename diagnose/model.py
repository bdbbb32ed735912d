"""Knowledge made ready to work with: the rule engine and the numbers, built once."""

from __future__ import annotations

import functools
import math
from collections.abc import Mapping
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from diagnose.checks import conditions
from diagnose.derived import ways
from diagnose.explanations import Explanations
from diagnose.network import NOT_COVERED, Network, build_network
from diagnose.records import Condition, Finding, Knowledge, Working
from diagnose.rules import Link, RuleBase
from diagnose.words import Listener


class Model:
    """One knowledge, compiled."""

    def __init__(self, knowledge: Knowledge) -> None:
        self.knowledge = knowledge
        self._alone: dict[str, Explanations] = {}

    @cached_property
    def rules(self) -> RuleBase:
        """The forward-chaining engine."""
        return RuleBase(self.knowledge)

    @cached_property
    def network(self) -> Network:
        """The numbers."""
        return build_network(self.knowledge)

    @cached_property
    def listener(self) -> Listener:
        """What turns free text into findings; built when text is first given."""
        return Listener(self.knowledge)

    def chances_alone(self, cause: str, finding: str) -> dict[str, float]:
        """The chance of each value of a finding where that cause alone is there."""
        if cause not in self._alone:
            self._alone[cause] = Explanations(self.network, [cause], sizes=(1,))
        rows = self._alone[cause]
        chances = np.exp(rows.log_states) @ rows.chances(finding)
        return dict(zip(self.network.values(finding), chances.tolist(), strict=True))

    @cached_property
    def all_alone(self) -> dict[str, NDArray[np.float64]]:
        """For each cause, the chance of each value of each finding where it is alone.

        The values stand one after the other, in the order of `network.outcomes`.
        """
        findings = list(self.network.outcomes)
        found = {}
        for cause in self.knowledge.causes:
            rows = Explanations(self.network, [cause], sizes=(1,))
            _, shares = rows.weigh({}).split(findings)
            found[cause] = np.concatenate([share[0] for share in shares])
        return found

    def chances_anyway(self, finding: str) -> dict[str, float]:
        """The chance of each value of a finding where no cause is there."""
        outcomes = self.network.outcomes[finding]
        if len(outcomes) == 1:
            return {"yes": outcomes[0].anyway, "no": 1 - outcomes[0].anyway}
        total = sum(outcome.anyway for outcome in outcomes)
        return {outcome.value: outcome.anyway / total for outcome in outcomes}

    @cached_property
    def how_often_seen(self) -> dict[str, float]:
        """About how often each yes-no finding is met among faults, before any answer.

        Makers are taken as if they came and went apart; good enough to sort a list.
        """
        chance = {cause: odds / (1 + odds) for cause, odds in self.network.odds.items()}
        for state, makers in self.network.states.items():
            misses = [1 - strength * chance[maker] for maker, strength in makers]
            chance[state] = 1 - math.prod(misses)
        return {
            finding: 1
            - (1 - outcomes[0].anyway)
            * math.prod(1 - s * chance[maker] for maker, s in outcomes[0].makers)
            for finding, outcomes in self.network.outcomes.items()
            if len(outcomes) == 1
        }

    @cached_property
    def tests(self) -> dict[str, dict[str, Condition]]:
        """For each reading, the limits that rules hold it against."""
        found: dict[str, dict[str, Condition]] = {}
        for rule in self.knowledge.rules.values():
            for _, _, condition in conditions(rule):
                if condition.reading is not None:
                    tests = found.setdefault(condition.reading, {})
                    tests[condition.test()] = condition
        return found

    @cached_property
    def effects(self) -> dict[tuple[str, str], dict[str, float]]:
        """What one answer by itself does to the odds of causes, through rules.

        Rules that look at more than the one finding are left out: this only serves
        to judge beforehand what a question is worth.
        """
        weights = self.knowledge.scales.weights
        found: dict[tuple[str, str], dict[str, float]] = {}
        for rule in self.knowledge.rules.values():
            listed = list(conditions(rule))
            if len(listed) != 1 or listed[0][2].finding is None:
                continue
            condition = listed[0][2]
            assert condition.finding is not None
            for value in condition.wanted():
                effect = found.setdefault((condition.finding, value), {})
                for cause in rule.then.rule_out:
                    effect[cause] = 0.0
                for weigh in rule.then.weigh:
                    for cause in weigh.causes:
                        factor = weights[weigh.how_much]
                        effect[cause] = effect.get(cause, 1.0) * factor
        return {key: effect for key, effect in found.items() if effect}

    @cached_property
    def links_to(self) -> Mapping[str, tuple[Link, ...]]:
        """The links that end at each state, and at each 'finding=value'."""
        found: dict[str, list[Link]] = {}
        for link in self.rules.links.values():
            end = link.target if link.value is None else f"{link.target}={link.value}"
            found.setdefault(end, []).append(link)
        return {end: tuple(links) for end, links in found.items()}

    @cached_property
    def ways_to(self) -> Mapping[str, tuple[Working, ...]]:
        """For each reading, the workings that give it from other readings."""
        return ways(self.knowledge)

    def asked_as(self, finding: Finding) -> Finding:
        """The finding that is put to the person for this one: itself or a reading."""
        if finding.measured_by is not None:
            return self.knowledge.findings[finding.measured_by]
        return finding

    def cause_name(self, cause: str) -> str:
        """What a cause is called."""
        if cause == NOT_COVERED:
            return self.knowledge.scales.not_covered_name
        return self.knowledge.causes[cause].name


@functools.lru_cache(maxsize=4)
def model_of(knowledge: Knowledge) -> Model:
    """The compiled form of a knowledge, kept for as long as it is in use."""
    return Model(knowledge)
