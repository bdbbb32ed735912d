"""Mesh and stencil: edges that follow the threads, cuts through the stencil, moiré."""

from __future__ import annotations

from collections.abc import Mapping
from math import ceil, cos, hypot, pi, radians, sin, tan

from diagnose.calculations import halftone, mesh
from diagnose.drawings.faults.scene import (
    BLACK,
    MID,
    WHITE,
    Panel,
    Point,
    chance,
)

Numbers = Mapping[str, float]

BRIDGED = 0.2
"""Emulsion over the mesh so thick, in openings, bridges them in a straight line.

Our judgement: with a mesh of 120-34 (openings of 49 µm) it is 10 µm, a fifth of the
thickness of the mesh, where sources have edges come out smooth.
"""


def thin_share(numbers: Numbers) -> float:
    """How far an edge follows the threads: 0 not at all, 1 as far as it can."""
    count, thread = numbers["mesh-count"], numbers["thread-diameter"]
    opening = mesh.opening(count, thread)
    over = numbers["emulsion-over-mesh"] / 100 * mesh.fabric_thickness(count, thread)
    return max(0.0, 1 - over / (BRIDGED * opening))


def edge(numbers: Numbers, wide: float) -> list[tuple[float, float, float]]:
    """The edge of a stencil at a slant to the threads: x, drawn y, ideal y, in µm.

    Too thin a stencil does not bridge an opening: its edge runs along the thread that
    is nearest, and changes over to the next one behind a crossing thread.
    """
    count, thread = numbers["mesh-count"], numbers["thread-diameter"]
    pitch, opening = mesh.pitch(count), mesh.opening(count, thread)
    share, rise = thin_share(numbers), tan(radians(numbers["angle"]))

    def stair(column: int) -> float:
        ideal = rise * (column + 0.5) * pitch + 0.5 * pitch
        return round(ideal / pitch) * pitch

    found = []
    steps = max(ceil(wide / pitch) * 24, 2)
    for n in range(steps + 1):
        x = wide * n / steps
        column = int(x // pitch)
        into = x - column * pitch - opening
        level = stair(column)
        if into > 0:
            part = (1 - cos(pi * into / thread)) / 2
            level += (stair(column + 1) - level) * part
        ideal = rise * x + 0.5 * pitch
        found.append((x, ideal + share * (level - ideal), ideal))
    return found


def edge_error(numbers: Numbers, wide: float) -> float:
    """Root mean square, in µm, of the drawn edge against the ideal one, across it."""
    points = edge(numbers, wide)
    slant = cos(radians(numbers["angle"]))
    squares = [((drawn - ideal) * slant) ** 2 for _, drawn, ideal in points]
    return float((sum(squares) / len(squares)) ** 0.5)


def weave(
    panel: Panel, count: float, thread: float, tone: str = MID, skip: int = -1
) -> None:
    """Threads both ways over the whole panel (in µm); `skip` is left out."""
    pitch = mesh.pitch(count)
    half = mesh.opening(count, thread) + thread / 2
    for n in range(-1, ceil(panel.wide / pitch) + 1):
        at = half + n * pitch
        if n != skip:
            panel.stroke(((at, 0), (at, panel.high)), thread, tone)
    for n in range(-1, ceil(panel.high / pitch) + 1):
        at = half + n * pitch
        panel.stroke(((0, at), (panel.wide, at)), thread, tone)


def sawtooth(numbers: Numbers) -> Panel:
    """An edge of the print with the mesh that made it, seen from above."""
    pitch = mesh.pitch(numbers["mesh-count"])
    panel = Panel(12 * pitch, 9 * pitch, "µm")
    rise = tan(radians(numbers["angle"]))
    lift = panel.high / 2 - rise * panel.wide / 2 - 0.5 * pitch
    lift = round(lift / pitch) * pitch
    run = edge(numbers, panel.wide)
    drawn = [(x, min(max(y + lift, 0), panel.high)) for x, y, _ in run]
    panel.area([*drawn, (panel.wide, panel.high), (0, panel.high)], BLACK)
    count, thread = numbers["mesh-count"], numbers["thread-diameter"]
    thin = thread * 0.28
    line = mesh.opening(count, thread) + thread / 2
    for n in range(14):
        at = line + n * pitch
        panel.stroke(((at, 0), (at, panel.high)), thin, MID)
        panel.stroke(((0, at), (panel.wide, at)), thin, MID)
    ends = [(x, y + lift) for x, _, y in (run[0], run[-1])]
    panel.stroke(ends, panel.wide / 110, MID, dashed=True)
    return panel


def _threads_cut(numbers: Numbers) -> tuple[float, float, float]:
    """Pitch, thread and thickness of the mesh, in µm."""
    count, thread = numbers["mesh-count"], numbers["thread-diameter"]
    return mesh.pitch(count), thread, mesh.fabric_thickness(count, thread)


def _mesh_cut(
    panel: Panel, pitch: float, thread: float, thick: float, middle: float
) -> None:
    """A thread that runs along, over and under those that are cut."""
    swing = (thick - thread) / 2
    points: list[Point] = []
    steps = 240
    for n in range(steps + 1):
        x = panel.wide * n / steps
        points.append((x, middle + swing * cos(pi * (x / pitch - 0.5))))
    panel.stroke(points, thread, BLACK)
    panel.stroke(points, thread * 0.84, WHITE)
    n = 0
    while (n + 0.5) * pitch - thread < panel.wide:
        x = (n + 0.5) * pitch
        side = -1 if n % 2 == 0 else 1
        panel.disc(x, middle + side * swing, thread / 2, WHITE, outlined=True)
        n += 1


def section(numbers: Numbers) -> Panel:
    """A stencil cut through, print side down, with an open edge at its right."""
    pitch, thread, thick = _threads_cut(numbers)
    most = max(numbers["print-side"], numbers["squeegee-side"], 40) / 100 * thick
    panel = Panel(3.2 * pitch, thick + 2 * most + thread * 1.2, "µm")
    middle = panel.high / 2
    over = numbers["squeegee-side"] / 100 * thick
    under = numbers["print-side"] / 100 * thick
    follows = numbers["weave"] / 100
    steps, end = 200, 2.25 * pitch
    lower = []
    for n in range(steps + 1):
        x = end * n / steps
        dip = (1 + cos(2 * pi * x / pitch)) / 2
        sag = follows * dip * (under + (thick - thread) * 0.55)
        lower.append((x, middle + thick / 2 + under - sag))
    panel.area(
        [
            (0, middle - thick / 2 - over),
            (end, middle - thick / 2 - over),
            *reversed(lower),
        ],
        MID,
    )
    _mesh_cut(panel, pitch, thread, thick, middle)
    for level in (middle - thick / 2, middle + thick / 2):
        panel.stroke(((0, level), (panel.wide, level)), thread / 16, BLACK, dashed=True)
    above, below = (f"{numbers[side]:g} %" for side in ("squeegee-side", "print-side"))
    panel.note(panel.wide * 0.02, panel.high * 0.11, above, key="squeegee-side")
    panel.note(panel.wide * 0.02, panel.high * 0.97, below, key="print-side")
    return panel


def scum(numbers: Numbers) -> Panel:
    """Open mesh in a stencil against the light, with a skin in some of its openings."""
    count, thread = numbers["mesh-count"], numbers["thread-diameter"]
    pitch, opening = mesh.pitch(count), mesh.opening(count, thread)
    panel = Panel(16 * pitch, 12 * pitch, "µm", BLACK)
    rng, share = chance(5), numbers["covered"] / 100
    places = [(rng.uniform(3, 13), rng.uniform(3, 9)) for _ in range(5)]
    openings = [
        (min(hypot(i - a, j - b) + rng.uniform(0, 0.8) for a, b in places), i, j)
        for i in range(2, 14)
        for j in range(2, 10)
    ]
    openings.sort()
    for n, (_, i, j) in enumerate(openings):
        tone = MID if n < share * len(openings) else WHITE
        panel.box(i * pitch, j * pitch, opening, opening, tone)
    return panel


def bubbles(numbers: Numbers) -> Panel:
    """A coat with bubbles in it, cut through."""
    pitch, thread, thick = _threads_cut(numbers)
    over = 0.35 * thick
    panel = Panel(4.5 * pitch, thick + 2 * over + thread * 1.8, "µm")
    middle = panel.high / 2
    top, bottom = middle - thick / 2 - over, middle + thick / 2 + over
    panel.box(0, top, panel.wide, bottom - top, MID)
    _mesh_cut(panel, pitch, thread, thick, middle)
    rng = chance(8)
    size = 0.34 * over
    for n in range(round(numbers["bubbles"])):
        x = (n % 4 + rng.uniform(0.15, 0.85)) * pitch
        radius = size * rng.uniform(0.8, 1.35)
        y = (bottom - over * 0.45) if n % 3 else (top + over * 0.45)
        panel.disc(x, y, radius, WHITE, outlined=True)
    panel.note(panel.wide * 0.02, panel.high * 0.13, key="squeegee-side")
    panel.note(panel.wide * 0.02, panel.high * 0.96, key="print-side")
    return panel


def mesh_marks(numbers: Numbers) -> Panel:
    """A print cut through: ink that has kept the marks of the mesh."""
    pitch, _, thick = _threads_cut(numbers)
    film, depth = 0.5 * thick, numbers["depth"] / 100
    panel = Panel(7 * pitch, 3.2 * thick, "µm")
    ground = 2.2 * thick
    steps = 240
    upper = []
    for n in range(steps + 1):
        x = panel.wide * (0.06 + 0.88 * n / steps)
        mark = (0.5 + 0.5 * cos(2 * pi * x / pitch)) ** 2
        upper.append((x, ground - film * (1 + 0.5 * depth) + film * depth * mark))
    panel.area(
        [*upper, (panel.wide * 0.94, ground), (panel.wide * 0.06, ground)], BLACK
    )
    panel.box(0, ground, panel.wide, panel.high - ground, MID)
    return panel


def moire(numbers: Numbers) -> Panel:
    """Halftone dots of 40 % as the mesh lets them through, from above."""
    return halftone_on_mesh(numbers, 8.0, 6.0)


def halftone_on_mesh(numbers: Numbers, wide: float, high: float) -> Panel:
    """A tint, wide and high in mm, with the mesh's threads cut out of its dots."""
    ruling, count = numbers["ruling"], numbers["mesh-count"]
    angle = radians(numbers["angle"])
    panel = Panel(wide, high, "mm")
    cell, pitch = 10 / ruling, 10 / count
    radius = halftone.dot_diameter(40, ruling) / 2000
    reach = ceil(hypot(wide, high) / cell) + 1
    for i in range(-reach, reach + 1):
        for j in range(-reach, reach + 1):
            x = (i * cos(angle) - j * sin(angle)) * cell + wide / 2
            y = (i * sin(angle) + j * cos(angle)) * cell + high / 2
            if -radius < x < wide + radius and -radius < y < high + radius:
                panel.disc(x, y, radius, BLACK)
    thread = 0.42 * pitch
    for n in range(ceil(wide / pitch) + 1):
        panel.stroke(((n * pitch, 0), (n * pitch, high)), thread, WHITE)
    for n in range(ceil(high / pitch) + 1):
        panel.stroke(((0, n * pitch), (wide, n * pitch)), thread, WHITE)
    return panel


def broken_thread(numbers: Numbers) -> Panel:
    """Open mesh from above, a thread broken in it."""
    count, thread = numbers["mesh-count"], numbers["thread-diameter"]
    pitch = mesh.pitch(count)
    panel = Panel(10 * pitch, 7.5 * pitch, "µm")
    broken = 4 if numbers["broken"] else -1
    weave(panel, count, thread, BLACK, broken)
    if broken > 0:
        at = mesh.opening(count, thread) + thread / 2 + broken * pitch
        for ends, way in (((0.0, 2.4), 1), ((7.5, 5.3), -1)):
            begin, stop = ends[0] * pitch, ends[1] * pitch
            curl = (at + 0.35 * way * pitch, stop + 0.25 * way * pitch)
            points = ((at, begin), (at, stop - 0.6 * way * pitch), (at, stop), curl)
            panel.stroke(points, thread, BLACK)
    return panel


def voids(numbers: Numbers) -> Panel:
    """A printed patch as its openings laid it down; some of them are dried shut."""
    count, thread = numbers["mesh-count"], numbers["thread-diameter"]
    pitch, opening = mesh.pitch(count), mesh.opening(count, thread)
    panel = Panel(24 * pitch, 18 * pitch, "µm")
    rng, flow = chance(3), (pitch - opening) / 2 + 0.02 * pitch
    places = [(rng.uniform(4, 20), rng.uniform(3, 15)) for _ in range(4)]
    for i in range(2, 22):
        for j in range(2, 16):
            near = min(hypot(i - a, (j - b) * 1.3) for a, b in places)
            shut = near < numbers["dried"] / 100 * 9 * rng.uniform(0.7, 1.1)
            if not shut:
                size = opening + 2 * flow
                panel.box(i * pitch - flow, j * pitch - flow, size, size, BLACK)
    return panel
