"""Pictures as SVG: black on white, to be read in grey and hung up in a shop.

The only module that imports drawsvg; it is imported when an SVG is asked for.
"""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Sequence
from typing import Any

import drawsvg  # type: ignore[import-untyped]

from diagnose.drawings.pictures import (
    Map,
    Picture,
    Profile,
    Scale,
    Spot,
    Strip,
    word_of,
)
from diagnose.language import tr
from diagnose.records import Caution
from diagnose.screens import printable
from diagnose.workings import Worked, figure

WIDTH = 840
MARGIN = 50
LEFT, RIGHT = MARGIN, WIDTH - MARGIN
LONG = RIGHT - LEFT

EDGE = 4
"""What is left around a drawing that stands alone."""

TITLE, LARGE, BODY, SMALL = 26, 19, 17, 15
"""Sizes of letters."""

LETTER, BOLD_LETTER = 0.57, 0.66
"""A letter is about so wide, in its size; fonts differ, so it is a wide one."""

BLACK, PALE, WHITE = "#000000", "#d9d9d9", "#ffffff"

PICTURE_GAP = 34

DOTTED = 40
"""So many heights of a profile are still drawn as dots."""


def wide_of(text: str, size: float, bold: bool = False) -> float:
    """About how wide a text is."""
    return len(text) * size * (BOLD_LETTER if bold else LETTER)


class Sheet:
    """What is drawn so far, and how far down it reaches."""

    def __init__(self) -> None:
        self.parts: list[Any] = []
        self.y = 0.0

    def text(
        self,
        text: str,
        x: float,
        y: float,
        size: float = BODY,
        anchor: str = "start",
        bold: bool = False,
    ) -> None:
        self.parts.append(
            drawsvg.Text(
                printable(text),
                size,
                x,
                y,
                text_anchor=anchor,
                font_weight="bold" if bold else "normal",
                fill=BLACK,
            )
        )

    def block(self, text: str, size: float = BODY, bold: bool = False) -> None:
        """A text wrapped over the whole width, below what is there."""
        most = int(LONG / wide_of("x", size, bold))
        for one in textwrap.wrap(printable(text), most):
            self.y += size * 1.35
            self.text(one, LEFT, self.y, size, bold=bold)

    def warning(self, caution: Caution) -> None:
        """What can hurt someone, behind a thick bar, below what is there."""
        self.y += 14
        top = self.y
        name = f"! {caution.name[:1].upper()}{caution.name[1:]}."
        text = printable(f"{caution.danger} {caution.do} {caution.ask}")
        most = int((LONG - 22) / wide_of("x", SMALL))
        for n, one in enumerate([name, *textwrap.wrap(text, most)]):
            self.y += SMALL * 1.35
            self.text(one, LEFT + 20, self.y, SMALL, bold=n == 0)
        self.line(LEFT + 4, top, LEFT + 4, self.y + 5, thick=7)

    def line(
        self,
        x: float,
        y: float,
        to_x: float,
        to_y: float,
        thick: float = 1.5,
        **more: Any,
    ) -> None:
        self.parts.append(
            drawsvg.Line(x, y, to_x, to_y, stroke=BLACK, stroke_width=thick, **more)
        )

    def box(
        self,
        x: float,
        y: float,
        wide: float,
        high: float,
        fill: str = WHITE,
        thick: float = 1.5,
        **more: Any,
    ) -> None:
        self.parts.append(
            drawsvg.Rectangle(
                x, y, wide, high, fill=fill, stroke=BLACK, stroke_width=thick, **more
            )
        )

    def shape(
        self, *points: float, fill: str = BLACK, thick: float = 2, **more: Any
    ) -> None:
        """A closed shape of x, y, x, y …"""
        self.parts.append(
            drawsvg.Lines(
                *points,
                close=True,
                fill=fill,
                stroke=BLACK,
                stroke_width=thick,
                stroke_linejoin="round",
                **more,
            )
        )

    def hatched(self, x: float, y: float, wide: float, high: float) -> None:
        """A box of slanting lines: what lies outside."""
        self.box(x, y, wide, high, thick=1.5)
        step, start = 9.0, x - high
        while start < x + wide:
            first, last = max(start, x), min(start + high, x + wide)
            if first < last:
                tops = (y + high - (first - start), y + high - (last - start))
                self.line(first, tops[0], last, tops[1], thick=0.7, stroke_opacity=0.6)
            start += step

    def diamond(self, x: float, y: float, size: float, fill: str, **more: Any) -> None:
        self.shape(
            x, y - size, x + size, y, x, y + size, x - size, y, fill=fill, **more
        )

    def pointer(self, x: float, y: float, size: float, way: int) -> None:
        """A triangle whose tip is at x, y; way 1 points down, -1 up."""
        up = y - way * size * 1.4
        self.shape(x, y, x - size, up, x + size, up)


