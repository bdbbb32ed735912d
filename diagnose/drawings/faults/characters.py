"""A picture of a fault in characters: the good at the left, the bad at the right."""

from __future__ import annotations

from diagnose.drawings.faults.scene import Note, Panel, raster

SHADES, PLAIN = " ░▒▓█", " .:x#"
FINE = 6
"""A character is so many points wide and twice as many high."""

LEAST = 40
"""In fewer characters nothing is drawn."""


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
    means = dark.reshape(rows, 2 * FINE, wide, FINE).mean(axis=(1, 3))
    cells = [[signs[round(float(one) * 4)] for one in row] for row in means]
    for shape in panel.shapes:
        if isinstance(shape, Note) and shape.text:
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
