"""A picture of a fault as SVG: the good beside the bad, each with a scale bar."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

import drawsvg  # type: ignore[import-untyped]

from diagnose.drawings import svg
from diagnose.drawings.faults.scene import (
    BLACK,
    MID,
    WHITE,
    Area,
    Disc,
    Note,
    Panel,
    Stroke,
)
from diagnose.language import tr
from diagnose.screens import printable

if TYPE_CHECKING:
    from diagnose.fault_pictures import Pictured

TONES = {WHITE: "#ffffff", MID: "#757575", BLACK: "#000000"}
"""Grey that differs from white by 4.6:1 and from black by 4.5:1."""

GAP = 30
EACH = (svg.LONG - GAP) / 2


def svg_of(shown: Pictured) -> str:
    """The whole SVG, with its title and all its words."""
    from diagnose.fault_pictures import BAD, GOOD

    sheet = svg.Sheet()
    sheet.y = svg.MARGIN
    sheet.block(shown.title(), svg.TITLE, bold=True)
    sheet.y += 14
    sheet.line(svg.LEFT, sheet.y, svg.RIGHT, sheet.y, thick=4)
    top, ends = sheet.y, []
    for n, (name, panel, says) in enumerate(
        (
            (tr(GOOD), shown.good, shown.good_says),
            (tr(BAD), shown.bad, shown.bad_says),
        )
    ):
        x = svg.LEFT + n * (EACH + GAP)
        sheet.text(name, x, top + 30, svg.LARGE, bold=True)
        y = _panel(sheet, panel, x, top + 44, f"p{n}", shown.record.labels)
        for one in textwrap.wrap(printable(says), int(EACH / (svg.BODY * svg.LETTER))):
            y += svg.BODY * 1.35
            sheet.text(one, x, y)
        ends.append(y)
    sheet.y = max(ends) + 20
    sheet.line(svg.LEFT, sheet.y, svg.RIGHT, sheet.y)
    for tone, says in shown.labels():
        sheet.y += 26
        fill = TONES[tone]
        sheet.box(svg.LEFT, sheet.y - 14, 26, 17, fill=fill, thick=1)
        sheet.text(says, svg.LEFT + 38, sheet.y, svg.SMALL)
    sheet.y += 8
    sheet.block(shown.with_numbers, svg.SMALL)
    for caution in shown.cautions:
        sheet.warning(caution)
    high = round(sheet.y + svg.MARGIN)
    return svg.written(sheet, high, shown.title(), shown.words())


def pair_of(shown: Pictured) -> str:
    """Both panels alone, for a page that says the rest beside them."""
    from diagnose.fault_pictures import BAD, GOOD

    sheet = svg.Sheet()
    ends = []
    for n, (name, panel) in enumerate(((tr(GOOD), shown.good), (tr(BAD), shown.bad))):
        x = svg.LEFT + n * (EACH + GAP)
        sheet.text(name, x, 20, svg.LARGE, bold=True)
        ends.append(_panel(sheet, panel, x, 32, f"p{n}", shown.record.labels))
    high = round(max(ends)) + 4
    return svg.written(sheet, high, shown.title(), shown.words(), alone=True)


def _panel(
    sheet: svg.Sheet, panel: Panel, x: float, y: float, id: str, labels: dict[str, str]
) -> float:
    """Draw a panel and its scale bar; where it ends."""
    scale = EACH / panel.wide
    high = panel.high * scale
    clip = drawsvg.ClipPath(id=id)
    clip.append(drawsvg.Rectangle(x, y, EACH, high))
    group = drawsvg.Group(clip_path=clip)
    ground = TONES[panel.ground]
    group.append(drawsvg.Rectangle(x, y, EACH, high, fill=ground))
    for shape in panel.shapes:
        if not isinstance(shape, Note):
            group.append(_part(shape, x, y, scale))
    sheet.parts.append(group)
    for shape in panel.shapes:
        if isinstance(shape, Note):
            _note(sheet, shape, x, y, scale, labels)
    sheet.box(x, y, EACH, high, fill="none", thick=2)
    bar, at = panel.bar() * scale, y + high + 20
    sheet.line(x, at, x + bar, at, thick=4, class_="scale-bar")
    for end in (x + 1, x + bar - 1):
        sheet.line(end, at - 7, end, at + 7, thick=2)
    sheet.text(f"{panel.bar():g} {panel.unit}", x + bar + 12, at + 6, svg.SMALL)
    return at + 10


def _note(
    sheet: svg.Sheet,
    note: Note,
    x: float,
    y: float,
    scale: float,
    labels: dict[str, str],
) -> None:
    """A word on a white patch, so that it is read on any ground."""
    name = labels.get(note.key, note.key)
    text = ": ".join(part for part in (name, note.text) if part)
    left, foot = x + note.x * scale, y + note.y * scale
    wide = svg.wide_of(text, svg.SMALL)
    sheet.parts.append(
        drawsvg.Rectangle(left - 3, foot - 14, wide + 12, 18, fill=TONES[WHITE])
    )
    sheet.text(text, left, foot, svg.SMALL)


def _part(shape: Area | Disc | Stroke, x: float, y: float, scale: float) -> Any:
    def place(value: float, start: float) -> float:
        return round(start + value * scale, 2)

    tone = TONES[shape.tone]
    if isinstance(shape, Disc):
        line = {"stroke": TONES[BLACK], "stroke_width": 1.5} if shape.outlined else {}
        radius = round(shape.radius * scale, 2)
        return drawsvg.Circle(
            place(shape.x, x), place(shape.y, y), radius, fill=tone, **line
        )
    points = [v for a, b in shape.points for v in (place(a, x), place(b, y))]
    if isinstance(shape, Area):
        line = {"stroke": TONES[BLACK], "stroke_width": 1.5} if shape.outlined else {}
        return drawsvg.Lines(*points, close=True, fill=tone, **line)
    thick = round(shape.thick * scale, 2)
    more = {"stroke_dasharray": f"{4 * thick:g} {3 * thick:g}"} if shape.dashed else {}
    return drawsvg.Lines(
        *points,
        fill="none",
        stroke=tone,
        stroke_width=thick,
        stroke_linejoin="round",
        **more,
    )
