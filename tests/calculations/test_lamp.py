"""The lamp: published figures, a panel added up from points, laws, refusals."""

from __future__ import annotations

from collections.abc import Callable
from math import cos, hypot, radians, tan

import pytest
from hypothesis import given
from hypothesis import strategies as st
from published_rows import Row, rows
from row_units import check, number
from scipy.integrate import dblquad  # type: ignore[import-untyped]

from diagnose.calculations import lamp, step_wedge
from diagnose.errors import CalculationError

# --- published rows ----------------------------------------------------------------


def inches(row: Row, name: str) -> float:
    """In cm."""
    return 2.54 * number(row, name)


def longer(row: Row) -> float:
    """How much longer at d1 than at d2: the source's factor is of the light."""
    return lamp.time_for_distance(1, inches(row, "d2"), inches(row, "d1"))


def share_of_an_inch(row: Row) -> float:
    """Light at d against that at 1 inch is the inverse of the times."""
    return 1 / lamp.time_for_distance(1, 2.54, inches(row, "d"))


def new_time(row: Row) -> float:
    """In the unit of the row."""
    distances = inches(row, "d1"), inches(row, "d2")
    return lamp.time_for_distance(number(row, "t1"), *distances)


def lux(row: Row) -> float:
    """The point lies d along the ray, so the lamp is d cos(theta) above the bed."""
    slant, ray = radians(number(row, "theta")), number(row, "d")
    above = ray * cos(slant)
    beside = lamp.off_axis(100 * above, 100 * above * tan(slant))
    return number(row, "I") / above**2 * beside.point_source / 100


def point(row: Row) -> float:
    return lamp.off_axis(number(row, "h"), number(row, "r")).point_source / 100


def panel(row: Row) -> float:
    return lamp.off_axis(number(row, "h"), number(row, "r")).flat_source / 100


def fourth_power(row: Row) -> float:
    beside = 100 * tan(radians(number(row, "theta")))
    return lamp.off_axis(100, beside).flat_source / 100


def corner(row: Row) -> float:
    """At so many diagonals of any image; here 30 by 40 cm, 50 across."""
    far = 50 * number(row, "distance_over_diagonal")
    return lamp.corner_light(far, 30, 40).angle


def least(row: Row) -> float:
    """In inches."""
    found = lamp.least_distance(100, inches(row, "a"), inches(row, "b"))
    return found.least / 2.54


def time_for_dose(row: Row) -> float:
    """A mW/cm² is 10 W/m²."""
    return lamp.time_for_dose(number(row, "E"), 10 * number(row, "I"))


def aged(row: Row) -> lamp.Ageing:
    return lamp.ageing(100, number(row, "output"), 60)


WORKED: dict[str, Callable[[Row], float]] = {
    "lamp-pelland-factor": longer,
    "lamp-pelland-10in": share_of_an_inch,
    "lamp-base-15": new_time,
    "lamp-isl-1": new_time,
    "lamp-isl-3": new_time,
    "lamp-isl-4": new_time,
    "lamp-ies-off": lux,
    "lamp-point-100-40": point,
    "lamp-point-150-50": point,
    "lamp-point-60-30": point,
    "lamp-lambert-100-40-1": panel,
    "lamp-cos4-10": fourth_power,
    "lamp-cos4-30": fourth_power,
    "lamp-cos4-60": fourth_power,
    "lamp-ulano-corner-angle": corner,
    "lamp-ulano-distance": least,
    "lamp-dose": time_for_dose,
    "lamp-age-factor": lambda row: aged(row).factor,
    "lamp-age-steps": lambda row: aged(row).steps,
}


@pytest.mark.parametrize("row", rows("lamp"), ids=lambda row: row.id)
def test_published(row: Row) -> None:
    """The program gives the published value, within the tolerance of its row."""
    check(row, WORKED[row.id](row))


# --- by another way ----------------------------------------------------------------


@pytest.mark.parametrize("off_centre", [0, 25, 60])
def test_small_panel_added_up(off_centre: float) -> None:
    """Computed with scipy.integrate.dblquad: cos² / r² over a panel of 2 by 2 cm."""

    def light(beside: float) -> float:
        total, _ = dblquad(
            lambda x, y: 80**2 / ((x - beside) ** 2 + y**2 + 80**2) ** 2, -1, 1, -1, 1
        )
        return float(total)

    share = 100 * light(off_centre) / light(0)
    assert lamp.off_axis(80, off_centre).flat_source == pytest.approx(share, rel=1e-3)


# --- laws --------------------------------------------------------------------------

distances = st.floats(20, 300)
sizes = st.floats(5, 150)


