"""The picture of a finding: found, given its numbers, shown, written as SVG."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from rich.console import Console
from rich.text import Text

from diagnose.drawings.faults.book import drawn
from diagnose.errors import AnswerError, nearest, quoted
from diagnose.language import mark, tr
from diagnose.readings import read
from diagnose.records import Caution, Drawn, Finding, Input, Knowledge
from diagnose.screens import line, printable, show_caution
from diagnose.sheets import write_new
from diagnose.workings import figure

if TYPE_CHECKING:
    from diagnose.drawings.faults.scene import Panel

GOOD, BAD = mark("as it should be"), mark("the fault")


DRAWN = ("black", "mid", "white")
"""The tones of a picture, as its record names them."""


@dataclass(frozen=True, slots=True)
class Pictured:
    """A finding's picture: the good, the bad, and all its words."""

    finding: Finding
    record: Drawn
    good: Panel
    bad: Panel
    good_says: str
    bad_says: str
    with_numbers: str
    cautions: tuple[Caution, ...]
    file: Path | None

    def title(self) -> str:
        return self.finding.name[:1].upper() + self.finding.name[1:]

    def words(self) -> str:
        """The whole picture in words."""
        key = "; ".join(f"{tone}: {says}" for tone, says in self.tones())
        care = "".join(
            tr(
                " Take care, {name}: {says}",
                name=one.name,
                says=f"{one.danger} {one.do} {one.ask}",
            )
            for one in self.cautions
        )
        return tr(
            "Left, as it should be: {good_says} Right, the fault: {bad_says} {how} "
            "{with_numbers} In the picture {key}.{care}",
            good_says=self.good_says,
            bad_says=self.bad_says,
            how=self.finding.how,
            with_numbers=self.with_numbers,
            key=key,
            care=care,
        )

    def tones(self) -> list[tuple[str, str]]:
        """Each tone by its name, and what it stands for."""
        names = {"black": tr("black"), "mid": tr("grey"), "white": tr("white")}
        return [(names[tone], says) for tone, says in self.labels()]

    def labels(self) -> list[tuple[str, str]]:
        """Each tone that has one, and what it stands for."""
        labels = self.record.labels
        return [(tone, labels[tone]) for tone in DRAWN if tone in labels]


def pictured(knowledge: Knowledge, id: str, words: Sequence[str] = ()) -> Pictured:
    """The picture of a finding, with numbers and a file as they were written.

    Raises:
        AnswerError: there is no such finding or picture, or a number can't be.
        CalculationError: no mesh or light can be so.
    """
    with_picture = [f.id for f in knowledge.recorded().values() if f.pictured]
    finding = knowledge.findings.get(id)
    if finding is None:
        hint = nearest(id, knowledge.recorded())
        raise AnswerError(f"There is no finding {quoted(id)}{hint}.")
    record = knowledge.pictures.get(finding.pictured or "")
    if record is None:
        says = f"There is no picture of {quoted(id)}{nearest(id, with_picture)}."
        raise AnswerError(f"{says} There is one of {len(with_picture)} other findings.")
    inputs = {one.id: one for one in record.numbers}
    given: dict[str, float] = {}
    file: Path | None = None
    for word in words:
        name, equals, value = word.partition("=")
        if not equals and file is None and word.lower().endswith(".svg"):
            file = Path(word)
        elif not equals:
            raise AnswerError(
                f"{quoted(word)} is neither a file that ends in .svg nor a number as "
                f"name=value; numbers: {', '.join(inputs)}."
            )
        elif name not in inputs:
            hint = nearest(name, inputs)
            listed = ", ".join(inputs)
            raise AnswerError(
                f"The picture has no number {quoted(name)}{hint}; it has: {listed}."
            )
        else:
            given[name] = _number(inputs[name], value)
    usual = {one.id: float(one.usual or 0) for one in record.numbers}
    bad = {**usual, **finding.pictured_with, **given}
    good = {**bad, **record.sound}
    told = "; ".join(_told(one, bad[one.id], good[one.id]) for one in record.numbers)
    return Pictured(
        finding,
        record,
        drawn(record.id, good),
        drawn(record.id, bad),
        finding.says_no or record.good or GOOD,
        finding.says_yes or record.bad or BAD,
        tr("Drawn with {told}.", told=told),
        tuple(knowledge.cautions[one] for one in finding.cautions),
        file,
    )


def _number(one: Input, value: str) -> float:
    usual = figure(one.usual, one.unit)
    return read(value, one, shown=f"{one.id}={usual}").value


def _told(one: Input, bad: float, good: float) -> str:
    if bad == good:
        return f"{one.name} {figure(bad, one.unit)}"
    return tr(
        "{name} {good} (left) and {bad} (right)",
        name=one.name,
        good=figure(good),
        bad=figure(bad, one.unit),
    )


def write_svg(shown: Pictured, path: Path) -> None:
    """Write the picture into a new SVG file.

    Raises:
        FolderError: there is such a file already, or it can't be written.
    """
    from diagnose.drawings.faults.sheet import svg_of

    write_new(path, svg_of(shown))


def show(console: Console, shown: Pictured) -> None:
    """Print the picture in characters, and all that it says in words."""
    from diagnose.drawings.faults.characters import lines_of

    line(console, shown.title(), style="bold")
    width = min(console.width, 80)
    found = lines_of(shown.good, shown.bad, tr(GOOD), tr(BAD), width, plain=False)
    try:
        "".join(found).encode(console.encoding)
    except UnicodeEncodeError:
        found = lines_of(shown.good, shown.bad, tr(GOOD), tr(BAD), width, plain=True)
    for one in found:
        console.print(Text(printable(one)), soft_wrap=True)
    line(console, tr("Left, as it should be: {good_says}", good_says=shown.good_says))
    line(console, tr("Right, the fault: {bad_says}", bad_says=shown.bad_says))
    for tone, says in shown.tones():
        line(console, f"{tone}: {says}", 2)
    line(console, shown.with_numbers)
    for caution in shown.cautions:
        show_caution(console, caution)
    if shown.file is not None:
        line(console, tr("Written to {file}.", file=shown.file))
    else:
        id = shown.finding.id
        says = tr("As SVG: diagnose picture {id} {id}.svg", id=id)
        line(console, says)
