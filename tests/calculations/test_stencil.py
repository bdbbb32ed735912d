"""Emulsion over mesh and coats: published figures, laws, and sentences."""

from __future__ import annotations

import statistics
from collections.abc import Callable
from dataclasses import astuple
from math import sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from published_rows import Row, rows
from row_units import MICROMETRES, check, micrometres, numbers, percent

from diagnose.calculations import mesh, stencil
from diagnose.errors import CalculationError


def together(row: Row) -> float:
    """The sum rule, by way of the share."""
    cloth, emulsion = micrometres(row, "fabric"), micrometres(row, "emulsion")
    return stencil.thickness_for(cloth, 100 * emulsion / cloth).together


def emulsion_for_share(row: Row) -> float:
    cloth, share = micrometres(row, "fabric_thickness"), percent(row, "ratio")
    return stencil.thickness_for(cloth, share).emulsion


def emulsion(row: Row) -> float:
    return stencil.emulsion_over_mesh(
        numbers(row, "stencil"), numbers(row, "mesh")
    ).emulsion


def by_subtraction(row: Row) -> float:
    """In the unit of the row."""
    coated, bare = micrometres(row, "B"), micrometres(row, "A")
    return stencil.emulsion_over_mesh([coated], [bare]).emulsion / MICROMETRES[row.unit]


def deviation(row: Row) -> float:
    return stencil.emulsion_scatter(numbers(row, "stencil"), [60, 61]).stencil_scatter


def standard_error(row: Row) -> float:
    return stencil.emulsion_scatter(
        numbers(row, "stencil"), numbers(row, "mesh")
    ).emulsion_error


def gauge_doubt(_: Row) -> float:
    """% by which a stencil may read thinner than its mesh before it is refused."""
    stencil.emulsion_over_mesh([90.001], [100])
    with pytest.raises(CalculationError, match="set the gauge to zero"):
        stencil.emulsion_over_mesh([89.999], [100])
    return 10.0


WORKED: dict[str, Callable[[Row], float]] = {
    "eom-plate": together,
    "eom-20pct": emulsion_for_share,
    "eom-mean5": emulsion,
    "eom-sd": deviation,
    "eom-stderr": standard_error,
    "eom-iso2360-unc": gauge_doubt,
    "eom-base-subtract": by_subtraction,
}


@pytest.mark.parametrize("row", rows("stencil"), ids=lambda row: row.id)
def test_published(row: Row) -> None:
    """The program gives the published value, within the tolerance of its row."""
    check(row, WORKED[row.id](row))


def test_share_is_the_build_over_the_mesh() -> None:
    """Mesh 80 and stencil 92 µm give 15 %: worked by hand, 12 of 80."""
    found = stencil.emulsion_over_mesh([92], [80])
    assert (found.emulsion, found.share) == pytest.approx((12, 15))


def test_share_error_against_drawn_readings() -> None:
    """Computed: numpy 2.4, the scatter of 20 000 shares from drawn readings."""
    draw = np.random.default_rng(5)
    coated = draw.normal(73, 2, (20_000, 4))
    bare = draw.normal(60, 1.5, (20_000, 3))
    shares = 100 * (coated.mean(1) / bare.mean(1) - 1)
    step = 2 * sqrt(3) / 2
    side = 1.5
    found = stencil.emulsion_scatter(
        [73 - step, 73 - step, 73 + step, 73 + step], [60 - side, 60, 60 + side]
    )
    assert (found.stencil_scatter, found.mesh_scatter) == pytest.approx((2, 1.5))
    assert found.share_error == pytest.approx(shares.std(), rel=0.03)


@pytest.mark.parametrize(("per_inch", "thread"), [(110, 80), (156, 64)])
def test_two_coats_and_one_give_about_fifteen_per_cent(
    per_inch: float, thread: float
) -> None:
    """2 coats on the print side and 1 on the other: about 15 % at 110 to 160 an inch.

    Coating Screens Properly and EOM, n.d.,
    https://norcalsps.com/blogs/free-print-advice/coating-screens-properly-and-eom. The
    film of 43 % and the 40 % solids were set by this; that one film does for both
    meshes is what the figure tests.
    """
    count = mesh.threads_per_cm(per_inch)
    thick = mesh.fabric_thickness(count, thread)
    found = stencil.emulsion_after(3, count, thread, thick, 43, 1, 40)
    assert found.share == pytest.approx(15, abs=2.5)


