"""Mesh counts as they are said: '43T', '77-48', '305 mesh', 'a 230'.

A bare number counts threads to the centimetre or to the inch. Where only one of them
is a mesh that is made, that one is meant; else both are given, and have to be asked.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

from diagnose.english import STOP
from diagnose.records import Finding
from diagnose.sentences import Word, doubts

UNIT, BY_INCH = "threads/cm", "threads/in"
INCH = 2.54
"""cm"""
FINEST, FINE = 200, 110
"""Threads to the centimetre: no mesh is finer; few are finer."""
NEAR = 3
"""How many words from the number a word that speaks of mesh may stand."""
SAME = 0.01
"""Counts that differ by this share are the same."""
OPEN = (0.15, 0.85)
"""What share of the distance of two threads may be open."""
SAID = re.compile(
    r"(?<![\w.,/:+×-])(?P<count>\d{2,3})"
    r"(?:(?P<by_cm> ?T\b(?!-)|t\b(?!-))|[-/.](?P<thread>\d{2,3}))?"
    r"(?![\w%/]|[.,:-]\d|\s*t(?:pi|/in|hreads)\b"
    r"|\s*(?:[%°]|(?:per ?cent|degrees?|[CF]|[µu]m|microns?|[cm]m|N|thou|mil)\b)"
    r"|\s*(?:inch(?:es)?|s|secs?|seconds?|min(?:ute)?s?|h|hours?|lpi|lines)\b"
    r"|\s*(?:prints?|shirts?|coats?)\b)"
)


@dataclass(frozen=True, slots=True)
class Mesh:
    """A mesh count that was said; `values` are two where it can mean both."""

    finding: str
    values: tuple[str, ...]
    start: int
    end: int
    at: range


class SpokenMesh:
    """Knows the counts of meshes, and the words that speak of them.

    Args:
        findings: those of the readings that are mesh counts are heard.
        uses: the roots of the phrases of each finding.
        counts: counts that are woven, in threads/cm.
    """

    def __init__(
        self,
        findings: Mapping[str, Finding],
        uses: Mapping[str, Collection[str]],
        counts: Collection[float],
    ) -> None:
        ids = [one.id for one in findings.values() if one.unit == UNIT]
        self._id = ids[0] if ids else ""
        named = findings[self._id].name.split() if ids else []
        self._about = {root for root in uses.get(self._id, ()) if root in named}
        self._counts = counts

    def listen(self, text: str, words: list[Word]) -> Iterator[Mesh]:
        """The mesh counts in a text that are not doubted."""
        starts = [word.start for word in words]
        for found in SAID.finditer(text) if self._id else ():
            first = bisect_left(starts, found.start())
            last = bisect_left(starts, found.end()) - 1
            count, thread = int(found["count"]), found["thread"]
            named = self._named(words, first, last)
            if found["by_cm"]:
                units = [UNIT] if count <= FINEST else []
            elif thread:
                wide = 1 - int(thread) * count / 10_000
                units = [UNIT] if named and OPEN[0] < wide < OPEN[1] else []
            elif named:
                units = self._units(count)
            else:
                units = [BY_INCH] if self._only_said(count, words, first, last) else []
            if units and not any(doubts(words, n) for n in range(first)[-NEAR:]):
                values = tuple(f"{count} {unit}" for unit in units)
                at = range(first, max(first, last) + 1)
                yield Mesh(self._id, values, *found.span(), at)

    def _named(self, words: list[Word], first: int, last: int) -> bool:
        """Whether what is counted is named right after the number, or before it."""
        clause = words[first].clause
        after = words[last + 1 : last + 2]
        before = [w for w in words[max(0, first - NEAR) : first] if w.clause == clause]
        return any(
            self._about & set(word.roots)
            for word in (*before, *after)
            if word.clause == clause
        )

    def _units(self, count: int) -> list[str]:
        """What a bare count can count."""
        if count > FINEST:
            return [BY_INCH]
        if count < FINE and self._made(count) and not self._made(count / INCH):
            return [UNIT]
        return [UNIT, BY_INCH]

    def _only_said(self, count: int, words: list[Word], first: int, last: int) -> bool:
        """Whether it is a number by itself that can only be a mesh: 'on a 305'."""
        after = words[last + 1 : last + 2]
        alone = (
            not after
            or after[0].text in STOP
            or after[0].comma
            or after[0].clause > words[last].clause
        )
        article = first > 0 and words[first - 1].text in ("a", "the", "same", "our")
        return article and alone and count > FINEST and self._made(count / INCH)

    def _made(self, count: float) -> bool:
        """Whether a mesh of that many threads to the centimetre is made."""
        return any(abs(count - one) <= SAME * one for one in self._counts)
