"""Windows: their edges in words, and the numbers that they put into rules."""

from __future__ import annotations

import pytest
from knowledge_copy import KnowledgeCopy
from msgspec.structs import replace

from diagnose import Consultation, load_knowledge
from diagnose.checks import conditions
from diagnose.records import Condition, Knowledge, Side, Window
from diagnose.windows import edges, with_limits

BOTH = Window(
    id="both",
    status="tried",
    sources=["common practice"],
    name="x",
    unit="%",
    low=10,
    high=20.5,
    below="Thin.",
    within="Right.",
    above="Thick.",
    because="x",
)
FLOOR = replace(BOTH, id="floor", high=None, above=None)
CEILING = replace(BOTH, id="ceiling", low=None, below=None)


@pytest.mark.parametrize(
    ("window", "says"),
    [
        (BOTH, "10 to 20.5 %"),
        (FLOOR, "from 10 %"),
        (CEILING, "up to 20.5 %"),
        (replace(BOTH, unit=""), "10 to 20.5"),
    ],
)
def test_edges_in_words(window: Window, says: str) -> None:
    assert edges(window) == says


def limits(knowledge: Knowledge, window: str, side: Side) -> Condition:
    """The condition of a rule that names a window, as it is after the numbers are."""
    rule = next(iter(knowledge.rules.values()))
    named = Condition(reading="thickness", window=window, side=side)
    when = replace(rule.when, all=[named], any=[named], none=[named])
    known = replace(
        knowledge,
        rules={rule.id: replace(rule, when=when)},
        windows={one.id: one for one in (BOTH, FLOOR, CEILING)},
    )
    filled = with_limits(known).rules[rule.id].when
    (found,) = {str(part) for part in (*filled.all, *filled.any, *filled.none)}
    assert found == str(filled.all[0])
    return filled.all[0]


@pytest.mark.parametrize(
    ("window", "side", "test"),
    [
        ("both", "below", "below 10.0"),
        ("both", "above", "above 20.5"),
        ("both", "within", "between 10.0 and 20.5"),
        ("floor", "below", "below 10.0"),
        ("floor", "within", "above 10.0"),
        ("ceiling", "above", "above 20.5"),
        ("ceiling", "within", "below 20.5"),
    ],
)
def test_a_rule_gets_the_number_of_the_side(
    window: str, side: Side, test: str, small: Knowledge
) -> None:
    """Wherever the condition stands in the rule; the window's name stays with it."""
    found = limits(small, window, side)
    assert found.test().replace("10 ", "10.0 ") in (test, test.replace(".0", ""))
    assert (found.window, found.side) == (window, side)


def test_a_window_that_is_none_leaves_the_condition_alone(small: Knowledge) -> None:
    """It is named as a fault by the checks, and nothing is made up here."""
    found = limits(small, "nowhere", "below")
    assert (found.below, found.above, found.between) == (None, None, None)


def test_a_rule_by_a_window_decides_as_one_by_a_number(copy: KnowledgeCopy) -> None:
    """The rule of the small knowledge, 'below 10', worded by its window."""
    by_number = load_knowledge(copy.folder)
    copy.edit(
        "rules/all.yaml",
        "{reading: thickness, below: 10}",
        "¦{reading: thickness, window: build, side: below}",
    )
    by_window = load_knowledge(copy.folder)
    for reading in ("3 %", "9 ± 3 %", "11 ± 3 %", "30 %"):
        chances = []
        for knowledge in (by_number, by_window):
            consultation = Consultation(knowledge)
            consultation.answer("stairs", "yes")
            consultation.answer("thickness", reading)
            chances.append(consultation.chances())
        assert chances[0] == chances[1]


def test_a_window_is_changed_in_one_place(copy: KnowledgeCopy) -> None:
    """The rule goes with it."""
    copy.edit(
        "rules/all.yaml",
        "{reading: thickness, below: 10}",
        "¦{reading: thickness, window: build, side: below}",
    )
    copy.edit("windows/all.yaml", "low: 10", "low: ¦4")
    rule = load_knowledge(copy.folder).rules["thin-by-gauge"]
    assert rule.when.all[0].below == 4


def test_built_in_rules_have_the_numbers_of_their_windows(built_in: Knowledge) -> None:
    """Every condition that names a window has just one limit, and it is its edge."""
    for rule in built_in.rules.values():
        for _, _, condition in conditions(rule):
            if condition.window is None:
                continue
            window = built_in.windows[condition.window]
            sides = [condition.below, condition.above, condition.between]
            (limit,) = [one for one in sides if one is not None]
            ends = limit if isinstance(limit, tuple) else (limit,)
            assert set(ends) <= {window.low, window.high}, rule.id
