"""What leads to a record of the knowledge, and what it leads to, as a tree."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from rich.console import Console
from rich.text import Text

from diagnose.errors import AnswerError, nearest
from diagnose.explain import how_often
from diagnose.language import tr
from diagnose.records import Cause, Caution, Finding, Knowledge, State
from diagnose.rules import Link, all_links
from diagnose.screens import heading, line, printable, show_caution
from diagnose.sheets import write_new

DEEP = 3
"""So many arrows are followed to either side."""


@dataclass(frozen=True, slots=True)
class Node:
    """A record in the tree, how strongly it hangs on the one above; what follows."""

    id: str
    name: str
    strength: str
    next: tuple[Node, ...]
    again: bool = False

    def how_often(self) -> str:
        """The strength in the language in use, and the value that it is of."""
        word, sign, value = self.strength.partition(": ")
        return how_often(word) + sign + value


@dataclass(frozen=True, slots=True)
class Chart:
    """What leads to a record, and what it leads to."""

    id: str
    name: str
    back: tuple[Node, ...]
    on: tuple[Node, ...]
    cautions: tuple[Caution, ...] = ()
    """What can hurt someone who looks for it."""

    def words(self) -> str:
        """The nearest arrows of the chart in a sentence or two."""
        parts = [f"{self.name}."]
        for says, nodes in (
            (tr("Led to by"), self.back),
            (tr("Leads to"), self.on),
        ):
            if nodes:
                listed = "; ".join(f"{one.name} ({one.how_often()})" for one in nodes)
                parts.append(f"{says}: {listed}.")
        for one in self.cautions:
            says = f"{one.danger} {one.do} {one.ask}"
            care = tr(" Take care, {name}: {says}", name=one.name, says=says)
            parts.append(care.strip())
        return " ".join(parts)


def chart_of(knowledge: Knowledge, id: str) -> Chart:
    """The chart about a cause, state or finding.

    Raises:
        AnswerError: there is none with that id.
    """
    recorded: dict[str, Cause | State | Finding] = {
        **knowledge.causes,
        **knowledge.states,
        **knowledge.recorded(),
    }
    if id not in recorded:
        hint = nearest(id, recorded)
        raise AnswerError(f"There is no cause, state or finding {id!r}{hint}.")
    to: dict[str, list[Link]] = {}
    off: dict[str, list[Link]] = {}
    for one in all_links(knowledge).values():
        if one.target in recorded:
            to.setdefault(one.target, []).append(one)
            off.setdefault(one.owner, []).append(one)
    strengths = knowledge.scales.strengths

    def follow(at: str, links: dict[str, list[Link]], back: bool, deep: int,
               seen: set[str]) -> tuple[Node, ...]:  # fmt: skip
        found = []
        order = sorted(links.get(at, ()), key=lambda one: -strengths[one.strength])
        for one in order:
            end = one.owner if back else one.target
            value = "" if one.value in (None, "yes") else one.value or ""
            there = one.target if back else end
            if value:
                choices = {c.id: c.name for c in knowledge.findings[there].choices}
                value = f": {choices.get(value, value)}"
            name = recorded[end].name + ("" if back and value else value)
            strength = one.strength + (value if back else "")
            again = end in seen
            seen.add(end)
            more = (
                () if again or deep == 1 else follow(end, links, back, deep - 1, seen)
            )
            found.append(Node(end, name, strength, more, again and end in links))
        return tuple(found)

    back = follow(id, to, True, DEEP, {id})
    on = follow(id, off, False, DEEP, {id})
    about = recorded[id]
    ids = about.cautions if isinstance(about, Finding) else []
    cautions = tuple(knowledge.cautions[one] for one in ids)
    return Chart(id, about.name, back, on, cautions)


def show(console: Console, chart: Chart) -> None:
    """Print the chart as two trees."""
    line(console, f"{chart.name} ({chart.id})", style="bold")
    plain = not _has(console, "├└│─")
    for title, nodes in (
        (tr("What leads to it"), chart.back),
        (tr("What it leads to"), chart.on),
    ):
        if nodes:
            heading(console, title)
            _branches(console, nodes, "", plain)
    if chart.cautions:
        console.print()
    for caution in chart.cautions:
        show_caution(console, caution)


def _has(console: Console, signs: str) -> bool:
    try:
        signs.encode(console.encoding)
    except UnicodeEncodeError:
        return False
    return True


def _branches(
    console: Console, nodes: tuple[Node, ...], lead: str, plain: bool
) -> None:
    fork, last, bar = ("|- ", "`- ", "|  ") if plain else ("├─ ", "└─ ", "│  ")
    for n, node in enumerate(nodes):
        ends = n == len(nodes) - 1
        under = lead + ("   " if ends else bar)
        more = tr("; see above") if node.again else ""
        text = Text(printable(f"{node.name} ({node.how_often()}{more})"))
        width = max(min(console.width, 80) - len(under), 20)
        for row, part in enumerate(text.wrap(console, width)):
            start = lead + (last if ends else fork) if row == 0 else under
            console.print(Text(start) + part, soft_wrap=True)
        _branches(console, node.next, under, plain)


def write_svg(chart: Chart, path: Path) -> None:
    """Draw the chart into a new SVG file.

    Raises:
        FolderError: there is such a file already, or it can't be written.
    """
    from diagnose.drawings.charts import svg_of

    write_new(path, svg_of(chart))
