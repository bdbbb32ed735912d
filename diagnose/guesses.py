"""What words that were not understood may mean: the findings that are said most alike.

Nothing is taken from a guess; the person is asked. Each way of saying a finding (name,
question, phrases, and what is said of it loosely) is a set of roots; a stretch of text
is near it by the roots that they share, the rare ones counting for more.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from math import log

from diagnose.patterns import Phrasebook
from diagnose.records import Knowledge
from diagnose.sentences import Word, cut, denies

JOINTS = frozenset({"and", "but", "so", "because", "then", "since"})
"""Words that begin another stretch."""

OFFERED = 3
"""So many meanings are offered for a stretch."""

ASKED = 2
"""So many stretches are asked about at a time, so that nobody is questioned about
each of their words."""

LEAST = 3.0
"""A meaning that is less near is not offered."""

FEWEST = 2
"""A stretch of fewer words with a meaning says too little."""

UNTAKEN = 0.3
"""Where a larger share of a stretch was understood, the rest is left."""

HOLD = 2.0
"""Keeps a saying of one or two common words from being near everything."""

BESIDE = 0.35
"""What all the other ways of saying the finding count beside the nearest one."""


@dataclass(frozen=True, slots=True)
class Maybe:
    """A stretch that was not understood, and what it may mean, the nearest first."""

    words: str
    start: int
    end: int
    meanings: tuple[tuple[str, str], ...]
    """Findings, each with its value."""


class Guesses:
    """Knows how near words are to each finding.

    Args:
        knowledge: whose findings they are.
        book: the roots of its phrases.
    """

    def __init__(self, knowledge: Knowledge, book: Phrasebook) -> None:
        self._vocabulary = book.vocabulary
        self._decides = {
            one.id: one.measured_by
            for one in knowledge.findings.values()
            if one.measured_by
        }
        self._sayings: list[tuple[tuple[str, str], frozenset[str]]] = []
        for id, finding in knowledge.recorded().items():
            if finding.kind == "reading":
                continue
            for value, text in self._loose(knowledge, id):
                self._add(id, value, self._roots(text))
            for saying in book.sayings(id):
                if saying.value:
                    self._add(id, saying.value, saying.roots)
        meanings: dict[str, set[tuple[str, str]]] = defaultdict(set)
        self._at: dict[str, list[int]] = defaultdict(list)
        self._uses: dict[tuple[str, str], Counter[str]] = defaultdict(Counter)
        for n, (meaning, roots) in enumerate(self._sayings):
            self._uses[meaning].update(roots)
            for root in roots:
                meanings[root].add(meaning)
                self._at[root].append(n)
        self._tells = {
            root: log(1 + len(self._uses) / len(found))
            for root, found in meanings.items()
        }
        self._weighs = [
            sum(self._tells[root] for root in roots) for _, roots in self._sayings
        ]

    def _loose(self, knowledge: Knowledge, id: str) -> Iterator[tuple[str, str]]:
        """What is said of a finding beside its phrases, each with the value meant."""
        finding = knowledge.findings[id]
        loosely = knowledge.loosely.get(id)
        if finding.kind == "yes-no":
            yield "yes", finding.question
            yield "yes", finding.sentence("yes")
            for text in loosely.said if loosely else ():
                yield "yes", text
        for choice in finding.choices:
            yield choice.id, choice.says
            for text in loosely.values.get(choice.id, ()) if loosely else ():
                yield choice.id, text

    def _add(self, id: str, value: str, roots: frozenset[str]) -> None:
        if roots:
            self._sayings.append(((id, value), roots))

    def _roots(self, text: str) -> frozenset[str]:
        said = self._vocabulary.with_roots(cut(text))
        return frozenset(root for word in said for root in word.roots)

    def of(
        self,
        text: str,
        words: list[Word],
        taken: Collection[int],
        known: Collection[str],
    ) -> Iterator[Maybe]:
        """What the stretches of a text that were not understood may mean.

        Args:
            text: what was written.
            words: its words, with their roots.
            taken: the places of the words that were understood.
            known: the findings that were heard in the text.
        """
        for stretch in _stretches(words):
            telling = [n for n in stretch if words[n].roots]
            understood = sum(n in taken for n in telling)
            if len(telling) < FEWEST or understood > UNTAKEN * len(telling):
                continue
            if any(denies(words, n) for n in stretch):
                continue
            roots = {root for n in telling for root in words[n].roots}
            meanings = tuple(
                meaning
                for meaning in self._nearest(roots)
                if meaning[0] not in known
                and self._decides.get(meaning[0]) not in known
            )
            if meanings:
                start, end = words[telling[0]].start, words[telling[-1]].end
                yield Maybe(text[start:end], start, end, meanings)

    def _nearest(self, roots: Collection[str]) -> list[tuple[str, str]]:
        """The meanings that are said most alike, one of each finding."""
        shared: dict[int, float] = defaultdict(float)
        for root in roots:
            for n in self._at.get(root, ()):
                shared[n] += self._tells[root]
        near: dict[tuple[str, str], float] = defaultdict(float)
        for n, weight in shared.items():
            meaning = self._sayings[n][0]
            near[meaning] = max(near[meaning], weight**2 / (self._weighs[n] + HOLD))
        for meaning in near:
            uses = self._uses[meaning]
            near[meaning] += BESIDE * sum(
                self._tells[root] * uses[root] / (uses[root] + HOLD)
                for root in roots
                if root in uses
            )
        best: dict[str, tuple[str, str]] = {}
        for meaning in sorted(near, key=lambda one: (-near[one], one)):
            if near[meaning] >= LEAST and len(best) < OFFERED:
                best.setdefault(meaning[0], meaning)
        return list(best.values())


def _stretches(words: list[Word]) -> Iterator[list[int]]:
    """The places of the words of each stretch: up to a comma, a clause or a joint."""
    stretch: list[int] = []
    for n, word in enumerate(words):
        apart = word.comma or word.text in JOINTS or word.clause != words[n - 1].clause
        if stretch and apart:
            yield stretch
            stretch = []
        if word.text not in JOINTS:
            stretch.append(n)
    if stretch:
        yield stretch