def test_high_solids_save_coats() -> None:
    """Two coats at about 50 % solids build as much as four of an ordinary emulsion.

    Understanding Emulsion Viscosity vs. Solids Content, n.d.,
    https://chromaline.com/understanding-emulsion-viscosity-vs-solids-content/ ("one on
    one" against "up to four coats"). 30 % for the ordinary one is from memory.
    """
    thick = mesh.fabric_thickness(43, 80)
    two = stencil.emulsion_after(2, 43, 80, thick, 43, 1, 50).share
    four = stencil.emulsion_after(4, 43, 80, thick, 43, 1, 30).share
    assert two == pytest.approx(four, abs=5)


def test_coats_by_hand() -> None:
    """90/cm of 40 µm, 59 µm thick: room 36.381 µm, 40 % solids, film 25 µm.

    Three coats: 0.4 × 3 × 25 - 0.6 × 36.381 = 8.171 µm; computed by hand.
    """
    film = 100 * 25 / 59
    after = stencil.emulsion_after(3, 90, 40, 59, film, 1, 40)
    assert after.emulsion == pytest.approx(8.171, abs=1e-3)
    wanted = stencil.coats_for(after.share, 90, 40, 59, film, 1, 40)
    assert astuple(wanted) == pytest.approx((3, 3, after.emulsion))


def test_a_sharp_edge_takes_more_coats() -> None:
    """An edge that leaves half the film takes twice the coats (the model's own)."""
    sharp = stencil.coats_for(15, 90, 40, 59, 43, 0.5, 40)
    assert sharp.coats == pytest.approx(
        2 * stencil.coats_for(15, 90, 40, 59, 43, 1, 40).coats
    )


def test_a_coat_is_whole() -> None:
    """The nearest whole coat is told, with what it gives; and never less than one."""
    for coats, whole in ((3.4, 3), (3.6, 4)):
        share = stencil.emulsion_after(coats, 90, 40, 59, 43, 1, 40).share
        found = stencil.coats_for(share, 90, 40, 59, 43, 1, 40)
        given = stencil.emulsion_after(whole, 90, 40, 59, 43, 1, 40)
        assert found.whole == whole
        assert found.emulsion == pytest.approx(given.emulsion)
    assert stencil.coats_for(0, 90, 40, 59, 300, 1, 100).whole == 1


def test_learnt_against_numpy() -> None:
    """Slope, its error and the line: computed, numpy 2.4 polyfit with covariance."""
    coats, got = [2, 2, 3, 3, 4, 5], [1.5, 2.5, 9.0, 12.0, 20.5, 29.0]
    (slope, start), spread = np.polyfit(coats, got, 1, cov=True)
    found = stencil.coats_learnt(coats, got, 12)
    assert found.build == pytest.approx(slope)
    assert found.build_error == pytest.approx(sqrt(spread[0, 0]))
    assert found.first == pytest.approx(start + slope)
    assert found.needed == pytest.approx((12 - start) / slope)
    at = np.array([found.needed, 1.0])
    assert found.needed_error == pytest.approx(sqrt(at @ spread @ at) / slope)
    assert found.whole == 3


def test_learnt_from_screens_that_follow_the_model() -> None:
    """Screens as the model has them teach the model's own coats."""
    made = [
        stencil.emulsion_after(n, 90, 40, 59, 43, 1, 40).emulsion for n in (2, 3, 5)
    ]
    found = stencil.coats_learnt([2, 3, 5], made, 10)
    wanted = stencil.coats_for(100 * 10 / 59, 90, 40, 59, 43, 1, 40)
    assert (found.needed, found.whole) == pytest.approx((wanted.coats, wanted.whole))
    assert found.build_error == pytest.approx(0, abs=1e-9)


thicknesses = st.lists(st.floats(20, 200), min_size=2, max_size=8)


@given(st.lists(st.floats(0.5, 60), min_size=2, max_size=12))
def test_evenness_against_statistics(places: list[float]) -> None:
    """Computed: the standard library's statistics."""
    found = stencil.evenness(places)
    assert found.mean == pytest.approx(statistics.fmean(places))
    assert found.spread == max(places) - min(places)
    assert found.coefficient == pytest.approx(
        100 * statistics.stdev(places) / statistics.fmean(places), abs=1e-9
    )


