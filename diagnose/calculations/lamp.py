"""The lamp: distance, evenness over the bed, dose, age, and the colour of the mesh."""

from __future__ import annotations

from dataclasses import dataclass
from math import atan, cos, degrees, hypot, log10

from diagnose.calculations.limits import within
from diagnose.calculations.step_wedge import STEP

DIAGONALS = 1.5
"""Least distance of a point lamp in diagonals of what is exposed (Evaluating light
sources, n.d.)."""

FARTHEST = 10000.0
LONGEST = 1e6
BRIGHTEST = 1e5

DOSE_UNITS = 0.1
"""mJ/cm² in a J/m²."""


@dataclass(frozen=True, slots=True)
class OffAxis:
    """Light beside the middle of the bed: slant in degrees, shares in % of the middle.

    `point_source` for a bare lamp, which shines alike in all directions;
    `flat_source` for one that shines as a flat, matt panel does.
    """

    angle: float
    point_source: float
    flat_source: float


@dataclass(frozen=True, slots=True)
class LeastDistance:
    """Least distance in cm, and the distance that there is in diagonals."""

    least: float
    diagonals: float


@dataclass(frozen=True, slots=True)
class Ageing:
    """What is left of the light in %, and what makes up for it.

    `time` is the new exposure in s, `factor` times the old one; `steps` of a 21-step
    wedge are lost without it.
    """

    output: float
    time: float
    factor: float
    steps: float


def time_for_distance(
    exposure_time: float, lamp_distance: float, new_distance: float
) -> float:
    """The time, in s, for the same dose at another lamp distance, in cm.

    For a lamp that is small beside its distance; a bank of tubes or a panel close to
    the glass loses less. Raises CalculationError for a time or distance that can't be.
    Formula: t (d2 / d1)² (Cosine law and inverse-square law combined, definition 9.1.2
    of ANSI/IES, n.d.).
    """
    within(exposure_time, 0.01, LONGEST, "The exposure time", "s")
    within(lamp_distance, 0.1, FARTHEST, "The lamp's distance", "cm")
    within(new_distance, 0.1, FARTHEST, "The new distance", "cm")
    return exposure_time * (new_distance / lamp_distance) ** 2


def off_axis(lamp_distance: float, off_centre: float) -> OffAxis:
    """Light at a distance beside the middle of a flat bed; both distances in cm.

    No reflector is reckoned with. Raises CalculationError for a distance that can't be.
    Formula: cos³ for a point source (Cosine law and inverse-square law combined,
    definition 9.1.2 of ANSI/IES, n.d.), cos⁴ for a flat one (Cosine to the fourth law,
    n.d.).
    """
    within(lamp_distance, 0.1, FARTHEST, "The lamp's distance", "cm")
    within(off_centre, -FARTHEST, FARTHEST, "The distance from the middle", "cm")
    slant = atan(abs(off_centre) / lamp_distance)
    cosine = cos(slant)
    return OffAxis(degrees(slant), 100 * cosine**3, 100 * cosine**4)


def corner_light(
    lamp_distance: float, image_width: float, image_length: float
) -> OffAxis:
    """Light in the corners of an image in the middle of the bed; all in cm.

    Raises CalculationError for a size or distance that can't be. Formula: `off_axis`
    at half of the diagonal.
    """
    return off_axis(lamp_distance, _diagonal(image_width, image_length) / 2)


def least_distance(
    lamp_distance: float, image_width: float, image_length: float
) -> LeastDistance:
    """Least distance of a point lamp, against the one there is; all in cm.

    Raises CalculationError for a size or distance that can't be. Formula: 1.5
    sqrt(a² + b²) (Evaluating light sources, n.d.).
    """
    within(lamp_distance, 0.1, FARTHEST, "The lamp's distance", "cm")
    diagonal = _diagonal(image_width, image_length)
    return LeastDistance(DIAGONALS * diagonal, lamp_distance / diagonal)


def dose(irradiance: float, exposure_time: float) -> float:
    """Dose, in mJ/cm², of an irradiance in W/m² over a time in s.

    Raises CalculationError for light or a time that can't be. Formula: irradiance *
    time (Making the working curve work for you, 2023).
    """
    within(irradiance, 0, BRIGHTEST, "The irradiance", "W/m²")
    within(exposure_time, 0, LONGEST, "The exposure time", "s")
    return irradiance * exposure_time * DOSE_UNITS


def time_for_dose(wanted_dose: float, irradiance: float) -> float:
    """Time, in s, for a dose in mJ/cm² under an irradiance in W/m².

    Raises CalculationError for a dose or light that can't be. Formula: dose /
    irradiance (Making the working curve work for you, 2023).
    """
    within(wanted_dose, 0, 1e7, "The dose", "mJ/cm²")
    within(irradiance, 0.001, BRIGHTEST, "The irradiance", "W/m²")
    return wanted_dose / (irradiance * DOSE_UNITS)


def ageing(
    irradiance_new: float, irradiance_now: float, exposure_time: float
) -> Ageing:
    """What an aged lamp has lost, and the time that makes up for it.

    Irradiances in W/m² at the same spot, with the lamp new and now; time in s, right
    for the new lamp. Raises CalculationError for light or a time that can't be.
    Formula: factor = new / now (Light output of metal halide lamps over life, n.d.),
    steps = log10(factor) / 0.15.
    """
    within(irradiance_new, 0.001, BRIGHTEST, "The irradiance of the new lamp", "W/m²")
    within(irradiance_now, 0.001, BRIGHTEST, "The irradiance now", "W/m²")
    within(exposure_time, 0.01, LONGEST, "The exposure time", "s")
    factor = irradiance_new / irradiance_now
    return Ageing(100 / factor, exposure_time * factor, factor, log10(factor) / STEP)


def time_for_dyed_mesh(white_mesh_time: float, dye_factor: float) -> float:
    """First time to try on dyed mesh, in s, from the time for white mesh in s.

    That dyed mesh takes longer is published; by how much is not. 1.5, give or take a
    quarter, is our judgement: it is to be tested with a wedge. Raises CalculationError
    for a factor below 1 or above 4. Formula: the product.
    """
    within(white_mesh_time, 0.01, LONGEST, "The time for white mesh", "s")
    within(dye_factor, 1, 4, "The factor for dyed mesh")
    return white_mesh_time * dye_factor


def _diagonal(image_width: float, image_length: float) -> float:
    """Diagonal of an image, in cm."""
    within(image_width, 0.1, FARTHEST, "The width", "cm")
    within(image_length, 0.1, FARTHEST, "The length", "cm")
    return hypot(image_width, image_length)
