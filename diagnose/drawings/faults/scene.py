"""What a picture of a fault is made of: shapes in true size, in three tones.

A panel knows nothing of SVG or of characters. x runs to the right and y down.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from math import cos, floor, log10, pi, sin
from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Point: TypeAlias = tuple[float, float]

WHITE, MID, BLACK = "white", "mid", "black"
"""The tones. Any two of them differ by a contrast of 4.5:1 or more, also in grey."""

DARKNESS = {WHITE: 0.0, MID: 0.5, BLACK: 1.0}


@dataclass(frozen=True, slots=True)
class Area:
    """A closed shape; `outline` in the panel's unit, 0 for none."""

    points: tuple[Point, ...]
    tone: str
    outlined: bool = False


@dataclass(frozen=True, slots=True)
class Disc:
    """A filled circle."""

    x: float
    y: float
    radius: float
    tone: str
    outlined: bool = False


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line of some thickness through points; a thin one is drawn as thin as it is."""

    points: tuple[Point, ...]
    thick: float
    tone: str
    dashed: bool = False


@dataclass(frozen=True, slots=True)
class Note:
    """A word or number at a place, behind the label that `key` names in the record."""

    x: float
    y: float
    text: str = ""
    key: str = ""


Shape: TypeAlias = Area | Disc | Stroke | Note


@dataclass(slots=True)
class Panel:
    """One picture, of the good or of the bad; sizes in `unit`."""

    wide: float
    high: float
    unit: str
    ground: str = WHITE
    shapes: list[Shape] = field(default_factory=list)

    def area(self, points: Sequence[Point], tone: str, outlined: bool = False) -> None:
        self.shapes.append(Area(tuple(points), tone, outlined))

    def box(
        self,
        x: float,
        y: float,
        wide: float,
        high: float,
        tone: str,
        outlined: bool = False,
    ) -> None:
        corners = ((x, y), (x + wide, y), (x + wide, y + high), (x, y + high))
        self.area(corners, tone, outlined)

    def disc(
        self, x: float, y: float, radius: float, tone: str, outlined: bool = False
    ) -> None:
        self.shapes.append(Disc(x, y, radius, tone, outlined))

    def stroke(
        self, points: Sequence[Point], thick: float, tone: str, dashed: bool = False
    ) -> None:
        self.shapes.append(Stroke(tuple(points), thick, tone, dashed))

    def note(self, x: float, y: float, text: str = "", key: str = "") -> None:
        self.shapes.append(Note(x, y, text, key))

    def bar(self) -> float:
        """The length of the scale bar: 1, 2 or 5 of a size, about a quarter across."""
        most = self.wide * 0.3
        size = 10.0 ** floor(log10(most))
        return max(step * size for step in (1, 2, 5) if step * size <= most)

    def screened(
        self,
        x: float,
        y: float,
        wide: float,
        high: float,
        tone: Callable[[float, float], float],
        lines: int = 40,
        steps: int = 90,
    ) -> None:
        """Grey as an engraver has it: black lines, thicker where it is darker.

        Args:
            x: where it begins; y, wide and high are its place and size too.
            y: see x.
            wide: see x.
            high: see x.
            tone: how dark, 0 to 1, at a place.
            lines: how many.
            steps: how many pieces a line has.
        """
        apart = high / lines
        for n in range(lines):
            middle = y + (n + 0.5) * apart
            upper: list[Point] = []
            lower: list[Point] = []
            for step in range(steps + 1):
                at = x + wide * step / steps
                half = apart * min(max(tone(at, middle), 0.0), 1.0) / 2
                upper.append((at, middle - half))
                lower.append((at, middle + half))
            self.area([*upper, *reversed(lower)], BLACK)


def ring(x: float, y: float, radius: Callable[[float], float]) -> list[Point]:
    """A closed outline about a middle; the radius goes by the angle."""
    turns = [2 * pi * n / 60 for n in range(60)]
    return [(x + radius(t) * cos(t), y + radius(t) * sin(t)) for t in turns]


def chance(seed: int) -> random.Random:
    """The same chance each time, so that a picture is the same each time."""
    return random.Random(seed)


def wander(
    count: int, rough: float, rng: random.Random, smooth: int = 4
) -> list[float]:
    """A ragged line: heights of mean 0, `rough` their standard deviation."""
    raw = [rng.gauss(0, 1) for _ in range(count + 2 * smooth)]
    found = [sum(raw[n : n + 2 * smooth + 1]) for n in range(count)]
    return [rough * one / (2 * smooth + 1) ** 0.5 for one in found]


def scattered(
    wide: float, high: float, count: int, apart: float, rng: random.Random
) -> list[Point]:
    """So many places that keep apart from each other where there is room."""
    found: list[Point] = []
    for _ in range(count):
        for _ in range(40):
            one = (
                rng.uniform(apart / 2, wide - apart / 2),
                rng.uniform(apart / 2, high - apart / 2),
            )
            if all((one[0] - x) ** 2 + (one[1] - y) ** 2 >= apart**2 for x, y in found):
                found.append(one)
                break
    return found


def raster(panel: Panel, columns: int, rows: int) -> NDArray[np.float64]:
    """How dark the panel is, 0 to 1, at the middle of each cell of a grid."""
    import numpy as np

    found = np.full((rows, columns), DARKNESS[panel.ground])
    across = (np.arange(columns) + 0.5) * panel.wide / columns
    down = (np.arange(rows) + 0.5) * panel.high / rows
    for shape in panel.shapes:
        if isinstance(shape, Note):
            continue
        if isinstance(shape, Disc):
            left, right = shape.x - shape.radius, shape.x + shape.radius
            top, bottom = shape.y - shape.radius, shape.y + shape.radius
        else:
            more = shape.thick / 2 if isinstance(shape, Stroke) else 0.0
            xs, ys = zip(*shape.points, strict=True)
            left, right = min(xs) - more, max(xs) + more
            top, bottom = min(ys) - more, max(ys) + more
        i = slice(*np.searchsorted(down, (top, bottom)).tolist())
        j = slice(*np.searchsorted(across, (left, right)).tolist())
        x, y = np.meshgrid(across[j], down[i])
        if x.size:
            found[i, j][_inside(shape, x, y)] = DARKNESS[shape.tone]
    return found


def _inside(
    shape: Area | Disc | Stroke, x: NDArray[np.float64], y: NDArray[np.float64]
) -> NDArray[np.bool_]:
    import numpy as np

    if isinstance(shape, Disc):
        within: NDArray[np.bool_] = (x - shape.x) ** 2 + (
            y - shape.y
        ) ** 2 <= shape.radius**2
        return within
    inside = np.zeros(x.shape, dtype=bool)
    if isinstance(shape, Area):
        before = shape.points[-1]
        for point in shape.points:
            if point[1] != before[1]:
                crosses = (point[1] > y) != (before[1] > y)
                part = (y - point[1]) / (before[1] - point[1])
                inside ^= crosses & (x < point[0] + part * (before[0] - point[0]))
            before = point
        return inside
    for (ax, ay), (bx, by) in zip(shape.points, shape.points[1:], strict=False):
        length = (bx - ax) ** 2 + (by - ay) ** 2 or 1e-12
        along = np.clip(((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / length, 0, 1)
        off = (x - ax - along * (bx - ax)) ** 2 + (y - ay - along * (by - ay)) ** 2
        inside |= off <= (shape.thick / 2) ** 2
    return inside
