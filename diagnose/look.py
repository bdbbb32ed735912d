"""From the answers to what they mean: facts, chaining, explanations. No I/O."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.chaining import Fact
from diagnose.cures import GONE_ANYWAY, cure_chances
from diagnose.derived import Derived, derive
from diagnose.explanations import Explanations, Weighed, states_to_split
from diagnose.model import Model
from diagnose.network import NOT_COVERED
from diagnose.readings import Reading, read
from diagnose.records import Conclude, Condition, Rule
from diagnose.rules import ANSWER, Table, finding_fact, reading_fact
from diagnose.sheets import DONT_KNOW, NOT_YET, SOMEWHAT, Sheet


@dataclass(frozen=True, slots=True)
class Known:
    """What is known of a finding: how far it speaks for each value, and from where."""

    finding: str
    value: str
    degree: float
    by: str
    """'answer', or the id of the rule that concluded it."""


@dataclass(frozen=True, slots=True)
class Look:
    """The answers, what the rules made of them, and how likely each cause is."""

    model: Model
    sheet: Sheet
    readings: Mapping[str, Reading]
    """As they were read, or as they follow from others."""
    derived: Derived
    table: Table
    known: Mapping[str, Known]
    weighed: Weighed
    chances: Mapping[str, float]
    close: Weighed
    """The likeliest sets of causes again, with every state that they bring about."""

    @property
    def leader(self) -> str:
        """The likeliest cause; the first by id of equals."""
        return min(self.chances, key=lambda cause: (-self.chances[cause], cause))


@dataclass(frozen=True, slots=True)
class Given:
    """What a sheet gives, before any cause is weighed.

    `evidence` says how far each finding speaks for each of its values.
    """

    readings: Mapping[str, Reading]
    derived: Derived
    table: Table
    known: Mapping[str, Known]
    evidence: Mapping[str, Sequence[float]]


def what_is_given(
    model: Model,
    sheet: Sheet,
    chain: Callable[[Sequence[Fact]], Table] | None = None,
) -> Given:
    """The answers and what rules concluded from them.

    Args:
        model: the knowledge.
        sheet: the answers.
        chain: what chains the facts; the model's engine where left out.
    """
    knowledge = model.knowledge
    answers = {
        finding: value
        for finding, value in {**sheet.set_up, **sheet.answers}.items()
        if value != DONT_KNOW
    }
    own = {
        finding: read(text, knowledge.findings[finding])
        for finding, text in sheet.readings.items()
        if text != DONT_KNOW
    }
    derived = derive(model.ways_to, own)
    readings = {**own, **{id: derived.reading(id) for id in derived.worked}}
    tested = {
        (reading, test): value.chance(condition)
        for reading, value in readings.items()
        for test, condition in model.tests.get(reading, {}).items()
    }
    facts = [finding_fact(finding, value) for finding, value in answers.items()]
    facts += [
        reading_fact(reading, test, chance >= 0.5)
        for (reading, test), chance in tested.items()
    ]
    table = (chain or model.rules.chain)(facts)
    known = {
        finding: _answered(model, finding, value) for finding, value in answers.items()
    }
    for one in _conclusions(model, table, answers, tested):
        known.setdefault(one.finding, one)
    evidence = {
        finding: _vector(model, one)
        for finding, one in known.items()
        if finding in model.network.outcomes
    }
    return Given(readings, derived, table, known, evidence)


def take_a_look(model: Model, sheet: Sheet) -> Look:
    """Everything that follows from a sheet. The order of its answers does not count."""
    given = what_is_given(model, sheet)
    weighing = _Weighing(model, sheet, given)
    weighed = weighing.of_causes()
    chances = weighed.causes()
    close = weighing.weigh(
        Explanations(model.network, weighing.causes, sets=weighed.heaviest())
    )
    return Look(
        model,
        sheet,
        given.readings,
        given.derived,
        given.table,
        given.known,
        weighed,
        chances,
        close,
    )


def chances_of_causes(model: Model, sheet: Sheet) -> dict[str, float]:
    """The `chances` of a look, without the rest of it; for many sheets."""
    given = what_is_given(model, sheet)
    return _Weighing(model, sheet, given).of_causes().causes()


class _Weighing:
    """The explanations of a sheet by the causes on its table, and how to weigh them."""

    def __init__(self, model: Model, sheet: Sheet, given: Given) -> None:
        self.model = model
        self.evidence = given.evidence
        table = given.table
        self.causes = frozenset(table.candidates) - frozenset(table.ruled_out)
        self.causes |= {NOT_COVERED}
        self.factors = _factors(model, table)
        self.tried = [
            (model.knowledge.fixes[fix], worked == "yes")
            for fix, worked in sheet.tried.items()
            if worked != NOT_YET
        ]

    def of_causes(self) -> Weighed:
        """Every set of causes, split by the states that count for their chances."""
        wanted = {c.state for fix, _ in self.tried for c in fix.cures if c.state}
        split, summed = states_to_split(
            self.model.network, self.causes, self.evidence, wanted
        )
        rows = Explanations(self.model.network, self.causes, states=split)
        return self.weigh(rows, summed)

    def weigh(self, rows: Explanations, summed: Collection[str] = ()) -> Weighed:
        """Rows weighed by the answers and by whether fixes worked."""
        extra = {}
        for fix, worked in self.tried:
            stays = (1 - GONE_ANYWAY) * (1 - cure_chances(self.model, rows, fix))
            extra[fix.id] = 1 - stays if worked else stays
        return rows.weigh(self.evidence, self.factors, extra, summed)


def speaks_for(model: Model, finding: str, answer: str) -> list[float]:
    """How far an answer speaks for each value, in the order of the network's values."""
    return _vector(model, _answered(model, finding, answer))


