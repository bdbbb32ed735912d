"""The geometry of a mesh: count, opening, open area, thickness, the ink it holds."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

from diagnose.calculations.limits import above_zero, amount, within
from diagnose.errors import CalculationError

MICROMETRES_PER_CM = 10000.0
CM_PER_INCH = 2.54
PARTICLES_PER_OPENING = 3.0
COARSEST, FINEST = 0.1, 5000.0

THICKNESS_AT_LEAST = 1.2
THICKNESS_WITH_COVER = 0.75
"""A straight line through four published cloths (see `fabric_thickness`)."""


@dataclass(frozen=True, slots=True)
class Count:
    """Threads per cm and threads per inch."""

    per_cm: float
    per_inch: float


@dataclass(frozen=True, slots=True)
class Geometry:
    """What follows from count and thread alone.

    `per_inch` in threads per inch; `pitch`, `opening`, `fabric_thickness` and
    `largest_particle` in µm, `open_area` in %, `ink_volume` in cm³/m².
    """

    per_inch: float
    pitch: float
    opening: float
    open_area: float
    fabric_thickness: float
    ink_volume: float
    largest_particle: float


@dataclass(frozen=True, slots=True)
class Cloth:
    """What a cloth of known thickness holds, in cm³/m² (the same number in µm).

    `ink_volume` is what stands in the open columns, `room` all that threads leave free.
    """

    ink_volume: float
    room: float


@dataclass(frozen=True, slots=True)
class Deposit:
    """Wet ink in µm: on a solid area, and in lines that the blade can't sink into."""

    solid: float
    fine_lines: float


def threads_per_inch(mesh_count: float) -> float:
    """Threads per inch of a mesh count in threads/cm.

    Raises CalculationError where no mesh has such a count. An inch is 2.54 cm
    (international yard and pound agreement, 1959).
    """
    within(mesh_count, COARSEST, FINEST, "A mesh count", "threads/cm")
    return mesh_count * CM_PER_INCH


def threads_per_cm(inch_count: float) -> float:
    """Threads/cm of a mesh count in threads per inch.

    Raises CalculationError where no mesh has such a count. An inch is 2.54 cm
    (international yard and pound agreement, 1959).
    """
    finest = FINEST * CM_PER_INCH
    coarsest = COARSEST * CM_PER_INCH
    within(inch_count, coarsest, finest, "A mesh count", "threads per inch")
    return inch_count / CM_PER_INCH


def counted(threads: float, width: float) -> Count:
    """The mesh count from threads counted under a loupe over a width in cm.

    Raises CalculationError unless both are above 0 and a mesh can have such a count.
    Formula: threads over width (Terminology and measurement methods for woven wire
    cloth, after ISO 9044).
    """
    above_zero("The number of threads counted", threads)
    above_zero("The width in which threads are counted", width, "cm")
    return Count(threads / width, threads_per_inch(threads / width))


def pitch(mesh_count: float) -> float:
    """From the middle of one thread to the next, in µm; mesh count in threads/cm.

    Raises CalculationError where no mesh has such a count. Formula: p = 10000 / n
    (Terminology and measurement methods for woven wire cloth, after ISO 9044).
    """
    within(mesh_count, COARSEST, FINEST, "A mesh count", "threads/cm")
    return MICROMETRES_PER_CM / mesh_count


def opening(mesh_count: float, thread_diameter: float) -> float:
    """Width of a mesh opening, in µm, of a count in threads/cm and a thread in µm.

    Nominal: catalogues print the opening of the finished cloth, up to a quarter less at
    high counts, as finished threads are flattened.

    Raises CalculationError where the threads would fill the mesh. Formula: w = p - d
    (Screen specifications, mesh geometry definitions, n.d.).
    """
    above_zero("A thread diameter", thread_diameter, "µm")
    room = pitch(mesh_count)
    if thread_diameter >= room:
        raise CalculationError(
            f"Threads of {amount(thread_diameter, 'µm')} at "
            f"{amount(mesh_count, 'threads/cm')} would fill the mesh; the thread is "
            f"thinner than 10000 / count = {amount(room, 'µm')}."
        )
    return room - thread_diameter


def open_area(opening: float, pitch: float) -> float:
    """Share of the mesh that is open, in %, of opening and pitch in µm.

    Raises CalculationError unless 0 < opening < pitch. Formula: A = 100 (w / p)²
    (Terminology and measurement methods for woven wire cloth, after ISO 9044).
    """
    above_zero("A mesh opening", opening, "µm")
    above_zero("A pitch", pitch, "µm")
    if not opening < pitch:
        raise CalculationError(
            f"An opening of {amount(opening, 'µm')} does not fit into a pitch of "
            f"{amount(pitch, 'µm')}; the opening is the pitch less one thread."
        )
    return 100 * (opening / pitch) ** 2


def fabric_thickness(mesh_count: float, thread_diameter: float) -> float:
    """An estimate of the thickness of a plain polyester cloth, in µm.

    Mesh count in threads/cm, thread in µm. Our judgement: d (1.2 + 0.75 n d), a line
    through four published cloths (90/cm with 40, 48 and 54 µm, 1.48 to 1.56 d: Screen
    specifications, n.d.; 120/cm with 40 µm, 1.58 d: Mesh Matters, 2009). Good to about
    5 % for those; a twill is thicker, a calendered cloth thinner. Never above 2 d.

    Raises CalculationError where the threads would fill the mesh.
    """
    cover = thread_diameter / (opening(mesh_count, thread_diameter) + thread_diameter)
    return thread_diameter * (THICKNESS_AT_LEAST + THICKNESS_WITH_COVER * cover)


