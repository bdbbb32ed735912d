"""Pictures of characters, for a terminal; in plain ASCII for one that has no more."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean

from diagnose.drawings.pictures import Map, Picture, Profile, Scale, Strip, word_of
from diagnose.language import tr
from diagnose.screens import printable
from diagnose.workings import figure

LEAST = 66
"""Characters; in less nothing is drawn."""

INDENT = 2
SPOT = 20
"""Characters that what stands at a place of a map takes at most."""

DEPTH = 7
"""Lines that a profile is high."""


@dataclass(frozen=True, slots=True)
class Signs:
    """The characters that pictures are made of."""

    outside: str
    inside: str
    edge: str
    ends: str
    reach: str
    reach_ends: str
    value: str
    unsure: str
    off: str
    up: str
    down: str
    marks: dict[str, str]
    frame: str
    """Corners (top left, top right, bottom left, bottom right), level, upright."""
    shades: str
    """From clear to dark."""
    levels: str
    """From an empty character to a full one."""
    holds: str
    part: str
    gone: str
    between: str
    tick: str


UNICODE = Signs(
    outside="─",
    inside="━",
    edge="┃",
    ends="├┤",
    reach="─",
    reach_ends="├┤",
    value="◆",
    unsure="◇",
    off="◄►",
    up="▲",
    down="▼",
    marks={
        **{"below": "▼", "within": "●", "above": "▲", "edge": "◇"},
        **{"lowest": "▼", "highest": "▲", "": "●"},
    },
    frame="┌┐└┘─│",
    shades=" ░▒▓█",
    levels=" ▁▂▃▄▅▆▇█",
    holds="█",
    part="▒",
    gone="·",
    between="┊",
    tick="┤",
)

ASCII = Signs(
    outside="-",
    inside="=",
    edge="#",
    ends="||",
    reach="-",
    reach_ends="||",
    value="*",
    unsure="o",
    off="<>",
    up="^",
    down="v",
    marks={
        **{"below": "v", "within": "*", "above": "^", "edge": "o"},
        **{"lowest": "v", "highest": "^", "": "*"},
    },
    frame="++++-|",
    shades=" .:x#",
    levels="  ...:::#",
    holds="#",
    part=":",
    gone=".",
    between="|",
    tick="|",
)


class Canvas:
    """Lines of characters that are written into by position; what is off is cut."""

    def __init__(self, width: int) -> None:
        self.width = width
        self.lines: list[list[str]] = []

    def row(self) -> int:
        """A new line; its number."""
        self.lines.append([" "] * self.width)
        return len(self.lines) - 1

    def write(self, row: int, column: int, text: str) -> None:
        for n, sign in enumerate(text, column):
            if 0 <= n < self.width:
                self.lines[row][n] = sign

    def free(self, row: int, column: int, length: int) -> bool:
        """Whether nothing stands there, nor right beside it."""
        if column < 0 or column + length > self.width:
            return False
        around = self.lines[row][max(column - 1, 0) : column + length + 1]
        return all(sign == " " for sign in around)

    def centred(self, row: int, column: int, text: str, left: int, right: int) -> None:
        """Write a text about a column, pushed in where it would pass left or right."""
        first = min(max(column - len(text) // 2, left), right + 1 - len(text))
        first = max(first, 0)
        if self.free(row, first, len(text)):
            self.write(row, first, text)

    def text(self) -> list[str]:
        return ["".join(line).rstrip() for line in self.lines]


def lines_of(pictures: Sequence[Picture], width: int, plain: bool) -> list[str]:
    """The pictures one below the other, no line wider; [] where that is too narrow.

    Args:
        pictures: what is drawn.
        width: in characters.
        plain: with ASCII characters alone.
    """
    if width < LEAST:
        return []
    signs = ASCII if plain else UNICODE
    found: list[str] = []
    for picture in pictures:
        if found:
            found.append("")
        if isinstance(picture, Scale):
            found += _scale(picture, width, signs)
        elif isinstance(picture, Map):
            found += _map(picture, width, signs)
        elif isinstance(picture, Strip):
            found += _strip(picture, width, signs)
        else:
            found += _profile(picture, width, signs)
    return found


def _words(text: str, signs: Signs) -> str:
    """A text in the signs that the picture may have, before it is given its place."""
    text = printable(text)
    if signs is ASCII:
        text = text.encode("ascii", "plain-signs").decode("ascii")
    return text


def _block(text: str, width: int, signs: Signs) -> list[str]:
    lead = " " * INDENT
    return textwrap.wrap(
        _words(text, signs),
        width,
        initial_indent=lead,
        subsequent_indent=lead,
        break_on_hyphens=False,
    )


def _title(name: str, unit: str, width: int, signs: Signs) -> list[str]:
    return _block(f"{name} [{unit}]" if unit else name, width, signs)


def _column(scale: Scale, value: float, last: int) -> int:
    """The column of a value, 0 to last."""
    return round(scale.at(value) * last)


def _scale(scale: Scale, width: int, signs: Signs) -> list[str]:
    """The value over the scale, the parts of the scale and their edges under it."""
    canvas = Canvas(width)
    first, last = INDENT, width - INDENT - 2
    long = last - first

    labels, reach, bar, parts, numbers = (canvas.row() for _ in range(5))
    at = first + scale.marker(lambda place: round(place * long), 1)
    canvas.centred(labels, at, _words(scale.label, signs), first, last)
    _reach(canvas, reach, scale, at, signs)

    canvas.write(bar, first, signs.outside * (long + 1))
    for name, begin, end in scale.parts():
        left, right = first + round(begin * long), first + round(end * long)
        if name == "window":
            canvas.write(bar, left, signs.inside * (right - left + 1))
        says = _words(tr(name), signs)
        if right - left > len(says) + 1:
            canvas.write(parts, (left + right + 1 - len(says)) // 2, says)
    canvas.write(bar, first, signs.ends[0])
    canvas.write(bar, last, signs.ends[1])
    for edge in (scale.window.low, scale.window.high):
        if edge is not None:
            canvas.write(bar, first + _column(scale, edge, long), signs.edge)
    for number in scale.numbers():
        column = first + _column(scale, number, long)
        canvas.centred(numbers, column, _words(figure(number), signs), first, last)
    return [*_title(scale.name, scale.unit, width, signs), *canvas.text()]


def _reach(canvas: Canvas, row: int, scale: Scale, at: int, signs: Signs) -> None:
    """The value's marker on the line of its range, cut where the scale ends."""
    first, last = INDENT, canvas.width - INDENT - 2
    if scale.reach is not None:
        low, high = scale.reach
        left = min(first + _column(scale, low, last - first), at)
        right = max(first + _column(scale, high, last - first), at)
        canvas.write(row, left, signs.reach * (right - left + 1))
        canvas.write(row, left, signs.off[0] if low < scale.left else signs.ends[0])
        canvas.write(row, right, signs.off[1] if high > scale.right else signs.ends[1])
    sign = signs.unsure if scale.side == "edge" else signs.value
    if scale.off:
        sign = signs.off[max(scale.off, 0)]
    canvas.write(row, at, sign)


