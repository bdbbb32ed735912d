"""The words of the trade: which of them stand in a text, and which one is meant."""

from __future__ import annotations

import functools
import re
import unicodedata
from collections.abc import Iterator

from diagnose.errors import near
from diagnose.records import Knowledge, Term

SLIP = 0.75
"""So much alike are a word and a slip of the pen for it."""

ARTICLES = ("a ", "an ", "the ")
WHERE = ("in ", "on ", "at ", "during ")
"""So begins what stands in a text, and is no word by itself."""


class Glossary:
    """The terms of one knowledge, found by their words."""

    def __init__(self, terms: dict[str, Term]) -> None:
        self.terms = terms
        self._by_word = {
            plain(word): term for term in terms.values() for word in words_of(term)
        }
        longest_first = sorted(self._by_word, key=lambda word: (-len(word), word))
        words = "|".join(map(_in_text, longest_first))
        self._pattern = re.compile(rf"(?<![\w-])(?:{words})(?![\w-])")

    def standing_in(self, text: str) -> list[Term]:
        """The terms whose words stand in a text, in its order.

        Whole words count, and the longest term where one lies in another: 'emulsion
        over mesh' is neither 'emulsion' nor 'mesh'.
        """
        if not self._by_word:
            return []
        found = (
            self._by_word[plain(word[0])] for word in self._pattern.finditer(_low(text))
        )
        return list({term.id: term for term in found}.values())

    def called(self, words: str) -> Term | None:
        """The term that is called so."""
        return self._by_word.get(_asked(words))

    def named(self, words: str) -> Term | None:
        """The term that is meant: what is called so, or what is nearest."""
        said = _asked(words)
        if said in self._by_word:
            return self._by_word[said]
        meant = near(said, self._by_word, SLIP)
        if meant is not None:
            return self._by_word[meant]
        inside = self.standing_in(said)
        return inside[0] if len(inside) == 1 else None


@functools.lru_cache(maxsize=4)
def glossary_of(knowledge: Knowledge) -> Glossary:
    """The terms of a knowledge, kept for as long as it is in use."""
    return Glossary(knowledge.terms)


def words_of(term: Term) -> Iterator[str]:
    """All that a term is called."""
    yield term.name
    yield from term.also


def _asked(words: str) -> str:
    """What is asked for, without an article and what stands round it."""
    said = plain(words.strip(" ?.!\"'“”‘’"))
    for article in ARTICLES:
        said = said.removeprefix(article)
    return said


def other_words(term: Term) -> list[str]:
    """What a term is called besides, without its plurals and whole phrases."""
    name = plain(term.name)
    return [
        word
        for word in term.also
        if name not in plain(word) and not word.startswith((*ARTICLES, *WHERE))
    ]


def plain(word: str) -> str:
    """A word without capitals, and with single spaces for hyphens and line ends."""
    return " ".join(_low(word).replace("-", " ").split())


def _low(text: str) -> str:
    """A text without capitals, each letter written in one way: there are two µ."""
    return unicodedata.normalize("NFKC", text).casefold()


def _in_text(word: str) -> str:
    """The pattern of a word, with a hyphen, a space or a line end between its parts."""
    return r"(?:-|\s+)".join(map(re.escape, word.split()))
