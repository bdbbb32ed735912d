"""Windows: the range in which a measured thing is as it should be, and its edges.

A rule may name a window in place of a number; here the number is put in, so that a
window is changed in one place.
"""

from __future__ import annotations

from collections.abc import Mapping

from msgspec.structs import replace

from diagnose.language import tr
from diagnose.records import Condition, Knowledge, Window


def with_limits(knowledge: Knowledge) -> Knowledge:
    """The knowledge, every rule with the numbers of the windows that it names.

    A condition stays as it is where the window does not exist, or has no such edge.
    """
    rules = {}
    for rule in knowledge.rules.values():
        when = replace(
            rule.when,
            all=[_filled(one, knowledge.windows) for one in rule.when.all],
            any=[_filled(one, knowledge.windows) for one in rule.when.any],
            none=[_filled(one, knowledge.windows) for one in rule.when.none],
        )
        rules[rule.id] = replace(rule, when=when)
    return replace(knowledge, rules=rules)


def _filled(condition: Condition, windows: Mapping[str, Window]) -> Condition:
    window = windows.get(condition.window or "")
    if window is None:
        return condition
    low, high = window.low, window.high
    if condition.side == "below":
        return replace(condition, below=low)
    if condition.side == "above":
        return replace(condition, above=high)
    if low is not None and high is not None:
        return replace(condition, between=(low, high))
    if low is not None:
        return replace(condition, above=low)
    return replace(condition, below=high)


def edges(window: Window) -> str:
    """The window in words: '10 to 20 %', 'from 18 N/cm', 'up to 40 °C'."""
    unit = f" {window.unit}" if window.unit else ""
    if window.low is None:
        return tr("up to {high:g}{unit}", high=window.high, unit=unit)
    if window.high is None:
        return tr("from {low:g}{unit}", low=window.low, unit=unit)
    return tr("{low:g} to {high:g}{unit}", low=window.low, high=window.high, unit=unit)
