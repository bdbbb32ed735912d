"""A copy of the small knowledge that a test may spoil."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from pathlib import Path

import pytest

from diagnose import KnowledgeError, load_knowledge

HERE = "¦"
"""Marks, in a text that a test writes, the place that the message has to name."""

SMALL = Path(__file__).parent / "small"


def marked(text: str) -> tuple[str, int, int]:
    """The text without the mark, and the line and column (from 1) that it stood at."""
    before, mark, after = text.partition(HERE)
    assert mark, "the text marks no place"
    line = before.count("\n") + 1
    return before + after, line, len(before) - before.rfind("\n")


@dataclass(frozen=True)
class KnowledgeCopy:
    """A knowledge folder in which files are written and edited."""

    folder: Path

    @classmethod
    def of_small(cls, folder: Path) -> KnowledgeCopy:
        """A fresh copy of the small knowledge."""
        shutil.copytree(SMALL, folder)
        return cls(folder)

    def path(self, file: str) -> Path:
        return self.folder / file

    def text(self, file: str) -> str:
        return self.path(file).read_text("utf-8")

    def write(self, file: str, text: str) -> str:
        """Write a file; the place that is marked in it, as 'file:line:column'."""
        plain, line, column = marked(text)
        self.path(file).parent.mkdir(parents=True, exist_ok=True)
        self.path(file).write_bytes(plain.encode("utf-8"))
        return f"{self.path(file)}:{line}:{column}"

    def edit(self, file: str, old: str, new: str) -> str:
        """Replace the first `old`; the place marked in `new`, as 'file:line:column'."""
        text = self.text(file)
        assert old in text, f"{file} has no {old!r}"
        return self.write(file, text.replace(old, new, 1))

    def faults(self) -> list[str]:
        """What is said of the folder, a line for each fault."""
        with pytest.raises(KnowledgeError) as raised:
            load_knowledge(self.folder)
        lines = str(raised.value).split("\n")
        assert lines == [str(problem) for problem in raised.value.problems]
        return lines