def sheet_of(worked: Worked, pictures: Sequence[Picture]) -> str:
    """A whole SVG: title, pictures, what it means; the same in words for who can't see.

    Args:
        worked: whose result is drawn.
        pictures: what is drawn of it.
    """
    name = worked.working.name
    title = name[:1].upper() + name[1:]
    sheet = Sheet()
    sheet.y = MARGIN
    sheet.block(title, TITLE, bold=True)
    sheet.y += 14
    sheet.line(LEFT, sheet.y, RIGHT, sheet.y, thick=4)
    for picture in pictures:
        sheet.y += PICTURE_GAP
        _draw(sheet, picture)
    sheet.y += PICTURE_GAP
    sheet.line(LEFT, sheet.y, RIGHT, sheet.y, thick=1.5)
    sheet.y += 8
    sheet.block(worked.means())
    if worked.check_next():
        sheet.y += 8
        sheet.block(f"Next: {worked.check_next()}")
    high = round(sheet.y + MARGIN)
    words = [picture.says() for picture in pictures]
    words += [text for text in (worked.means(), worked.check_next()) if text]
    return written(sheet, high, title, " ".join(words))


def scale_alone(scale: Scale, says: str) -> str:
    """A scale by itself, for a page that names it and says what it means.

    Args:
        scale: what is drawn.
        says: what it means, which is said beside it to who can't see it.
    """
    sheet = Sheet()
    sheet.y = -6.0
    _scale(sheet, scale)
    words = f"{scale.says()} {says}"
    return written(sheet, round(sheet.y) + 6, scale.name, words, alone=True)


def written(
    sheet: Sheet, high: int, title: str, words: str, *, alone: bool = False
) -> str:
    """The SVG of all that was drawn.

    Args:
        sheet: what was drawn.
        high: how far down it reaches.
        title: its name.
        words: the whole of it in words, for who can't see it.
        alone: it goes into a page that has its own margins; else it has them, and the
            marks of a film at its corners.
    """

    class Described(drawsvg.Title):  # type: ignore[misc]
        TAG_NAME = "desc"

    left, wide = (LEFT - EDGE, LONG + 2 * EDGE) if alone else (0, WIDTH)
    drawing = drawsvg.Drawing(
        wide,
        high,
        origin=(left, 0),
        role="img",
        aria_labelledby="title words",
        font_family="sans-serif",
    )
    drawing.append(drawsvg.Title(printable(title), id="title"))
    drawing.append(Described(printable(words), id="words"))
    drawing.append(drawsvg.Rectangle(left, 0, wide, high, fill=WHITE))
    for x in () if alone else (MARGIN / 2, WIDTH - MARGIN / 2):
        for y in (MARGIN / 2, high - MARGIN / 2):
            for part in _register_mark(x, y):
                drawing.append(part)
    for part in sheet.parts:
        drawing.append(part)
    return f"{drawing.as_svg()}\n"