def _answered(model: Model, finding: str, value: str) -> Known:
    if value == SOMEWHAT:
        return Known(finding, "yes", model.knowledge.scales.somewhat, ANSWER)
    return Known(finding, value, model.knowledge.scales.answer_sure, ANSWER)


def _conclusions(
    model: Model,
    table: Table,
    answers: Mapping[str, str],
    tested: Mapping[tuple[str, str], float],
) -> list[Known]:
    """What rules concluded, the surest first; each as sure as what it rests on."""
    sure = dict.fromkeys(answers.items(), 1.0)
    found: dict[tuple[str, str, str], float] = {
        (rule, finding, one.value): 0.0
        for finding, values in table.concluded.items()
        for one in values
        for rule in one.by
    }
    changed = True
    while changed:  # a conclusion may rest on other conclusions
        changed = False
        for rule, finding, value in found:
            record = model.knowledge.rules[rule]
            concluded = Conclude(finding=finding, value=value)
            degree = _degree(record, concluded, sure, tested)
            if degree > found[rule, finding, value]:
                found[rule, finding, value] = degree
                sure[finding, value] = max(degree, sure.get((finding, value), 0.0))
                changed = True
    known = [
        Known(finding, value, degree, rule)
        for (rule, finding, value), degree in found.items()
    ]
    return sorted(known, key=lambda one: (-one.degree, one.by, one.value))


def _degree(
    rule: Rule,
    concluded: Conclude,
    sure: Mapping[tuple[str, str], float],
    tested: Mapping[tuple[str, str], float],
) -> float:
    """How sure a rule's conclusion is: as sure as the least sure condition of it."""

    def met(condition: Condition) -> float:
        if condition.reading is not None:
            return tested.get((condition.reading, condition.test()), 0.0)
        if condition.finding is not None:
            found = condition.finding
            return max(sure.get((found, value), 0.0) for value in condition.wanted())
        return 1.0

    if rule.otherwise is not None and concluded in rule.otherwise.conclude:
        return 1 - met(rule.when.all[0])
    any_of = max(map(met, rule.when.any), default=1.0)
    return min([any_of, *map(met, rule.when.all)])


def _vector(model: Model, known: Known) -> list[float]:
    """How far it speaks for each value, in the order of the network's values."""
    values = model.network.values(known.finding)
    rest = (1 - known.degree) / (len(values) - 1)
    return [known.degree if value == known.value else rest for value in values]


def _factors(model: Model, table: Table) -> dict[str, float]:
    """What the rules that fired multiply the odds of causes by."""
    weights = model.knowledge.scales.weights
    return {
        cause: float(np.prod([weights[word] for _, word in made]))
        for cause, made in table.weighed.items()
    }
