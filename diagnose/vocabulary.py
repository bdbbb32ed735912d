"""The words that names and phrases are made of, and what they mean: their roots."""

from __future__ import annotations

from collections.abc import Iterable

from diagnose.english import HEDGES, NUMBERS, SMALL, STOP, likely_slip, root_of
from diagnose.language import words
from diagnose.sentences import Word

SLIP = 0.85
"""What a word spelt wrongly tells."""
ENDING = 4
"""So many letters may be an ending."""
FAR = 1000
"""How far apart words count where a comma or the end of a clause parts them."""


class Vocabulary:
    """Known words; others are taken back to them where they are joined or misspelt.

    Of `alike` words the first stands for the others.
    """

    def __init__(self, known: Iterable[str], alike: Iterable[list[str]] = ()) -> None:
        self._alike = {
            root_of(word): root_of(first) for first, *rest in alike for word in rest
        }
        self._words = {word for word in known if not word[0].isdigit()} - STOP
        self._beginnings = {
            word[:at] for word in self._words for at in range(3, len(word) + 1)
        }
        self.roots = {self.root_of(word) for word in self._words}
        self._known = {
            word: self._halves(word) or (self.root_of(word),)
            for word in sorted(self._words)
        }

    def root_of(self, word: str) -> str:
        """The root of a word, or that of the word it is as good as."""
        root = root_of(word)
        return self._alike.get(root, root)

    def roots_of(self, word: str) -> tuple[str, ...]:
        """The roots of a word, as it is spelt."""
        return self._known.get(word) or self._halves(word) or (self.root_of(word),)

    def with_roots(self, words: list[Word]) -> list[Word]:
        """The same words with their roots; known words written apart are joined."""
        made: list[Word] = []
        for word in words:
            last = made[-1] if made else None
            whole = word.text in STOP or word.comma
            if last and last.clause == word.clause and not whole:
                joined = last.text + word.text
                if self._begins(joined, 6) and not self._halves(joined):
                    root = self.root_of(joined)
                    if root in self.roots:
                        last.text, last.end, last.roots = joined, word.end, (root,)
                        continue
            small = word.text in SMALL and last and last.text == "a"
            large = word.text[0].isdigit() and word.text not in NUMBERS.values()
            if not (small or large or word.text in STOP):
                word.roots, word.trust = self._look_up(word.text)
            made.append(word)
        place = 0
        for n, word in enumerate(made):
            if word.comma or (n and word.clause != made[n - 1].clause):
                place += FAR
            word.place = place
            place += len(word.roots) > 0
        return made

    def _begins(self, word: str, least: int) -> bool:
        """Whether a known word begins like this one, but for an ending."""
        beginning = word[: max(least, len(word) - ENDING)]
        return len(word) >= least and beginning in self._beginnings

    def _halves(self, word: str) -> tuple[str, ...]:
        """The roots of the two known words that a word is made of, if it is.

        Only English ones are: the short roots of other stemmers would fit anything.
        """
        if words().stemmer:
            return ()
        for at in range(3, len(word) - 2):
            first, second = word[:at], word[at:]
            if first not in self._words or not self._begins(second, 3):
                continue
            if self.root_of(second) in self.roots:
                return self.root_of(first), self.root_of(second)
        return ()

    def _look_up(self, word: str) -> tuple[tuple[str, ...], float]:
        """The roots of a word and how sure they are; a slip of the pen is forgiven."""
        roots = self.roots_of(word)
        known = roots[0] in self.roots or word in HEDGES
        if known or not 4 <= len(word) <= 30:
            return roots, 1.0
        from rapidfuzz import process
        from rapidfuzz.distance import OSA

        for near, _, _ in process.extract(
            word,
            self._known.keys(),
            scorer=OSA.distance,
            score_cutoff=1 if len(word) < 8 else 2,
            limit=3,
        ):
            if likely_slip(word, near):
                return self._known[near], SLIP
        return roots, 1.0