@given(distances, distances, distances)
def test_inverse_square_composes(a: float, b: float, c: float) -> None:
    halfway = lamp.time_for_distance(60, a, b)
    there = lamp.time_for_distance(halfway, b, c)
    assert there == pytest.approx(lamp.time_for_distance(60, a, c))
    assert lamp.time_for_distance(60, a, a) == 60


@given(distances, sizes, sizes)
def test_corner_is_the_place_half_a_diagonal_out(
    far: float, width: float, length: float
) -> None:
    found = lamp.corner_light(far, width, length)
    assert found == lamp.off_axis(far, hypot(width, length) / 2)
    assert 0 < found.flat_source < found.point_source < 100
    assert lamp.off_axis(far, -width) == lamp.off_axis(far, width)


@given(distances, sizes, sizes, st.floats(1.1, 4))
def test_farther_lamp_is_more_even(
    far: float, width: float, length: float, times: float
) -> None:
    near = lamp.corner_light(far, width, length)
    farther = lamp.corner_light(times * far, width, length)
    assert farther.point_source > near.point_source
    assert farther.angle < near.angle


@given(distances, sizes, sizes)
def test_lamp_at_its_least_distance(far: float, width: float, length: float) -> None:
    found = lamp.least_distance(far, width, length)
    again = lamp.least_distance(found.least, width, length)
    assert again.diagonals == pytest.approx(1.5)
    assert (found.diagonals < 1.5) == (far < found.least)


@given(st.floats(1, 500), st.floats(1, 2000))
def test_dose_goes_to_a_time_and_back(irradiance: float, time: float) -> None:
    assert lamp.time_for_dose(lamp.dose(irradiance, time), irradiance) == (
        pytest.approx(time)
    )


@given(st.floats(5, 500), st.floats(5, 500))
def test_longer_time_makes_up_for_an_aged_lamp(new: float, now: float) -> None:
    found = lamp.ageing(new, now, 60)
    assert lamp.dose(now, found.time) == pytest.approx(lamp.dose(new, 60))
    by_wedge = step_wedge.corrected_time(60, 7 - found.steps / 10, 7).factor
    assert by_wedge**10 == pytest.approx(found.factor)
    assert found.output * found.factor == pytest.approx(100)


@given(st.floats(1, 900), st.floats(1, 4))
def test_dyed_mesh_never_takes_less(time: float, factor: float) -> None:
    assert lamp.time_for_dyed_mesh(time, factor) / time == pytest.approx(factor)


# --- refusals ----------------------------------------------------------------------

REFUSED: dict[str, tuple[Callable[[], object], str]] = {
    "no time": (lambda: lamp.time_for_distance(0, 50, 60), "exposure time is 0"),
    "no distance": (lambda: lamp.time_for_distance(9, 0, 60), "lamp's distance is 0"),
    "no other": (lambda: lamp.time_for_distance(9, 50, 0), "new distance is 0"),
    "nan": (lambda: lamp.time_for_distance(9, 50, float("nan")), "distance is nan"),
    "on the bed": (lambda: lamp.off_axis(0, 10), "lamp's distance is 0"),
    "nowhere": (lambda: lamp.off_axis(50, float("inf")), "from the middle is inf"),
    "no width": (lambda: lamp.corner_light(50, 0, 40), "The width is 0"),
    "no length": (lambda: lamp.least_distance(50, 30, 0), "The length is 0"),
    "no lamp": (lambda: lamp.least_distance(0, 30, 40), "lamp's distance is 0"),
    "dark": (lambda: lamp.dose(-1, 60), "irradiance is -1"),
    "back in time": (lambda: lamp.dose(20, -1), "exposure time is -1"),
    "no dose": (lambda: lamp.time_for_dose(-1, 20), "The dose is -1"),
    "no light": (lambda: lamp.time_for_dose(100, 0), "irradiance is 0"),
    "dead when new": (lambda: lamp.ageing(0, 20, 60), "new lamp is 0"),
    "dead now": (lambda: lamp.ageing(20, 0, 60), "irradiance now is 0"),
    "no exposure": (lambda: lamp.ageing(20, 10, 0), "exposure time is 0"),
    "no white time": (lambda: lamp.time_for_dyed_mesh(0, 1.5), "white mesh is 0"),
    "dye that shines": (lambda: lamp.time_for_dyed_mesh(60, 0.9), "dyed mesh is 0.9"),
}


@pytest.mark.parametrize(("ask", "says"), REFUSED.values(), ids=list(REFUSED))
def test_impossible_numbers_are_refused(ask: Callable[[], object], says: str) -> None:
    with pytest.raises(CalculationError, match=says):
        ask()
