"""What `diagnose reckon meshes` and `diagnose reckon lights` print: two tables."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from textwrap import wrap
from typing import Any

from rich.console import Console

from diagnose.calculations import mesh
from diagnose.language import mark, tr
from diagnose.records import Knowledge, Light, Mesh, Record
from diagnose.screens import bullet, cited_as, heading, line

AGREE: Mapping[str, float] = {
    "opening": 2.0,
    "open_area": 1.1,
    "fabric_thickness": 2.0,
    "ink_volume": 1.0,
}
"""A printed figure this near to the one worked out agrees with it."""

UNITS: Mapping[str, tuple[str, str]] = {
    "opening": ("µm", "µm"),
    "open_area": ("%", mark("points")),
    "fabric_thickness": ("µm", "µm"),
    "ink_volume": ("cm³/m²", "cm³/m²"),
}
"""The unit of a figure, and that of the difference of two."""

NAMES = {
    "opening": mark("the opening"),
    "open_area": mark("the open area"),
    "fabric_thickness": mark("the thickness"),
    "ink_volume": mark("the ink volume"),
}

WORKED_OUT = "~"
"""Stands before a figure that nobody printed."""


@dataclass(frozen=True, slots=True)
class Difference:
    """A published figure that is not what count and thread give."""

    mesh: str
    what: str
    printed: float
    worked_out: float

    def __str__(self) -> str:
        """'190/cm, 31 µm, twill: the opening is printed as 16 µm, …'."""
        unit, apart = UNITS[self.what]
        away = abs(self.printed - self.worked_out)
        says = (
            tr(
                "{mesh}: {name} is printed as {printed}, {away} less than the "
                "{worked_out} that follow from count and thread."
            )
            if self.printed < self.worked_out
            else tr(
                "{mesh}: {name} is printed as {printed}, {away} more than the "
                "{worked_out} that follow from count and thread."
            )
        )
        return says.format(
            mesh=self.mesh,
            name=tr(NAMES[self.what]),
            printed=f"{self.printed:g} {unit}",
            away=f"{away:.2g} {tr(apart)}",
            worked_out=f"{self.worked_out:.3g} {unit}",
        )


def worked_out(cloth: Mesh) -> dict[str, float]:
    """The figures that count and thread give, by the names of the record.

    Raises:
        CalculationError: its threads would fill the mesh.
    """
    found = mesh.geometry(cloth.count, cloth.thread)
    return {name: getattr(found, name) for name in AGREE}


def differences(cloth: Mesh) -> list[Difference]:
    """Where the figures printed for a mesh and those worked out disagree."""
    return [
        Difference(named(cloth), name, printed, figure)
        for name, figure in worked_out(cloth).items()
        if (printed := getattr(cloth, name)) is not None
        and abs(printed - figure) > AGREE[name]
    ]


def named(cloth: Mesh) -> str:
    """'190/cm, 31 µm, twill'."""
    weave = "" if cloth.weave == "plain" else f", {cloth.weave}"
    return f"{cloth.count:g}/cm, {cloth.thread:g} µm{weave}"


class _Cited:
    """Sources, numbered in the order in which they are first cited."""

    def __init__(self) -> None:
        self.numbers: dict[str, int] = {}

    def marks(self, record: Record) -> str:
        """The numbers of a record's sources: '2, 5'."""
        for source in record.sources:
            self.numbers.setdefault(source, len(self.numbers) + 1)
        return ", ".join(str(self.numbers[source]) for source in record.sources)

    def show(self, console: Console, knowledge: Knowledge) -> None:
        """The list of them."""
        heading(console, tr("Sources"))
        for source, number in self.numbers.items():
            bullet(console, f"{number:>3}", cited_as(knowledge, source))


def _rows(console: Console, rows: Sequence[Sequence[str]]) -> None:
    """Columns side by side; the first is as wide as the others leave it."""
    wide = [max(map(len, column)) for column in zip(*rows, strict=True)]
    wide[0] = min(wide[0], max(console.width - sum(wide[1:]) - 2 * len(wide[1:]), 12))
    for first, *rest in rows:
        label, *more = wrap(first, wide[0]) or [""]
        cells = [f"{label:<{wide[0]}}"]
        cells += [f"{c:>{w}}" for c, w in zip(rest[:-1], wide[1:-1], strict=True)]
        line(console, "  ".join([*cells, rest[-1]]).rstrip())
        for label in more:
            line(console, label, 2)


