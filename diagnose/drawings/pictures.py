"""What is drawn of a result: plain data with a position for everything, and in words.

How it is drawn, with characters or as SVG, is the business of others; what they show
is settled here, so that both show the same.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import fmean
from typing import TypeVar

from diagnose.calculations.roughness import SAMPLING_LENGTHS
from diagnose.language import listed, mark, tr, trn
from diagnose.readings import Reading
from diagnose.records import Input, Knowledge, Window
from diagnose.windows import edges
from diagnose.workings import Amount, Worked, figure, judged, verdict

P = TypeVar("P", int, float)

SIDES = {
    "below": mark("below"),
    "within": mark("within"),
    "above": mark("above"),
    "edge": mark("at edge"),
}
"""Where a value lies by its window, as it is written beside it."""

LOWEST, HIGHEST = mark("lowest"), mark("highest")
"""Written beside the ends of readings that no window says anything of."""

UNEVEN = 0.4
"""A scale shows at least this part of a window's width to either side of it."""

FARTHEST = 2.5
"""A scale shows no more than so many widths of a window to either side of it."""

FARTHEST_OF_ONE = 5.0
"""The same for a window of one edge, in sizes of that edge."""

HUNDRED = 100.0
"""%; a scale of shares that all lie below it ends there."""

WEDGE, FINE_WEDGE = 21, 31
"""Steps of the wedges that are sold."""

FINE_STEP = 0.125
"""D; a wedge of smaller steps is one of 31."""

MIDDLE = mark("middle")
TOP, BOTTOM = mark("top"), mark("bottom")
LEFT, RIGHT = mark("middle left"), mark("middle right")
TOP_LEFT, TOP_RIGHT = mark("top left"), mark("top right")
BOTTOM_LEFT, BOTTOM_RIGHT = mark("bottom left"), mark("bottom right")

FIVE = (MIDDLE, TOP_LEFT, TOP_RIGHT, BOTTOM_LEFT, BOTTOM_RIGHT)
NINE = (
    *(TOP_LEFT, TOP, TOP_RIGHT),
    *(LEFT, MIDDLE, RIGHT),
    *(BOTTOM_LEFT, BOTTOM, BOTTOM_RIGHT),
)
"""Where the readings of a map were taken, in the order in which they are written."""

ROUNDS = 3
"""So many readings at each place are still shown place by place."""


@dataclass(frozen=True, slots=True)
class Scale:
    """A value with its range on a scale that shows the edges of its window."""

    name: str
    unit: str
    value: float
    shown: str
    """The value as it is written elsewhere, with its unit."""
    reach: tuple[float, float] | None
    """From where to where it may lie; None where nothing is in doubt."""
    window: Window
    side: str
    left: float
    right: float

    def at(self, value: float) -> float:
        """Where a value lies: 0 at the left end, 1 at the right, no farther."""
        return min(max((value - self.left) / (self.right - self.left), 0.0), 1.0)

    def marker(self, place: Callable[[float], P], clear: P) -> P:
        """Where the value's marker stands, clear of an edge that it is plainly beside.

        Args:
            place: from 0 to 1 to a place on the paper.
            clear: how far from the edge.
        """
        at = place(self.at(self.value))
        low, high = self.window.low, self.window.high
        if self.side == "below" and low is not None:
            return min(at, place(self.at(low)) - clear)
        if self.side == "above" and high is not None:
            return max(at, place(self.at(high)) + clear)
        if self.side == "within" and high is not None:
            at = min(at, place(self.at(high)) - clear)
        if self.side == "within" and low is not None:
            at = max(at, place(self.at(low)) + clear)
        return at

    @property
    def off(self) -> int:
        """-1 or 1 where the value lies off the left or the right end, or else 0."""
        return (self.value > self.right) - (self.value < self.left)

    def parts(self) -> list[tuple[str, float, float]]:
        """'below', 'window' and 'above' with where they begin and end, 0 to 1."""
        low, high = self.window.low, self.window.high
        first = 0.0 if low is None else self.at(low)
        last = 1.0 if high is None else self.at(high)
        found = [
            (mark("below"), 0.0, first),
            (mark("window"), first, last),
            (mark("above"), last, 1.0),
        ]
        return [part for part in found if part[1] < part[2]]

    def numbers(self) -> list[float]:
        """The edges of the window, then the ends: the numbers to write at the scale."""
        window = [one for one in (self.window.low, self.window.high) if one is not None]
        return [*window, self.left, self.right]

    @property
    def label(self) -> str:
        """The value and where it lies: '16.1 %: within'."""
        return f"{self.shown}: " + tr(SIDES[self.side])

    def says(self) -> str:
        """The picture in words."""
        span = tr(
            "{left} to {right}",
            left=figure(self.left),
            right=figure(self.right, self.unit),
        )
        doubt = ""
        if self.reach is not None:
            low, high = self.reach
            doubt = tr(
                ", from {low} to {high} by its doubt",
                low=figure(low),
                high=figure(high, self.unit),
            )
        where = {
            "below": tr("below the window"),
            "within": tr("inside the window"),
            "above": tr("above the window"),
            "edge": tr("about at an edge of the window"),
        }[self.side]
        return tr(
            "{name}: a scale from {span} with the window {window}. The "
            "value is {shown}{doubt}, {where}.",
            name=self.name,
            span=span,
            window=edges(self.window),
            shown=self.shown,
            doubt=doubt,
            where=where,
        )


