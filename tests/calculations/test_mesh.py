"""Mesh geometry against published figures, its laws, and its sentences."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import astuple
from math import pi

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from published_rows import Row, rows
from row_units import check, micrometres, number, percent

from diagnose.calculations import mesh
from diagnose.errors import CalculationError


def counted(row: Row) -> float:
    """The mesh count of a row, in threads/cm."""
    if "n_inch" in row.given:
        return mesh.threads_per_cm(number(row, "n_inch"))
    return number(row, "n_cm" if "n_cm" in row.given else "M")


def opening(row: Row) -> float:
    return mesh.opening(counted(row), micrometres(row, "d"))


def wire_opening(row: Row) -> float:
    """In inches, as the source has it."""
    return opening(row) / 25400


def nominal_opening(row: Row) -> float:
    """From the pitch that is printed."""
    return mesh.opening(10000 / micrometres(row, "pitch"), micrometres(row, "d"))


def open_area(row: Row) -> float:
    """From opening and pitch, opening and thread, or count and thread."""
    if "w" not in row.given:
        return mesh.geometry(counted(row), micrometres(row, "d")).open_area
    wide = micrometres(row, "w")
    if "pitch" in row.given:
        return mesh.open_area(wide, micrometres(row, "pitch"))
    return mesh.open_area(wide, wide + micrometres(row, "d"))


def volume(row: Row) -> float:
    thick = "fabric_thickness" if "fabric_thickness" in row.given else "sG"
    share = "open_area" if "open_area" in row.given else "A0"
    return mesh.ink_volume(percent(row, share), micrometres(row, thick))


def volume_in_one_step(row: Row) -> float:
    wide, thread = micrometres(row, "w"), micrometres(row, "d")
    count = 10000 / (wide + thread)
    return mesh.cloth(count, thread, micrometres(row, "t")).ink_volume


def thickness_in_threads(row: Row) -> float:
    """The estimate for 90 threads/cm, as a multiple of the thread."""
    thread = micrometres(row, "d")
    return mesh.fabric_thickness(90, thread) / thread


def thickness_of_305(row: Row) -> float:
    return mesh.fabric_thickness(mesh.threads_per_cm(305), micrometres(row, "d"))


def thickest_allowed(_: Row) -> float:
    """In threads: a cloth of two threads is let through, one a hair thicker is not."""
    mesh.cloth(90, 40, 80)
    with pytest.raises(CalculationError, match="thicker than two threads"):
        mesh.cloth(90, 40, 80.001)
    return 2.0


def coarse_deposit(row: Row) -> float:
    return mesh.coarse_deposit(counted(row), micrometres(row, "D"))


def deposit_by_share(share: float) -> Callable[[Row], float]:
    """The share is in the formula of the row."""
    return lambda row: mesh.deposit_by_share(micrometres(row, "F"), share)


def deposit_with_emulsion(row: Row) -> float:
    """A mesh of just that open area: 0.42 = (1 - n d)², taking 90 threads/cm."""
    thread = (1 - number(row, "AO") ** 0.5) * 10000 / 90
    thick, emulsion = micrometres(row, "Tm"), micrometres(row, "Te")
    return mesh.deposit(90, thread, thick, emulsion).fine_lines


WORKED: dict[str, Callable[[Row], float]] = {
    "mesh-agh-I-pitch": lambda row: mesh.pitch(counted(row)),
    "mesh-agh-I-count": counted,
    "mesh-agh-III-nominal-opening": nominal_opening,
    "mesh-conv-120cm": lambda row: mesh.threads_per_inch(counted(row)),
    "mesh-wire-10": wire_opening,
    "mesh-305-40-thick": thickness_of_305,
    "mesh-volume-aoki": volume_in_one_step,
    "mesh-newlong-bound": thickest_allowed,
    "mesh-deposit-39-55": coarse_deposit,
    "mesh-deposit-150-F": deposit_by_share(35),
    "mesh-deposit-120-F": deposit_by_share(28.5),
    "mesh-deposit-twill": deposit_by_share(31),
    "mesh-deposit-thickfilm": deposit_with_emulsion,
}
BY_QUANTITY: dict[str, Callable[[Row], float]] = {
    "opening": opening,
    "openarea": open_area,
    "volume": volume,
    "spoerl": volume,
    "40": thickness_in_threads,
    "48": thickness_in_threads,
    "54": thickness_in_threads,
}


@pytest.mark.parametrize("row", rows("mesh"), ids=lambda row: row.id)
def test_published(row: Row) -> None:
    """The program gives the published value, within the tolerance of its row."""
    work = WORKED.get(row.id) or BY_QUANTITY[row.id.rsplit("-", 1)[1]]
    check(row, work(row))


def test_geometry_gives_the_same_as_its_parts() -> None:
    """All at once and one by one: computed by hand, 90 threads/cm of 40 µm."""
    found = mesh.geometry(90, 40)
    assert found.per_inch == pytest.approx(228.6)
    assert found.pitch == pytest.approx(111.1111, abs=1e-4)
    assert found.opening == pytest.approx(71.1111, abs=1e-4)
    assert found.open_area == pytest.approx(40.96)
    assert found.fabric_thickness == pytest.approx(58.8)
    assert found.ink_volume == pytest.approx(24.08448)
    assert found.largest_particle == pytest.approx(23.7037, abs=1e-4)


def test_counted_threads() -> None:
    """45 threads in half a centimetre are 90/cm, or 228.6 an inch (by hand)."""
    assert astuple(mesh.counted(45, 0.5)) == pytest.approx((90, 228.6))


def test_room_that_threads_leave() -> None:
    """By hand: two sets of 9 threads/mm, each a cylinder of 40 µm, in 59 µm of cloth.

    One square metre: 2 × 9000 threads × 1 m × π/4 × (40 µm)² = 22.62 cm³ of 59.
    """
    threads = 2 * 9000 * pi / 4 * 40e-6**2 * 1e6
    assert mesh.cloth(90, 40, 59).room == pytest.approx(59 - threads, rel=1e-12)


def test_deposit_on_solids_is_the_theoretical_volume() -> None:
    """Emulsion counts in fine lines only (Screen selection, n.d., and spoerl row)."""
    laid = mesh.deposit(90, 40, 59, 10)
    assert laid.solid == mesh.cloth(90, 40, 59).ink_volume
    assert laid.fine_lines == pytest.approx(laid.solid + 10)


counts = st.floats(1, 300)
covers = st.floats(0.05, 0.95)
"""Thread over pitch."""


@given(counts, covers)
def test_opening_and_thread_make_the_pitch(count: float, cover: float) -> None:
    thread = cover * mesh.pitch(count)
    assert mesh.opening(count, thread) + thread == pytest.approx(mesh.pitch(count))


@given(counts, covers, covers)
def test_open_area_falls_as_the_thread_grows(
    count: float, one: float, other: float
) -> None:
    thin, thick = sorted((one, other))
    assume(thick - thin > 1e-6)
    of_thin = mesh.geometry(count, thin * mesh.pitch(count))
    of_thick = mesh.geometry(count, thick * mesh.pitch(count))
    assert 0 < of_thick.open_area < of_thin.open_area < 100
    assert of_thick.fabric_thickness > of_thin.fabric_thickness


@given(counts)
def test_counts_go_there_and_back(count: float) -> None:
    assert mesh.threads_per_cm(mesh.threads_per_inch(count)) == pytest.approx(count)
    assert mesh.counted(count * 0.7, 0.7).per_cm == pytest.approx(count)


@given(counts, covers)
def test_cloth_is_thicker_than_one_thread_and_no_thicker_than_two(
    count: float, cover: float
) -> None:
    """So the estimate can always go into `cloth`, and the room is above the volume."""
    thread = cover * mesh.pitch(count)
    thick = mesh.fabric_thickness(count, thread)
    assert thread < thick < 2 * thread
    holds = mesh.cloth(count, thread, thick)
    assert 0 < holds.ink_volume < holds.room < thick


@given(counts, covers)
def test_coarse_rule_lies_above_the_theoretical_volume(
    count: float, cover: float
) -> None:
    """1.82 threads high, against a cloth of 1.2 to 1.95: they part by half at most."""
    thread = cover * mesh.pitch(count)
    rule = mesh.coarse_deposit(count, thread)
    assert 1.82 / 1.95 <= rule / mesh.geometry(count, thread).ink_volume <= 1.82 / 1.2


@pytest.mark.parametrize(
    ("work", "sentence"),
    [
        (
            lambda: mesh.opening(170, 60),
            "Threads of 60 µm at 170 threads/cm would fill the mesh; the thread is "
            "thinner than 10000 / count = 58.82 µm.",
        ),
        (
            lambda: mesh.opening(100, 100),
            "Threads of 100 µm at 100 threads/cm would fill the mesh; the thread is "
            "thinner than 10000 / count = 100 µm.",
        ),
        (
            lambda: mesh.opening(90, 0),
            "A thread diameter can't be 0 µm; it has to be a number above 0.",
        ),
        (
            lambda: mesh.geometry(90, float("nan")),
            "A thread diameter can't be nan µm; it has to be a number above 0.",
        ),
        (
            lambda: mesh.pitch(0),
            "A mesh count is 0 threads/cm; it has to lie between 0.1 and 5000 "
            "threads/cm.",
        ),
        (
            lambda: mesh.threads_per_inch(float("inf")),
            "A mesh count is inf threads/cm; it has to lie between 0.1 and 5000 "
            "threads/cm.",
        ),
        (
            lambda: mesh.threads_per_cm(-305),
            "A mesh count is -305 threads per inch; it has to lie between 0.254 and "
            "12700 threads per inch.",
        ),
        (
            lambda: mesh.counted(45, 0),
            "The width in which threads are counted can't be 0 cm; it has to be a "
            "number above 0.",
        ),
        (
            lambda: mesh.counted(-1, 1),
            "The number of threads counted can't be -1; it has to be a number above 0.",
        ),
        (
            lambda: mesh.open_area(0, 100),
            "A mesh opening can't be 0 µm; it has to be a number above 0.",
        ),
        (
            lambda: mesh.open_area(50, -1),
            "A pitch can't be -1 µm; it has to be a number above 0.",
        ),
        (
            lambda: mesh.open_area(100, 100),
            "An opening of 100 µm does not fit into a pitch of 100 µm; the opening is "
            "the pitch less one thread.",
        ),
        (
            lambda: mesh.ink_volume(0, 60),
            "An open area can't be 0 %; it has to be a number above 0.",
        ),
        (
            lambda: mesh.ink_volume(101, 60),
            "An open area is 101 %; it has to lie between 0 and 100 %.",
        ),
        (
            lambda: mesh.ink_volume(40, 0),
            "A fabric thickness can't be 0 µm; it has to be a number above 0.",
        ),
        (
            lambda: mesh.cloth(90, 40, 20),
            "A cloth of 20 µm is too thin to hold threads of 40 µm at 90 threads/cm, "
            "which alone make up 22.62 µm; measure mesh and thread again.",
        ),
        (
            lambda: mesh.cloth(90, 40, 0),
            "A fabric thickness can't be 0 µm; it has to be a number above 0.",
        ),
        (
            lambda: mesh.deposit(90, 40, 90, 10),
            "A cloth of 90 µm is thicker than two threads of 40 µm; a plain cloth is "
            "about one and a half threads thick, so check the gauge and the thread.",
        ),
        (
            lambda: mesh.deposit(90, 40, 59, -1),
            "Emulsion over the mesh is -1 µm; it has to lie between 0 and 1000 µm.",
        ),
        (
            lambda: mesh.deposit_by_share(-60, 28.5),
            "A fabric thickness can't be -60 µm; it has to be a number above 0.",
        ),
        (
            lambda: mesh.deposit_by_share(60, 128.5),
            "The share of the thickness that lands is 128.5 %; it has to lie between 0 "
            "and 100 %.",
        ),
        (
            lambda: mesh.coarse_deposit(42, 300),
            "Threads of 300 µm at 42 threads/cm would fill the mesh; the thread is "
            "thinner than 10000 / count = 238.1 µm.",
        ),
    ],
)
def test_says_what_is_wrong(work: Callable[[], object], sentence: str) -> None:
    with pytest.raises(CalculationError) as raised:
        work()
    assert str(raised.value) == sentence