def show_meshes(console: Console, knowledge: Knowledge) -> None:
    """Common meshes, what was printed of them or else follows, and the sources."""
    cited = _Cited()
    cloths = list(knowledge.meshes.values())
    line(console, tr("Common meshes"), style="bold")
    line(
        console,
        tr(
            "Count and thread are as sold, before weaving and stretching. A figure "
            "behind {sign} was not printed, and is worked out from them; the "
            "thickness, and so the ink, is then an estimate for plain cloth.",
            sign=WORKED_OUT,
        ),
    )
    line(console)
    rows: list[Sequence[str]] = [
        (
            *(tr("count"), "", tr("thread"), tr("opening"), tr("open"), tr("thick")),
            *(tr("ink"), tr("source")),
        ),
        ("/cm", tr("/inch"), "µm", "µm", "%", "µm", "cm³/m²", ""),
    ]
    for cloth in cloths:
        rows.append(
            (
                f"{cloth.count:g}" + (tr(" twill") if cloth.weave == "twill" else ""),
                f"{mesh.threads_per_inch(cloth.count):.0f}",
                f"{cloth.thread:g}",
                *_figures(cloth),
                cited.marks(cloth),
            )
        )
    _rows(console, rows)
    line(console)
    agree = ", ".join(
        tr(
            "{name} within {near}",
            name=tr(NAMES[name]).removeprefix("the "),
            near=f"{near:g} {UNITS[name][1]}",
        )
        for name, near in AGREE.items()
    )
    apart = [str(one) for cloth in cloths for one in differences(cloth)]
    but = tr(", but for these:") if apart else "."
    says = tr("Printed figures and those worked out agree ({agree})", agree=agree)
    line(console, says + but)
    for says in apart:
        bullet(console, "-", says, 2)
    cited.show(console, knowledge)


def _figures(cloth: Mesh) -> Iterable[str]:
    for name, figure in worked_out(cloth).items():
        printed = getattr(cloth, name)
        yield f"{WORKED_OUT}{figure:.0f}" if printed is None else f"{printed:g}"


def show_lights(console: Console, knowledge: Knowledge) -> None:
    """Lights of a screen room, how blue they are, and the sources."""
    cited = _Cited()
    line(console, tr("Lights of a screen room"), style="bold")
    line(
        console,
        tr(
            "How much of its power lies below 450 and below 500 nm, the light it makes "
            "of its power, and the blue in a lumen (below 450 nm), which is what "
            "hardens a coat."
        ),
    )
    line(console)
    rows: list[Sequence[str]] = [
        (tr("light"), "<450", "<500", "lm", tr("blue"), tr("from")),
        ("", "nm %", "nm %", "/W", "mW/lm", ""),
    ]
    for light in knowledge.lights.values():
        shares = (light.below_450, light.below_500, light.efficacy, light.blue_light)
        rows.append((light.name, *map(_plain, shares), cited.marks(light)))
    _rows(console, rows)
    line(console)
    for light in knowledge.lights.values():
        bullet(console, "-", f"{light.name}: {light.what}", 2)
    cited.show(console, knowledge)


def _plain(number: float) -> str:
    """A number to three figures, the tiniest not told apart."""
    return "<0.001" if 0 < number < 0.001 else f"{number:.3g}"


SHOWN = {"meshes": show_meshes, "lights": show_lights}
"""The tables, by the word that asks for them."""


def table_data(knowledge: Knowledge, name: str) -> list[dict[str, Any]]:
    """A table as plain data for JSON, what follows from the rest of it beside."""
    if name == "lights":
        return [_data(one) for one in knowledge.lights.values()]
    return [
        {
            **_data(one),
            "worked_out": worked_out(one),
            "differences": [str(found) for found in differences(one)],
        }
        for one in knowledge.meshes.values()
    ]


def _data(record: Mesh | Light) -> dict[str, Any]:
    return {name: getattr(record, name) for name in record.__struct_fields__}