@given(st.floats(0.5, 60), st.integers(2, 12))
def test_an_even_stencil_has_no_spread(emulsion: float, places: int) -> None:
    found = stencil.evenness([emulsion] * places)
    assert found.spread == 0
    assert found.coefficient == pytest.approx(0, abs=1e-9)


@given(thicknesses, thicknesses, st.integers(2, 6))
def test_more_readings_of_the_same_scatter_narrow_the_error(
    coated: list[float], bare: list[float], times: int
) -> None:
    once = stencil.emulsion_scatter(coated, bare)
    often = stencil.emulsion_scatter(coated * times, bare * times)
    assert often.emulsion_error <= once.emulsion_error / sqrt(times) + 1e-9
    assert often.share_error <= once.share_error / sqrt(times) + 1e-9


@given(st.floats(20, 200), st.floats(0, 60), st.integers(1, 5))
def test_target_and_reading_go_there_and_back(
    bare: float, share: float, times: int
) -> None:
    wanted = stencil.thickness_for(bare, share)
    found = stencil.emulsion_over_mesh([wanted.together] * times, [bare])
    assert found.share == pytest.approx(share, abs=1e-9)
    assert found.emulsion == pytest.approx(wanted.emulsion, abs=1e-9)


@given(
    st.floats(10, 180),
    st.floats(0.1, 0.7),
    st.floats(5, 100),
    st.floats(0.2, 1),
    st.floats(5, 100),
    st.floats(0.5, 10),
    st.floats(0, 5),
)
def test_more_coats_never_give_a_thinner_stencil(
    count: float,
    cover: float,
    film: float,
    edge: float,
    solids: float,
    coats: float,
    more: float,
) -> None:
    """Nor do a rounder edge or more solids; and the coats for a share give it."""
    thread = cover * mesh.pitch(count)
    cloth = (count, thread, mesh.fabric_thickness(count, thread))
    once = stencil.emulsion_after(coats, *cloth, film, edge, solids)
    again = stencil.emulsion_after(coats + more, *cloth, film, edge, solids)
    rounder = stencil.emulsion_after(coats, *cloth, film, edge * 1.1, solids)
    assert again.share >= once.share
    assert rounder.share >= once.share
    if solids <= 90:
        richer = stencil.emulsion_after(coats, *cloth, film, edge, solids * 1.1)
        assert richer.share >= once.share
    if 0 <= once.share <= 500:
        found = stencil.coats_for(once.share, *cloth, film, edge, solids)
        assert found.coats == pytest.approx(coats)
        assert abs(found.whole - coats) <= 0.5 + 1e-6


@given(st.floats(0.5, 20), st.floats(-30, 5), st.floats(0, 60))
def test_a_straight_line_is_learnt_without_doubt(
    build: float, start: float, target: float
) -> None:
    coats = [1.0, 2.0, 4.0, 4.0]
    found = stencil.coats_learnt(coats, [start + build * n for n in coats], target)
    assert found.build == pytest.approx(build)
    assert found.first == pytest.approx(start + build, abs=1e-9)
    assert found.build_error == pytest.approx(0, abs=1e-9)
    assert start + build * found.needed == pytest.approx(target, abs=1e-6)
    assert found.whole >= 1
    assert found.whole == 1 or abs(found.whole - found.needed) <= 0.5 + 1e-9


NO_NUMBER = "it has to be a number above 0."
CLOTH = (90.0, 40.0, 59.0)


