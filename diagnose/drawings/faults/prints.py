"""Prints seen from above: edges, doubled and moved images, marks of old ones."""

from __future__ import annotations

from collections.abc import Mapping
from math import cos, exp, hypot, pi, sin

from diagnose.drawings.faults.scene import (
    BLACK,
    MID,
    WHITE,
    Panel,
    Point,
    chance,
    ring,
    scattered,
    wander,
)

Numbers = Mapping[str, float]

WIDE, HIGH = 8.0, 6.0
"""mm of a print that a close picture shows."""

FLAG: tuple[Point, ...] = (
    (0.0, 0.0), (0.75, 0.0), (0.75, 0.2), (0.25, 0.2), (0.25, 0.4),
    (0.6, 0.4), (0.6, 0.6), (0.25, 0.6), (0.25, 1.0), (0.0, 1.0),
)  # fmt: skip
"""A letter that has no like in the mirror, in a square."""


def _flag(x: float, y: float, size: float, way: int = 1) -> list[Point]:
    middle = 0.375
    return [(x + size * (middle + way * (a - middle)), y + size * b) for a, b in FLAG]


def bleed(numbers: Numbers) -> Panel:
    """Two bars whose ink has crept past their edges, by so many µm."""
    panel = Panel(WIDE, HIGH, "mm")
    creep, rng = numbers["creep"] / 1000, chance(11)
    for top, bottom in ((0.9, 2.6), (3.6, 4.3)):
        count = 240
        xs = [0.6 + (WIDE - 1.2) * n / (count - 1) for n in range(count)]
        edges = []
        for _ in range(2):
            rough = wander(count, creep * 0.6, rng)
            edges.append([max(0.0, creep + one) if creep else 0.0 for one in rough])
        upper = [(x, top - up) for x, up in zip(xs, edges[0], strict=True)]
        lower = [(x, bottom + down) for x, down in zip(xs, edges[1], strict=True)]
        panel.area([*upper, *reversed(lower)], BLACK)
        if creep:
            for y in (top, bottom):
                panel.stroke(((0.6, y), (WIDE - 0.6, y)), 0.05, WHITE, dashed=True)
    return panel


def thicker(numbers: Numbers) -> Panel:
    """Lines and dots that come out wider than they are in the stencil."""
    growth = numbers["growth"] / 1000
    panel = Panel(WIDE, HIGH, "mm")
    x = 0.8
    for width in (0.15, 0.25, 0.4, 0.6):
        if growth:
            panel.box(x - growth, 0.6 - growth, width + 2 * growth, 3 + 2 * growth, MID)
        panel.box(x, 0.6, width, 3.0, BLACK)
        x += width + 0.9
    for n in range(6):
        for row in range(2):
            x, y, radius = 1.1 + 1.12 * n, 4.25 + 0.95 * row, 0.12 + 0.04 * n
            if growth:
                panel.disc(x, y, radius + growth, MID)
            panel.disc(x, y, radius, BLACK)
    return panel


def closed(numbers: Numbers) -> Panel:
    """Bars with gaps of 300 µm down to 40 in the stencil; the finest are shut."""
    panel = Panel(WIDE, HIGH, "mm", MID)
    least, y = numbers["least-open"], 0.5
    for width in (300, 250, 200, 160, 120, 90, 60, 40):
        wide = width / 1000
        left = max(0.0, wide - (least / 1000) ** 2 / wide * 0.6) if least else wide
        if width > least:
            panel.box(2.1, y, WIDE - 2.7, left, WHITE, outlined=True)
        panel.note(0.25, y + wide / 2 + 0.12, f"{width} µm")
        y += wide + 0.56
    return panel


def washed(numbers: Numbers) -> Panel:
    """The stencil of a letter, its edges eaten in the wash-out."""
    panel = Panel(WIDE, HIGH, "mm", MID)
    bite, rng = numbers["bite"], chance(21)
    panel.area(_flag(1.9, 0.6, 4.8), WHITE)
    outline = _flag(1.9, 0.6, 4.8)
    if bite:
        for n, (x, y) in enumerate(outline):
            to_x, to_y = outline[(n + 1) % len(outline)]
            length = hypot(to_x - x, to_y - y)
            for step in range(int(length / 0.35) + 1):
                part = step * 0.35 / length
                radius = bite * rng.uniform(0.1, 1.0) ** 1.5
                at = (x + (to_x - x) * part, y + (to_y - y) * part)
                wave = rng.uniform(0, 6)

                def ragged(t: float, r: float = radius, w: float = wave) -> float:
                    return r * (1 + 0.25 * sin(3 * t + w) + 0.15 * cos(5 * t))

                panel.area(ring(at[0], at[1], ragged), WHITE)
        panel.stroke([*outline, outline[0]], 0.06, BLACK, dashed=True)
    return panel


