"""The working curve: how deep a dose hardens a layer, and what thickness costs.

Depths and thicknesses in µm, doses in mJ/cm². Only the ratio of two doses counts, so
seconds under one lamp do as well as mJ/cm² where the critical dose is in seconds too.
The two constants differed 7-fold and more between laboratories for one batch
(Interlaboratory study of the working curve, 2024), so they have to be measured with the
lamp and the coat in use.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log
from statistics import linear_regression

from diagnose.calculations.limits import amount, readings, within
from diagnose.calculations.step_wedge import STEP, wedge_density
from diagnose.errors import CalculationError

NATURAL = log(10)
DEEPEST = 10000.0
MOST_LIGHT = 1e7
STEEPEST = 50.0
"""No layer is more than so many penetration depths thick; nothing would get through."""


@dataclass(frozen=True, slots=True)
class WorkingCurve:
    """Depth in which the light falls to 1/e, in µm, and least dose that hardens."""

    penetration_depth: float
    critical_dose: float


@dataclass(frozen=True, slots=True)
class Hardening:
    """How deep a stencil is hard, in µm, and as a share of its thickness in %.

    `missing` is what is left soft at the far side, in µm (below 0: light to spare);
    `least_dose` is what hardens it through.
    """

    depth: float
    share: float
    missing: float
    least_dose: float


def cure_depth(dose: float, penetration_depth: float, critical_dose: float) -> float:
    """How deep a dose hardens, in µm; 0 for a dose below the critical one.

    Raises CalculationError for a dose or depth that can't be. Formula: Cd = Dp ln(E /
    Ec) (Jacobs's equation; Making the working curve work for you, 2023).
    """
    within(dose, 1e-6, MOST_LIGHT, "The dose", "mJ/cm²")
    _curve(penetration_depth, critical_dose)
    return max(0.0, penetration_depth * log(dose / critical_dose))


def dose_for_depth(
    depth: float, penetration_depth: float, critical_dose: float
) -> float:
    """The dose, in mJ/cm², that hardens to a depth in µm.

    Raises CalculationError for a layer so deep that no lamp gets through. Formula: E =
    Ec exp(Cd / Dp) (Jacobs's equation; Making the working curve work for you, 2023).
    """
    within(depth, 0, DEEPEST, "The depth", "µm")
    _curve(penetration_depth, critical_dose)
    return critical_dose * exp(_layers(depth, penetration_depth))


def depth_per_step(penetration_depth: float) -> float:
    """Depth, in µm, that one more held wedge step of 0.15 D stands for.

    Raises CalculationError for a depth that can't be. Formula: Dp * 0.15 ln(10)
    (Jacobs's equation; Making the working curve work for you, 2023).
    """
    within(penetration_depth, 0.1, DEEPEST, "The penetration depth", "µm")
    return penetration_depth * STEP * NATURAL


def fit_curve(doses: Sequence[float], depths: Sequence[float]) -> WorkingCurve:
    """The working curve of a layer, from doses and the depths that they hardened.

    Raises CalculationError for fewer than two pairs, pairs that don't match, doses that
    are all the same, or depths that don't grow with the dose. Formula: least-squares
    line of the depth over ln(dose) (Making the working curve work for you, 2023).
    """
    _pairs("doses", doses, "depths", depths)
    for dose, depth in zip(doses, depths, strict=True):
        within(dose, 1e-6, MOST_LIGHT, "A dose", "mJ/cm²")
        within(depth, 0, DEEPEST, "A depth", "µm")
    _differ("doses", doses)
    slope, intercept = linear_regression([log(dose) for dose in doses], depths)
    if slope <= 0 or intercept / slope < -STEEPEST or intercept / slope > STEEPEST:
        raise CalculationError(
            "The depths do not grow with the dose as a working curve does; more light "
            "has to harden deeper, so look at the pairs again."
        )
    return WorkingCurve(slope, exp(-intercept / slope))


def penetration_from_wedge(
    stencil_thicknesses: Sequence[float], held_steps: Sequence[float]
) -> float:
    """Penetration depth, in µm, from the wedge on coats of different thickness.

    Thicknesses in µm; for each the last solid step of a 21-step wedge, all coats
    exposed for the same time. A thicker coat holds fewer steps; the step lost tells the
    light that the added thickness takes. Mesh and emulsion count as one layer.

    Raises CalculationError for fewer than two pairs, pairs that don't match, steps that
    are all the same, or thick coats that hold more steps than thin ones. Formula: Dp =
    -slope / (0.15 ln 10) of the least-squares line of thickness over step (Jacobs's
    equation, our reading of the wedge).
    """
    _pairs("thicknesses", stencil_thicknesses, "held steps", held_steps)
    for thickness, step in zip(stencil_thicknesses, held_steps, strict=True):
        within(thickness, 1, DEEPEST, "A thickness", "µm")
        wedge_density(step)
    _differ("held steps", held_steps)
    slope, _ = linear_regression(held_steps, stencil_thicknesses)
    if slope >= 0:
        raise CalculationError(
            "The thicker coats hold as many steps as the thin ones; they have to hold "
            "fewer, so look whether all were dry and had the same exposure."
        )
    return -slope / (STEP * NATURAL)


def hardening(
    dose: float,
    penetration_depth: float,
    critical_dose: float,
    stencil_thickness: float,
) -> Hardening:
    """How deep a dose hardens a stencil, against its thickness.

    Dose in mJ/cm², depth and thickness in µm. Raises CalculationError for numbers that
    can't be. Formula: Cd = Dp ln(E / Ec) (Jacobs's equation; Making the working curve
    work for you, 2023).
    """
    within(stencil_thickness, 1, DEEPEST, "The thickness of the stencil", "µm")
    depth = cure_depth(dose, penetration_depth, critical_dose)
    least = dose_for_depth(stencil_thickness, penetration_depth, critical_dose)
    share = 100 * min(1.0, depth / stencil_thickness)
    return Hardening(depth, share, stencil_thickness - depth, least)


def time_for_thickness(
    exposure_time: float,
    stencil_thickness: float,
    new_thickness: float,
    penetration_depth: float,
) -> float:
    """The time, in s, for a stencil of another thickness that is to harden as well.

    Time in s, thicknesses and penetration depth in µm. Raises CalculationError for
    numbers that can't be. Formula: t exp((d2 - d1) / Dp) (Jacobs's equation; Making the
    working curve work for you, 2023).
    """
    within(exposure_time, 0.01, 1e6, "The exposure time", "s")
    within(stencil_thickness, 1, DEEPEST, "The thickness of the stencil", "µm")
    within(new_thickness, 1, DEEPEST, "The new thickness", "µm")
    within(penetration_depth, 0.1, DEEPEST, "The penetration depth", "µm")
    return exposure_time * exp(
        _layers(new_thickness - stencil_thickness, penetration_depth)
    )


def _curve(penetration_depth: float, critical_dose: float) -> None:
    within(penetration_depth, 0.1, DEEPEST, "The penetration depth", "µm")
    within(critical_dose, 1e-6, MOST_LIGHT, "The critical dose", "mJ/cm²")


def _layers(depth: float, penetration_depth: float) -> float:
    """A depth in penetration depths."""
    layers = depth / penetration_depth
    if abs(layers) > STEEPEST:
        raise CalculationError(
            f"A depth of {amount(abs(depth), 'µm')} is too much for light that falls "
            f"to a third in {amount(penetration_depth, 'µm')}; no lamp hardens more "
            f"than {amount(STEEPEST * penetration_depth, 'µm')}."
        )
    return layers


def _pairs(
    one: str, ones: Sequence[float], other: str, others: Sequence[float]
) -> None:
    """Two lists of one length, of two readings or more."""
    if len(ones) != len(others):
        raise CalculationError(
            f"There are {len(ones)} {one} and {len(others)} {other}; each of the {one} "
            f"needs one of the {other}, in the same order."
        )
    readings(f"Pairs of {one} and {other}", ones, 2)
    readings(f"Pairs of {one} and {other}", others, 2)


def _differ(what: str, values: Sequence[float]) -> None:
    """No line goes through readings that are all at one place."""
    if max(values) - min(values) <= 1e-6 * max(values):
        raise CalculationError(
            f"All {what} are {values[0]:g}; at least two have to differ."
        )
