"""A chart of the knowledge as SVG: what leads to it above, what it leads to below."""

from __future__ import annotations

import textwrap

from diagnose.charts import Chart, Node
from diagnose.drawings import svg
from diagnose.language import tr

STEP = 26
"""How far a branch is set in."""

THICKNESS = (5.0, 4.0, 3.0, 2.0, 1.2)
STRENGTHS = ("almost always", "usually", "often", "sometimes", "rarely")


def svg_of(chart: Chart) -> str:
    """The whole SVG; a thicker branch is a stronger link, which is also written."""
    sheet = svg.Sheet()
    sheet.y = svg.MARGIN
    sheet.block(chart.name[:1].upper() + chart.name[1:], svg.TITLE, bold=True)
    sheet.y += 14
    sheet.line(svg.LEFT, sheet.y, svg.RIGHT, sheet.y, thick=4)
    for title, nodes in (
        (tr("What leads to it"), chart.back),
        (tr("What it leads to"), chart.on),
    ):
        if nodes:
            sheet.y += 18
            sheet.block(title, svg.LARGE, bold=True)
            sheet.y += 4
            _branches(sheet, nodes, svg.LEFT + 8)
    for one in chart.cautions:
        sheet.warning(one)
    high = round(sheet.y + svg.MARGIN)
    return svg.written(sheet, high, chart.name, chart.words())


def _branches(sheet: svg.Sheet, nodes: tuple[Node, ...], x: float) -> None:
    start, end = sheet.y + 5, sheet.y
    for node in nodes:
        more = tr("; see above") if node.again else ""
        text = f"{node.name} ({node.how_often()}{more})"
        most = int((svg.RIGHT - x - STEP) / (svg.SMALL * svg.LETTER))
        sheet.y += 7
        for row, one in enumerate(textwrap.wrap(text, most)):
            sheet.y += svg.SMALL * 1.25
            sheet.text(one, x + STEP, sheet.y, svg.SMALL)
            if row == 0:
                end = sheet.y - 5
                word = node.strength.partition(":")[0]
                known = word in STRENGTHS
                thick = THICKNESS[STRENGTHS.index(word)] if known else 2.0
                sheet.line(x, end, x + STEP - 6, end, thick=thick)
        _branches(sheet, node.next, x + STEP + 8)
    sheet.line(x, start, x, end, thick=1.2)
