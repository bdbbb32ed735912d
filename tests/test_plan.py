"""The plan: which fixes, in what order, and what a fix that failed tells."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from itertools import pairwise, permutations, product
from pathlib import Path
from unittest.mock import patch

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose import load_knowledge
from diagnose.cures import cure_chances, help_chances
from diagnose.derived import NOTHING as NO_READINGS
from diagnose.explanations import Explanations
from diagnose.look import Look, take_a_look
from diagnose.model import Model, model_of
from diagnose.network import NOT_COVERED, Network
from diagnose.plan import LEAST_CHANCE, SHORTEST, PlannedFix, make_plan, outlay
from diagnose.records import Cures, Knowledge
from diagnose.rules import Table
from diagnose.sheets import Sheet

replace = msgspec.structs.replace
NOTHING = Table({}, {}, {}, {}, {}, {}, (), ())


@cache
def _small() -> Knowledge:
    return load_knowledge(Path(__file__).parent / "small")


def one_fault_plan(
    chances: Sequence[float], minutes: Sequence[float]
) -> tuple[PlannedFix, ...]:
    """The plan where just one thing is wrong and each has a fix that is sure.

    Args:
        chances: how likely each thing is to be the one; they sum to one.
        minutes: what the fix of each takes. Fix number n is 'fix-n', from 1.
    """
    base = _small()
    cause, fix = base.causes["nick"], base.fixes["coat-again"]
    names = [f"cause-{n}" for n, _ in enumerate(chances, 1)]
    fixes = [
        replace(fix, id=f"fix-{n}", cures=[Cures(cause=name, sure="sure")], minutes=m)
        for n, (name, m) in enumerate(zip(names, minutes, strict=True), 1)
    ]
    knowledge = replace(
        base,
        causes={n: replace(cause, id=n, makes=[], shows=[]) for n in names},
        fixes={one.id: one for one in fixes},
        scales=replace(base.scales, strengths={"sure": 1.0}),
    )
    network = Network(dict(zip(names, chances, strict=True)), {}, {})
    weighed = Explanations(network, names, sizes=(1,)).weigh({})
    model = Model(knowledge)
    chances_found = weighed.causes()
    look = Look(
        model, Sheet(), {}, NO_READINGS, NOTHING, {}, weighed, chances_found, weighed
    )
    with patch("diagnose.plan.LEAST_CHANCE", 0.0):
        return make_plan(look).parts["remake"]


def expected_minutes(plan: Sequence[PlannedFix]) -> float:
    """Minutes until the fault is mended: each fix is paid if those before failed."""
    left, total = 1.0, 0.0
    for one in plan:
        total += one.fix.minutes * left
        left -= one.chance
    return total


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(st.floats(0.01, 1), st.floats(SHORTEST, 60)), min_size=1, max_size=5
    )
)
def test_no_other_order_costs_less(fixes: list[tuple[float, float]]) -> None:
    """Of all permutations the plan's order takes the fewest minutes on average."""
    total = sum(chance for chance, _ in fixes)
    plan = one_fault_plan([c / total for c, _ in fixes], [m for _, m in fixes])
    least = min(expected_minutes(order) for order in permutations(plan))
    assert expected_minutes(plan) == pytest.approx(least, rel=1e-9)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(st.floats(0.01, 1), st.floats(SHORTEST, 60)), min_size=1, max_size=5
    )
)
def test_the_minutes_of_a_plan_are_those_of_one_fault(
    fixes: list[tuple[float, float]],
) -> None:
    """Where one thing is wrong and each fix is sure: what is paid until then."""
    total = sum(chance for chance, _ in fixes)
    weight = np.array([chance / total for chance, _ in fixes])
    helps = list(np.eye(len(fixes)))
    found = outlay([minutes for _, minutes in fixes], helps, weight)
    plan = one_fault_plan([c / total for c, _ in fixes], [m for _, m in fixes])
    order = [int(one.fix.id.removeprefix("fix-")) - 1 for one in plan]
    in_order = outlay(
        [one.fix.minutes for one in plan], [helps[n] for n in order], weight
    )
    assert in_order.minutes == pytest.approx(expected_minutes(plan))
    assert in_order.minutes <= found.minutes * (1 + 1e-9)
    assert found.chance == pytest.approx(1)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.floats(SHORTEST, 60),
            st.lists(st.floats(0, 1), min_size=3, max_size=3),
        ),
        min_size=1,
        max_size=4,
    ),
    st.lists(st.floats(0.01, 1), min_size=3, max_size=3),
)
def test_the_minutes_of_a_plan_by_brute_force(
    fixes: list[tuple[float, list[float]]], weights: list[float]
) -> None:
    """Over every explanation and every way in which the fixes help or fail."""
    weight = np.array(weights) / sum(weights)
    minutes = chance = 0.0
    for row, likely in enumerate(weight):
        for helped in product([True, False], repeat=len(fixes)):
            way, paid, done = float(likely), 0.0, False
            for (takes, helps), does in zip(fixes, helped, strict=True):
                way *= helps[row] if does else 1 - helps[row]
                paid += 0.0 if done else takes
                done = done or does
            minutes += way * paid
            chance += way * done
    found = outlay(
        [takes for takes, _ in fixes], [np.array(helps) for _, helps in fixes], weight
    )
    assert found.minutes == pytest.approx(minutes)
    assert found.chance == pytest.approx(chance, abs=1e-9)