@dataclass(frozen=True, slots=True)
class Spot:
    """One place of a map: its number, where it is, and what was read there."""

    number: int
    place: str
    row: int
    column: int
    values: tuple[float, ...]
    marks: tuple[str, ...]
    """For each value a key of SIDES, 'lowest' or 'highest', or ''."""


@dataclass(frozen=True, slots=True)
class Map:
    """Readings at several points of a screen."""

    name: str
    unit: str
    spots: tuple[Spot, ...]
    rows: int
    columns: int
    notes: tuple[str, ...]
    """What has to be known to read it, each a sentence."""

    def says(self) -> str:
        """The picture in words."""
        said = []
        for spot in self.spots:
            read = listed(
                f"{figure(value, self.unit)}{f' ({word_of(mark)})' if mark else ''}"
                for value, mark in zip(spot.values, spot.marks, strict=True)
            )
            place = f", {tr(spot.place)}" if spot.place else ""
            said.append(f"{spot.number}{place}: {read}")
        title = tr("A map of the {name}.", name=self.name)
        return f"{title} {'; '.join(said)}. {' '.join(self.notes)}"


@dataclass(frozen=True, slots=True)
class Strip:
    """A step wedge on a stencil: the steps that hold, and the one that is wanted."""

    steps: int
    held: float
    wanted: float

    def holds(self, step: int) -> float:
        """How much of a step, counted from 1 at the clear end, stays: 0, a part, 1."""
        return min(max(self.held - step + 1, 0.0), 1.0)

    def at(self, step: float) -> float:
        """Where the middle of a step lies: 0 at the dark end, 1 at the clear one."""
        return (self.steps - step + 0.5) / self.steps

    def dark(self, step: int) -> float:
        """How dark a step of the wedge is, from 0 (clear) to 1."""
        return (step - 1) / (self.steps - 1)

    def says(self) -> str:
        """The picture in words."""
        whole = math.floor(self.held)
        parts = [tr("Step 1 holds")]
        if whole != 1:
            parts = [tr("Step 1 to {last} hold", last=whole)]
        if whole != self.held:
            parts.append(tr("{step} holds in part", step=whole + 1))
        gone = math.ceil(self.held) + 1
        if gone < self.steps:
            parts.append(
                tr("{first} to {last} are washed away", first=gone, last=self.steps)
            )
        elif gone == self.steps:
            parts.append(tr("{step} is washed away", step=gone))
        return tr(
            "A wedge of {count} steps, dark to clear, and the stencil below it. "
            "{parts}. {wanted}.",
            count=self.steps,
            parts=", ".join(parts),
            wanted=self._wanted(),
        )

    def _wanted(self) -> str:
        """Which step should be the last to hold, and how far off that is."""
        wanted = figure(self.wanted)
        apart = self.wanted - self.held
        if not apart:
            return tr(
                "The last step to hold should be {wanted}, as it is", wanted=wanted
            )
        count = figure(abs(apart))
        number = 1 if count == "1" else 2
        if apart > 0:
            return trn(
                "The last step to hold should be {wanted}, {count} step darker than "
                "it is",
                "The last step to hold should be {wanted}, {count} steps darker than "
                "it is",
                number,
                wanted=wanted,
                count=count,
            )
        return trn(
            "The last step to hold should be {wanted}, {count} step clearer than it is",
            "The last step to hold should be {wanted}, {count} steps clearer than it "
            "is",
            number,
            wanted=wanted,
            count=count,
        )


