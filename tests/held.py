"""Interviews held with lines that a test types."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

from rich.console import Console

from diagnose.records import Knowledge
from diagnose.terminal import Interview

TO_A_QUESTION = ["5", "1"]
"""Printing, and sawtooth edges: the first question is whether there are bands."""

TO_A_CHOICE = [*TO_A_QUESTION, "n", "y"]
"""… no bands, the mesh gives: the next question is a choice, the kind of stencil."""

TO_A_TOOL = [*TO_A_QUESTION, "n", "n", "?", "?", "?"]
"""… the rest not known: the next question is whether a thickness gauge is there."""

TO_A_READING = [*TO_A_TOOL, "y"]
"""… it is: the next question is the thickness."""


@dataclass
class Held:
    """An interview that was held: its end, all that was on the screen, and itself."""

    code: int
    screen: str
    interview: Interview

    @property
    def sheet(self) -> dict[str, str]:
        """The answers, by finding."""
        return self.interview.consultation.sheet.given()

    def after(self, typed_line: str) -> str:
        """What stood on the screen after a line, up to the next prompt."""
        return self.screen.split(f"> {typed_line}\n", 1)[1].split("\n> ", 1)[0]


Hold = Callable[..., Held]


def holder(knowledge: Knowledge, kept: Path) -> Hold:
    """What holds an interview with the lines given; after them the input ends."""

    def hold(
        lines: Iterable[str],
        said: str = "",
        folder: str = "kept",
        go_on: int | None = None,
    ) -> Held:
        screen = io.StringIO()
        console = Console(
            file=screen, width=80, highlight=False, markup=False, emoji=False
        )
        waiting = iter(lines)

        def read_line(prompt: str) -> str:
            screen.write(prompt)
            line = next(waiting, None)
            if line is None:
                raise EOFError
            if line == "^C":
                raise KeyboardInterrupt
            screen.write(f"{line}\n")
            return line

        interview = Interview(knowledge, kept / folder, console, read_line)
        code = interview.run(said, go_on)
        return Held(code, screen.getvalue(), interview)

    return hold
