"""Whole screens and coats, and the light that a stencil gets."""

from __future__ import annotations

from collections.abc import Mapping
from math import atan, exp, hypot, pi, radians, sin, tan

from diagnose.calculations import undercut
from diagnose.drawings.faults.scene import (
    BLACK,
    MID,
    WHITE,
    Panel,
    Point,
    chance,
    scattered,
)

Numbers = Mapping[str, float]

WIDE, HIGH, RAIL = 64.0, 48.0, 4.0
"""cm of a screen, and of its frame."""


def _screen(inside: str = WHITE) -> Panel:
    panel = Panel(WIDE, HIGH, "cm")
    panel.box(0, 0, WIDE, HIGH, MID, outlined=True)
    panel.box(RAIL, RAIL, WIDE - 2 * RAIL, HIGH - 2 * RAIL, inside, outlined=True)
    return panel


def _coat(panel: Panel) -> None:
    """The coat of the screens below."""
    panel.box(10, 8, 44, 32, MID)


def stop_line(numbers: Numbers) -> Panel:
    """A coat with the line that a halt of the trough leaves, so many mm thick."""
    panel = _screen()
    _coat(panel)
    thick = numbers["line"] / 10
    if thick:
        panel.box(10, 22 - thick / 2, 44, thick, BLACK)
        panel.box(10, 22 + thick / 2, 44, 0.5, WHITE)
    return panel


def streaks(numbers: Numbers) -> Panel:
    """A coat with lines along the way of the trough, upwards."""
    panel = _screen()
    _coat(panel)
    rng = chance(61)
    for n in range(round(numbers["streaks"])):
        x = 14 + n * 38 / max(numbers["streaks"] - 0.5, 1) + rng.uniform(-1.2, 1.2)
        top = 8 if n % 2 == 0 else rng.uniform(12, 22)
        panel.box(x, top, rng.uniform(0.3, 0.6), 40 - top, WHITE)
        panel.box(x + 0.6, top, 0.4, 40 - top, BLACK)
    return panel


def uneven_coat(numbers: Numbers) -> Panel:
    """A coat that is thicker at one side: darker there."""
    panel = _screen()
    differs = numbers["difference"] / 100

    def tone(x: float, y: float) -> float:
        slope = (x - 32) / 44 + 0.3 * sin(2 * pi * y / 26)
        return 0.45 + differs * 0.9 * slope

    panel.screened(10, 8, 44, 32, tone, 26)
    return panel


def drips(numbers: Numbers) -> Panel:
    """A wet coat that runs down a screen that stands."""
    panel = _screen()
    _coat(panel)
    rng = chance(67)
    for x, y in scattered(40, 14, round(numbers["drips"]), 5, rng):
        at, top, run = x + 12, y + 9, rng.uniform(8, 17)
        size = rng.uniform(0.7, 1.1)
        drop: list[Point] = [(at - 0.25, top), (at + 0.25, top)]
        turn = [pi * n / 16 for n in range(-3, 20)]
        drop += [
            (at + size * sin(pi / 2 + t), top + run + size * 1.3 * sin(t)) for t in turn
        ]
        panel.area(drop, BLACK)
        panel.disc(at - 0.25, top + run + 0.1, 0.22, WHITE)
    return panel


def fisheyes(numbers: Numbers) -> Panel:
    """A coat near to: round craters with a rim, and bare mesh in their middle."""
    panel = Panel(40.0, 30.0, "mm", MID)
    rng = chance(71)
    for x, y in scattered(40, 30, round(numbers["craters"]), 6.5, rng):
        size = rng.uniform(1.2, 2.4)
        panel.disc(x, y, size, BLACK)
        panel.disc(x, y, size * 0.78, WHITE)
        panel.disc(x + size * 0.05, y, size * 0.14, BLACK)
    return panel


def pinholes(numbers: Numbers) -> Panel:
    """A stencil held against the light: specks shine through it."""
    panel = Panel(40.0, 30.0, "mm", BLACK)
    panel.area(
        [(22 + 5 * x, 6 + 5 * y) for x, y in ((0, 0), (2.4, 0), (2.4, 3.4), (0, 3.4))],
        WHITE,
    )
    rng = chance(73)
    for x, y in scattered(38, 28, round(numbers["pinholes"]), 3.2, rng):
        panel.disc(x + 1, y + 1, rng.uniform(0.18, 0.42), WHITE)
    return panel


def tension_map(numbers: Numbers) -> Panel:
    """A screen with its tension at nine places; more lines where it is tauter."""
    panel = _screen()
    middle, corner = numbers["middle"], numbers["corner"]

    def tension(x: float, y: float) -> float:
        part = min(1.0, (hypot((x - 32) / 22, (y - 24) / 15) / 2**0.5) ** 1.5)
        share = 1.0 if x > 32 and y > 24 else 0.45
        return middle + (corner - middle) * float(part) * share

    cells = 3
    for i in range(cells):
        for j in range(cells):
            left, top = RAIL + 56 * i / cells, RAIL + 40 * j / cells
            x, y = left + 28 / cells, top + 20 / cells
            reads = tension((10, 32, 54)[i], (9, 24, 39)[j])
            lines = max(round(reads / 2), 1)
            for n in range(lines):
                at = left + 1.5 + (56 / cells - 3) * (n + 0.5) / lines
                panel.box(at - 0.12, top + 8.8, 0.24, 3.4, BLACK)
            panel.note(x - 2.5, y, f"{reads:.0f}")
    for n in range(1, cells):
        x, y = RAIL + 56 * n / cells, RAIL + 40 * n / cells
        panel.box(x - 0.06, RAIL, 0.12, HIGH - 2 * RAIL, MID)
        panel.box(RAIL, y - 0.06, WIDE - 2 * RAIL, 0.12, MID)
    return panel


