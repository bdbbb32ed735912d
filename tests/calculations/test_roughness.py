"""Roughness: worked examples, laws, and sentences."""

from __future__ import annotations

from collections.abc import Callable
from math import pi

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from published_rows import Row, rows
from row_units import check, number, numbers

from diagnose.calculations import roughness
from diagnose.errors import CalculationError


def up_and_down(row: Row, sign: int = 1) -> list[float]:
    """A profile that goes from a peak to its valley, and on to the next peak."""
    pairs = zip(numbers(row, "peaks"), numbers(row, "valleys"), strict=True)
    return [height for peak, valley in pairs for height in (peak, sign * valley)]


def sine(row: Row) -> list[float]:
    """A sine over the evaluation length, 100 points a wave."""
    waves = number(row, "evaluation_length") / number(row, "wavelength")
    places = np.arange(round(100 * waves)) / 100
    return [float(h) for h in number(row, "amplitude") * np.sin(2 * pi * places)]


WORKED: dict[str, Callable[[Row], float]] = {
    "rz-iso-5": lambda row: roughness.roughness(up_and_down(row)).rz,
    "rz-rt": lambda row: roughness.roughness(up_and_down(row)).rt,
    "rz-jis-10": lambda row: roughness.ten_point_roughness(up_and_down(row, -1)),
    "rz-sine": lambda row: roughness.roughness(sine(row)).rz,
    "rz-taylor-len": lambda row: (
        roughness.measuring_lengths(number(row, "cutoff")).travelled
    ),
    "rz-eval-len": lambda row: (
        roughness.measuring_lengths(number(row, "cutoff")).evaluated
    ),
}


@pytest.mark.parametrize("row", rows("roughness"), ids=lambda row: row.id)
def test_published(row: Row) -> None:
    """The program gives the published value, within the tolerance of its row."""
    check(row, WORKED[row.id](row))


def test_the_two_meanings_of_rz_differ() -> None:
    """All ten in one length: ISO Rz of that length is 6.9, RzJIS 5.68.

    Surface roughness: Ra, Rz, RzJIS definitions (n.d.), row rz-jis-10; the 6.9 is
    computed, 3.6 + 3.3.
    """
    (row,) = [row for row in rows("roughness") if row.id == "rz-jis-10"]
    heights = up_and_down(row, -1)
    assert roughness.roughness(heights * 5).rz == pytest.approx(6.9)
    assert roughness.ten_point_roughness(heights) == pytest.approx(5.68)


def test_peaks_are_parts_over_the_mean_line() -> None:
    """A wave with a dent in its top is one peak, not two; computed by hand."""
    wave = [0, 3, 2.5, 4, 0, -3, -2, -3.5] * 5
    assert roughness.ten_point_roughness(wave) == pytest.approx(7.5)
    lifted = [100 + height for height in wave]
    assert roughness.ten_point_roughness(lifted) == pytest.approx(7.5)


heights = st.lists(st.floats(-50, 50), min_size=10, max_size=80)


@given(heights)
def test_against_numpy(profile: list[float]) -> None:
    """Computed: numpy 2.4 ptp of five equal lengths, where the profile divides."""
    profile = profile[: len(profile) // 5 * 5]
    lengths = np.array(profile).reshape(5, -1)
    found = roughness.roughness(profile)
    assert found.rz == pytest.approx(np.ptp(lengths, axis=1).mean(), abs=1e-9)
    assert found.rt == pytest.approx(np.ptp(lengths), abs=1e-9)


@given(heights, st.floats(-100, 100), st.floats(0.1, 10))
def test_rz_is_at_most_rt(profile: list[float], lift: float, scale: float) -> None:
    """And lifting the stylus changes nothing, and twice the heights give twice both."""
    found = roughness.roughness(profile)
    assert 0 <= found.rz <= found.rt + 1e-9
    other = roughness.roughness([lift + scale * height for height in profile])
    assert (other.rz, other.rt) == pytest.approx(
        (scale * found.rz, scale * found.rt), abs=1e-9
    )


@given(
    st.lists(st.floats(0.5, 50), min_size=5, max_size=9), st.floats(0.1, 10), st.data()
)
def test_ten_points_are_at_most_the_whole_height(
    peaks: list[float], scale: float, data: st.DataObject
) -> None:
    """A wave of these peaks about 0; upside down it has the same ten-point height."""
    depths = data.draw(st.permutations(peaks))
    wave = [h for p, d in zip(peaks, depths, strict=True) for h in (p, 0.0, -d, 0.0)]
    found = roughness.ten_point_roughness(wave)
    assert 0 < found <= max(wave) - min(wave) + 1e-9
    upside_down = [-scale * height for height in wave]
    assert roughness.ten_point_roughness(upside_down) == pytest.approx(scale * found)


@pytest.mark.parametrize(
    ("work", "sentence"),
    [
        (
            lambda: roughness.roughness([1, 2, 3]),
            "Heights of the profile: at least 10 wanted, and 3 given.",
        ),
        (
            lambda: roughness.roughness([1.0] * 9 + [float("nan")]),
            "Heights of the profile: nan can't have been read.",
        ),
        (
            lambda: roughness.ten_point_roughness([1, -1] * 4),
            "Heights of the profile: at least 10 wanted, and 8 given.",
        ),
        (
            lambda: roughness.ten_point_roughness([1, 1, -1] * 4),
            "This profile has 4 peaks and 4 valleys; the ten-point height takes 5 of "
            "each, so measure a longer piece.",
        ),
        (
            lambda: roughness.measuring_lengths(0),
            "The cut-off can't be 0 mm; it has to be a number above 0.",
        ),
    ],
)
def test_says_what_is_wrong(work: Callable[[], object], sentence: str) -> None:
    with pytest.raises(CalculationError) as raised:
        work()
    assert str(raised.value) == sentence
