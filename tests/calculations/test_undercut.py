"""Undercut: published figures, rays traced one by one, laws, refusals."""

from __future__ import annotations

from collections.abc import Callable
from math import isclose, radians

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from published_rows import Row, rows
from row_units import check, micrometres, number

from diagnose.calculations import undercut
from diagnose.errors import CalculationError

# --- published rows ----------------------------------------------------------------


def inside(row: Row) -> float:
    return undercut.refraction_angle(number(row, "theta"), number(row, "n"))


def along(row: Row) -> float:
    """How far a plate draws a ray in: without it, less with it; the lengths scale."""
    theta = number(row, "theta1")
    assert number(row, "n") == undercut.LAYER_INDEX
    without = undercut.spread(theta, 1000 * number(row, "t"), 0)
    return (without - undercut.spread(theta, 0, 1000 * number(row, "t"))) / 1000


def through_gap_and_layer(row: Row) -> float:
    assert number(row, "n") == undercut.LAYER_INDEX
    gap, layer = micrometres(row, "gap"), micrometres(row, "layer")
    return undercut.spread(number(row, "theta"), gap, layer)


def without_refraction(row: Row) -> float:
    """Where nothing refracts, the layer counts as gap."""
    return undercut.spread(number(row, "theta"), micrometres(row, "layer"), 0)


def grazing(row: Row) -> float:
    return undercut.spread(89.999, 0, micrometres(row, "layer"))


def half_shadow(row: Row) -> float:
    """In mm."""
    lamp = number(row, "source") / 10, number(row, "distance") / 10
    return undercut.penumbra(*lamp, micrometres(row, "gap")) / 1000


def film_the_wrong_way_up(row: Row) -> float:
    layer, film = micrometres(row, "layer"), micrometres(row, "film")
    assert number(row, "n") == undercut.LAYER_INDEX
    assert number(row, "n_f") == undercut.FILM_INDEX
    return undercut.spread(number(row, "theta"), 0, layer, film)


def line(row: Row) -> float:
    """A source as wide as the slant makes it, 100 cm above the line."""
    source = 200 * np.tan(radians(number(row, "theta")))
    gap, layer = micrometres(row, "gap"), micrometres(row, "layer")
    wide = micrometres(row, "w")
    return undercut.line_left(wide, float(source), 100, 0, gap, layer, 0).left


WORKED: dict[str, Callable[[Row], float]] = {
    "uc-labella-angle": inside,
    "uc-clutch-angle": inside,
    "uc-pf-angle": inside,
    "uc-pf-along": along,
    "uc-total-1": through_gap_and_layer,
    "uc-total-2": through_gap_and_layer,
    "uc-total-6": through_gap_and_layer,
    "uc-layer-only-wrong": without_refraction,
    "uc-diffuse-max-spread": grazing,
    "uc-penumbra": half_shadow,
    "uc-film-upside": film_the_wrong_way_up,
    "uc-line-loss": line,
}


@pytest.mark.parametrize("row", rows("undercut"), ids=lambda row: row.id)
def test_published(row: Row) -> None:
    """The program gives the published value, within the tolerance of its row."""
    check(row, WORKED[row.id](row))


# --- rays traced one by one --------------------------------------------------------


def refracted(ray: np.ndarray, index_from: float, index_to: float) -> np.ndarray:
    """Snell's law in vectors, for a surface that lies flat; y points down."""
    part = index_from / index_to
    along = part * ray[0]
    return np.array([along, np.sqrt(1 - along**2)])


@pytest.mark.parametrize(
    ("source", "off_centre", "inner", "outer"),
    [(0, 30, True, False), (20, 0, True, True), (20, 5, True, True), (4, 30, True, 0)],
)
def test_line_by_rays(
    source: float, off_centre: float, inner: bool, outer: bool
) -> None:
    """Computed with numpy: rays from points all over the source, past both edges.

    The line, 100 µm wide, lies to the right of the middle, the lamp 60 cm above it; 10
    µm of air and 70 µm of stencil, index 1.5 (from memory).
    """
    soft = [-50.0, 50.0]
    for start in np.linspace(-source / 2, source / 2, 41):
        ray = np.array([off_centre - start, 60.0])
        ray /= np.hypot(*ray)
        down = refracted(ray, 1.0, 1.5)
        shift = 10 * ray[0] / ray[1] + 70 * down[0] / down[1]
        soft = [max(soft[0], -50 + shift), min(soft[1], 50 + shift)]
    found = undercut.line_left(100, source, 60, off_centre, 10, 70, 0)
    assert found.inner_edge == pytest.approx(soft[0] + 50, abs=1e-9)
    assert found.outer_edge == pytest.approx(50 - soft[1], abs=1e-9)
    assert found.left == pytest.approx(max(0.0, soft[1] - soft[0]), abs=1e-9)
    assert (found.inner_edge > 0, found.outer_edge > 0) == (inner, outer)


# --- laws --------------------------------------------------------------------------