def _register_mark(x: float, y: float) -> list[Any]:
    """A circle and a cross, as at the corners of a film."""
    ink = {"stroke": BLACK, "stroke_width": 1}
    return [
        drawsvg.Circle(x, y, 6, fill="none", **ink),
        drawsvg.Line(x - 11, y, x + 11, y, **ink),
        drawsvg.Line(x, y - 11, x, y + 11, **ink),
    ]


def _draw(sheet: Sheet, picture: Picture) -> None:
    if isinstance(picture, Scale):
        _name(sheet, picture.name, picture.unit)
        _scale(sheet, picture)
    elif isinstance(picture, Map):
        _map(sheet, picture)
    elif isinstance(picture, Strip):
        _strip(sheet, picture)
    else:
        _profile(sheet, picture)


def _name(sheet: Sheet, name: str, unit: str) -> None:
    sheet.block(f"{name} [{unit}]" if unit else name, BODY, bold=True)


def _anchored(
    sheet: Sheet, text: str, x: float, y: float, size: float, bold: bool = False
) -> None:
    """A text about x, pushed in where it would leave the sheet."""
    half = wide_of(text, size, bold) / 2
    sheet.text(
        text, min(max(x, LEFT + half), RIGHT - half), y, size, "middle", bold=bold
    )


def _scale(sheet: Sheet, scale: Scale) -> None:
    x = scale.marker(lambda place: LEFT + place * LONG, 3.0)
    label, marker = sheet.y + 34, sheet.y + 58
    track, thick = sheet.y + 84, 30
    _anchored(sheet, scale.label, x, label, 20, bold=True)
    for name, begin, end in scale.parts():
        left, wide = LEFT + begin * LONG, (end - begin) * LONG
        if name == "window":
            sheet.box(left, track, wide, thick, thick=4, class_="window")
        else:
            sheet.hatched(left, track + 6, wide, thick - 12)
    for name, begin, end in scale.parts():
        middle, bold = LEFT + (begin + end) / 2 * LONG, name == "window"
        if (end - begin) * LONG > wide_of(tr(name), SMALL, bold) + 40:
            sheet.text(tr(name), middle, track + thick + 20, SMALL, "middle", bold=bold)
    ends = [LEFT + scale.at(one) * LONG for one in scale.reach or ()]
    if scale.reach is not None and ends[0] < ends[1]:
        sheet.line(min(ends[0], x), marker, max(ends[1], x), marker, thick=3)
        for end, off in (
            (ends[0], scale.reach[0] < scale.left),
            (ends[1], scale.reach[1] > scale.right),
        ):
            if not off:
                sheet.line(end, marker - 8, end, marker + 8, thick=3)
            else:
                way = 9 if end < WIDTH / 2 else -9
                sheet.shape(end, marker, end + way, marker - 6, end + way, marker + 6)
    sheet.line(x, marker, x, track + thick, thick=2)
    if scale.off:
        back = x - 14 * scale.off
        sheet.shape(x, marker, back, marker - 9, back, marker + 9, class_="value")
    else:
        fill = WHITE if scale.side == "edge" else BLACK
        sheet.diamond(x, marker, 9, fill, class_="value")
    numbers = track + thick + 20
    taken: list[tuple[float, float]] = []
    for number in scale.numbers():
        text, at = figure(number), LEFT + scale.at(number) * LONG
        half = wide_of(text, BODY) / 2 + 4
        place = min(max(at, LEFT + half), RIGHT - half)
        if all(abs(place - one) > half + other for one, other in taken):
            taken.append((place, half))
            sheet.text(text, place, numbers, BODY, "middle")
            edge = number in (scale.window.low, scale.window.high)
            if not edge:
                sheet.line(at, track, at, track + thick, thick=1.5)
    sheet.y = numbers + 4


