"""What `diagnose check` says of the languages of a knowledge folder."""

from __future__ import annotations

import string
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from diagnose.errors import KnowledgeError, Place, Problem
from diagnose.knowledge import Reader
from diagnose.language import (
    ENGLISH,
    INTERFACE,
    LANGUAGES,
    WORDS,
    languages,
    read_catalogue,
    read_words,
)
from diagnose.translation import read_texts


@dataclass(frozen=True, slots=True)
class LanguageReport:
    """What is wrong with a language, and how far it goes.

    `texts` and `messages` are how many texts of the knowledge, and of the interface,
    are translated, of how many.
    """

    code: str
    problems: tuple[Problem, ...]
    texts: tuple[int, int]
    messages: tuple[int, int]

    def __str__(self) -> str:
        done, there = self.texts
        says = f"{self.code}: {done} of {there} texts of the knowledge are translated"
        if self.messages[1]:
            says += f", {self.messages[0]} of {self.messages[1]} of the interface"
        return f"{says}."


def reports(folder: Path) -> Iterator[LanguageReport]:
    """A report for each language but English.

    Args:
        folder: a knowledge folder that has no faults in English.
    """
    for code in languages(folder / LANGUAGES):
        if code == ENGLISH:
            continue
        home = folder / LANGUAGES / code
        texts = read_texts(home, counts=True)
        reader = Reader(folder, texts)
        knowledge = reader.read()
        problems = [*reader.problems, *reader.references(knowledge)]
        messages = (0, 0)
        try:
            if (home / INTERFACE).exists():
                catalogue = read_catalogue(home / INTERFACE)
                messages = (len(catalogue.translated_entries()), len(catalogue))
                problems += _misfits(home / INTERFACE, catalogue)
            if (home / WORDS).exists():
                read_words(home / WORDS)
        except KnowledgeError as error:
            problems += error.problems
        counts = (texts.done, texts.there)
        yield LanguageReport(code, tuple(sorted(problems)), counts, messages)


def _misfits(path: Path, catalogue: Any) -> Iterator[Problem]:
    """The texts whose braces are not those of the English text."""
    for entry in catalogue.translated_entries():
        english = braces(entry.msgid_plural or entry.msgid)
        for text in entry.msgstr_plural.values() or [entry.msgstr]:
            if braces(text) - english or (
                not entry.msgid_plural and braces(text) != english
            ):
                wanted = " ".join(sorted(english)) or "none"
                says = f"the braces are not those of the English text: {wanted}."
                place = Place(str(path), entry.linenum)
                yield Problem(place, entry.msgid[:40], "braces", says)


def braces(text: str) -> set[str]:
    """The names in braces, each as '{name}'; '{' where they can't be read."""
    try:
        parts = list(string.Formatter().parse(text))
    except ValueError:
        return {"{"}
    return {f"{{{name}}}" for _, name, _, _ in parts if name is not None}
