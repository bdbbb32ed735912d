"""Figures: what gauges read in a world, so that no two readings are at odds.

What a rule makes of a reading has to be what is so in that world. A reading lies about
its usual value where that will do, and well beyond the limit where it will not. What
follows from other readings is worked out from them; where the world settles the result,
one of the readings behind it is found that gives it. No input or output.
"""

from __future__ import annotations

import math
import random
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from functools import cached_property

from diagnose.checks import conditions
from diagnose.errors import CalculationError
from diagnose.functions import argument, function_of
from diagnose.model import Model
from diagnose.records import Condition, Finding, Input, Rule, Working
from diagnose.sheets import DONT_KNOW

CLEARLY = 3.0
"""Standard uncertainties that a reading lies beyond a limit."""

AROUND = 0.75
"""Standard uncertainties that it lies from there at most, as it was read."""

FARTHEST, STEPS = 20.0, 120
"""A reading is sought up to so many times its usual value, and as far below it, on so
many steps to either side."""

HALVED = 50
"""So often an interval is halved."""


class Figures:
    """The readings of a world.

    Args:
        model: the knowledge.
        seen: what is to be seen of a finding in that world.
        chance: a random number generator for a word, the same for the same word.
    """

    def __init__(
        self,
        model: Model,
        seen: Callable[[str], str],
        chance: Callable[[str], random.Random],
    ) -> None:
        self._model = model
        self._findings = model.knowledge.findings
        self._seen = seen
        self._chance = chance
        self._drawn: dict[str, float | None] = {}

    def text(self, reading: str) -> str:
        """A reading as it is written down; DONT_KNOW where there is no such figure."""
        value, record = self._value(reading, self._sought), self._findings[reading]
        if value is None:
            return DONT_KNOW
        return f"{value:.{_places(record)}f} {record.unit or ''}".strip()

    def _value(
        self, reading: str, known: Mapping[str, float | None], anew: str = ""
    ) -> float | None:
        """A reading: what is known, what the world settles, what follows, or the usual.

        `anew` is worked out even where the world settles it.
        """
        if reading in known:
            return known[reading]
        settled = self._is_settled(reading) and reading != anew
        if not settled and (ways := self._model.ways_to.get(reading)):
            return self._worked(ways[0], reading, known)
        if reading not in self._drawn:
            self._drawn[reading] = self._draw(self._findings[reading])
        return self._drawn[reading]

    def _worked(
        self, working: Working, reading: str, known: Mapping[str, float | None]
    ) -> float | None:
        """What a working makes of the readings; None where it makes nothing."""
        given = {}
        for one in working.inputs:
            value = self._value(one.finding, known) if one.finding else one.usual
            if value is None or one.differ == "yes":
                return None
            value = min(max(value, one.lowest), one.highest)
            given[argument(one.id)] = [value] if one.several == "yes" else value
        output = next(one for one in working.gives if one.finding == reading)
        try:
            result = function_of(working)(**given)
        except CalculationError:
            return None
        return float(getattr(result, argument(output.id), result))

    @cached_property
    def _sought(self) -> Mapping[str, float | None]:
        """For results that the world settles, the readings that give them.

        None where no value does, as those readings would be at odds with the result.
        """
        found: dict[str, float | None] = {}
        used: set[str] = set()
        behind = {r: self._behind(r) for r in self._model.ways_to}
        often = Counter(
            leaf
            for r, leaves in behind.items()
            if self._is_settled(r)
            for leaf in leaves
        )
        for result, leaves in behind.items():
            if not self._is_settled(result):
                continue
            free = sorted(
                (leaf for leaf in leaves if leaf not in used), key=often.__getitem__
            )
            used |= set(leaves)
            if free:
                found[free[0]] = self._seek(free[0], result, found)
        return found

    def _behind(self, reading: str) -> list[str]:
        """The readings that a result follows from in the end, and that are free."""
        leaves: list[str] = []
        for one in self._model.ways_to[reading][0].inputs:
            if one.finding is None or self._is_settled(one.finding):
                continue
            if one.finding in self._model.ways_to:
                leaves += self._behind(one.finding)
            else:
                leaves.append(one.finding)
        return leaves

    def _seek(
        self, leaf: str, result: str, known: Mapping[str, float | None]
    ) -> float | None:
        """The value of one reading, nearest to its usual one, that gives a result."""
        target, record = self._value(result, known), self._findings[leaf]
        if target is None or not record.usual or record.usual < 0:
            return None

        def over(value: float) -> float | None:
            made = self._value(result, {**known, leaf: value}, anew=result)
            return None if made is None else made - target

        for low, high in _from_the_middle(record):
            first, last = over(low), over(high)
            if first is None or last is None or first * last > 0:
                continue
            for _ in range(HALVED):
                middle = (low + high) / 2
                here = over(middle)
                if here is None:
                    return None
                low, high = (middle, high) if here * last < 0 else (low, middle)
            return middle
        return None

    def _is_settled(self, reading: str) -> bool:
        """Whether a rule concludes something from it."""
        return reading in self._rules

    @cached_property
    def _rules(self) -> Mapping[str, list[tuple[Rule, Condition]]]:
        """For each reading, the rules that conclude something from it."""
        found: dict[str, list[tuple[Rule, Condition]]] = {}
        for rule in self._model.knowledge.rules.values():
            if rule.then.conclude:
                for group, _, condition in conditions(rule):
                    if condition.reading is not None and group != "none":
                        found.setdefault(condition.reading, []).append(
                            (rule, condition)
                        )
        return found

    def _draw(self, record: Finding) -> float | None:
        """About the usual value, or the limit that has to be crossed in this world."""
        rules = self._rules.get(record.id, [])
        doubt = record.give_or_take or 0.0
        low, high = record.lowest or 0.0, record.highest or 0.0
        edges = [
            edge
            for _, c in rules
            for edge in (c.below, c.above, *(c.between or ()))
            if edge is not None
        ]
        usual = record.usual
        if usual is None and record.id in self._model.ways_to:
            usual = self._value(record.id, {}, anew=record.id)
        places = [] if usual is None else [usual]
        places += [edge - CLEARLY * doubt for edge in edges]
        places += [edge + CLEARLY * doubt for edge in edges]
        places += [(one + other) / 2 for one in edges for other in edges if one < other]
        places = [min(max(place, low), high) for place in places]
        if not places:
            return None
        fits = [self._fitting(rules, place, doubt) for place in places]
        value = places[fits.index(max(fits))]
        read = value + doubt * self._chance(record.id).uniform(-AROUND, AROUND)
        read = round(min(max(read, low), high), _places(record))
        return read if self._fitting(rules, read, 0.0) >= max(fits) else value

    def _fitting(
        self, rules: list[tuple[Rule, Condition]], value: float, doubt: float
    ) -> int:
        """With how many rules a value agrees, also where it is a doubt off."""
        return sum(
            all(
                _meets(value + shift, condition) in self._wanted(rule)
                for shift in (-doubt, doubt)
            )
            for rule, condition in rules
        )

    def _wanted(self, rule: Rule) -> set[bool]:
        """Whether a rule may, and may not, fire for what is to be seen."""
        is_so = all(self._seen(one.finding) == one.value for one in rule.then.conclude)
        other = rule.otherwise.conclude if rule.otherwise else ()
        is_not = all(self._seen(one.finding) == one.value for one in other)
        return {fires for fires, may in ((True, is_so), (False, is_not)) if may}


def _meets(value: float, condition: Condition) -> bool:
    if condition.below is not None:
        return value < condition.below
    if condition.above is not None:
        return value > condition.above
    low, high = condition.between or (-math.inf, math.inf)
    return low <= value <= high


def _from_the_middle(record: Finding) -> Iterator[tuple[float, float]]:
    """Intervals about the usual value, the nearest first, as far as it can be."""
    usual = record.usual or 0.0
    low, high = record.lowest or 0.0, record.highest or 0.0
    factor = FARTHEST ** (1 / STEPS)
    for step in range(STEPS):
        for one, other in ((step, step + 1), (-step - 1, -step)):
            ends = usual * factor**one, usual * factor**other
            inside = max(ends[0], low), min(ends[1], high)
            if inside[0] < inside[1]:
                yield inside


def _places(record: Finding | Input) -> int:
    """So many figures behind the point, by the doubt of one reading."""
    doubt = record.give_or_take or 1.0
    return max(0, -math.floor(math.log10(doubt)))