def _map(sheet: Sheet, picture: Map) -> None:
    _name(sheet, picture.name, picture.unit)
    rounds = max(len(spot.values) for spot in picture.spots)
    placed = any(spot.place for spot in picture.spots)
    high = (36 + 50 * rounds) + (30 if placed else 0)
    top, frame = sheet.y + 16, 14
    tall = high * picture.rows + 2 * frame + 16
    sheet.box(LEFT, top, LONG, tall, fill=PALE, thick=2)
    sheet.box(LEFT + frame, top + frame, LONG - 2 * frame, tall - 2 * frame, thick=2)
    cell = (LONG - 2 * frame) / picture.columns
    for spot in picture.spots:
        x = LEFT + frame + spot.column * cell + 44 + spot.column * (cell - 190) / 2
        _spot(sheet, spot, x, top + frame + 8 + spot.row * high, high)
    sheet.y = top + tall
    for note in picture.notes:
        sheet.block(note, SMALL)


def _spot(sheet: Sheet, spot: Spot, x: float, y: float, high: float) -> None:
    count = len(spot.values)
    first = y + (high - 50 * count) / 2 + 6
    sheet.text(f"{spot.number}.", x - 6, first + 18, SMALL, "end")
    for n, (value, mark) in enumerate(zip(spot.values, spot.marks, strict=True)):
        middle = first + 50 * n + 12
        _mark(sheet, mark, x + 12, middle)
        sheet.text(figure(value), x + 34, middle + 9, TITLE, bold=True)
        if mark:
            sheet.text(word_of(mark), x + 34, middle + 27, SMALL)


def _mark(sheet: Sheet, mark: str, x: float, y: float) -> None:
    """A sign for where a value lies; the word stands beside it."""
    if mark in ("below", "lowest"):
        sheet.pointer(x, y + 9, 11, 1)
    elif mark in ("above", "highest"):
        sheet.pointer(x, y - 9, 11, -1)
    elif mark == "edge":
        sheet.diamond(x, y, 11, WHITE)
    else:
        sheet.parts.append(drawsvg.Circle(x, y, 9, fill=BLACK))


def _strip(sheet: Sheet, strip: Strip) -> None:
    title = tr(
        "step wedge of {count} steps, and the stencil under it", count=strip.steps
    )
    _name(sheet, title, "")
    lead = 72
    cell = (LONG - lead) / strip.steps
    start = LEFT + lead
    wanted, wedge = sheet.y + 34, sheet.y + 76
    stencil, held = wedge + 78, wedge + 146
    size = SMALL if cell > 26 else 11
    for text, y in (
        (tr("step"), wedge - 8),
        (tr("wedge"), wedge + 33),
        (tr("stencil"), stencil + 27),
    ):
        sheet.text(text, LEFT, y, SMALL)
    for step in range(strip.steps, 0, -1):
        x = start + (strip.steps - step) * cell
        sheet.text(str(step), x + cell / 2, wedge - 8, size, "middle")
        level = round(255 * (1 - strip.dark(step)))
        sheet.box(
            x, wedge, cell, 54, fill=f"#{level:02x}{level:02x}{level:02x}", thick=1
        )
        holds = strip.holds(step)
        if holds == 1:
            sheet.box(x + 1, stencil, cell - 2, 44, fill=BLACK, thick=1)
        elif holds:
            sheet.hatched(x + 1, stencil, cell - 2, 44)
        else:
            sheet.box(x + 1, stencil, cell - 2, 44, thick=0.8, stroke_dasharray="3 4")
    sheet.text(tr("dark"), start, wedge + 70, SMALL)
    sheet.text(tr("clear"), RIGHT, wedge + 70, SMALL, "end")
    for one, y, way, name in (
        (strip.wanted, wedge - 28, 1, tr("wanted")),
        (strip.held, stencil + 50, -1, tr("held")),
    ):
        x = start + strip.at(one) * strip.steps * cell
        sheet.pointer(x, y, 9, way)
        label = f"{name}: {figure(one)}"
        at = wanted if way > 0 else held
        if x > start + 120:
            sheet.text(label, x - 16, at, 20, "end", bold=True)
        else:
            sheet.text(label, x + 16, at, 20, bold=True)
    y = held + 32
    key: list[tuple[str, Callable[[float], None]]] = [
        (tr("holds"), lambda x: sheet.box(x, y - 13, 24, 16, fill=BLACK, thick=1)),
        (
            tr("washed away"),
            lambda x: sheet.box(x, y - 13, 24, 16, thick=0.8, stroke_dasharray="3 4"),
        ),
    ]
    if any(0 < strip.holds(step) < 1 for step in range(1, strip.steps + 1)):
        text = tr("holds in part")
        key.append((text, lambda x: sheet.hatched(x, y - 13, 24, 16)))
    for n, (text, draw) in enumerate(key):
        draw(start + 180 * n)
        sheet.text(text, start + 180 * n + 34, y, SMALL)
    sheet.y = y


