"""Readings → what is worked out from them, with its range and what it means.

A working is a record that names a pure function of `calculations`; here its inputs
are read as people write them, the function is called, and the doubt of every input
is carried through it.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from diagnose.checks import BRACES
from diagnose.errors import AnswerError, CalculationError, quoted, unknown
from diagnose.functions import argument, function_of
from diagnose.language import tr
from diagnose.readings import Reading, read
from diagnose.records import Input, Knowledge, Output, Window, Working
from diagnose.windows import edges

WIDE = 2.0
"""A range reaches so many standard uncertainties to either side: 95 in 100."""

TIMES = ("s", "min", "h", "days")
"""Units of time; a number without one may mean any of them."""

PLAIN, PROBABLE = 0.95, 0.75
"""A value is plainly, or probably, on a side of a window with this chance."""


@dataclass(frozen=True, slots=True)
class Amount:
    """One result: its value with a standard uncertainty, and its range (95 in 100).

    The range need not lie evenly about the value: half a step of a wedge is more
    seconds upwards than downwards.
    """

    output: Output
    value: Any
    give_or_take: float
    low: float
    high: float

    @property
    def is_number(self) -> bool:
        return isinstance(self.value, (int, float)) and not isinstance(self.value, bool)

    @property
    def has_range(self) -> bool:
        """Whether it may lie beside its value; what is chosen of a few may not."""
        return self.is_number and not math.isnan(self.low)

    def reading(self) -> Reading:
        """The result as a reading of what it stands for."""
        return Reading(float(self.value), self.give_or_take, self.output.unit)

    def __str__(self) -> str:
        """To the place of the first figure of its doubt: '80 min' for 79.8 ± 12."""
        return figure(_rounded(self.value, self.give_or_take), self.output.unit)

    def range(self) -> str:
        """From where to where it may lie; '' where nothing is in doubt."""
        if not self.is_number or not self.give_or_take:
            return ""
        low, high = (
            _rounded(one, self.give_or_take, 1) for one in (self.low, self.high)
        )
        if low == high:
            return ""
        return tr(
            "{low} to {high}", low=figure(low), high=figure(high, self.output.unit)
        )


@dataclass(frozen=True, slots=True)
class Worked:
    """What a working came to."""

    working: Working
    inputs: Mapping[str, Reading]
    assumed: tuple[str, ...]
    """Inputs that were left out and taken at their usual value."""
    amounts: tuple[Amount, ...]

    def means(self) -> str:
        """What it means, in a sentence or two, the numbers filled in."""
        return self._filled(self.working.means)

    def check_next(self) -> str:
        """What to check next; '' where nothing is changed."""
        return self._filled(self.working.check_next or "")

    def _filled(self, text: str) -> str:
        several = {one.id for one in self.working.inputs if one.several == "yes"}
        words = {
            id: _several(one)
            if len(one.each) > 3 and id in several
            else figure(one.value, one.unit)
            for id, one in self.inputs.items()
        }
        words |= {one.output.id: str(one) for one in self.amounts}
        return BRACES.sub(lambda found: words.get(found[1], found[0]), text)


def _several(reading: Reading) -> str:
    low, high = min(reading.each), max(reading.each)
    return tr("{low} to {high}", low=figure(low), high=figure(high, reading.unit))


def figure(value: Any, unit: str = "") -> str:
    """A number to three figures with its unit; several after one another."""
    if isinstance(value, (list, tuple)):
        text = ", ".join(figure(one) for one in value)
    elif isinstance(value, bool):
        return tr("yes") if value else tr("no")
    elif isinstance(value, (int, float)):
        text = f"{value:.3g}" if abs(value) < 1000 else f"{value:.0f}"
        if "e" in text:
            text = f"{value:.3g}" if abs(value) < 1e-4 else f"{float(text):f}"
    else:
        text = str(value)
    if unit == "step":
        unit = tr("step") if text == "1" else tr("steps")
    return f"{text} {unit}" if unit else text


def _rounded(value: Any, give_or_take: float, further: int = 0) -> Any:
    """A number to the place of the first figure of its doubt, or so many further."""
    if not _is_number(value) or not give_or_take:
        return value
    return round(value, further - math.floor(math.log10(give_or_take)))


def work_out(
    working: Working,
    given: Mapping[str, str | Reading],
    *,
    times_need_units: bool = False,
) -> Worked:
    """Work it out from inputs as they were written, or from readings.

    Args:
        working: what is worked out.
        given: for each input its text ('68; 70 µm') or its reading.
        times_need_units: refuse a time that is written without its unit.

    Raises:
        AnswerError: an input is missing, unknown, or can't be read.
        CalculationError: nothing can be worked out from these numbers.
    """
    own = {one.id: one for one in working.inputs}
    for id in given:
        if id not in own:
            raise AnswerError(unknown("input", id, own))
    inputs: dict[str, Reading] = {}
    assumed = []
    for id, one in own.items():
        if id in given:
            inputs[id] = _reading(working, one, given[id], times_need_units)
        elif one.usual is not None:
            inputs[id] = Reading(one.usual, one.give_or_take, one.unit, (one.usual,))
            assumed.append(id)
        else:
            raise AnswerError(
                tr(
                    "{id!r} is missing: {name}, for example {example}.",
                    id=id,
                    name=one.name,
                    example=form(working, one),
                )
            )
    return Worked(working, inputs, tuple(assumed), _amounts(working, inputs))


def form(working: Working, one: Input) -> str:
    """How an input is written in a shell, by the working's example."""
    word = f"{one.id}={_example(working, one)}"
    return f'"{word}"' if set(" ;%°") & set(word) else word


