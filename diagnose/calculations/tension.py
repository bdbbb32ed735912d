"""Mesh tension: maps of readings, tension without a meter, stretch by off-contact."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import cosh, exp, hypot, log, pi, sqrt, tanh
from statistics import fmean

from diagnose.calculations.limits import amount, readings, within
from diagnose.errors import CalculationError

GRAVITY = 9.80665
"""m/s² (standard gravity)."""

NEWTONS_PER_METRE = 100.0
MM_PER_METRE = 1000.0
CM_PER_METRE = 100.0
MICROMETRES_PER_CM = 10000.0

MOST = 200.0
"""N/cm; no screen cloth gets near it without tearing."""

TERMS = 20
"""So many terms of a series leave nothing that a double holds."""

NARROWEST = 20.0
"""No frame is more than so many times as long as it is wide."""


@dataclass(frozen=True, slots=True)
class TensionMap:
    """Readings over one screen, or of the screens of a set, all in N/cm."""

    mean: float
    lowest: float
    highest: float
    spread: float


@dataclass(frozen=True, slots=True)
class Stretch:
    """Stretch of the mesh: `share` in %, `longer` in µm over its whole length."""

    share: float
    longer: float


def tension_map(tensions: Sequence[float]) -> TensionMap:
    """Mean, lowest, highest and spread (highest less lowest), from readings in N/cm.

    Raises CalculationError for fewer than two readings, or one that no mesh has.
    Formula: definitions of the mean and the range (common practice).
    """
    readings("Readings of tension", tensions, 2)
    for tension in tensions:
        within(tension, 0, MOST, "A tension", "N/cm")
    low, high = min(tensions), max(tensions)
    return TensionMap(fmean(tensions), low, high, high - low)


def tension_loss(tension: float, earlier_tension: float) -> float:
    """What is lost of an earlier tension, in %; both in N/cm. Below 0 it has risen.

    Raises CalculationError for a tension that no mesh has. Formula: 100 (1 - T / T0)
    (definition of a relative loss, common practice).
    """
    within(tension, 0, MOST, "A tension", "N/cm")
    within(earlier_tension, 0.1, MOST, "The earlier tension", "N/cm")
    return 100 * (1 - tension / earlier_tension)


# --- without a meter: a weight, a bar, a pressure ------------------------------------


def reach_of_frame(inner_width: float, inner_length: float) -> float:
    """Radius of the round frame that gives way as this one in its middle; all in cm.

    It is the conformal radius: a small foot in the middle of the rectangle sinks as in
    the middle of a circle of this radius. For a square it is 0.539 of the side, for a
    long strip 0.637 of the width.

    Raises CalculationError for sides that no frame has. Formula: mirror images of the
    strip's ln coth (method of images; Pólya and Szegő, Isoperimetric Inequalities in
    Mathematical Physics, 1951, from memory).
    """
    short, long = _sides(inner_width, inner_length)
    images = sum(
        (2 * (image % 2) - 1) * log(tanh(pi * image * long / (2 * short)))
        for image in range(1, TERMS)
    )
    return 2 * short / pi * exp(2 * images)


def sag_under_foot(
    tension: float, weight: float, foot_diameter: float, reach: float
) -> float:
    """How far a weight on a flat, stiff, round foot sinks in the middle, in mm.

    Tension in N/cm, weight in kg, foot diameter and reach (`reach_of_frame`) in cm.
    The tension is taken as unchanged by the weight, which holds to a few per cent for a
    sag below a fiftieth of the frame's shorter side (our judgement).

    Raises CalculationError for a foot as wide as the frame. Formula: w = P / (2 pi T)
    ln(R / a), from the pull around the foot, 2 pi r T dw/dr = -P (equilibrium of a
    membrane; Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, 1959).
    """
    push, depth = _push(tension, weight, foot_diameter, reach)
    return push * depth


def sag_under_pad(
    tension: float, weight: float, foot_diameter: float, reach: float
) -> float:
    """How far a soft round pad, pressing evenly, sinks in the middle, in mm.

    Arguments and errors as for `sag_under_foot`; the half is what the mesh sinks
    further below the pad. Formula: w = P / (2 pi T) (ln(R / a) + 1/2) (integral of the
    slope inside and outside the pad).
    """
    push, depth = _push(tension, weight, foot_diameter, reach)
    return push * (depth + 0.5)


def tension_by_weight(
    weight: float,
    sag: float,
    foot_diameter: float,
    inner_width: float,
    inner_length: float,
    correction: float,
) -> float:
    """Tension, in N/cm, from the sag of the mesh under a weight in its middle.

    Weight in kg, sag in mm, diameter of the flat, stiff foot and the frame's inner
    sides in cm. `correction` is the tension by a meter ÷ the tension by this, found on
    one screen; 1 where there is no meter. By itself it is good to ±20 % (our
    judgement): the formula takes an even tension, a foot flat on the mesh, and a frame
    that gives nothing. A foot that presses evenly, as a bag does, would add 1/2 to
    ln(R / a), which is mostly 2 to 3.

    Raises CalculationError for a foot as wide as the frame, or a sag above a fiftieth
    of its shorter side, where the weight itself stretches the mesh. Formula:
    `sag_under_foot`.
    """
    reach = reach_of_frame(inner_width, inner_length)
    within(sag, 0.01, 1000, "The sag", "mm")
    within(correction, 0.1, 10, "The correction")
    deepest = 10 * min(inner_width, inner_length) / 50
    if sag > deepest:
        raise CalculationError(
            f"A sag of {amount(sag, 'mm')} is too deep: above "
            f"{amount(deepest, 'mm')}, a fiftieth of the frame's shorter side, the "
            "weight itself stretches the mesh; take a lighter one."
        )
    return correction * sag_under_foot(1.0, weight, foot_diameter, reach) / sag


def sag_under_bar(tension: float, line_load: float, span: float) -> float:
    """How far the mesh sinks under a bar across its middle, in cm.

    Tension and load in N/cm, span from frame to frame in cm. The tension is taken as
    unchanged and the bar as long as the frame is wide.

    Raises CalculationError for a load so great that the mesh would not be a shallow V.
    Formula: w = P L / (4 T), force balance 2 T sin(angle) = P (Cable tension under a
    transverse load, 2002).
    """
    within(tension, 0.1, MOST, "A tension", "N/cm")
    within(span, 1, 1000, "A span", "cm")
    within(line_load, 0, tension / 2, f"A load on {amount(tension, 'N/cm')}", "N/cm")
    return line_load * span / (4 * tension)


def sag_under_pressure(
    tension: float, pressure: float, inner_width: float, inner_length: float
) -> float:
    """How far the middle of a closed mesh sinks under a pressure, in mm.

    Tension in N/cm, pressure in Pa, inner sides in cm. For a square 0.0737 p a² / T.

    Raises CalculationError for a tension or sides that no screen has. Formula: w = 4 p
    b² / (pi³ T) (pi³ / 32 - sum of ±1 / (n³ cosh(n pi a / 2 b)), n odd), the Poisson
    equation's sine series (Timoshenko and Goodier, Theory of Elasticity, 1951, membrane
    analogy, from memory).
    """
    within(tension, 0.1, MOST, "A tension", "N/cm")
    within(pressure, 0, 10000, "A pressure", "Pa")
    short, long = _sides(inner_width, inner_length)
    ends = sum(
        (2 - n % 4) / (n**3 * cosh(n * pi * long / (2 * short)))
        for n in range(1, TERMS, 2)
    )
    push = pressure * (short / CM_PER_METRE) ** 2 / (tension * NEWTONS_PER_METRE)
    return MM_PER_METRE * push * 4 / pi**3 * (pi**3 / 32 - ends)


# --- without a meter: the tone of a tap ----------------------------------------------


def tone_without_air(
    tension: float, mass: float, inner_width: float, inner_length: float
) -> float:
    """Lowest tone, in Hz, of a mesh that no air hinders.

    Tension in N/cm, mass of the mesh with all that is on it in g/m², inner sides in cm.
    A real screen sounds much lower, as the air that swings with it weighs several times
    as much as the cloth (our judgement, from the air that swings with a disc).

    Raises CalculationError for numbers that no screen has. Formula: f = 1/2 sqrt(T /
    sigma (1/a² + 1/b²)) (Vibration of a rectangular membrane, n.d.).
    """
    within(tension, 0, MOST, "A tension", "N/cm")
    return 0.5 * sqrt(tension / _heaviness(mass, inner_width, inner_length))


def tension_without_air(
    tone: float, mass: float, inner_width: float, inner_length: float
) -> float:
    """Tension, in N/cm, of a mesh in a vacuum that gives this lowest tone, in Hz.

    In air it is only the least that the tension can be, too little by several times;
    `tension_by_tap` is what a shop can use. Mass in g/m², inner sides in cm.

    Raises CalculationError for numbers that no screen has. Formula: T = 4 f² sigma /
    (1/a² + 1/b²) (Vibration of a rectangular membrane, n.d.).
    """
    within(tone, 0, 20000, "A tone", "Hz")
    return 4 * tone**2 * _heaviness(mass, inner_width, inner_length)


def tension_by_tap(tone: float, known_tone: float, known_tension: float) -> float:
    """Tension, in N/cm, from the tone of a tap, against a screen of known tension.

    Tones in Hz, tension in N/cm. The two screens have to be alike: the same inner size,
    mesh, coat and dryness, tapped and held alike. Mass of cloth, coat and air is then
    the same and drops out.

    Raises CalculationError for tones that no screen has, or more than two octaves
    apart. Formula: T = T0 (f / f0)², as f ~ sqrt(T / sigma) (Vibration of a rectangular
    membrane, n.d.).
    """
    within(tone, 1, 20000, "The tone", "Hz")
    within(known_tone, 1, 20000, "The tone of the known screen", "Hz")
    within(known_tension, 0.1, MOST, "The known tension", "N/cm")
    ratio = tone / known_tone
    if not 0.25 <= ratio <= 4:
        raise CalculationError(
            f"Tones of {amount(tone, 'Hz')} and {amount(known_tone, 'Hz')} are more "
            "than two octaves apart, so they are not the lowest tones of two screens "
            "that are alike; take the lowest tone of both."
        )
    return known_tension * ratio**2


# --- off-contact ---------------------------------------------------------------------


def off_contact_stretch(
    inner_length: float, off_contact: float, blade_from_end: float
) -> Stretch:
    """How far the blade stretches the mesh when it presses it down to the print.

    Inner length of the screen along the stroke and the blade's distance from the frame
    in cm, off-contact in mm. The mesh is taken as straight from frame to blade.

    Raises CalculationError for a blade outside the frame, or an off-contact as great as
    its distance from the frame. Formula: 100 (sqrt(x² + h²) + sqrt((L - x)² + h²) - L)
    / L (Pythagoras).
    """
    within(inner_length, 1, 1000, "The inner length", "cm")
    within(off_contact, 0, 1000, "The off-contact", "mm")
    gap = off_contact / 10
    ends = (blade_from_end, inner_length - blade_from_end)
    if not min(ends) > gap:
        raise CalculationError(
            f"The blade can't stand {amount(blade_from_end, 'cm')} from the end of a "
            f"screen of {amount(inner_length, 'cm')}; it stands inside the frame, "
            f"farther from both ends than the off-contact of {amount(gap, 'cm')}."
        )
    # sqrt(x² + h²) - x loses all its figures for a small h; this is the same
    longer = sum(gap**2 / (hypot(end, gap) + end) for end in ends)
    return Stretch(100 * longer / inner_length, MICROMETRES_PER_CM * longer)


def stretch_in_middle(inner_length: float, off_contact: float) -> float:
    """Stretch with the blade in the middle, in %, for an off-contact that is small.

    Inner length in cm, off-contact in mm. Raises CalculationError for an off-contact
    above a tenth of the length. Formula: 200 (h / L)² (first term of the square root's
    series).
    """
    within(inner_length, 1, 1000, "The inner length", "cm")
    within(off_contact, 0, inner_length, "A small off-contact", "mm")
    return 200 * (off_contact / 10 / inner_length) ** 2


def _push(
    tension: float, weight: float, foot_diameter: float, reach: float
) -> tuple[float, float]:
    """P / (2 pi T) in mm, and ln(R / a) of a foot that is smaller than the frame."""
    within(tension, 0.1, MOST, "A tension", "N/cm")
    within(weight, 0.001, 1000, "A weight", "kg")
    within(reach, 0.1, 1000, "The frame's reach", "cm")
    within(foot_diameter, 0.01, reach, "The foot's diameter", "cm")
    push = weight * GRAVITY / (2 * pi * tension * NEWTONS_PER_METRE)
    return MM_PER_METRE * push, log(2 * reach / foot_diameter)


def _heaviness(mass: float, inner_width: float, inner_length: float) -> float:
    """sigma / (1/a² + 1/b²), so that T = 4 f² times this, in N/cm for Hz."""
    within(mass, 0.1, 10000, "The mass of the mesh", "g/m²")
    short, long = _sides(inner_width, inner_length)
    sides = (CM_PER_METRE / short) ** 2 + (CM_PER_METRE / long) ** 2
    return mass / 1000 / sides / NEWTONS_PER_METRE


def _sides(inner_width: float, inner_length: float) -> tuple[float, float]:
    """The shorter and the longer side, once they are sides that a frame has."""
    within(inner_width, 1, 1000, "The inner width", "cm")
    within(inner_length, 1, 1000, "The inner length", "cm")
    short, long = sorted((inner_width, inner_length))
    if long > NARROWEST * short:
        raise CalculationError(
            f"A frame of {amount(short, 'cm')} by {amount(long, 'cm')} is too narrow; "
            f"no screen is more than {NARROWEST:g} times as long as it is wide."
        )
    return short, long