@pytest.mark.parametrize(
    ("work", "sentence"),
    [
        (
            lambda: stencil.emulsion_over_mesh([50], [60]),
            "The stencil reads 50 µm and the bare mesh 60 µm; stencil and mesh "
            "together are no thinner than the mesh, so set the gauge to zero and take "
            "both again.",
        ),
        (
            lambda: stencil.emulsion_over_mesh([], [60]),
            "Readings of the stencil: at least 1 wanted, and 0 given.",
        ),
        (
            lambda: stencil.emulsion_over_mesh([70], []),
            "Readings of the bare mesh: at least 1 wanted, and 0 given.",
        ),
        (
            lambda: stencil.emulsion_over_mesh([70, 0], [60]),
            f"A reading of the stencil can't be 0 µm; {NO_NUMBER}",
        ),
        (
            lambda: stencil.emulsion_over_mesh([70], [float("nan")]),
            "Readings of the bare mesh: nan can't have been read.",
        ),
        (
            lambda: stencil.emulsion_scatter([70], [60, 61]),
            "Readings of the stencil: at least 2 wanted, and 1 given.",
        ),
        (
            lambda: stencil.emulsion_scatter([70, 71], [60]),
            "Readings of the bare mesh: at least 2 wanted, and 1 given.",
        ),
        (
            lambda: stencil.evenness([12]),
            "Places on the screen: at least 2 wanted, and 1 given.",
        ),
        (
            lambda: stencil.evenness([-1, 1]),
            f"The mean emulsion over the mesh can't be 0 µm; {NO_NUMBER}",
        ),
        (
            lambda: stencil.evenness([12, float("inf")]),
            "Places on the screen: inf can't have been read.",
        ),
        (
            lambda: stencil.thickness_for(0, 15),
            f"The thickness of the bare mesh can't be 0 µm; {NO_NUMBER}",
        ),
        (
            lambda: stencil.thickness_for(60, -1),
            "The share over the mesh is -1 %; it has to lie between 0 and 500 %.",
        ),
        (
            lambda: stencil.emulsion_after(0, *CLOTH, 43, 1, 40),
            f"The number of coats can't be 0; {NO_NUMBER}",
        ),
        (
            lambda: stencil.emulsion_after(2, *CLOTH, 0, 1, 40),
            f"The wet film of a coat can't be 0 %; {NO_NUMBER}",
        ),
        (
            lambda: stencil.emulsion_after(2, *CLOTH, 43, 0, 40),
            f"The edge factor can't be 0; {NO_NUMBER}",
        ),
        (
            lambda: stencil.coats_for(15, *CLOTH, 43, 1, 0),
            f"The share of volume solids can't be 0 %; {NO_NUMBER}",
        ),
        (
            lambda: stencil.coats_for(15, *CLOTH, 43, 1, 140),
            "The share of volume solids is 140 %; it has to lie between 0 and 100 %.",
        ),
        (
            lambda: stencil.coats_for(900, *CLOTH, 43, 1, 40),
            "The share over the mesh is 900 %; it has to lie between 0 and 500 %.",
        ),
        (
            lambda: stencil.coats_for(15, 90, 40, 100, 43, 1, 40),
            "A cloth of 100 µm is thicker than two threads of 40 µm; a plain cloth is "
            "about one and a half threads thick, so check the gauge and the thread.",
        ),
        (
            lambda: stencil.coats_learnt([2, 3], [1, 9], 12),
            "Screens measured: at least 3 wanted, and 2 given.",
        ),
        (
            lambda: stencil.coats_learnt([2, 3, 4], [1, 9], 12),
            "There are 3 numbers of coats and 2 readings of emulsion; give one reading "
            "for each screen, in the same order.",
        ),
        (
            lambda: stencil.coats_learnt([2, 3, 4], [1, 9, float("nan")], 12),
            "Readings of emulsion: nan can't have been read.",
        ),
        (
            lambda: stencil.coats_learnt([2, 3, -4], [1, 9, 12], 12),
            f"The number of coats can't be -4; {NO_NUMBER}",
        ),
        (
            lambda: stencil.coats_learnt([2, 3, 4], [1, 9, 12], -1),
            "The wanted emulsion over the mesh is -1 µm; it has to lie between 0 and "
            "1000 µm.",
        ),
        (
            lambda: stencil.coats_learnt([2, 2, 2], [1, 2, 3], 12),
            "All these screens had the same number of coats; measure one with more or "
            "fewer, or nothing can be learnt about a coat.",
        ),
        (
            lambda: stencil.coats_learnt([2, 3, 4], [12, 9, 1], 12),
            "More coats gave no thicker stencil on these screens; check that readings "
            "and coats are in the same order, and that the wet coats were not scraped "
            "off again.",
        ),
        (
            lambda: stencil.coats_learnt([2, 3, 4], [9, 9, 9], 12),
            "More coats gave no thicker stencil on these screens; check that readings "
            "and coats are in the same order, and that the wet coats were not scraped "
            "off again.",
        ),
    ],
)
def test_says_what_is_wrong(work: Callable[[], object], sentence: str) -> None:
    with pytest.raises(CalculationError) as raised:
        work()
    assert str(raised.value) == sentence
