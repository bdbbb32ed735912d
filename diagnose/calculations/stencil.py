"""How far a stencil stands over its mesh, how evenly, and the coats that it takes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import floor, fsum, sqrt

from diagnose.calculations.limits import above_zero, amount, readings, within
from diagnose.calculations.mesh import cloth
from diagnose.errors import CalculationError

GAUGE_DOUBT = 10.0
"""% of a thickness that a gauge may be wrong by (ISO 2360:2003, clauses 7-9)."""

LEAST_BUILD = 1e-6


@dataclass(frozen=True, slots=True)
class EmulsionOverMesh:
    """How far the stencil stands over the mesh: in µm, and in % of the mesh."""

    emulsion: float
    share: float


@dataclass(frozen=True, slots=True)
class Scatter:
    """Scatter of one reading in µm, and the standard error of the result.

    `emulsion_error` in µm, `share_error` in points of %.
    """

    stencil_scatter: float
    mesh_scatter: float
    emulsion_error: float
    share_error: float


@dataclass(frozen=True, slots=True)
class Evenness:
    """A map of readings: mean and highest less lowest in µm, coefficient in %."""

    mean: float
    spread: float
    coefficient: float


@dataclass(frozen=True, slots=True)
class Target:
    """The emulsion over the mesh that is wanted, and what the gauge then reads; µm."""

    emulsion: float
    together: float


@dataclass(frozen=True, slots=True)
class Coats:
    """Coats for a target: as worked out, the nearest whole, and what it gives in µm."""

    coats: float
    whole: float
    emulsion: float


@dataclass(frozen=True, slots=True)
class Learnt:
    """What a shop's own coats build: µm a coat, and the coats needed."""

    build: float
    build_error: float
    first: float
    needed: float
    needed_error: float
    whole: float


def emulsion_over_mesh(
    stencil_thickness: Sequence[float], mesh_thickness: Sequence[float]
) -> EmulsionOverMesh:
    """Emulsion over mesh from readings of stencil and of bare mesh, all in µm.

    Raises CalculationError without a reading of each, where one is not above 0, or
    where the stencil reads thinner than its mesh by more than a gauge can err. Formula:
    mean less mean, over the mean of the mesh (Coating screens properly and EOM, n.d.).
    """
    stencil, mesh = _means(stencil_thickness, mesh_thickness)
    if stencil < mesh * (1 - GAUGE_DOUBT / 100):
        raise CalculationError(
            f"The stencil reads {amount(stencil, 'µm')} and the bare mesh "
            f"{amount(mesh, 'µm')}; stencil and mesh together are no thinner than the "
            "mesh, so set the gauge to zero and take both again."
        )
    return EmulsionOverMesh(stencil - mesh, 100 * (stencil - mesh) / mesh)


def emulsion_scatter(
    stencil_thickness: Sequence[float], mesh_thickness: Sequence[float]
) -> Scatter:
    """How well two readings or more of each, in µm, settle the emulsion over the mesh.

    Raises CalculationError with fewer than two of each, or where one is not above 0.
    Formula: sample standard deviations (ISO 2360:2003, clauses 7-9) and the standard
    error of a difference, √(s₁²/n₁ + s₂²/n₂).
    """
    readings("Readings of the stencil", stencil_thickness, 2)
    readings("Readings of the bare mesh", mesh_thickness, 2)
    stencil, mesh = _means(stencil_thickness, mesh_thickness)
    of_stencil, of_mesh = _deviation(stencil_thickness), _deviation(mesh_thickness)
    stencil_error = of_stencil / sqrt(len(stencil_thickness))
    mesh_error = of_mesh / sqrt(len(mesh_thickness))
    return Scatter(
        stencil_scatter=of_stencil,
        mesh_scatter=of_mesh,
        emulsion_error=sqrt(stencil_error**2 + mesh_error**2),
        share_error=100
        * sqrt(stencil_error**2 + (mesh_error * stencil / mesh) ** 2)
        / mesh,
    )


def evenness(emulsion: Sequence[float]) -> Evenness:
    """How even a stencil is, from emulsion over mesh in µm at several places.

    Raises CalculationError with fewer than two places, or where the mean is not above
    0. Formula: mean, highest less lowest, and 100 s / mean with the sample standard
    deviation (ISO 2360:2003, clauses 7-9).
    """
    readings("Places on the screen", emulsion, 2)
    mean = fsum(emulsion) / len(emulsion)
    above_zero("The mean emulsion over the mesh", mean, "µm")
    return Evenness(
        mean, max(emulsion) - min(emulsion), 100 * _deviation(emulsion) / mean
    )


def thickness_for(mesh_thickness: float, share: float) -> Target:
    """What the gauge has to read for a wanted share, in %, over a mesh in µm.

    Raises CalculationError unless the mesh is above 0 and the share 0 to 500 %.
    Formulas: EOM = share × mesh (Is the lack of a stencil thickness gauge the reason
    for some of your printing problems?, n.d.); together = mesh + EOM (Screen plate and
    print film thickness, n.d.).
    """
    above_zero("The thickness of the bare mesh", mesh_thickness, "µm")
    within(share, 0, 500, "The share over the mesh", "%")
    emulsion = share / 100 * mesh_thickness
    return Target(emulsion, mesh_thickness + emulsion)


