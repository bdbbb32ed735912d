"""How rough the print side of a stencil is, from the heights of a profile."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise

from diagnose.calculations.limits import above_zero, readings
from diagnose.errors import CalculationError

SAMPLING_LENGTHS = 5
TRAVERSED = 7
POINTS = 5


@dataclass(frozen=True, slots=True)
class Roughness:
    """Rz (mean of five peak-to-valley heights) and Rt (highest to deepest), in µm."""

    rz: float
    rt: float


@dataclass(frozen=True, slots=True)
class Lengths:
    """Lengths for a cut-off, in mm: what is evaluated and what the stylus travels."""

    evaluated: float
    travelled: float


def roughness(heights: Sequence[float]) -> Roughness:
    """Rz and Rt of a profile: heights in µm at equal steps over five sampling lengths.

    Where the heights do not divide by five, the last lengths are one point longer.

    Raises CalculationError with fewer than ten heights. Formula: Rz = mean of the five
    heights from lowest to highest, Rt over the whole (Rz and Ra definitions after ISO
    4287 and JIS B 0601, n.d.). RzJIS is another figure: see `ten_point_roughness`.
    """
    readings("Heights of the profile", heights, 2 * SAMPLING_LENGTHS)
    bounds = [len(heights) * n // SAMPLING_LENGTHS for n in range(SAMPLING_LENGTHS + 1)]
    pieces = [heights[start:end] for start, end in pairwise(bounds)]
    rz = sum(max(piece) - min(piece) for piece in pieces) / SAMPLING_LENGTHS
    return Roughness(rz, max(heights) - min(heights))


def ten_point_roughness(heights: Sequence[float]) -> float:
    """RzJIS, in µm, of a profile with heights in µm at equal steps over one length.

    Mean of the five highest peaks over the mean of the five deepest valleys; a peak is
    the top of a part over the mean line, a valley the bottom of a part under it.

    Raises CalculationError with fewer than five peaks or five valleys. Formula: JIS B
    0601 (Surface roughness: Ra, Rz, RzJIS definitions, n.d.).
    """
    readings("Heights of the profile", heights, 2 * POINTS)
    line = sum(heights) / len(heights)
    peaks, valleys = [], []
    for over, part in groupby(heights, key=lambda height: height > line):
        if over:
            peaks.append(max(part))
        else:
            valleys.append(min(part))
    if min(len(peaks), len(valleys)) < POINTS:
        raise CalculationError(
            f"This profile has {len(peaks)} peaks and {len(valleys)} valleys; the "
            f"ten-point height takes {POINTS} of each, so measure a longer piece."
        )
    highest = sorted(peaks)[-POINTS:]
    deepest = sorted(valleys)[:POINTS]
    return (sum(highest) - sum(deepest)) / POINTS


def measuring_lengths(cut_off: float) -> Lengths:
    """What to measure for a cut-off in mm: 5 cut-offs evaluated, 7 travelled.

    Raises CalculationError unless the cut-off is above 0. Formula: ISO 4288, from
    memory (5 evaluated); What measurement length should I make?, n.d. (7 travelled).
    """
    above_zero("The cut-off", cut_off, "mm")
    return Lengths(SAMPLING_LENGTHS * cut_off, TRAVERSED * cut_off)
