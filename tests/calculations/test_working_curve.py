"""The working curve: published figures, least squares, laws, refusals."""

from __future__ import annotations

from collections.abc import Callable
from math import isclose, log

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from published_rows import Row, rows
from row_units import MICROMETRES, check, micrometres, number, numbers

from diagnose.calculations import lamp, step_wedge, working_curve
from diagnose.errors import CalculationError

# --- published rows ----------------------------------------------------------------


def in_unit(row: Row, depth: float) -> float:
    """A depth in µm, in the unit of the row."""
    return depth / MICROMETRES[row.unit]


def overlap(row: Row) -> float:
    """The dose that hardens Cd1, less by the ratio; the critical dose drops out."""
    penetration = micrometres(row, "Dp")
    dose = working_curve.dose_for_depth(micrometres(row, "Cd1"), penetration, 10)
    less = dose / number(row, "ratio")
    return in_unit(row, working_curve.cure_depth(less, penetration, 10))


def depth(row: Row) -> float:
    penetration = micrometres(row, "Dp")
    found = working_curve.cure_depth(number(row, "E"), penetration, number(row, "Ec"))
    return in_unit(row, found)


def dose(row: Row) -> float:
    deep, penetration = micrometres(row, "Cd"), micrometres(row, "Dp")
    return working_curve.dose_for_depth(deep, penetration, number(row, "Ec"))


def doubled(row: Row) -> float:
    penetration = micrometres(row, "Dp")
    once, twice = (
        working_curve.cure_depth(light, penetration, 10) for light in (50, 100)
    )
    return in_unit(row, twice - once)


def fitted(row: Row) -> float:
    depths = [1000 * one for one in numbers(row, "Cd")]
    found = working_curve.fit_curve(numbers(row, "E"), depths)
    return in_unit(row, found.penetration_depth)


def reciprocity(row: Row) -> float:
    """A mW/cm² is 10 W/m²."""
    return lamp.dose(10 * number(row, "intensity"), number(row, "time"))


def step(row: Row) -> float:
    return in_unit(row, working_curve.depth_per_step(micrometres(row, "Dp")))


WORKED: dict[str, Callable[[Row], float]] = {
    "wc-gibson-cd": overlap,
    "wc-depth-1": depth,
    "wc-depth-3": depth,
    "wc-depth-4": depth,
    "wc-dose-1": dose,
    "wc-doubling": doubled,
    "wc-fit-dp": fitted,
    "wc-fit-noisy-dp": fitted,
    "wc-dose-reciprocity": reciprocity,
    "wc-wedge-depth": step,
}


@pytest.mark.parametrize("row", rows("working_curve"), ids=lambda row: row.id)
def test_published(row: Row) -> None:
    """The program gives the published value, within the tolerance of its row."""
    check(row, WORKED[row.id](row))


# --- by other ways -----------------------------------------------------------------


@given(
    st.lists(
        st.tuples(st.floats(5, 2000), st.floats(1, 20)),
        min_size=3,
        max_size=8,
        unique_by=lambda pair: round(pair[0], 1),
    )
)
def test_fit_is_that_of_numpy(pairs: list[tuple[float, float]]) -> None:
    """Computed with numpy.polyfit, of depths that scatter about a curve."""
    doses = [light for light, _ in pairs]
    depths = [40 * log(light) + scatter for light, scatter in pairs]
    slope, intercept = np.polyfit(np.log(doses), depths, 1)
    if slope < 5 or max(doses) < 1.01 * min(doses):
        return
    found = working_curve.fit_curve(doses, depths)
    assert found.penetration_depth == pytest.approx(slope, rel=1e-6)
    assert log(found.critical_dose) == pytest.approx(-intercept / slope, abs=1e-5)


def test_coat_that_costs_two_steps() -> None:
    """By hand: 20 µm cost 2 steps of 0.15 D, 20 / (0.3 ln 10) = 28.95 µm."""
    found = working_curve.penetration_from_wedge([60, 80, 100], [8, 6, 4])
    assert found == pytest.approx(28.953, abs=1e-3)


# --- laws --------------------------------------------------------------------------

penetrations = st.floats(10, 200)
critical_doses = st.floats(1, 100)
depths = st.floats(0, 400)


@given(depths, penetrations, critical_doses)
def test_depth_goes_to_a_dose_and_back(
    deep: float, penetration: float, critical: float
) -> None:
    if deep > 10 * penetration:
        return
    light = working_curve.dose_for_depth(deep, penetration, critical)
    back = working_curve.cure_depth(light, penetration, critical)
    assert back == pytest.approx(deep, abs=1e-6)


@given(penetrations, critical_doses, st.floats(0.01, 0.999))
def test_less_than_the_critical_dose_hardens_nothing(
    penetration: float, critical: float, part: float
) -> None:
    assert working_curve.cure_depth(part * critical, penetration, critical) == 0


@given(penetrations, critical_doses)
def test_fit_finds_the_curve_again(penetration: float, critical: float) -> None:
    doses = [critical * times for times in (2, 5, 9, 30)]
    found = working_curve.fit_curve(
        doses,
        [working_curve.cure_depth(light, penetration, critical) for light in doses],
    )
    assert found.penetration_depth == pytest.approx(penetration)
    assert found.critical_dose == pytest.approx(critical)