def emulsion_after(
    coats: float,
    mesh_count: float,
    thread_diameter: float,
    mesh_thickness: float,
    film_share: float,
    edge_factor: float,
    volume_solids: float,
) -> EmulsionOverMesh:
    """Emulsion over mesh to expect after a number of coats, both sides together.

    Count in threads/cm; thread and bare mesh in µm; `film_share`, the wet film that a
    coat with a round edge leaves, in % of the mesh's thickness; the edge factor, 1 for
    a round edge and less for a sharper one; volume solids in %. Below 0 the stencil
    sinks between the threads.

    A model of ours (our judgement): the first coat fills the mesh, every coat leaves
    one wet film on it, and all of it shrinks to its volume solids as it dries:
    EOM = VS coats film - (1 - VS) room, `room` being what threads leave free. With a
    film of 43 % and 40 % solids it gives the published 15 % after two coats and one on
    meshes of 43 to 63 threads/cm (Coating screens properly and EOM, n.d.); nothing
    published was found on the film itself.

    Raises CalculationError for a number out of range, or as `mesh.cloth`.
    """
    above_zero("The number of coats", coats)
    build, start = _build(
        mesh_count,
        thread_diameter,
        mesh_thickness,
        film_share,
        edge_factor,
        volume_solids,
    )
    emulsion = start + build * coats
    return EmulsionOverMesh(emulsion, 100 * emulsion / mesh_thickness)


def coats_for(
    share: float,
    mesh_count: float,
    thread_diameter: float,
    mesh_thickness: float,
    film_share: float,
    edge_factor: float,
    volume_solids: float,
) -> Coats:
    """Coats, both sides together, for a wanted share in % over the mesh.

    The other arguments, the model (our judgement) and the errors are those of
    `emulsion_after`; the share lies between 0 and 500 %.
    """
    target = thickness_for(mesh_thickness, share).emulsion
    build, start = _build(
        mesh_count,
        thread_diameter,
        mesh_thickness,
        film_share,
        edge_factor,
        volume_solids,
    )
    coats = (target - start) / build
    whole = _whole(coats)
    return Coats(coats, whole, start + build * whole)


def coats_learnt(
    coats: Sequence[float], emulsion: Sequence[float], target: float
) -> Learnt:
    """Coats for a target in µm, learnt from screens that the shop has measured.

    `coats` put on, both sides together, and `emulsion` over the mesh got, in µm, in the
    same order. `build` is the slope of the straight line through them, `first` what the
    line gives for one coat, and the errors are standard errors.

    Raises CalculationError unless there are three screens or more, with two different
    numbers of coats, and more coats gave a thicker stencil. Formula: least squares
    (any textbook of statistics); that a line will do is our judgement.
    """
    readings("Screens measured", coats, 3)
    if len(emulsion) != len(coats):
        raise CalculationError(
            f"There are {len(coats)} numbers of coats and {len(emulsion)} readings of "
            "emulsion; give one reading for each screen, in the same order."
        )
    readings("Readings of emulsion", emulsion, 3)
    within(target, 0, 1000, "The wanted emulsion over the mesh", "µm")
    for number in coats:
        above_zero("The number of coats", number)
    if max(coats) == min(coats):
        raise CalculationError(
            "All these screens had the same number of coats; measure one with more or "
            "fewer, or nothing can be learnt about a coat."
        )
    mean_coats, mean_emulsion = fsum(coats) / len(coats), fsum(emulsion) / len(coats)
    away = [number - mean_coats for number in coats]
    square = fsum(one * one for one in away)
    build = fsum(a * e for a, e in zip(away, emulsion, strict=True)) / square
    if build < LEAST_BUILD:
        raise CalculationError(
            "More coats gave no thicker stencil on these screens; check that readings "
            "and coats are in the same order, and that the wet coats were not scraped "
            "off again."
        )
    left = [e - mean_emulsion - build * a for a, e in zip(away, emulsion, strict=True)]
    scatter = sqrt(fsum(one * one for one in left) / (len(coats) - 2))
    beyond = (target - mean_emulsion) / build
    return Learnt(
        build=build,
        build_error=scatter / sqrt(square),
        first=mean_emulsion + build * (1 - mean_coats),
        needed=mean_coats + beyond,
        needed_error=scatter * sqrt(1 / len(coats) + beyond**2 / square) / build,
        whole=_whole(mean_coats + beyond),
    )


def _means(
    stencil_thickness: Sequence[float], mesh_thickness: Sequence[float]
) -> tuple[float, float]:
    """Mean thickness of the stencil and of the bare mesh, in µm."""
    for what, values in (
        ("stencil", stencil_thickness),
        ("bare mesh", mesh_thickness),
    ):
        readings(f"Readings of the {what}", values, 1)
        for value in values:
            above_zero(f"A reading of the {what}", value, "µm")
    return (
        fsum(stencil_thickness) / len(stencil_thickness),
        fsum(mesh_thickness) / len(mesh_thickness),
    )


def _deviation(values: Sequence[float]) -> float:
    """Sample standard deviation."""
    mean = fsum(values) / len(values)
    return sqrt(fsum((value - mean) ** 2 for value in values) / (len(values) - 1))


def _build(
    mesh_count: float,
    thread_diameter: float,
    mesh_thickness: float,
    film_share: float,
    edge_factor: float,
    volume_solids: float,
) -> tuple[float, float]:
    """Dry µm that each coat adds, and where the line starts (0 or below)."""
    above_zero("The wet film of a coat", film_share, "%")
    above_zero("The edge factor", edge_factor)
    above_zero("The share of volume solids", volume_solids, "%")
    within(volume_solids, 0, 100, "The share of volume solids", "%")
    room = cloth(mesh_count, thread_diameter, mesh_thickness).room
    solid = volume_solids / 100
    film = film_share / 100 * mesh_thickness * edge_factor
    return solid * film, -(1 - solid) * room


def _whole(coats: float) -> float:
    """The nearest whole number of coats, at least one."""
    return float(max(1, floor(coats + 0.5)))