def light_share(x: float, y: float, distance: float) -> float:
    """Share of the light in the middle that falls so far beside it; all in cm.

    A small lamp gives the fourth power of the cosine of the slant: farther off, at a
    slant, and from a side of a flat lamp that is seen at a slant.
    """
    slant = atan(hypot(x, y) / distance)
    return float(sin(pi / 2 - slant) ** 4)


def corner_weak(numbers: Numbers) -> Panel:
    """How much light a screen gets from a lamp so far off: dark is little light."""
    panel = _screen()

    def tone(x: float, y: float) -> float:
        return 1 - light_share(x - 32, y - 24, numbers["lamp-distance"])

    panel.screened(RAIL, RAIL, WIDE - 2 * RAIL, HIGH - 2 * RAIL, tone, 34)
    for i, j in ((0, 0), (-22, -16), (22, -16), (-22, 16), (22, 16)):
        share = light_share(i, j, numbers["lamp-distance"])
        panel.note(32 + i - 4, 24 + j + 1, f"{100 * share:.0f} %")
    return panel


NAMED = 40
"""µm; a gap at least so high has its name written into it."""


def undercut_section(numbers: Numbers) -> Panel:
    """Film on stencil under slanting light, cut through, in µm.

    A black line keeps light off the stencil; light that comes in at a slant hardens
    what lies under its edges. Worked out by `undercut.line_left`.
    """
    line = numbers["line-width"]
    gap, layer = numbers["gap"], numbers["stencil-thickness"]
    film = numbers["film-thickness"]
    source, distance = numbers["source-width"], numbers["lamp-distance"]
    left = undercut.line_left(line, source, distance, 0, gap, layer, film)
    wide = line * 2.6
    base, sky = 100.0, 90.0
    panel = Panel(wide, sky + base + gap + layer + 40, "µm")
    start, stop = (wide - line) / 2, (wide + line) / 2
    top = sky
    under = top + base + gap
    panel.box(0, top, wide, base, WHITE, outlined=True)
    black = top if film else top + base - 14
    panel.box(start, black, line, 14, BLACK)
    panel.box(0, under, wide, layer, MID)
    eaten = min(left.inner_edge, line / 2)
    at_top = min(undercut.spread(left.angle, gap, 0, film), line / 2)
    if left.left:
        panel.area(
            (
                (start + at_top, under),
                (stop - at_top, under),
                (stop - eaten, under + layer),
                (start + eaten, under + layer),
            ),
            WHITE,
            outlined=True,
        )
    slope = tan(radians(min(left.angle, 60)))
    for x, way in ((start, 1), (stop, -1)):
        high = black
        panel.stroke(
            ((x - way * slope * high, 0), (x, high)), wide / 150, BLACK, dashed=True
        )
        inside = (x + way * min(at_top, line), under)
        foot = (x + way * min(left.inner_edge, line), under + layer)
        begin = (x, high + (0 if film else 14))
        panel.stroke((begin, inside, foot), wide / 150, BLACK, dashed=True)
    panel.note(wide * 0.02, top + base * 0.62, key="film")
    panel.note(wide * 0.02, under + layer * 0.5 + 8, key="stencil")
    if gap >= NAMED:
        panel.note(wide * 0.02, under - gap / 2 + 8, key="air")
    panel.note(wide * 0.44, 48, key="light")
    return panel


def soft_middle(numbers: Numbers) -> Panel:
    """Lines of 300 µm over a bed: where the film lies off, light eats them away."""
    panel = _screen()
    for i in range(13):
        x = 9 + 3.8 * i
        points_left: list[Point] = []
        points_right: list[Point] = []
        for n in range(61):
            y = 7 + 34 * n / 60
            off = exp(-(((x - 32) / 14) ** 2) - ((y - 24) / 10) ** 2)
            gap = numbers["gap"] * off
            left = undercut.line_left(300, 30, 90, 0, gap, 20, 0).share / 100
            points_left.append((x - 0.95 * left, y))
            points_right.append((x + 0.95 * left, y))
        panel.area([*points_left, *reversed(points_right)], BLACK)
    return panel


def off_contact(numbers: Numbers) -> Panel:
    """Screen and piece from the side, the blade lifted; the mesh so many mm above."""
    panel = Panel(60.0, 22.0, "mm")
    gap, piece = numbers["off-contact"], 18.0
    panel.box(0, piece, 60, 4, MID)
    mesh = piece - gap - 0.35
    for x in (0.0, 55.0):
        panel.box(x, mesh - 6, 5, 6, MID, outlined=True)
    panel.stroke(((0, mesh), (60, mesh)), 0.7, BLACK)
    tip = mesh - 2.5
    panel.area(((25, 0), (32, 0), (32, tip - 2), (28.5, tip), (25, tip - 2)), BLACK)
    if gap:
        panel.stroke(((44, mesh), (44, piece)), 0.3, BLACK)
        for end, way in ((mesh + 0.3, 1), (piece, -1)):
            panel.area(((44, end), (43.2, end + way), (44.8, end + way)), BLACK)
    panel.note(46, piece - 0.6 if gap >= 2 else mesh - 2, f"{gap:g} mm")
    return panel