def peeled(numbers: Numbers) -> Panel:
    """A stencil that comes off the mesh in flakes."""
    panel = Panel(WIDE, HIGH, "mm", MID)
    rng = chance(23)
    panel.area(_flag(1.9, 0.6, 4.8), WHITE)
    flakes = scattered(WIDE, HIGH, round(numbers["flakes"]), 1.2, rng)
    for x, y in flakes:
        size, wave = rng.uniform(0.35, 0.75), rng.uniform(0, 6)

        def torn(t: float, r: float = size, w: float = wave) -> float:
            return r * (1 + 0.3 * sin(2 * t + w) + 0.18 * sin(7 * t + w))

        panel.area(ring(x, y, torn), WHITE)
    for x, y in flakes[::3]:
        size, wave = rng.uniform(0.25, 0.4), rng.uniform(0, 6)

        def flake(t: float, r: float = size, w: float = wave) -> float:
            return r * (1 + 0.3 * sin(2 * t + w) + 0.12 * sin(5 * t + w))

        panel.area(ring(x + 0.5, y + 0.5, flake), MID, outlined=True)
    return panel


def doubled(numbers: Numbers) -> Panel:
    """An image with a second, fainter one beside it, so many mm off."""
    panel = Panel(WIDE, HIGH, "mm")
    shift = numbers["shift"]
    if shift:
        _engraved(panel, _flag(2.0 + shift, 0.6 + shift * 0.5, 4.6), 0.42)
        panel.area(_flag(2.0, 0.6, 4.6), BLACK)
    else:
        panel.area(_flag(2.0, 0.6, 4.6), BLACK)
    return panel


def _engraved(panel: Panel, outline: list[Point], tone: float) -> None:
    """A shape in lines, for what is fainter."""
    top, bottom = min(y for _, y in outline), max(y for _, y in outline)
    apart = 0.16
    y = top + apart / 2
    while y < bottom:
        for left, right in _spans(outline, y):
            panel.box(left, y - apart * tone / 2, right - left, apart * tone, BLACK)
        y += apart


def _spans(outline: list[Point], y: float) -> list[tuple[float, float]]:
    """Where a level line runs inside a shape."""
    cuts = []
    for (ax, ay), (bx, by) in zip(outline, [*outline[1:], outline[0]], strict=True):
        if (ay > y) != (by > y):
            cuts.append(ax + (y - ay) / (by - ay) * (bx - ax))
    cuts.sort()
    return list(zip(cuts[::2], cuts[1::2], strict=True))


def smeared(numbers: Numbers) -> Panel:
    """An image dragged in one direction, by so many mm."""
    panel = Panel(WIDE, HIGH, "mm")
    drag, rng = numbers["drag"], chance(31)
    outline = _flag(1.8, 0.6, 4.6)
    panel.area(outline, BLACK)
    if drag:
        y = 0.6
        while y < 5.2:
            for _, right in _spans(outline, y + 0.001):
                tail = drag * rng.uniform(0.25, 1.0)
                thick = 0.07
                panel.area(
                    ((right, y), (right + tail, y + thick * 0.4), (right, y + thick)),
                    BLACK,
                )
            y += 0.09
    return panel


def mirrored(numbers: Numbers) -> Panel:
    """The image, or what it is in the mirror."""
    panel = Panel(WIDE, HIGH, "mm")
    panel.area(_flag(2.2, 0.6, 4.8, -1 if numbers["mirrored"] else 1), BLACK)
    return panel


def ghost(numbers: Numbers) -> Panel:
    """A printed solid in which the shape of an earlier job shows."""
    panel = Panel(WIDE, HIGH, "mm")
    weaker = numbers["strength"] / 100
    old = ring(4.0, 3.0, lambda t: 1.7 + 0.55 * cos(5 * t + pi / 2))
    panel.box(0.5, 0.5, WIDE - 1, HIGH - 1, BLACK)
    if weaker:
        y = 0.5
        while y < HIGH - 0.5:
            for left, right in _spans(old, y):
                panel.box(left, y, right - left, 0.16 * weaker, WHITE)
            y += 0.16
    return panel


def _mark(panel: Panel, x: float, y: float, dx: float, dy: float, size: float) -> None:
    """A frame of one colour and the patch of another that has to fill it."""
    edge = size * 0.09
    panel.box(x + dx, y + dy, size, size, MID)
    corners = ((x, y), (x + size, y), (x + size, y + size), (x, y + size), (x, y))
    panel.stroke(corners, edge, BLACK)


def misregister(numbers: Numbers) -> Panel:
    """Nine places of a print 300 mm wide: one colour misses the other at a corner."""
    panel = Panel(300.0, 225.0, "mm")
    for i in range(3):
        for j in range(3):
            share = (i / 2) ** 2 * (j / 2) ** 2
            shift = numbers["shift"] * share * MAGNIFIED
            _mark(panel, 28 + 95 * i, 18 + 70 * j, shift, shift * 0.7, 44)
    return panel


