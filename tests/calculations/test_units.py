"""Units as a printer writes them, through the reader of readings."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from published_rows import Row, rows
from test_readings import reading

from diagnose.errors import AnswerError
from diagnose.readings import read
from diagnose.records import Finding


def number(unit: str, lowest: float = -1e9, highest: float = 1e9) -> Finding:
    """A finding that is read in a unit."""
    return reading(unit, lowest, highest, 0.1)


def as_read(text: str, unit: str) -> float:
    """The value of a text in a unit."""
    return read(text, number(unit)).value


# --- published rows ----------------------------------------------------------------

COUNT = {"1/in": "threads/in", "1/cm": "threads/cm"}


@pytest.mark.parametrize("row", rows("units"), ids=lambda row: row.id)
def test_published(row: Row) -> None:
    """What is printed in one unit is read in the other."""
    ((name, value),) = row.given.items()
    written = COUNT.get(row.units[name], row.units[name])
    found = as_read(f"{value} {written}", COUNT.get(row.unit, row.unit))
    assert found == pytest.approx(row.expected, abs=row.tolerance, rel=1e-12), str(row)


# --- by hand -----------------------------------------------------------------------
# The inch is 2.54 cm exactly; A. Thompson and B. N. Taylor, Guide for the use of the
# International System of Units (SI), NIST SP 811, 2008,
# https://www.nist.gov/pml/special-publication-811 (from memory). How a mesh is called
# ('120 T', '305 tpi'): common practice.

AS_WRITTEN: list[tuple[str, str, float]] = [
    ("305 tpi", "threads/cm", 305 / 2.54),
    ("305 TPI", "threads/cm", 305 / 2.54),
    ("305 per inch", "threads/cm", 305 / 2.54),
    ("305 per in", "threads/cm", 305 / 2.54),
    ("305/in", "threads/cm", 305 / 2.54),
    ("305/inch", "threads/cm", 305 / 2.54),
    ("305 threads per inch", "threads/cm", 305 / 2.54),
    ("305 threads/in", "threads/cm", 305 / 2.54),
    ("120 T", "threads/cm", 120),
    ("120T", "threads/cm", 120),
    ("120/cm", "threads/cm", 120),
    ("120 / cm", "threads/cm", 120),
    ("120 per cm", "threads/cm", 120),
    ("120 threads/cm", "threads/cm", 120),
    ("119/cm; 120/cm; 121/cm", "threads/cm", 120),
    ("119; 121 T", "threads/cm", 120),
    ("120", "threads/cm", 120),
    ("65 lpi", "lines/cm", 65 / 2.54),
    ("65 lines per inch", "lines/cm", 65 / 2.54),
    ("26 l/cm", "lines/cm", 26),
    ("26 L/cm", "lines/cm", 26),
    ("2540 dpi", "dots/cm", 1000),
    ("1440 ppi", "dots/cm", 1440 / 2.54),
    ("110 F", "°C", (110 - 32) / 1.8),
    ("43°C", "°C", 43),
    ("2.3 mil", "µm", 58.42),
    ("58 µm", "µm", 58),
    ("1,5 mm", "mm", 1.5),
    ("1.5 mm", "µm", 1500),
    ("25 N/cm", "N/cm", 25),
    ("25N/cm", "N/cm", 25),
    ("1:20", "", 0.05),
    ("1 : 20", "", 0.05),
    ("1/20", "", 0.05),
    ("1:20; 1:10", "", 0.075),
    ("3,75", "", 3.75),
    ("3.75:1", "", 3.75),
    ("150 mJ/cm2", "mJ/cm2", 150),
    ("150 mJ/cm²", "mJ/cm2", 150),
    ("150 mJ/cm^2", "mJ/cm2", 150),
    ("1500 J/m2", "mJ/cm2", 150),
    ("140 mJ/cm2; 160 mJ/cm2", "mJ/cm2", 150),
    ("0.5 mW/cm²", "W/m2", 5),
    ("500 lux", "lx", 500),
    ("22.5°", "°", 22.5),
    ("22,5 degrees", "°", 22.5),
    ("22.5 deg", "°", 22.5),
    ("90 s", "min", 1.5),
    ("1.2 kHz", "Hz", 1200),
    ("12 cm3/m2", "cm3/m2", 12),
    ("12 cm³/m²", "cm3/m2", 12),
]


@pytest.mark.parametrize(("text", "unit", "value"), AS_WRITTEN)
def test_units_as_a_printer_writes_them(text: str, unit: str, value: float) -> None:
    assert as_read(text, unit) == pytest.approx(value, rel=1e-12)


REFUSED: list[tuple[str, Finding, str]] = [
    (
        "62 mesh",  # by the inch to some, by the centimetre to others
        number("threads/cm", 4, 200),
        "'62 mesh': 'mesh' does not fit the thing, which is read in threads/cm, for "
        "example '43 threads/cm'.",
    ),
    (
        "110 threads",
        number("threads/cm", 4, 200),
        "'110 threads': 'threads' does not fit the thing, which is read in threads/cm, "
        "for example '43 threads/cm'.",
    ),
    (
        "65 lpi",
        number("threads/cm", 4, 200),
        "'65 lpi': 'lpi' does not fit the thing, which is read in threads/cm, for "
        "example '43 threads/cm'.",
    ),
    (
        "120 T",
        number("lines/cm", 1, 80),
        "'120 T': 'T' does not fit the thing, which is read in lines/cm, for example "
        "'16 lines/cm'.",
    ),
    (
        "120/cm",
        number("N/cm", 0, 60),
        "'120/cm': '/cm' does not fit the thing, which is read in N/cm, for example "
        "'12 N/cm'.",
    ),
    (
        "43°",
        number("°C", 0, 120),
        "'43°': '°' does not fit the thing, which is read in °C, for example '24 °C'.",
    ),
    (
        "1:20",
        number("N/cm", 0, 60),
        "'1:20' is not a reading of the thing; write a number and its unit, for "
        "example '12 N/cm'.",
    ),
    (
        "1:0",
        number("", 0, 10),
        "'1:0' is not a reading of the thing; write a number, for example '2'.",
    ),
    (
        "1:2:3",
        number("", 0, 10),
        "'1:2:3' is not a reading of the thing; write a number, for example '2'.",
    ),
    (
        "3 N",
        number("", 0, 10),
        "'3 N': 'N' does not fit the thing, which is a number without a unit, for "
        "example '2'.",
    ),
    (
        "20:1",
        number("", 0, 10),
        "'20:1': the thing lies between 0 and 10, for example '2'.",
    ),
]


@pytest.mark.parametrize(("text", "finding", "says"), REFUSED)
def test_units_that_do_not_fit_are_refused(
    text: str, finding: Finding, says: str
) -> None:
    with pytest.raises(AnswerError) as raised:
        read(text, finding)
    assert str(raised.value) == says


def test_a_pure_number_is_shown_without_a_blank_behind() -> None:
    assert str(read("3:4", number(""))) == "0.75 ± 0.1"


# --- laws --------------------------------------------------------------------------

PAIRS = [
    ("threads/in", "threads/cm"),
    ("lines/in", "lines/cm"),
    ("dots/in", "dots/cm"),
    ("mJ/cm2", "J/m2"),
    ("mW/cm2", "W/m2"),
    ("kgf/cm", "N/cm"),
    ("in3/ft2", "cm3/m2"),
    ("mmHg", "Pa"),
    ("min", "h"),
]


@settings(deadline=None)
@given(st.sampled_from(PAIRS), st.floats(0.01, 10_000))
def test_there_and_back_is_the_same(pair: tuple[str, str], value: float) -> None:
    one, other = pair
    there = as_read(f"{value:.12f} {one}", other)
    assert as_read(f"{there:.12f} {other}", one) == pytest.approx(value, rel=1e-6)
    assert there != pytest.approx(value, rel=1e-3)


@settings(deadline=None)
@given(st.integers(1, 500), st.integers(1, 500))
def test_a_ratio_is_its_quotient(part: int, whole: int) -> None:
    assert as_read(f"{part}:{whole}", "") == pytest.approx(part / whole, abs=1e-12)
