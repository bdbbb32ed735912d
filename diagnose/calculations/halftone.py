"""Halftone dots, the mesh that holds them, and the moiré of the two.

Rulings in lines/cm, mesh counts in threads/cm, sizes of dots and threads in µm, tones
in % of the area, angles in degrees from the threads.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from math import acos, cos, hypot, pi, radians, sin, sqrt

from diagnose.calculations.limits import within
from diagnose.errors import CalculationError

OFF_THREADS = 7.5
"""Degrees that a film is turned off the threads (Questions about half-tone printing,
a mesh weaver's page, not dated)."""

STEPS_OF_7_5 = (0.0, 7.5, 15.0, 22.5, 30.0, 37.5, 45.0)
"""Angles to the threads that are tried; 45 to 90 degrees mirror them."""

DOT_ORDERS = tuple(
    (i, j) for i, j in product(range(-5, 6), repeat=2) if 0 < hypot(i, j) <= 5
)
"""Harmonics of the dots that beat with the mesh; higher ones are too weak to see.

Where to stop is our judgement: the amplitudes of a round dot's harmonics fall with the
power 1.5 of their order, so that of the fifth is a tenth of the first.
"""

MESH_ORDERS = ((1, 0), (0, 1), (1, 1), (1, -1))
"""Both directions of threads, and both diagonals."""


@dataclass(frozen=True, slots=True)
class LeastDot:
    """The least dot in µm; the lightest tone, and the darkest with holes so large."""

    dot: float
    lightest: float
    darkest: float


@dataclass(frozen=True, slots=True)
class DotGain:
    """Gain in %; how far each edge of the dot has moved outwards, in µm."""

    gain: float
    growth: float


@dataclass(frozen=True, slots=True)
class PrintedTone:
    """Tone and gain in %."""

    tone: float
    gain: float


@dataclass(frozen=True, slots=True)
class DevicePixel:
    """A pixel in µm; pixels across a cell; steps of tone above white."""

    pixel: float
    across: float
    steps: float


@dataclass(frozen=True, slots=True)
class Moire:
    """Period of the beat in mm, and in distances of dots."""

    period: float
    dots: float


@dataclass(frozen=True, slots=True)
class MoireAngles:
    """Angles in degrees, best first, and the periods in mm at best and worst."""

    best: float
    second: float
    worst: float
    period_at_best: float
    period_at_second: float


# --- mesh and ruling ---------------------------------------------------------------


def mesh_to_ruling(mesh_count: float, ruling: float) -> float:
    """Threads to a row of dots; from threads/cm and lines/cm.

    Source: M. A. Coudray, All things are not as they appear, 2003 (asks for 3.5 or
    more); Questions about half-tone printing (a mesh weaver; 2.5, 3.75 or 5).

    Raises:
        CalculationError: a mesh or a ruling that can't be.
    """
    _mesh(mesh_count)
    _ruling(ruling)
    return mesh_count / ruling


def finest_ruling(mesh_count: float, ratio: float) -> float:
    """Finest ruling in lines/cm that a mesh (threads/cm) holds, at a ratio of the two.

    Source: as `mesh_to_ruling`.

    Raises:
        CalculationError: a mesh or a ratio that can't be.
    """
    _mesh(mesh_count)
    _ratio(ratio)
    return mesh_count / ratio


def mesh_for_ruling(ruling: float, ratio: float) -> float:
    """Coarsest mesh in threads/cm for a ruling in lines/cm, at a ratio of the two.

    Source: as `mesh_to_ruling`.

    Raises:
        CalculationError: a ruling or a ratio that can't be.
    """
    _ruling(ruling)
    _ratio(ratio)
    return ruling * ratio


def row_frequency(ruling: float, angle: float) -> float:
    """Lines/cm of a ruling as counted along the threads, at an angle of 0 to 45°.

    Source: M. A. Coudray, All things are not as they appear, 2003.

    Raises:
        CalculationError: a ruling or an angle that can't be.
    """
    _ruling(ruling)
    within(angle, 0, 45, "the angle", "°")
    return ruling * cos(radians(angle))


def film_angle(colour_angle: float) -> float:
    """Angle of a film in degrees with straight mesh, from the colour's usual angle.

    Source: Questions about half-tone printing (a mesh weaver's page, not dated).

    Raises:
        CalculationError: an angle outside 0 to 180 degrees.
    """
    within(colour_angle, 0, 180, "the angle of the colour", "°")
    return (colour_angle + OFF_THREADS) % 180


# --- dots --------------------------------------------------------------------------


def dot_diameter(tone: float, ruling: float) -> float:
    """Diameter of a round dot in µm; from a tone in % and a ruling in lines/cm.

    Above 78.5 % the dots run into one another; the diameter is then that of the whole
    circles. Source: G. Pritchard, How to calculate halftone dot sizes in microns,
    2010; above 78.5 %, the area of circles less their overlap.

    Raises:
        CalculationError: a tone or a ruling that can't be.
    """
    _ruling(ruling)
    within(tone, 0, 100, "the tone", "%")
    cell = 10_000 / ruling
    if tone <= 25 * pi:
        return 2 * sqrt(tone / 100 / pi) * cell
    low, high = 0.5, sqrt(0.5)
    for _ in range(60):
        middle = (low + high) / 2
        if _area(middle) < tone / 100:
            low = middle
        else:
            high = middle
    return (low + high) * cell


def tone_of_dot(dot: float, ruling: float) -> float:
    """Tone in % of round dots of a diameter in µm, at a ruling in lines/cm.

    Source: as `dot_diameter`, turned round.

    Raises:
        CalculationError: a dot or a ruling that can't be.
    """
    _ruling(ruling)
    within(dot, 0, 1e5, "the dot", "µm")
    return 100 * _area(dot / 2 * ruling / 10_000)


def least_dot(mesh_count: float, thread_diameter: float) -> float:
    """Least dot in µm that a mesh holds: two threads and the opening between them.

    From threads/cm and µm. Source: common practice (another rule asks for two mesh
    periods).

    Raises:
        CalculationError: a mesh that can't be, or threads that would fill it.
    """
    _mesh(mesh_count)
    period = 10_000 / mesh_count
    if not 0 < thread_diameter < period:
        raise CalculationError(
            f"threads of {thread_diameter:g} µm at {mesh_count:g} per cm leave no "
            f"opening; a thread is thinner than 10000 / count = {period:.3g} µm."
        )
    return thread_diameter + period


def least_tone(mesh_count: float, thread_diameter: float, ruling: float) -> LeastDot:
    """Lightest tone that a mesh holds, and the darkest, at a ruling.

    From threads/cm, µm and lines/cm. The holes of a shadow are taken to need the same
    size as the dots of a light. Source: `least_dot` and `tone_of_dot`.

    Raises:
        CalculationError: as these, or a ruling so fine that no tone holds.
    """
    dot = least_dot(mesh_count, thread_diameter)
    tone = tone_of_dot(dot, ruling)
    if tone >= 50:
        raise CalculationError(
            f"the least dot of this mesh, {dot:.0f} µm, is {tone:.0f} % already at "
            f"{ruling:g} lines/cm; take a coarser ruling or a finer mesh."
        )
    return LeastDot(dot, tone, 100 - tone)


# --- dot gain ----------------------------------------------------------------------


def dot_gain(film_tone: float, printed_tone: float, ruling: float) -> DotGain:
    """How much darker a print is than its film, and what that is at the dot's edge.

    Tones in %, ruling in lines/cm. Source: gain = print - film, Half-tone printing
    process line (a mesh weaver's page, not dated); the edge from `dot_diameter`.

    Raises:
        CalculationError: tones or a ruling that can't be.
    """
    within(printed_tone, 0, 100, "the printed tone", "%")
    before = dot_diameter(film_tone, ruling)
    after = dot_diameter(printed_tone, ruling)
    return DotGain(printed_tone - film_tone, (after - before) / 2)


def printed_tone(film_tone: float, growth: float, ruling: float) -> PrintedTone:
    """Tone in % that prints when each edge of a dot moves outwards by some µm.

    From %, µm (below 0 where the dots shrink) and lines/cm. Source: `dot_gain`, turned
    round.

    Raises:
        CalculationError: values that can't be, or a dot that shrinks to nothing.
    """
    within(growth, -10_000, 10_000, "the growth of the edge", "µm")
    dot = dot_diameter(film_tone, ruling) + 2 * growth
    if dot < 0:
        raise CalculationError(
            f"a dot of {film_tone:g} % at {ruling:g} lines/cm is {dot - 2 * growth:.0f}"
            f" µm wide and can't lose {-growth:g} µm at each edge; it would be gone."
        )
    tone = tone_of_dot(dot, ruling)
    return PrintedTone(tone, tone - film_tone)


def device_pixel(resolution: float, ruling: float) -> DevicePixel:
    """What a film printer's pixels allow; from dots/cm and lines/cm.

    Sources: G. Pritchard, How to calculate halftone dot sizes in microns, 2010; M. A.
    Coudray, Choosing halftone dot shape, not dated.

    Raises:
        CalculationError: values that can't be, or pixels coarser than the ruling.
    """
    _ruling(ruling)
    within(resolution, 10, 10_000, "the resolution", "dots/cm")
    across = resolution / ruling
    if across < 2:
        raise CalculationError(
            f"{resolution:g} dots/cm make no halftone of {ruling:g} lines/cm; a dot "
            "needs two pixels across its cell at the least."
        )
    return DevicePixel(10_000 / resolution, across, across**2 - 1)


# --- moiré -------------------------------------------------------------------------


def moire_period(first_period: float, second_period: float, angle: float) -> float:
    """Period of the beat of two rows of lines at an angle in degrees.

    Both periods in one unit, which the result has too. Source: I. Amidror, The theory
    of the moiré phenomenon, 2000, the general formula of two gratings.

    Raises:
        CalculationError: values that can't be, or equal periods without an angle.
    """
    within(first_period, 1e-6, 1e9, "the period of the first")
    within(second_period, 1e-6, 1e9, "the period of the second")
    within(angle, -360, 360, "the angle", "°")
    beat = _distance(1 / first_period, 0, 1 / second_period, 0, angle)
    if beat <= 1e-9 / max(first_period, second_period):
        raise CalculationError(
            "equal rows of lines without an angle never beat; turn one of them, or "
            "change its period."
        )
    return 1 / beat


def moire_frequency(mesh_count: float, ruling: float, angle: float) -> float:
    """Beats per cm of the longest moiré of mesh and halftone; 0 where it never ends.

    From threads/cm, lines/cm and the angle of the rows to the threads. Both have lines
    in two directions, and harmonics: those of `MESH_ORDERS` and `DOT_ORDERS` are taken.
    Source: I. Amidror, The theory of the moiré phenomenon, 2000 (frequency vectors).

    Raises:
        CalculationError: a mesh, a ruling or an angle that can't be.
    """
    _mesh(mesh_count)
    _ruling(ruling)
    within(angle, -360, 360, "the angle", "°")
    return min(
        _distance(m * mesh_count, k * mesh_count, i * ruling, j * ruling, angle)
        for m, k in MESH_ORDERS
        for i, j in DOT_ORDERS
    )


def moire(mesh_count: float, ruling: float, angle: float) -> Moire:
    """Period of the longest moiré of mesh and halftone.

    From threads/cm, lines/cm and degrees. Source: as `moire_frequency`.

    Raises:
        CalculationError: as that, or a mesh that is an exact multiple of the ruling.
    """
    beats = moire_frequency(mesh_count, ruling, angle)
    if beats <= 1e-6 * ruling:
        raise CalculationError(
            f"a mesh of {mesh_count:g} per cm lies exactly on dots of {ruling:g} "
            f"lines/cm at {angle:g}°; the least fault makes a moiré of any size, so "
            "take another angle."
        )
    return Moire(10 / beats, ruling / beats)


def moire_frequencies(
    mesh_count: float, ruling: float, angles: Sequence[float]
) -> list[float]:
    """`moire_frequency` at each angle."""
    return [moire_frequency(mesh_count, ruling, angle) for angle in angles]


def moire_angles(mesh_count: float, ruling: float) -> MoireAngles:
    """Which of the angles 0, 7.5 … 45 degrees keep mesh and halftone from beating.

    From threads/cm and lines/cm; best is where the longest moiré is the shortest.
    Source: as `moire_frequency`.

    Raises:
        CalculationError: a mesh or a ruling that can't be.
    """
    beats = moire_frequencies(mesh_count, ruling, STEPS_OF_7_5)
    order = sorted(range(len(beats)), key=lambda n: -beats[n])
    best, second, worst = order[0], order[1], order[-1]
    return MoireAngles(
        STEPS_OF_7_5[best],
        STEPS_OF_7_5[second],
        STEPS_OF_7_5[worst],
        10 / beats[best],
        10 / beats[second],
    )


def _distance(m: float, k: float, i: float, j: float, angle: float) -> float:
    """Between the vector (m, k) and the vector (i, j) turned by degrees."""
    cosine, sine = cos(radians(angle)), sin(radians(angle))
    return hypot(m - (i * cosine - j * sine), k - (i * sine + j * cosine))


def _area(radius: float) -> float:
    """Share of a square of side 1 that a circle, and those in its like, cover of it."""
    if radius <= 0.5:
        return pi * radius**2
    if radius >= sqrt(0.5):
        return 1.0
    overlap = radius**2 * acos(0.5 / radius) - 0.5 * sqrt(radius**2 - 0.25)
    return pi * radius**2 - 4 * overlap


def _mesh(mesh_count: float) -> None:
    within(mesh_count, 1, 500, "the mesh count", "threads/cm")


def _ruling(ruling: float) -> None:
    within(ruling, 1, 200, "the ruling", "lines/cm")


def _ratio(ratio: float) -> None:
    within(ratio, 1, 20, "the ratio of mesh to ruling")