MAGNIFIED = 10.0
"""A misfit is drawn so many times as large as it is, beside what it is seen on."""


def growing(numbers: Numbers) -> Panel:
    """The same where one colour is larger: the misfit grows away from one corner."""
    panel = Panel(300.0, 225.0, "mm")
    grows = numbers["longer"] / 1000
    for i in range(3):
        for j in range(3):
            x, y = 28 + 95.0 * i, 18 + 70.0 * j
            _mark(
                panel, x, y, 95 * i * grows * MAGNIFIED, 70 * j * grows * MAGNIFIED, 44
            )
    return panel


def specks(numbers: Numbers) -> Panel:
    """A printed solid with bare specks in it."""
    panel = Panel(WIDE, HIGH, "mm")
    panel.box(0.5, 0.5, WIDE - 1, HIGH - 1, BLACK)
    rng = chance(41)
    for x, y in scattered(WIDE - 1.4, HIGH - 1.4, round(numbers["specks"]), 0.5, rng):
        panel.disc(x + 0.7, y + 0.7, rng.uniform(0.05, 0.13), WHITE)
    return panel


def spots(numbers: Numbers) -> Panel:
    """Bare ground beside an image, with spots of ink that do not belong there."""
    panel = Panel(WIDE, HIGH, "mm")
    panel.area(_flag(2.2, 0.8, 4.4), BLACK)
    rng = chance(43)
    for x, y in scattered(WIDE, HIGH, round(numbers["spots"]), 0.7, rng):
        panel.disc(x, y, rng.uniform(0.06, 0.14), BLACK)
    return panel


def lint(numbers: Numbers) -> Panel:
    """A printed solid; fibres that lay on the stencil have left their shape bare."""
    panel = Panel(WIDE, HIGH, "mm")
    panel.box(0.5, 0.5, WIDE - 1, HIGH - 1, BLACK)
    rng = chance(47)
    for x, y in scattered(WIDE - 3, HIGH - 3, round(numbers["fibres"]), 1.2, rng):
        turn, bend = rng.uniform(0, pi), rng.uniform(-1.6, 1.6)
        at, points = (x + 1.5, y + 1.5), []
        for n in range(21):
            points.append(at)
            way = turn + bend * n / 12
            at = (at[0] + 0.1 * cos(way), at[1] + 0.1 * sin(way))
        panel.stroke(points, 0.07, WHITE)
    return panel


def cobwebs(numbers: Numbers) -> Panel:
    """An image with threads of ink that stretch out of it."""
    panel = Panel(WIDE, HIGH, "mm")
    outline, rng = _flag(2.2, 0.8, 4.4), chance(53)
    panel.area(outline, BLACK)
    for _ in range(round(numbers["threads"])):
        x, y = rng.choice(outline)
        turn, at = rng.uniform(-pi, pi), (x, y)
        points = [at]
        for _ in range(18):
            turn += rng.uniform(-0.35, 0.35)
            at = (at[0] + 0.11 * cos(turn), at[1] + 0.11 * sin(turn))
            points.append((min(max(at[0], 0.05), 7.95), min(max(at[1], 0.05), 5.95)))
        panel.stroke(points, 0.035, BLACK)
    return panel


def fading(numbers: Numbers) -> Panel:
    """Three prints of a run, one below the other: fine lines fill in as it goes on."""
    panel = Panel(WIDE, HIGH, "mm")
    for row in range(3):
        lost = numbers["lost"] / 1000 * row / 2
        x = 1.0
        for width in (0.08, 0.12, 0.18, 0.26, 0.36, 0.5, 0.7):
            if width > lost:
                panel.box(x + lost / 2, 0.4 + 1.9 * row, width - lost, 1.5, BLACK)
            x += width + 0.55
    return panel


def uneven(numbers: Numbers) -> Panel:
    """A printed solid, darker where more ink was laid down."""
    panel = Panel(400.0, 300.0, "mm")
    less = numbers["less"] / 100

    def tone(x: float, y: float) -> float:
        return 0.86 - less * 0.8 * (
            0.5 + 0.5 * cos(pi * (x - 20) / 360 + 0.6 * y / 300)
        )

    panel.screened(20, 15, 360, 270, tone, 44)
    return panel


def band(numbers: Numbers) -> Panel:
    """A printed solid with a band of another deposit across it."""
    panel = Panel(400.0, 300.0, "mm")
    wide, less = 34.0, numbers["difference"] / 100

    def tone(x: float, y: float) -> float:
        return 0.62 + less * 0.36 * exp(-(((x - 235) / wide) ** 4))

    panel.screened(20, 15, 360, 270, tone, 44)
    return panel
