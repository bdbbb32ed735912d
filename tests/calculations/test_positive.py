"""The positive: published figures, laws, and what is refused."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st
from published_rows import Row, rows
from row_units import check, number, percent

from diagnose.calculations import positive, step_wedge
from diagnose.errors import CalculationError

# --- published rows ----------------------------------------------------------------


def stopped(row: Row) -> float:
    return 100 - positive.transmission(number(row, "D"))


def passed(row: Row) -> float:
    """The stray light through a black over a clear film that takes nothing."""
    return positive.stray_light(number(row, "D")).share


def from_light(row: Row) -> float:
    return positive.density(percent(row, "T"))


def ratio(row: Row) -> float:
    clear = number(row, "Dmin")
    return positive.latitude(number(row, "Dmax") - clear, clear, 10).ratio


def clear_film(row: Row) -> float:
    return positive.clear_film_factor(number(row, "Dmin"))


WORKED: dict[str, Callable[[Row], float]] = {
    "od-block-1": stopped,
    "od-block-3": stopped,
    "od-trans-2.5": passed,
    "od-trans-3": passed,
    "od-from-t-0.5": from_light,
    "od-from-t-0.79433": from_light,
    "od-latitude": ratio,
    "od-dmin-loss": clear_film,
}


@pytest.mark.parametrize("row", rows("positive"), ids=lambda row: row.id)
def test_published(row: Row) -> None:
    """The program gives the published value, within the tolerance of its row."""
    check(row, WORKED[row.id](row))


# --- by hand -----------------------------------------------------------------------


def test_black_as_dense_as_the_clean_step_has_nothing_to_spare() -> None:
    """By hand: step 11 of a 21-step wedge is 0.05 + 10 × 0.15 = 1.55 D."""
    tight = positive.latitude(1.50, 0.05, 11)
    assert tight.spare_steps == pytest.approx(0, abs=1e-12)
    assert tight.longer == pytest.approx(1)
    roomy = positive.latitude(1.80, 0.05, 11)
    assert roomy.spare_steps == pytest.approx(2)
    assert roomy.longer == pytest.approx(10**0.3)
    assert roomy.ratio == pytest.approx(10**1.8)


def test_density_from_two_readings_of_a_light_meter() -> None:
    """By hand: 0.2 of 20 W/m² is a hundredth, 2 D."""
    assert positive.density_by_light(20, 0.2) == pytest.approx(2)


# --- laws --------------------------------------------------------------------------

densities = st.floats(0, 6)


@given(densities)
def test_density_goes_to_light_and_back(density: float) -> None:
    passed = positive.transmission(density)
    assert positive.density(passed) == pytest.approx(density, abs=1e-9)
    assert positive.density_by_light(50, passed / 2) == pytest.approx(density, abs=1e-9)


@given(st.floats(0, 3), st.floats(0, 3))
def test_densities_of_two_films_add_up(one: float, other: float) -> None:
    both = positive.clear_film_factor(one) * positive.clear_film_factor(other)
    assert positive.clear_film_factor(one + other) == pytest.approx(both)


@given(densities)
def test_stray_light_is_that_of_the_wedge_step(density: float) -> None:
    """The black is worth so many steps: a wedge that many steps on is as dense."""
    stray = positive.stray_light(density)
    clear = step_wedge.wedge_density(1)
    assert step_wedge.wedge_density(1 + stray.steps) - clear == pytest.approx(density)


@given(densities, st.floats(0, 0.5), st.floats(1, 21))
def test_a_step_longer_takes_a_step_of_what_is_spare(
    black: float, clear: float, clean: float
) -> None:
    """Exposed one step longer, the wedge washes clean one step later."""
    now = positive.latitude(black, clear, clean)
    longer = positive.latitude(black, clear, clean + 1)
    assert longer.spare_steps == pytest.approx(now.spare_steps - 1, abs=1e-9)
    assert longer.longer == pytest.approx(now.longer / 10**0.15)


# --- refusals ----------------------------------------------------------------------

REFUSED: dict[str, tuple[Callable[[], object], str]] = {
    "below clear": (lambda: positive.transmission(-0.1), "A density is -0.1"),
    "no number": (lambda: positive.transmission(float("nan")), "A density is nan"),
    "no film": (lambda: positive.stray_light(11), "A density is 11"),
    "no light": (lambda: positive.density(0), "light passed is 0 %"),
    "more than all": (lambda: positive.density(101), "light passed is 101 %"),
    "meter dark": (lambda: positive.density_by_light(0, 0), "the clear film is 0"),
    "film shines": (lambda: positive.density_by_light(1, 2), "through the black is 2"),
    "below dark": (lambda: positive.density_by_light(1, -1), "through the black is -1"),
    "nothing through": (lambda: positive.density_by_light(1, 0), "passed is 0 %"),
    "clear film": (lambda: positive.clear_film_factor(-1), "A density is -1"),
    "black": (lambda: positive.latitude(-1, 0, 9), "density of the black is -1"),
    "clear": (lambda: positive.latitude(2, -1, 9), "the clear film is -1"),
    "step": (lambda: positive.latitude(2, 0, 0), "A wedge step is 0"),
}


@pytest.mark.parametrize(("ask", "says"), REFUSED.values(), ids=list(REFUSED))
def test_impossible_numbers_are_refused(ask: Callable[[], object], says: str) -> None:
    with pytest.raises(CalculationError, match=says):
        ask()
