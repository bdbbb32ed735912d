"""Invented people at the interview: what is so in their shop, and what they type.

A person answers what is asked by what is so in a world drawn for their causes, not by a
list of lines, so that their consultation goes on making sense when the knowledge grows
and other questions come.
"""

from __future__ import annotations

import io
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from diagnose.model import model_of
from diagnose.questions import Question
from diagnose.records import Knowledge
from diagnose.screens import new_console
from diagnose.sheets import DONT_KNOW
from diagnose.terminal import Interview
from diagnose.worlds import World

LONGEST = 120
"""Lines that a person types at most."""

SHORT = {"yes": "y", "no": "n", "somewhat": "s"}


class Person:
    """Someone who types answers.

    Args:
        scenario: `causes` and `seed` of their world, `says` (own words, at the start),
            `stage` (typed where it is asked), `sees` (typed at the list of signs),
            `meant` (taken where words could mean several things), `answers` (finding
            or tool: what they answer, whatever their world says), `unknown` (roles of
            findings that they know nothing of),
            `asides` (the number of a question: lines that they type before they answer
            it), `tries` (fixes of the plan, and whether each worked).
        kept: where the consultation is kept.
    """

    def __init__(
        self, knowledge: Knowledge, scenario: Mapping[str, Any], kept: Path
    ) -> None:
        self._scenario = scenario
        self._world = World(
            model_of(knowledge), tuple(scenario["causes"]), str(scenario["seed"])
        )
        self._asides: dict[Any, list[str]] = {
            at: list(says) for at, says in self._part("asides").items()
        }
        self._tries = list(scenario.get("tries", []))
        self._lines = 0
        self._screen = io.StringIO()
        self._read_up_to = 0
        console = new_console(file=self._screen)
        self.interview = Interview(knowledge, kept, console, self._type)

    def _part(self, name: str) -> Mapping[str, Any]:
        return self._scenario.get(name) or {}

    def consult(self) -> str:
        """Hold the interview.

        Returns:
            All that was on the screen, with what was typed.
        """
        self.interview.run(self._scenario.get("says", ""))
        return self._screen.getvalue()

    def _type(self, prompt: str) -> str:
        new = self._screen.getvalue()[self._read_up_to :]
        self._lines += 1
        if self._lines > LONGEST:
            raise EOFError
        text = self._answer(" ".join(new.split()))
        self._screen.write(f"{prompt}{text}\n")
        self._read_up_to = len(self._screen.getvalue())
        return text

    def _answer(self, new: str) -> str:
        """What is typed at what stands on the screen since the last line."""
        if "Where are you in the work?" in new:
            return str(self._scenario["stage"])
        if "Did it work?" in new:
            return SHORT[self._tries.pop(0)["worked"]]
        if "What did you try?" in new:
            return str(self._tries[0]["fix"]) if self._tries else "?"
        if "What do you see?" in new:
            return str(self._scenario["sees"])
        if "Which is it?" in new or "is it one of these?" in new:
            return str(self._scenario.get("meant", "0"))
        if "Is one of them to change?" in new:
            return str(self._scenario.get("changed", "0"))
        return self._to_questions()

    def _to_questions(self) -> str:
        asked = self.interview._next_questions()
        for question in asked:
            asides = self._asides.get(self.interview._number(question))
            if asides:
                return str(asides.pop(0))
        return " ".join(self._short(question) for question in asked)

    def _short(self, question: Question) -> str:
        """The answer as it is typed."""
        own = self._part("answers").get(question.id)
        if question.kind == "tool":
            return SHORT.get(own or "no", "n")
        role = self.interview.knowledge.findings[question.id].role
        if own is None and role in self._scenario.get("unknown", ()):
            return "?"
        answer = str(own or self._world.answer(question))
        if answer == DONT_KNOW or question.kind == "reading":
            return answer.replace(DONT_KNOW, "?")
        if answer in SHORT and "yes" in question.takes:
            return SHORT[answer]
        return str(list(question.takes).index(answer) + 1)


def tidy(screen: str) -> str:
    """A screen without what differs from one run to the next: the folder, the day."""
    return re.sub(r"(Kept in:) .*(?:\n(?=\S*\.yaml).*)*", r"\1 […]", screen)
