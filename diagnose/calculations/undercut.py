"""Undercut: how far slanting light gets under the black, and what is left of a line.

Thicknesses, gaps and widths on the stencil in µm, angles in degrees from upright,
distances of the lamp in cm.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import atan, degrees, radians, sin, sqrt

from diagnose.calculations.limits import within

LAYER_INDEX = 1.5
"""Refractive index of a dry stencil, near that of polyvinyl alcohol (from memory)."""

FILM_INDEX = 1.65
"""Refractive index of polyester film (from memory)."""

STEEPEST = 89.999
THICKEST = 10000.0
FARTHEST = 10000.0


@dataclass(frozen=True, slots=True)
class Line:
    """What slanting light leaves of a black line; widths in µm.

    `angle` is the slant of the outermost ray in degrees. `inner_edge` is eaten away at
    the edge of the line nearer to the middle of the bed, `outer_edge` at the other;
    `left` is what still washes out through the whole stencil, `share` that in % of the
    line.
    """

    angle: float
    inner_edge: float
    outer_edge: float
    left: float
    share: float


def refraction_angle(angle: float, refractive_index: float) -> float:
    """Slant inside a layer, in degrees, of light that meets it at a slant in degrees.

    Raises CalculationError for an angle of 90° or an index below 1. Formula: asin(sin
    theta / n) (Snell's law; Refraction problem 15, n.d.).
    """
    return degrees(atan(_slope_inside(angle, refractive_index)))


def spread(
    angle: float,
    gap: float,
    layer_thickness: float,
    film_thickness: float = 0.0,
) -> float:
    """How far light gets sideways from the edge of the black down to the mesh, in µm.

    `film_thickness` is that of a positive laid with its black away from the stencil, 0
    where black and stencil touch. Refraction is reckoned with in film and stencil.
    Scatter in the mesh and bending at the edge are not, and come on top.

    Raises CalculationError for an angle of 90° or a thickness below 0. Formula: gap
    tan(theta) + layer tan(asin(sin(theta) / n)), the same for the film (Snell's law;
    Refraction problem 15, n.d.).
    """
    within(gap, 0, THICKEST, "The gap", "µm")
    within(layer_thickness, 0, THICKEST, "The thickness of the stencil", "µm")
    within(film_thickness, 0, THICKEST, "The thickness of the film", "µm")
    return (
        gap * _slope_inside(angle, 1.0)
        + layer_thickness * _slope_inside(angle, LAYER_INDEX)
        + film_thickness * _slope_inside(angle, FILM_INDEX)
    )


def penumbra(source_width: float, lamp_distance: float, gap: float) -> float:
    """Width, in µm, of the half-shadow at an edge of the black.

    Width and distance of the source in cm, gap from black to stencil in µm. Raises
    CalculationError for a distance or gap that can't be. Formula: source * gap /
    distance (similar triangles).
    """
    within(source_width, 0, FARTHEST, "The width of the light source", "cm")
    within(lamp_distance, 0.1, FARTHEST, "The lamp's distance", "cm")
    within(gap, 0, THICKEST, "The gap", "µm")
    return source_width * gap / lamp_distance


def line_left(
    line_width: float,
    source_width: float,
    lamp_distance: float,
    off_centre: float,
    gap: float,
    stencil_thickness: float,
    film_thickness: float,
) -> Line:
    """What is left of a black line where light comes at a slant, in µm.

    Widths of the line, gap, stencil and film in µm; width and distance of the light
    source and the line's distance from the middle of the bed in cm. The rays from the
    source's far end get under the inner edge. Its near end gets under the outer edge
    where the source reaches out farther than the line lies. It is the worst case: the
    line runs across the slant, and every ray hardens all that it meets. A wide source
    is a bank of tubes, a panel, or a lamp with its reflector.

    Raises CalculationError for a size or distance that can't be. Formula: `spread` at
    the slants of the two outermost rays (similar triangles and Snell's law).
    """
    within(line_width, 1, 1e6, "The width of the line", "µm")
    within(source_width, 0, FARTHEST, "The width of the light source", "cm")
    within(lamp_distance, 0.1, FARTHEST, "The lamp's distance", "cm")
    within(off_centre, 0, FARTHEST, "The distance from the middle", "cm")
    outermost = _slant(off_centre + source_width / 2, lamp_distance)
    innermost = _slant(source_width / 2 - off_centre, lamp_distance)
    inner = spread(outermost, gap, stencil_thickness, film_thickness)
    outer = spread(max(0.0, innermost), gap, stencil_thickness, film_thickness)
    left = max(0.0, line_width - inner - outer)
    return Line(outermost, inner, outer, left, 100 * left / line_width)


def _slant(beside: float, above: float) -> float:
    """Degrees from upright of a ray from this far beside and above."""
    return degrees(atan(beside / above))


def _slope_inside(angle: float, refractive_index: float) -> float:
    """How far light gets sideways for each µm down, inside a layer."""
    within(angle, 0, STEEPEST, "The slant of the light", "°")
    within(refractive_index, 1, 4, "The refractive index")
    sine = sin(radians(angle)) / refractive_index
    return sine / sqrt(1 - sine * sine)
