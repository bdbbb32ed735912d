"""Readings in a text: numbers with a unit, or right after the words of a reading."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import inf

from diagnose.english import OTHER
from diagnose.patterns import Phrasebook
from diagnose.readings import SAME
from diagnose.records import Finding
from diagnose.sentences import Word, doubts
from diagnose.vocabulary import FAR

UNITS_IN_WORDS = (
    "one two three four five six seven eight nine ten eleven twelve thirteen fourteen "
    "fifteen sixteen seventeen eighteen nineteen"
)
TENS_IN_WORDS = "twenty thirty forty fifty sixty seventy eighty ninety"


def _numbers() -> dict[str, str]:
    """'one' to 'ninety nine', in figures."""
    small, tens = UNITS_IN_WORDS.split(), TENS_IN_WORDS.split()
    figures = {word: str(n) for n, word in enumerate(small, 1)}
    for n, ten in enumerate(tens, 2):
        figures[ten] = str(n * 10)
        for one, word in enumerate(small[:9], 1):
            figures[f"{ten}-{word}"] = figures[f"{ten} {word}"] = str(n * 10 + one)
    return figures


ABOUT = 0.2
"""What the words near a number have to tell of a reading."""
CLOSE, BESIDE, PLAIN = 0.2, 2, 0.3
"""What a word of a reading's name tells so many words from the number; of words that
are at least so rare."""
NEAR = 8
"""How many words around a number are near it."""
EVERYDAY = frozenset(
    {"", "s", "min", "mins", "h", "cm", "mm", "um", "µm", "μm", "micron", "microns"}
    | {"°", "deg", "degree", "degrees", "thread", "threads", "dot", "dots", "t", "t/cm"}
    | {"%", "percent", "pct", "per cent", "%rh", "% rh", "rh"}
    | {"sec", "secs", "second", "seconds", "minute", "minutes", "hr", "hrs", "hour"}
    | {"hours", "inch", "inches", "millimetre", "millimetres", "millimeters"}
    | {"centimetre", "centimetres", "centimeters", "thou", "mil", "mils"}
)
"""Units of many things beside readings; a word has to say what was measured."""
TIME = {
    **dict.fromkeys(("s", "sec", "secs", "second", "seconds"), ("s", 1 / 60)),
    **dict.fromkeys(("min", "mins", "minute", "minutes"), ("min", 1.0)),
    **dict.fromkeys(("h", "hr", "hrs", "hour", "hours"), ("h", 60.0)),
}
LENGTH = {
    **dict.fromkeys(("mm", "millimetre", "millimetres", "millimeters"), ("mm", 0.1)),
    **dict.fromkeys(("cm", "centimetre", "centimetres", "centimeters"), ("cm", 1.0)),
    **dict.fromkeys(("inch", "inches"), ("in", 2.54)),
}
OTHERS = {
    "min": TIME,
    "s": {name: (unit, minutes * 60) for name, (unit, minutes) in TIME.items()},
    "cm": LENGTH,
    "mm": {name: (unit, cm * 10) for name, (unit, cm) in LENGTH.items()},
    "um": dict.fromkeys(("thou", "mil", "mils"), ("thou", 25.4)),
    "threads/cm": dict.fromkeys(("tpi", "t/in"), ("threads/in", 1 / 2.54)),
    "lines/cm": dict.fromkeys(("lpi", "l/in"), ("lines/in", 1 / 2.54)),
}
"""Other units that a reading may be told in: how they are said, how they are written,
and what one of them comes to in the reading's own unit."""
SPELT = _numbers()
"""Numbers in words."""
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
        spelt = "|".join(sorted(map(re.escape, SPELT), key=len, reverse=True))
        self._spelt = re.compile(
            rf"\b({spelt})(?=\s+{self._unit.pattern[3:]})", re.IGNORECASE
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
        self._named = {
            one.id: {root for root in book.named(one.id) if book.rarity(root) >= PLAIN}
            for one in readings
        }

    def listen(self, text: str, words: list[Word]) -> Iterator[Measured]:
        """The readings in a text that are not doubted."""
        starts = [word.start for word in words]
        text = self._spelt.sub(_in_figures, text)
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
                id: self._tell(id, near, words[first].place, bool(written))
                for id in ids
                if _in_range(self._findings[id], found[0], written)
            }
            id = _most_about(about, written, found[0])
            said = range(first - len(before), first)
            doubted = any(doubts(words, n) or words[n].text in OTHER for n in said)
            if id is not None and not doubted:
                value = _reading(self._findings[id], found[0], written)
                yield Measured(id, value, start, end, range(first, last + 1))

    def _tell(self, id: str, near: list[Word], place: int, unit: bool) -> float:
        """How much words tell of a reading; half where a comma parts them from it."""
        named = self._named[id] if unit else ()
        told: dict[str, float] = {}
        for word in near:
            part = 1.0 if abs(word.place - place) < FAR / 2 else 0.5
            for root in word.roots:
                tells = self._about[id].get(root, 0.0) * part
                if root in named and abs(word.place - place) <= BESIDE:
                    tells += CLOSE
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
    names |= OTHERS.get(own, {}).keys()
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
    elif other := _other(finding, unit):
        values = [value * other[1] for value in values]
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
    if SAME.get(unit) == "degF":
        return f"{value} °F"
    other = _other(finding, unit)
    return f"{value} {other[0] if other else finding.unit}"


def _other(finding: Finding, unit: str) -> tuple[str, float] | None:
    """Another unit than the finding's own, and what it comes to in that one."""
    own = finding.unit or ""
    return OTHERS.get(SAME.get(own.lower(), own), {}).get(unit)


def _in_figures(found: re.Match[str]) -> str:
    """A number in words as figures, as long as it was."""
    return SPELT[found[0].lower()].ljust(len(found[0]))
