"""Blue in a light: published figures, CIE spectra, laws, and what is refused."""

from __future__ import annotations

import functools
import math
from collections.abc import Callable, Mapping
from itertools import pairwise
from typing import Any

import colour
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from published_rows import Row, rows

from diagnose.calculations import safelight
from diagnose.errors import CalculationError

NM = [float(at) for at in range(380, 781, 5)]


@functools.cache
def spectrum(name: str) -> list[float]:
    """A CIE illuminant from 380 to 780 nm in steps of 5 (colour-science, 2024)."""
    light = colour.SDS_ILLUMINANTS["FL" + name[1:] if name[0] == "F" else name]
    aligned = light.copy().align(colour.SpectralShape(380, 780, 5))
    return [float(power) for power in aligned.values]


# --- published rows ----------------------------------------------------------------


def below(given: Mapping[str, Any]) -> float:
    return safelight.share_below(NM, spectrum(given["illuminant"]), given["limit"])


def efficacy(given: Mapping[str, Any]) -> float:
    return safelight.luminous_efficacy(NM, spectrum(given["illuminant"]))


def blue_at(given: Mapping[str, Any]) -> float:
    """mW/m² of blue at so many lx, as the safe time reckons with."""
    blue = safelight.blue_per_lumen(NM, spectrum(given["illuminant"]), 450)
    found = safelight.safe_time(given["illuminance"], blue, 500, 0.5, 10)
    return 1000 * found.blue_irradiance


def filtered(given: Mapping[str, Any]) -> float:
    light, cut = spectrum(given["illuminant"]), given["cut"]
    behind = safelight.behind_filter(NM, light, cut, given["width"])
    return safelight.share_below(NM, behind, cut)


def one_line(given: Mapping[str, Any]) -> float:
    """The efficacy of a line of light at one wavelength."""
    at = given["wavelength"]
    return safelight.luminous_efficacy([at - 5, at, at + 5], [0, 1, 0])


WORKED: dict[str, Callable[[Mapping[str, Any]], float]] = {
    "-below450": below,
    "-below500": below,
    "-ler": efficacy,
    "-km": one_line,
    "-blue-per-klx": blue_at,
    "-filtered-500": filtered,
}


@pytest.mark.parametrize("row", rows("safelight"), ids=lambda row: row.id)
def test_published(row: Row) -> None:
    """The program gives the published value, within the tolerance of its row."""
    (work,) = [work for end, work in WORKED.items() if row.id.endswith(end)]
    wanted = pytest.approx(row.expected, abs=row.tolerance, rel=0)
    assert work(row.given) == wanted, str(row)


def test_the_eye_is_that_of_the_cie() -> None:
    """V(λ) of 1924 in colour-science 0.4.7 (2024), at each step of the table."""
    eye = colour.SDS_LEFS["CIE 1924 Photopic Standard Observer"]
    wanted = [float(eye[at]) for at in NM]
    assert list(safelight.EYE) == pytest.approx(wanted, abs=1e-9)


@pytest.mark.parametrize("name", ["F2", "F11", "LED-B3", "LED-B5"])
def test_colour_science_finds_the_same_efficacy(name: str) -> None:
    """colour.luminous_efficacy (colour-science 0.4.7, 2024), in steps of 5 nm."""
    light = colour.SDS_ILLUMINANTS["FL" + name[1:] if name[0] == "F" else name]
    aligned = light.copy().align(colour.SpectralShape(380, 780, 5))
    wanted = colour.luminous_efficacy(aligned)
    found = safelight.luminous_efficacy(NM, spectrum(name))
    assert found == pytest.approx(float(wanted), rel=2e-4)


# --- laws --------------------------------------------------------------------------

powers = st.lists(st.floats(0.01, 100), min_size=81, max_size=81)
amounts = st.floats(0.1, 100)
lights = st.floats(1, 2000)
blues = st.floats(0.001, 5)


@settings(deadline=None)
@given(powers, st.floats(380, 780), st.floats(380, 780), amounts)
def test_the_share_rises_with_the_limit(
    power: list[float], one: float, other: float, times: float
) -> None:
    """From 0 to 100 %, whatever unit the powers are in."""
    low, high = sorted((one, other))
    shares = [safelight.share_below(NM, power, at) for at in (380, low, high, 780)]
    assert all(a <= b + 1e-9 for a, b in pairwise(shares))
    assert shares[0] == 0
    assert shares[-1] == pytest.approx(100)
    stronger = [times * one for one in power]
    assert safelight.share_below(NM, stronger, high) == pytest.approx(shares[2])


@settings(deadline=None)
@given(powers, st.floats(400, 600), st.floats(1, 20))
def test_a_filter_takes_blue_and_never_gives_light(
    power: list[float], cut: float, width: float
) -> None:
    behind = safelight.behind_filter(NM, power, cut, width)
    assert all(0 <= less <= one for less, one in zip(behind, power, strict=True))
    bare = safelight.share_below(NM, power, cut)
    assert safelight.share_below(NM, behind, cut) <= bare + 1e-9


def test_half_of_the_light_passes_at_the_cut() -> None:
    assert safelight.behind_filter([450, 500, 550], [1, 1, 1], 500, 5) == pytest.approx(
        [1 / (1 + math.exp(10)), 0.5, 1 / (1 + math.exp(-10))]
    )


