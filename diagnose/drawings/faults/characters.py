"""A picture of a fault in characters: the good at the left, the bad at the right."""

from __future__ import annotations

from typing import TYPE_CHECKING

from diagnose.drawings.faults.scene import DARKNESS, MID, Note, Panel, raster

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

SHADES, PLAIN = " ░▒▓█", " .:x#"
FINE = 6
"""A character is so many points wide and twice as many high."""

LEAST = 40
"""In fewer characters nothing is drawn."""

SPECK = 0.02
"""A speck or a line that changes a character's darkness by so much is shown."""


def lines_of(
    good: Panel, bad: Panel, left: str, right: str, width: int, plain: bool
) -> list[str]:
    """Both panels side by side, their names above, their scale below."""
    if width < LEAST:
        return []
    wide = (width - 8) // 2
    blocks = [
        [name[:wide].center(wide).rstrip(), *_drawn(panel, wide, plain)]
        for name, panel in ((left, good), (right, bad))
    ]
    rows = max(map(len, blocks))
    for block in blocks:
        block += [""] * (rows - len(block))
    return [f"  {a.ljust(wide + 2)} {b}".rstrip() for a, b in zip(*blocks, strict=True)]


def _drawn(panel: Panel, wide: int, plain: bool) -> list[str]:
    signs = PLAIN if plain else SHADES
    rows = max(4, min(18, round(wide * panel.high / panel.wide / 2)))
    dark = raster(panel, wide * FINE, rows * 2 * FINE)
    cells = [[signs[one] for one in row] for row in _shades(dark, rows, wide)]
    for shape in panel.shapes:
        if isinstance(shape, Note) and not shape.key:
            row = min(max(int(shape.y / panel.high * rows), 0), rows - 1)
            first = int(shape.x / panel.wide * wide)
            text = shape.text.replace("µ", "u") if plain else shape.text
            for n, sign in enumerate(f" {text} ", first - 1):
                if 0 <= n < wide:
                    cells[row][n] = sign
    edge = "|" if plain else "│"
    bar = max(2, round(wide * panel.bar() / panel.wide))
    unit = "um" if plain and panel.unit == "µm" else panel.unit
    level = "-" if plain else "─"
    scale = f" {edge}{level * (bar - 2)}{edge} {panel.bar():g} {unit}"
    return [f"{edge}{''.join(row)}"[: wide + 1] + edge for row in cells] + [scale]


def _shades(dark: NDArray[np.float64], rows: int, wide: int) -> list[list[int]]:
    """The shade of each character, 0 to 4: how dark it is on the mean.

    Where that would hide a speck or a fine line of black or white that stands alone, it
    is a step off what is around it.
    """
    import numpy as np

    fine = dark.reshape(rows, 2 * FINE, wide, FINE).swapaxes(1, 2)
    points = fine.reshape(rows, wide, 2 * FINE * FINE)
    around = np.median(points, axis=2)
    off = np.where(points == DARKNESS[MID], 0.0, points - around[:, :, None])
    darker, lighter = np.maximum(off, 0).mean(axis=2), -np.minimum(off, 0).mean(axis=2)
    padded = np.pad(around, 1, mode="edge")
    beside = (padded[:-2, 1:-1], padded[2:, 1:-1], padded[1:-1, :-2], padded[1:-1, 2:])
    alone = np.all([one == around for one in beside], axis=0)
    shades = np.rint(points.mean(axis=2) * 4)
    hidden = alone & (shades == np.rint(around * 4))
    hidden &= np.maximum(darker, lighter) > SPECK
    shades[hidden] += np.where(darker > lighter, 1, -1)[hidden]
    found: list[list[int]] = np.clip(shades, 0, 4).astype(int).tolist()
    return found
