"""Step wedges, factor films and filters: published figures, laws, refusals."""

from __future__ import annotations

from collections.abc import Callable
from math import log10

import pytest
from hypothesis import given
from hypothesis import strategies as st
from published_rows import Row, rows
from row_units import check, number

from diagnose.calculations import step_wedge
from diagnose.errors import CalculationError

# --- published rows ----------------------------------------------------------------


def density(row: Row) -> float:
    return step_wedge.wedge_density(number(row, "n"))


def one_step(_: Row) -> float:
    return step_wedge.corrected_time(1, 6, 7).factor


def many_steps(row: Row) -> float:
    return step_wedge.corrected_time(1, 1, 1 + number(row, "steps")).factor


def new_time(row: Row) -> float:
    held, aim = number(row, "step_held"), number(row, "step_target")
    return step_wedge.corrected_time(number(row, "t0"), held, aim).time


def finer_wedge(row: Row) -> float:
    """The range between two steps of a wedge of 0.10 D a step."""
    first, last = (
        step_wedge.wedge_density(number(row, name), number(row, "increment"))
        for name in ("first", "last")
    )
    return last - first


def factor_film(row: Row) -> float:
    """In minutes, as the source has it."""
    seconds = 60 * number(row, "t_test")
    return step_wedge.factor_film_time(seconds, number(row, "factor")) / 60


def grey_filter(row: Row) -> float:
    return step_wedge.density_of_factor(number(row, "factor"))


def longer(row: Row) -> float:
    return step_wedge.filter_of_density(number(row, "D")).factor


def stops(row: Row) -> float:
    dense = step_wedge.density_of_factor(1 / number(row, "factor"))
    return step_wedge.filter_of_density(dense).stops


WORKED: dict[str, Callable[[Row], float]] = {
    "od-wedge-dmax": density,
    "od-wedge-step7": density,
    "od-wedge-ratio": one_step,
    "od-wedge-20steps": many_steps,
    "od-wedge-4to7": new_time,
    "od-wedge-5to7": new_time,
    "od-wedge-3to7": new_time,
    "od-31step": finer_wedge,
    "od-factor-07": factor_film,
    "od-nd-0.7": grey_filter,
    "od-nd-0.25": grey_filter,
    "od-nd1-filter": longer,
    "od-filter-stops": stops,
}


@pytest.mark.parametrize("row", rows("step_wedge"), ids=lambda row: row.id)
def test_published(row: Row) -> None:
    """The program gives the published value, within the tolerance of its row."""
    check(row, WORKED[row.id](row))


# --- laws --------------------------------------------------------------------------

times = st.floats(20, 900)
steps = st.floats(1, 21)


@given(times, steps)
def test_the_step_aimed_at_asks_for_no_change(time: float, step: float) -> None:
    found = step_wedge.corrected_time(time, step, step)
    assert (found.factor, found.time) == (1, time)


@given(times, steps, steps, st.sampled_from([0.1, 0.15]))
def test_correcting_twice_is_correcting_once(
    time: float, held: float, aim: float, step_density: float
) -> None:
    """With the new time the wedge holds the step aimed at, by its own law."""
    once = step_wedge.corrected_time(time, held, aim, step_density)
    holds_now = held + log10(once.time / time) / step_density
    twice = step_wedge.corrected_time(once.time, holds_now, aim, step_density)
    assert twice.time == pytest.approx(once.time)
    assert twice.factor == pytest.approx(1)


@given(times, steps, steps)
def test_half_a_step_either_way(time: float, held: float, aim: float) -> None:
    """Shortest and longest are what half a step more or less in the reading gives."""
    found = step_wedge.corrected_time(time, held, aim)
    shortest = step_wedge.corrected_time(time, held + 0.5, aim).time
    longest = step_wedge.corrected_time(time, held - 0.5, aim).time
    assert found.shortest == pytest.approx(shortest)
    assert found.longest == pytest.approx(longest)
    assert found.shortest < found.time < found.longest


@given(times, steps, steps, steps)
def test_corrections_compose(time: float, a: float, b: float, c: float) -> None:
    halfway = step_wedge.corrected_time(time, a, b).time
    there = step_wedge.corrected_time(halfway, b, c).time
    assert there == pytest.approx(step_wedge.corrected_time(time, a, c).time)


@given(st.floats(0.001, 1))
def test_filter_goes_there_and_back(factor: float) -> None:
    found = step_wedge.filter_of_density(step_wedge.density_of_factor(factor))
    assert found.factor == pytest.approx(1 / factor)
    assert 10 ** (0.15 * found.steps) == pytest.approx(found.factor)
    assert 2**found.stops == pytest.approx(found.factor)


@given(st.floats(0, 3), st.floats(0, 3))
def test_filters_add_up(one: float, other: float) -> None:
    parts = [step_wedge.filter_of_density(density) for density in (one, other)]
    both = step_wedge.filter_of_density(one + other)
    assert both.steps == pytest.approx(sum(part.steps for part in parts))
    assert both.stops == pytest.approx(sum(part.stops for part in parts), abs=1e-9)


# --- refusals ----------------------------------------------------------------------

REFUSED: dict[str, tuple[Callable[[], object], str]] = {
    "no step": (lambda: step_wedge.wedge_density(0), "A wedge step is 0"),
    "no number": (lambda: step_wedge.wedge_density(float("nan")), "step is nan"),
    "no wedge": (lambda: step_wedge.wedge_density(62), "A wedge step is 62"),
    "flat wedge": (lambda: step_wedge.wedge_density(5, 0), "wedge step is 0 D"),
    "no time": (lambda: step_wedge.corrected_time(0, 5, 7), "exposure time is 0"),
    "none held": (lambda: step_wedge.corrected_time(9, 0, 7), "that held is 0"),
    "no aim": (lambda: step_wedge.corrected_time(9, 5, 0), "aimed at is 0"),
    "flat": (lambda: step_wedge.corrected_time(9, 5, 7, 0), "wedge step is 0 D"),
    "no test": (lambda: step_wedge.factor_film_time(0, 0.7), "test time is 0"),
    "above one": (lambda: step_wedge.factor_film_time(9, 1.4), "factor is 1.4"),
    "amplifier": (lambda: step_wedge.filter_of_density(-1), "the filter is -1"),
    "dark": (lambda: step_wedge.density_of_factor(0), "factor is 0"),
    "brighter": (lambda: step_wedge.density_of_factor(2), "factor is 2"),
}


@pytest.mark.parametrize(("ask", "says"), REFUSED.values(), ids=list(REFUSED))
def test_impossible_numbers_are_refused(ask: Callable[[], object], says: str) -> None:
    with pytest.raises(CalculationError, match=says):
        ask()
