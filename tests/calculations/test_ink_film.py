"""Wet and dry film against published examples, its laws, and its sentences."""

from __future__ import annotations

from collections.abc import Callable

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st
from published_rows import Row, rows
from row_units import check, micrometres, number, percent

from diagnose.calculations import ink_film
from diagnose.errors import CalculationError

UNITS: pint.UnitRegistry[float] = pint.UnitRegistry()


def wet_film(row: Row) -> float:
    thinner = percent(row, "R") if "R" in row.given else 0.0
    return ink_film.wet_film(micrometres(row, "DFT"), percent(row, "VS"), thinner)


def share_from_films(row: Row) -> float:
    dry, wet = micrometres(row, "DFT"), micrometres(row, "WFT")
    return ink_film.solids_from_films(dry, wet) / 100


def coverage(row: Row) -> float:
    """In the unit of the row, by pint."""
    covers = ink_film.coverage(micrometres(row, "WFT")) * UNITS("m²/L")
    unit = {"m2/L": "m²/L", "ft2/gal": "ft²/gallon"}[row.unit]
    return float(covers.to(unit).magnitude)


def volume_solids(row: Row) -> float:
    densities = number(row, "rho_coat"), number(row, "rho_solvent")
    return ink_film.volume_solids(percent(row, "SW"), *densities) / 100


def solids_density(row: Row) -> float:
    return ink_film.solids_density(
        percent(row, "SW"), number(row, "rho_coat"), percent(row, "SV")
    )


WORKED: dict[str, Callable[[Row], float]] = {
    "wd-ultrimax-wft": wet_film,
    "wd-ultrimax-vs": share_from_films,
    "wd-gei-coverage": coverage,
    "wd-coverage-si": coverage,
    "wd-sv-1": volume_solids,
    "wd-solids-density": solids_density,
    "wd-thinned-wft": wet_film,
    "wd-shrink-coat": wet_film,
}


@pytest.mark.parametrize("row", rows("ink_film"), ids=lambda row: row.id)
def test_published(row: Row) -> None:
    """The program gives the published value, within the tolerance of its row."""
    check(row, WORKED[row.id](row))


films = st.floats(1, 500)
shares = st.floats(1, 100)
thinners = st.floats(0, 300)


@given(films, shares, thinners)
def test_wet_and_dry_go_there_and_back(
    film: float, solids: float, thinner: float
) -> None:
    dry = ink_film.dry_film(film, solids, thinner)
    assert dry <= film
    assert ink_film.wet_film(dry, solids, thinner) == pytest.approx(film)
    assert ink_film.solids_from_films(
        ink_film.dry_film(film, solids, 0), film
    ) == pytest.approx(solids)


@given(films, shares, thinners, thinners)
def test_more_thinner_leaves_less(
    film: float, solids: float, one: float, other: float
) -> None:
    less, more = sorted((one, other))
    thick = ink_film.dry_film(film, solids, less)
    assert ink_film.dry_film(film, solids, more) <= thick


@given(st.floats(5, 95), st.floats(0.9, 3), st.floats(0.7, 1.2))
def test_weights_add_up(solids: float, of_solids: float, of_thinner: float) -> None:
    """A mixture made up by weight: its solids are found again, and their density."""
    volume = solids / of_solids + (100 - solids) / of_thinner
    density = 100 / volume
    found = ink_film.volume_solids(solids, density, of_thinner)
    assert found == pytest.approx(100 * solids / of_solids / volume)
    assert ink_film.solids_density(solids, density, found) == pytest.approx(of_solids)


@given(films, st.integers(1, 5000), st.floats(1, 100), st.floats(1, 100))
def test_ink_used_gives_the_film_that_used_it(
    film: float, prints: int, width: float, height: float
) -> None:
    """One litre covers so many m² at a film; the weight of that much ink gives it."""
    square_metres = prints * width * height / 1e4 * 0.4
    grams = 1000 * 1.2 * square_metres / ink_film.coverage(film)
    found = ink_film.film_from_ink_used(grams, 1.2, prints, width, height, 40)
    assert found == pytest.approx(film)


def test_one_cubic_centimetre_over_a_square_metre() -> None:
    """1 µm, as in the rows on theoretical ink volume: 1.3 g of 1.3 g/cm³ on 1 m²."""
    assert ink_film.film_from_ink_used(1.3, 1.3, 1, 100, 100, 100) == pytest.approx(1)
    assert ink_film.film_from_ink_used(130, 1.3, 100, 100, 50, 50) == pytest.approx(4)


