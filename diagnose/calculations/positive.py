"""The positive: density and light, what black and clear let through, the room left.

Densities in D, read with the meter at zero on nothing, except that of the black, which
is read with the meter at zero on the clear film beside it.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log10

from diagnose.calculations.limits import within
from diagnose.calculations.step_wedge import STEP, wedge_density

DENSEST = 10.0


@dataclass(frozen=True, slots=True)
class StrayLight:
    """Light through the black: `share` in % of that through the clear film.

    `steps` are the wedge steps that the black is worth.
    """

    share: float
    steps: float


@dataclass(frozen=True, slots=True)
class Latitude:
    """How far black and clear hold an exposure apart.

    `ratio` is the light through the clear film ÷ that through the black, `spare_steps`
    the wedge steps by which the black is denser than it has to be, `longer` the times
    by which the exposure could grow before the black prints through.
    """

    ratio: float
    spare_steps: float
    longer: float


def transmission(density: float) -> float:
    """Light passed, in %, by a density in D.

    Raises CalculationError for a density that no film has. Formula: 100 * 10^-D
    (Densitometry measurement, after ISO 5, 2000).
    """
    within(density, 0, DENSEST, "A density", "D")
    return 100 * 10**-density


def density(passed: float) -> float:
    """Density, in D, of what passes this share of the light, in %.

    Raises CalculationError for no light or more than all of it. Formula: D = -log10(T)
    (Densitometry measurement, after ISO 5, 2000).
    """
    within(passed, 100 * 10**-DENSEST, 100, "The light passed", "%")
    return 2 - log10(passed)


def density_by_light(clear_light: float, black_light: float) -> float:
    """Density of the black over the clear film, in D, from a light meter's readings.

    Light through the clear film and through the black in W/m², or both in any other
    unit of the same meter. Raises CalculationError where more comes through the black.
    Formula: D = -log10(T) (Densitometry measurement, after ISO 5, 2000).
    """
    within(clear_light, 1e-6, 1e6, "The light through the clear film", "W/m²")
    within(black_light, 0, clear_light, "The light through the black", "W/m²")
    return density(100 * black_light / clear_light)


def stray_light(black_density: float) -> StrayLight:
    """What gets through the black, of a density in D over the clear film.

    Steps are of 0.15 D. Raises CalculationError for a density that no film has.
    Formula: 100 * 10^-D (Densitometry measurement, after ISO 5, 2000) and D / 0.15.
    """
    return StrayLight(transmission(black_density), black_density / STEP)


def clear_film_factor(clear_density: float) -> float:
    """Times as long that an exposure through the clear film takes; density in D.

    Raises CalculationError for a density that no film has. Formula: 10^D
    (Densitometry measurement, after ISO 5, 2000).
    """
    return 100 / transmission(clear_density)


def latitude(black_density: float, clear_density: float, clean_step: float) -> Latitude:
    """Whether black and clear hold an exposure apart, and with how much to spare.

    `black_density` in D over the clear film, `clear_density` in D over nothing;
    `clean_step` is the first step of a 21-step wedge, laid on the same coat for the
    same time, that washes out to nothing. Light that a clean step lets through leaves
    no skin, so the black has to be at least as dense as that step.

    Raises CalculationError for densities that no film has, or a step that no wedge has.
    Formula: 10^(Dmax - Dmin) (Densitometry measurement, after ISO 5, 2000), and (Dmax -
    D of the step) / 0.15, our reading of the wedge.
    """
    within(black_density, 0, DENSEST, "The density of the black", "D")
    within(clear_density, 0, DENSEST, "The density of the clear film", "D")
    spare = black_density + clear_density - wedge_density(clean_step)
    return Latitude(10**black_density, spare / STEP, 10**spare)