def _map(picture: Map, width: int, signs: Signs) -> list[str]:
    """The screen as a frame, what was read in it."""
    canvas = Canvas(width)
    first, last = INDENT, width - INDENT - 1
    cell = (last - first - 1) // picture.columns
    corners, level, upright = signs.frame[:4], signs.frame[4], signs.frame[5]
    canvas.write(canvas.row(), first, corners[0] + level * (last - first - 1))
    canvas.write(0, last, corners[1])
    placed = any(spot.place for spot in picture.spots)
    for row in range(picture.rows):
        spots = [spot for spot in picture.spots if spot.row == row]
        for n in range(max(len(spot.values) for spot in spots)):
            inside = canvas.row()
            for spot in spots:
                text = _spot(spot.values[n], spot.marks[n], signs)
                lead = f"{spot.number}: " if n == 0 else "   "
                column = first + 2 + spot.column * cell
                column += spot.column * max(cell - SPOT, 0) // 2
                canvas.write(inside, column, f"{lead:>5}{text}")
        if placed and row < picture.rows - 1:
            canvas.row()
    for n in range(1, len(canvas.lines)):
        canvas.write(n, first, upright)
        canvas.write(n, last, upright)
    bottom = canvas.row()
    canvas.write(bottom, first, corners[2] + level * (last - first - 1) + corners[3])
    lines = [*_title(picture.name, picture.unit, width, signs), *canvas.text()]
    for note in picture.notes:
        lines += _block(note, width, signs)
    return lines


def _spot(value: float, mark: str, signs: Signs) -> str:
    sign = signs.marks[mark]
    return _words(f"{figure(value)} {sign} {word_of(mark)}".rstrip(), signs)


