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
from diagnose.readings import read
from diagnose.records import Drawn, Finding, Input, Knowledge
from diagnose.screens import line, printable
from diagnose.sheets import write_new
from diagnose.workings import figure

if TYPE_CHECKING:
    from diagnose.drawings.faults.scene import Panel

GOOD, BAD = "as it should be", "the fault"


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
    file: Path | None

    def title(self) -> str:
        return self.finding.name[:1].upper() + self.finding.name[1:]

    def words(self) -> str:
        """The whole picture in words."""
        key = "; ".join(f"{tone}: {says}" for tone, says in self.tones())
        return (
            f"Left, {GOOD}: {self.good_says} Right, {BAD}: {self.bad_says} "
            f"{self.finding.how} {self.with_numbers} In the picture {key}."
        )

    def tones(self) -> list[tuple[str, str]]:
        labels = self.record.labels
        names = {"black": "black", "mid": "grey", "white": "white"}
        return [(names[tone], labels[tone]) for tone in names if tone in labels]


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
        f"Drawn with {told}.",
        file,
    )


def _number(one: Input, value: str) -> float:
    usual = figure(one.usual, one.unit)
    return read(value, one, shown=f"{one.id}={usual}").value


def _told(one: Input, bad: float, good: float) -> str:
    if bad == good:
        return f"{one.name} {figure(bad, one.unit)}"
    return f"{one.name} {figure(good)} (left) and {figure(bad, one.unit)} (right)"


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
    found = lines_of(shown.good, shown.bad, GOOD, BAD, width, plain=False)
    try:
        "".join(found).encode(console.encoding)
    except UnicodeEncodeError:
        found = lines_of(shown.good, shown.bad, GOOD, BAD, width, plain=True)
    for one in found:
        console.print(Text(printable(one)), soft_wrap=True)
    line(console, f"Left, {GOOD}: {shown.good_says}")
    line(console, f"Right, {BAD}: {shown.bad_says}")
    for tone, says in shown.tones():
        line(console, f"{tone}: {says}", 2)
    line(console, shown.with_numbers)
    if shown.file is not None:
        line(console, f"Written to {shown.file}.")
    else:
        says = f"As SVG: diagnose picture {shown.finding.id} {shown.finding.id}.svg"
        line(console, says)
