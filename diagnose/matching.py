"""Where the patterns of the findings are met in a text.

A pattern is met where enough of its weight stands close together.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from math import inf

from diagnose.patterns import DENIAL, Pattern, Phrasebook
from diagnose.sentences import SCOPE, Word, denied_near

LEAST_SHARE = 0.6
"""The share of a pattern that has to be there, whatever else speaks for it."""
EXTRA, SPREAD = 0.6, 0.3
"""What a word close by tells that other phrases of the finding have; how much words in
between take away."""
SLACK, BESIDE = 4, 1
"""Words in between; words beside."""
HAIR = 1e-9


@dataclass(frozen=True, slots=True)
class Match:
    """A pattern met at some words of the text; `share` is how much of it is there."""

    pattern: Pattern
    at: tuple[int, ...]
    score: float
    share: float


class Matcher:
    """Finds where patterns are met."""

    def __init__(self, book: Phrasebook) -> None:
        self._book = book
        self._index: dict[str, list[int]] = defaultdict(list)
        for n, pattern in enumerate(book.patterns):
            for root in pattern.weights:
                self._index[root].append(n)

    def matches(self, words: list[Word]) -> list[Match]:
        """Every pattern that is met, the heaviest first."""
        places: dict[int, list[tuple[int, str]]] = defaultdict(list)
        for at, word in enumerate(words):
            for root in word.roots:
                for n in self._index.get(root, ()):
                    places[n].append((at, root))
        found = [
            match
            for n, hits in places.items()
            for match in self._meet(self._book.patterns[n], hits, words)
        ]
        return sorted(found, key=lambda match: (-match.score, match.at))

    def _meet(
        self, pattern: Pattern, hits: list[tuple[int, str]], words: list[Word]
    ) -> Iterator[Match]:
        """Where enough of a pattern stands close together."""
        for n, (first, _) in enumerate(hits):
            got: dict[str, int] = {}
            end = words[first].place + len(pattern.weights) + SLACK
            for hit, root in hits[n : n + 40]:
                if words[hit].place > end:
                    break
                got.setdefault(root, hit)
            at = tuple(sorted(set(got.values())))
            whole = len(got) == len(pattern.weights)
            if pattern.thin and not (whole and _unbroken(words, at)):
                continue
            if not pattern.plain and _stretch(words, at) > len(at):
                continue
            if pattern.denied and not denied_near(words, at):
                continue
            if not all(key & got.keys() for key in pattern.keys):
                continue
            if not _counted(pattern, got, words):
                continue
            if not pattern.after <= {w.text for w in words[max(0, at[0] - 4) : at[0]]}:
                continue
            weight = sum(
                pattern.weights[r] * words[hit].trust for r, hit in got.items()
            )
            weight += DENIAL * (pattern.denied and pattern.value == "yes")
            share = weight / pattern.total
            if share < LEAST_SHARE:
                continue
            if pattern.value == "yes":
                beside = self._beside(pattern, words, at, set(got))
                weight += EXTRA * sum(beside.values())
                at = tuple(sorted({*at, *beside}))
            need = pattern.need
            if len(at) == 1 and not whole:
                need = pattern.alone if any(map(self._book.tells, got)) else inf
            if weight >= need - HAIR:
                loose = _stretch(words, at) / len(at)
                score = weight * min(1.0, weight / pattern.total) / loose**SPREAD
                yield Match(pattern, at, score, share)

    def _beside(
        self, pattern: Pattern, words: list[Word], at: tuple[int, ...], got: set[str]
    ) -> dict[int, float]:
        """Words close by that other phrases of the finding have, and what they tell."""
        least, most = words[at[0]].place - BESIDE, words[at[-1]].place + BESIDE
        uses, found = self._book.uses_by[pattern.finding, pattern.denied], {}
        for n in range(max(0, at[0] - SCOPE), min(len(words), at[-1] + SCOPE)):
            for root in words[n].roots if least <= words[n].place <= most else ():
                if root in uses and root not in got:
                    got.add(root)
                    share = uses[root] / self._book.totals[root]
                    found[n] = self._book.rarity(root) * share**0.4
        return found


def _stretch(words: list[Word], at: tuple[int, ...]) -> int:
    """How many words with a meaning there are from the first to the last of these."""
    return words[at[-1]].place - words[at[0]].place + 1


def _unbroken(words: list[Word], at: tuple[int, ...]) -> bool:
    """Whether no word with a meaning, and no 'and', stands between these."""
    between = words[at[0] : at[-1]]
    return _stretch(words, at) <= len(at) and all(w.text != "and" for w in between)


def _counted(pattern: Pattern, got: dict[str, int], words: list[Word]) -> bool:
    """Whether each number stands right before what it counts."""
    return all(
        0 < words[got[what]].place - words[got[number]].place <= 2
        for number, what in pattern.counts
        if number in got and what in got
    )