@dataclass(frozen=True, slots=True)
class Profile:
    """Heights along a line, parted into its sampling lengths."""

    name: str
    unit: str
    pieces: tuple[tuple[float, ...], ...]
    mean: float
    """Mean of the heights from valley to peak of the lengths."""

    def swings(self) -> list[float]:
        """The height from the deepest valley to the highest peak, of each length."""
        return [max(piece) - min(piece) for piece in self.pieces]

    def heights(self) -> list[float]:
        return [height for piece in self.pieces for height in piece]

    def says(self) -> str:
        """The picture in words."""
        heights = self.heights()
        each = ", ".join(figure(one) for one in self.swings())
        return tr(
            "The {name}, {count} of them from {low} to {high}. From valley to peak the "
            "{lengths} sampling lengths measure {each} {unit}, {mean} on the mean.",
            name=self.name,
            count=len(heights),
            low=figure(min(heights)),
            high=figure(max(heights), self.unit),
            lengths=len(self.pieces),
            each=each,
            unit=self.unit,
            mean=figure(self.mean, self.unit),
        )


Picture = Scale | Map | Strip | Profile


def word_of(mark: str) -> str:
    """A mark of a map as it is written."""
    return tr(SIDES.get(mark, mark)) if mark else ""


def pictures_of(worked: Worked, knowledge: Knowledge) -> list[Picture]:
    """What is to be drawn of a result, in order; none where nothing can be.

    A picture of the working's own kind, or else a scale for each result with a window.
    """
    own = KINDS.get(worked.working.draws or "")
    picture = own(worked, knowledge) if own else None
    if picture is not None:
        return [picture]
    scales = (scale_of(amount, knowledge) for amount in worked.amounts)
    return [scale for scale in scales if scale is not None]


# the scale


def scale_of(amount: Amount, knowledge: Knowledge) -> Scale | None:
    """The scale of an amount; None where its output has no window."""
    judgement = verdict(amount, knowledge)
    if judgement is None or not math.isfinite(amount.value):
        return None
    window, value = judgement.window, float(amount.value)
    reach = (amount.low, amount.high) if amount.range() else None
    left, right = _ends(window, value, *(reach or (value, value)))
    return Scale(
        amount.output.name,
        amount.output.unit,
        value,
        str(amount),
        reach,
        window,
        judgement.side,
        left,
        right,
    )


def _ends(
    window: Window, value: float, lowest: float, highest: float
) -> tuple[float, float]:
    """The ends of a scale, round numbers that leave both sides of a window in sight."""
    low, high = window.low, window.high
    if low is not None and high is not None:
        width = high - low
        left = min(low - UNEVEN * width, max(lowest, low - FARTHEST * width))
        right = max(high + UNEVEN * width, min(highest, high + FARTHEST * width))
    else:
        edge = low if low is not None else high or 0.0
        away = max(abs(one - edge) for one in (value, lowest, highest)) * 1.15
        if edge:
            size = abs(edge)
            away = min(max(away, UNEVEN * size), FARTHEST_OF_ONE * size)
        away = away or 1.0
        left, right = edge - away, edge + away
    width = right - left
    step = _round_number(width / 10)
    left = math.floor(left / step + 1e-9) * step
    right = math.ceil(right / step - 1e-9) * step
    known = [edge for edge in (low, high) if edge is not None]
    in_sight = low == 0 or min(known) >= width / 10
    if (left < 0 or low is None or high is None) and lowest >= 0 and in_sight:
        left = 0.0
    if window.unit == "%" and highest <= HUNDRED and max(known) < HUNDRED:
        right = min(right, HUNDRED)
    return left, right


def _round_number(about: float) -> float:
    """1, 2 or 5 times a power of ten, at least as large."""
    power = 10.0 ** math.floor(math.log10(about))
    return next(power * one for one in (1, 2, 5, 10) if power * one >= about * 0.999)


# the map


