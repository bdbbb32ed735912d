"""Settings that are changed: from what to what, and what comes of it."""

from __future__ import annotations

from dataclasses import dataclass

from diagnose.calculations.halftone import least_dot
from diagnose.calculations.lamp import least_distance, time_for_distance
from diagnose.calculations.limits import above_zero, within
from diagnose.calculations.positive import clear_film_factor, transmission
from diagnose.calculations.tension import off_contact_stretch


@dataclass(frozen=True, slots=True)
class Denser:
    """Density that is missing; light through the black in %, before and after; the
    density of two such films laid on each other."""

    missing: float
    light_now: float
    light_then: float
    of_two: float


@dataclass(frozen=True, slots=True)
class FartherOff:
    """New distance of the lamp in cm; the time in s for it; times as long."""

    new_distance: float
    time: float
    factor: float


@dataclass(frozen=True, slots=True)
class Gap:
    """By how much the mesh is longer under the blade, before and after, in µm."""

    longer_now: float
    longer_then: float


@dataclass(frozen=True, slots=True)
class Held:
    """Least width in µm that a mesh holds; a detail in % of that."""

    least: float
    share: float


def share(part: float, whole: float) -> float:
    """A part in % of a whole, both in one unit.

    Raises CalculationError for a part below 0, or a whole that is not above it.
    """
    above_zero("The whole", whole)
    within(part, 0, 1e9, "The part")
    return 100 * part / whole


def detail_held(detail: float, mesh_count: float, thread_diameter: float) -> Held:
    """The least width that a mesh holds, and a detail in % of it; µm and threads/cm.

    The least is two threads and the opening between them (common practice), as in
    `halftone.least_dot`. Raises CalculationError for a mesh whose threads fill it.
    """
    within(detail, 0, 1e6, "The detail", "µm")
    least = least_dot(mesh_count, thread_diameter)
    return Held(least, share(detail, least))


def mesh_for_detail(detail: float, thread_share: float) -> float:
    """The coarsest mesh, in threads/cm, that holds a detail in µm.

    `thread_share` is the thread in % of the distance from thread to thread. Raises
    CalculationError for a detail or share that can't be. Formula: `detail_held`, turned
    round: 10000 (1 + share / 100) / detail.
    """
    above_zero("The detail", detail, "µm")
    within(thread_share, 1, 99, "The share of the thread", "%")
    return 10_000 * (1 + thread_share / 100) / detail


def denser(black_density: float, wanted: float) -> Denser:
    """What a black lacks to a wanted density, in D; nothing where it is as dense.

    Densities of films laid on each other add up (Densitometry measurement, after
    ISO 5, 2000). Raises CalculationError for a density that no film has.
    """
    least = max(black_density, wanted)
    return Denser(
        least - black_density,
        transmission(black_density),
        transmission(least),
        2 * black_density,
    )


def time_through_film(
    exposure_time: float, clear_density: float, usual_density: float
) -> float:
    """The time, in s, through this sheet, from that through the usual clear film.

    Densities in D. Raises CalculationError for a density that no film has. Formula:
    t * 10^(D - usual D) (Densitometry measurement, after ISO 5, 2000).
    """
    within(exposure_time, 0, 1e6, "The exposure time", "s")
    usual = clear_film_factor(usual_density)
    return exposure_time * clear_film_factor(clear_density) / usual


def farther_off(
    exposure_time: float,
    lamp_distance: float,
    image_width: float,
    image_length: float,
) -> FartherOff:
    """The least distance of a point lamp, and the time that goes with it.

    From s and cm. A lamp that is far enough stays where it is. Raises CalculationError
    for a size or distance that can't be. Formula: `lamp.least_distance` and
    `lamp.time_for_distance`.
    """
    least = least_distance(lamp_distance, image_width, image_length).least
    new = max(least, lamp_distance)
    time = time_for_distance(exposure_time, lamp_distance, new)
    return FartherOff(new, time, time / exposure_time)


def gap_set(
    inner_length: float, off_contact: float, new_gap: float, blade_from_end: float
) -> Gap:
    """What another off-contact makes of the stretch under the blade; from cm and mm.

    Raises CalculationError as `tension.off_contact_stretch`, whose formula it is.
    """
    now, then = (
        off_contact_stretch(inner_length, gap, blade_from_end)
        for gap in (off_contact, new_gap)
    )
    return Gap(now.longer, then.longer)