def _profile(sheet: Sheet, profile: Profile) -> None:
    _name(sheet, profile.name, profile.unit)
    heights = profile.heights()
    low, high = min(heights), max(heights)
    lead, tall = 64, 230
    start, top = LEFT + lead, sheet.y + 22
    across = (LONG - lead) / len(heights)

    def place(height: float) -> float:
        part = (height - low) / (high - low) if high > low else 0.5
        return top + 14 + (1 - part) * (tall - 44)

    points: list[float] = []
    for n, height in enumerate(heights):
        points += [start + (n + 0.5) * across, place(height)]
    ground = top + tall
    sheet.box(start, top, LONG - lead, tall, thick=1.5)
    sheet.parts.append(
        drawsvg.Lines(
            *points,
            points[-2],
            ground,
            points[0],
            ground,
            close=True,
            fill=PALE,
            stroke="none",
        )
    )
    sheet.parts.append(
        drawsvg.Lines(
            *points,
            fill="none",
            stroke=BLACK,
            stroke_width=2.5,
            stroke_linejoin="round",
        )
    )
    if len(heights) <= DOTTED:
        for x, y in zip(points[::2], points[1::2], strict=True):
            sheet.parts.append(drawsvg.Circle(x, y, 4, fill=BLACK))
    for number in dict.fromkeys((high, low)):
        sheet.text(figure(number), start - 12, place(number) + 6, BODY, "end")
        sheet.line(start - 7, place(number), start, place(number))
    done = 0
    swings = profile.swings()
    for n, piece in enumerate(profile.pieces):
        left = start + done * across
        done += len(piece)
        right = start + done * across
        if n:
            sheet.line(left, top, left, ground + 40, thick=1.5, stroke_dasharray="6 5")
        _swing(sheet, left, right, place(max(piece)), place(min(piece)))
        middle = (left + right) / 2
        sheet.text(figure(swings[n]), middle, ground + 26, 20, "middle", bold=True)
    sheet.y = ground + 40
    sheet.block(
        tr(
            "Under each of the {count} sampling lengths its height from the deepest "
            "valley to the highest peak, in {unit}; on the mean {mean}.",
            count=len(swings),
            unit=profile.unit,
            mean=figure(profile.mean, profile.unit),
        ),
        SMALL,
    )


def _swing(sheet: Sheet, left: float, right: float, peak: float, valley: float) -> None:
    """The height of one length: a line at its peak and its valley, an arrow between."""
    for y in (peak, valley):
        sheet.line(left + 5, y, right - 5, y, thick=1, stroke_dasharray="2 4")
    x = right - 12
    sheet.line(x, peak, x, valley, thick=1.5)
    if valley - peak > 16:
        sheet.shape(x, peak, x - 4, peak + 8, x + 4, peak + 8, thick=0.5)
        sheet.shape(x, valley, x - 4, valley - 8, x + 4, valley - 8, thick=0.5)
