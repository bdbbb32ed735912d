"""The way from the answers to a cause, as a diagram: where every part of it lies."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass

from diagnose.explain import owner_kind, owner_name
from diagnose.look import Look
from diagnose.ranking import RankedCause
from diagnose.rules import Link

WIDE = 840
BETWEEN = 36
"""Between two columns of boxes; the threads run there."""

SHARE = 1.7
"""An answer is a sentence, so its box is so many times as wide as the other boxes."""

LINE, PAD, GAP = 19, 8, 10
LETTER = 8.8
"""A letter is about so wide."""

MOST = 6
"""So many answers are drawn; the others are counted."""

STRONG = 0.5
"""A link at least this strong is drawn as a full line."""


@dataclass(slots=True)
class Box:
    """An answer, a state or the cause."""

    id: str
    kind: str
    text: str
    lines: list[str]
    column: int
    wide: float
    x: float = 0.0
    y: float = 0.0

    @property
    def tall(self) -> float:
        return len(self.lines) * LINE + 2 * PAD

    @property
    def middle(self) -> float:
        return self.y + self.tall / 2


@dataclass(frozen=True, slots=True)
class Thread:
    """A line from what is seen to what is behind it; x, y of both ends."""

    begin: tuple[float, float]
    end: tuple[float, float]
    strong: bool
    word: str
    path: str


@dataclass(frozen=True, slots=True)
class Diagram:
    """All that is drawn, and what leads to what in it."""

    cause: str
    boxes: tuple[Box, ...]
    threads: tuple[Thread, ...]
    wide: float
    tall: float
    left_out: int
    ways: tuple[tuple[str, ...], ...]
    """Each answer, and the names on its way to the cause."""


def diagram(look: Look, cause: RankedCause) -> Diagram | None:
    """The diagram of a cause; None where no answer leads to it.

    Args:
        look: what follows from the answers.
        cause: the ranked cause.
    """
    voices = [voice for voice in cause.speaks_for if voice.way]
    shown = voices[:MOST]
    if not shown:
        return None
    strengths = look.model.knowledge.scales.strengths
    boxes: dict[str, Box] = {}
    links: dict[str, Link] = {}
    ends: dict[str, str] = {}
    far = max(len(voice.way) for voice in shown)
    columns = max(far + 1, 3)
    others = (WIDE - BETWEEN * (columns - 1)) / (columns - 1 + SHARE)
    answer = SHARE * others
    for voice in shown:
        start = f"answer {voice.finding}"
        boxes[start] = _box(start, "answer", voice.says, 0, answer)
        before = start
        for number, link in enumerate(voice.way):
            steps_left = len(voice.way) - 1 - number
            kind = owner_kind(look.model, link)
            here = f"{kind} {link.owner}"
            column = columns - 1 - steps_left
            if here not in boxes:
                name = owner_name(look.model, link)
                boxes[here] = _box(here, kind, name, column, others)
            boxes[here].column = min(boxes[here].column, column)
            links[f"{before}>{here}"] = link
            ends[f"{before}>{here}"] = here
            before = here
    joined = {key: (boxes[key.partition(">")[0]], boxes[ends[key]]) for key in links}
    tall = _place(list(boxes.values()), list(joined.values()), columns, others)
    threads = []
    for key, link in links.items():
        begin, end = joined[key]
        strong = strengths[link.strength] >= STRONG
        threads.append(_thread(begin, end, strong, link.strength))
    ways = tuple(
        (voice.says.rstrip("."), *(owner_name(look.model, link) for link in voice.way))
        for voice in shown
    )
    return Diagram(
        cause.name,
        tuple(boxes.values()),
        tuple(threads),
        WIDE,
        tall,
        len(voices) - len(shown),
        ways,
    )


def _box(id: str, kind: str, text: str, column: int, wide: float) -> Box:
    letters = int((wide - 2 * PAD) / LETTER)
    lines = textwrap.wrap(text, letters) or [""]
    if len(lines) > 6:
        lines = [*lines[:5], f"{lines[5][: letters - 2]} …"]
    return Box(id, kind, text, lines, column, wide)


def _place(
    boxes: list[Box], joined: list[tuple[Box, Box]], columns: int, others: float
) -> float:
    """Put each box into its column, as high as what leads to it is on the mean."""
    step, start = others + BETWEEN, (SHARE - 1) * others
    stacks = [[box for box in boxes if box.column == n] for n in range(columns)]
    heights = [sum(b.tall for b in s) + GAP * max(len(s) - 1, 0) for s in stacks]
    tall = max(heights)
    for n, stack in enumerate(stacks):
        wanted = {
            box.id: [begin.middle for begin, end in joined if end is box] or [tall / 2]
            for box in stack
        }
        middles = {id: sum(each) / len(each) for id, each in wanted.items()}
        if n:
            stack.sort(key=lambda box: middles[box.id])
        y = 2 if n else (tall - heights[0]) / 2 + 2
        for box in stack:
            box.x = (start if n else 0) + n * step
            box.y = max(middles[box.id] - box.tall / 2, y) if n else y
            y = box.y + box.tall + GAP
        low = tall + 2
        for box in reversed(stack):
            box.y = min(box.y, low - box.tall)
            low = box.y - GAP
    return tall + 4


def _thread(begin: Box, end: Box, strong: bool, word: str) -> Thread:
    x, y = begin.x + begin.wide, begin.middle
    to_x, to_y = end.x - 8, end.middle
    bend = (to_x - x) / 2
    path = f"M{x:.0f} {y:.0f}C{x + bend:.0f} {y:.0f} {to_x - bend:.0f} {to_y:.0f} "
    return Thread((x, y), (to_x, to_y), strong, word, f"{path}{to_x:.0f} {to_y:.0f}")
