"""How much blue is in a room's light, and how long a coating may lie in it.

Wavelengths in nm, powers in any one unit a nm, illuminances in lx. Shares and
efficacies are those of the range that the spectrum covers; what is printed about lights
is mostly of 380 to 780 nm. Blue here is everything below the limit that is given.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import inf, isfinite, sqrt, tanh

from diagnose.calculations.limits import within
from diagnose.errors import CalculationError

MOST_LUMENS = 683.0
"""Lumens to a watt where the eye sees best (the SI's definition of the candela)."""

CAREFUL = 3.0
"""The safe time in another light is cut to one part in so many (our judgement).

The table's light is not the room's, no two emulsions see the same blue, and short of
measuring nobody knows what leaks from the end of a sleeve.
"""

MARGIN = 2.0
"""The longest strip without a mark is cut to one part in so many (our judgement).

The eye sees fog only when it is already strong, and a screen gets light again at every
step of its way.
"""

EYE = (
    3.9e-05,
    6.4e-05,
    0.00012,
    0.000217,
    0.000396,
    0.00064,
    0.00121,
    0.00218,
    0.004,
    0.0073,
    0.0116,
    0.01684,
    0.023,
    0.0298,
    0.038,
    0.048,
    0.06,
    0.0739,
    0.09098,
    0.1126,
    0.13902,
    0.1693,
    0.20802,
    0.2586,
    0.323,
    0.4073,
    0.503,
    0.6082,
    0.71,
    0.7932,
    0.862,
    0.9148501,
    0.954,
    0.9803,
    0.9949501,
    1.0,
    0.995,
    0.9786,
    0.952,
    0.9154,
    0.87,
    0.8163,
    0.757,
    0.6949,
    0.631,
    0.5668,
    0.503,
    0.4412,
    0.381,
    0.321,
    0.265,
    0.217,
    0.175,
    0.1382,
    0.107,
    0.0816,
    0.061,
    0.04458,
    0.032,
    0.0232,
    0.017,
    0.01192,
    0.00821,
    0.005723,
    0.004102,
    0.002929,
    0.002091,
    0.001484,
    0.001047,
    0.00074,
    0.00052,
    0.0003611,
    0.0002492,
    0.0001719,
    0.00012,
    8.48e-05,
    6e-05,
    4.24e-05,
    3e-05,
    2.12e-05,
    1.499e-05,
)
"""How well the eye sees each wavelength, from 380 to 780 nm in steps of 5.

V(λ) of the CIE of 1924, in Principles governing photometry, BIPM report 2019/05, as
tabled at http://www.cvrl.org/.
"""


@dataclass(frozen=True, slots=True)
class SafeTime:
    """Times in min: as reckoned, and with care; blue light in W/m²."""

    time: float
    careful: float
    blue_irradiance: float


@dataclass(frozen=True, slots=True)
class FoggingTest:
    """Times in min: what is safe, and about where fog begins."""

    safe: float
    begins: float


def share_below(
    wavelengths: Sequence[float], powers: Sequence[float], limit: float
) -> float:
    """Share of a light's power below a wavelength in nm, in %.

    Source: trapezoid rule, as CIE 15, Colorimetry, 2004, sums spectra.

    Raises:
        CalculationError: no spectrum, or a limit outside it.
    """
    whole = _whole(wavelengths, powers)
    within(limit, wavelengths[0], wavelengths[-1], "the limit", "nm")
    return 100 * _integral(wavelengths, powers, limit) / whole


def luminous_efficacy(wavelengths: Sequence[float], powers: Sequence[float]) -> float:
    """Lumens to a watt of this light, within the range of its spectrum.

    Source: CIE, International lighting vocabulary, 2020, luminous efficacy of
    radiation.

    Raises:
        CalculationError: no spectrum.
    """
    whole = _whole(wavelengths, powers)
    seen = [power * _eye(at) for at, power in zip(wavelengths, powers, strict=True)]
    return MOST_LUMENS * _integral(wavelengths, seen) / whole


def blue_per_lumen(
    wavelengths: Sequence[float], powers: Sequence[float], limit: float
) -> float:
    """Blue power in mW to a lumen; the same in W/m² at 1000 lx.

    The limit of the blue is in nm. Source: the two functions above.

    Raises:
        CalculationError: no spectrum, a limit outside it, or light nobody can see.
    """
    efficacy = luminous_efficacy(wavelengths, powers)
    if efficacy <= 0:
        raise CalculationError(
            "this spectrum has no light that the eye can see, so it has no lumens; it "
            "has to reach into 380 to 780 nm."
        )
    return 10 * share_below(wavelengths, powers, limit) / efficacy


def behind_filter(
    wavelengths: Sequence[float],
    powers: Sequence[float],
    cut: float,
    width: float,
) -> list[float]:
    """Powers of a light behind a yellow sleeve or film, in the unit they came in.

    At the cut (nm) half of the light passes; the width (nm) says how softly it cuts.
    Source: an idealised filter, 1 / (1 + e^-((λ - cut) / width)), written with a
    hyperbolic tangent; real sleeves leak more (our judgement).

    Raises:
        CalculationError: no spectrum, or a width that is not above 0.
    """
    _whole(wavelengths, powers)
    within(cut, 200, 2000, "the cut of the filter", "nm")
    within(width, 0.1, 200, "the width of the filter's cut", "nm")
    return [
        power * (1 + tanh((at - cut) / (2 * width))) / 2
        for at, power in zip(wavelengths, powers, strict=True)
    ]


def safe_time(
    illuminance: float,
    blue_light: float,
    reference_illuminance: float,
    reference_blue_light: float,
    reference_time: float,
) -> SafeTime:
    """How long a coating may lie in a light, from the safe time in another.

    Illuminances in lx at the screen, blue light in mW a lumen (`blue_per_lumen`), time
    in min. Fog is taken to go by the blue that falls on the coating times the time.
    Source: the reciprocity law of Bunsen and Roscoe, 1862; that blue below one limit
    stands for what the coating sees, and `CAREFUL`, are our judgement.

    Raises:
        CalculationError: values that can't be, or no light at all.
    """
    within(reference_time, 0, 1e5, "the safe time in the other light", "min")
    blue = _blue_irradiance(illuminance, blue_light)
    time = reference_time * (
        _blue_irradiance(reference_illuminance, reference_blue_light) / blue
    )
    return SafeTime(time, time / CAREFUL, blue)


def fogging_test(longest_clear: float, shortest_fogged: float) -> FoggingTest:
    """Safe time from strips of a coating left in the room's light, all in min.

    Source: the coin test of photographic darkrooms (common practice); `MARGIN` is our
    judgement. Fog begins about the geometric mean of the two times.

    Raises:
        CalculationError: a strip that fogged no later than one that stayed clear.
    """
    within(longest_clear, 0.01, 1e5, "the longest time without a mark", "min")
    within(shortest_fogged, 0.01, 1e5, "the shortest time with a mark", "min")
    if shortest_fogged <= longest_clear:
        raise CalculationError(
            f"a strip of {shortest_fogged:g} min fogged and one of {longest_clear:g} "
            "min did not; the longer one has to fog first, so do the test again."
        )
    return FoggingTest(longest_clear / MARGIN, sqrt(longest_clear * shortest_fogged))


def _blue_irradiance(illuminance: float, blue_light: float) -> float:
    """W/m² of blue at lx and mW a lumen."""
    within(illuminance, 0.01, 200_000, "the light on the screen", "lx")
    within(blue_light, 1e-6, 1000, "the blue of the light", "mW/lm")
    return illuminance * blue_light / 1000


def _whole(wavelengths: Sequence[float], powers: Sequence[float]) -> float:
    """The whole power of a spectrum, which has to be one."""
    if len(wavelengths) != len(powers) or len(powers) < 2:
        raise CalculationError(
            f"{len(wavelengths)} wavelengths go with {len(powers)} powers; a spectrum "
            "has two or more, and as many of the one as of the other."
        )
    if not all(isfinite(at) and at > 0 for at in wavelengths) or any(
        one >= other for one, other in pairwise(wavelengths)
    ):
        raise CalculationError("the wavelengths have to rise from each to the next.")
    whole = _integral(wavelengths, powers)
    if not isfinite(whole) or whole <= 0 or min(powers) < 0:
        raise CalculationError(
            "the powers of a spectrum can't be below 0, and not all of them 0."
        )
    return whole


def _integral(
    wavelengths: Sequence[float], powers: Sequence[float], limit: float = inf
) -> float:
    """The area under the powers up to a limit, by the trapezoid rule."""
    area = 0.0
    points = zip(wavelengths, powers, strict=True)
    for (start, one), (end, other) in pairwise(points):
        if limit <= start:
            break
        if limit < end:
            other = one + (other - one) * (limit - start) / (end - start)
            end = limit
        area += (one + other) / 2 * (end - start)
    return area


def _eye(wavelength: float) -> float:
    """V(λ), in a straight line between the steps of the table, 0 outside it."""
    place = (wavelength - 380) / 5
    if not 0 <= place <= len(EYE) - 1:
        return 0.0
    step = min(int(place), len(EYE) - 2)
    return EYE[step] + (EYE[step + 1] - EYE[step]) * (place - step)
