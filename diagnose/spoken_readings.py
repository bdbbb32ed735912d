"""Readings in a text: numbers with a unit, or right after the words of a reading."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import inf

from diagnose.patterns import Phrasebook
from diagnose.readings import SAME
from diagnose.records import Finding
from diagnose.sentences import Word, doubts
from diagnose.vocabulary import FAR

ABOUT = 0.33
"""What the words near a number have to tell of a reading."""
NEAR = 8
"""How many words around a number are near it."""
EVERYDAY = frozenset(
    {"", "s", "min", "mins", "h", "cm", "mm", "um", "µm", "μm", "micron", "microns"}
    | {"°", "deg", "degree", "degrees", "thread", "threads", "dot", "dots", "t", "t/cm"}
    | {"%", "percent", "pct", "per cent", "%rh", "% rh", "rh"}
)
"""Units of many things beside readings; a word has to say what was measured."""
NUMBER = r"(?>\d+(?:[.,]\d+)?)"
QUANTITY = re.compile(
    rf"(?<![\w.,/:+×-]){NUMBER}(?:\s*;\s*{NUMBER})*(?:\s*±\s*{NUMBER})?"
    r"(?!\s?[-–/:×x]\s?\d)"
)


@dataclass(frozen=True, slots=True)
class Measured:
    """A reading with its number and unit, where it stands, and its words."""

    finding: str
    value: str
    start: int
    end: int
    at: range


class SpokenReadings:
    """Knows how units may be written, and the words that speak of readings."""

    def __init__(self, findings: Mapping[str, Finding], book: Phrasebook) -> None:
        self._findings = findings
        readings = [one for one in findings.values() if one.kind == "reading"]
        self._units: dict[str, list[str]] = defaultdict(list)
        for finding in readings:
            for name in _unit_names(finding.unit or ""):
                self._units[name].append(finding.id)
        names = sorted(self._units, key=len, reverse=True)
        self._unit = re.compile(
            r"\s*(?:degrees?\s*|deg\.?\s*|[°º]\s*)?"
            rf"(?P<unit>{'|'.join(map(re.escape, names))})(?![^\W\d_])",
            re.IGNORECASE,
        )
        self._scaled = {one.id for one in readings if "°" in (one.unit or "")}
        measured = Counter[str]()
        for one in findings.values():
            if one.kind == "reading" or one.measured_by:
                measured.update(book.uses[one.id])
        self._about = {
            one.id: {
                root: book.rarity(root) * measured[root] / book.totals[root]
                for root in book.uses[one.id]
            }
            for one in readings
        }

    def listen(self, text: str, words: list[Word]) -> Iterator[Measured]:
        """The readings in a text that are not doubted."""
        starts = [word.start for word in words]
        for found in QUANTITY.finditer(text) if self._units else ():
            start, end = found.span()
            first = bisect_left(starts, start)
            written = ""
            if unit := self._unit.match(text, end):
                written, end = unit["unit"].lower(), unit.end()
            elif (named := self._unit_before(words, first)) is not None:
                first, start, written = named, words[named].start, words[named].text
            last = bisect_left(starts, end) - 1
            around = words[max(0, first - NEAR) : last + NEAR + 1]
            around = [word for word in around if word.clause == words[first].clause]
            before = [word for word in around if word.start < start]
            after = [word for word in around if word.start >= end]
            ids, near = self._units.get(written, []), [*before, *after]
            if not written and not (after and after[0].roots):
                near = [word for word in before[-4:] if word.roots][-1:]
                ids = [id for id in self._about if id not in self._scaled]
            about = {
                id: self._tell(id, near, words[first].place)
                for id in ids
                if _in_range(self._findings[id], found[0], written)
            }
            id = _most_about(about, written, found[0])
            doubted = any(doubts(words, n) for n in range(first - len(before), first))
            if id is not None and not doubted:
                value = _reading(self._findings[id], found[0], written)
                yield Measured(id, value, start, end, range(first, last + 1))

    def _tell(self, id: str, near: list[Word], place: int) -> float:
        """How much words tell of a reading; half where a comma parts them from it."""
        told: dict[str, float] = {}
        for word in near:
            part = 1.0 if abs(word.place - place) < FAR / 2 else 0.5
            for root in word.roots:
                tells = self._about[id].get(root, 0.0) * part
                told[root] = max(tells, told.get(root, 0.0))
        return sum(told.values())

    def _unit_before(self, words: list[Word], at: int) -> int | None:
        """Where a unit is named before its number: 'step 5', 'step is 5'."""
        for n in range(at - 1, max(-1, at - 4), -1):
            if words[n].clause != words[at].clause:
                break
            if len(words[n].text) > 2 and words[n].text in self._units:
                return n
            if words[n].roots:
                break
        return None


def _unit_names(unit: str) -> Iterator[str]:
    """How a unit may be written, and what can be turned into it."""
    own = SAME.get(unit.lower(), unit)
    wanted = {own, "degF"} if own == "degC" else {own}
    names = {unit.lower(), *(name for name, plain in SAME.items() if plain in wanted)}
    for name in sorted(names):
        yield name
        if name.isalpha() and len(name) > 2 and f"{name}s" not in names:
            yield f"{name}s"


def _in_range(finding: Finding, numbers: str, unit: str) -> bool:
    """Whether a finding can have these values."""
    low = -inf if finding.lowest is None else finding.lowest
    high = inf if finding.highest is None else finding.highest
    values = [float(n.replace(",", ".")) for n in re.findall(NUMBER, numbers)]
    if SAME.get(unit) == "degF":
        values = [(value - 32) / 1.8 for value in values]
    return all(low <= value <= high for value in values)


def _most_about(about: dict[str, float], unit: str, number: str) -> str | None:
    """The reading that a number is of, by how much the words near it speak of each.

    Without such words the unit has to do, if it is a telling one.
    """
    best = max(about.values(), default=0.0)
    telling = unit not in EVERYDAY and len(unit + number) > 2
    if best < ABOUT and not telling:
        return None
    ids = [id for id in about if best < ABOUT or about[id] == best]
    words = {id: set(id.split("-")) for id in ids}
    plainest = [id for id in ids if all(words[id] <= words[other] for other in ids)]
    return plainest[0] if plainest else None


def _reading(finding: Finding, numbers: str, unit: str) -> str:
    """A number and its unit, tidied: '14 N/cm'."""
    value = re.sub(r"\s*;\s*", "; ", numbers).replace(",", ".")
    if not unit:
        return value
    return f"{value} °F" if SAME.get(unit) == "degF" else f"{value} {finding.unit}"