def _example(working: Working, one: Input) -> str:
    value = one.lowest if one.usual is None else one.usual
    return working.example.get(one.id, f"{value:g} {one.unit}".strip())


def _reading(
    working: Working, one: Input, given: str | Reading, times_need_units: bool
) -> Reading:
    if isinstance(given, Reading):
        if not one.lowest <= given.value <= one.highest:
            between = f"{one.lowest:g} to {one.highest:g} {one.unit}".rstrip()
            raise AnswerError(
                tr(
                    "{name} is {given}; it is reckoned with from {between} only.",
                    name=one.name,
                    given=given,
                    between=between,
                )
            )
        return given
    try:
        if (
            times_need_units
            and one.unit in TIMES
            and not re.search("[^\\W\\d_]", given)
        ):
            raise AnswerError(
                tr(
                    "{given} has no unit; write '{number} s' or '{number} min'.",
                    given=quoted(given),
                    number=given.strip(),
                )
            )
        shown = _example(working, one)
        found = read(given, one, shown if given != shown else None)
        if len(found.each) > 1 and one.several == "no" and not one.give_or_take:
            raise AnswerError(
                tr(
                    "{given} is several numbers; write one, for example '{example}'.",
                    given=quoted(given),
                    example=_example(working, one),
                )
            )
    except AnswerError as error:
        raise AnswerError(f"{one.id}: {error}") from None
    return found


def _amounts(working: Working, inputs: Mapping[str, Reading]) -> tuple[Amount, ...]:
    """Every result, the doubt of the inputs carried through the function."""
    function = function_of(working)
    several = {one.id for one in working.inputs if one.several == "yes"}
    limits = {one.id: (one.lowest, one.highest) for one in working.inputs}

    def run(which: str, shift: float, place: int | None = None) -> list[Any]:
        arguments: dict[str, Any] = {}
        for id, reading in inputs.items():
            low, high = limits[id]
            by = shift if id == which else 0.0
            if id in several:
                each = reading.each or (reading.value,)
                arguments[argument(id)] = [
                    min(max(one + (by if place in (None, n) else 0.0), low), high)
                    for n, one in enumerate(each)
                ]
            else:
                arguments[argument(id)] = min(max(reading.value + by, low), high)
        result = function(**arguments)
        if len(working.gives) == 1 and not hasattr(result, "__dataclass_fields__"):
            return [result]
        return [getattr(result, argument(one.id)) for one in working.gives]

    differ = {one.id for one in working.inputs if one.differ == "yes"}
    middle = run("", 0.0)
    narrow = _spread(run, middle, inputs, differ, 1.0)
    wide = _spread(run, middle, inputs, differ, WIDE)
    return tuple(
        Amount(output, value, max(near), value - far[0], value + far[1])
        if _is_number(value) and output.chosen == "no"
        else Amount(output, value, 0.0, math.nan, math.nan)
        for output, value, near, far in zip(
            working.gives, middle, narrow, wide, strict=True
        )
    )