def _strip(strip: Strip, width: int, signs: Signs) -> list[str]:
    """The wedge, the stencil below it, the step wanted above and the one held under."""
    lead = INDENT + 9
    cell = min(max((width - lead - 1) // strip.steps, 1), 3)
    canvas = Canvas(width)
    wanted, numbers, wedge, stencil, held = (canvas.row() for _ in range(5))
    names = ((numbers, tr("step")), (wedge, tr("wedge")), (stencil, tr("stencil")))
    for row, name in names:
        canvas.write(row, INDENT, _words(name, signs)[: lead - INDENT - 1])
    every = 1 if cell > 2 else 5
    for step in range(strip.steps, 0, -1):
        left = lead + (strip.steps - step) * cell
        if step % every == 0 or step == 1:
            canvas.centred(numbers, left + cell // 2, str(step), 0, width - 1)
        shade = signs.shades[round(strip.dark(step) * (len(signs.shades) - 1))]
        canvas.write(wedge, left, shade * cell)
        holds = strip.holds(step)
        if holds == 0:
            canvas.write(stencil, left + cell // 2, signs.gone)
        else:
            canvas.write(stencil, left, (signs.holds, signs.part)[holds < 1] * cell)
    right = lead + strip.steps * cell
    if right < width:
        canvas.write(wedge, right, signs.between)
    for row, at, sign, name in (
        (wanted, strip.wanted, signs.down, tr("wanted")),
        (held, strip.held, signs.up, tr("held")),
    ):
        column = lead + int(strip.at(at) * strip.steps * cell)
        label = _words(f"{name}: {figure(at)} ", signs)
        if column - len(label) >= lead:
            canvas.write(row, column - len(label), label)
        else:
            canvas.write(row, column + 1, f" {label}")
        canvas.write(row, column, sign)
    key = [f"{signs.holds * 2} " + tr("holds"), f"{signs.gone} " + tr("washed away")]
    if any(0 < strip.holds(step) < 1 for step in range(1, strip.steps + 1)):
        key.insert(1, f"{signs.part * 2} " + tr("holds in part"))
    title = tr(
        "step wedge of {count} steps, dark at the left and clear at the right",
        count=strip.steps,
    )
    return [
        *_block(title, width, signs),
        *canvas.text(),
        " " * lead + _words("   ".join(key), signs),
    ]


def _profile(profile: Profile, width: int, signs: Signs) -> list[str]:
    """The stencil cut through: its surface, in lengths parted by upright lines."""
    heights = profile.heights()
    low, high = min(heights), max(heights)
    ends = [_words(figure(one), signs) for one in (high, low)]
    lead = INDENT + max(map(len, ends)) + 2
    count = len(profile.pieces)
    long = (width - lead - 2 - (count - 1)) // count
    canvas = Canvas(width)
    for _ in range(DEPTH):
        canvas.row()
    full = len(signs.levels) - 1
    for n, piece in enumerate(profile.pieces):
        left = lead + n * (long + 1)
        for column, height in enumerate(_columns(piece, long)):
            part = (height - low) / (high - low) if high > low else 0.5
            level = 1 + round(part * (DEPTH * full - 1))
            for row in range(DEPTH):
                here = min(max(level - (DEPTH - 1 - row) * full, 0), full)
                canvas.write(row, left + column, signs.levels[here])
        if n:
            for row in range(DEPTH):
                canvas.write(row, left - 1, signs.between)
    for row, text in ((0, ends[0]), (DEPTH - 1, ends[1])):
        canvas.write(row, INDENT, text.rjust(lead - INDENT - 2))
        canvas.write(row, lead - 1, signs.tick)
    swings = canvas.row()
    for n, swing in enumerate(profile.swings()):
        left = lead + n * (long + 1)
        middle = left + long // 2
        canvas.centred(swings, middle, _words(figure(swing), signs), left, left + long)
    under = tr(
        "Under each of the {count} sampling lengths its height from valley to peak; "
        "{mean} on the mean.",
        count=count,
        mean=figure(profile.mean, profile.unit),
    )
    return [
        *_title(profile.name, profile.unit, width, signs),
        *canvas.text(),
        *_block(under, width, signs),
    ]


def _columns(piece: Sequence[float], long: int) -> list[float]:
    """The heights of a piece in so many columns.

    Of many in a column the one farthest from their mean is taken, so that no peak is
    lost; between few a straight line is drawn.
    """
    count = len(piece)
    if count > long:
        middle = fmean(piece)
        bounds = [count * n // long for n in range(long + 1)]
        return [
            max(piece[bounds[n] : bounds[n + 1]], key=lambda one: abs(one - middle))
            for n in range(long)
        ]
    found: list[float] = []
    for column in range(long):
        place = column * (count - 1) / max(long - 1, 1)
        before = math.floor(place)
        after = min(before + 1, count - 1)
        share = place - before
        found.append(piece[before] * (1 - share) + piece[after] * share)
    return found