def test_a_part_of_one_fix_takes_what_the_fix_takes(small: Knowledge) -> None:
    """And helps as often as it does; a part without a fix has no entry."""
    plan = make_plan(look_at(small, answers=SIGNS))
    (only,) = plan.parts["save-run"]
    assert plan.outlays["save-run"].minutes == pytest.approx(only.fix.minutes)
    assert plan.outlays["save-run"].chance == pytest.approx(only.chance)
    first, second = plan.parts["remake"]
    both = plan.outlays["remake"]
    assert first.fix.minutes < both.minutes < first.fix.minutes + second.fix.minutes
    assert max(first.chance, second.chance) < both.chance < 1
    assert make_plan(look_at(small)).outlays == {}


# --- on the small knowledge --------------------------------------------------------


def look_at(knowledge: Knowledge, **parts: dict[str, str]) -> Look:
    """What follows from a sheet with these parts."""
    return take_a_look(model_of(knowledge), Sheet(**parts))  # type: ignore[arg-type]


SIGNS = {"stairs": "yes", "bands": "yes"}


def test_parts_and_order(small: Knowledge) -> None:
    """The three parts in the order of the moments, each by chance ÷ minutes."""
    plan = make_plan(look_at(small, answers=SIGNS))
    assert list(plan.parts) == ["save-run", "remake", "prevent"]
    assert {m: {one.fix.id for one in part} for m, part in plan.parts.items()} == {
        "save-run": {"go-on"},
        "remake": {"coat-again", "new-screen"},
        "prevent": {"write-it-up"},
    }
    for part in plan.parts.values():
        for one, after in pairwise(part):
            assert one.chance / one.fix.minutes >= after.chance / after.fix.minutes
    assert plan.first() is plan.parts["save-run"][0]


def test_a_fix_of_no_minutes_is_reckoned_with_the_shortest(small: Knowledge) -> None:
    """A fix of no minutes does not come out as worth an endless amount."""
    fix = replace(small.fixes["coat-again"], minutes=0)
    one = PlannedFix(fix, 0.3, (), False)
    assert one.worth == pytest.approx(0.3 / SHORTEST)


def test_chances_of_helping(small: Knowledge) -> None:
    """P(at least one thing that is there is put right), set by set."""
    look = look_at(small, answers=SIGNS)
    by_id = {o.fix.id: o for part in make_plan(look).parts.values() for o in part}
    usually, almost, often, sometimes = 0.77, 0.91, 0.60, 0.28
    assert by_id["coat-again"].chance == pytest.approx(
        usually * look.chances["few-coats"]
    )
    sure = {"few-coats": often, "slack": sometimes, "nick": sometimes}
    wanted = 0.0
    for names, chance in look.weighed.sets(99):
        fails = 1.0
        for name in names:
            fails *= 1 - sure.get(name, 0.0)
        wanted += chance * (1 - fails)
    assert by_id["write-it-up"].chance == pytest.approx(wanted)
    # A fix of a state helps where the state is there.
    rows = look.close.rows
    thin, uneven = rows.is_on("thin"), rows.is_on("uneven")
    rarely = 0.07
    helps = 1 - (1 - sometimes * thin) * (1 - rarely * uneven)
    assert by_id["go-on"].chance == pytest.approx(float(look.close.weight @ helps))
    assert almost * look.chances["slack"] < by_id["new-screen"].chance


def test_causes_a_fix_is_for(small: Knowledge) -> None:
    """They are those on the table, likeliest first; a state's are all its makers."""
    look = look_at(small, answers=SIGNS)
    by_id = {o.fix.id: o for part in make_plan(look).parts.values() for o in part}
    order = sorted(small.causes, key=lambda cause: -look.chances[cause])
    assert by_id["go-on"].causes == tuple(order)
    assert by_id["coat-again"].causes == ("few-coats",)
    assert set(by_id["new-screen"].causes) == {"slack", "nick"}