NO_NUMBER = "it has to be a number above 0."


@pytest.mark.parametrize(
    ("work", "sentence"),
    [
        (
            lambda: ink_film.dry_film(0, 50, 0),
            f"A wet film can't be 0 µm; {NO_NUMBER}",
        ),
        (
            lambda: ink_film.dry_film(30, 0, 0),
            f"The share of volume solids can't be 0 %; {NO_NUMBER}",
        ),
        (
            lambda: ink_film.dry_film(30, 110, 0),
            "The share of volume solids is 110 %; it has to lie between 0 and 100 %.",
        ),
        (
            lambda: ink_film.wet_film(30, 50, -5),
            "Thinner is -5 %; it has to lie between 0 and 1000 %.",
        ),
        (
            lambda: ink_film.wet_film(-1, 50, 0),
            f"A dry film can't be -1 µm; {NO_NUMBER}",
        ),
        (
            lambda: ink_film.solids_from_films(12, 10),
            "A film that was 10 µm wet can't dry to 12 µm; a film gets thinner as it "
            "dries.",
        ),
        (
            lambda: ink_film.solids_from_films(12, float("nan")),
            "A film that was nan µm wet can't dry to 12 µm; a film gets thinner as it "
            "dries.",
        ),
        (
            lambda: ink_film.solids_from_films(0, 10),
            f"A dry film can't be 0 µm; {NO_NUMBER}",
        ),
        (
            lambda: ink_film.volume_solids(0, 1.1, 1),
            f"The share of solids by weight can't be 0 %; {NO_NUMBER}",
        ),
        (
            lambda: ink_film.volume_solids(101, 1.1, 1),
            "The share of solids by weight is 101 %; it has to lie between 0 and 100 "
            "%.",
        ),
        (
            lambda: ink_film.volume_solids(40, 0, 1),
            f"The density of the wet ink can't be 0 g/cm³; {NO_NUMBER}",
        ),
        (
            lambda: ink_film.volume_solids(40, 1.1, 0),
            f"The density of the thinner can't be 0 g/cm³; {NO_NUMBER}",
        ),
        (
            lambda: ink_film.volume_solids(10, 1.5, 1),
            "With 10 % solids by weight and these densities more would dry out than "
            "there is; check the two densities.",
        ),
        (
            lambda: ink_film.solids_density(0, 1.1, 30),
            f"The share of solids by weight can't be 0 %; {NO_NUMBER}",
        ),
        (
            lambda: ink_film.solids_density(40, 1.1, 130),
            "The share of solids by volume is 130 %; it has to lie between 0 and 100 "
            "%.",
        ),
        (
            lambda: ink_film.solids_density(40, -1, 30),
            f"The density of the wet ink can't be -1 g/cm³; {NO_NUMBER}",
        ),
        (lambda: ink_film.coverage(0), f"A wet film can't be 0 µm; {NO_NUMBER}"),
        (
            lambda: ink_film.film_from_ink_used(0, 1.2, 10, 30, 30, 50),
            f"The ink used can't be 0 g; {NO_NUMBER}",
        ),
        (
            lambda: ink_film.film_from_ink_used(9, 0, 10, 30, 30, 50),
            f"The density of the ink can't be 0 g/cm³; {NO_NUMBER}",
        ),
        (
            lambda: ink_film.film_from_ink_used(9, 1.2, 0, 30, 30, 50),
            f"The number of prints can't be 0; {NO_NUMBER}",
        ),
        (
            lambda: ink_film.film_from_ink_used(9, 1.2, 10, 0, 30, 50),
            f"The width of the image can't be 0 cm; {NO_NUMBER}",
        ),
        (
            lambda: ink_film.film_from_ink_used(9, 1.2, 10, 30, 0, 50),
            f"The height of the image can't be 0 cm; {NO_NUMBER}",
        ),
        (
            lambda: ink_film.film_from_ink_used(9, 1.2, 10, 30, 30, 0),
            f"The share that prints can't be 0 %; {NO_NUMBER}",
        ),
        (
            lambda: ink_film.film_from_ink_used(9, 1.2, 10, 30, 30, 500),
            "The share that prints is 500 %; it has to lie between 0 and 100 %.",
        ),
    ],
)
def test_says_what_is_wrong(work: Callable[[], object], sentence: str) -> None:
    with pytest.raises(CalculationError) as raised:
        work()
    assert str(raised.value) == sentence
