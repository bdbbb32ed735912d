"""The plan: fixes in three parts, each in the order of chance of cure a minute.

For one action at a time, trying in the order of chance ÷ cost is what costs least
on average until the fault is mended (Heckerman, Breese and Rommelse,
"Decision-theoretic troubleshooting", Communications of the ACM 38(3), 1995, where
one thing is wrong and each fix either mends it or does not).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from diagnose.corrections import in_numbers
from diagnose.cures import help_chances
from diagnose.look import Look
from diagnose.records import Fix

LEAST_CHANCE = 0.05
"""A fix that is less likely than this to help is left out of the plan."""

SHORTEST = 0.5
"""Minutes; nothing takes less."""


@dataclass(frozen=True, slots=True)
class PlannedFix:
    """A fix with the chance that it helps, and the causes it is for."""

    fix: Fix
    chance: float
    causes: tuple[str, ...]
    tried: bool
    in_numbers: tuple[str, ...] = ()
    """Its settings in numbers, from the readings that were taken."""

    @property
    def worth(self) -> float:
        """Chance of helping a minute."""
        return self.chance / max(self.fix.minutes, SHORTEST)


@dataclass(frozen=True, slots=True)
class Outlay:
    """What it comes to when the fixes of a part are made one after the other.

    `minutes` is how long it takes on average until one helps or all are made;
    `chance` is the chance that one of them helps.
    """

    minutes: float
    chance: float


@dataclass(frozen=True, slots=True)
class Plan:
    """The fixes by moment (in the order of the knowledge), and the cautions.

    `outlays` has an entry for each part that has a fix.
    """

    parts: dict[str, tuple[PlannedFix, ...]]
    cautions: tuple[str, ...]
    outlays: Mapping[str, Outlay] = field(default_factory=dict)

    def first(self) -> PlannedFix | None:
        """The first fix of the first part that has one."""
        return next((part[0] for part in self.parts.values() if part), None)


def make_plan(look: Look) -> Plan:
    """The plan for what is known so far."""
    knowledge = look.model.knowledge
    rows = look.close.rows
    here = stages_at(look)
    planned: dict[str, list[PlannedFix]] = {moment: [] for moment in knowledge.moments}
    helping: dict[str, NDArray[np.float64]] = {}
    for fix in knowledge.fixes.values():
        if look.sheet.tried.get(fix.id) == "no":
            continue
        if fix.at and here and not here & set(fix.at):
            continue
        targets = {cure.target() for cure in fix.cures}
        if not targets & {*rows.causes, *rows.states}:
            continue
        helps = help_chances(look.model, rows, fix)
        chance = float((look.close.weight * helps).sum())
        if chance >= LEAST_CHANCE:
            tried = look.sheet.tried.get(fix.id) == "yes"
            causes = causes_of(look, fix)
            numbers = in_numbers(look, fix)
            one = PlannedFix(fix, chance, causes, tried, numbers)
            planned[fix.moment].append(one)
            helping[fix.id] = helps
    parts = {
        moment: tuple(sorted(fixes, key=lambda one: (-one.worth, one.fix.id)))
        for moment, fixes in planned.items()
    }
    cautions = dict.fromkeys(
        caution
        for part in parts.values()
        for one in part
        for caution in one.fix.cautions
    )
    cautions |= dict.fromkeys(look.table.cautions)
    outlays = {
        moment: outlay(
            [one.fix.minutes for one in part],
            [helping[one.fix.id] for one in part],
            look.close.weight,
        )
        for moment, part in parts.items()
        if part
    }
    return Plan(parts, tuple(cautions), outlays)


def outlay(
    minutes: Sequence[float],
    helps: Sequence[NDArray[np.float64]],
    weight: NDArray[np.float64],
) -> Outlay:
    """The expected minutes until a fault is mended, trying one fix after the other.

    A fix is paid for where all those before it failed. Given what is wrong, fixes help
    or fail by themselves; that one failed still tells against what the next is for,
    as both are reckoned over the same explanations (Heckerman, Breese and Rommelse
    1995, where the cost of what is done when nothing helped is left out here too).

    Args:
        minutes: what each fix takes, in the order in which they are tried.
        helps: for each fix its chance of helping, an entry for each explanation.
        weight: the chance of each explanation.
    """
    left = weight.copy()
    total = 0.0
    for takes, chance in zip(minutes, helps, strict=True):
        total += max(takes, SHORTEST) * float(left.sum())
        left = left * (1 - chance)
    return Outlay(total, 1 - float(left.sum()))


def stages_at(look: Look) -> set[str]:
    """Where in the work the person may be: as said, or where the signs are met."""
    if look.sheet.stage:
        return {look.sheet.stage}
    findings = look.model.knowledge.findings
    places = [
        set(findings[id].stages)
        for id, known in look.known.items()
        if findings[id].role == "sign" and known.value == "yes"
    ]
    return set.intersection(*places) if places else set()


def causes_of(look: Look, fix: Fix) -> tuple[str, ...]:
    """The causes on the table that the fix is for, likeliest first."""
    rows = look.close.rows
    causes = {cure.cause for cure in fix.cures if cure.cause in rows.causes}
    states = {cure.state for cure in fix.cures if cure.state in rows.states}
    for state in states:
        causes |= makers(look, state or "")
    found = sorted(
        (cause for cause in causes if cause), key=lambda c: (-look.chances[c], c)
    )
    return tuple(found)


def makers(look: Look, state: str) -> set[str]:
    """The causes on the table that can bring a state about, by whatever way."""
    network = look.model.network
    found: set[str] = set()
    todo = [state]
    while todo:
        for maker, _ in network.states[todo.pop()]:
            if maker in network.states:
                todo.append(maker)
            elif maker in look.chances:
                found.add(maker)
    return found