Run = Callable[..., list[Any]]
"""An input, how far it is moved, and which of its readings where not all → results."""


def _spread(
    run: Run,
    middle: Sequence[Any],
    inputs: Mapping[str, Reading],
    differ: Collection[str],
    reach: float,
) -> list[tuple[float, float]]:
    """How far each result may lie below and above, in root sum of squares.

    Each input is moved by `reach` times its doubt; of those that `differ` each reading
    by itself, by the doubt of one.
    """
    below = [0.0] * len(middle)
    above = [0.0] * len(middle)
    for id, reading in inputs.items():
        if id in differ and reading.each:
            moves = [
                _moved(run, middle, id, reach * reading.alone, place)
                for place in range(len(reading.each))
            ]
        else:
            moves = [_moved(run, middle, id, reach * reading.give_or_take)]
        for move in moves:
            for n, (down, up) in enumerate(move):
                below[n] += down**2
                above[n] += up**2
    return [(math.sqrt(a), math.sqrt(b)) for a, b in zip(below, above, strict=True)]


def _moved(
    run: Run, middle: Sequence[Any], id: str, by: float, place: int | None = None
) -> list[tuple[float, float]]:
    """How far below and above each result comes when an input is moved either way.

    Where it can't be moved one way, what the other way makes counts for both.
    """
    moved = []
    for shift in (-by, by) if by else ():
        try:
            moved.append(run(id, shift, place))
        except CalculationError:
            continue
    found = []
    for n, value in enumerate(middle):
        if not _is_number(value) or not moved:
            found.append((0.0, 0.0))
            continue
        steps = [float(one[n] - value) for one in moved]
        if len(steps) == 1:
            steps.append(-steps[0])
        found.append((max(0.0, -min(steps)), max(0.0, *steps)))
    return found


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


@dataclass(frozen=True, slots=True)
class Verdict:
    """Where a value lies by its window."""

    window: Window
    side: str
    """'below', 'within', 'above', or 'edge' where its doubt reaches over one."""
    says: str


def verdict(amount: Amount, knowledge: Knowledge) -> Verdict | None:
    """How a result stands to its window, in a sentence; None where it has none."""
    window = knowledge.windows.get(amount.output.window or "")
    if window is None or not amount.is_number:
        return None
    return judged(amount.reading(), window)


def judged(reading: Reading, window: Window) -> Verdict:
    """How a reading stands to a window, in a sentence."""
    chances = _sides(reading, window)
    side = max(chances, key=lambda one: chances[one])
    range_in_words = edges(window)
    if chances[side] >= PROBABLE:
        word = {
            "within": tr("inside the window"),
            "below": tr("below the window"),
            "above": tr("above the window"),
        }[side]
        surely = "" if chances[side] >= PLAIN else tr("probably ")
        says = tr(
            "{surely}{side} ({range}). {says}",
            surely=surely,
            side=word,
            range=range_in_words,
            says=getattr(window, side),
        )
        return Verdict(window, side, tr("That is {says}", says=says))
    says = tr(
        "about at the edge of the window ({range}), so it settles little.",
        range=range_in_words,
    )
    return Verdict(window, "edge", tr("That is {says}", says=says))


def _sides(reading: Reading, window: Window) -> dict[str, float]:
    """The chance that the true value is below, within and above a window."""
    below = 0.0 if window.low is None else reading.chance_below(window.low)
    above = 0.0 if window.high is None else 1 - reading.chance_below(window.high)
    return {"within": 1 - below - above, "below": below, "above": above}