def test_left_out_of_the_plan(small: Knowledge) -> None:
    """A fix for nothing on the table, or unlikely to help, is not in the plan."""
    film = look_at(small, answers=SIGNS, set_up={"stencil": "film"})
    assert set(film.chances) == {"slack", NOT_COVERED}
    plan = make_plan(film)
    found = {one.fix.id for part in plan.parts.values() for one in part}
    assert "coat-again" not in found
    assert "new-screen" in found
    nick = {**SIGNS, "nick-felt": "yes"}
    unlikely = look_at(small, answers=nick, set_up={"coats": "two"})
    chance = float(
        unlikely.close.weight
        @ help_chances(unlikely.model, unlikely.close.rows, small.fixes["coat-again"])
    )
    assert 0 < chance < LEAST_CHANCE
    assert "coat-again" not in [
        one.fix.id for one in make_plan(unlikely).parts["remake"]
    ]


def test_no_plan_for_what_is_not_covered(small: Knowledge) -> None:
    """Without a cause on the table there is nothing to do, and nothing breaks."""
    plan = make_plan(look_at(small, answers={"stairs": "no"}))
    assert list(plan.parts.values()) == [(), (), ()]
    assert plan.first() is None
    assert plan.cautions == ()


def test_cautions_come_along(small: Knowledge) -> None:
    """Those of the fixes in the plan and those that rules raise, each once."""
    plan = make_plan(look_at(small, answers=SIGNS))
    assert plan.cautions == ("lamp",)  # of 'write-it-up'
    rule = small.rules["tight-and-slack"]
    fixes = {id: replace(fix, cautions=[]) for id, fix in small.fixes.items()}
    warned = replace(
        small,
        fixes=fixes,
        rules={
            **small.rules,
            rule.id: replace(rule, then=replace(rule.then, cautions=["lamp"])),
        },
    )
    assert make_plan(look_at(warned, set_up={"coats": "one"})).cautions == ()
    assert make_plan(look_at(warned, answers={"gives": "yes"})).cautions == ("lamp",)


# --- a fix that was tried ----------------------------------------------------------


def test_a_failed_fix_lowers_its_cause(small: Knowledge) -> None:
    """Each set is weighed by the chance that the fix leaves the fault there.

    'Coat again' usually (0.77) cures 'too few coats'; where another cause is there
    too, half of that.
    """
    before = look_at(small, answers=SIGNS)
    after = look_at(small, answers=SIGNS, tried={"coat-again": "no"})
    factors = {
        names: 1 - 0.77 * ("few-coats" in names) / len(names)
        for names, _ in before.weighed.sets(99)
    }
    old, new = dict(before.weighed.sets(99)), dict(after.weighed.sets(99))
    total = sum(old[names] * factors[names] for names in old)
    for names in old:
        assert new[names] == pytest.approx(old[names] * factors[names] / total)
    assert after.chances["few-coats"] < before.chances["few-coats"]


@pytest.mark.parametrize("fix", ["coat-again", "write-it-up", "go-on", "new-screen"])
def test_a_failed_fix_speaks_against_all_it_is_for(small: Knowledge, fix: str) -> None:
    """Against 'not covered', each cause that it is for has smaller odds than before."""
    before = look_at(small, answers=SIGNS)
    after = look_at(small, answers=SIGNS, tried={fix: "no"})
    for part in make_plan(before).parts.values():
        for cause in (c for one in part if one.fix.id == fix for c in one.causes):
            assert _odds(after, cause) < _odds(before, cause)
    assert after.chances[NOT_COVERED] > before.chances[NOT_COVERED]


def _odds(look: Look, cause: str) -> float:
    """Of the cause alone against nothing that is covered."""
    sets = dict(look.weighed.sets(99))
    return sets[(cause,)] / sets[(NOT_COVERED,)]


def test_cure_is_the_mean_over_the_causes_that_are_there(small: Knowledge) -> None:
    """For two causes of 0.91 and 0.28: 0.595; for one of them and another: half."""
    model = model_of(small)
    rows = Explanations(model.network, [*small.causes, NOT_COVERED])
    cured = cure_chances(model, rows, small.fixes["new-screen"])
    wanted = {
        ("slack",): 0.91,
        ("nick",): 0.28,
        ("few-coats",): 0.0,
        ("nick", "slack"): (0.91 + 0.28) / 2,
        ("few-coats", "slack"): 0.91 / 2,
    }
    for row, members in enumerate(rows.set_of):
        names = tuple(rows.causes[n] for n in rows.sets[members])
        if names in wanted:
            assert cured[row] == pytest.approx(wanted[names])


def test_a_tried_fix_in_the_plan(small: Knowledge) -> None:
    """One that failed is not in the plan again; one that worked is, and is marked."""
    failed = make_plan(look_at(small, answers=SIGNS, tried={"coat-again": "no"}))
    assert "coat-again" not in [one.fix.id for one in failed.parts["remake"]]
    worked = make_plan(look_at(small, answers=SIGNS, tried={"coat-again": "yes"}))
    marks = {one.fix.id: one.tried for one in worked.parts["remake"]}
    assert marks == {"coat-again": True, "new-screen": False}
