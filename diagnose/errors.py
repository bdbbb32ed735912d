"""Every error this package raises on purpose, in one tree.

DiagnoseError            something the person can put right; exit code 2
├── KnowledgeError       the knowledge folder has faults; holds every problem
├── SheetError           an answer sheet or a saved consultation can't be read
├── CaseError            a case, or a table of cases, that can't be read
├── AnswerError          an answer that the question does not take
├── CalculationError     numbers that nothing can be worked out from
├── FolderError          a folder or file that can't be read or written
└── YamlError            a text that is not the plain YAML read here (see `yamltext`)
"""

from __future__ import annotations

import difflib
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

LONGEST = 60
"""Characters of a word that a message repeats."""

FEW = 9
"""So many valid names are listed where none is near."""


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """Where something stands in a file; line and column count from 1."""

    file: str
    line: int
    column: int = 1

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"


@dataclass(frozen=True, slots=True, order=True)
class Problem:
    """One fault in the knowledge: where, which record, which check, what is wrong."""

    place: Place
    record: str
    check: str
    says: str
    warning: bool = False

    def __str__(self) -> str:
        mark = "warning: " if self.warning else ""
        return f"{self.place}: {self.record}: {self.check}: {mark}{self.says}"


class DiagnoseError(Exception):
    """Something the person can put right. The message is one clear sentence."""


class KnowledgeError(DiagnoseError):
    """The knowledge has faults; `problems` holds them all, in file order."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(sorted(problems))
        super().__init__("\n".join(str(p) for p in self.problems))


class SheetError(DiagnoseError):
    """An answer sheet or a saved consultation that can't be read."""


class CaseError(DiagnoseError):
    """A case, a table of cases, or a mapping for one that can't be read."""


class AnswerError(DiagnoseError):
    """An answer that the question does not take."""


class CalculationError(DiagnoseError):
    """Numbers that nothing can be worked out from, such as threads that overlap."""


class FolderError(DiagnoseError):
    """A folder or a file that can't be read or written."""


def quoted(word: str) -> str:
    """A word as it stands in a message: in quotes, on one line, and not too long."""
    return repr(word if len(word) <= LONGEST else f"{word[:LONGEST]}…")


def near(word: str, known: Iterable[str], least: float = 0.6) -> str | None:
    """The nearest valid name; None where none is alike by at least so much."""
    if len(word) > LONGEST:
        return None
    found = difflib.get_close_matches(word, list(known), n=1, cutoff=least)
    return found[0] if found else None


def nearest(word: str, known: Iterable[str]) -> str:
    """' (did you mean X?)' for the nearest valid name, or '' where none is near."""
    meant = near(word, known)
    return f" (did you mean {meant!r}?)" if meant is not None else ""


def missing(what: str, word: str, hint: str = "") -> str:
    """'there is no X', without a look at the valid names."""
    return f"there is no {what} {quoted(word)}{hint}."


def unknown(
    what: str,
    word: str,
    known: Collection[str],
    listed: Collection[str] | None = None,
) -> str:
    """'there is no X', with the nearest valid name, or all of them if they are few.

    Where `listed` is given, these are listed in place of all.
    """
    listed = known if listed is None else listed
    hint = nearest(word, known)
    if not hint and 0 < len(listed) <= FEW:
        hint = f" (one of: {', '.join(listed)})"
    return missing(what, word, hint)


def shortened(words: Sequence[str]) -> str:
    """Words in quotes after one another, the first few of many."""
    more = len(words) - FEW
    told = ", ".join(map(repr, words if more <= 1 else words[:FEW]))
    return told if more <= 1 else f"{told} or one of {more} more"