@given(penetrations, st.floats(2, 60))
def test_wedge_and_thickness_tell_the_same(penetration: float, thicker: float) -> None:
    """Where a coat holds a step less, one step more light makes up for it."""
    per_step = working_curve.depth_per_step(penetration)
    thicknesses = [50.0, 50 + thicker]
    held = [9.0, 9 - thicker / per_step]
    if held[1] < 1:
        return
    found = working_curve.penetration_from_wedge(thicknesses, held)
    assert found == pytest.approx(penetration)
    by_wedge = step_wedge.corrected_time(60, held[1], held[0]).time
    thin, thick = thicknesses
    by_curve = working_curve.time_for_thickness(60, thin, thick, penetration)
    assert by_curve == pytest.approx(by_wedge)


@given(st.floats(60, 140), st.floats(60, 140), st.floats(60, 140), penetrations)
def test_changes_of_thickness_compose(
    a: float, b: float, c: float, penetration: float
) -> None:
    halfway = working_curve.time_for_thickness(60, a, b, penetration)
    there = working_curve.time_for_thickness(halfway, b, c, penetration)
    straight = working_curve.time_for_thickness(60, a, c, penetration)
    assert there == pytest.approx(straight)
    assert working_curve.time_for_thickness(60, a, a, penetration) == 60


@given(st.floats(1, 5000), penetrations, critical_doses, st.floats(20, 200))
def test_least_dose_just_hardens_the_stencil(
    light: float, penetration: float, critical: float, thick: float
) -> None:
    found = working_curve.hardening(light, penetration, critical, thick)
    assert 0 <= found.share <= 100
    assert found.depth + found.missing == pytest.approx(thick)
    if not isclose(light, found.least_dose, rel_tol=1e-9):
        assert (found.missing > 0) == (light < found.least_dose)
        assert (found.share < 100) == (light < found.least_dose)


def test_soft_inner_side_by_hand() -> None:
    """By hand: 30 µm × ln(100 / 10) = 69.08 µm of 80; 10 e^(80/30) = 143.9 mJ/cm²."""
    found = working_curve.hardening(100, 30, 10, 80)
    assert found.depth == pytest.approx(69.078, abs=1e-3)
    assert found.missing == pytest.approx(10.922, abs=1e-3)
    assert found.share == pytest.approx(86.347, abs=1e-3)
    assert found.least_dose == pytest.approx(143.919, abs=1e-3)


# --- refusals ----------------------------------------------------------------------

W = working_curve
REFUSED: dict[str, tuple[Callable[[], object], str]] = {
    "no dose": (lambda: W.cure_depth(0, 50, 10), "The dose is 0"),
    "no number": (lambda: W.cure_depth(float("nan"), 50, 10), "The dose is nan"),
    "black layer": (lambda: W.cure_depth(100, 0, 10), "penetration depth is 0"),
    "no critical": (lambda: W.cure_depth(100, 50, 0), "critical dose is 0"),
    "below": (lambda: W.dose_for_depth(-1, 50, 10), "The depth is -1"),
    "no lamp": (lambda: W.dose_for_depth(300, 5, 10), "no lamp hardens more than 250"),
    "step": (lambda: W.depth_per_step(0), "penetration depth is 0"),
    "one pair": (lambda: W.fit_curve([5], [5]), "at least 2"),
    "unlike": (lambda: W.fit_curve([5, 9], [5]), "2 doses and 1 depths"),
    "one dose": (lambda: W.fit_curve([5, 5], [5, 6]), "All doses are 5"),
    "dose of none": (lambda: W.fit_curve([0, 5], [5, 6]), "A dose is 0"),
    "below top": (lambda: W.fit_curve([1, 5], [-5, 6]), "A depth is -5"),
    "falls": (lambda: W.fit_curve([5, 9], [6, 5]), "do not grow"),
    "flat": (lambda: W.fit_curve([5, 9], [6, 6]), "do not grow"),
    "hardly grows": (lambda: W.fit_curve([5, 9], [60, 60.1]), "do not grow"),
    "wedge pairs": (lambda: W.penetration_from_wedge([50], [7]), "at least 2"),
    "wedge unlike": (lambda: W.penetration_from_wedge([50, 60], [7]), "2 thicknesses"),
    "thin air": (lambda: W.penetration_from_wedge([0, 60], [7, 6]), "thickness is 0"),
    "wedge step": (lambda: W.penetration_from_wedge([50, 60], [7, 0]), "step is 0"),
    "one step": (lambda: W.penetration_from_wedge([5, 6], [7, 7]), "All held steps"),
    "rises": (lambda: W.penetration_from_wedge([50, 60], [6, 7]), "hold fewer"),
    "no stencil": (lambda: W.hardening(100, 50, 10, 0), "of the stencil is 0"),
    "no time": (lambda: W.time_for_thickness(0, 50, 60, 30), "exposure time is 0"),
    "none now": (lambda: W.time_for_thickness(9, 0, 60, 30), "the stencil is 0"),
    "none then": (lambda: W.time_for_thickness(9, 50, 0, 30), "new thickness is 0"),
    "no curve": (lambda: W.time_for_thickness(9, 50, 60, 0), "penetration depth is 0"),
    "too thick": (lambda: W.time_for_thickness(9, 1, 900, 5), "no lamp hardens"),
}


@pytest.mark.parametrize(("ask", "says"), REFUSED.values(), ids=list(REFUSED))
def test_impossible_numbers_are_refused(ask: Callable[[], object], says: str) -> None:
    with pytest.raises(CalculationError, match=says):
        ask()