def test_no_light_is_more_than_683_lumens_to_a_watt() -> None:
    assert max(safelight.luminous_efficacy(NM, spectrum(n)) for n in ("F4", "E")) < 683
    outside = safelight.luminous_efficacy([360, 370, 379], [1, 1, 1])
    assert outside == 0


@settings(deadline=None)
@given(lights, blues, amounts)
def test_the_same_light_is_safe_as_long(lux: float, blue: float, time: float) -> None:
    found = safelight.safe_time(lux, blue, lux, blue, time)
    assert found.time == pytest.approx(time)
    assert found.careful < found.time


@settings(deadline=None)
@given(lights, blues, lights, blues, amounts, st.floats(0.1, 10))
def test_twice_the_light_is_half_the_time(
    lux: float, blue: float, other: float, its_blue: float, time: float, times: float
) -> None:
    """And light twice as blue too: only the blue on the coating counts."""
    once = safelight.safe_time(lux, blue, other, its_blue, time)
    more = safelight.safe_time(times * lux, blue, other, its_blue, time)
    bluer = safelight.safe_time(lux, times * blue, other, its_blue, time)
    assert once.time == pytest.approx(times * more.time)
    assert once.time == pytest.approx(times * bluer.time)
    dose = once.time * once.blue_irradiance
    assert dose == pytest.approx(time * other * its_blue / 1000)


@settings(deadline=None)
@given(st.floats(0.1, 100), st.floats(1.01, 10))
def test_what_is_safe_is_shorter_than_any_clear_strip(
    clear: float, longer: float
) -> None:
    found = safelight.fogging_test(clear, clear * longer)
    assert found.safe < clear < found.begins < clear * longer


def test_a_strip_of_eight_clear_and_one_of_sixteen_fogged() -> None:
    """Half of 8 min; fog begins at their geometric mean (worked by hand)."""
    found = safelight.fogging_test(8, 16)
    assert found.safe == 4
    assert found.begins == pytest.approx(8 * math.sqrt(2))


# --- what is refused ---------------------------------------------------------------

RISING = "the wavelengths have to rise from each to the next."
POWERS = "the powers of a spectrum can't be below 0, and not all of them 0."
TWO = [400.0, 500.0]

REFUSED: list[tuple[Callable[[], object], str]] = [
    (
        lambda: safelight.share_below([400], [1], 400),
        "1 wavelengths go with 1 powers; a spectrum has two or more, and as many of "
        "the one as of the other.",
    ),
    (
        lambda: safelight.luminous_efficacy([400, 500, 600], [1, 1]),
        "3 wavelengths go with 2 powers; a spectrum has two or more, and as many of "
        "the one as of the other.",
    ),
    (lambda: safelight.share_below([500, 400], [1, 1], 450), RISING),
    (lambda: safelight.share_below([400, math.nan], [1, 1], 450), RISING),
    (lambda: safelight.luminous_efficacy(TWO, [0, 0]), POWERS),
    (lambda: safelight.luminous_efficacy(TWO, [3, -1]), POWERS),
    (lambda: safelight.luminous_efficacy(TWO, [3, math.nan]), POWERS),
    (lambda: safelight.behind_filter(TWO, [0, 0], 450, 5), POWERS),
    (
        lambda: safelight.share_below(TWO, [1, 1], 550),
        "the limit is 550 nm; it has to lie between 400 and 500 nm.",
    ),
    (
        lambda: safelight.blue_per_lumen([300, 350], [1, 1], 340),
        "this spectrum has no light that the eye can see, so it has no lumens; it has "
        "to reach into 380 to 780 nm.",
    ),
    (
        lambda: safelight.behind_filter(TWO, [1, 1], 50, 5),
        "the cut of the filter is 50 nm; it has to lie between 200 and 2000 nm.",
    ),
    (
        lambda: safelight.behind_filter(TWO, [1, 1], 450, 0),
        "the width of the filter's cut is 0 nm; it has to lie between 0.1 and 200 nm.",
    ),
    (
        lambda: safelight.safe_time(0, 0.5, 500, 0.5, 10),
        "the light on the screen is 0 lx; it has to lie between 0.01 and 200000 lx.",
    ),
    (
        lambda: safelight.safe_time(500, 0.5, 500, 0, 10),
        "the blue of the light is 0 mW/lm; it has to lie between 1e-06 and 1000 mW/lm.",
    ),
    (
        lambda: safelight.safe_time(500, 0.5, 500, 0.5, -1),
        "the safe time in the other light is -1 min; it has to lie between 0 and "
        "100000 min.",
    ),
    (
        lambda: safelight.fogging_test(8, 8),
        "a strip of 8 min fogged and one of 8 min did not; the longer one has to fog "
        "first, so do the test again.",
    ),
    (
        lambda: safelight.fogging_test(0, 8),
        "the longest time without a mark is 0 min; it has to lie between 0.01 and "
        "100000 min.",
    ),
    (
        lambda: safelight.fogging_test(8, math.inf),
        "the shortest time with a mark is inf min; it has to lie between 0.01 and "
        "100000 min.",
    ),
]


@pytest.mark.parametrize(("work", "says"), REFUSED)
def test_what_can_not_be_is_refused_in_a_sentence(
    work: Callable[[], object], says: str
) -> None:
    with pytest.raises(CalculationError) as raised:
        work()
    assert str(raised.value) == says