angles = st.floats(0.1, 80)
widths = st.floats(0, 300)


@given(angles, angles, widths, st.floats(1, 300), st.floats(0, 200))
def test_undercut_grows_with_the_angle(
    one: float, other: float, gap: float, layer: float, film: float
) -> None:
    low, high = sorted((one, other))
    if isclose(low, high, rel_tol=1e-6):
        return
    less = undercut.spread(low, gap, layer, film)
    assert 0 < less < undercut.spread(high, gap, layer, film)
    assert undercut.spread(0, gap, layer, film) == 0


@given(angles, widths, widths, widths)
def test_undercut_adds_up_through_gap_layer_and_film(
    angle: float, gap: float, layer: float, film: float
) -> None:
    """Each part only ever adds; a gap adds more than as much film or stencil."""
    parts = (
        undercut.spread(angle, gap, 0),
        undercut.spread(angle, 0, layer),
        undercut.spread(angle, 0, 0, film),
    )
    assert min(parts) >= 0
    whole = undercut.spread(angle, gap, layer, film)
    assert whole == pytest.approx(sum(parts), abs=1e-9)
    assert undercut.spread(angle, 0, gap, 0) <= parts[0]


@given(angles, st.floats(1, 2), st.floats(1, 2))
def test_layers_bend_a_ray_as_one_and_the_slower_bends_more(
    angle: float, one: float, other: float
) -> None:
    """Snell: sin(theta) over sin(inside) is the index, by numpy."""
    first, second = sorted((one, other))
    faster = undercut.refraction_angle(angle, first)
    slower = undercut.refraction_angle(angle, second)
    assert slower <= faster <= angle + 1e-9
    ratio = np.sin(radians(angle)) / np.sin(radians(slower))
    assert ratio == pytest.approx(second)


@given(st.floats(20, 500), st.floats(0, 60), st.floats(0, 60), widths, st.floats(1, 99))
def test_line_is_never_more_than_was_drawn(
    line: float, source: float, off_centre: float, gap: float, layer: float
) -> None:
    found = undercut.line_left(line, source, 60, off_centre, gap, layer, 0)
    assert 0 <= found.left <= line
    assert 0 <= found.outer_edge <= found.inner_edge + 1e-9
    assert found.share == pytest.approx(100 * found.left / line)
    upside_down = undercut.line_left(line, source, 60, off_centre, gap, layer, 100)
    assert upside_down.left <= found.left


@given(st.floats(1, 60), st.floats(10, 200), st.floats(1, 300), st.floats(1.1, 5))
def test_penumbra_grows_with_the_gap_and_falls_with_the_distance(
    source: float, far: float, gap: float, times: float
) -> None:
    shadow = undercut.penumbra(source, far, gap)
    assert undercut.penumbra(source, far, times * gap) == pytest.approx(times * shadow)
    assert undercut.penumbra(source, times * far, gap) == pytest.approx(shadow / times)


def test_point_source_above_the_line_takes_nothing() -> None:
    found = undercut.line_left(100, 0, 60, 0, 50, 80, 100)
    assert found == undercut.Line(
        angle=0, inner_edge=0, outer_edge=0, left=100, share=100
    )


# --- refusals ----------------------------------------------------------------------

REFUSED: dict[str, tuple[Callable[[], object], str]] = {
    "flat ray": (lambda: undercut.spread(90, 0, 70), "slant of the light is 90"),
    "backwards": (lambda: undercut.refraction_angle(-1, 1.5), "the light is -1"),
    "no number": (lambda: undercut.refraction_angle(float("nan"), 1.5), "light is nan"),
    "faster than light": (lambda: undercut.refraction_angle(9, 0.9), "index is 0.9"),
    "no gap": (lambda: undercut.spread(9, -1, 70), "The gap is -1"),
    "no layer": (lambda: undercut.spread(9, 0, -1), "of the stencil is -1"),
    "no film": (lambda: undercut.spread(9, 0, 70, -1), "of the film is -1"),
    "no source": (lambda: undercut.penumbra(-1, 60, 9), "light source is -1"),
    "no distance": (lambda: undercut.penumbra(9, 0, 9), "lamp's distance is 0"),
    "no shadow gap": (lambda: undercut.penumbra(9, 60, -1), "The gap is -1"),
    "no line": (lambda: undercut.line_left(0, 9, 60, 9, 0, 70, 0), "the line is 0"),
    "source": (lambda: undercut.line_left(90, -1, 60, 9, 0, 70, 0), "source is -1"),
    "lamp": (lambda: undercut.line_left(90, 9, 0, 9, 0, 70, 0), "distance is 0"),
    "middle": (lambda: undercut.line_left(90, 9, 60, -9, 0, 70, 0), "middle is -9"),
}


@pytest.mark.parametrize(("ask", "says"), REFUSED.values(), ids=list(REFUSED))
def test_impossible_numbers_are_refused(ask: Callable[[], object], says: str) -> None:
    with pytest.raises(CalculationError, match=says):
        ask()
