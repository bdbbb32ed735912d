"""The knowledge run by two rule engines: experta and CLIPS derive the same facts.

Both get the same productions, made from the same YAML, for thousands of random
answer sheets with fixed seeds.
"""

from __future__ import annotations

import random
from collections.abc import Iterator

import pytest
from clips_reference import ClipsReference

from diagnose.chaining import Fact
from diagnose.model import Model, model_of
from diagnose.readings import read
from diagnose.records import Knowledge, Rule
from diagnose.rules import (
    KINDS,
    SOMEWHAT,
    RuleBase,
    finding_fact,
    read_table,
    reading_fact,
)

SHEETS = 2000


def sheets(model: Model, count: int, seed: int) -> Iterator[list[Fact]]:
    """Random sheets as facts: from a few answers to most findings and readings.

    Each rule's own example comes first, so that every rule fires.
    """
    pick = random.Random(seed)
    findings = list(model.knowledge.findings.values())
    examples = [example(model, rule) for rule in model.knowledge.rules.values()]
    yield from examples
    for _ in range(count - len(examples)):
        (share,) = pick.choices([0.01, 0.02, 0.04, 0.1, 0.9], [40, 40, 40, 10, 1])
        facts = []
        for finding in findings:
            if pick.random() >= share:
                continue
            if finding.kind == "reading":
                facts += [
                    reading_fact(finding.id, test, pick.random() < 0.5)
                    for test in model.tests.get(finding.id, {})
                ]
            else:
                some = [SOMEWHAT] if finding.kind == "yes-no" else []
                value = pick.choice([*finding.values(), *some])
                facts.append(finding_fact(finding.id, value))
        pick.shuffle(facts)
        yield facts


def example(model: Model, rule: Rule) -> list[Fact]:
    """The answers that a rule gives as firing it, as facts."""
    facts = []
    for id, value in rule.fires_on.items():
        finding = model.knowledge.findings[id]
        if finding.kind == "reading":
            reading = read(value, finding)
            facts += [
                reading_fact(id, test, reading.chance(condition) >= 0.5)
                for test, condition in model.tests[id].items()
            ]
        else:
            facts.append(finding_fact(id, value))
    return facts


def compare(knowledge: Knowledge, seed: int) -> set[str]:
    """Run the sheets on both engines; return the productions that fired."""
    model = model_of(knowledge)
    rules = RuleBase(knowledge)
    reference = ClipsReference(KINDS, rules.productions)
    fired: set[str] = set()
    for number, facts in enumerate(sheets(model, SHEETS, seed)):
        table = rules.chain(facts)
        derived = reference.conclusions(facts)
        assert table == read_table(derived, table.fired), f"sheet {number}: {facts}"
        fired |= table.fired
    return fired


@pytest.mark.parametrize("seed", [1, 2])
def test_same_facts_from_the_small_knowledge(small: Knowledge, seed: int) -> None:
    """2,000 sheets each; every production fires on some of them."""
    rules = RuleBase(small)
    assert compare(small, seed) == {one.id for one in rules.productions}


def test_same_facts_from_the_built_in_knowledge(built_in: Knowledge) -> None:
    """2,000 sheets; every link and every rule fires on some of them."""
    fired = {production.split("#")[0] for production in compare(built_in, seed=3)}
    assert RuleBase(built_in).links.keys() | built_in.rules.keys() == fired