def ink_volume(open_area: float, fabric_thickness: float) -> float:
    """Theoretical ink volume, in cm³/m², of an open area in % and a thickness in µm.

    Raises CalculationError unless 0 < open area < 100 and the thickness is above 0.
    Formula: V = A t, 1 µm over 1 m² being 1 cm³ (Theoretical ink volume, n.d.).
    """
    above_zero("An open area", open_area, "%")
    within(open_area, 0, 100, "An open area", "%")
    above_zero("A fabric thickness", fabric_thickness, "µm")
    return open_area / 100 * fabric_thickness


def geometry(mesh_count: float, thread_diameter: float) -> Geometry:
    """All that follows from mesh count in threads/cm and thread diameter in µm.

    `fabric_thickness`, and so `ink_volume`, is an estimate (see there). A particle of
    the ink is to be at most a third of the opening (Screen selection, n.d.).

    Raises CalculationError where the threads would fill the mesh.
    """
    wide = opening(mesh_count, thread_diameter)
    open_share = open_area(wide, pitch(mesh_count))
    thick = fabric_thickness(mesh_count, thread_diameter)
    return Geometry(
        per_inch=threads_per_inch(mesh_count),
        pitch=pitch(mesh_count),
        opening=wide,
        open_area=open_share,
        fabric_thickness=thick,
        ink_volume=ink_volume(open_share, thick),
        largest_particle=wide / PARTICLES_PER_OPENING,
    )


def cloth(mesh_count: float, thread_diameter: float, fabric_thickness: float) -> Cloth:
    """What a cloth holds; count in threads/cm, thread and measured thickness in µm.

    `ink_volume` counts the open columns only (Theoretical ink volume, n.d.). `room` is
    the thickness less the volume of the threads, π/2 d² n for straight round threads in
    two directions (geometry, ours): what emulsion has to fill.

    Raises CalculationError where threads overlap, or where a cloth is thicker than two
    threads (Screen printing and threads, n.d.) or too thin to hold its threads.
    """
    share = open_area(opening(mesh_count, thread_diameter), pitch(mesh_count))
    _check_thickness(thread_diameter, fabric_thickness)
    threads = pi / 2 * thread_diameter**2 / pitch(mesh_count)
    if fabric_thickness <= threads:
        raise CalculationError(
            f"A cloth of {amount(fabric_thickness, 'µm')} is too thin to hold threads "
            f"of {amount(thread_diameter, 'µm')} at "
            f"{amount(mesh_count, 'threads/cm')}, which alone make up "
            f"{amount(threads, 'µm')}; measure mesh and thread again."
        )
    return Cloth(ink_volume(share, fabric_thickness), fabric_thickness - threads)


def deposit(
    mesh_count: float, thread_diameter: float, fabric_thickness: float, emulsion: float
) -> Deposit:
    """Wet ink that the mesh and its stencil can lay down, in µm.

    Mesh count in threads/cm; thread, cloth and emulsion over the mesh in µm. Solid
    areas get the theoretical ink volume (Theoretical ink volume, n.d.), lines too
    narrow for the blade to sink into the emulsion's height as well (Screen selection,
    n.d.). Other published rules give about half: see `deposit_by_share`.

    Raises CalculationError where threads overlap, where a cloth is thicker than two
    threads, or where the emulsion is below 0.
    """
    share = open_area(opening(mesh_count, thread_diameter), pitch(mesh_count))
    _check_thickness(thread_diameter, fabric_thickness)
    within(emulsion, 0, 1000, "Emulsion over the mesh", "µm")
    solid = ink_volume(share, fabric_thickness)
    return Deposit(solid, solid + emulsion)


def deposit_by_share(fabric_thickness: float, share: float) -> float:
    """Wet ink in µm, as a share in % of the cloth's thickness in µm.

    The share is 28.5 % for plain weave of 43 to 139 threads/cm, 35 % from 140 up, and
    31 % for any twill (How Much Ink Do You Need?, 2000).

    Raises CalculationError unless the thickness is above 0 and the share 0 to 100 %.
    """
    above_zero("A fabric thickness", fabric_thickness, "µm")
    within(share, 0, 100, "The share of the thickness that lands", "%")
    return share / 100 * fabric_thickness


def coarse_deposit(mesh_count: float, thread_diameter: float) -> float:
    """Wet ink in µm through a plain mesh of up to 42 threads/cm; thread in µm.

    Raises CalculationError where the threads would fill the mesh. Formula:
    1.82 d (1 - n d)² (How Much Ink Do You Need?, 2000).
    """
    open_share = open_area(opening(mesh_count, thread_diameter), pitch(mesh_count))
    return 1.82 * thread_diameter * open_share / 100


def _check_thickness(thread_diameter: float, fabric_thickness: float) -> None:
    """Two threads lie on one another where they cross, and no more."""
    above_zero("A fabric thickness", fabric_thickness, "µm")
    if fabric_thickness > 2 * thread_diameter:
        raise CalculationError(
            f"A cloth of {amount(fabric_thickness, 'µm')} is thicker than two threads "
            f"of {amount(thread_diameter, 'µm')}; a plain cloth is about one and a "
            "half threads thick, so check the gauge and the thread."
        )
