"""The step wedge and the factor film: from what they show to the exposure time.

A step is 0.15 D here, 10^0.15 = 1.4125 times the light. Some pages take the square root
of 2, 1.4142; that is 0.12 % more a step, and 2.4 % over twenty. Wedges of other steps,
as those of 31 steps of 0.10 D, are read with their own step.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log2, log10

from diagnose.calculations.limits import within

STEP = 0.15
FIRST = 0.05
"""D of the first step, which is the film of the wedge (three published figures agree:
21 steps of 0.15 that end at 3.05)."""

LAST_STEP = 61.0
LONGEST = 1e6
"""s; nobody exposes so long."""


@dataclass(frozen=True, slots=True)
class CorrectedTime:
    """The new time, and the shortest and longest for half a step in the reading, in s.

    `factor` is the new time ÷ the old one.
    """

    time: float
    shortest: float
    longest: float
    factor: float


@dataclass(frozen=True, slots=True)
class Filter:
    """What a filter, or any loss of light, does to an exposure.

    `factor` times as long; `steps` of a 21-step wedge and `stops` (halvings) lost.
    """

    factor: float
    steps: float
    stops: float


def wedge_density(step: float, step_density: float = STEP) -> float:
    """Density, in D, of a step counted from 1 at the clear end; density a step in D.

    Raises CalculationError for a step that no wedge has. Formula: 0.05 + 0.15 (n - 1)
    (How to use the 21-step wedge, n.d.).
    """
    _step("A wedge step", step)
    _step_density(step_density)
    return FIRST + step_density * (step - 1)


def corrected_time(
    exposure_time: float,
    held_step: float,
    target_step: float,
    step_density: float = STEP,
) -> CorrectedTime:
    """The exposure time that moves the last solid step to the one aimed at.

    Time in s, steps counted from 1 at the clear end, density a step in D. A step is
    read to no better than half of one either way, and the shortest and the longest time
    stand for that.

    Raises CalculationError for a time or a step that can't be. Formula: t * 10^(0.15
    (target - held)) (Exposure calibration with a 21-step tablet, 2009, which takes the
    square root of 2 a step).
    """
    _time("The exposure time", exposure_time)
    _step("The step that held", held_step)
    _step("The step aimed at", target_step)
    _step_density(step_density)
    factor = 10 ** (step_density * (target_step - held_step))
    half = 10 ** (step_density / 2)
    time = exposure_time * factor
    return CorrectedTime(time, time / half, time * half, factor)


def factor_film_time(test_time: float, factor: float) -> float:
    """The right time, in s, from the test time in s and the best factor of the film.

    The best factor is the first after which the colour of the stencil changes no
    further. Raises CalculationError for a factor above 1, which no such film has.
    Formula: factor * test time (Using the exposure factor film, part II, 2019).
    """
    _time("The test time", test_time)
    within(factor, 0.01, 1, "The factor")
    return factor * test_time


def filter_of_density(filter_density: float) -> Filter:
    """What a filter or film of a density in D does to an exposure.

    Raises CalculationError for a density that no filter has. Formula: 10^D
    (Densitometry measurement, after ISO 5, 2000), D / 0.15, and log2 of the factor.
    """
    within(filter_density, 0, 10, "The density of the filter", "D")
    factor = 10**filter_density
    return Filter(factor, filter_density / STEP, log2(factor))


def density_of_factor(factor: float) -> float:
    """Density, in D, of a grey filter that passes this part of the light, 0 to 1.

    Raises CalculationError for a part that is none. Formula: -log10(factor)
    (Densitometry measurement, after ISO 5, 2000).
    """
    within(factor, 1e-10, 1, "The factor")
    return -log10(factor)


def _step(what: str, step: float) -> None:
    """A step that a wedge has; half a step below the first is as far as one reads."""
    within(step, 0.4, LAST_STEP, what)


def _step_density(step_density: float) -> None:
    within(step_density, 0.01, 0.5, "The density of a wedge step", "D")


def _time(what: str, time: float) -> None:
    within(time, 0.01, LONGEST, what, "s")