def _map(worked: Worked, knowledge: Knowledge) -> Map | None:
    one = _several(worked)
    if one is None:
        return None
    each = worked.inputs[one.id].each
    window = _window_of_each(worked, one, knowledge)
    marks = _marks(each, one, window)
    places = _places(len(each))
    rounds = len(each) // len(places) if places else 1
    count = len(places) or len(each)
    spots = []
    for n in range(count):
        row, column = _cell(n, places)
        spots.append(
            Spot(
                n + 1,
                places[n] if places else "",
                row,
                column,
                tuple(each[n::count][:rounds]),
                tuple(marks[n::count][:rounds]),
            )
        )
    notes = []
    if window is not None:
        notes.append(tr("The window is {range}.", range=edges(window)))
    if "edge" in marks:
        notes.append(
            tr("At edge: too near an edge of the window for one reading to tell.")
        )
    if places:
        order = (
            tr("middle first, then the corners") if places == FIVE else tr("row by row")
        )
        says = tr(
            "Numbered in the order read: {order}, from the top left.", order=order
        )
        notes.append(says)
    else:
        notes.append(
            tr(
                "Written in the order read; five or nine readings are shown where "
                "they lie."
            )
        )
    if rounds > 1:
        notes.append(tr("Each round of readings stands below the one before."))
    rows = max(spot.row for spot in spots) + 1
    return Map(one.name, one.unit, tuple(spots), rows, 3, tuple(notes))


def _several(worked: Worked) -> Input | None:
    """The first input that is several readings."""
    return next((one for one in worked.working.inputs if one.several == "yes"), None)


def _window_of_each(worked: Worked, one: Input, knowledge: Knowledge) -> Window | None:
    """The window that a single reading can be held against: that of a mean of them.

    A spread has the readings' unit too, and its window is not for one reading.
    """
    each = worked.inputs[one.id].each
    for amount in worked.amounts:
        window = knowledge.windows.get(amount.output.window or "")
        if window is None or not amount.is_number or amount.output.unit != one.unit:
            continue
        if math.isclose(amount.value, fmean(each), abs_tol=1e-9):
            return window
    return None


def _marks(each: Sequence[float], one: Input, window: Window | None) -> list[str]:
    if window is not None:
        readings = [Reading(value, one.give_or_take, one.unit) for value in each]
        return [judged(reading, window).side for reading in readings]
    lowest, highest = min(each), max(each)
    named = {}
    if lowest < highest:
        named = {lowest: LOWEST, highest: HIGHEST}
    return [named.get(value, "") for value in each]


def _places(count: int) -> tuple[str, ...]:
    """Where so many readings lie; () where it is not known."""
    for places in (NINE, FIVE):
        if count % len(places) == 0 and count // len(places) <= ROUNDS:
            return places
    return ()


def _cell(n: int, places: tuple[str, ...]) -> tuple[int, int]:
    """Row and column of a place, of three columns."""
    if places == FIVE:
        return ((1, 1), (0, 0), (0, 2), (2, 0), (2, 2))[n]
    return divmod(n, 3)


# the wedge and the profile


def _strip(worked: Worked, _: Knowledge) -> Strip | None:
    held, wanted = worked.inputs.get("held-step"), worked.inputs.get("target-step")
    if held is None or wanted is None:
        return None
    step = worked.inputs.get("step-density")
    last = max(math.ceil(held.value), math.ceil(wanted.value))
    fine = step is not None and step.value < FINE_STEP
    steps = FINE_WEDGE if fine or last > WEDGE else WEDGE
    return Strip(max(steps, last), held.value, wanted.value)


def _profile(worked: Worked, _: Knowledge) -> Profile | None:
    one = _several(worked)
    if one is None:
        return None
    each = worked.inputs[one.id].each
    if len(each) < 2 * SAMPLING_LENGTHS:
        return None
    bounds = [len(each) * n // SAMPLING_LENGTHS for n in range(SAMPLING_LENGTHS + 1)]
    pieces = tuple(tuple(each[start:end]) for start, end in pairwise(bounds))
    swings = [max(piece) - min(piece) for piece in pieces]
    return Profile(one.name, one.unit, pieces, fmean(swings))


KINDS: Mapping[str, Callable[[Worked, Knowledge], Picture | None]] = {
    "step-strip": _strip,
    "map": _map,
    "profile": _profile,
}
"""The pictures that a working may name; 'window' is drawn where it names none."""
