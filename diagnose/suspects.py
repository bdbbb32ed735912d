"""The causes that a person names in their own words: 'I'm sure it's underexposed'.

They are beliefs, not answers: nothing is weighed by them. They are told where the
cause stands, so that someone who is sure of the wrong thing sees why it is not first.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

from diagnose.english import root_of
from diagnose.records import Knowledge
from diagnose.sentences import Word, cut, denies

GAP = 1
"""So many other words may stand between the words of a name."""

DENIED = 3
"""So many words before a name may deny it."""


def suspected(knowledge: Knowledge, text: str) -> list[str]:
    """The causes that are named in a text and not denied there, in the order said."""
    words = cut(text)
    roots = [root_of(word.text) for word in words]
    found: dict[str, tuple[int, int]] = {}
    for cause, wanted in _names(knowledge):
        for first, last in _places(roots, wanted, words):
            if not _denied(words, first):
                place = (first, -(last - first))
                found[cause] = min(place, found.get(cause, place))
    return sorted(found, key=lambda cause: (found[cause], cause))


@lru_cache(maxsize=4)
def _names(knowledge: Knowledge) -> list[tuple[str, list[str]]]:
    """The roots of each name of each cause."""
    return [
        (cause.id, [root_of(word.text) for word in cut(name)])
        for cause in knowledge.causes.values()
        for name in cause.called
    ]


def _denied(words: list[Word], at: int) -> bool:
    """Whether a word shortly before, in the same breath, denies what stands there."""
    for n in range(at, max(at - DENIED, 0), -1):
        if words[n].comma or words[n - 1].clause != words[at].clause:
            return False
        if denies(words, n - 1):
            return True
    return False


def _places(
    roots: list[str], wanted: list[str], words: list[Word]
) -> Iterator[tuple[int, int]]:
    """From where to where a name stands, its words in order and in one clause."""
    for first, root in enumerate(roots):
        if root != wanted[0]:
            continue
        at = first
        for next_root in wanted[1:]:
            ahead = range(at + 1, min(at + 2 + GAP, len(roots)))
            at = next((n for n in ahead if roots[n] == next_root), -1)
            if at < 0:
                break
        if at >= 0 and words[at].clause == words[first].clause:
            yield first, at
